"""The simulated blade against what is known of trailing points in closed form."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import assume, given, settings, strategies as st

from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import line
from strapwright.write.proof.blade_simulation import follow_each

pytestmark = pytest.mark.slow


def follow(track, heading, offset):
    """Where the tip goes on one track."""
    return follow_each([track], heading, offset)[0]


@given(
    off=st.floats(-2.9, 2.9),
    offset=st.floats(0.3, 1.5),
    length=st.floats(0.5, 12.0),
)
def test_on_a_line_the_angle_decays_as_the_tractrix_says(off, offset, length):
    # tan(ψ / 2) = tan(ψ₀ / 2) exp(−s / e): the tractrix, by separation of variables.
    trace = follow(line(0, 0, length, 0), -off, offset)
    exact = 2 * math.atan(math.tan(off / 2) * math.exp(-length / offset))
    assert -trace.heading == pytest.approx(exact, abs=1e-4)
    assert trace.points[-1] == pytest.approx(
        [length - offset * math.cos(exact), offset * math.sin(exact)], abs=2e-4
    )


@pytest.mark.parametrize("radius", [1.5, 6.0, 200.0])
def test_on_a_circle_the_tip_settles_on_the_concentric_one(radius):
    offset = 0.8
    outer = math.hypot(radius, offset)
    circle = Contour([(outer, 0, 1), (-outer, 0, 1), (outer, 0, 0)], closed=False)
    trace = follow(circle, math.pi / 2, offset)
    settled = np.hypot(*trace.points[trace.points[:, 1] < -offset].T)
    assert len(settled) >= 3
    assert np.abs(settled - radius).max() < 0.005


@pytest.mark.parametrize("turn", [0.4, math.pi / 2, math.pi])
def test_a_swivel_leaves_the_tip_where_it_is(turn):
    offset = 1.2
    around = Contour(
        [(offset, 0, math.tan(turn / 4)), (offset * math.cos(turn), offset * math.sin(turn), 0)], closed=False
    )
    trace = follow(around, 0.0, offset)
    assert np.hypot(*trace.points.T).max() < 1e-6
    assert trace.heading == pytest.approx(turn, abs=1e-6)


def test_a_blade_that_stands_backwards_is_not_taken_for_settled():
    trace = follow(line(0, 0, 40, 0), math.pi - 1e-6, 1.0)
    assert abs(math.remainder(trace.heading, 2 * math.pi)) < 1e-4
    assert np.abs(trace.points[:, 1]).max() > 0.9


def integrated(track, heading, offset, step):
    """The tip's end and its heading by Runge–Kutta's method of the fourth order, segment by segment."""
    chords = track.ends - track.starts
    for chord, sweep, length in zip(chords, track.sweeps, track.segment_lengths, strict=True):
        along, bend = math.atan2(chord[1], chord[0]) - sweep / 2, sweep / length
        count = math.ceil(length / step)
        h = length / count
        for k in range(count):
            at = [along + bend * h * (k + part) for part in (0.0, 0.5, 1.0)]
            k1 = math.sin(at[0] - heading) / offset
            k2 = math.sin(at[1] - heading - h / 2 * k1) / offset
            k3 = math.sin(at[1] - heading - h / 2 * k2) / offset
            k4 = math.sin(at[2] - heading - h * k3) / offset
            heading += h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
    x, y = track.ends[-1]
    return (x - offset * math.cos(heading), y - offset * math.sin(heading)), heading


@settings(max_examples=40)
@given(
    vertices=st.lists(
        st.tuples(st.floats(-4, 4), st.floats(-4, 4), st.sampled_from([0.0, 0.02, -0.3, 0.9, -1.0, 2.5])),
        min_size=3,
        max_size=7,
        unique_by=lambda v: (round(v[0]), round(v[1])),
    ),
    heading=st.floats(-3, 3),
    offset=st.sampled_from([0.3, 0.6, 1.5]),
)
def test_it_solves_the_equation_as_a_numerical_integration_does(vertices, heading, offset):
    chords = [math.dist(a[:2], b[:2]) for a, b in itertools.pairwise(vertices)]
    assume(min(chords) > 0.2)
    track = Contour(vertices, closed=False)
    trace = follow(track, heading, offset)
    # A blade that is nearly pushed backwards may go either way round: one integration is then as good as
    # the other, and theirs must agree with itself at half the step before it judges ours.
    end, last = integrated(track, heading, offset, offset / 60)
    again, _ = integrated(track, heading, offset, offset / 120)
    assume(math.dist(end, again) < 1e-7)
    assert trace.points[-1] == pytest.approx(end, abs=1e-5)
    assert math.remainder(trace.heading - last, 2 * math.pi) == pytest.approx(0.0, abs=1e-5)


def test_between_two_points_the_tip_goes_along_an_arc_nearly():
    # Held against a run cut into a thousand pieces: every one of its points lies on the coarser way's arcs.
    offset = 1.0
    turning = line(0, 0, 12, 0)
    fine = Contour([(x, 0.0, 0.0) for x in np.linspace(0, 12, 1000)], closed=False)
    trace = follow(turning, math.pi / 2, offset)
    assert len(trace.points) < 80
    bulges = np.tan(np.diff(trace.headings, append=trace.headings[-1]) / 4)
    way = Contour(np.column_stack([trace.points, bulges]), closed=False)
    assert way.distance_to(follow(fine, math.pi / 2, offset).points).max() < 2e-4


def test_the_heading_is_kept_from_run_to_run():
    tracks = [line(0, 0, 3, 1), line(9, 9, 5, 12), Contour([(2, 0, 1), (-2, 0, 0)], closed=False)]
    heading = 0.3
    for track, trace in zip(tracks, follow_each(tracks, heading, 0.7), strict=True):
        alone = follow(track, heading, 0.7)
        assert trace.points == pytest.approx(alone.points, abs=1e-9)
        assert math.remainder(trace.headings[0] - heading, 2 * math.pi) == pytest.approx(0.0, abs=1e-9)
        heading = alone.heading
