"""Two touches: turn and shift, and nothing else."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.machine.layouts import hide, keeper, laser, layout, strap

from strapwright.errors import PlanError
from strapwright.findings import Severity
from strapwright.geometry.transform import Placement
from strapwright.machine.plan import plan
from strapwright.machine.profile import machine_from
from strapwright.machine.touch import Touch, lie_from, touch_at
from strapwright.nesting.hide import Flaw, FlawKind


@given(
    turn=st.floats(-math.pi, math.pi),
    x=st.floats(-500, 500),
    y=st.floats(-500, 500),
    one=st.tuples(st.floats(0, 300), st.floats(0, 300)),
    other=st.tuples(st.floats(500, 1500), st.floats(0, 800)),
)
@settings(max_examples=100, deadline=None)
def test_a_hide_turned_and_moved_is_found_again(turn, x, y, one, other):
    put = Placement(turn, x, y)
    lie = lie_from([Touch(p, put.apply_to_point(*p)) for p in (one, other)])
    assert lie.scale == pytest.approx(1.0)
    assert lie.greatest_miss < 1e-9
    for point in ((0.0, 0.0), (1500.0, 0.0), (700.0, 900.0)):
        assert math.dist(lie.placement.apply_to_point(*point), put.apply_to_point(*point)) < 1e-8


def test_what_the_two_ways_differ_by_is_shared_between_their_ends():
    lie = lie_from([Touch((0, 0), (100, 50)), Touch((1000, 0), (1104, 50))])
    assert lie.scale == pytest.approx(1.004)
    assert lie.greatest_miss == pytest.approx(2.0)
    assert (lie.placement.turn, lie.placement.x, lie.placement.y) == (0.0, 102.0, 50.0)


@pytest.mark.parametrize(
    ("way", "told"),
    [(1005.1, "0.51% more"), (1005.02, "0.502% more"), (994.9, "0.51% less"), (500, "50.0% less")],
)
def test_ways_that_differ_by_more_than_half_a_percent_are_refused(way, told):
    with pytest.raises(PlanError) as caught:
        lie_from([Touch((0, 0), (10, 10)), Touch((1000, 0), (10 + way, 10))])
    assert str(caught.value) == (
        f"--touch: the two points are 1000.00 mm apart on the hide and {way:.2f} mm on the machine, {told}; "
        "expected 0.5% at most; touch them again, or see whether the numbers belong to other points"
    )
    lie_from([Touch((0, 0), (10, 10)), Touch((1000, 0), (1014.9, 10))])


@pytest.mark.parametrize(
    ("touches", "told"),
    [
        ([Touch((0, 0), (0, 0))], "--touch was given 1 time; expected twice"),
        ([Touch((0, 0), (0, 0))] * 3, "--touch was given 3 times; expected twice"),
        ([Touch((0, 0), (0, 0)), Touch((49, 0), (49, 0))], "the two points are 49.0 mm apart on the hide"),
        ([Touch((0, 0), (0, 0)), Touch((80, 0), (0, 0))], "the two points are 0.0 mm apart on the machine"),
    ],
)
def test_touches_that_say_too_little_are_refused(touches, told):
    with pytest.raises(PlanError) as caught:
        lie_from(touches)
    assert told in str(caught.value)


def test_every_path_lies_where_the_hide_was_touched():
    put = Placement(math.radians(3), 40, 20)
    touches = [Touch(p, put.apply_to_point(*p)) for p in ((10.0, 10.0), (700.0, 300.0))]
    lay = layout((strap(), 120, 60, 0), (keeper(), 420, 40, 90))
    drawn, laid = plan(lay, laser(), kerf=0.2), plan(lay, laser(), kerf=0.2, touches=touches)
    assert laid.sheets[0].lie.how == "touched"
    moved = [put.apply(p.contour) for p in drawn.sheets[0].paths]
    for path in laid.sheets[0].paths:
        points = path.contour.sample()
        assert min(float(other.distance_to(points).max()) for other in moved) < 1e-9


def test_a_part_that_leaves_the_bed_when_the_hide_is_touched_is_refused():
    touches = [Touch((0, 0), (400, 0)), Touch((1000, 0), (1400, 0))]
    with pytest.raises(PlanError, match=r"ada/strap lies from 649\.9 to 970\.1|ada/strap lies from .* to 1"):
        plan(layout((strap(), 400, 60, 0)), laser(), kerf=0.2, touches=touches)


def test_touches_are_of_one_hide():
    hides = (hide("one", 900, 500), hide("two", 900, 500))
    first = layout((keeper("a"), 50, 50, 0), hides=hides)
    both = dataclasses.replace(
        first, placed=first.placed + layout((keeper("b"), 50, 50, 0), hides=hides, on="two").placed
    )
    touches = [Touch((0, 0), (0, 0)), Touch((500, 0), (500, 0))]
    with pytest.raises(PlanError, match="the parts lie on 2: one, two; cut each hide by itself"):
        plan(both, laser(), touches=touches)
    assert plan(first, laser(), touches=touches).sheets[0].lie.how == "touched"


def test_a_hide_nobody_touched_is_a_caution_where_it_has_flaws():
    scar = Flaw(FlawKind.MARK, np.array([(600.0, 300.0), (640.0, 300.0), (620.0, 330.0)]))
    flawed = dataclasses.replace(hide(length=900, height=500), flaws=(scar,))
    touches = [Touch((0, 0), (0, 0)), Touch((500, 0), (500, 0))]

    def found(lay, **more):
        return [f for f in plan(lay, laser(), kerf=0.2, **more).findings if f.code == "hide-not-touched"]

    lay = layout((keeper(), 50, 50, 0), hides=(flawed,))
    [caution] = found(lay)
    assert caution.severity is Severity.CAUTION
    assert caution.what == (
        "Where it lies on the bed was not measured: unless it lies exactly as drawn, that its flaw is "
        "avoided is a guess."
    )
    assert found(lay, touches=touches) == []
    [note] = found(layout((keeper(), 50, 50, 0)))
    assert note.severity is Severity.NOTE


@pytest.mark.parametrize(
    ("origin", "units", "own"),
    [
        ("front_left", "mm", (200.0, 100.0)),
        ("back_left", "mm", (200.0, 500.0)),
        ("back_right", "mm", (800.0, 500.0)),
        ("front_right", "in", (800.0 / 25.4, 100.0 / 25.4)),
    ],
)
def test_the_machines_own_numbers_are_read_from_its_own_origin(origin, units, own):
    table = {"name": "any", "kind": "laser", "bed": [1000, 600], "origin": origin, "units": units}
    machine = machine_from({"version": 2, "machine": table}, "any.toml")
    assert touch_at((1, 2), own, machine).machine == pytest.approx((200.0, 100.0))


def test_windows_of_a_touched_hide_begin_where_it_was_touched():
    machine = laser(bed=[300, 200], pass_through=True)
    lay = layout((strap(length=1300), 100, 60, 0), hides=(hide("strip", 1500, 160),))
    touches = [Touch((0, 0), (15, 12)), Touch((1400, 0), (1415, 20))]
    made = plan(lay, machine, kerf=0.2, touches=touches)
    assert made.sheets[0].window.shift == 0.0
    assert made.sheets[0].lie.touches == tuple(touches)
    with pytest.raises(PlanError, match=r"push it on by 38\.\d mm or more and touch it again"):
        plan(lay, machine, kerf=0.2, touches=[Touch((0, 0), (-58.2, 12)), Touch((1400, 0), (1341.8, 12))])
    with pytest.raises(PlanError, match="move it and touch it again"):
        plan(lay, machine, kerf=0.2, touches=[Touch((0, 0), (15, 120)), Touch((1400, 0), (1415, 120))])
