"""Belts and other straps on the page: bad input, findings beside their fields, workings, units."""

from __future__ import annotations

import html
import re
import shutil
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from strapwright.job.spec.job import surroundings_of
from strapwright.page.forms.form import buckle_names, form_of

if TYPE_CHECKING:
    from starlette.testclient import TestClient

EXAMPLES = Path(__file__).parents[2] / "examples"
BAD = {
    "text": "x" * 300,
    "length": "as long as it is broad",
    "lengths": "7 mm, wide",
    "count": "some",
    "number": "dear",
    "date": "tomorrow",
    "choice": "none-such",
    "words": "wide",
}
"""What no field of a kind takes."""

ALLOWED = {"marks.text": "№" * 9, "sizes": "big", "leather.of": "none-such", "sketch": "none.py"}
"""Bad values of fields that take other words than their kind says."""


def path_of(folder: Path, job: str = "first") -> Path:
    return folder / f"jobs/{job}/job.toml"


def form_for(client: TestClient, folder: Path, kind: str = "belt", index: int = 0, job: str = "first"):
    """The fields of a piece, and what a browser sends of them as they are shown."""
    path = path_of(folder, job)
    table = tomllib.loads(path.read_text("utf-8"))[kind][index]
    groups = form_of(kind, table, buckle_names(surroundings_of(path))).shown(table)
    fields = {one.key: one for group in groups for one in group.fields}
    values = {
        key: one.value or (one.default if one.choices else "")
        for key, one in fields.items()
        if one.kind != "yes" or one.value
    }
    digest = re.search(r'name="digest" value="(\w+)"', client.get(f"/job/{job}").text)
    assert digest
    return fields, values | {"digest": digest[1], "unit": "mm"}


@pytest.fixture
def goods(folder: Path) -> Path:
    (folder / "jobs/goods").mkdir()
    shutil.copy(EXAMPLES / "strap-goods.toml", path_of(folder, "goods"))
    return folder


@pytest.mark.parametrize(("kind", "index"), [("belt", 0), ("strap", 1)])
def test_bad_input_in_every_field_is_said_beside_it_and_nothing_is_written(
    client: TestClient, goods: Path, kind: str, index: int
):
    fields, values = form_for(client, goods, kind, index, "goods")
    before = path_of(goods, "goods").read_bytes()
    for key, field in fields.items():
        if field.kind == "yes" or key.endswith(".way"):
            continue
        opened = dict(values)
        for other, value in field.when:
            opened[other] = value.split("|")[-1]
            for above, chosen in fields[other].when:
                opened[above] = chosen.split("|")[-1]
        if key.startswith("buckle."):
            opened |= {"buckle.way": "measured"}
        if key == "sizes":
            opened |= {"size.way": "sizes"}
        opened[key] = ALLOWED.get(key, BAD[field.kind])
        answer = client.post(f"/job/goods/{kind}/{index}?write=1", data=opened)
        assert answer.status_code == 200, (key, answer.text)
        found = answer.json()
        assert not found["written"], key
        assert key in found["mistakes"], (key, opened[key], found["mistakes"])
        assert path_of(goods, "goods").read_bytes() == before


def test_a_short_name_that_another_belt_has_is_said_beside_it_and_not_written(
    client: TestClient, folder: Path
):
    said = 'found "tomasz" again, already the short name of another belt; expected its own'
    before = path_of(folder, "first").read_text("utf-8")
    _, values = form_for(client, folder)
    found = client.post("/job/first/belt/0?write=1", data=values | {"id": "tomasz"}).json()
    assert (found["mistakes"], found["written"]) == ({"id": said}, False)
    path_of(folder, "first").write_text(before.replace('id = "ines"', 'id = "tomasz"'), "utf-8")
    assert said in html.unescape(client.get("/job/first").text)
    assert f"1 to mend: tomasz, Short name: {said}" in html.unescape(client.get("/").text)


@pytest.mark.parametrize(
    ("written", "broken", "words"),
    [
        ("quantity = 1", "quantity = 0", "ines, How many: found 0, expected 1 or more"),
        ('"vegetable"', '"veg"', 'Tannage of the job\'s leather: found "veg", expected'),
        ('girth = "960 mm"', "", "ines, Sized by: found none, expected exactly one of “Fold to worn hole”"),
        ('frame_depth = "34', '# "34', "tomasz, Frame depth: missing, expected"),
    ],
)
def test_the_list_of_work_says_what_is_to_mend_in_the_words_of_the_sheet(
    client: TestClient, folder: Path, written: str, broken: str, words: str
):
    path = path_of(folder, "first")
    path.write_text(path.read_text("utf-8").replace(written, broken, 1), "utf-8")
    stage = re.search(r'class="mistake">([^<]*)<', html.unescape(client.get("/").text))
    assert stage
    assert re.match(rf"\d to mend: {re.escape(words)}", stage[1])
    assert not re.search(r"[a-z]_[a-z]|\w\[\d\]|\w\.\w", stage[1].partition(", expected")[0])


def test_a_finding_stands_beside_its_field_and_its_cure_is_written_and_undone(
    client: TestClient, folder: Path
):
    _, values = form_for(client, folder)
    values["holes.last_to_tip"] = "60"
    found = client.post("/job/first/belt/0?write=1", data=values).json()
    said = found["beside"]["holes.last_to_tip"]
    cure = re.search(r'data-cure="holes.last_to_tip" data-value="(\d+ mm)">use (\d+ mm)<', said)
    assert cure
    assert cure[1] == cure[2]
    assert "tip reaches" not in found["rest"]
    page = client.get("/job/first").text
    assert 'data-found="holes.last_to_tip"' in page
    assert page.count(f'data-value="{cure[1]}"') == 1
    values |= {"digest": found["digest"], "holes.last_to_tip": cure[1]}
    cured = client.post("/job/first/belt/0?write=1", data=values).json()
    assert "holes.last_to_tip" not in cured["beside"]
    assert f'last_to_tip = "{cure[1]}"' in path_of(folder).read_text("utf-8")
    client.post("/job/first/steps", data={"do": "undo"})
    assert 'last_to_tip = "60 mm"' in path_of(folder).read_text("utf-8")


def test_a_finding_of_no_field_stays_in_the_list(client: TestClient, folder: Path):
    path = path_of(folder)
    path.write_text(path.read_text("utf-8").replace('"vegetable"', '"combination"', 1), "utf-8")
    found = client.get("/job/first/belt/0").json()
    assert "combination tannage" in found["rest"]
    assert not any("combination tannage" in said for said in found["beside"].values())


def test_a_figure_shows_its_own_working_and_the_field_that_sets_it(client: TestClient, folder: Path):
    _, values = form_for(client, folder)
    drawn = client.get("/job/first").text
    for name in dict.fromkeys(re.findall(r'data-figure="([^"]+)"', drawn)):
        answer = client.post("/job/first/belt/0/working", data=values | {"figure": name, "title": name})
        assert answer.status_code == 200, name
        html = answer.json()["html"]
        assert "<tbody>" in html or "data-go=" in html, name
    asked = values | {"figure": "hole in use", "title": "fold to hole in use 945", "size.girth": "1020 mm"}
    html = client.post("/job/first/belt/0/working", data=asked).json()["html"]
    assert "1020.0" in html  # as typed, before it is written
    assert 'data-go="size.girth">Waist or girth: 1020 mm<' in html
    assert "prong slot" not in html
    assert client.post("/job/first/belt/0/working", data=values | {"figure": "none"}).status_code == 400


def test_figures_are_shown_in_inches_where_the_shop_wants_them(client: TestClient, folder: Path):
    before = (folder / "house.toml").read_text("utf-8")
    assert client.post("/units", data={"units": "ell"}).status_code == 400
    assert client.post("/units", data={"units": "in"}).status_code == 204
    assert tomllib.loads((folder / "house.toml").read_text("utf-8"))["units"] == "in"
    found = client.get("/job/first/belt/0").json()
    assert "strap 1 11/16 in wide" in found["summary"]
    assert "fold to hole in use 37 7/32" in found["drawing"]
    assert any(row[3] == "1 11/16 in" for row in found["working"])
    page = client.get("/job/first").text
    assert 'name="unit" value="in"' in page
    assert "= 37 25/32 in" in page
    _, values = form_for(client, folder)
    values |= {"unit": "in", "size.girth": "38 3/8", "holes.spacing": '1"'}
    assert client.post("/job/first/belt/0?write=1", data=values).json()["written"]
    belt = tomllib.loads(path_of(folder).read_text("utf-8"))["belt"][0]
    assert belt["size"]["girth"] == "38 3/8 in"
    assert belt["holes"]["spacing"] == '1"'
    client.post("/shop/steps", data={"do": "undo"})
    assert (folder / "house.toml").read_text("utf-8") == before


def test_straps_are_shown_changed_copied_and_removed_as_belts_are(client: TestClient, goods: Path):
    def ids() -> list[str]:
        return [one["id"] for one in tomllib.loads(path_of(goods, "goods").read_text("utf-8"))["strap"]]

    assert "Round a ring or hook" in client.get("/job/goods/strap/0/form").text
    _, values = form_for(client, goods, "strap", 1, "goods")
    changed = values | {"ends.1.way": "bar_diameter", "ends.1.bar_diameter": "4 mm", "holes.given": ""}
    found = client.post("/job/goods/strap/1?write=1", data=changed).json()
    assert found["written"], found["mistakes"]
    text = path_of(goods, "goods").read_text("utf-8")
    assert 'ends = [{ bar_diameter = "5 mm" }, {bar_diameter = "4 mm"}]' in text.replace(
        '{ bar_diameter = "4 mm" }', '{bar_diameter = "4 mm"}'
    )
    assert "# One end on a ring, sewn" in text
    for what, index, wanted in (
        ("copy", "0", ["satchel-strap", "flap-strap", "luggage-strap", "satchel-strap-2"]),
        ("remove", "1", ["satchel-strap", "luggage-strap", "satchel-strap-2"]),
        ("add", "", ["satchel-strap", "luggage-strap", "satchel-strap-2", "strap"]),
    ):
        answer = client.post("/job/goods/belts", data={"do": what, "kind": "strap", "index": index})
        assert answer.status_code == 204, answer.text
        assert ids() == wanted
    assert client.get("/job/goods/strap/3").json()["summary"].startswith("strap 25 mm wide")
    assert client.post("/job/goods/belts", data={"do": "add", "kind": "hat"}).status_code == 400


def test_the_last_piece_of_a_job_stays(client: TestClient, folder: Path):
    assert client.post("/job/first/belts", data={"do": "remove", "index": "1"}).status_code == 204
    answer = client.post("/job/first/belts", data={"do": "remove", "index": "0"})
    assert answer.status_code == 400
    assert "add another first" in answer.text


def test_house_and_catalogue_are_read_once_for_a_view(
    client: TestClient, folder: Path, monkeypatch: pytest.MonkeyPatch
):
    from strapwright.job.spec import job as module

    text = path_of(folder).read_text("utf-8")
    belt = '\n[[belt]]\nid = "more-{}"\nsize = {{ girth = "900 mm" }}\nbuckle = "single-40"\n'
    path_of(folder).write_text(text + "".join(belt.format(k) for k in range(20)), "utf-8")
    calls = []
    read = module.catalogue_for
    monkeypatch.setattr(module, "catalogue_for", lambda path, own=None: calls.append(path) or read(path, own))
    assert client.get("/job/first").text.count('<details class="belt"') == 22
    # once for the belts, and by what the other parts of the sheet draft
    assert len(calls) <= 3


def test_thirty_belts_of_a_table_with_mistakes_are_said_line_by_line(client: TestClient, folder: Path):
    lines = [f"{900 + 5 * k} mm;single-40;c{k}" for k in range(30)]
    good = "\n".join(["round;metal;who", *lines]) + "\n"
    lines[3], lines[20] = "wide;single-40;c3", "950 mm;none;c20"
    bad = "\n".join(["round;metal;who", *lines]) + "\n"
    keys = ["size.girth", "buckle", "id"]
    before = path_of(folder).read_bytes()
    wrong = client.post("/job/first/orders/add", json={"text": bad, "keys": keys}).json()["wrong"]
    assert [(one["line"], one["column"]) for one in wrong] == [(5, 0), (22, 1)]
    assert wrong[0]["cells"] == ["wide", "single-40", "c3"]
    assert path_of(folder).read_bytes() == before
    assert client.post("/job/first/orders/add", json={"text": good, "keys": keys}).json()["added"] == 30
    assert len(tomllib.loads(path_of(folder).read_text("utf-8"))["belt"]) == 32


def test_a_finding_of_the_job_s_leather_leads_to_its_field(client: TestClient, folder: Path):
    path = path_of(folder)
    path.write_text(
        path.read_text("utf-8").replace('tannage = "vegetable" ', 'tannage = "combination"'), "utf-8"
    )
    found = client.get("/job/first/belt/0").json()
    assert "combination tannage" in found["rest"]
    assert (
        '<button type="button" data-way="job-leather.tannage">Tannage of the job&#39;s leather</button>'
        in found["rest"]
    )
    assert 'id="job-leather.tannage"' in client.get("/job/first").text
    with path.open("a", encoding="utf-8") as file:
        file.write('\n[[belt]]\nid = "own"\nsize = { girth = "900 mm" }\nbuckle = "single-40"\n')
        file.write('leather = { thickness = "3.6 mm", tannage = "combination" }\n')
    own = client.get("/job/first/belt/2").json()
    assert "combination tannage" in own["beside"]["leather.tannage"]
    assert not any("data-way" in one and "tannage" in one for one in own["beside"].values())


def test_findings_name_fields_by_their_labels(client: TestClient, folder: Path):
    fields, values = form_for(client, folder)
    changed = values | {"holes.last_to_tip": "40 mm", "leather.given": "yes", "leather.thickness": "2 mm"}
    found = client.post("/job/first/belt/0", data=changed).json()
    said = " ".join(re.sub(r"<[^>]+>", " ", one) for one in (*found["beside"].values(), found["rest"]))
    assert "“Last hole to tip” is 4 cm (40 mm)" in said
    assert "choose dress in “Used for”" in said
    assert not [key for key in fields if "." in key and key in said]


def test_a_sheet_counts_belts_as_the_list_of_work_does(client: TestClient, folder: Path):
    path = path_of(folder)
    path.write_text(path.read_text("utf-8").replace("quantity = 1", "quantity = 3", 1), "utf-8")
    assert '<span class="result">4 belts</span>' in client.get("/job/first").text
    assert "4 belts" in client.get("/").text


def test_leathers_of_the_catalogue_are_chosen_not_typed(client: TestClient, folder: Path):
    names = surroundings_of(path_of(folder)).catalogue.leathers
    chosen = client.get("/job/first").text.split('name="leather.of"')[1].split("</select>")[0]
    assert names
    assert all(f'<option value="{name}">{name}</option>' in chosen for name in names)


def test_belts_of_a_table_without_short_names_get_some(client: TestClient, folder: Path):
    text = "Customer,Waist,Buckle\nInés Å,92 cm,single-40\nInés Å,94 cm,single-40\n,960,single-40\n"
    asked = {"text": text, "keys": ["name", "size.girth", "buckle"]}
    told = client.post("/job/first/orders/add", json=asked)
    assert told.json() == {"wrong": [], "added": 3, "show": "belt-2"}
    belts = tomllib.loads(path_of(folder).read_text("utf-8"))["belt"]
    assert [one["id"] for one in belts] == ["ines", "tomasz", "ines-a", "ines-a-2", "belt"]


@pytest.mark.parametrize(
    ("units", "head", "cell", "written"),
    [
        ("mm", "Waist in", "38", "38 in"),
        ("mm", "Waist (inches)", "38 1/2", "38 1/2 in"),
        ("mm", "waist_cm", "96,5", "96,5 cm"),
        ("mm", "Waist in", "960 mm", "960 mm"),
        ("mm", "Waist", "960", 960),
        ("in", "Waist", "38", "38 in"),
    ],
)
def test_a_length_of_a_table_has_the_unit_its_column_names_or_the_page_s(
    client: TestClient, folder: Path, units: str, head: str, cell: str, written: object
):
    client.post("/units", data={"units": units})
    text = f"Order;{head};Buckle\nx1;{cell};single-40\n"
    found = client.post("/job/first/orders/read", json={"text": text}).json()
    assert found["keys"] == ["id", "size.girth", "buckle"]
    asked = {"text": text, "keys": found["keys"]}
    assert client.post("/job/first/orders/add", json=asked).json()["wrong"] == []
    belt = tomllib.loads(path_of(folder).read_text("utf-8"))["belt"][-1]
    assert belt["size"] == {"girth": written}


@pytest.mark.parametrize(
    ("belt", "typed", "field", "words"),
    [
        (
            0,
            {"size.way": "worn_to_hole"},
            "size.worn_to_hole",
            "missing, expected the size as you measured it",
        ),
        (0, {"size.way": "sizes"}, "sizes", "missing, expected a run of sizes, such as 30-46/2"),
        (1, {"buckle.bar_diameter": ""}, "buckle.way", "exactly one of “Bar diameter” and “"),
        (1, {"buckle.for_strap": "38"}, "buckle.way", "found both “Opening” and “"),
        (1, {"buckle.prongs": "2"}, "buckle.prong_spacing", "missing, expected with “"),
    ],
)
def test_a_mistake_names_the_page_s_fields(
    client: TestClient, folder: Path, belt: int, typed: dict[str, str], field: str, words: str
):
    _, values = form_for(client, folder, index=belt)
    told = client.post(f"/job/first/belt/{belt}", data=values | typed).json()["mistakes"]
    assert words in told[field]
    assert not re.search(r"[a-z]_[a-z]|\\{", told[field])


def test_what_is_new_stands_open(client: TestClient):
    for what, kind, own in (
        ("add", "belt", "belt-2"),
        ("copy", "belt", "belt-3"),
        ("add", "strap", "strap-0"),
    ):
        data = {"do": what, "kind": kind, "index": "0"}
        to = client.post("/job/first/belts", data=data).headers["hx-redirect"]
        assert to == f"/job/first?show={own}"
        page = client.get(to).text
        assert f'id="{own}" open data-come=""' in page
    assert 'data-come="my-double-62"' in client.get("/job/first?show=belt-1&buckle=my-double-62").text
    assert "data-come" not in client.get("/job/first").text
    data = {"do": "remove", "kind": "belt", "index": "3"}
    assert client.post("/job/first/belts", data=data).headers["hx-refresh"] == "true"


def test_a_buckle_measured_a_moment_ago_is_chosen_for_a_new_job(client: TestClient):
    assert 'value="single-20" checked' in client.get("/new?buckle=single-20").text


def test_a_buckle_measured_in_part_is_not_drawn(client: TestClient):
    typed = {"opening": "62", "bar_diameter": "6", "frame_depth": "45", "prongs": "2"}
    part = client.post("/shop/buckle/new", data=typed).json()
    assert "drawn here" in part["drawing"]
    assert part["usual_name"] == ""
    assert (
        client.post("/shop/buckle/new", data=typed | {"prong_spacing": "28"}).json()["usual_name"]
        == "my-double-62"
    )


def test_a_job_with_drawn_shapes_is_shown_and_changed_and_keeps_them(client: TestClient, folder: Path):
    shutil.copytree(EXAMPLES / "shapes", folder / "jobs/drawn")
    (folder / "jobs/drawn/belt.toml").rename(path_of(folder, "drawn"))
    (folder / "jobs/drawn/gallery.toml").unlink()
    before = tomllib.loads(path_of(folder, "drawn").read_text("utf-8"))["belt"][0]
    assert client.get("/job/drawn").status_code == 200
    found = client.get("/job/drawn/belt/0").json()
    assert "strap 38 mm wide" in found["summary"]
    _, values = form_for(client, folder, job="drawn")
    found = client.post("/job/drawn/belt/0?write=1", data=values | {"quantity": "3"}).json()
    assert found["written"], found["mistakes"]
    after = tomllib.loads(path_of(folder, "drawn").read_text("utf-8"))["belt"][0]
    assert after == before | {"quantity": 3}
