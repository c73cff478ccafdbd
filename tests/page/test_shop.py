"""The shop as a place: its hardware, machines and settings, shown and changed."""

from __future__ import annotations

import io
import tomllib
import zipfile
from datetime import date, timedelta
from typing import TYPE_CHECKING
from urllib.parse import unquote

import pytest
from click.testing import CliRunner

from strapwright.cli.main import command
from strapwright.job.catalogue.file import read_catalogue, shipped
from strapwright.job.measuring import BUCKLE_QUESTIONS
from strapwright.machine.kerf import find_kerf
from strapwright.machine.profile.machine import profile_text, read_machine, shipped_profiles
from strapwright.page.server.bench import SHOP, Bench
from strapwright.page.sheet.shop import Shop
from strapwright.page.workshop.entries import KINDS
from strapwright.page.workshop.hardware_pictures import calliper_pictures
from strapwright.page.workshop.measuring import ASKED, WAITING
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient


def digest_on(client: TestClient, address: str) -> str:
    page = client.get(address)
    assert page.status_code == 200, page.text
    return page.text.split('name="digest" value="')[1].split('"')[0]


def undo(client: TestClient) -> None:
    assert client.post("/shop/steps", data={"do": "undo"}).status_code == 204


def test_a_change_of_the_shop_s_own_files_is_a_step_of_the_shop(client: TestClient, folder: Path):
    bench, path = Bench(Shop(folder)), folder / "house.toml"
    before = path.read_bytes()
    new = folder / "machines/new.toml"
    bench.change(SHOP, {path: (before, before + b"# more\n"), new: (None, b"# new\n")}, "two files")
    assert 'title="two files"' in client.get("/shop").text
    undo(client)
    assert path.read_bytes() == before
    assert not new.exists()
    assert client.post("/shop/steps", data={"do": "redo"}).status_code == 204
    assert path.read_bytes() == before + b"# more\n"
    path.write_bytes(b"# somebody else's\n")
    assert "changed since by another program" in client.post("/shop/steps", data={"do": "undo"}).text
    assert new.exists()


# Buckles and hardware.

MEASURED = {
    "given": "opening",
    "opening": "46",
    "bar_kind": "flat",
    "bar_width": "6 mm",
    "bar_height": "3 mm",
    "bar": "heel",
    "frame_depth": "1 1/2 in",
    "prongs": "2",
    "prong_width": "4",
    "prong_thickness": "",
    "prong_spacing": "20",
    "hole_seat": "none",
}


def test_the_shop_lists_every_entry_drawn_own_and_shipped_apart(client: TestClient, folder: Path):
    page = client.get("/shop").text
    own = read_catalogue(folder / "catalogue.toml")
    for kind in KINDS.values():
        names = {*getattr(shipped(), kind.field), *getattr(own, kind.field)}
        section = page.split(f'id="{kind.key}"')[1].split("</details>")[0]
        assert section.count("<svg") == len(names) + 1  # and the scale
        for name in names:
            assert f"<b>{name}</b>" in section
    assert page.index("<h3>Yours</h3>") < page.index("<b>house-45</b>") < page.index("<h3>Shipped with")


def test_every_question_of_a_buckle_has_its_picture_and_its_own_words(client: TestClient):
    page = client.get("/shop/buckle/new").text
    pictures = calliper_pictures()
    assert pictures.keys() == {one.key for one in BUCKLE_QUESTIONS}
    for one in BUCKLE_QUESTIONS:
        asked = page.split(f'data-question="{one.key}"')[1].split("</fieldset>")[0]
        assert ASKED.get(one.key, one.ask).replace('"', "&#34;").replace("'", "&#39;") in asked
        assert one.how.replace("'", "&#39;") in asked
        assert pictures[one.key] in asked
        assert one.choices or one.allowed in asked


def test_a_buckle_is_measured_and_written_as_the_command_line_would(client: TestClient, folder: Path):
    path = folder / "catalogue.toml"
    before = path.read_text("utf-8")
    drafted = client.post("/shop/buckle/new", data=MEASURED).json()
    assert drafted["mistakes"] == {}
    assert (
        drafted["summary"]
        == "It takes a strap 44 mm (1 23/32 in) wide: 46 mm less the usual clearance of 2 mm."
    )
    assert drafted["usual_name"] == "my-double-46"
    assert drafted["drawing"].startswith("<svg")
    assert path.read_text("utf-8") == before
    saved = client.post("/shop/buckle/new?write=1", data=MEASURED | {"called": "wide", "price": "7,5"}).json()
    assert saved["to"] == "/shop?open=buckle#buckle"
    text = path.read_text("utf-8")
    assert text.startswith(before)
    assert 'bar_section = ["6 mm", "3 mm"]         # width and height of the flat bar' in text
    assert tomllib.loads(text)["buckle"]["wide"] == {
        "opening": "46 mm",
        "bar_section": ["6 mm", "3 mm"],
        "frame_depth": "1 1/2 in",
        "prongs": 2,
        "prong_width": "4 mm",
        "prong_thickness": "3.5 mm",
        "prong_spacing": "20 mm",
        "price": 7.5,
    }
    assert read_catalogue(path).buckles["wide"].prongs == 2
    undo(client)
    assert path.read_text("utf-8") == before


@pytest.mark.parametrize(
    ("changes", "where", "words"),
    [
        ({"opening": "wide"}, "opening", "expected a length"),
        ({"opening": ""}, "opening", "found nothing, expected 6 mm to 150 mm"),
        ({"given": "by eye"}, "given", "expected opening or for_strap"),
        ({"given": "for_strap", "for_strap": "3 m"}, "for_strap", 'the unit "m"'),
        ({"bar_kind": "square"}, "bar_kind", "expected round or flat"),
        ({"bar_kind": "round", "bar_diameter": "90"}, "bar_diameter", "expected 1 mm to 25 mm"),
        ({"bar_width": "0"}, "bar_width", "expected 0.5 mm to 40 mm"),
        ({"bar_height": "x"}, "bar_height", "expected a length"),
        ({"bar": "left"}, "bar", "expected heel or centre"),
        ({"bar": "centre", "rear_depth": ""}, "rear_depth", "found nothing"),
        ({"frame_depth": "-4"}, "frame_depth", "expected 3 mm to 150 mm"),
        ({"prongs": "3"}, "prongs", "expected 1, 2 or 0"),
        ({"prong_width": "40"}, "prong_width", "expected 1 mm to 15 mm"),
        ({"prong_thickness": "thin"}, "prong_thickness", "expected a length"),
        ({"prong_spacing": "44"}, "prong_spacing", "expected 4.5 mm to 41 mm"),
        ({"prongs": "0", "hook_depth": "400"}, "hook_depth", "expected 1 mm to 150 mm"),
        ({"hole_seat": "70"}, "hole_seat", "the strap comes up inside the front bar"),
        ({"price": "dear"}, "price", "expected a number"),
        ({"called": " x" * 30}, "called", "expected 1 to 40 printable characters"),
        ({"called": "house-45"}, "called", "which the catalogue has already"),
    ],
)
def test_a_bad_measure_is_said_beside_it_and_nothing_written(
    client: TestClient, folder: Path, changes: dict[str, str], where: str, words: str
):
    before = (folder / "catalogue.toml").read_bytes()
    found = client.post("/shop/buckle/new?write=1", data=MEASURED | changes).json()
    assert words in found["mistakes"][where]
    assert "to" not in found
    assert (folder / "catalogue.toml").read_bytes() == before


def test_what_is_not_measured_yet_is_no_mistake(client: TestClient):
    found = client.post("/shop/buckle/new", data={"given": "opening", "opening": ""}).json()
    assert found["mistakes"] == {}
    assert found["drawing"] == WAITING
    assert "bar_diameter" in found["asked"]
    assert "prong_spacing" not in found["asked"]


def typed_on(page: str) -> dict[str, str]:
    """What stands in the questions' fields of a page."""
    typed = {}
    for one in BUCKLE_QUESTIONS:
        asked = page.split(f'data-question="{one.key}"')[1].split("</fieldset>")[0]
        chosen = [part for part in asked.split("<input")[1:] if "checked" in part.split(">")[0]]
        field = chosen[0] if one.choices else asked.split("<input")[1]
        typed[one.key] = field.split('value="')[1].split('"')[0]
    return typed


@pytest.mark.parametrize("name", ["house-45", "house-double-50", "house-centre-30"])
def test_an_own_buckle_is_measured_anew_and_only_what_changed_is_written(
    client: TestClient, folder: Path, name: str
):
    path, address = folder / "catalogue.toml", f"/shop/buckle/{name}"
    before = path.read_text("utf-8")
    page = client.get(address).text
    typed = typed_on(page) | {"digest": digest_on(client, address), "price": ""}
    assert client.post(f"{address}?write=1", data=typed).json()["to"]
    assert path.read_text("utf-8") == before
    assert client.get("/shop").text.count('id="undo" disabled') == 1
    saved = client.post(f"{address}?write=1", data=typed | {"frame_depth": "55"}).json()
    assert saved["to"]
    old = tomllib.loads(before)["buckle"][name]
    changed = before.replace(f'frame_depth = "{old["frame_depth"]}"', 'frame_depth = "55 mm"')
    assert path.read_text("utf-8") == changed
    undo(client)
    assert path.read_text("utf-8") == before


def test_a_shipped_buckle_is_copied_and_one_of_its_name_takes_its_place(client: TestClient, folder: Path):
    page = client.get("/shop/buckle/single-40").text
    assert "single-40 comes with strapwright and stays as it is" in page
    assert 'name="called" value="single-40-own"' in page
    typed = typed_on(page) | {"called": "single-40", "frame_depth": "37"}
    drafted = client.post("/shop/buckle/new", data=typed).json()
    assert drafted["summary"].endswith("It takes the place of the shipped buckle of that name.")
    client.post("/shop/buckle/new?write=1", data=typed)
    assert read_catalogue(folder / "catalogue.toml").buckles["single-40"].frame_depth == 37
    assert "In place of a shipped one".lower() in client.get("/shop").text.lower()
    assert "It takes the place of the shipped buckle" in client.get("/shop/buckle/single-40").text


def test_saving_goes_back_to_the_job_it_came_from_and_nowhere_else(client: TestClient):
    for back, to in (
        ("/job/first", "/job/first?buckle=b10"),
        ("/job/first%3Fshow=belt-1", "/job/first?show=belt-1&buckle=b24"),
        ("/new", "/new?buckle=b4"),
        ("/job/first%3Fshow=<b>", "/shop?open=buckle#buckle"),
        ("/job/none", "/shop?open=buckle#buckle"),
        ("https://elsewhere.example/job/first", "/shop?open=buckle#buckle"),
        ("//elsewhere.example", "/shop?open=buckle#buckle"),
        ("/shop", "/shop?open=buckle#buckle"),
    ):
        values = MEASURED | {"called": f"b{len(back)}"}
        address = f"/shop/buckle/new?write=1&back={back}"
        assert client.post(address, data=values).json()["to"] == to
        page = client.get(f"/shop/buckle/new?back={back}").text
        assert (f'href="{unquote(back)}">Back to the job' in page) == to.startswith(("/job", "/new"))


def test_a_catalogue_changed_behind_the_page_is_not_written_over(client: TestClient, folder: Path):
    path, address = folder / "catalogue.toml", "/shop/buckle/house-45"
    typed = typed_on(client.get(address).text) | {"digest": digest_on(client, address), "frame_depth": "44"}
    theirs = path.read_text("utf-8").replace('frame_depth = "40 mm"', 'frame_depth = "41 mm"')
    path.write_text(theirs, "utf-8")
    found = client.post(f"{address}?write=1", data=typed).json()
    assert found["conflict"] == [["How far is it from the bar to the front bar?", "41 mm", "44"]]
    rivet = {"digest": typed["digest"], "hole": "3.5"}
    found = client.post("/shop/rivet/house-9?write=1", data=rivet).json()
    assert found["conflict"] == [["Hole for its post", "3 mm", "3.5"]]
    assert "load this page again" in client.post(f"{address}?do=remove", data=typed).text
    assert path.read_text("utf-8") == theirs


SOUND = {
    "screw_post": {"length": "7", "barrel_diameter": "5", "head_diameter": "10", "thread": "M4"},
    "rivet": {"least_stack": "4", "most_stack": "6", "cap_diameter": "9", "hole": "3"},
    "snap": {"least_stack": "2", "most_stack": "4", "cap_diameter": "15", "cap_hole": "5", "stud_hole": "4"},
    "leather": {"thickness": "8 oz, 9 oz", "tannage": "vegetable", "temper": "firm", "price_per_m2": "90"},
    "punch": {"kind": "slot", "length": "25", "width": "5"},
}


@pytest.mark.parametrize("kind", SOUND)
def test_every_kind_of_hardware_is_added_changed_and_removed(client: TestClient, folder: Path, kind: str):
    path = folder / "catalogue.toml"
    before = path.read_text("utf-8")
    name = 'old "no. 7" 1/4'
    empty = client.post(f"/shop/{kind}/new", data={}).json()
    assert empty["mistakes"] == {}
    assert client.post(f"/shop/{kind}/new?write=1", data={"called": name}).json()["mistakes"]
    found = client.post(f"/shop/{kind}/new?write=1", data=SOUND[kind] | {"called": name}).json()
    assert found.get("to") == f"/shop?open={kind}#{kind}", found
    assert path.read_text("utf-8").startswith(before)
    assert name in getattr(read_catalogue(path), KINDS[kind].field)
    address = f"/shop/{kind}/old%20%22no.%207%22%201%2F4"
    key = next(
        key for key in SOUND[kind] if key in ("head_diameter", "hole", "cap_hole", "price_per_m2", "width")
    )
    value, read = ("95", 95) if key == "price_per_m2" else ("8 mm", "8 mm")
    values = SOUND[kind] | {"digest": digest_on(client, address), key: value}
    assert client.post(f"{address}?write=1", data=values).json().get("to")
    assert tomllib.loads(path.read_text("utf-8"))[kind][name][key] == read
    assert 'title="old &#34;no. 7&#34; 1/4: ' in client.get("/shop").text
    gone = client.post(f"{address}?do=remove", data={"digest": digest_on(client, address)})
    assert gone.headers["hx-redirect"] == f"/shop?open={kind}#{kind}"
    assert tomllib.loads(path.read_text("utf-8")) == tomllib.loads(before)
    for _ in range(3):
        undo(client)
    assert path.read_text("utf-8") == before


@pytest.mark.parametrize(
    ("kind", "field", "value", "words"),
    [
        ("screw_post", "length", "long", "expected a length"),
        ("screw_post", "barrel_diameter", "50", "expected 2 mm to 12 mm"),
        ("screw_post", "head_diameter", "4", "expected more than “"),
        ("screw_post", "thread", "M" * 90, "80 or fewer"),
        ("screw_post", "name", "n" * 90, "80 or fewer"),
        ("screw_post", "price", "-1", "expected 0 or more"),
        ("rivet", "least_stack", "9", "expected at most “Most leather it holds”, 6 mm"),
        ("rivet", "most_stack", "?", "expected a length"),
        ("rivet", "post_length", "1", "expected 2 mm to 50 mm"),
        ("rivet", "cap_diameter", "2", "expected 3 mm to 30 mm"),
        ("rivet", "hole", "", "missing"),
        ("snap", "cap_hole", "20", "expected 1 mm to 16 mm"),
        ("snap", "stud_hole", "0", "expected 1 mm to 16 mm"),
        ("leather", "thickness", "9 oz, 8 oz", "the thinner first"),
        ("leather", "thickness", "9 oz", "expected"),
        ("leather", "tannage", "oak", "expected"),
        ("leather", "temper", "limp", "expected"),
        ("leather", "price_per_m2", "dear", "expected a number"),
        ("punch", "kind", "star", "expected"),
        ("punch", "width", "30", "expected less than its length"),
        ("punch", "length", "9000", "expected 1 mm to 100 mm"),
    ],
)
def test_bad_input_of_hardware_is_said_and_nothing_written(
    client: TestClient, folder: Path, kind: str, field: str, value: str, words: str
):
    before = (folder / "catalogue.toml").read_bytes()
    values = SOUND[kind] | {"called": "new", field: value}
    mistakes = client.post(f"/shop/{kind}/new?write=1", data=values).json()["mistakes"]
    assert words in mistakes.get(field, mistakes.get("", "")), mistakes
    assert (folder / "catalogue.toml").read_bytes() == before


def test_what_job_uses_an_entry_is_said_before_it_is_removed(client: TestClient, folder: Path):
    job = folder / "jobs/first/job.toml"
    text = job.read_text("utf-8")
    used = tomllib.loads(text)["belt"][0]["buckle"]
    assert isinstance(used, str)
    client.post(
        "/shop/buckle/new?write=1",
        data=MEASURED | {"called": "mine", "bar_kind": "round", "bar_diameter": "5"},
    )
    job.write_text(text.replace(f'buckle = "{used}"', 'buckle = "mine"', 1), "utf-8")
    page = client.get("/shop/buckle/mine").text
    assert '<a href="/job/first">first</a>: ines' in page
    assert "They cannot be drafted then" in page
    assert "No job of this shop uses it" in client.get("/shop/buckle/house-centre-30").text
    posts = {"length": "1/4 in", "barrel_diameter": "5", "head_diameter": "10", "called": "1/4 in"}
    client.post("/shop/screw_post/new?write=1", data=posts)
    page = client.get("/shop/screw_post/1%2F4%20in").text
    assert "first</a>: ines, tomasz" in page, page.split("<main")[1].split("Remove it")[1]
    assert "They take the shipped one of that name then" in page
    assert "No job of this shop uses it" in client.get("/shop/screw_post/house-9").text


def test_an_entry_called_new_is_shown_and_not_mistaken_for_a_new_one(client: TestClient, folder: Path):
    client.post("/shop/rivet/new?write=1", data=SOUND["rivet"] | {"called": "new"})
    assert 'href="/shop/rivet/new?own=1"' in client.get("/shop").text
    page = client.get("/shop/rivet/new?own=1").text
    assert "<h1>new</h1>" in page
    values = SOUND["rivet"] | {"digest": digest_on(client, "/shop/rivet/new?own=1"), "hole": "4"}
    assert client.post("/shop/rivet/new?write=1&own=1", data=values).json()["to"]
    assert read_catalogue(folder / "catalogue.toml").rivets["new"].hole == 4


def test_a_shop_without_a_catalogue_begins_one(client: TestClient, folder: Path):
    (folder / "catalogue.toml").unlink()
    assert client.get("/shop").status_code == 200
    assert client.post("/shop/buckle/new?write=1", data=MEASURED).json()["to"]
    assert list(read_catalogue(folder / "catalogue.toml").buckles) == ["my-double-46"]
    undo(client)
    assert not (folder / "catalogue.toml").exists()


def test_a_broken_catalogue_is_named_and_mended_as_text(client: TestClient, folder: Path):
    path = folder / "catalogue.toml"
    good = path.read_text("utf-8")
    path.write_text(good.replace('opening = "45 mm"', "opening = 45 mm"), "utf-8")
    assert "Mend the file" in (page := client.get("/shop").text)
    assert '<p class="mistake">catalogue.toml: line' in page
    digest = digest_on(client, "/shop/file/catalogue.toml")
    assert client.post("/shop/file/catalogue.toml", data={"digest": digest, "text": "["}).status_code == 400
    assert client.post("/shop/file/catalogue.toml", data={"digest": "0", "text": good}).status_code == 409
    mended = client.post("/shop/file/catalogue.toml", data={"digest": digest, "text": good})
    assert mended.headers["hx-redirect"] == "/shop"
    assert path.read_text("utf-8") == good


def test_names_of_the_shop_lead_nowhere_else(client: TestClient, folder: Path):
    (folder.parent / "secret.toml").write_text("[machine]\n")
    (folder / "machines/link.toml").symlink_to(folder.parent / "secret.toml")
    for path in (
        "/shop/file/jobs/first/job.toml",
        "/shop/file/machines/link.toml",
        "/shop/file/..%2fsecret.toml",
        "/shop/file/machines/..%2f..%2fsecret.toml",
        "/shop/machine/link.toml",
        "/shop/machine/..%2fhouse.toml",
        "/shop/nothing/new",
        "/shop/buckle/none-such",
        "/shop/buckle/new?of=none-such",
    ):
        assert client.get(path).status_code == 404, path


# Machines.


def test_a_machine_is_added_as_a_copy_of_a_shipped_one(client: TestClient, folder: Path):
    for name in shipped_profiles():
        values = {"profile": name, "name": f"Žofie's {name}"}
        assert client.post("/shop/machines", data=values).json() == {"mistakes": {}}
        answer = client.post("/shop/machines?write=1", data=values).json()
        file = f"zofies-{name}.toml"
        assert answer["to"] == f"/shop/machine/{file}"
        text = (folder / "machines" / file).read_text("utf-8")
        shipped = tomllib.loads(profile_text(name))
        shipped["machine"]["name"] = f"Žofie's {name}"
        shipped.pop("kerf", None)  # invented: that of a new machine is not known
        assert tomllib.loads(text) == shipped
        assert "INVENTED" not in text
        comments = [line for line in profile_text(name).splitlines() if line.startswith("# ")]
        assert [line for line in comments if line not in text and "INVENTED" not in line] == []
        page = client.get(f"/shop/machine/{file}")
        assert page.status_code == 200
        assert 'class="mistake" data-mistake=""></p>' in page.text
    values = {"profile": "wide-laser", "name": "Žofie's wide-laser"}
    again = client.post("/shop/machines?write=1", data=values).json()
    assert again["to"] == "/shop/machine/zofies-wide-laser-2.toml"
    undo(client)
    assert not (folder / "machines/zofies-wide-laser-2.toml").exists()
    before = sorted((folder / "machines").iterdir())
    for bad, where in (
        ({"profile": "none", "name": "a"}, "profile"),
        ({"profile": "wide-laser", "name": " "}, "name"),
        ({"profile": "wide-laser", "name": "n" * 81}, "name"),
        ({"name": "a"}, "profile"),
    ):
        assert list(client.post("/shop/machines?write=1", data=bad).json()["mistakes"]) == [where]
    assert sorted((folder / "machines").iterdir()) == before


def test_every_key_of_a_machine_is_a_field_and_sent_as_shown_changes_nothing(
    client: TestClient, folder: Path
):
    from strapwright.machine.profile.machine_keys import MachineFile
    from strapwright.page.workshop.machines import machine_form

    form = machine_form()
    shown = {field.key for group in form.shown({}) for field in group.fields}
    assert shown == {field.key for field in form.fields}  # each stands in a group
    assert set(MachineFile.model_fields) - {key.split(".")[0] for key in shown} == {"kerf", "scale"}
    assert all(field.help for field in form.fields if field.key != "machine.bed" and field.label)
    for name in shipped_profiles():
        table = tomllib.loads(profile_text(name))
        posted = {
            field.key: field.value
            for group in form.shown(table)
            for field in group.fields
            if field.kind != "yes" or field.value
        }
        assert form.edits(table, posted, ()) == {}, name


TICKED = {
    "machine.kind": "laser",
    "machine.formats": "dxf, svg",
    "operation.cut.enabled": "yes",
    "operation.score.enabled": "yes",
    "operation.punch.enabled": "yes",
}
"""What a browser sends of a laser's form of itself."""


@pytest.mark.parametrize(
    ("field", "value", "line"),
    [
        ("machine.bed", "1600, 90 cm", 'bed = ["1600 mm", "90 cm"]'),
        ("machine.formats", "svg, gcode", 'formats = ["svg", "gcode"]'),
        ("machine.pass_through", "yes", "pass_through = true"),
        ("operation.cut.speed_mm_s", "9,5", "speed_mm_s = 9.5"),
        ("limits.kerf_max_age_days", "90", "kerf_max_age_days = 90"),
        ("laser.lead_in", "2", 'lead_in = "2 mm"'),
        ("gcode.start", "G54, G64", 'start = ["G54", "G64"]'),
    ],
)
def test_a_machine_s_key_is_changed_with_its_comments_kept(
    client: TestClient, folder: Path, field: str, value: str, line: str
):
    path, address = folder / "machines/laser.toml", "/shop/machine/laser.toml"
    before = path.read_text("utf-8")
    values = TICKED | {"digest": digest_on(client, address)}
    found = client.post(f"{address}?write=1", data=values | {field: value}).json()
    assert found["written"], found
    text = path.read_text("utf-8")
    assert line in text
    assert [one for one in before.splitlines() if "#" in one and field.split(".")[-1] not in one] == [
        one for one in text.splitlines() if "#" in one and field.split(".")[-1] not in one
    ]
    read_machine(str(path))
    undo(client)
    assert path.read_text("utf-8") == before


@pytest.mark.parametrize(
    ("field", "value", "where", "words"),
    [
        ("machine.name", "", "machine.name", "missing"),
        ("machine.kind", "drag_knife", "blade.offset", "a drag knife needs “Blade”"),
        ("machine.bed", "3", "machine.bed", "expected"),
        ("machine.bed", "wide, deep", "machine.bed", "expected a length"),
        ("machine.formats", "", "machine.formats", "1 or more"),
        ("machine.registration", "bed_pins", "machine.pin_pitch", "missing"),
        ("machine.rapid_mm_s", "fast", "machine.rapid_mm_s", "expected a number"),
        ("machine.svg_stroke", "thin", "machine.svg_stroke", 'expected "hairline"'),
        ("limits.hpgl_units", "1.5", "limits.hpgl_units", "expected a whole number"),
        ("limits.kerf_max_age_days", "0", "limits.kerf_max_age_days", "expected 1 or more"),
        ("operation.cut.layer", "a/b", "operation.cut.layer", "expected a name without"),
        ("operation.cut.color", "green", "operation.cut.color", "expected"),
        ("operation.cut.power_percent", "120", "operation.cut.power_percent", "expected 100 or less"),
        ("operation.punch.layer", "score", "operation.punch.enabled", "too like layer"),
        ("gcode.start", "G1 X5", "gcode.start", "moves"),
        ("laser.air_on", "M8", "laser.air_off", "go in pairs"),
        ("bridges.count", "3", "bridges.width", "missing"),
        ("serial.baud", "slow", "serial.baud", "expected a whole number"),
    ],
)
def test_a_machine_s_bad_input_is_said_beside_its_field(
    client: TestClient, folder: Path, field: str, value: str, where: str, words: str
):
    path, address = folder / "machines/laser.toml", "/shop/machine/laser.toml"
    before = path.read_bytes()
    values = TICKED | {"digest": digest_on(client, address)}
    found = client.post(f"{address}?write=1", data=values | {field: value}).json()
    assert words in found["mistakes"].get(where, ""), found["mistakes"]
    assert not found["written"]
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"machine.registration": "bed_pins"}, "“Registration” as bed pins needs"),
        ({"machine.kind": "drag_knife"}, "a drag knife needs “Blade” with offset and “Max thickness”"),
        ({"machine.kind": "drag_knife"}, "a blade takes no leather away; leave “Kerf” out for a drag knife"),
    ],
)
def test_messages_on_a_machine_s_page_name_its_fields(
    client: TestClient, folder: Path, changes: dict[str, str], words: str
):
    address = "/shop/machine/laser.toml"
    values = TICKED | {"digest": digest_on(client, address)} | changes
    said = " ".join(client.post(address, data=values).json()["mistakes"].values())
    assert words in said, said
    assert "[" not in said
    assert " = " not in said


def test_a_machine_changed_behind_the_page_is_not_written_over(client: TestClient, folder: Path):
    path, address = folder / "machines/laser.toml", "/shop/machine/laser.toml"
    values = {"digest": digest_on(client, address), "machine.name": "ours"}
    theirs = path.read_text("utf-8").replace('"my laser"', '"theirs"')
    path.write_text(theirs, "utf-8")
    found = client.post(f"{address}?write=1", data=values).json()
    assert ["Called", "theirs", "ours"] in found["conflict"]
    assert path.read_text("utf-8") == theirs


def test_a_machine_is_put_away_and_comes_back(client: TestClient, folder: Path):
    path, address = folder / "machines/laser.toml", "/shop/machine/laser.toml"
    before = path.read_bytes()
    assert client.post(f"{address}/remove", data={"digest": "0"}).status_code == 400
    client.post(f"{address}/remove", data={"digest": digest_on(client, address)})
    assert not path.exists()
    assert (folder / "machines/put-away/laser.toml").read_bytes() == before
    assert "No machine yet" in client.get("/shop").text
    undo(client)
    assert path.read_bytes() == before


def test_a_broken_machine_is_named_and_mended(client: TestClient, folder: Path):
    path = folder / "machines/laser.toml"
    good = path.read_text("utf-8")
    path.write_text(good.replace('bed = ["', "bed = [", 1), "utf-8")
    assert '<span class="mistake">machines/laser.toml: line' in client.get("/shop").text
    page = client.get("/shop/machine/laser.toml")
    assert page.status_code == 200
    assert "mend these lines" in page.text
    digest = digest_on(client, "/shop/machine/laser.toml")
    mended = client.post("/shop/file/machines/laser.toml", data={"digest": digest, "text": good})
    assert mended.headers["hx-redirect"] == "/shop/machine/laser.toml"
    path.write_text(good.replace('"my laser"', '""'), "utf-8")
    assert "expected 1 or more characters" in client.get("/shop/machine/laser.toml").text


READ = {"material": "vegetable", "thickness": "3.6 mm", "strips": "98,1;98,0", "date": "2026-11-20"}


def test_a_kerf_is_worked_out_recorded_drawn_and_taken_back(client: TestClient, folder: Path):
    path, address = folder / "machines/laser.toml", "/shop/machine/laser.toml"
    before = path.read_text("utf-8")
    values = READ | {"digest": digest_on(client, address)}
    drafted = client.post(f"{address}/kerf", data=values).json()
    assert drafted["mistakes"] == {}
    assert "k = (n·w·s − M) / n" in drafted["working"]
    assert "the cross was never measured along x" in drafted["findings"]
    assert path.read_text("utf-8") == before
    stale = client.post(f"{address}/kerf?write=1", data=values | {"digest": "0"}).json()
    assert "nothing is recorded" in stale["mistakes"][""]
    assert path.read_text("utf-8") == before
    values["digest"] = stale["digest"]
    assert client.post(f"{address}/kerf?write=1", data=values).json()["again"]
    machine = read_machine(str(path))
    newest = machine.kerf[-1]
    assert (newest.measured, newest.width) == (date(2026, 11, 20), pytest.approx(0.195))
    assert find_kerf(machine, Tannage.VEGETABLE, 3.6).rows == (newest,)
    page = client.get(address).text
    rows = page.split('<table class="kerf-rows">')[1].split("</table>")[0].split("<tr")[2:]
    assert ["in use" in row for row in rows] == [True, True, False]
    assert "2026-11-20" in rows[0]
    assert "replaced by the one of 2026-11-20" in rows[2]
    assert page.split('<div class="plot"')[1].split("</div>")[0].count("<circle") == 3 + 3  # and the key
    client.post(f"{address}/kerf/remove", data={"digest": digest_on(client, address), "index": "2"})
    assert tomllib.loads(path.read_text("utf-8")) == tomllib.loads(before)
    for _ in range(2):
        undo(client)
    assert path.read_text("utf-8") == before
    assert (
        client.post(
            f"{address}/kerf/remove", data={"digest": digest_on(client, address), "index": "9"}
        ).status_code
        == 400
    )


@pytest.mark.parametrize(
    ("changes", "where", "words"),
    [
        ({"material": ""}, "", "give “Tannage"),
        ({"material": "oak"}, "material", "expected one of vegetable"),
        ({"material": "synthetic"}, "material", "never cut on a laser"),
        ({"thickness": "thick"}, "thickness", "expected"),
        ({"thickness": "50"}, "thickness", "measure the leather itself"),
        ({"strips": "98.1;x"}, "strips", "expected a length"),
        ({"strips": "120"}, "strips", "push all"),
        ({"strips": "98.1;95"}, "strips", "one of them is misread"),
        ({"strips-y": "200"}, "strips-y", "grain side up"),
        ({"slot": "30"}, "slot", "the width scored beside"),
        ({"hole": "1"}, "hole", "as it is drawn"),
        ({"cross-x": "90"}, "cross-x", "measure from tick to tick"),
        ({"cross-y": "y"}, "cross-y", "expected a length"),
        ({"speed": "fast"}, "speed", "expected a number over 0"),
        ({"power": "101"}, "power", "up to 100"),
        ({"passes": "1.5"}, "passes", "a whole number from 1 to 20"),
        ({"date": "soon"}, "date", "expected a date"),
        ({"date": f"{date.today() + timedelta(days=3)}"}, "date", "or a day before it"),
        ({"strips": ""}, "", "nothing was read"),
    ],
)
def test_a_bad_reading_is_said_beside_its_field(
    client: TestClient, folder: Path, changes: dict[str, str], where: str, words: str
):
    path, address = folder / "machines/laser.toml", "/shop/machine/laser.toml"
    before = path.read_bytes()
    values = READ | {"digest": digest_on(client, address)} | changes
    found = client.post(f"{address}/kerf?write=1", data=values).json()
    assert words in found["mistakes"].get(where, ""), found["mistakes"]
    assert "--" not in "".join(found["mistakes"].values())
    assert path.read_bytes() == before


def test_a_blade_has_only_its_axes_measured(client: TestClient, folder: Path):
    client.post("/shop/machines?write=1", data={"profile": "drag-knife", "name": "knife"})
    address = "/shop/machine/knife.toml"
    page = client.get(address).text
    assert 'name="cross-x"' in page
    assert 'name="strips"' not in page
    values = {"digest": digest_on(client, address), "cross-x": "200.8", "date": "2026-11-20"}
    found = client.post(f"{address}/kerf?write=1", data=values).json()
    assert found.get("again"), found
    assert "Scale measured on 2026-11-20: x 1.004" in client.get(address).text


# House settings and prices.


def test_the_steps_have_names_for_every_usual_one():
    from strapwright.job.spec.house import USUAL_MINUTES
    from strapwright.page.workshop.house import STEPS

    assert STEPS.keys() == USUAL_MINUTES.keys()


def test_every_key_of_the_house_is_a_field():
    from strapwright.job.spec.house import HouseFile
    from strapwright.page.workshop.house import house_form

    shown = {field.key for group in house_form({}).shown({}) for field in group.fields}
    assert "units" in shown
    for table in ("house", "price"):
        for key in HouseFile.model_fields[table].annotation.model_fields:  # type: ignore[union-attr]
            assert any(one.startswith(f"{table}.{key}") for one in shown), key
    assert HouseFile.model_fields.keys() == {"units", "house", "price"}


def test_settings_and_prices_are_changed_with_their_comments_and_undone(client: TestClient, folder: Path):
    path = folder / "house.toml"
    before = path.read_text("utf-8")
    page = client.get("/shop/house").text
    assert 'placeholder="30 %"' in page
    digest = digest_on(client, "/shop/house")
    values = {"digest": digest, "house.strap_clearance": "1.5", "price.hourly_rate": "34"}
    values |= {
        "price.minutes.hole": "0,4",
        "price.margin": "35 %",
        "price.waste": "27,5",
        "house.strain_caution": "45",
    }
    found = client.post("/shop/house?write=1", data=values).json()
    assert found["written"], found
    text = path.read_text("utf-8")
    assert 'strap_clearance = "1.5 mm"               # how much narrower' in text
    assert [one for one in before.splitlines() if one.startswith("#")] == [
        one for one in text.splitlines() if one.startswith("#")
    ]
    table = tomllib.loads(text)["price"]
    assert table == {"hourly_rate": 34, "margin": 0.35, "waste": 0.275, "minutes": {"hole": 0.4}}
    assert tomllib.loads(text)["house"]["strain_caution"] == 0.45
    page = client.get("/shop/house").text
    assert all(f'value="{share} %"' in page for share in ("35", "27.5", "45"))
    undo(client)
    assert path.read_text("utf-8") == before


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("house.strap_clearance", "9 mm", "expected 0 mm to 8 mm"),
        ("house.neutral_axis", "0.9", "expected 0.6 or less"),
        ("house.fold_play", "loose", "expected a length"),
        ("house.keeper_ease_width", "-1", "expected 0 mm to 10 mm"),
        ("house.keeper_ease_height", "1 m", "expected"),
        ("house.strain_caution", "much", "expected a number"),
        ("house.longest_tail", "1", "expected 60 mm to 600 mm"),
        ("price.currency", "E" * 9, "8 or fewer"),
        ("price.hourly_rate", "-3", "expected 0 or more"),
        ("price.machine_rate", "nan", "expected a number"),
        ("price.margin", "1200", "found 1200 %, expected 1000 % or less"),
        ("price.waste", "95 %", "found 95 %, expected 90 % or less"),
        ("price.sundries", "some", "expected a number"),
        ("price.minutes.hole", "999", "expected 600 or less"),
        ("price.minutes.finish", "long", "expected a number"),
    ],
)
def test_a_bad_setting_is_said_beside_its_field(
    client: TestClient, folder: Path, field: str, value: str, words: str
):
    before = (folder / "house.toml").read_bytes()
    values = {"digest": digest_on(client, "/shop/house"), field: value}
    found = client.post("/shop/house?write=1", data=values).json()
    assert words in found["mistakes"].get(field, ""), found["mistakes"]
    assert (folder / "house.toml").read_bytes() == before


def test_a_step_of_one_s_own_is_added_changed_and_left_out(client: TestClient, folder: Path):
    path = folder / "house.toml"
    before = path.read_bytes()
    for bad, where, words in (
        ({"name": "", "minutes": "3"}, "name", "1 to 40 printable characters"),
        ({"name": "hole", "minutes": "3"}, "name", "already"),
        ({"name": "fnish", "minutes": "3"}, "name", 'did you mean "finish"'),
        ({"name": "tooling", "minutes": ""}, "minutes", "missing"),
        ({"name": "tooling", "minutes": "long"}, "minutes", "expected a number"),
        ({"name": "tooling", "minutes": "601"}, "minutes", "expected 600 or less"),
    ):
        found = client.post("/shop/house/step?write=1", data=bad).json()
        assert words in found["mistakes"].get(where, ""), found
    assert path.read_bytes() == before
    assert client.post("/shop/house/step", data={"name": "", "minutes": ""}).json() == {"mistakes": {}}
    found = client.post("/shop/house/step?write=1", data={"name": "tooling no. 2", "minutes": "20"}).json()
    assert found["again"]
    assert tomllib.loads(path.read_text("utf-8"))["price"]["minutes"] == {"tooling no. 2": 20}
    assert 'name="price.minutes.tooling no. 2" value="20"' in client.get("/shop/house").text
    values = {"digest": digest_on(client, "/shop/house"), "price.minutes.tooling no. 2": "25"}
    assert client.post("/shop/house?write=1", data=values).json()["written"]
    assert tomllib.loads(path.read_text("utf-8"))["price"]["minutes"] == {"tooling no. 2": 25}
    values = {"digest": digest_on(client, "/shop/house"), "price.minutes.tooling no. 2": ""}
    assert client.post("/shop/house?write=1", data=values).json()["written"]
    assert "price" not in tomllib.loads(path.read_text("utf-8"))


def test_a_step_s_name_that_is_nearly_a_usual_one_is_said_at_that_step(client: TestClient, folder: Path):
    path = folder / "house.toml"
    path.write_text(path.read_text("utf-8") + "[price.minutes]\nfnish = 3\n", "utf-8")
    page = client.get("/shop/house").text
    assert "did you mean" in page.split('data-mistake="price.minutes.fnish"')[1].split("</p>")[0]


def test_a_house_file_changed_or_broken_elsewhere(client: TestClient, folder: Path):
    path = folder / "house.toml"
    good = path.read_text("utf-8")
    digest = digest_on(client, "/shop/house")
    theirs = good.replace('strap_clearance = "2 mm"', 'strap_clearance = "3 mm"')
    path.write_text(theirs, "utf-8")
    found = client.post("/shop/house?write=1", data={"digest": digest, "house.strap_clearance": "1"}).json()
    assert found["conflict"] == [["Strap narrower by", "3 mm", "1"]]
    assert path.read_text("utf-8") == theirs
    path.write_text(good.replace('"2 mm"', "2 mm"), "utf-8")
    assert '<p class="mistake">house.toml: line' in client.get("/shop").text
    page = client.get("/shop/house").text
    assert "mend these lines" in page
    digest = digest_on(client, "/shop/house")
    mended = client.post("/shop/file/house.toml", data={"digest": digest, "text": good})
    assert mended.headers["hx-redirect"] == "/shop/house"
    assert path.read_text("utf-8") == good


def test_a_shop_that_thinks_in_inches_types_and_reads_them(client: TestClient, folder: Path):
    values = {"digest": digest_on(client, "/shop/house"), "units": "in", "unit": "mm"}
    assert client.post("/shop/house?write=1", data=values).json()["written"]
    assert tomllib.loads((folder / "house.toml").read_text("utf-8"))["units"] == "in"
    assert "opening 1 25/32 in" in client.get("/shop").text
    house = client.get("/shop/house").text
    assert 'placeholder="280 mm"' not in house
    assert 'placeholder="11 1/32 in"' in house
    page = client.get("/shop/buckle/new").text
    assert 'name="unit" value="in"' in page
    assert "A bare number is inches" in page
    typed = MEASURED | {"opening": "1 3/4", "prong_spacing": "3/4", "bar_width": "1/4", "bar_height": "1/8"}
    typed |= {"prong_width": "5/32", "frame_depth": "1 1/2", "unit": "in", "called": "b"}
    assert client.post("/shop/buckle/new?write=1", data=typed).json().get("to")
    buckle = tomllib.loads((folder / "catalogue.toml").read_text("utf-8"))["buckle"]["b"]
    assert (buckle["opening"], buckle["prong_spacing"]) == ("1 3/4 in", "3/4 in")
    values = READ | {
        "digest": digest_on(client, "/shop/machine/laser.toml"),
        "strips": "3 55/64",
        "unit": "in",
    }
    drafted = client.post("/shop/machine/laser.toml/kerf", data=values).json()
    assert drafted["mistakes"] == {}
    assert drafted["summary"].startswith("Kerf 0.1972 mm in vegetable leather of 3.6 mm, cut at 12 mm/s")


def test_a_test_piece_has_the_files_of_the_command_line_in_one_download(
    client: TestClient, tmp_path: Path, folder: Path
):
    words = ["kerf", "coupon", "--machine", folder / "machines/laser.toml", "--material", "vegetable"]
    words += ["--thickness", "3.6mm", "--out", tmp_path / "piece"]
    assert CliRunner().invoke(command, [str(word) for word in words]).exit_code == 0
    asked = {"material": "vegetable", "thickness": "3.6", "units": "mm"}
    address = "/shop/machine/laser.toml/test-piece"
    assert 'id="test-piece" open' in client.get("/shop/machine/laser.toml?thickness=3.6").text
    shown = client.get(address, params=asked).text
    assert "Then record here what you measured." in shown
    assert "strapwright" not in shown
    found = client.get(f"{address}.zip", params=asked)
    with zipfile.ZipFile(io.BytesIO(found.content)) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    assert files == {path.name: path.read_bytes() for path in (tmp_path / "piece").iterdir()}


def test_a_test_piece_asks_for_the_risk_of_fumes_and_says_what_is_wrong_with_its_thickness(
    client: TestClient,
):
    address = "/shop/machine/laser.toml/test-piece"
    for typed, words in (("", "Confirm the risk first."), ("yes", "expected &#34;chrome&#34;")):
        shown = client.get(address, params={"material": "chrome", "fumes": typed}).text
        assert words in shown
        assert ".zip" not in shown
    asked = {"material": "chrome", "fumes": "chrome"}
    assert ".zip" in client.get(address, params=asked).text
    assert client.get(f"{address}.zip", params=asked).status_code == 200
    assert client.get(f"{address}.zip", params={"material": "chrome"}).status_code == 400
    assert "expected a thickness" in client.get(address, params={"thickness": "thick"}).text
