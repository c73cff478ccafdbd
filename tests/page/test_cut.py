"""A job's cut files: asked and refused, the same bytes as on the command line, stale ones named."""

from __future__ import annotations

import io
import re
import shutil
import time
import zipfile
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner
from playwright.sync_api import expect
from tests.page.conftest import breaches

from strapwright.cli.main import command

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from playwright.sync_api import Page
    from starlette.testclient import TestClient
    from tests.page.conftest import Served

SHORT = """[machine]
name = "short laser"
kind = "laser"
bed = ["900 mm", "700 mm"]
pass_through = true
formats = ["dxf", "gcode"]
max_power = 1000
share_edges = true

[serial]
baud = 115200

[[kerf]]
material = "vegetable"
thickness = "3.57 mm"
width = "0.2 mm"
measured = 2026-11-02

[operation.cut]
speed_mm_s = 12
power_percent = 80

[operation.score]
speed_mm_s = 120
power_percent = 15

[operation.punch]
speed_mm_s = 120
power_percent = 20
"""


def strapwright(*words: object) -> None:
    run = CliRunner().invoke(command, [str(word) for word in words])
    assert run.exit_code == 0, run.output


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The starter's job laid out once: the same bytes for every copy of it."""
    shop = tmp_path_factory.mktemp("made") / "shop"
    strapwright("start", shop)
    strapwright("nest", shop / "jobs/first/job.toml", "--hide", shop / "hides/side-7.toml", "--steps", 3,
                "--out", shop / "jobs/first")  # fmt: skip
    return shop / "jobs/first"


@pytest.fixture
def laid(folder: Path, made: Path) -> Path:
    """The job's folder, laid out; and a machine with a short bed."""
    for name in ("layout.json", "layout.png"):
        shutil.copy(made / name, folder / "jobs/first" / name)
    (folder / "machines/short.toml").write_text(SHORT)
    return folder / "jobs/first"


def written(client: TestClient, data: dict[str, Any]) -> str:
    """Have files written, wait for them and return the sheet."""
    answer = client.post("/job/first/cut", data=data)
    assert answer.status_code == 204, answer.text
    end = time.monotonic() + 300
    while "data-seconds=" in (page := client.get("/job/first").text):
        assert time.monotonic() < end
        time.sleep(0.1)
    return page


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if not path.name.startswith(".")}


def test_the_machine_says_what_it_reads_and_when_its_kerf_was_measured(client: TestClient, laid: Path):
    page = client.get("/job/first/cut", params={"machine": "laser.toml"}).text
    assert 'value="dxf" checked' in page
    assert "0.2 mm measured in vegetable leather of 2.8 mm on 2026-03-02" in page
    assert "Never leave a running laser unattended" in page
    assert 'name="fumes"' not in page  # the rule does not apply to vegetable tannage
    shared = client.get("/job/first/cut", params={"machine": "short.toml"}).text
    assert "the layout was not made for that" in shared
    assert client.get("/job/first/cut", params={"machine": "none.toml"}).status_code == 404


def test_the_list_of_work_says_what_was_changed_since_it_was_laid_out(client: TestClient, laid: Path):
    def stage() -> str:
        return re.search(r'class="stage">([^<]*)<', client.get("/").text)[1]

    job, text = laid / "job.toml", (laid / "job.toml").read_text("utf-8")
    assert stage() == "laid out"
    job.write_text("# only a remark\n" + text, "utf-8")
    assert stage() == "laid out"
    job.write_text(text.replace('thickness = "9 oz"', 'thickness = "3.4 mm"'), "utf-8")
    assert stage() == "changed since it was laid out"
    (laid / "out").mkdir(exist_ok=True)
    (laid / "out" / "belts.dxf").write_text("0\nEOF\n")
    assert stage() == "changed since it was cut"
    (laid / "layout.json").unlink()
    assert stage() == "cut"


def test_an_unmeasured_kerf_is_said_plainly(client: TestClient, laid: Path):
    job = laid / "job.toml"
    job.write_text(job.read_text("utf-8").replace('thickness = "9 oz"', 'thickness = "5 mm"'), "utf-8")
    page = client.get("/job/first/cut", params={"machine": "laser.toml"}).text
    assert "Not measured: machine &#39;my laser&#39; has its kerf" in page


@pytest.mark.parametrize(
    ("data", "field", "words"),
    [
        ({"kerf": "wide"}, "kerf", "expected a length"),
        ({"choose": "yes"}, "format", "at least one kind"),
        ({"touch-1-hide-x": "20", "touch-1-hide-y": "a"}, "touch-1", "found 20, a"),
        ({"touch-1-hide-x": "20", "touch-1-hide-y": "30"}, "touch-1", "or neither"),
        (
            {"touch-1-hide-x": "2", "touch-1-hide-y": "3", "touch-1-x": "2", "touch-1-y": "3"},
            "touch-2",
            "give both points",
        ),
        ({"window": "2", "hole-a-x": "4", "hole-a-y": "5"}, "hole-b", "found nothing"),
    ],
)
def test_bad_input_is_said_beside_its_field(
    client: TestClient, laid: Path, data: dict[str, str], field: str, words: str
):
    for way in (
        client.post("/job/first/cut", data={"machine": "laser.toml", **data}),
        client.get("/job/first/cuts", params={"machine": "laser.toml", **data}),
    ):
        assert words in way.json()["mistakes"][field]
    assert not (laid / "out").exists()


def test_machines_are_listed_by_their_names(client: TestClient, laid: Path):
    page = client.get("/job/first").text
    assert '<option value="laser.toml">my laser</option>' in page
    machines = laid.parents[1] / "machines"
    shutil.copy(machines / "laser.toml", machines / "second.toml")
    (machines / "broken.toml").write_text("[machine\n")
    page = client.get("/job/first").text
    assert '<option value="second.toml">my laser (second.toml)</option>' in page
    assert '<option value="broken.toml">broken</option>' in page


def test_the_risk_of_fumes_is_typed_for_this_job_and_kept_nowhere(client: TestClient, laid: Path):
    job = laid / "job.toml"
    job.write_text(job.read_text("utf-8").replace('tannage = "vegetable"', 'tannage = "chrome"', 1), "utf-8")
    strapwright("nest", job, "--hide", laid.parents[1] / "hides/side-7.toml", "--steps", 1, "--out", laid)
    shown = client.get("/job/first/cut", params={"machine": "laser.toml"}).text
    assert "chromium(VI), which can cause cancer" in shown
    asked = {"machine": "laser.toml", "kerf": "0.2 mm"}
    for typed in ("", "read", "yes", "vegetable", "on"):
        answer = client.post("/job/first/cut", data=asked | {"fumes": typed})
        assert 'expected "chrome"' in answer.json()["mistakes"]["fumes"]
    assert client.get("/job/first/cuts", params=asked | {"fumes": "Chrome"}).json()["sheets"]
    assert "fumes" in client.get("/job/first/cuts", params=asked).json()["mistakes"]
    page = written(client, asked | {"fumes": "chrome"})
    assert "first-belts.dxf" in page
    assert "because you allowed it" in page
    assert "fumes" in client.post("/job/first/cut", data=asked).json()["mistakes"]


def test_a_synthetic_is_never_burnt(client: TestClient, laid: Path):
    job = laid / "job.toml"
    job.write_text(
        job.read_text("utf-8").replace('tannage = "vegetable"', 'tannage = "synthetic"', 1), "utf-8"
    )
    shown = client.get("/job/first/cut", params={"machine": "laser.toml"}).text
    assert "no option lifts this refusal" in shown
    assert 'name="fumes"' not in shown


@pytest.mark.slow
def test_touched_files_and_a_window_written_again_have_the_bytes_of_the_command_line(
    client: TestClient, laid: Path, tmp_path: Path
):
    shop, out = laid.parents[1], tmp_path / "cli"
    given = [laid / "job.toml", "--hide", shop / "hides/side-7.toml", "--layout", laid / "layout.json"]
    given += ["--machine", shop / "machines/short.toml", "--out", out]
    touched = ["--touch", "100,50=82,41", "--touch", "800,50=781.9,53.2"]
    strapwright("cut", *given, *touched, "--format", "dxf")
    asked = {"machine": "short.toml", "format": "dxf"}
    for number, (hx, hy, x, y) in enumerate(((100, 50, 82, 41), (800, 50, 781.9, 53.2)), 1):
        asked |= {f"touch-{number}-hide-x": hx, f"touch-{number}-hide-y": hy}
        asked |= {f"touch-{number}-x": x, f"touch-{number}-y": y}
    page = written(client, asked)
    assert "windows put together: everything is cut" in page
    assert contents(laid / "out") == contents(out)
    cuts = client.get("/job/first/cuts", params=asked).json()
    assert [name for name, *_ in cuts["sheets"][1]["holes"]] == ["A", "B"]
    assert any("registration holes A and B" in line for line in cuts["sheets"][1]["steps"])
    (ax, ay), (bx, by) = ((x + 0.7, -y + 0.4) for _, x, y in cuts["sheets"][1]["holes"])
    strapwright("cut", *given, *touched, "--format", "dxf", "--window", 2,
                "--touch", f"A={ax},{ay}", "--touch", f"B={bx},{by}")  # fmt: skip
    page = written(
        client, asked | {"window": 2, "hole-a-x": ax, "hole-a-y": ay, "hole-b-x": bx, "hole-b-y": by}
    )
    assert contents(laid / "out") == contents(out)
    assert "touched.dxf" in page
    assert 'class="stale"' not in page


@pytest.mark.slow
def test_files_of_an_older_layout_or_run_are_named_as_such(client: TestClient, laid: Path, tmp_path: Path):
    page = written(client, {"machine": "short.toml"})
    assert "strapwright send" in page
    assert "--port PORT --armed" in page
    page = written(client, {"machine": "laser.toml"})  # another bed, other names: what lay there is old
    assert "first-belts-side-7-window-1-of-2.nc</a> <span" in page
    assert "files read back" in page
    archive = zipfile.ZipFile(io.BytesIO(client.get("/job/first/out.zip").content))
    names = {"first-belts.dxf", "first-belts.svg", "first-belts-sheet.txt", "layout.json", "layout.png"}
    assert set(archive.namelist()) == names
    (laid / "out/first-belts.svg").write_text("<svg/>")  # changed by hand since
    assert "first-belts.svg</a> <span" in client.get("/job/first").text
    layout = laid / "layout.json"
    layout.write_text(layout.read_text("utf-8").replace('"seed": 0', '"seed": 1'), "utf-8")
    page = client.get("/job/first").text
    assert "Made from another layout" in page
    assert "Proved" not in page
    assert client.get("/job/first/out.zip").status_code == 404
    job = laid / "job.toml"
    job.write_text(job.read_text("utf-8").replace("960 mm", "955 mm"), "utf-8")
    assert "Made before the job was changed" in client.get("/job/first").text


@pytest.mark.slow
def test_what_a_command_wrote_among_the_files_is_told_from_what_lay_there(client: TestClient, laid: Path):
    written(client, {"machine": "laser.toml"})
    shop, out = laid.parents[1], laid / "out"
    given = ["--hide", shop / "hides/side-7.toml", "--machine", shop / "machines/laser.toml", "--out", out]
    strapwright("cut", laid / "job.toml", *given, "--layout", laid / "layout.json", "--kerf", "0.3 mm")
    page = client.get("/job/first").text
    assert 'first-belts.dxf</a> <span class="mistake">changed since it was written here' in page
    written(client, {"machine": "laser.toml"})
    strapwright("cut", laid / "job.toml", *given, "--steps", 2, "--seed", 5, "--format", "dxf")
    shutil.copy(out / "layout.json", laid / "layout.json")  # now they are of the layout that is cut from
    page = client.get("/job/first").text
    assert "first-belts.dxf</a></li>" in page
    assert 'first-belts.svg</a> <span class="mistake">not of the files written last' in page
    (laid / "layout.json").write_text((laid / "layout.json").read_text("utf-8") + " ", "utf-8")
    assert "Made from another layout" in client.get("/job/first").text


@pytest.mark.slow
def test_what_files_were_written_with_stands_there_still(
    tab: Callable[..., Page], served: Served, laid: Path
):
    page = tab()
    page.goto(f"{served.base}/job/first")
    page.locator("#cut [name=kerf]").evaluate("node => node.closest('details').open = true")
    page.locator("#cut [name=kerf]").fill("0.25 mm")
    expect(page.locator("#cut select[name=machine] option:checked")).to_have_text("my laser")
    page.get_by_role("button", name="Write the cut files").click()
    expect(page.locator("#part-cut > summary")).to_contain_text("files, proved")
    expect(page.locator("#cut [name=kerf]")).to_have_value("0.25 mm")
    expect(page.locator("#cut [name=kerf]")).to_be_visible()


def test_messages_name_fields_where_they_name_options_of_a_command(client: TestClient, laid: Path):
    names = ("1-hide-x", "1-hide-y", "1-x", "1-y", "2-hide-x", "2-hide-y", "2-x", "2-y")
    points = dict(zip(names, (0, 0, 5, 5, 1, 0, 6, 5), strict=True))
    asked = {"machine": "laser.toml", **{f"touch-{key}": value for key, value in points.items()}}
    (line,) = client.get("/job/first/cuts", params=asked).json()["wrong"]
    assert line.startswith("“Where the hide lies on the bed”: the two points are 1.0 mm apart")
    found = client.get("/job/first/cuts", params={"machine": "laser.toml"}).json()["findings"]
    assert any("give them under “Where the hide lies on the bed”, or run" in one["words"] for one in found)
    sheets = client.get("/job/first/cuts", params={"machine": "short.toml"}).json()["sheets"]
    steps = [line for sheet in sheets for line in sheet["steps"]]
    assert any("under “Write one window again” type what the machine showed." in line for line in steps)
    assert not [line for line in steps if "--" in line]


@pytest.mark.slow
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_cuts_are_played_by_keys_and_keep_the_rules_for_accessible_pages(
    tab: Callable[..., Page], served: Served, laid: Path, theme: str
):
    page = tab(color_scheme=theme, bypass_csp=True)
    page.goto(f"{served.base}/job/first")
    page.locator("#cut select[name=machine]").select_option("short.toml")
    expect(page.locator("#cut-machine")).to_contain_text("0.2 mm, measured in vegetable leather of 3.57 mm")
    page.get_by_role("button", name="See the cuts in their order").click()
    expect(page.locator("figure.player")).to_have_count(2)
    first = page.locator("figure.player").first
    expect(first.locator(".now")).to_contain_text("not begun")
    first.get_by_role("button", name="One on").click()
    expect(first.locator(".now")).to_contain_text("path 1 of")
    slider = first.get_by_role("slider")
    slider.focus()
    slider.press("End")
    expect(first.locator(".now")).to_contain_text("done")
    expect(first.locator("svg[role=img] path.later")).to_have_count(0)
    slider.press("Home")
    expect(first.locator("svg[role=img] path.move-cut:not(.later)")).to_have_count(0)
    expect(page.locator("figure.player").nth(1)).to_contain_text("Move the hide on by")
    page.locator("#cut [name=touch-1-hide-x]").evaluate("node => node.closest('details').open = true")
    page.locator("#cut [name=touch-1-hide-x]").fill("far")
    page.get_by_role("button", name="Write the cut files").click()
    expect(page.locator('[data-mistake="touch-1"]')).to_contain_text("found far, nothing")
    page.evaluate("document.querySelectorAll('#part-cut details').forEach((one) => { one.open = true })")
    assert breaches(page, "#part-cut") == []
