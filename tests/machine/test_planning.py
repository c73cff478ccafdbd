"""Planning: safe, compensated, on the bed, in order; or refused by name."""

from __future__ import annotations

import dataclasses
import itertools
import math

import numpy as np
import pytest
from tests.machine.layouts import hide, keeper, knife, laser, layout, plate, small_layout, strap

from strapwright.core.errors import PlanError, SafetyError
from strapwright.core.findings import Severity
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import stadium
from strapwright.machine.planning import check_parts, plan
from strapwright.machine.profile.machine import machine_from, read_machine
from strapwright.nesting.layout.types import Clearance
from strapwright.parts.part import Feature, Operation
from strapwright.rules.leather import Tannage
from strapwright.write.formats.header import kerf_words


def test_every_feature_of_every_part_is_on_the_plan_once():
    made = plan(small_layout(), laser())
    paths = made.sheets[0].paths
    assert len(made.sheets) == 1
    for placed in small_layout().placed:
        part = placed.part
        mine = [path for path in paths if path.part_id == part.id]
        punched = [f for f in part.features if f.operation is Operation.PUNCH]
        assert len(mine) == 1 + len(part.features) + len(punched)  # a mark is two lines
        assert mine[-1].name == "outline"


def test_outlines_lie_half_a_kerf_outside_and_holes_inside_where_the_part_was_placed():
    made = plan(small_layout(), laser())
    assert made.kerf == pytest.approx(0.224)
    for placed in small_layout().placed:
        outline = placed.placement.apply(placed.part.outline)
        [path] = [p for p in made.sheets[0].paths if p.part_id == placed.part.id and p.name == "outline"]
        assert np.abs(outline.distance_to(path.contour.sample()) - 0.112).max() < 1e-6
        assert path.contour.area > outline.area


def test_a_round_hole_is_cut_by_the_kerf_measured_on_one_and_a_slot_by_that_of_the_cut():
    machine = laser()
    rows = tuple(row.model_copy(update={"hole_width": 0.5}) for row in machine.kerf)
    parts = layout(
        (
            plate(
                Feature("hole", Operation.CUT, Contour.circle(30, 15, 8)),
            ),
            100,
            100,
            0,
        )
    )
    made = plan(parts, machine.model_copy(update={"kerf": rows}), accept_fume_risk=True)
    [hole] = [path for path in made.sheets[0].paths if path.name == "hole"]
    assert hole.contour.as_circle()[2] == pytest.approx(8 - 0.5)
    [used] = made.kerfs
    assert (used.width, used.holes) == (pytest.approx(made.kerf), 0.5)
    assert "and 0.5 mm at round holes" in kerf_words(made)


def test_scores_and_punches_are_never_compensated():
    made = plan(layout((strap(), 100, 100, 0)), laser(), kerf=1.0)
    [fold] = [p for p in made.sheets[0].paths if p.name == "fold line"]
    assert fold.contour.vertices.tolist() == [[100, 83, 0], [100, 117, 0]]
    marks = [p for p in made.sheets[0].paths if p.operation is Operation.PUNCH]
    assert {p.diameter for p in marks} == {4.5}
    assert {p.operation for p in marks} == {"punch"}
    assert [p.contour.length for p in marks] == pytest.approx([2.0] * 8)


def test_a_centre_mark_never_outgrows_its_hole():
    made = plan(layout((strap(rivets=1.5), 100, 100, 0)), laser())
    marks = [p for p in made.sheets[0].paths if p.operation is Operation.PUNCH]
    assert [p.contour.length for p in marks] == pytest.approx([1.2] * 8)


def test_a_hole_smaller_than_the_kerf_becomes_a_punch_mark_with_its_finished_diameter():
    made = plan(layout((strap(holes=0.4), 100, 100, 0)), laser(), kerf=0.5)
    marks = [p for p in made.sheets[0].paths if p.name == "adjusting hole"]
    assert [p.operation for p in marks] == [Operation.PUNCH] * 6
    assert [p.diameter for p in marks] == pytest.approx([0.4] * 6)
    [found] = [f for f in made.findings if f.code == "hole-to-punch"]
    assert found.severity is Severity.CAUTION
    assert found.what == (
        "3 × adjusting hole of 0.4 mm: 'test laser' makes round holes from 0.5 mm in this leather, so only "
        "the centres are marked."
    )
    assert found.do == "Punch them by hand, 0.4 mm."
    assert found.subject == "ada/strap"
    assert found.numbers["count"] == 3


def test_holes_to_punch_are_told_once_for_all_parts():
    two = layout((strap("a", holes=0.4), 100, 100, 0), (strap("b", holes=0.4), 100, 200, 0))
    found = [f for f in plan(two, laser(), kerf=0.5).findings if f.code == "hole-to-punch"]
    assert len(found) == 1
    assert found[0].what.startswith("6 × adjusting hole (a/strap 3, b/strap 3) of 0.4 mm: ")
    assert found[0].subject == ""


def test_a_hole_smaller_than_the_tools_least_becomes_a_punch_mark():
    made = plan(layout((strap(holes=5.0), 100, 100, 0)), laser(least_hole=5.5))
    assert {p.operation for p in made.sheets[0].paths if p.name == "adjusting hole"} == {Operation.PUNCH}
    kept = plan(layout((strap(holes=5.0), 100, 100, 0)), laser(least_hole=5.0))
    assert {p.operation for p in kept.sheets[0].paths if p.name == "adjusting hole"} == {Operation.CUT}
    assert [f.code for f in kept.findings] == ["hide-not-touched", "hide-past-bed"]


def test_a_blade_punches_what_it_cannot_turn_in_and_needs_no_kerf():
    made = plan(layout((strap(holes=2.9), 100, 100, 0)), knife())
    assert made.kerf == 0.0
    assert {p.operation for p in made.sheets[0].paths if p.name == "adjusting hole"} == {Operation.PUNCH}
    [outline] = [p for p in made.sheets[0].paths if p.name == "outline"]
    assert outline.contour.area == pytest.approx(strap().outline.area)


def test_slots_too_narrow_are_refused_together_by_name():
    narrow = Feature("prong slot", Operation.CUT, stadium(50, 20, 20, 0.3))
    other = Feature("keeper slot", Operation.CUT, stadium(50, 40, 20, 0.2))
    with pytest.raises(PlanError) as caught:
        plan(layout((plate(narrow, other), 10, 10, 0)), laser(), kerf=0.4)
    lines = str(caught.value).splitlines()
    assert [line.split(": a kerf")[0] for line in lines] == [
        "odd/strap: prong slot",
        "odd/strap: keeper slot",
    ]


def test_a_slot_tighter_than_the_blade_is_refused_by_name():
    narrow = Feature("prong slot", Operation.CUT, stadium(50, 30, 20, 2))
    with pytest.raises(PlanError) as caught:
        plan(layout((plate(narrow), 10, 10, 0)), knife())
    assert str(caught.value) == (
        "odd/strap: prong slot: its tightest curve has a radius of 1.00 mm; the blade of 'test knife' "
        "follows 1.5 mm and more; give it a wider curve, or cut it by laser or by hand"
    )


def test_a_punch_that_is_not_round_keeps_its_outline_to_lay_the_punch_on():
    oblong = Feature("oblong punch", Operation.PUNCH, stadium(50, 30, 20, 5))
    made = plan(layout((plate(oblong), 10, 10, 0)), laser())
    [path] = [p for p in made.sheets[0].paths if p.name == "oblong punch"]
    assert path.operation == "punch"
    assert path.diameter is None
    assert path.contour.closed


def test_parts_longer_than_the_bed_are_refused_together_by_id():
    long = layout(
        (strap("long-1", length=1310), 100, 100, 0),
        (keeper("long-1"), 20, 20, 0),
        (strap("long-2", length=1200), 100, 200, 0),
    )
    with pytest.raises(PlanError) as caught:
        plan(long, read_machine("closed-laser"), kerf=0.2)
    assert str(caught.value).splitlines() == [
        (
            "long-1/strap needs 1310.2 mm along x; the bed of 'closed laser' is 480 mm along x; use a "
            "machine with a larger bed"
        ),
        (
            "long-2/strap needs 1200.2 mm along x; the bed of 'closed laser' is 480 mm along x; use a "
            "machine with a larger bed"
        ),
    ]


def test_a_part_that_would_fit_but_lies_off_the_bed_is_refused_with_where_it_lies():
    with pytest.raises(PlanError) as caught:
        plan(layout((keeper(), 950, 30, 0), (keeper("bo"), 30, -40, 0)), laser(), kerf=0.2)
    assert str(caught.value).splitlines() == [
        (
            "ada/keeper would leave the bed of 'test laser' by 54.1 mm at the right; the bed is 1000 mm "
            "along x; move the hide or use a larger bed"
        ),
        (
            "bo/keeper would leave the bed of 'test laser' by 50.1 mm at the front; the bed is 600 mm along "
            "y; move the hide or use a larger bed"
        ),
    ]


def test_the_cut_itself_must_stay_on_the_bed():
    touching = layout((keeper(), 0, 10, 0))
    plan(touching, knife())
    with pytest.raises(PlanError, match=r"by 0\.1 mm at the left"):
        plan(touching, laser(), kerf=0.2)


def test_a_tenth_of_a_millimetre_decides_whether_a_bed_is_long_enough():
    lay = layout((keeper(), 0.1, 50, 0))  # 104 mm, and half a kerf at either end
    plan(lay, laser(bed=[104.2, 200]), kerf=0.2)
    with pytest.raises(PlanError, match=r"needs 104\.2 mm along x; the bed of 'test laser' is 104\.1 mm"):
        plan(lay, laser(bed=[104.1, 200]), kerf=0.2)


def test_the_kerf_is_that_of_each_parts_leather():
    made = plan(
        layout((keeper("a", thickness=2.0), 50, 50, 0), (keeper("b", thickness=4.0), 50, 90, 0)), laser()
    )
    areas = {p.part_id: p.contour.area for p in made.sheets[0].paths if p.name == "outline"}
    for part, kerf in (("a/keeper", 0.16), ("b/keeper", 0.24)):
        assert areas[part] == pytest.approx(104 * 20 + 248 * kerf / 2 + math.pi * (kerf / 2) ** 2)
    assert made.kerf == pytest.approx(0.24)
    assert [(k.thickness, round(k.width, 9)) for k in made.kerfs] == [(2.0, 0.16), (4.0, 0.24)]


def test_leathers_never_measured_are_told_together():
    mixed = layout(
        (keeper("a", thickness=6.0), 50, 50, 0),
        (keeper("b", tannage=Tannage.CHROME), 50, 90, 0),
    )
    with pytest.raises(PlanError) as caught:
        plan(mixed, laser(), accept_fume_risk=True)
    assert len(str(caught.value).splitlines()) == 2


def test_leather_too_thick_for_the_blade_is_refused_by_part():
    thick = layout((strap("a", thickness=4.4), 100, 50, 0), (keeper("b"), 50, 150, 0))
    with pytest.raises(PlanError) as caught:
        plan(thick, knife())
    assert str(caught.value) == (
        "a/strap is 4.40 mm thick; the blade of 'test knife' goes through 4 mm; use thinner leather or "
        "another machine"
    )
    plan(layout((keeper("c", thickness=4.0), 50, 50, 0)), knife())


def test_a_layout_too_close_for_the_kerf_is_refused():
    close = layout((keeper(), 50, 50, 0), clearance=Clearance(gap=0.1, margin=2.0))
    with pytest.raises(PlanError) as caught:
        plan(close, laser(), kerf=0.3)
    assert str(caught.value) == (
        "the layout keeps 0.1 mm between parts; a kerf of 0.3 mm needs 0.3 mm; nest again for this machine"
    )
    with pytest.raises(PlanError, match="at the hide's edge and flaws"):
        plan(layout((keeper(), 50, 50, 0), clearance=Clearance(margin=0.1)), laser(), kerf=0.3)


def test_fumes_are_looked_at_before_anything_else():
    # No kerf is known for this leather and it lies off the bed: the fumes come first.
    bad = layout((strap(tannage=Tannage.SYNTHETIC, length=3000), 100, 50, 0))
    with pytest.raises(SafetyError):
        plan(bad, laser(), accept_fume_risk=True)
    with pytest.raises(SafetyError, match="--accept-fume-risk"):
        plan(layout((keeper(tannage=Tannage.UNKNOWN), 50, 50, 0)), laser(), kerf=0.2)


def test_an_accepted_risk_of_fumes_stays_on_the_plan():
    doubtful = layout((keeper(tannage=Tannage.CHROME), 50, 50, 0), hides=(hide(length=900, height=500),))
    made = plan(doubtful, laser(), kerf=0.2, accept_fume_risk=True)
    assert [found.code for found in made.findings] == ["fume-risk-accepted", "hide-not-touched"]
    assert [found.code for found in plan(doubtful, knife()).findings] == ["hide-not-touched"]


def test_nothing_placed_is_nothing_to_cut():
    with pytest.raises(PlanError, match="nothing to cut"):
        plan(layout(), laser())


def test_each_hide_with_parts_has_a_sheet_of_its_own():
    hides = (hide("one", 900, 500), hide("two", 900, 500), hide("three", 900, 500))
    first = layout((keeper("a"), 50, 50, 0), hides=hides, on="three")
    second = layout((keeper("b"), 50, 50, 0), (strap("b"), 200, 100, 0), hides=hides)
    both = dataclasses.replace(first, placed=first.placed + second.placed)
    made = plan(both, laser(), job_name="two hides")
    assert [(s.name, s.hide, len({p.part_id for p in s.paths})) for s in made.sheets] == [
        ("one", "one", 2),
        ("three", "three", 1),
    ]
    assert [(s.width, s.height) for s in made.sheets] == [(1000, 600)] * 2


def test_a_hide_that_sticks_out_past_the_bed_is_noted():
    made = plan(layout((keeper(), 50, 50, 0)), laser())
    [found] = [one for one in made.findings if one.code != "hide-not-touched"]
    assert found.code == "hide-past-bed"
    assert found.severity is Severity.NOTE


def test_planning_twice_gives_the_same_plan():
    one, two = plan(small_layout(), laser()), plan(small_layout(), laser())
    assert one == two


def test_no_cut_crosses_another_part():
    made = plan(small_layout(), laser())
    outlines = [p.contour for p in made.sheets[0].paths if p.name == "outline"]
    for one, other in itertools.permutations(outlines, 2):
        assert not one.contains(other.sample()).any()


def test_a_dots_worth_of_hole_left_by_the_kerf_is_not_cut():
    made = plan(
        layout((plate(Feature("hole", Operation.CUT, Contour.circle(50, 30, 0.4))), 10, 10, 0)),
        laser(),
        kerf=0.4,
    )
    assert {p.operation for p in made.sheets[0].paths if p.name == "hole"} == {Operation.PUNCH}


def test_parts_are_checked_before_they_are_nested():
    parts = [strap("a"), keeper("b", thickness=4.0)]
    assert check_parts(parts, laser()) == pytest.approx(0.24)
    assert check_parts(parts, laser(), kerf=0.3) == 0.3
    assert check_parts(parts, knife()) == 0.0
    assert check_parts([], laser()) == 0.0


def test_what_no_place_on_the_bed_can_mend_is_told_before_nesting():
    narrow = plate(Feature("prong slot", Operation.CUT, stadium(50, 20, 20, 0.3)))
    with pytest.raises(PlanError) as caught:
        check_parts(
            [strap("long-1", length=1310), keeper("long-1"), narrow], read_machine("closed-laser"), kerf=0.4
        )
    long, slot = str(caught.value).splitlines()
    assert long == (
        "long-1/strap is 1310.0 mm long; the bed of 'closed laser' is 480 × 320 mm; use a machine with a "
        "larger bed"
    )
    assert slot.startswith("odd/strap: prong slot: a kerf of 0.4 mm is too wide")
    with pytest.raises(SafetyError):
        check_parts([keeper(tannage=Tannage.SYNTHETIC)], laser(), accept_fume_risk=True)
    with pytest.raises(PlanError, match=r"a/strap is 4\.40 mm thick"):
        check_parts([strap("a", thickness=4.4)], knife())


def test_a_part_shorter_than_the_beds_diagonal_is_left_to_the_nest():
    # 1100 mm long on 1000 × 600 mm: it fits at a slant.
    assert check_parts([strap(length=1100)], laser(), kerf=0.2) == 0.2
    slanted = layout((strap(length=1100, width=20), 75, 60, 27))
    assert len(plan(slanted, laser(), kerf=0.2).sheets) == 1


def test_a_profile_that_wants_mitres_has_sharp_outer_corners_on_the_plan():
    corners = {}
    for corner in ("round", "miter"):
        machine = laser().model_copy(update={"corner": corner})
        [outline] = [
            path.contour
            for path in plan(layout((keeper(), 100, 100, 0)), machine, kerf=0.4).sheets[0].paths
            if path.name == "outline"
        ]
        corners[corner] = len(outline)
        assert bool(outline.is_arc.any()) is (corner == "round")
    assert corners == {"round": 8, "miter": 4}


def test_leather_thicker_than_a_laser_cuts_is_refused_by_id():
    table = {"name": "thin one", "kind": "laser", "bed": [1000, 600]}
    machine = machine_from({"machine": table, "limits": {"max_thickness": 3}}, "thin.toml")
    with pytest.raises(PlanError) as caught:
        plan(layout((strap(), 120, 60, 0)), machine, kerf=0.2)
    assert str(caught.value) == (
        "ada/strap is 3.60 mm thick; 'thin one' cuts through 3 mm; use thinner leather or another machine"
    )
