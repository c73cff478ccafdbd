"""A form shows what stands in the file, and changes only what was changed in it."""

from __future__ import annotations

import tomllib
from datetime import date
from importlib import resources
from pathlib import Path

import pytest

from strapwright.job.spec.strap import Belt, StrapTable
from strapwright.page.forms.form import about_form, belt_form, place_of, strap_form
from strapwright.page.forms.toml_text import text_with_edits, with_edits

STARTER = tomllib.loads((resources.files("strapwright") / "starter/jobs/first/job.toml").read_text("utf-8"))
BUCKLES = ("house-45", "single-40")
FORM = belt_form(BUCKLES)


def posted(belt: dict, **changes: str) -> dict[str, str]:
    """What a browser sends of a form as it is shown, with some fields changed; ticks not set are not sent."""
    fields = {
        field.key: field.value
        for group in FORM.shown(belt)
        for field in group.fields
        if field.kind != "yes" or field.value
    }
    return {key: value for key, value in (fields | changes).items() if value is not None}


@pytest.mark.parametrize("index", [0, 1])
def test_a_form_sent_as_it_is_shown_changes_nothing(index):
    belt = STARTER["belt"][index]
    assert FORM.edits(belt, posted(belt), ("belt", index)) == {}
    usual = {one.key: one.default for group in FORM.shown(belt) for one in group.fields if one.choices}
    picked = {key: value or usual.get(key, "") for key, value in posted(belt).items()}
    assert FORM.edits(belt, picked, ("belt", index)) == {}


def test_every_key_of_a_belt_has_a_field_or_is_left_out_on_purpose():
    shown = {field.key.split(".")[0] for group in FORM.shown({}) for field in group.fields}
    known = {info.alias or name for name, info in Belt.model_fields.items()}
    assert known - shown == {"hole_in_use", "hole", "ornament"}


@pytest.mark.parametrize(
    ("changes", "table"),
    [
        ({"size.girth": "102 cm"}, {"size": {"girth": "102 cm"}}),
        ({"size.girth": "102"}, {"size": {"girth": "102 mm"}}),
        ({"size.way": "trousers", "size.trousers": "36"}, {"size": {"trousers": 36}}),
        ({"size.way": "trousers", "size.trousers": "36,5"}, {"size": {"trousers": 36.5}}),
        ({"tip.shape": "round"}, {"tip": "round"}),
        ({"tip.shape": ""}, {"tip": None}),
        ({"tip.length": "50"}, {"tip": {"shape": "english_point", "length": "50 mm"}}),
        ({"keeper.given": None}, {"keeper": "none"}),
        ({"keeper.width": ""}, {"keeper": {"join": "butt"}}),
        (
            {"keeper.join": "lap", "keeper.lap": "2 cm"},
            {"keeper": {"width": "20 mm", "join": "lap", "lap": "2 cm"}},
        ),
        ({"holes.count": "5"}, {"holes": {"count": 5, "spacing": "25 mm"}}),
        ({"holes.count": "five"}, {"holes": {"count": "five", "spacing": "25 mm"}}),
        ({"quantity": "4"}, {"quantity": 4}),
        ({"due": "2027-02-01"}, {"due": date(2027, 2, 1)}),
        (
            {"fastener": "stitched", "stitch.given": "yes", "stitch.iron": "7"},
            {"fastener": "stitched", "stitch": {"iron": 7}},
        ),
        ({"lining.given": "yes", "lining.thickness": "1.5"}, {"lining": {"thickness": "1.5 mm"}}),
        ({"size.way": "sizes", "sizes": "30-46/2"}, {"size": None, "sizes": "30-46/2"}),
    ],
)  # fmt: skip
def test_what_is_changed_in_a_form_is_what_changes_in_the_table(changes, table):
    belt = STARTER["belt"][0]
    new = with_edits(STARTER, FORM.edits(belt, posted(belt, **changes), ("belt", 0)))["belt"][0]
    assert new == {key: value for key, value in (belt | table).items() if value is not None}


def test_a_buckle_measured_now_takes_the_place_of_a_name_and_a_name_that_of_measures():
    belt, measured = STARTER["belt"]
    changes = {"buckle.way": "measured", "buckle.opening": "40", "buckle.frame_depth": "3 cm"}
    new = with_edits(STARTER, FORM.edits(belt, posted(belt, **changes), ("belt", 0)))["belt"][0]
    assert new["buckle"] == {"opening": "40 mm", "frame_depth": "3 cm"}
    changes = {"buckle.way": "name", "buckle": "house-45"}
    new = with_edits(STARTER, FORM.edits(measured, posted(measured, **changes), ("belt", 1)))["belt"][1]
    assert new["buckle"] == "house-45"


def test_a_length_without_a_unit_is_of_the_page_s_own():
    belt = STARTER["belt"][0]
    edits = FORM.edits(belt, posted(belt, **{"size.girth": "38 1/2"}), ("belt", 0), "in")
    assert edits == {("belt", 0, "size", "girth"): "38 1/2 in"}


def test_the_job_s_own_form_reads_and_writes_its_leather():
    form = about_form()
    values = {field.key: field.value for group in form.shown(STARTER) for field in group.fields}
    assert values["leather.thickness"] == "9 oz"
    assert values["layout.gap"] == "2 mm"
    assert form.edits(STARTER, values | {"leather.thickness": "4"}, ()) == {("leather", "thickness"): "4 mm"}


GOODS = tomllib.loads((Path(__file__).parents[3] / "examples/strap-goods.toml").read_text("utf-8"))
STRAPS = strap_form()
RING, FLAT = {"bar_diameter": "5 mm"}, {"bar_section": ["6 mm", "2 mm"]}
LONG_TIP = {"shape": "english_point", "length": "30 mm"}


def sent(form, table: dict, **changes: str | None) -> dict[str, str]:
    fields = {
        one.key: one.value or (one.default if one.choices else "")
        for group in form.shown(table)
        for one in group.fields
        if one.kind != "yes" or one.value
    }
    return {key: value for key, value in (fields | changes).items() if value is not None}


@pytest.mark.parametrize("index", [0, 1, 2])
def test_a_strap_s_form_sent_as_it_is_shown_changes_nothing(index):
    strap = GOODS["strap"][index]
    assert STRAPS.edits(strap, sent(STRAPS, strap), ("strap", index)) == {}


def test_every_key_of_a_strap_has_a_field_or_is_left_out_on_purpose():
    shown = {field.key.split(".")[0] for group in STRAPS.shown({}) for field in group.fields}
    known = {info.alias or name for name, info in StrapTable.model_fields.items()}
    assert known - shown == {"sketch", "drawing", "turn_step"}


@pytest.mark.parametrize(
    ("strap", "changes", "table"),
    [
        (0, {"length": "900"}, {"length": "900 mm"}),
        (0, {"ends.1.bar_diameter": "4"}, {"ends": [RING, {"bar_diameter": "4 mm"}]}),
        (0, {"ends.1.way": "tip", "ends.1.tip.shape": ""}, {"ends": [RING, {"tip": "english_point"}]}),
        (0, {"ends.0.way": "bar_section", "ends.0.bar_section": "6, 2"}, {"ends": [FLAT, RING]}),
        (1, {"ends.1.tip.shape": "round"}, {"ends": [RING, {"tip": "round"}]}),
        (1, {"ends.1.tip.length": "30"}, {"ends": [RING, {"tip": LONG_TIP}]}),
        (1, {"holes.given": None}, {"holes": None}),
        (2, {"ends.0.way": "bar_diameter", "ends.0.bar_diameter": "5"}, {"ends": [RING, {"tip": "round"}]}),
    ],
)  # fmt: skip
def test_what_is_changed_in_a_strap_s_form_is_what_changes_in_its_table(strap, changes, table):
    before = GOODS["strap"][strap]
    edits = STRAPS.edits(before, sent(STRAPS, before, **changes), ("strap", strap))
    new = with_edits(GOODS, edits)["strap"][strap]
    assert new == {key: value for key, value in (before | table).items() if value is not None}
    text = (Path(__file__).parents[3] / "examples/strap-goods.toml").read_text("utf-8")
    assert tomllib.loads(text_with_edits(text, edits))["strap"][strap] == new


def test_a_strap_that_says_nothing_of_its_ends_gets_both_once_one_is_changed():
    bare = {"id": "tie", "width": "20 mm", "length": "300 mm"}
    assert STRAPS.edits(bare, sent(STRAPS, bare), ("strap", 0)) == {}
    edits = STRAPS.edits(bare, sent(STRAPS, bare, **{"ends.1.tip.shape": "round"}), ("strap", 0))
    assert edits == {("strap", 0, "ends"): [{"tip": "square"}, {"tip": "round"}]}


def test_a_strap_drawn_by_a_program_has_no_measures():
    fields = {one.key for group in strap_form(sketch=True).shown({}) for one in group.fields}
    assert {"id", "quantity", "face_up"} <= fields
    assert not fields & {"width", "length", "ends.0.way", "holes.given"}


def test_a_length_in_other_units_is_said_in_the_page_s_own_too():
    groups = FORM.shown({"size": {"girth": "960 mm"}}, "in")
    (girth,) = (one for group in groups for one in group.fields if one.key == "size.girth")
    assert (girth.value, girth.also) == ("960 mm", "37 25/32 in")
    assert "in" in girth.help
    (spacing,) = (one for group in groups for one in group.fields if one.key == "holes.spacing")
    assert spacing.default == "31/32 in"
    (girth,) = (
        one
        for group in FORM.shown({"size": {"girth": '1 3/8"'}})
        for one in group.fields
        if one.key == "size.girth"
    )
    assert (girth.value, girth.also) == ('1 3/8"', "34.92 mm")


def test_a_finding_s_place_is_the_first_of_its_keys_that_is_shown():
    belt = STARTER["belt"][0]

    def place(*keys: str, posted: dict[str, str] | None = None, **more: object) -> str:
        found = place_of(keys, FORM.visible(belt | more, posted))
        return found.key if found else ""

    assert place("leather.thickness", "use") == "use"
    assert place("leather.thickness", "use", leather={}) == "leather.thickness"
    assert place("keeper") == "keeper.given"
    assert place("buckle") == "buckle"
    assert place("buckle", buckle={"opening": 40}) == "buckle.way"
    assert place("size.trousers", posted={"size.way": "trousers"}) == "size.trousers"
    assert place("house.longest_tail") == ""
