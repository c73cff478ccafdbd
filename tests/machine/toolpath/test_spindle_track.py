"""The spindle's track ahead of a trailing blade: lines, arcs, corners, and the run round a closed contour."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, strategies as st

from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import filleted, line, rectangle, stadium
from strapwright.machine.toolpath.spindle_track import opened, spindle_track, started_at, turn_between


@given(radius=st.floats(0.5, 300.0), offset=st.floats(0.1, 2.0), bulge=st.floats(0.1, 1.0))
def test_on_an_arc_the_spindle_runs_on_the_concentric_one(radius, offset, bulge):
    sweep = 4 * math.atan(bulge)
    end = (radius * math.cos(sweep), radius * math.sin(sweep))
    track = spindle_track(Contour([(radius, 0, bulge), (*end, 0)], closed=False), math.pi / 2, offset, 0.4)
    assert len(track.contour) == 1
    assert track.contour.radii[0] == pytest.approx(math.hypot(radius, offset))
    assert track.contour.centres[0] == pytest.approx([0, 0], abs=1e-6)
    ahead = math.atan2(track.contour.starts[0, 1], track.contour.starts[0, 0])
    assert ahead == pytest.approx(math.atan(offset / radius))
    assert track.heading == pytest.approx(math.pi / 2 + sweep)


@pytest.mark.parametrize(("turn", "raised"), [(0.3, False), (0.5, True), (-2.0, True), (math.pi, True)])
def test_at_a_corner_it_swings_about_the_corner_and_is_raised_only_for_a_sharp_one(turn, raised):
    corner = Contour([(-5, 0, 0), (0, 0, 0), (5 * math.cos(turn), 5 * math.sin(turn), 0)], closed=False)
    track = spindle_track(corner, 0.0, 0.7, 0.4)
    assert track.swivels == (False, raised, False)
    assert track.contour.radii[1] == pytest.approx(0.7)
    assert track.contour.centres[1] == pytest.approx([0, 0], abs=1e-9)
    assert abs(track.contour.sweeps[1]) == pytest.approx(abs(turn))


def test_it_goes_in_with_the_heading_it_has_and_turns_about_its_tip():
    track = spindle_track(line(3, 4, 9, 4), math.pi / 2, 0.5, 0.4)
    assert track.contour.starts[0] == pytest.approx([3, 4.5])
    assert track.contour.centres[0] == pytest.approx([3, 4])
    assert track.swivels == (True, False)


def test_tangent_joints_need_no_swing():
    slot = opened(stadium(0, 0, 24, 5), 0, 0.0)
    assert len(spindle_track(slot, 0.0, 0.6, 0.4).contour) == len(slot)


@pytest.mark.parametrize("overcut", [0.0, 1.0, 25.0, 500.0])
def test_a_run_once_round_ends_past_its_start_and_never_goes_round_twice(overcut):
    shape = filleted([(0, 0), (40, 0), (40, 12), (0, 12)], [3, 0, 4, 5])
    run = opened(shape, 2, overcut)
    assert not run.closed
    assert run.length == pytest.approx(shape.length + min(overcut, shape.length / 2))
    assert shape.distance_to(run.sample()).max() < 1e-9
    assert run.starts[0] == pytest.approx(shape.starts[2])


@pytest.mark.parametrize("segment", range(4))
@pytest.mark.parametrize("share", [0.0, 0.25, 0.5])
def test_a_start_moved_along_leaves_the_shape_what_it_was(segment, share):
    slot = stadium(2, 3, 24, 5)
    moved = started_at(slot, segment, share)
    assert moved.area == pytest.approx(slot.area)
    assert slot.distance_to(moved.sample()).max() < 1e-9
    along = float(slot.segment_lengths[:segment].sum() + share * slot.segment_lengths[segment])
    assert moved.starts[0] == pytest.approx(slot.point_at(along))


def test_the_shorter_way_is_turned():
    turns = [turn_between(0.1, b) for b in np.linspace(-9, 9, 50)]
    assert max(np.abs(turns)) <= math.pi
    assert turn_between(0.0, math.pi) == turn_between(0.0, -math.pi) == math.pi
    assert turn_between(3.0, -3.0) == pytest.approx(2 * math.pi - 6)


def test_a_plain_square_has_a_swivel_at_each_corner():
    track = spindle_track(opened(rectangle(0, 0, 10, 10), 0, 1.0), 0.0, 0.6, 0.4)
    assert sum(track.swivels) == 4
