"""A form shows what stands in the file, and changes only what was changed in it."""

from __future__ import annotations

import tomllib
from datetime import date
from importlib import resources

import pytest

from strapwright.job.spec.strap import Belt
from strapwright.page.sheet.form import about_form, belt_form
from strapwright.page.sheet.job_file import with_edits

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
    assert known - shown == {"hole_in_use"}


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
