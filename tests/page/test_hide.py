"""A hide drawn by hand: what is written is a hide file that the commands read, whatever was there kept."""

from __future__ import annotations

import html
import io
import json
import re
import shutil
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image
from tests.page.test_leather import listed

from strapwright.core.errors import FileProblems
from strapwright.core.units import parse_length
from strapwright.nesting.hide.file import HideTable, read_hide
from strapwright.page.leather import form as hide_form, picture as hide_picture

if TYPE_CHECKING:
    from starlette.testclient import TestClient

EXAMPLES = Path(__file__).parents[2] / "examples/hides"
SQUARE = [[0, 0], [1400, 0], [1400, 600], [0, 600]]


def drawn(client: TestClient, path: str, **changes: Any) -> dict[str, Any]:
    """What the page sends of a hide as it opens, with some of it changed."""
    page = client.get(path).text
    state = json.loads(html.unescape(page.split("data-state='")[1].split("'>")[0]))
    table = {}
    if state["file"]:
        table = tomllib.loads((client.shop / "hides" / state["file"]).read_text("utf-8"))["hide"]  # type: ignore[attr-defined]
    fields = {one.key: one.value for group in hide_form.shown(table) for one in group.fields if one.value}
    fields |= changes.pop("fields", {})
    state.pop("kept")
    return {**state, "fields": fields, **changes}


@pytest.fixture
def client(client: TestClient, folder: Path) -> TestClient:
    client.shop = folder  # type: ignore[attr-defined]
    return client


def save(client: TestClient, sent: dict[str, Any]) -> dict[str, Any]:
    answer = client.post("/leather/save", json=sent)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_every_key_of_a_hide_has_a_field_or_is_drawn():
    fields = {one.key.partition(".")[0] for group in hide_form.shown({}) for one in group.fields}
    assert fields | set(hide_form.SHAPES) == set(HideTable.model_fields)


def test_a_hide_drawn_from_nothing_is_checked_as_it_is_drawn_and_saved(client: TestClient, folder: Path):
    flaws = [
        {"kind": "mark", "points": [[100, 100], [160, 100], [130, 150]]},
        {"kind": "hole", "at": [500, 300], "size": 40},
    ]
    zones = [{"thickness": "2.8", "points": [[0, 0], [200, 0], [200, 600], [0, 600]]}]
    sent = drawn(client, "/leather/add", points=SQUARE, flaws=flaws, zones=zones)
    found = client.post("/leather/check", json=sent).json()
    assert (found["mistakes"].keys(), found["area"]) == ({"name"}, "0.840 m²")
    sent["fields"] = {"name": "Bö 9", "thickness": "3.4", "tannage": "vegetable", "backbone": "line"}
    sent["back"] = [[0, 300], [1400.123, 310]]
    found = client.post("/leather/check", json=sent).json()
    assert (found["mistakes"], found["area"], found["assumed"]) == ({}, "0.840 m²", False)
    assert not list((folder / "hides").glob("Bo*"))
    assert save(client, sent)["file"] == "Bo-9.toml"
    hide = read_hide(folder / "hides/Bo-9.toml")
    assert (hide.name, hide.thickness, str(hide.tannage)) == ("Bö 9", 3.4, "vegetable")
    assert [str(flaw.kind) for flaw in hide.flaws] == ["mark", "hole"]
    assert hide.flaws[1].round == (500, 300, 40)
    assert hide.thickness_zones[0].thickness == 2.8
    assert "Bö 9" in listed(client)
    assert save(client, sent)["file"] == "Bo-9-2.toml"  # another of that name
    for _ in range(2):
        client.post("/leather/steps", data={"do": "undo"})
    assert not list((folder / "hides").glob("Bo*"))


def test_what_was_not_changed_stays_as_it_is_written(client: TestClient, folder: Path):
    path = folder / "hides/side-7.toml"
    before = path.read_text("utf-8")
    sent = drawn(client, "/hide/side-7.toml/edit")
    assert save(client, sent)["written"]
    assert path.read_text("utf-8") == before
    assert not client.get("/leather").text.count("Last step")
    sent["points"][2] = [910, 30.5]
    sent["points"].insert(4, [1400, 20])
    sent["flaws"][0]["at"] = [1200, 480]
    del sent["flaws"][1]
    sent["flaws"].append({"kind": "loose", "at": [500, 300], "size": 25})
    sent["fields"] |= {"thickness": "9 oz", "true_edge": "yes"}
    assert save(client, sent)["written"]
    after = path.read_text("utf-8")
    for line in before.splitlines():
        if "#" in line and "scar or a brand" not in line:  # the flaw that is gone
            assert line.partition("#")[2] in after, line
    assert "[0, 60], [260, 0], [910, 30.5], [1350, 0], [1400, 20]," in after
    tables = tomllib.loads(after)
    assert [flaw["kind"] for flaw in tables["flaw"]] == ["hole", "loose", "loose"]
    assert (tables["flaw"][0]["at"], tables["flaw"][0]["size"]) == ([1200, 480], "30 mm")
    assert tables["hide"]["thickness"] == "9 oz"
    assert "Last step: side-7.toml: edge, thickness, true edge, flaws" in client.get("/leather").text
    client.post("/leather/steps", data={"do": "undo"})
    assert path.read_text("utf-8") == before


def test_what_is_said_of_a_hide_names_the_page_s_fields(client: TestClient, folder: Path):
    path = folder / "hides/side-7.toml"
    text = path.read_text("utf-8").replace("[[flaw]]", "uncertainty = 4\ntrue_edge = true\n\n[[flaw]]", 1)
    path.write_text(text + "\n[[unsure]]\nwithin = 9\npoints = [[260, 0], [910, 25]]\n")
    sent = drawn(client, "/hide/side-7.toml/edit")
    found = client.post("/leather/check", json=sent).json()
    said = " ".join(words for finding in found["findings"] for words in finding)
    assert "set “Edge and flaws may be off by” to 0." in said
    assert "correct its corners there, then press “I have looked: it is right”." in said
    sent["points"] = [[0, 0], [900, 0], [0, 400], [900, 400]]
    said += " ".join(client.post("/leather/check", json=sent).json()["mistakes"].values())
    assert "or tick “Repair an edge that crosses itself”" in said
    assert not re.search(r"\[\[|[a-z]_[a-z]| = ", said), said


@pytest.mark.parametrize("name", ["bend.toml", "butt.toml", "shoulder.toml"])
def test_any_hide_opens_and_is_saved_as_it_was(client: TestClient, folder: Path, name: str):
    for other in EXAMPLES.iterdir():
        shutil.copy(other, folder / "hides")
    before = (folder / "hides" / name).read_bytes()
    sent = drawn(client, f"/hide/{name}/edit")
    assert client.post("/leather/check", json=sent).json()["mistakes"] == {}
    assert save(client, sent)["written"]
    assert (folder / "hides" / name).read_bytes() == before


def test_mistakes_stand_beside_the_thing_and_nothing_is_written(client: TestClient, folder: Path):
    before = (folder / "hides/side-7.toml").read_bytes()
    good = drawn(client, "/hide/side-7.toml/edit")
    for changes, place, words in (
        ({"points": [[0, 0], [900, 0], [0, 400], [900, 400]]}, "points", "crosses or touches itself"),
        ({"points": [[0, 0], [900, 0]]}, "points", "found 2, expected 3 or more"),
        (
            {"flaws": [good["flaws"][0], {"kind": "mark", "at": [9000, 0], "size": 9}]},
            "flaw.1",
            "off the hide",
        ),
        ({"flaws": [{"kind": "mark", "at": [500, 300], "size": 0}]}, "flaw.0", "more than 0 mm"),
        ({"zones": [{"thickness": "thin", "points": SQUARE}]}, "zone.0", 'found "thin'),
        ({"fields": good["fields"] | {"thickness": "thick"}}, "thickness", 'found "thick"'),
        ({"fields": good["fields"] | {"backbone": "angle"}}, "backbone", 'found "?"'),
        (
            {"fields": good["fields"] | {"backbone": "line"}, "back": [[0, 0], [1, 1]]},
            "backbone",
            "1.41421 mm apart",
        ),
        ({"fields": good["fields"] | {"name": " "}}, "name", "missing"),
        (
            {"way": "stations", "stations": [["0", "0", "600"], ["wide", "0", "600"]]},
            "stations",
            'found "wide"',
        ),
        ({"way": "stations", "stations": [["9", "0", "600"], ["5", "0", "600"]]}, "stations", "growing x"),
    ):
        for path in ("check", "save"):
            found = client.post(f"/leather/{path}", json=good | changes).json()["mistakes"]
            assert words in found.get(place, ""), (place, found)
        assert (folder / "hides/side-7.toml").read_bytes() == before
    for bad in (b"", b"[]", b'{"fields": {}}', json.dumps(good | {"file": "no.toml"}).encode()):
        assert client.post("/leather/save", content=bad).status_code == 400
    for number in (1e12, "far", None):
        assert client.post("/leather/check", json=good | {"points": [[number, 0]]}).status_code == 400
    for changes, place, words in (
        ({"points": [[0, 0], [1e7, 0], [0, 500]]}, "points", "at most 10 m"),
        ({"flaws": [{"at": [500, 300], "size": -5}]}, "flaw.0", "more than 0 mm"),
        ({"fields": good["fields"] | {"name": "n" * 300}}, "name", "80"),
    ):
        assert words in client.post("/leather/check", json=good | changes).json()["mistakes"][place]
    (folder / "hides/notes.toml").write_text("[notes]\n", "utf-8")
    assert "no [hide] table" in client.post("/leather/check", json=good | {"file": "notes.toml"}).text
    assert client.get("/hide/notes.toml/edit").headers["location"] == "/hide/notes.toml/text"
    foreign = good | {"flaws": [good["flaws"][0] | {"origin": 7}]}
    assert "not in the file" in client.post("/leather/save", json=foreign).text
    for name in ("../../secret.svg", "/etc/passwd"):
        assert client.post("/leather/check", json=good | {"file": "", "drawing": name}).status_code == 400


def test_a_hide_by_tape_is_typed_in_as_a_table_or_turned_into_corners(client: TestClient, folder: Path):
    rows = [["0", "0", "70 cm"], ["900", "5", "650"], ["", "", ""]]
    sent = drawn(client, "/leather/add", fields={"name": "taped"}, way="stations", stations=rows)
    found = client.post("/leather/check", json=sent).json()
    assert found["outline"] == [[0, 0], [900, 5], [900, 650], [0, 700]]
    name = save(client, sent)["file"]
    assert tomllib.loads((folder / "hides" / name).read_text("utf-8"))["hide"]["stations"] == [
        [0, 0, "70 cm"],
        [900, 5, 650],
    ]
    again = drawn(client, f"/hide/{name}/edit")
    assert (again["way"], again["stations"]) == ("stations", [["0", "0", "70 cm"], ["900", "5", "650"]])
    again |= {"way": "points", "points": found["outline"]}
    save(client, again)
    hide = tomllib.loads((folder / "hides" / name).read_text("utf-8"))["hide"]
    assert (hide["points"], "stations" in hide) == (found["outline"], False)


def test_a_drawing_gets_a_hide_file_that_names_it(client: TestClient, folder: Path):
    shutil.copy(EXAMPLES / "belly.dxf", folder / "hides")
    sent = drawn(client, "/hide/belly.dxf/edit", fields={"name": "belly", "thickness": "2 mm"})
    assert (sent["way"], sent["file"], sent["drawing"]) == ("kept", "", "belly.dxf")
    found = client.post("/leather/check", json=sent).json()
    assert [one["kind"] for one in found["drawn"]] == ["hole", "loose"]
    assert save(client, sent)["file"] == "belly.toml"
    text = (folder / "hides/belly.toml").read_text("utf-8")
    assert text == '[hide]\nname = "belly"\nthickness = "2 mm"\noutline = "belly.dxf"\n'
    assert listed(client).count("<b>belly</b>") == 1
    taken = drawn(
        client, "/hide/belly.toml/edit", way="points", points=found["outline"], flaws=found["drawn"]
    )
    assert save(client, taken)["written"]
    hide = read_hide(folder / "hides/belly.toml")
    assert hide.area == pytest.approx(read_hide(folder / "hides/belly.dxf").area, rel=1e-4)
    assert len(hide.flaws) == 2


def test_a_file_changed_meanwhile_is_shown_beside_what_was_drawn(client: TestClient, folder: Path):
    path = folder / "hides/side-7.toml"
    sent = drawn(client, "/hide/side-7.toml/edit")
    sent["points"][2] = [910, 30]
    sent["flaws"].append({"kind": "mark", "at": [800, 300], "size": 12})
    theirs = (
        path.read_text("utf-8").replace('"3.6 mm"', '"4 mm"').replace("at = [1210, 470]", "at = [1200, 400]")
    )
    path.write_text(theirs, "utf-8")
    found = save(client, sent)
    said = {name: (file, here) for name, file, here in found["conflict"]}
    assert said["Thickness"] == ("4 mm", "3.6 mm")
    assert "[900, 25]" in said["The edge, corners"][0]
    assert "[910, 30]" in said["The edge, corners"][1]
    assert len(found["theirs"]) == 11
    assert path.read_text("utf-8") == theirs
    over = save(client, sent | {"digest": found["digest"], "over": True})
    assert over["written"]
    after = path.read_text("utf-8")
    assert tomllib.loads(after)["hide"]["points"][2] == [910, 30]
    flaws = tomllib.loads(after)["flaw"]
    assert sorted(str(one.get("at")) for one in flaws) == ["None", "None", "[1210, 470]", "[800, 300]"]
    assert "# a scar or a brand" in after
    client.post("/leather/steps", data={"do": "undo"})
    assert path.read_text("utf-8") == theirs


def picture(kind: str = "PNG", size: tuple[int, int] = (3000, 1500), **more: Any) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, "tan").save(out, kind, **more)
    return out.getvalue()


def test_a_picture_is_opened_made_smaller_and_kept_beside_the_hide(client: TestClient, folder: Path):
    exif = Image.Exif()
    exif[0x0112] = 6  # turned by a quarter
    exif[0x010F] = "somebody's camera"
    answer = client.post("/leather/picture", content=picture("JPEG", exif=exif))
    digest = answer.json()["digest"]
    shown = client.get(f"/leather/picture/{digest}")
    assert shown.headers["content-type"] == "image/jpeg"
    opened = Image.open(io.BytesIO(shown.content))
    assert opened.size == (1000, 2000)
    assert b"camera" not in shown.content
    place = {"digest": digest, "mm_per_pixel": 1.25, "x": -10, "y": 20}
    sent = drawn(client, "/leather/add", points=SQUARE, fields={"name": "over"}, picture=place)
    assert save(client, sent)["written"]
    assert (folder / "hides/over.picture.jpg").read_bytes() == shown.content
    assert drawn(client, "/hide/over.toml/edit")["picture"] == place
    assert listed(client).count("data-words=") == 2  # the picture is no hide
    without = drawn(client, "/hide/over.toml/edit", picture=None)
    save(client, without)
    assert drawn(client, "/hide/over.toml/edit")["picture"] is None
    client.post("/leather/steps", data={"do": "undo"})
    assert drawn(client, "/hide/over.toml/edit")["picture"] == place
    (folder / "hides/over.picture.json").write_text("{", "utf-8")
    assert drawn(client, "/hide/over.toml/edit")["picture"] is None
    (folder / "hides/over.picture.jpg").unlink()
    (folder / "hides/over.picture.jpg").symlink_to(folder / "house.toml")
    linked = drawn(client, "/hide/over.toml/edit", picture=place)
    assert "is a link" in client.post("/leather/save", json=linked).text
    unknown = client.post("/leather/save", json=sent | {"picture": place | {"digest": "0" * 64}})
    assert "choose it again" in unknown.text


def test_what_is_no_picture_is_refused_in_words(client: TestClient, monkeypatch: pytest.MonkeyPatch):
    for bad in (
        b"",
        b"GIF89a",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        picture()[:200],
        picture("GIF"),
    ):
        answer = client.post("/leather/picture", content=bad)
        assert (answer.status_code, "expected a PNG or JPEG" in answer.text) == (400, True)
    huge = picture(size=(10_000, 10_000))
    assert "10000 by 10000 pixels, expected 80 million" in client.post("/leather/picture", content=huge).text
    assert client.post("/leather/picture", content=b"0" * 8_000_001).status_code == 413
    monkeypatch.setattr(hide_picture, "_SECONDS", 0.001)
    with pytest.raises(FileProblems, match="takes too long"):
        hide_picture.opened(picture())


def test_nothing_is_written_out_of_the_shop(client: TestClient, folder: Path):
    sent = drawn(client, "/leather/add", points=SQUARE, fields={"name": "away"})
    shutil.rmtree(folder / "hides")
    (folder.parent / "elsewhere").mkdir()
    (folder / "hides").symlink_to(folder.parent / "elsewhere")
    assert "leads out of the shop" in client.post("/leather/save", json=sent).text
    assert not list((folder.parent / "elsewhere").iterdir())


def test_in_a_house_of_inches_figures_are_in_inches_and_files_exact(client: TestClient, folder: Path):
    path = folder / "hides/side-7.toml"
    before = path.read_text("utf-8").replace('"3.6 mm"', "3.6")
    path.write_text(before, "utf-8")
    metric = client.post("/leather/check", json=drawn(client, "/hide/side-7.toml/edit")).json()["longest"]
    client.post("/units", data={"units": "in"})
    page = client.get("/hide/side-7.toml/edit").text
    assert ('data-units="in"' in page, "Longest strap, 1 1/2 in wide" in page) == (True, True)
    assert 'value="3.6 mm"' in page  # a bare number would be inches now
    assert "= 9/64 in" in page
    sent = drawn(client, "/hide/side-7.toml/edit", fields={"thickness": "3.6 mm"})
    found = client.post("/leather/check", json=sent).json()
    assert found["area"] == "9.9 sq ft"
    assert 0 <= float(metric.split()[0]) + 1 - parse_length(found["longest"]) < 1 + 25.4 / 16
    assert save(client, sent)["written"]
    assert path.read_text("utf-8") == before
    sixteenth = 25.4 / 16
    sent["points"][2] = [round(571 * sixteenth, 6), round(15 * sixteenth, 6)]
    sent["fields"]["thickness"] = "9/64"
    sent["zones"] = [{"thickness": "1/8", "points": SQUARE}]
    assert save(client, sent)["written"]
    tables = tomllib.loads(path.read_text("utf-8"))
    assert tables["hide"]["points"][2] == [906.4625, 23.8125]  # 35 11/16 by 15/16 in
    assert (tables["hide"]["thickness"], tables["zone"][0]["thickness"]) == ("9/64 in", "1/8 in")
    rows = [["0", "0", "27 1/2 in"], ["35 1/2 in", "0", "26 in"]]
    taped = drawn(client, "/leather/add", fields={"name": "taped"}, way="stations", stations=rows)
    name = save(client, taped)["file"]
    assert tomllib.loads((folder / "hides" / name).read_text("utf-8"))["hide"]["stations"] == [
        [0, 0, "27 1/2 in"],
        ["35 1/2 in", 0, "26 in"],
    ]
    again = drawn(client, f"/hide/{name}/edit")
    assert again["stations"] == [["0 mm", "0 mm", "27 1/2 in"], ["35 1/2 in", "0 mm", "26 in"]]
    written = (folder / "hides" / name).read_bytes()
    assert save(client, again)["written"]
    assert (folder / "hides" / name).read_bytes() == written
    leather = listed(client)
    assert ("sq ft" in leather, "m²" in leather, "1 1/2 in wide" in leather) == (True, False, True)
    assert "9/64 in vegetable" in client.get("/job/first").text
