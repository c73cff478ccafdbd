"""The trial of a leather: which squares there are, what each is cut at, and in what order."""

from __future__ import annotations

import itertools

import pytest
import shapely
from tests.machine.layouts import knife, laser

from strapwright.core.errors import PlanError, SafetyError
from strapwright.machine.profile.machine import read_machine, shipped_profiles
from strapwright.machine.test_pieces.trial import trial
from strapwright.parts.part import Operation
from strapwright.rules.leather import Tannage

VEGETABLE = Tannage.VEGETABLE


def figures(made):
    return [
        (cell.number, cell.setting.speed_mm_s, cell.setting.power_percent, cell.setting.depth)
        for cell in made.cells
    ]


def cut_order(made):
    cuts = [path for path in made.plan.sheets[0].paths if path.operation is Operation.CUT]
    return [int(path.part_id.split()[1]) for path in cuts]


def test_a_laser_tries_each_speed_at_each_power_and_the_gentlest_is_cut_first():
    made = trial(laser(), VEGETABLE, 3.6, speeds=(10, 20), powers=(80, 40), passes=2)
    assert figures(made) == [(1, 10, 40, None), (2, 10, 80, None), (3, 20, 40, None), (4, 20, 80, None)]
    # Power by speed: 40/20, then 40/10 and 80/20 which are alike, then 80/10.
    assert cut_order(made) == [3, 1, 4, 2]
    assert {cell.setting.passes for cell in made.cells} == {2}


def test_a_knife_tries_each_speed_at_each_depth_in_one_pass():
    made = trial(knife(formats=["gcode"]), VEGETABLE, 2.0, speeds=(20, 40), depths=(1.0, 2.3))
    assert figures(made) == [(1, 20, None, 1.0), (2, 20, None, 2.3), (3, 40, None, 1.0), (4, 40, None, 2.3)]
    assert cut_order(made) == [1, 3, 2, 4]


def test_the_squares_are_numbered_row_by_row_from_the_top_and_stand_apart():
    made = trial(laser(), VEGETABLE, 3.6, speeds=(10, 20, 30), powers=(40, 80))
    corners = [cell.paths[-1].contour.bounding_box[:2] for cell in made.cells]
    rows = [corners[k : k + 2] for k in range(0, 6, 2)]
    assert [len({y for _, y in row}) for row in rows] == [1, 1, 1]
    assert [row[0][1] for row in rows] == sorted((row[0][1] for row in rows), reverse=True)
    assert all(left[0] < right[0] for left, right in rows)
    shapes = [
        shapely.union_all([shapely.LineString(p.contour.sample(4)) for p in c.paths]) for c in made.cells
    ]
    assert min(one.distance(other) for one, other in itertools.combinations(shapes, 2)) > 3.0


@pytest.mark.parametrize("name", [name for name in shipped_profiles() if name != "knife-plotter"])
def test_every_shipped_machine_has_one_by_default_and_it_lies_on_the_bed(name):
    machine = read_machine(name)
    made = trial(machine, VEGETABLE, 3.2)
    for path in made.plan.sheets[0].paths:
        x0, y0, x1, y1 = path.contour.bounding_box
        assert min(x0, y0) >= 5
        assert x1 <= machine.bed[0] - 5
        assert y1 <= machine.bed[1] - 5


def test_its_time_is_that_of_each_squares_own_speed():
    fast = trial(laser(), VEGETABLE, 3.6, speeds=(40,), powers=(50,), passes=1).plan
    slow = trial(laser(), VEGETABLE, 3.6, speeds=(1,), powers=(50,), passes=1).plan
    [cut] = [path for path in slow.sheets[0].paths if path.operation is Operation.CUT]
    assert slow.durations[0].seconds[Operation.CUT] == pytest.approx(cut.contour.length, rel=0.01)
    assert fast.durations[0].seconds[Operation.CUT] < slow.durations[0].seconds[Operation.CUT] / 10


def test_fumes_thickness_and_figures_that_cannot_be_are_refused():
    with pytest.raises(SafetyError, match="chromium"):
        trial(laser(), Tannage.CHROME, 3.6, speeds=(10,))
    accepted = trial(laser(), Tannage.CHROME, 3.6, speeds=(10,), accept_fume_risk=True)
    assert [found.code for found in accepted.plan.findings] == ["fume-risk-accepted"]
    with pytest.raises(SafetyError, match="never cut on a laser"):
        trial(laser(), Tannage.SYNTHETIC, 3.6, speeds=(10,), accept_fume_risk=True)
    with pytest.raises(PlanError, match=r"the leather is 9\.00 mm thick"):
        trial(knife(formats=["gcode"]), VEGETABLE, 9.0, speeds=(10,))
    with pytest.raises(PlanError, match=r"--power 120 %: expected 0\.1 to 100 %"):
        trial(laser(), VEGETABLE, 3.6, speeds=(10,), powers=(50, 120))
    with pytest.raises(PlanError, match="--speed: found 9 figures, expected 8 at most"):
        trial(laser(), VEGETABLE, 3.6, speeds=range(1, 10))
    with pytest.raises(PlanError, match=r"--depth 0\.3 mm: expected "):
        trial(knife(formats=["gcode"]), VEGETABLE, 2.0, speeds=(10,), depths=(0.3,))
    with pytest.raises(PlanError, match="a laser has no depth"):
        trial(laser(), VEGETABLE, 3.6, speeds=(10,), depths=(1.0,))
    with pytest.raises(PlanError, match="a blade has no power"):
        trial(knife(formats=["gcode"]), VEGETABLE, 2.0, speeds=(10,), powers=(50,))
    small = laser().model_copy(update={"bed": (150.0, 150.0)})
    with pytest.raises(PlanError, match="a grid of 8 × 8 squares needs"):
        trial(small, VEGETABLE, 3.6, speeds=range(1, 9), powers=range(10, 90, 10))


def test_a_machine_without_a_speed_or_told_no_depth_says_what_to_do():
    tables = laser().operation
    cut = tables.cut.model_copy(update={"speed_mm_s": None})
    silent = laser().model_copy(update={"operation": tables.model_copy(update={"cut": cut})})
    with pytest.raises(PlanError, match="give some with --speed"):
        trial(silent, VEGETABLE, 3.6)
    with pytest.raises(PlanError, match="set its depth or force by hand"):
        trial(read_machine("knife-plotter"), VEGETABLE, 1.5)
