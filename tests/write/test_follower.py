"""The simulated blade against what is known of trailing points in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import line
from strapwright.write.follower import follow


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
    settled = np.hypot(*trace.points[len(trace.points) // 2 :].T)
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
