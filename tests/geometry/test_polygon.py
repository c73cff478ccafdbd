"""Polygons keep to their side of the contour and to their tolerance."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given, settings, strategies as st
from tests.geometry.shapes_sampled import NAMED, stars

from strapwright.core.errors import GeometryError
from strapwright.geometry.contour import Contour
from strapwright.geometry.polygon import to_polygon
from strapwright.geometry.shapes import line


def along(polygon):
    """Points spread along a polygon's sides."""
    after = np.roll(polygon, -1, axis=0)
    return np.vstack([polygon + t * (after - polygon) for t in (0.0, 0.25, 0.5, 0.75)])


def spiked():
    """A contour whose spike between two arcs is narrower than a coarse tolerance."""
    return Contour(
        [
            (21.5361128, 23.57258599, -0.57814924),
            (25.8871573, 33.94617777, 0.38768758),
            (10.31504918, 18.35782475, 0.0),
            (-35.78977362, 31.91000087, 0.0),
            (-34.71407818, 16.73083648, 0.0),
            (21.81887924, -22.27119042, 0.0),
            (17.54725772, -14.84635388, -0.5044469),
        ]
    )


@example(contour=spiked(), exponent=0.0)
@given(contour=stars(), exponent=st.floats(-4, 0))
@settings(max_examples=80, deadline=None)
def test_every_side_keeps_within_the_tolerance_and_on_its_side(contour, exponent):
    tolerance = 10.0**exponent
    for side in ("nearest", "outward", "inward"):
        polygon = to_polygon(contour, tolerance, side)
        points = along(polygon)
        gaps = contour.distance_to(points)
        assert gaps.max() <= tolerance * (1 + 1e-6) + 1e-9
        off = gaps > 1e-9
        if side == "outward":
            assert not contour.contains(points[off]).any()
        if side == "inward":
            assert contour.contains(points[off]).all()


def test_the_polygon_of_a_reversed_contour_keeps_its_side():
    back = NAMED["stadium"].reversed()
    outward = Contour.from_points(to_polygon(back, 0.01, "outward"))
    assert abs(outward.area) > abs(back.area)


def test_a_full_circle_needs_few_corners_at_a_coarse_tolerance():
    assert len(to_polygon(Contour.circle(0, 0, 10), 4.0)) == 4


def test_an_open_contour_keeps_both_ends():
    assert to_polygon(line(0, 0, 5, 0), 0.1).tolist() == [[0, 0], [5, 0]]


@pytest.mark.parametrize("tolerance", [0.0, -1.0, math.nan])
def test_a_tolerance_that_is_not_positive_is_refused(tolerance):
    with pytest.raises(GeometryError, match="must be positive"):
        to_polygon(NAMED["circle"], tolerance)


def test_an_open_contour_has_no_outward_side():
    with pytest.raises(GeometryError, match="no outward side"):
        to_polygon(line(0, 0, 5, 0), 0.1, "outward")
