"""What the tool does run by run: order and passes kept, lead-ins in the waste, the bed kept to."""

from __future__ import annotations

import math
from itertools import groupby, pairwise

import numpy as np
import pytest
from tests.machine.layouts import keeper, layout, plate
from tests.write.plans import driven_knife, driven_laser, driven_plan

from strapwright.core.errors import PlanError
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import filleted, rectangle
from strapwright.geometry.transform import moved
from strapwright.machine.planning import plan
from strapwright.machine.toolpath.lead_in import WasteArea, approach
from strapwright.machine.toolpath.runs import START_HEADING, passes_of, tool_runs
from strapwright.parts.part import Feature, Operation
from strapwright.write.proof.blade_simulation import follow_each


def runs_of(made):
    return tool_runs(made.sheets[0], made.machine)


@pytest.mark.parametrize(
    "machine",
    [driven_laser(), driven_knife(mode="plain"), driven_knife(0.0)],
    ids=["laser", "plain", "no offset"],
)
def test_the_paths_are_run_as_planned_where_nothing_is_to_be_allowed_for(machine):
    made = driven_plan(machine)
    assert [run.track for run in runs_of(made)] == [path.contour for path in made.sheets[0].paths]


def test_the_plans_order_is_kept_and_passes_follow_each_other():
    made = driven_plan(driven_knife(passes=2))
    stroke, *runs = runs_of(made)
    assert stroke.path is None
    expected = [
        (path, done) for path in made.sheets[0].paths for done in range(2 if path.operation == "cut" else 1)
    ]
    assert [
        (path, done) for (path, done), _ in groupby(runs, lambda run: (run.path, run.passes_done))
    ] == expected
    assert {run.passes for run in runs if run.path.operation is Operation.CUT} == {2}


def test_the_depth_per_pass_makes_more_passes_than_the_profile_asks_for():
    assert passes_of(driven_knife(depth_per_pass=1.5), Operation.CUT, 4.2) == 3
    assert passes_of(driven_knife(depth_per_pass=2.1), Operation.CUT, 4.2) == 2
    assert passes_of(driven_knife(passes=4, depth_per_pass=2.1), Operation.CUT, 4.2) == 4
    assert passes_of(driven_knife(depth_per_pass=1.5), Operation.SCORE, 4.2) == 1
    assert passes_of(driven_knife(passes=2, depth_per_pass=1.5), Operation.CUT, None) == 2


def lead_ins(made):
    """Each cut's lead-in and the run that goes in after it, of the first pass."""
    runs = runs_of(made)
    for before, after in pairwise(runs):  # nor does it turn on the line after it
        assert not (before.turns and after.turns and before.path is after.path)
    return [
        (before, after)
        for before, after in pairwise(runs)
        if before.turns and before.path is not None and not after.turns and not after.continues(before)
    ]


@pytest.mark.parametrize("offset", [0.3, 0.6, 1.5])
def test_a_lead_in_is_long_enough_to_settle_and_leaves_the_blade_pointing_along_the_cut(offset):
    made = driven_plan(driven_knife(offset, lead_in=2.0))
    found, runs = lead_ins(made), runs_of(made)
    traces = follow_each([run.track for run in runs], START_HEADING, offset)
    headings = {run: trace.heading for run, trace in zip(runs, traces, strict=True)}
    assert len(found) >= 6
    for lead_in, cut in found:
        straight = lead_in.track.segment_lengths[~lead_in.track.is_arc].sum()
        round_about = lead_in.track.segment_lengths[np.abs(lead_in.track.radii - offset) > 1e-6].sum()
        assert max(straight, round_about) > max(2.0, 6 * offset) - 1e-6
        # Driven along it the blade points as it must where the cut goes in: its tip is then on the line.
        heading = headings[lead_in]
        tip = cut.track.starts[0] - offset * np.array([math.cos(heading), math.sin(heading)])
        assert cut.path.contour.distance_to(tip[None])[0] < 1e-6


@pytest.mark.parametrize("gap", [0.8, 1.0, 2.0, 5.0])
def test_the_lead_in_finds_room_between_parts_that_lie_close(gap):
    placed = [(keeper(f"k{n}"), 200.0, 100.0 + n * (20 + gap), 0.0) for n in range(4)]
    made = plan(layout(*placed), driven_knife())
    assert "blade-turns-on-line" not in {found.code for found in made.findings}
    outlines = [path.contour for path in made.sheets[0].paths if path.name == "outline"]
    for lead_in, _ in lead_ins(made):
        points = lead_in.track.sample()
        for outline in outlines:
            inside = outline.contains(points)  # the spindle swings in the air above; the tip stays outside
            if inside.any():
                assert outline.distance_to(points[inside]).max() < 0.6


def test_parts_that_touch_leave_no_room_and_the_blade_turns_elsewhere_in_the_waste():
    outline = keeper().outline
    around = [moved(outline, dx, dy) for dx, dy in ((0, 20), (0, -20), (104, 0), (-104, 0))]
    waste = WasteArea([outline, *around], (1000.0, 600.0))
    blade = driven_knife().blade
    made = approach(outline, inner=False, blade=blade, heading=1.0, waste=waste, memory={})
    assert made.lead_in is not None
    assert waste.room(made.lead_in.sample(), 1.0).min() >= 0.3 - 1e-6
    closed_in = WasteArea(
        [*around, outline, rectangle(-500, -500, 999, -30), rectangle(-500, 30, 999, 500)], (999, 600)
    )
    none = approach(outline, inner=False, blade=blade, heading=1.0, waste=closed_in, memory={})
    assert none.lead_in is None


@pytest.mark.parametrize("diameter", [3.0, 3.4, 5.0, 30.0])
@pytest.mark.parametrize("offset", [0.3, 0.8, 1.5])
def test_the_lead_in_of_a_hole_lies_inside_it_or_in_the_waste_outside_the_part(diameter, offset):
    hole, part = Contour.circle(40, 30, diameter), rectangle(20, 20, 60, 40)
    waste = WasteArea([part], (1000.0, 600.0))
    made = approach(hole, inner=True, blade=driven_knife(offset).blade, heading=1.0, waste=waste, memory={})
    assert made.lead_in.length >= max(4.0, 6 * offset) - 1e-9
    points = made.lead_in.sample()
    from_middle = np.hypot(*(points - [40, 30]).T)
    if hole.contains(points).all():
        assert from_middle.max() < diameter / 2 - 0.3 + 1e-6
    else:
        assert offset > diameter / 3 - 0.35  # no curve in so small a hole turns a blade that trails so far
        assert waste.room(points, 1.0).min() >= 0.3 - 1e-6
    back = made.lead_in.reversed().tangent_at(0.0)
    assert (-back[0], -back[1]) == pytest.approx(made.cut.tangent_at(0.0), abs=1e-9)


def test_a_second_pass_goes_on_where_the_first_ended_and_the_blade_is_not_turned_again():
    part = plate(Feature("hole", Operation.CUT, Contour.circle(50, 30, 8)))
    made = plan(layout((part, 200, 200, 20)), driven_knife(passes=3))
    hole = [run for run in runs_of(made) if run.path is not None and run.path.name == "hole"]
    assert [(run.turns, run.passes_done) for run in hole] == [(True, 0), (False, 0), (False, 1), (False, 2)]
    assert [two.continues(one) for one, two in pairwise(hole)] == [False, True, True]


def test_a_hole_below_the_least_radius_becomes_a_punch_mark():
    part = plate(Feature("rivet hole", Operation.CUT, Contour.circle(50, 30, 2.9)))
    made = plan(layout((part, 100, 100, 0)), driven_knife())
    assert "hole-to-punch" in {finding.code for finding in made.findings}
    assert {path.operation for path in made.sheets[0].paths if path.name == "rivet hole"} == {"punch"}


def test_a_spindle_that_would_leave_the_bed_is_refused_by_the_parts_name():
    made = plan(layout((keeper("ada"), 0.2, 60.0, 0.0)), driven_knife())
    with pytest.raises(PlanError) as caught:
        runs_of(made)
    assert str(caught.value) == (
        "ada/keeper: the spindle runs ahead of the blade and would leave the bed of 1000 × 600 mm by "
        "0.40 mm; move the hide further onto the bed"
    )


def test_the_stroke_that_turns_the_blade_lies_clear_of_every_part():
    made = driven_plan(driven_knife(1.5))
    stroke = runs_of(made)[0]
    points = stroke.track.sample(16)
    for path in made.sheets[0].paths:
        if path.name == "outline":
            assert not path.contour.contains(points).any()
            assert path.contour.distance_to(points).min() > 1.5


def test_scores_are_run_from_the_end_that_needs_the_blade_turned_less():
    for run in runs_of(driven_plan(driven_knife()))[1:]:
        if run.path.operation is Operation.SCORE:
            turned = np.abs(run.track.sweeps[np.abs(run.track.radii - 0.6) < 1e-9]).sum()
            assert turned < math.pi / 2 + 1e-6


def test_a_tight_curve_of_an_outline_is_refused_as_a_slots_is():
    tight = filleted([(0, 0), (100, 0), (100, 60), (0, 60)], [3, 3, 1.2, 3])
    with pytest.raises(
        PlanError, match=r"odd/strap: outline: its tightest curve has a radius of 1\.20 mm; the blade"
    ):
        plan(layout((plate(outline=tight), 200, 200, 0)), driven_knife())
