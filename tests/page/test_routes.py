"""What each route shows and changes, and what it says to bad input."""

from __future__ import annotations

import time
import tomllib
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import pytest

from strapwright.job.spec.job import surroundings_of
from strapwright.page.forms.form import belt_form, buckle_names

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient


def job(folder: Path) -> Path:
    return folder / "jobs/first/job.toml"


def form(folder: Path, client: TestClient, index: int = 0, **changes: str) -> dict[str, str]:
    """A belt's form as the page shows it, with some fields changed."""
    belt = tomllib.loads(job(folder).read_text("utf-8"))["belt"][index]
    shown = belt_form(buckle_names(surroundings_of(job(folder)))).shown(belt)
    fields = {one.key: one.value for group in shown for one in group.fields if one.kind != "yes" or one.value}
    page = client.get("/job/first").text
    digest = page.split('name="digest" value="')[1].split('"')[0]
    return fields | {"digest": digest, "unit": "mm"} | changes


def test_the_first_page_already_holds_the_first_belts_drawing_and_no_other(client: TestClient):
    page = client.get("/job/first").text
    assert page.count("data-drawing") == 1
    assert "fold to hole in use 945" in page
    assert 'id="belt-1"' in page
    assert "blank 1120.67 mm long" in page


def test_a_belt_is_drafted_as_one_types_and_nothing_is_written(client: TestClient, folder: Path):
    before = job(folder).read_bytes()
    found = client.post("/job/first/belt/0", data=form(folder, client, **{"size.girth": "1020"})).json()
    assert "blank 1251.24 mm long" in found["summary"]
    assert found["drawing"].startswith("<svg")
    assert found["mistakes"] == {}
    assert job(folder).read_bytes() == before


def test_a_field_that_is_left_is_written_and_can_be_undone(client: TestClient, folder: Path):
    before = job(folder).read_text("utf-8")
    values = form(folder, client, **{"size.girth": "1020"})
    found = client.post("/job/first/belt/0?write=1", data=values).json()
    assert found["written"]
    assert found["steps"] == ["ines: size", ""]
    assert job(folder).read_text("utf-8") == before.replace('girth = "960 mm"', 'girth = "1020 mm"')
    assert client.post("/job/first/steps", data={"do": "undo"}).status_code == 204
    assert job(folder).read_text("utf-8") == before


@pytest.mark.parametrize(
    ("field", "value", "where", "words"),
    [
        ("size.girth", "wide", "size.girth", "expected a length"),
        ("size.girth", "", "size.girth", "missing"),
        ("size.girth", "5 mm", "size.girth", "expected 150 mm to 3000 mm"),
        ("quantity", "two", "quantity", "expected a whole number"),
        ("quantity", "0", "quantity", "expected 1 or more"),
        ("due", "tomorrow", "due", "expected a date"),
        ("buckle", "none-such", "buckle", "expected a buckle of the catalogue"),
        ("holes.count", "99", "holes.count", "expected 15 or less"),
        ("id", "a/b", "id", "expected 1 to 40 printable characters"),
        ("price", "dear", "price", "expected a number"),
        ("keeper.width", "1e400", "keeper.width", "expected"),
        ("name", "x" * 300, "name", "200 or fewer characters"),
    ],
)
def test_bad_input_is_said_beside_its_field_and_not_written(
    client: TestClient, folder: Path, field: str, value: str, where: str, words: str
):
    before = job(folder).read_bytes()
    found = client.post("/job/first/belt/0?write=1", data=form(folder, client, **{field: value})).json()
    assert words in found["mistakes"][where]
    assert not found["written"]
    assert job(folder).read_bytes() == before


def test_a_file_changed_behind_the_page_is_not_written_over(client: TestClient, folder: Path):
    values = form(folder, client, **{"size.girth": "1020"})
    theirs = job(folder).read_text("utf-8").replace("960 mm", "955 mm")
    job(folder).write_text(theirs, "utf-8")
    found = client.post("/job/first/belt/0?write=1", data=values).json()
    assert found["conflict"] == [["Waist or girth", "955 mm", "1020"]]
    assert job(folder).read_text("utf-8") == theirs


def test_belts_are_added_copied_and_removed(client: TestClient, folder: Path):
    def ids() -> list[str]:
        return [one["id"] for one in tomllib.loads(job(folder).read_text("utf-8"))["belt"]]

    for what, index, wanted in (
        ("add", "", ["ines", "tomasz", "belt"]),
        ("copy", "0", ["ines", "tomasz", "belt", "ines-2"]),
        ("remove", "1", ["ines", "belt", "ines-2"]),
    ):
        assert client.post("/job/first/belts", data={"do": what, "index": index}).status_code == 204
        assert ids() == wanted
    assert "belt 1204" not in client.get("/job/first").text
    for bad in ({"do": "remove", "index": "9"}, {"do": "copy", "index": "-1"}, {"do": "melt"}):
        assert client.post("/job/first/belts", data=bad).status_code == 400


TABLE = "Customer;Round the middle;Metal;hat\nŽofie;96 cm;single-40;7\nBo;38 in;house-45;\n"


def test_a_table_s_columns_are_said_and_its_lines_become_belts(client: TestClient, folder: Path):
    found = client.post("/job/first/orders/read", json={"text": TABLE}).json()
    assert found["names"] == ["Customer", "Round the middle", "Metal", "hat"]
    assert found["keys"] == ["name", "", "", ""]
    assert found["rows"][0] == ["Žofie", "96 cm", "single-40", "7"]
    assert ["size.girth", "Waist or girth (size)"] in found["choices"]
    before = job(folder).read_bytes()
    keys = ["id", "size.girth", "buckle", ""]
    for text, line, column, words in (
        (TABLE.replace("96 cm", "wide"), 2, 1, 'found "wide"'),
        (TABLE.replace("Bo", "ines"), 3, 0, "found"),
        (TABLE.replace("house-45", "nothing"), 3, 2, "found"),
        ("Customer;a;b;c\n", 1, -1, "found no belts"),
    ):
        said = client.post("/job/first/orders/add", json={"text": text, "keys": keys}).json()
        (wrong,) = said["wrong"]
        assert (wrong["line"], wrong["column"]) == (line, column)
        assert words in wrong["words"]
        assert wrong["cells"] == (text.splitlines()[line - 1].split(";") if line > 1 else [])
        assert job(folder).read_bytes() == before
    said = client.post("/job/first/orders/add", json={"text": TABLE, "keys": keys}).json()
    assert said == {"wrong": [], "added": 2, "show": "belt-2"}
    belts = tomllib.loads(job(folder).read_text("utf-8"))["belt"]
    assert belts[2:] == [
        {"id": "Žofie", "buckle": "single-40", "size": {"girth": "96 cm"}},
        {"id": "Bo", "buckle": "house-45", "size": {"girth": "38 in"}},
    ]
    client.post("/job/first/steps", data={"do": "undo"})
    assert job(folder).read_bytes() == before
    for bad in ({}, [], {"text": 3}, {"text": "", "keys": []}):
        assert client.post("/job/first/orders/read", json=bad).status_code == 400


def test_the_leather_of_the_job_is_changed_for_all_its_belts(client: TestClient, folder: Path):
    page = client.get("/job/first").text
    values = {"digest": page.split('name="digest" value="')[1].split('"')[0], "leather.thickness": "3 mm"}
    assert client.post("/job/first/about?write=1", data=values).json()["written"]
    assert "leather 3 mm" in client.get("/job/first/belt/0").json()["summary"]
    values["digest"] = client.get("/job/first").text.split('name="digest" value="')[1].split('"')[0]
    values["leather.thickness"] = "40 mm"
    found = client.post("/job/first/about?write=1", data=values).json()
    assert "expected 0.8 mm to 12 mm" in found["mistakes"]["leather.thickness"]


def test_a_broken_file_opens_as_text_with_its_mistakes_and_is_mended_there(client: TestClient, folder: Path):
    good = job(folder).read_text("utf-8")
    job(folder).write_text(good.replace('girth = "960 mm"', "girth = 960 mm"), "utf-8")
    page = client.get("/job/first", headers={"accept": "text/html"})
    assert page.status_code == 200
    assert "line 24, column" in page.text
    digest = page.text.split('name="digest" value="')[1].split('"')[0]
    wrong = client.post("/job/first/text", data={"digest": digest, "text": "[job"})
    assert wrong.status_code == 400
    stale = client.post("/job/first/text", data={"digest": "0" * 64, "text": good})
    assert stale.status_code == 409
    assert client.post("/job/first/text", data={"digest": digest, "text": good}).status_code == 204
    assert job(folder).read_text("utf-8") == good


def test_a_file_with_wrong_values_opens_with_each_beside_its_field(client: TestClient, folder: Path):
    job(folder).write_text(job(folder).read_text("utf-8").replace('"960 mm"', '"9600 mm"'), "utf-8")
    page = client.get("/job/first").text
    assert "not ready yet" in page
    assert "expected 150 mm to 3000 mm" in page
    assert "blank 1120.67 mm long" in page  # the other belt is as it was


def test_names_lead_nowhere_else(client: TestClient, folder: Path):
    (folder.parent / "secret.toml").write_text("[hide]\n")
    (folder / "hides" / "link.toml").symlink_to(folder.parent / "secret.toml")
    (folder / "jobs" / "linked").symlink_to(folder.parent)
    for path in (
        "/hide/link.toml",
        "/hide/..%2f..%2fsecret.toml",
        "/job/..%2f..",
        "/job/linked",
        "/job/none",
        "/job/first/out/..%2fjob.toml",
        "/job/first/paper/job.toml",
        "/static/..%2fapp.py",
        "/job/first/belt/7",
    ):
        assert client.get(path).status_code in (400, 404), path


def wait(client: TestClient, folder: Path) -> dict[str, Any]:
    """Wait until what is running for the job has ended."""
    end = time.monotonic() + 300
    while time.monotonic() < end:
        page = client.get("/job/first").text
        if "data-seconds=" not in page:
            assert 'mistake">It ended' not in page
            return {"page": page}
        time.sleep(0.2)
    raise AssertionError("it never ended")


@pytest.mark.slow
def test_a_job_is_laid_out_and_cut_to_the_same_bytes_as_on_the_command_line(
    client: TestClient, folder: Path, tmp_path: Path
):
    from click.testing import CliRunner

    from strapwright.cli.main import command

    nested = {"hide": "side-7.toml", "machine": "laser.toml", "seconds": "9", "steps": "20"}
    assert client.post("/job/first/nest", data=nested).status_code == 204
    assert client.post("/job/first/nest", data=nested).status_code == 409
    wait(client, folder)
    layout = client.get("/job/first/layout").json()
    assert len(layout["parts"]) == 4
    assert client.post("/job/first/cut", data={"machine": "laser.toml"}).status_code == 204
    page = wait(client, folder)["page"]
    assert "first-belts.dxf" in page, page.split('id="running"')[1][:400]
    for name in ("first-belts.dxf", "first-belts.svg", "first-belts-sheet.txt"):
        assert name in page
    out = tmp_path / "cli"
    arguments = [str(job(folder)), "--hide", str(folder / "hides/side-7.toml")]
    arguments += ["--machine", str(folder / "machines/laser.toml"), "--steps", "20", "--out", str(out)]
    run = CliRunner().invoke(command, ["cut", *arguments])
    assert run.exit_code == 0, run.output
    for path in out.iterdir():
        if not path.name.startswith("."):
            assert (folder / "jobs/first/out" / path.name).read_bytes() == path.read_bytes(), path.name

    cuts = client.get("/job/first/cuts", params={"machine": "laser.toml"}).json()
    (sheet,) = cuts["sheets"]
    moves = sheet["moves"]
    assert {one["kind"] for one in moves} == {"cut", "score", "travel"}
    for one, after in pairwise(moves):
        assert one["begins"] + one["seconds"] == pytest.approx(after["begins"], abs=2e-3)
    assert moves[-1]["begins"] + moves[-1]["seconds"] == pytest.approx(sheet["seconds"], abs=2e-3)
    assert {one["part"].split("/")[0] for one in moves if one["kind"] == "cut"} == {"ines", "tomasz"}
    assert client.get("/job/first/cuts", params={"machine": "no.toml"}).status_code == 404

    moving = {"digest": layout["digest"], "turns": 0, "hide": "side 7"}
    part = layout["parts"][0]
    on_another = moving | {"part": part["id"], "x": layout["parts"][2]["x"], "y": layout["parts"][2]["y"]}
    assert client.post("/job/first/layout/check", json=on_another).json()["faults"]
    before = (folder / "jobs/first/layout.json").read_bytes()
    assert client.post("/job/first/layout/place", json=on_another).json()["faults"]
    assert (folder / "jobs/first/layout.json").read_bytes() == before
    higher = moving | {"part": part["id"], "x": part["x"], "y": part["y"] + 150}
    assert client.post("/job/first/layout/check", json=higher).json() == {"faults": []}
    placed = client.post("/job/first/layout/place", json=higher).json()
    assert placed["faults"] == []
    assert client.post("/job/first/layout/place", json=higher).status_code == 400  # drawn from an older one
    locked = client.post(
        "/job/first/layout/lock", json={"digest": placed["digest"], "part": part["id"], "locked": True}
    ).json()
    assert [one["id"] for one in locked["parts"] if one["locked"]] == [part["id"]]
    for bad in (
        {},
        [],
        {"digest": locked["digest"], "part": part["id"], "hide": "side 7", "turns": 0, "x": "far"},
    ):
        assert client.post("/job/first/layout/place", json=bad).status_code in (400, 404)
    for _ in range(2):
        client.post("/job/first/steps", data={"do": "undo"})
    assert (folder / "jobs/first/layout.json").read_bytes() == before

    side = (folder / "hides/side-7.toml").read_bytes()
    assert client.post("/job/first/made", data={"machine": "laser.toml"}).status_code == 204
    (record,) = (folder / "records/first-belts").iterdir()
    assert (record / "hides/side-7.toml").read_bytes() == side
    assert (folder / "hides/used/side-7.toml").read_bytes() == side
    left = [path.name for path in (folder / "hides").glob("*.toml")]
    assert left == ["side-7-r1.toml"]
    assert "remnant" in client.get("/leather").text or "side 7 r1" in client.get("/leather").text
    assert client.post("/job/first/made", data={"machine": ""}).status_code == 400  # its hide is gone
    client.post("/job/first/steps", data={"do": "undo"})
    assert [path.name for path in (folder / "hides").glob("*.toml")] == ["side-7.toml"]


def test_bad_searches_are_refused_in_words(client: TestClient):
    for data, words in (
        ({"seconds": "10"}, "Choose at least one hide"),
        ({"hide": "side-7.toml", "seconds": "many"}, "expected 1 to 3600"),
        ({"hide": "side-7.toml", "seconds": "0"}, "expected 1 to 3600"),
        ({"hide": "no.toml", "seconds": "10"}, "found no file"),
        ({"hide": "side-7.toml", "seconds": "10", "machine": "no.toml"}, "found no file"),
    ):
        answer = client.post("/job/first/nest", data=data)
        assert answer.status_code == 400
        assert words in answer.text
    assert "lay it out first" in client.post("/job/first/cut", data={"machine": "laser.toml"}).text


def test_papers_are_made(client: TestClient):
    for name, begin in (
        ("pattern.pdf", b"%PDF"),
        ("drawing.pdf", b"%PDF"),
        ("card.pdf", b"%PDF"),
        ("card.html", b"<!"),
    ):
        answer = client.get(f"/job/first/paper/{name}")
        assert answer.status_code == 200
        assert answer.content.startswith(begin)


def test_a_program_of_a_job_runs_only_once_it_is_allowed(client: TestClient, folder: Path):
    proof = folder.parent / "it-ran"
    program = f"open({str(proof)!r}, 'w')\n\ndef draw(width):\n    raise ValueError\n"
    (folder / "jobs/first/mine.py").write_text(program)
    text = job(folder).read_text("utf-8").replace('tip = "english_point"', 'tip = { sketch = "mine.py" }')
    job(folder).write_text(text, "utf-8")
    page = client.get("/job/first").text
    assert "mine.py" in page
    assert "a program that you have not allowed yet" in page
    assert client.get("/job/first/paper/card.pdf").status_code == 404
    client.get("/")
    assert not proof.exists()
    digest = page.split('/programs"><input type="hidden" name="digest" value="')[1].split('"')[0]
    assert client.post("/job/first/programs", data={"digest": "0" * 64}).status_code == 409
    assert client.post("/job/first/programs", data={"digest": digest}).status_code == 204
    assert "that you have not allowed" not in client.get("/job/first").text
    (folder / "jobs/first/mine.py").write_text(program + "# changed\n")
    assert "a program that you have not allowed yet" in client.get("/job/first").text
    assert not list(folder.rglob("allowed-programs"))
