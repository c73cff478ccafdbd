"""Plain shapes and rounded corners."""

from __future__ import annotations

import math

import pytest

from strapwright.core.errors import GeometryError
from strapwright.geometry.shapes import filleted, rectangle, stadium


def test_a_slot_as_long_as_wide_is_a_circle():
    assert stadium(1, 2, 5, 5).as_circle() == pytest.approx((1, 2, 5))


@pytest.mark.parametrize(("length", "width"), [(4, 5), (5, 0), (5, -1)])
def test_a_slot_shorter_than_wide_is_refused(length, width):
    with pytest.raises(GeometryError, match="0 < width <= length"):
        stadium(0, 0, length, width)


def test_an_empty_rectangle_is_refused():
    with pytest.raises(GeometryError, match="x0 < x1"):
        rectangle(0, 0, 0, 5)


def test_a_rounded_corner_touches_both_sides_tangentially():
    contour = filleted([(0, 0), (20, 0), (20, 20)], [0, 4, 0])
    at = contour.segment_lengths[0]
    assert contour.tangent_at(at - 1e-9) == pytest.approx(contour.tangent_at(at + 1e-9), abs=1e-6)
    assert contour.area == pytest.approx(200 - (4 - math.pi) * 16 / 4, rel=1e-12)


def test_a_radius_too_large_for_its_side_is_refused_with_what_there_is():
    with pytest.raises(GeometryError, match=r"side is 10\.00 mm long and 12\.00 mm are needed"):
        filleted([(0, 0), (10, 0), (10, 30), (0, 30)], [6, 6, 0, 0])
