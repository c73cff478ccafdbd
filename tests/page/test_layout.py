"""A job's layout on the page: by search and by hand, zones, layouts kept beside it, a search broken off."""

from __future__ import annotations

import json
import math
import re
import shutil
import time
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner
from playwright.sync_api import expect
from tests.page.conftest import breaches

from strapwright import api
from strapwright.cli.main import command
from strapwright.files.atomic_write import sealed
from strapwright.nesting.solver.warm_up import COMPILING, COMPILING_UNKEPT
from strapwright.page.forms.page_words import in_page_words
from strapwright.page.layouts import OpenLayouts
from strapwright.page.leather.stock import StockList
from strapwright.page.sheet.shop import Shop, digest_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from playwright.sync_api import Locator, Page, Route
    from starlette.testclient import TestClient
    from tests.page.conftest import Served, ServedApart

    from strapwright.nesting.layout.types import Layout

PARTS = ("ines/strap", "ines/keeper", "tomasz/strap", "tomasz/keeper")


@pytest.fixture
def two_sides(folder: Path) -> Path:
    """The shop with a second hide like the first."""
    side = (folder / "hides/side-7.toml").read_text("utf-8")
    (folder / "hides/side-8.toml").write_text(side.replace("side 7", "side 8"), "utf-8")
    return folder


class Laid:
    """A job's layout as a tab has it, and what is asked of it."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        self.now: dict[str, Any] = client.get("/job/first/layout").json()

    def ask(self, what: str, **data: Any) -> dict[str, Any]:
        answer = self.client.post(f"/job/first/layout/{what}", json={"digest": self.now["digest"], **data})
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json()
        if "digest" in found:
            self.now = found
        return found

    def part(self, name: str) -> dict[str, Any]:
        parts = {one["id"]: one for one in self.now["parts"]}
        return parts[name]

    def to(self, part: str, hide: str) -> dict[str, Any]:
        room = self.ask("room", part=part, hide=hide)
        assert room["faults"] == []
        move = {"part": part, "hide": hide, "turns": room["turns"], "x": room["x"], "y": room["y"]}
        assert self.ask("check", **move) == {"faults": []}
        assert self.ask("place", **move)["faults"] == []
        return self.part(part)


@pytest.fixture
def laid(client: TestClient, two_sides: Path) -> Laid:
    """A layout on two hides that nothing lies on yet."""
    hides = ["side-7.toml", "side-8.toml"]
    assert client.post("/job/first/empty", data={"hide": hides, "machine": ""}).status_code == 204
    assert (two_sides / "jobs/first/layout.json").is_file()
    return Laid(client)


def test_a_layout_changed_while_it_is_read_is_not_taken_for_the_one_before(
    laid: Laid, two_sides: Path, monkeypatch: pytest.MonkeyPatch
):
    """And undone later: the one before is shown again, not the one that came between."""
    empty = layout_file(two_sides).read_bytes()
    laid.to("ines/strap", "side 7")
    layouts, read, turns = (
        OpenLayouts(shop := Shop(two_sides), StockList(shop)),
        api.read_layout,
        iter([empty]),
    )
    changed = layout_file(two_sides).read_bytes()

    def read_slowly(path: Path, *given: Any) -> Layout:
        for meanwhile in turns:
            path.write_bytes(meanwhile)
        return read(path, *given)

    monkeypatch.setattr(api, "read_layout", read_slowly)
    found = layouts.read("first")
    assert (found.digest, found.layout.placed) == (digest_of(empty), ())
    layout_file(two_sides).write_bytes(changed)
    assert [one.part.id for one in layouts.read("first").layout.placed] == ["ines/strap"]


def layout_file(folder: Path) -> Path:
    return folder / "jobs/first/layout.json"


def undo(client: TestClient) -> None:
    assert client.post("/job/first/steps", data={"do": "undo"}).status_code == 204


def test_a_job_is_laid_by_hand_from_nothing_and_the_command_line_reads_it(laid: Laid, two_sides: Path):
    assert [one["id"] for one in laid.now["unplaced"]] == list(PARTS)
    assert {one["reason"] for one in laid.now["unplaced"]} == {"not laid yet"}
    for name in reversed(PARTS):
        laid.to(name, "side 8")
    assert [one["id"] for one in laid.now["parts"]] == list(PARTS)  # as they were asked for
    assert laid.now["result"].startswith("4 of 4 parts laid on side 8: 0.097 m², 10.7% of the sound leather")
    assert laid.now["result"] in laid.client.get("/job/first").text
    out = two_sides.parent / "out"
    arguments = ["cut", str(two_sides / "jobs/first/job.toml"), "--layout", str(layout_file(two_sides))]
    arguments += [
        "--hide",
        str(two_sides / "hides/side-7.toml"),
        "--hide",
        str(two_sides / "hides/side-8.toml"),
    ]
    arguments += ["--machine", str(two_sides / "machines/laser.toml"), "--out", str(out)]
    run = CliRunner().invoke(command, arguments)
    assert run.exit_code == 0, run.output


def test_parts_are_taken_off_and_locked_and_a_locked_one_stays(laid: Laid, two_sides: Path):
    laid.to("ines/strap", "side 7")
    before = layout_file(two_sides).read_bytes()
    assert laid.ask("lock", part="ines/strap", locked=True)["parts"][0]["locked"]
    move = {"digest": laid.now["digest"], "part": "ines/strap", "hide": "side 8", "turns": 0, "x": 0, "y": 0}
    for what in ("off", "place", "check"):
        answer = laid.client.post(f"/job/first/layout/{what}", json=move)
        assert answer.status_code == 400
        assert "is locked; unlock it first" in answer.text
    laid.ask("lock", part="ines/strap", locked=False)
    laid.ask("off", part="ines/strap")
    assert {"id": "ines/strap", "reason": "taken off by hand"}.items() <= laid.now["unplaced"][0].items()
    for _ in range(3):
        undo(laid.client)
    assert layout_file(two_sides).read_bytes() == before


def test_what_is_asked_of_no_part_hide_or_zone_is_refused(laid: Laid):
    digest = {"digest": laid.now["digest"]}
    for what, data in (
        ("room", {"part": "none", "hide": "side 7"}),
        ("room", {"part": "ines/strap", "hide": "none"}),
        ("room", {"part": "ines/strap"}),
        ("off", {"part": "none"}),
        ("lock", {"part": "ines/strap", "locked": True}),
        ("zone", {}),
        ("zone", {"text": "1,1,5"}),
        ("zone", {"text": "1,1,5", "hide": "none"}),
        ("zone", {"text": "here", "hide": "side 7"}),
        ("zone", {"text": "9000,9000,5", "hide": "side 7"}),
        ("zone", {"text": "0,0 100,100 100,0 0,80", "hide": "side 7"}),
        ("zone", {"index": 0, "text": ""}),
        ("zone", {"index": "0", "text": ""}),
    ):
        answer = laid.client.post(f"/job/first/layout/{what}", json=digest | data)
        assert answer.status_code == 400, (what, data)
    assert Laid(laid.client).now["digest"] == laid.now["digest"]


def test_a_zone_is_kept_clear_changed_and_free_again_and_what_lay_there_is_taken_off(
    laid: Laid, two_sides: Path
):
    strap = laid.to("ines/strap", "side 7")
    laid.to("ines/keeper", "side 7")
    before = layout_file(two_sides).read_bytes()
    x, y = strap["x"] + 500, strap["y"]
    found = laid.ask("zone", hide="side 7", text=f"{x},{y},30")
    assert found["off"] == ["ines/strap"]
    assert found["unplaced"][0]["reason"] == "side 7 is kept clear where it lay"
    (zone,) = found["zones"]
    assert zone["hide"] == "side 7"
    assert [float(one) for one in zone["text"].split(",")] == pytest.approx([x, y, 30], abs=0.006)
    move = {"part": "ines/strap", "hide": "side 7", "turns": 0, "x": strap["x"], "y": strap["y"]}
    for what in ("check", "place"):
        (fault,) = laid.ask(what, **move)["faults"]
        assert fault == "ines/strap: is in a zone of side 7 kept clear for this layout"
    changed = laid.ask("zone", index=0, hide="side 8", text="600,300 700,300 700,400")
    assert changed["zones"][0]["text"] == "600,300 700,300 700,400"
    assert laid.ask("check", **move)["faults"] == []
    assert laid.ask("zone", index=0, text="")["zones"] == []
    for _ in range(3):
        undo(laid.client)
    assert layout_file(two_sides).read_bytes() == before
    laid = Laid(laid.client)
    laid.ask("lock", part="ines/strap", locked=True)
    stuck = {"digest": laid.now["digest"], "hide": "side 7", "text": f"{x},{y},30"}
    answer = laid.client.post("/job/first/layout/zone", json=stuck)
    assert answer.status_code == 400
    assert "ines/strap is locked there on side 7; unlock it or move the zone" in answer.text


def test_zones_stay_where_one_begins_again_with_empty_hides(laid: Laid, two_sides: Path):
    laid.ask("zone", hide="side 7", text="640, 300, 80 mm")
    laid.ask("zone", hide="side 8", text="600,300 700,300 700,400")
    before = laid.now["zones"]
    assert [one["text"] for one in before] == ["640,300,80", "600,300 700,300 700,400"]
    hides = {"hide": ["side-7.toml"], "machine": ""}
    assert laid.client.post("/job/first/empty", data=hides).status_code == 204
    assert Laid(laid.client).now["zones"] == before[:1]
    for bad in ({}, {"hide": "none.toml"}, {"hide": "side-7.toml", "machine": "none.toml"}):
        assert laid.client.post("/job/first/empty", data=bad).status_code == 400
    assert Laid(laid.client).now["zones"] == before[:1]


def test_a_part_turns_and_is_mirrored_as_the_hide_it_is_sent_to_wants_it(client: TestClient, two_sides: Path):
    path = two_sides / "hides/side-8.toml"
    text = (
        path.read_text("utf-8")
        .replace('"along"  ', '"90 deg"')
        .replace('# face_up = "flesh"', 'face_up = "flesh"')
    )
    wide = "[0, 0], [1500, 0], [1500, 1500], [0, 1500],"
    before, after = text.index("  [0, 60]"), text.index("\n]", text.index("  [0, 60]"))
    path.write_text(text[:before] + wide + text[after:].split("[[flaw]]")[0], "utf-8")
    hides = {"hide": ["side-7.toml", "side-8.toml"], "machine": ""}
    assert client.post("/job/first/empty", data=hides).status_code == 204
    laid = Laid(client)
    one, other = laid.now["hides"]
    assert (one["direction"], one["mirror"]) == (0.0, False)
    assert (other["direction"], other["mirror"]) == (pytest.approx(math.pi / 2), True)
    strap = laid.to("ines/strap", "side 7")
    assert (strap["turn"], strap["mirror"]) == (0.0, False)
    strap = laid.to("ines/strap", "side 8")
    assert (strap["turn"], strap["mirror"]) == (pytest.approx(math.pi / 2), True)
    strap = laid.to("ines/strap", "side 7")
    assert (strap["turn"], strap["mirror"]) == (pytest.approx(0.0), False)


def test_a_layout_file_with_a_part_in_a_zone_is_refused_with_the_reason(laid: Laid, two_sides: Path):
    strap = laid.to("ines/strap", "side 7")
    data = json.loads(layout_file(two_sides).read_text("utf-8"))
    x, y = strap["x"] + 500, strap["y"]
    data["avoided"] = [{"hide": "side 7", "points_mm": [[x, y], [x + 9, y], [x, y + 9]]}]
    layout_file(two_sides).write_text(json.dumps(data), "utf-8")
    words = "ines/strap: is in a zone of side 7 kept clear for this layout"
    assert laid.client.get("/job/first/layout").json()["wrong"] == [words]
    assert words in laid.client.get("/job/first").text
    hides = [str(two_sides / f"hides/side-{n}.toml") for n in (7, 8)]
    arguments = ["cut", str(two_sides / "jobs/first/job.toml"), "--layout", str(layout_file(two_sides))]
    arguments += ["--hide", hides[0], "--hide", hides[1], "--machine", str(two_sides / "machines/laser.toml")]
    run = CliRunner().invoke(command, [*arguments, "--out", str(two_sides.parent / "out")])
    assert run.exit_code == 1
    assert words in run.output


def test_layouts_are_kept_compared_used_renamed_and_deleted_each_as_a_step(laid: Laid, two_sides: Path):
    client, kept = laid.client, two_sides / "jobs/first/layouts"
    laid.to("ines/strap", "side 7")
    first = layout_file(two_sides).read_bytes()

    def change(**data: str) -> int:
        return client.post("/job/first/layouts", data=data).status_code

    assert change(do="keep", to="Žofie's try / 1") == 204
    assert (kept / "Zofies-try-1.json").read_bytes() == first
    assert change(do="keep", to="zofies TRY 1") == 400  # the same file on some systems
    laid.to("tomasz/strap", "side 8")
    second = layout_file(two_sides).read_bytes()
    page = client.get("/job/first/layouts").text
    assert page.count("data-layout-picture") == 2
    assert "<td>2 of 4 <b>better</b></td><td>1 of 4</td>" in page
    assert "<td>2</td><td>1 <b>better</b></td>" in page
    picture = client.get("/job/first/layouts/picture", params={"kept": "Zofies-try-1"}).json()
    assert [one["id"] for one in picture["parts"]] == ["ines/strap"]
    assert change(do="use", kept="Zofies-try-1") == 204
    assert layout_file(two_sides).read_bytes() == first
    assert change(do="rename", kept="Zofies-try-1", to="first") == 204
    assert [path.name for path in kept.glob("*.json")] == ["first.json"]
    assert change(do="delete", kept="first") == 204
    assert not list(kept.glob("*.json"))
    for _ in range(3):
        undo(client)
    assert layout_file(two_sides).read_bytes() == second
    assert (kept / "Zofies-try-1.json").read_bytes() == first
    for bad in (
        {"do": "melt"},
        {"do": "use"},
        {"do": "use", "kept": "none"},
        {"do": "use", "kept": "../layout"},
        {"do": "rename", "kept": "Zofies-try-1"},
        {"do": "keep"},
    ):
        assert change(**bad) in (400, 404), bad


def test_a_kept_layout_of_another_job_is_named_and_not_used(laid: Laid, two_sides: Path):
    kept = two_sides / "jobs/first/layouts/old.json"
    kept.parent.mkdir()
    data = json.loads(layout_file(two_sides).read_text("utf-8")) | {"job_digest": "0" * 64}
    kept.write_text(json.dumps(data), "utf-8")
    assert "the job has changed since this layout was made" in laid.client.get("/job/first/layouts").text
    assert laid.client.post("/job/first/layouts", data={"do": "use", "kept": "old"}).status_code == 400


def test_what_a_search_broken_off_had_found_is_offered_kept_and_thrown_away(laid: Laid, two_sides: Path):
    client, running = laid.client, two_sides / "jobs/first/layouts/.running.json"
    empty = layout_file(two_sides).read_bytes()
    laid.to("ines/strap", "side 8")
    running.parent.mkdir()
    shutil.copy(layout_file(two_sides), running)
    found = running.read_bytes()
    undo(client)
    page = client.get("/job/first").text
    assert "A search was broken off before its end." in page
    assert "1 of 4 parts laid on side 8" in page
    assert "none kept" in page  # it is no layout kept under a name
    assert client.post("/job/first/broken-off", data={"do": "keep"}).status_code == 204
    assert layout_file(two_sides).read_bytes() == found
    assert not running.exists()
    undo(client)
    assert layout_file(two_sides).read_bytes() == empty
    assert running.read_bytes() == found
    assert client.post("/job/first/broken-off", data={"do": "drop"}).status_code == 204
    assert not running.exists()
    assert client.post("/job/first/broken-off", data={"do": "drop"}).status_code == 400
    running.write_bytes(sealed(found.replace(b'"job_digest": "', b'"job_digest": "x')))
    page = client.get("/job/first").text
    assert "cannot be kept" in page
    assert "the job has changed since this layout was made; lay it out again" in page
    assert "running.json" not in page


def test_a_layout_for_a_machine_that_is_not_measured_takes_a_kerf_by_hand(laid: Laid, two_sides: Path):
    machine = two_sides / "machines" / "laser.toml"
    machine.write_text(
        re.sub(r"\[\[kerf\]\].*?(?=\n\[|\Z)", "", machine.read_text("utf-8"), flags=re.DOTALL), "utf-8"
    )

    def begun(**given: str) -> tuple[int, str]:
        said = laid.client.post("/job/first/empty", data={"hide": "side-7.toml", **given})
        return said.status_code, said.text

    before = layout_file(two_sides).read_bytes()
    status, said = begun(machine="laser.toml")
    assert status == 400
    assert "no kerf measured" in said
    assert "under “Kerf by hand”" in said
    assert begun(machine="laser.toml", kerf="wide")[1].startswith("Kerf by hand: ")
    assert begun(machine="laser.toml", kerf="9 mm")[0] == 400
    assert "choose the machine" in begun(kerf="0.3 mm")[1]
    assert layout_file(two_sides).read_bytes() == before
    assert begun(machine="laser.toml", kerf="0.37 mm")[0] == 204
    assert json.loads(layout_file(two_sides).read_text("utf-8"))["clearance"]["kerf_mm"] == 0.37


@pytest.mark.slow
def test_a_search_writes_its_best_each_second_and_ends_as_one_step(laid: Laid, two_sides: Path):
    client, running = laid.client, two_sides / "jobs/first/layouts/.running.json"
    text = (two_sides / "jobs/first/job.toml").read_text("utf-8").replace("quantity = 1\n", "")
    text = text.replace('id = "ines"', 'id = "ines"\nquantity = 15')
    (two_sides / "jobs/first/job.toml").write_text(text, "utf-8")
    nested = {"hide": "side-7.toml", "machine": "laser.toml", "seconds": "12"}
    assert client.post("/job/first/nest", data=nested).status_code == 204
    seen = set()
    shown: dict[str, Any] = {}
    end = time.monotonic() + 300
    while "data-seconds=" in client.get("/job/first").text and time.monotonic() < end:
        if running.exists():
            seen.add(running.read_bytes())
            if not shown:
                shown = client.get("/job/first/running").json()
                assert {"id", "hide", "turn", "x", "y", "mirror"} == set(
                    client.get("/job/first/running/places").json()[0]
                )
        time.sleep(0.2)
    assert seen
    assert len(shown["parts"]) + len(shown["unplaced"]) == 32
    for one in seen:  # each whole, and sound
        assert json.loads(one)["placed"]
    assert not running.exists()
    now = Laid(client).now
    assert len(now["parts"]) >= len(shown["parts"])
    assert "of 32 parts laid on side 7" in now["result"]
    assert "could be placed" in now["result"] or "No layout can place more" in now["result"]
    undo(client)
    assert json.loads(layout_file(two_sides).read_text("utf-8"))["placed"] == []


def lay_on_side_8_too(page: Page) -> None:
    page.locator("summary", has_text="Choose from the stock").click()
    page.get_by_role("button", name="side 8: lay on it").click()


def lay_by_steps(page: Page, steps: str, seed: str = "") -> None:
    page.get_by_label("For machine").select_option("")
    page.locator("summary", has_text="By steps").click()
    page.get_by_label("Steps instead of seconds").fill(steps)
    page.get_by_label("Seed").fill(seed)
    page.get_by_role("button", name="Lay it out").click()


def middle_of(one: Locator) -> tuple[float, float]:
    one.scroll_into_view_if_needed()
    box = one.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def run(*arguments: str) -> None:
    done = CliRunner().invoke(command, arguments)
    assert done.exit_code == 0, done.output


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if not path.name.startswith(".")}


@pytest.mark.slow
@pytest.mark.usefixtures("two_sides")
def test_a_strap_dragged_to_another_hide_and_locked_stays_and_is_cut_as_by_the_command_line(
    tab: Callable[..., Page], served: Served
):
    page, job = tab(viewport={"width": 1280, "height": 1500}), served.folder / "jobs/first/job.toml"
    page.goto(f"{served.base}/job/first")
    lay_on_side_8_too(page)
    lay_by_steps(page, "5")
    expect(page.get_by_label("Go on from this layout")).to_be_visible()
    views = page.locator("#hides svg")
    expect(views).to_have_count(2)
    to, at = middle_of(views.last), middle_of(page.locator('[data-part="ines/strap"]'))
    page.mouse.move(*at)
    page.mouse.down()
    page.mouse.move(to[0] + 400, to[1], steps=5)
    expect(page.locator("#chosen-part")).to_contain_text("reaches off side 8")
    expect(page.locator('[data-part="ines/strap"] text')).to_contain_text("✕")
    page.mouse.move(*to, steps=3)
    expect(page.locator("#chosen-part")).to_contain_text("may lie here")
    page.mouse.up()
    expect(page.locator("#chosen-part")).to_contain_text("lies there now")
    expect(views.last.locator('[data-part="ines/strap"]')).to_be_visible()
    page.get_by_role("button", name="Lock", exact=True).click()
    expect(page.locator('[data-part="ines/strap"]')).to_contain_text("locked")
    begun = served.folder.parent / "begun.json"
    shutil.copy(layout_file(served.folder), begun)
    page.get_by_label("Go on from this layout").check()
    with page.expect_event("load"):
        lay_by_steps(page, "7", "3")
    expect(page.locator('#hides svg >> nth=1 >> [data-part="ines/strap"]')).to_contain_text("locked")
    page.get_by_role("button", name="Write the cut files").click()
    expect(page.locator("a[download]").first).to_be_visible()

    hides = [f"--hide={served.folder / f'hides/side-{number}.toml'}" for number in (7, 8)]
    laid, cut = served.folder.parent / "laid", served.folder.parent / "cut"
    run("nest", str(job), *hides, "--from", str(begun), "--steps", "7", "--seed", "3", "--out", str(laid))
    assert contents(laid) == {
        name: (job.parent / name).read_bytes() for name in ("layout.json", "layout.png")
    }
    machine = f"--machine={served.folder / 'machines/laser.toml'}"
    run("cut", str(job), *hides, machine, "--layout", str(laid / "layout.json"), "--out", str(cut))
    assert contents(cut) == contents(job.parent / "out")


@pytest.mark.slow
@pytest.mark.usefixtures("apart")
def test_a_server_killed_in_the_midst_of_a_search_offers_its_best_when_it_starts_again(
    tab: Callable[..., Page], served: ServedApart
):
    job = served.folder / "jobs/first/job.toml"
    text = job.read_text("utf-8").replace('id = "ines"', 'id = "ines"\nquantity = 15')
    job.write_text(text.replace("quantity = 1\n", ""), "utf-8")
    page = tab()
    page.goto(f"{served.base}/job/first")
    page.get_by_label("Seconds to search").fill("300")
    page.get_by_role("button", name="Lay it out").click()
    expect(page.locator("#running")).to_contain_text("Best so far: ")
    expect(page.locator("#hides .piece").first).to_be_visible()
    served.kill()
    running = job.parent / "layouts/.running.json"
    count = len(json.loads(running.read_text("utf-8"))["placed"])
    assert count > 10
    assert not layout_file(served.folder).exists()
    served.start()
    page.goto(served.address)
    page.goto(f"{served.base}/job/first")
    expect(page.locator(".offer")).to_contain_text("A search was broken off before its end.")
    page.get_by_role("button", name="Keep it as the layout").click()
    expect(page.locator("#hides .piece")).to_have_count(count)
    expect(page.locator("[data-layout-result]")).to_contain_text(f"{count} of 32 parts laid on side 7")
    expect(page.locator("#tray li")).to_have_count(32 - count)
    assert not running.exists()


@pytest.mark.slow
def test_a_part_is_dragged_by_finger_and_the_sheet_does_not_scroll_instead(
    tab: Callable[..., Page], served: Served
):
    page = tab(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page.goto(f"{served.base}/job/first")
    page.locator("#nest summary", has_text="By steps").tap()
    page.get_by_label("Steps instead of seconds").fill("5")
    page.get_by_role("button", name="Lay it out").tap()
    expect(page.get_by_label("Go on from this layout")).to_be_visible()  # the search is done
    strap = page.locator('[data-part="ines/strap"]')
    strap.focus()
    strap.scroll_into_view_if_needed()
    before = strap.get_attribute("transform")
    box = strap.bounding_box()
    assert box is not None
    x, y = max(box["x"], 0) + 60, box["y"] + box["height"] / 2
    touch = page.context.new_cdp_session(page)

    def finger(kind: str, *points: dict[str, float]) -> None:
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": list(points)})

    finger("touchStart", {"x": x, "y": y, "id": 1})
    for step in range(1, 11):
        finger("touchMove", {"x": x, "y": y - 9 * step, "id": 1})
    expect(page.locator("#chosen-part")).to_contain_text("may lie here")
    finger("touchEnd")
    expect(page.locator("#chosen-part")).to_contain_text("lies there now")
    assert strap.get_attribute("transform") != before
    page.locator("#by-hand").get_by_role("button", name="Lock").tap()
    expect(strap).to_have_class(re.compile("locked"))


@pytest.mark.slow
def test_what_takes_long_before_and_after_a_search_is_said_and_its_seconds_counted(
    tab: Callable[..., Page], served: Served
):
    page = tab()
    said = [("before", in_page_words(COMPILING)), ("after", "proving how little leather would do")]
    answers: list[dict[str, Any]] = []

    def answer(route: Route) -> None:
        route.fulfill(**(answers.pop() if answers else {"status": 204}))

    page.route("**/events?*", answer)
    for stage, words in said:
        told = json.dumps({"kind": "job", "job": "first", "stage": stage, "words": words})
        answers.append({"status": 200, "content_type": "text/event-stream", "body": f"data: {told}\n\n"})
        page.goto(f"{served.base}/job/first")
        expect(page.locator("#running")).to_have_text(f"{words} …")
        expect(page.locator("#running-time")).to_have_text("2 s")
    assert "once on a machine and usually takes 10 to 40 seconds" in said[0][1]
    assert "compil" not in said[0][1] + in_page_words(COMPILING_UNKEPT)
    assert "NUMBA" not in in_page_words(COMPILING_UNKEPT)


@pytest.mark.slow
def test_stopping_a_search_keeps_the_best(tab: Callable[..., Page], served: Served):
    page = tab()
    page.goto(f"{served.base}/job/first")
    expect(page.get_by_role("button", name="Stop and keep the best")).to_be_hidden()
    job = served.folder / "jobs/first/job.toml"
    text = job.read_text("utf-8").replace('id = "ines"', 'id = "ines"\nquantity = 15')
    job.write_text(text.replace("quantity = 1\n", ""), "utf-8")
    page.reload()
    page.get_by_label("Seconds to search").fill("300")
    page.get_by_role("button", name="Lay it out").click()
    expect(page.locator("#hides .piece").first).to_be_visible()
    page.get_by_role("button", name="Stop and keep the best").click()
    expect(page.locator("[data-layout-result]")).to_contain_text("of 32 parts laid on side 7")
    assert len(json.loads(layout_file(served.folder).read_text("utf-8"))["placed"]) > 10
    assert not (job.parent / "layouts/.running.json").exists()


@pytest.mark.slow
@pytest.mark.usefixtures("two_sides")
def test_two_tabs_on_one_layout_with_zones_tray_and_keys(tab: Callable[..., Page], served: Served):
    one, other = tab(), tab(viewport={"width": 390, "height": 844}, has_touch=True)
    one.clock.install()
    one.goto(f"{served.base}/job/first")
    lay_on_side_8_too(one)
    one.get_by_role("button", name="Begin with empty hides").click()
    expect(one.locator("#tray li")).to_have_count(4)
    other.goto(f"{served.base}/job/first")
    expect(other.locator("#tray li")).to_have_count(4)
    other.locator('[data-tray="ines/strap"]').tap()
    other.get_by_role("button", name="To side 8").tap()
    expect(other.locator("#chosen-part")).to_contain_text("lies there now")
    expect(one.locator('#hides svg >> nth=1 >> [data-part="ines/strap"]')).to_be_visible()

    start = middle_of(one.locator('[data-tray="tomasz/strap"]'))
    one.mouse.move(*start)
    one.mouse.down()
    one.mouse.move(*middle_of(one.locator("#hides svg").first), steps=6)
    expect(one.locator("#chosen-part")).to_contain_text("may lie here")
    one.mouse.up()
    expect(one.locator("#chosen-part")).to_contain_text("lies there now")
    expect(other.locator('#hides svg >> nth=0 >> [data-part="tomasz/strap"]')).to_be_visible()

    strap = one.locator('[data-part="tomasz/strap"]')
    strap.focus()
    before = layout_file(served.folder).read_bytes()
    one.clock.pause_at(one.evaluate("Date.now() + 1000"))  # however slow the keys come, none is a rest
    for _ in range(60):
        one.keyboard.press("Shift+ArrowDown")
    expect(one.locator("#chosen-part")).to_contain_text("reaches off side 7")
    one.keyboard.press("Escape")
    expect(one.locator("#chosen-part")).to_contain_text("tomasz/strap on side 7")
    assert layout_file(served.folder).read_bytes() == before
    one.clock.resume()
    one.keyboard.press("ArrowUp")
    expect(one.locator("#chosen-part")).to_contain_text("lies there now")

    one.locator("#zones > summary").click()
    one.get_by_role("button", name="Draw a box").click()
    x, y = middle_of(one.locator('[data-part="tomasz/strap"]'))
    one.mouse.move(x - 30, y - 40)
    one.mouse.down()
    one.mouse.move(x + 30, y + 40, steps=4)
    one.mouse.up()
    expect(one.locator("#chosen-part")).to_contain_text("tomasz/strap lay there and is taken off")
    expect(one.locator("#zones [data-count]")).to_have_text("1")
    expect(other.locator('[data-tray="tomasz/strap"]')).to_contain_text("side 7 is kept clear where it lay")
    one.get_by_label("Middle and size").fill("here")
    one.get_by_role("button", name="Keep it clear").click()
    expect(one.locator("#zones .mistake")).to_contain_text("expected")
    expect(one.get_by_label("Middle and size")).to_have_value("here")
    one.get_by_role("button", name=re.compile("free again")).click()
    expect(one.locator("#zones [data-count]")).to_have_text("none")


@pytest.mark.slow
@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.usefixtures("two_sides")
def test_the_rules_for_accessible_pages_are_kept_with_a_layout(
    tab: Callable[..., Page], served: Served, theme: str
):
    page = tab(color_scheme=theme, bypass_csp=True)  # the tester's own script is not the page's
    page.goto(f"{served.base}/job/first")
    page.get_by_role("button", name="Begin with empty hides").click()
    page.locator('[data-tray="ines/strap"]').click()
    page.get_by_role("button", name="To side 7").click()
    expect(page.locator("#chosen-part")).to_contain_text("lies there now")
    page.locator(".other-layouts > summary").click()
    page.get_by_label("Keep the present layout as").fill("first")
    page.get_by_role("button", name="Keep it", exact=True).click()
    expect(page.locator(".other-layouts > summary")).to_contain_text("1")
    page.locator(".other-layouts > summary").click()
    expect(page.locator(".pair svg").first).to_be_visible()
    page.locator("#zones > summary").click()
    page.get_by_label("Middle and size").fill("900,500,60")
    page.get_by_role("button", name="Keep it clear").click()
    expect(page.locator("#zones [data-count]")).to_have_text("1")
    assert breaches(page) == []
