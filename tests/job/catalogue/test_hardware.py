from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, strategies as st

from strapwright.core.errors import FileProblems
from strapwright.core.findings import Severity
from strapwright.files.validate import validate
from strapwright.job.catalogue.file import CatalogueFile, shipped
from strapwright.job.findings.punches import HandHole, punch_findings
from strapwright.rules.punches import Punch, snap_to_punch, snap_to_slot_punch

INCHES = {"1/4 in": 6.35, "5/16 in": 7.9375, "3/8 in": 9.525, "1/2 in": 12.7}
ROUND_4 = Punch("no. 4", "round", 4.0, 4.0)
ROUND_5 = Punch("no. 5", "round", 5.0, 5.0)
SLOT = Punch("bag slot", "slot", 25.0, 5.0)
OVAL = Punch("oval 8", "oval", 8.0, 5.0)
TOOLS = {punch.name: punch for punch in (ROUND_4, ROUND_5, SLOT, OVAL)}


def test_the_shipped_posts_have_the_inch_sizes_and_metric_ones_from_under_5_to_12_mm() -> None:
    posts = shipped().screw_posts
    assert {name: post.length for name, post in posts.items() if name in INCHES} == INCHES
    metric = sorted(post.length for name, post in posts.items() if name not in INCHES)
    assert 4.0 < metric[0] < 5.0
    assert metric[-1] == 12.0
    for name, post in posts.items():
        assert post.name == name
        assert 4.5 <= post.barrel_diameter <= 5.5
        assert post.head_diameter > 1.5 * post.barrel_diameter


def test_the_shipped_rivets_leave_no_stack_of_a_belt_without_one() -> None:
    rivets = shipped().rivets.values()
    for tenths in range(30, 121):
        assert any(rivet.holds(tenths / 10) for rivet in rivets), tenths / 10
    assert not any(rivet.holds(2.9) for rivet in rivets)
    assert all(rivet.post_length is None or rivet.post_length > rivet.most_stack for rivet in rivets)


def test_the_shipped_leathers_come_in_the_tannages_and_tempers_the_warnings_speak_of() -> None:
    leathers = shipped().leathers.values()
    assert {leather.tannage for leather in leathers} >= {"vegetable", "chrome", "combination"}
    assert {leather.temper for leather in leathers} == {"soft", "medium", "firm"}
    for leather in leathers:
        assert 0 < leather.thickness[1] - leather.thickness[0] < 1.0


def test_the_shipped_punches_are_sizes_to_buy_and_not_owned() -> None:
    assert {punch.kind for punch in shipped().punches.values()} == {"round", "oval", "slot"}
    assert not shipped().owned_punches
    for name, punch in shipped().punches.items():
        assert name.endswith(punch.size)


SOUND: dict[str, dict[str, Any]] = {
    "screw_post": {"length": 6, "barrel_diameter": 5, "head_diameter": 10},
    "rivet": {"least_stack": 4, "most_stack": 6, "cap_diameter": 9, "hole": 3},
    "snap": {"least_stack": 3, "most_stack": 5, "cap_diameter": 15, "cap_hole": 5, "stud_hole": 4},
    "leather": {"thickness": ["8 oz", "9 oz"], "tannage": "vegetable"},
    "punch": {"diameter": 4},
}


def problems_of(kind: str, changes: dict[str, Any]) -> list[str]:
    entry = {key: value for key, value in {**SOUND[kind], **changes}.items() if value is not None}
    with pytest.raises(FileProblems) as caught:
        validate(CatalogueFile, {kind: {"x": entry}}, "c.toml")
    return list(caught.value.problems)


@pytest.mark.parametrize("kind", SOUND)
def test_a_sound_entry_of_each_kind_is_read(kind: str) -> None:
    assert set(getattr(validate(CatalogueFile, {kind: {"x": SOUND[kind]}}, "c.toml"), kind)) == {"x"}


@pytest.mark.parametrize(
    ("kind", "changes", "message"),
    [
        (
            "screw_post",
            {"head_diameter": 5},
            "screw_post.x: found head_diameter 5 mm, expected more than barrel_diameter, 5 mm",
        ),
        ("screw_post", {"length": 41}, "screw_post.x.length: found 41 (a bare number is millimetres), "),
        ("screw_post", {"length": "9 oz"}, 'screw_post.x.length: found "9 oz", '),
        ("rivet", {"most_stack": 3}, "rivet.x: found least_stack 4 mm, expected at most most_stack, 3 mm"),
        ("rivet", {"hole": 9}, "rivet.x: found cap_diameter 9 mm, expected more than hole, 9 mm"),
        ("rivet", {"hole": None}, "rivet.x.hole: missing, expected a length"),
        ("snap", {"cap_diameter": 4}, "snap.x: found cap_diameter 4 mm, expected more than cap_hole, 5 mm"),
        ("snap", {"least_stack": 6}, "snap.x: found least_stack 6 mm, expected at most most_stack, 5 mm"),
        (
            "leather",
            {"thickness": ["3.6 mm", "3.2 mm"]},
            "leather.x: found thickness from 3.6 mm to 3.2 mm, expected the thinner first",
        ),
        ("leather", {"thickness": 3.6}, "leather.x.thickness: found 3.6, expected a list"),
        (
            "leather",
            {"temper": "hard"},
            'leather.x.temper: found "hard", expected "soft", "medium" or "firm"',
        ),
        ("leather", {"price_per_m2": -1}, "leather.x.price_per_m2: found -1, expected 0 or more"),
        ("punch", {"diameter": None}, 'punch.x.diameter: missing, expected with kind = "round"'),
        ("punch", {"width": 3}, 'punch.x.width: found with kind = "round", which takes diameter'),
        ("punch", {"kind": "square"}, 'punch.x.kind: found "square", expected "round", "oval" or "slot"'),
        (
            "punch",
            {"kind": "oval", "diameter": None, "length": 5, "width": 5},
            "punch.x: found width 5 mm, expected less than its length, 5 mm",
        ),
    ],
)
def test_an_entry_that_cannot_be_is_one_line(kind: str, changes: dict[str, Any], message: str) -> None:
    (line,) = problems_of(kind, changes)
    assert line.startswith(f"c.toml: {message}")


@pytest.mark.parametrize(
    ("diameter", "name"),
    [(4.0, "no. 4"), (4.3, "no. 4"), (4.31, None), (4.69, None), (4.7, "no. 5"), (5.3, "no. 5"), (9.0, None)],
)
def test_a_hole_snaps_to_the_nearest_round_punch_within_the_tolerance(
    diameter: float, name: str | None
) -> None:
    punch = snap_to_punch(diameter, TOOLS.values())
    assert (punch.name if punch else None) == name


def test_of_two_punches_equally_near_the_larger_is_taken() -> None:
    assert (
        snap_to_punch(4.5, [ROUND_4, ROUND_5], 0.5) == snap_to_punch(4.5, [ROUND_5, ROUND_4], 0.5) == ROUND_5
    )


@given(
    st.floats(1, 12),
    st.lists(st.floats(1, 12), max_size=8),
    st.floats(0, 1),
)
def test_a_snap_is_never_further_off_than_the_tolerance_nor_than_any_other_punch(
    diameter: float, sizes: list[float], tolerance: float
) -> None:
    punches = [Punch(str(index), "round", size, size) for index, size in enumerate(sizes)]
    best = min((abs(size - diameter) for size in sizes), default=99.0)
    got = snap_to_punch(diameter, punches, tolerance)
    if got is None:
        assert best > tolerance
    else:
        assert abs(got.width - diameter) <= min(best + 1e-5, tolerance + 1e-8)


@pytest.mark.parametrize(
    ("length", "width", "name"),
    [
        (25.0, 5.0, "bag slot"),
        (23.0, 5.0, "bag slot"),
        (22.9, 5.0, None),
        (25.3, 5.3, "bag slot"),
        (25.4, 5.0, None),
        (25.0, 5.4, None),
        (8.0, 5.0, "oval 8"),
        (5.0, 5.0, None),
    ],
)
def test_a_slot_may_come_out_longer_but_hardly_shorter(length: float, width: float, name: str | None) -> None:
    punch = snap_to_slot_punch(length, width, TOOLS.values())
    assert (punch.name if punch else None) == name


HOLES = HandHole("adjusting holes", "holes.diameter", 4.8, 4.8)


def test_without_punches_of_ones_own_nothing_is_said() -> None:
    assert not [*punch_findings("ines", [HandHole("adjusting holes", "", 99.0, 99.0)], {})]


def test_a_hole_of_a_punchs_very_size_needs_no_word() -> None:
    holes = [HandHole("adjusting holes", "", 4.0, 4.0), HandHole("prong slots", "", 25.0, 5.0)]
    assert not [*punch_findings("ines", holes, TOOLS)]


def test_a_punch_that_is_near_is_named() -> None:
    (finding,) = punch_findings("ines", [HOLES], TOOLS)
    assert (finding.code, finding.severity, finding.subject) == ("punch-near", Severity.NOTE, "ines")
    assert finding.what == "The adjusting holes are 4.8 mm; your nearest punch, no. 5, makes 5 mm."
    assert finding.do == "By hand, use it; set holes.diameter to 5 mm to draw and cut it so."
    assert finding.numbers == {"wanted_mm": 4.8, "punch_mm": 5.0, "off_mm": pytest.approx(0.2)}


def test_a_hole_that_no_punch_makes_is_a_caution_with_the_nearest_and_what_to_do() -> None:
    (finding,) = punch_findings("ines", [HandHole("adjusting holes", "holes.diameter", 6.0, 6.0)], TOOLS)
    assert (finding.code, finding.severity) == ("no-punch", Severity.CAUTION)
    assert finding.what == (
        "You own no punch within 0.3 mm for the adjusting holes of 6 mm; "
        "the nearest round one, no. 5, is 5 mm."
    )
    assert finding.do.startswith("Set holes.diameter to a size you own, add the punch to your catalogue")


def test_a_slot_without_its_punch_can_be_ended_by_a_round_one() -> None:
    (finding,) = punch_findings("ines", [HandHole("prong slots", "", 32.0, 5.2)], TOOLS)
    assert (finding.code, finding.severity) == ("punch-ends", Severity.NOTE)
    assert "no. 5 (5 mm) rounds the ends" in finding.what
    assert "centres 27.0 mm apart" in finding.do


def test_a_slot_that_neither_slot_nor_round_punch_makes_is_a_caution() -> None:
    (finding,) = punch_findings("ines", [HandHole("prong slots", "", 32.0, 7.0)], {"bag slot": SLOT})
    assert finding.code == "no-punch"
    assert finding.what.endswith("none of yours is round.")
    assert finding.do.startswith("Add the punch to your catalogue")


def test_a_wider_tolerance_lets_more_punches_do() -> None:
    hole = HandHole("fastener holes", "fastener_holes.diameter", 4.5, 4.5)
    assert [f.code for f in punch_findings("ines", [hole], TOOLS)] == ["no-punch"]
    assert snap_to_punch(hole.width, tuple(TOOLS.values()), 0.6) == ROUND_5
