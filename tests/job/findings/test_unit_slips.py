"""Slips of unit: caught by what is made, with the unit that was likely meant; what is usual passes."""

from __future__ import annotations

from pathlib import Path

import pytest

from strapwright.files.validate import validate
from strapwright.job.catalogue.buckle import Buckle
from strapwright.job.catalogue.file import shipped
from strapwright.job.draft import draft
from strapwright.job.findings.unit_slips import _WINDOWS
from strapwright.job.spec.job import Job, read_job
from strapwright.job.spec.strap import Belt, StrapTable

BUCKLE = {"for_strap": "38 mm", "bar_diameter": "5 mm", "frame_depth": "38 mm"}
NARROW = {"for_strap": "20 mm", "bar_diameter": "4 mm", "frame_depth": "18 mm", "prong_width": "3 mm"}
EXAMPLES = Path(__file__).parents[3] / "examples"
STARTER = Path(__file__).parents[3] / "src" / "strapwright" / "starter"


def slips(belt=None, leather=None, **more):
    keys = {"id": "b", "size": {"girth": "95 cm"}, "buckle": BUCKLE} | (belt or {})
    data = {
        "leather": {"thickness": "3.6 mm", "tannage": "vegetable"} | (leather or {}),
        "belt": [keys],
    } | more
    return [one for one in draft(validate(Job, data, "job")).findings if one.code == "unit-slip"]


def test_what_is_usual_passes():
    assert slips() == []


JOBS = [EXAMPLES / f"{name}.toml" for name in ("one-belt", "autumn-batch", "strap-goods")]


@pytest.mark.parametrize("file", [*JOBS, STARTER / "jobs" / "first" / "job.toml"], ids=lambda path: path.stem)
def test_the_examples_pass(file):
    assert [one for one in draft(read_job(file)).findings if one.code == "unit-slip"] == []


@pytest.mark.parametrize("name", shipped().buckles)
def test_the_shipped_buckles_pass(name):
    assert slips({"buckle": name, "keeper": "none", "dee": None}) == []


@pytest.mark.parametrize(
    ("belt", "leather", "says"),
    [
        (
            {"size": {"girth": "38 cm"}},
            {},
            "size.girth is 38 cm (380 mm); usual for a belt are 500 to 1600 mm. Perhaps 38 in",
        ),
        ({"size": {"worn_to_hole": "20 cm"}}, {}, "size.worn_to_hole is 20 cm (200 mm)"),
        (
            {"size": {"girth": "95 in"}},
            {},
            "size.girth is 95 in (2413 mm); usual for a belt are 500 to 1600 mm. Perhaps 95 cm",
        ),
        (
            {"size": {"trousers": 58}},
            {},
            "size.trousers is 58; usual are 24 to 54 in; a continental 58 is about 42 in",
        ),
        (
            {},
            {"thickness": "9 mm"},
            "leather.thickness is 9 mm; usual for a belt are 1.5 to 7 mm. Perhaps 9 oz (3.572 mm)",
        ),
        (
            {},
            {"thickness": "3.6 oz"},
            "leather.thickness is 3.6 oz (1.429 mm); usual for a belt are 1.5 to 7 mm. Perhaps 3.6 mm",
        ),
        (
            {"buckle": BUCKLE | {"frame_depth": "4 mm"}},
            {},
            "buckle.frame_depth is 4 mm; usual for a belt are 12",
        ),
        ({"buckle": BUCKLE | {"bar_diameter": "1/2 in"}}, {}, "buckle.bar_diameter is 0.5 in (12.7 mm)"),
        ({"buckle": BUCKLE | {"prong_width": "0.4 in"}}, {}, "buckle.prong_width is 0.4 in (10.16 mm)"),
        (
            {"buckle": BUCKLE | {"for_strap": "4 in"}},
            {},
            "buckle.for_strap is 4 in (101.6 mm); usual for a belt are 12 to 85 mm. Perhaps 4 cm (40 mm)",
        ),
        (
            {"keeper": {"width": "2 in"}},
            {},
            "keeper.width is 2 in (50.8 mm); usual for a belt are 7 to 45 mm. Perhaps 2 cm (20 mm)",
        ),
        (
            {"keeper": {"thickness": "8 mm", "held": "slides"}},
            {},
            "keeper.thickness is 8 mm; usual for a belt are 0.8 to 6 mm. Perhaps 8 oz",
        ),
        (
            {"holes": {"spacing": "1 cm"}},
            {},
            "holes.spacing is 1 cm (10 mm); usual for a belt are 12 to 45 mm. Perhaps 1 in (25.4 mm)",
        ),
        (
            {"holes": {"last_to_tip": "4 cm"}},
            {},
            "holes.last_to_tip is 4 cm (40 mm); usual for a belt are 45 to 260 mm. Perhaps 4 in",
        ),
        ({"fastener_holes": {"stacks": ["2 cm", "21 mm"]}}, {}, "fastener_holes.stacks is 21 mm"),
        (
            {"turn_back": "9 in"},
            {},
            "turn_back is 9 in (228.6 mm); usual for a belt are 25 to 180 mm. Perhaps 9 cm",
        ),
    ],
)
def test_a_slip_is_named_with_what_was_likely_meant(belt, leather, says):
    found = slips(belt, leather)
    assert len(found) == 1, found
    assert found[0].what.startswith(says), found[0].what
    assert found[0].severity == "caution"


@pytest.mark.parametrize(
    "belt",
    [
        {"buckle": NARROW},
        {"buckle": BUCKLE, "dee": {"bar_diameter": "5 mm", "width": "40 mm"}},
    ],
    ids=["narrow strap", "with a dee"],
)
def test_a_collar_is_judged_as_one(belt):
    small = belt | {"holes": {"count": 5, "spacing": "10 mm"}, "keeper": {"width": "10 mm"}}
    assert slips(small | {"size": {"girth": "38 cm"}}) == []
    assert [
        one.what.split(";")[1] for one in slips(belt | {"size": {"girth": "38 cm"}, "holes": {"spacing": 42}})
    ] == [" usual for a collar are 8 to 35 mm."]


def test_lined_leather_may_be_thin_but_not_thicker_than_any():
    lined = {"lining": {"thickness": "1 mm"}}
    assert slips(lined, {"thickness": "1.2 mm"}) == []
    assert [one.numbers["meant_mm"] for one in slips(lined, {"thickness": "8 mm"})] == [3.175]


def test_a_wide_strap_of_small_girth_is_a_belt_that_slipped():
    assert [one.numbers["meant_mm"] for one in slips({"size": {"girth": "38 cm"}})] == [965.2]


@pytest.mark.parametrize(
    ("strap", "says"),
    [
        (
            {"width": "25 mm", "length": "42 mm"},
            "length is 42 mm; usual for a strap are 100 to 3500 mm. Perhaps 42 cm (420 mm)",
        ),
        ({"width": "4 in", "length": "1100 mm"}, "width is 4 in (101.6 mm)"),
        (
            {
                "width": 25,
                "length": 1100,
                "ends": [{"bar_diameter": "0.5 in", "turn_back": "6 cm"}, {"tip": "round"}],
            },
            "ends.bar_diameter is 0.5 in (12.7 mm); usual for a strap are 1.5 to 12 mm. Perhaps 0.5 cm",
        ),
    ],
)
def test_other_straps_are_judged_as_straps(strap, says):
    found = slips(strap=[{"id": "s"} | strap])
    assert [one.subject for one in found] == ["s"]
    assert found[0].what.startswith(says), found[0].what


def test_every_key_there_is_a_window_for_is_a_key_of_the_job():
    for key, windows in _WINDOWS.items():
        for made in windows:
            model = StrapTable if made == "strap" else Belt
            for name in key.split("."):
                if name == "buckle":
                    model = Buckle
                    continue
                field = model.model_fields[name]
                kinds = [field.annotation, *getattr(field.annotation, "__args__", ())]
                kinds += [arg for kind in kinds for arg in getattr(kind, "__args__", ())]
                model = next((kind for kind in kinds if hasattr(kind, "model_fields")), model)
