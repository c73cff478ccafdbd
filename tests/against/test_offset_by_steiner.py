"""Offsets of convex contours against the Steiner formula.

Source: J. Steiner, Über parallele Flächen (1840); for a convex body A(d) = A + L d + π d², L(d) = L + 2 π d.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings, strategies as st
from tests.geometry.shapes_sampled import tipped_strap

from strapwright.geometry.offset import offset
from strapwright.geometry.shapes import filleted, rectangle, stadium
from strapwright.parts.tips import TIPS


def assert_steiner(contour, distance):
    grown = offset(contour, distance)
    area = contour.area + contour.length * distance + math.pi * distance**2
    assert grown.area == pytest.approx(area, abs=2e-9)
    assert grown.length == pytest.approx(contour.length + 2 * math.pi * distance, abs=1e-9)


@pytest.mark.parametrize("tip", TIPS)
@given(width=st.floats(10, 80), distance=st.floats(1e-3, 20))
@settings(max_examples=25, deadline=None)
def test_a_strap_with_any_tip_grows_as_steiner_says(tip, width, distance):
    assert_steiner(tipped_strap(tip, width), distance)


@given(length=st.floats(6, 80), width=st.floats(2, 6), distance=st.floats(1e-3, 20))
@settings(max_examples=50, deadline=None)
def test_a_slot_grows_as_steiner_says(length, width, distance):
    assert_steiner(stadium(0, 0, length, width), distance)


@given(
    sides=st.tuples(st.floats(10, 200), st.floats(10, 200)),
    radius=st.floats(0.5, 4.9),
    distance=st.floats(1e-3, 20),
)
@settings(max_examples=50, deadline=None)
def test_a_rounded_rectangle_grows_and_shrinks_as_steiner_says(sides, radius, distance):
    x, y = sides
    rounded = filleted([(0, 0), (x, 0), (x, y), (0, y)], [radius] * 4)
    assert_steiner(rounded, distance)
    # Inward the formula holds (with the sign of d) as long as the corners keep a radius.
    shrunk = -0.9 * radius
    assert_steiner(rounded, shrunk)


def test_a_sharp_rectangle_shrinks_to_the_smaller_rectangle():
    shrunk = offset(rectangle(0, 0, 40, 18), -0.11)
    assert shrunk.area == pytest.approx((40 - 0.22) * (18 - 0.22), rel=1e-14)
