"""Two touches: turn and shift, and nothing else."""

from __future__ import annotations

import dataclasses
import math
import re

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from tests.machine.layouts import hide, keeper, laser, layout, strap

from strapwright.core.errors import PlanError
from strapwright.core.findings import Severity
from strapwright.geometry.transform import Placement
from strapwright.machine.bed.registration import FOUND_WITHIN, holds_within, window_from_holes
from strapwright.machine.hide_pose import Touch, hide_pose, touch_at
from strapwright.machine.planning import plan
from strapwright.machine.profile.machine import machine_from
from strapwright.nesting.hide.types import Flaw, FlawKind


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
    pose = hide_pose([Touch(p, put.apply_to_point(*p)) for p in (one, other)])
    ours, theirs = pose.spans
    assert theirs / ours == pytest.approx(1.0)
    assert pose.greatest_miss < 1e-9
    for point in ((0.0, 0.0), (1500.0, 0.0), (700.0, 900.0)):
        assert math.dist(pose.placement.apply_to_point(*point), put.apply_to_point(*point)) < 1e-8


def test_what_the_two_ways_differ_by_is_shared_between_their_ends():
    pose = hide_pose([Touch((0, 0), (100, 50)), Touch((1000, 0), (1104, 50))])
    ours, theirs = pose.spans
    assert theirs / ours == pytest.approx(1.004)
    assert pose.greatest_miss == pytest.approx(2.0)
    assert (pose.placement.turn, pose.placement.x, pose.placement.y) == (0.0, 102.0, 50.0)


@pytest.mark.parametrize(
    ("way", "told"),
    [(1005.1, "0.51% more"), (1005.02, "0.502% more"), (994.9, "0.51% less"), (500, "50.0% less")],
)
def test_ways_that_differ_by_more_than_half_a_percent_are_refused(way, told):
    with pytest.raises(PlanError) as caught:
        hide_pose([Touch((0, 0), (10, 10)), Touch((1000, 0), (10 + way, 10))])
    assert str(caught.value) == (
        f"--touch: the two points are 1000.00 mm apart on the hide and {way:.2f} mm on the machine, {told}; "
        "expected 0.5% at most; touch them again, or check whether the numbers belong to other points"
    )
    hide_pose([Touch((0, 0), (10, 10)), Touch((1000, 0), (1014.9, 10))])


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
        hide_pose(touches)
    assert told in str(caught.value)


def test_every_path_lies_where_the_hide_was_touched():
    put = Placement(math.radians(3), 40, 20)
    touches = [Touch(p, put.apply_to_point(*p)) for p in ((10.0, 10.0), (700.0, 300.0))]
    lay = layout((strap(), 120, 60, 0), (keeper(), 420, 40, 90))
    drawn, laid = plan(lay, laser(), kerf=0.2), plan(lay, laser(), kerf=0.2, touches=touches)
    assert laid.sheets[0].pose.how == "touched"
    moved = [put.apply(p.contour) for p in drawn.sheets[0].paths]
    for path in laid.sheets[0].paths:
        points = path.contour.sample()
        assert min(float(other.distance_to(points).max()) for other in moved) < 1e-9


def test_a_part_that_leaves_the_bed_when_the_hide_is_touched_is_refused():
    touches = [Touch((0, 0), (400, 0)), Touch((1000, 0), (1400, 0))]
    with pytest.raises(PlanError, match=r"ada/strap would leave the bed .* at the right"):
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
    assert plan(first, laser(), touches=touches).sheets[0].pose.how == "touched"


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
        "You have not said where the hide sits on the bed. Unless it sits exactly as drawn, a cut may run "
        "through a flaw."
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
    machine = machine_from({"machine": table}, "any.toml")
    assert touch_at((1, 2), own, machine).machine == pytest.approx((200.0, 100.0))


def test_windows_of_a_touched_hide_begin_where_it_was_touched():
    machine = laser(bed=[300, 200], pass_through=True)
    lay = layout((strap(length=1300), 100, 60, 0), hides=(hide("strip", 1500, 160),))
    touches = [Touch((0, 0), (15, 12)), Touch((1400, 0), (1415, 20))]
    made = plan(lay, machine, kerf=0.2, touches=touches)
    assert made.sheets[0].window.shift == 0.0
    assert made.sheets[0].pose.touches == tuple(touches)
    with pytest.raises(PlanError, match=r"push it to the right by 38\.\d mm or more and touch it again"):
        plan(lay, machine, kerf=0.2, touches=[Touch((0, 0), (-58.2, 12)), Touch((1400, 0), (1341.8, 12))])
    with pytest.raises(PlanError, match="move it and touch it again"):
        plan(lay, machine, kerf=0.2, touches=[Touch((0, 0), (15, 120)), Touch((1400, 0), (1415, 120))])


@pytest.mark.parametrize(("way", "differs"), [(1000.9, False), (1001.1, True), (998.8, True)])
def test_touches_that_differ_by_more_than_a_millimetre_are_a_caution(way, differs):
    touches = [Touch((0, 0), (10, 10)), Touch((1000, 0), (10 + way, 10))]
    lay = layout((keeper(), 50, 50, 0))
    made = plan(lay, laser(), kerf=0.2, touches=touches)
    found = [f for f in made.findings if f.code == "touches-differ"]
    assert bool(found) == differs
    if differs:
        assert found[0].severity is Severity.CAUTION
        assert f"1000.00 mm apart in the file and {way:.2f} mm on the machine" in found[0].what
        # In inches too what was found is told from what is allowed.
        assert ", and 0.039 in is the most" in found[0].in_units("in").what


WINDOWED = layout((strap(length=1300), 100, 60, 0), hides=(hide("strip", 1500, 160),))


def windowed(**more):
    return plan(WINDOWED, laser(bed=[300, 200], pass_through=True), kerf=0.2, **more)


def test_a_window_is_written_from_where_its_holes_really_lie():
    made = windowed(touches=[Touch((0, 0), (15, 12)), Touch((1400, 0), (1415, 14))])
    sheet = made.sheets[2]
    # The hide was put back turned by 0.4 degrees and 0.7 mm off: all of the window turns with it.
    off = Placement(math.radians(0.4), 0.7, -0.3)
    found = dict(zip("AB", (off.apply_to_point(*hole) for hole in sheet.window.holes), strict=True))
    [again] = window_from_holes(made, 3, found).sheets
    assert again.name == "strip, window 3 of 6, touched"
    assert again.window.holes == (found["A"], found["B"])
    for before, after in zip(sheet.paths, again.paths, strict=True):
        assert math.dist(off.apply_to_point(*before.contour.starts[0]), after.contour.starts[0]) < 1e-6
        assert math.dist(off.apply_to_point(*before.contour.ends[-1]), after.contour.ends[-1]) < 1e-6
    # And so a point of the hide is cut where it lies now.
    lay_then = sheet.pose.placement.then(Placement(0, -sheet.window.shift, 0)).then(off)
    point = (640.0, 80.0)
    assert math.dist(again.pose.placement.apply_to_point(*point), lay_then.apply_to_point(*point)) < 1e-6


@pytest.mark.parametrize(
    ("number", "move", "told"),
    [
        (1, (0, 0), "--window 1 has no two registration holes before it; expected one of 2, 3, 4, 5, 6"),
        (7, (0, 0), "--window 7 has no two registration holes"),
        (3, (0, 2.6), "expected 2 mm or 0.5% at most"),
    ],
)
def test_holes_that_cannot_be_these_are_refused(number, move, told):
    made = windowed()
    holes = made.sheets[min(number, 6) - 1].window.holes or ((20, 20), (20, 150))
    found = {"A": holes[0], "B": (holes[1][0] + move[0], holes[1][1] + move[1])}
    with pytest.raises(PlanError, match=re.escape(told)):
        window_from_holes(made, number, found)


def test_parts_that_leave_the_bed_with_the_holes_are_refused_by_name():
    made = windowed()
    found = {name: (x - 30, y) for name, (x, y) in zip("AB", made.sheets[2].window.holes, strict=True)}
    with pytest.raises(PlanError, match=r"ada/strap would .* at the left.*\n.*lay the hide nearer"):
        window_from_holes(made, 3, found)


def test_how_far_a_touched_window_holds_is_no_less_than_what_is_tried():
    made = windowed()
    sheet = made.sheets[2]
    at_joins, anywhere = holds_within(sheet, made.machine)
    rng = np.random.default_rng(5)
    ends = [p.contour.starts[0] for p in sheet.paths if p.is_outline and p.contour.starts[0][0] < 40]
    worst_join = worst = 0.0
    for one, two in rng.uniform(0, 2 * math.pi, (400, 2)):
        found = {
            name: (x + FOUND_WITHIN * math.cos(angle), y + FOUND_WITHIN * math.sin(angle))
            for name, (x, y), angle in zip("AB", sheet.window.holes, (one, two), strict=True)
        }
        [again] = window_from_holes(made, 3, found).sheets
        off = [
            float(np.hypot(*(after.contour.vertices - before.contour.vertices)[:, :2].T).max())
            for before, after in zip(sheet.paths, again.paths, strict=True)
            if before.part_id != "registration"
        ]
        worst = max(worst, *off)
        put = again.pose.placement
        was = sheet.pose.placement.then(Placement(0, -sheet.window.shift, 0))
        moved = was.inverse.then(put)
        worst_join = max(worst_join, *(math.dist(moved.apply_to_point(*p), p) for p in ends))
    assert 0.7 * anywhere < worst <= anywhere + 1e-6
    assert 0.7 * at_joins < worst_join <= at_joins + 1e-6
