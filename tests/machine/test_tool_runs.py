"""What the tool does run by run: order and passes kept, lead-ins in the waste, the bed kept to."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.machine.layouts import keeper, layout, plate
from tests.write.plans import driven_knife, driven_laser, driven_plan

from strapwright.errors import PlanError
from strapwright.geometry.contour import Contour
from strapwright.geometry.transform import moved
from strapwright.machine.lead_in import Waste, approach
from strapwright.machine.plan import plan
from strapwright.machine.tool_runs import passes_of, tool_runs
from strapwright.parts.part import Feature, Operation


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
    assert [(run.path, run.passes_done) for run in runs] == expected


def test_the_depth_per_pass_makes_more_passes_than_the_profile_asks_for():
    assert passes_of(driven_knife(depth_per_pass=1.5), Operation.CUT) == 3
    assert passes_of(driven_knife(depth_per_pass=2.1), Operation.CUT) == 2
    assert passes_of(driven_knife(passes=4, depth_per_pass=2.1), Operation.CUT) == 4
    assert passes_of(driven_knife(depth_per_pass=1.5), Operation.SCORE) == 1


@pytest.mark.parametrize("offset", [0.3, 0.6, 1.5])
def test_every_closed_cut_has_a_lead_in_long_enough_to_settle(offset):
    for run in runs_of(driven_plan(driven_knife(offset, lead_in=2.0))):
        if run.operation is Operation.CUT:
            assert run.lead_in == pytest.approx(max(2.0, 6 * offset))


@pytest.mark.parametrize("gap", [0.6, 1.0, 2.0, 5.0])
def test_the_lead_in_finds_room_between_parts_that_lie_close(gap):
    placed = [(keeper(f"k{n}"), 200.0, 100.0 + n * (20 + gap), 0.0) for n in range(4)]
    made = plan(layout(*placed), driven_knife())
    outlines = [run for run in runs_of(made) if run.path is not None and run.path.name == "outline"]
    assert [run.lead_in for run in outlines] == [4.0] * 4


def test_parts_that_touch_leave_no_room_and_the_blade_turns_on_the_line_itself():
    outline = keeper().outline
    around = [moved(outline, dx, dy) for dx, dy in ((0, 20), (0, -20), (104, 0), (-104, 0))]
    waste = Waste([outline, *around], (1000.0, 600.0))
    blade = driven_knife().blade
    made = approach(outline, inner=False, blade=blade, heading=0.0, waste=waste)
    assert made.lead_in == 0.0
    assert outline.distance_to(made.tip.sample()).max() < 1e-9


@pytest.mark.parametrize("diameter", [3.0, 3.4, 5.0, 30.0])
@pytest.mark.parametrize("offset", [0.3, 0.8, 1.5])
def test_the_lead_in_of_a_hole_stays_inside_and_goes_round_again_where_it_is_small(diameter, offset):
    hole = Contour.circle(40, 30, diameter)
    made = approach(hole, inner=True, blade=driven_knife(offset).blade, heading=1.0, waste=None)
    from_middle = np.hypot(*(made.tip.sample() - [40, 30]).T)
    assert from_middle.max() < diameter / 2 + 1e-9
    assert made.lead_in >= 6 * offset
    lead_turn = made.lead_in / (diameter / 2)
    assert np.abs(made.tip.sweeps).sum() > 2 * math.pi + lead_turn


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
        if run.operation is Operation.SCORE:
            turned = np.abs(run.track.sweeps[np.abs(run.track.radii - 0.6) < 1e-9]).sum()
            assert turned < math.pi / 2 + 1e-6
