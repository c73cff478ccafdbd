"""Lead-ins and the first stroke keep to the leather where there is room on it, and it is told where not."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.machine.layouts import layout, plate
from tests.write.plans import driven_knife, driven_laser

from strapwright.geometry.shapes import rectangle
from strapwright.machine.hide_pose import Touch
from strapwright.machine.planning import plan
from strapwright.machine.toolpath.runs import tool_runs
from strapwright.nesting.hide.types import Hide
from strapwright.write.formats.format import FORMATS
from strapwright.write.proof.blade_simulation import follow_each
from strapwright.write.proof.read_back import prove


def planned(margins: tuple[float, float, float, float], at=(200.0, 200.0), machine=None, turn=0.0, **more):
    """A plate of 100 × 60 mm on a hide that reaches so far past it: left, below, right, above, mm."""
    left, low, right, high = margins
    (x, y) = at
    x0, y0, x1, y1 = x - left, y - low, x + 100 + right, y + 60 + high
    corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]) - (x, y)
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    hide = Hide("offcut", corners @ [[cos, sin], [-sin, cos]] + (x, y), (), 0.0, 3.6)
    laid = layout((plate(outline=rectangle(0, 0, 100, 60)), x, y, turn), hides=(hide,))
    return plan(laid, machine or driven_knife(), **more)


def codes(made):
    return {finding.code for finding in made.findings}


@pytest.mark.parametrize("roomy", range(4))
def test_with_leather_on_one_side_alone_the_blade_starts_there(roomy):
    margins = [0.3] * 4
    margins[roomy] = 20.0
    made = planned(tuple(margins))
    assert not codes(made) & {"blade-turns-on-line", "stroke-off-leather", "blade-not-turned"}
    (sheet,) = made.sheets
    runs = tool_runs(sheet, made.machine)
    assert not any(run.off_leather for run in runs)
    # The simulated tip, not the plan's: it stays on the leather all the way, pointed 60° off at first.
    traces = follow_each([run.track for run in runs], math.radians(60), 0.6)
    points = np.vstack([trace.points for trace in traces])
    assert sheet.leather.contains(points).all()


def test_without_leather_beside_the_part_the_blade_turns_on_its_line_and_it_is_said():
    made = planned((0.3,) * 4, turn=20.0)
    assert {"blade-turns-on-line", "stroke-off-leather"} <= codes(made)
    found = next(f for f in made.findings if f.code == "blade-turns-on-line")
    assert found.what.startswith("There is no waste near odd/strap for the blade to turn in")
    stroke, turn, cut, *_ = tool_runs(made.sheets[0], made.machine)
    assert stroke.off_leather
    assert (turn.turns, cut.turns) == (True, False)
    assert cut.continues(turn)
    text = FORMATS["gcode"].to_text(made.sheets[0], made)
    assert prove(text, "gcode", made.sheets[0], made).blade_deviation_mm < 0.005


def test_a_lead_in_finds_room_in_a_millimetre_of_leather():
    made = planned((1.0,) * 4, turn=20.0)
    assert "blade-turns-on-line" not in codes(made)
    assert "stroke-off-leather" in codes(made)


def test_on_a_bed_as_small_as_the_part_the_blade_is_to_be_turned_by_hand():
    machine = driven_knife(machine={"bed": [104, 64]})
    made = planned((2.0,) * 4, at=(2.0, 2.0), machine=machine)
    assert "blade-not-turned" in codes(made)


def test_the_leather_lies_where_it_was_touched():
    touches = (Touch((180.0, 200.0), (480.0, 100.0)), Touch((180.0, 250.0), (430.0, 100.0)))
    made = planned((20.0,) * 4, touches=touches)
    x0, y0, x1, y1 = made.sheets[0].leather.bounding_box
    assert (x0, x1) == pytest.approx((480 - 80, 480 + 20))
    assert (y0, y1) == pytest.approx((100, 240))


def test_a_laser_is_told_nothing_of_it():
    assert not {code for code in codes(planned((0.3,) * 4, machine=driven_laser())) if "leather" in code}
