"""Whether a contour crosses itself, against shapely's judgement and by hand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from strapwright.geometry.contour import Contour
from strapwright.geometry.intersect import self_crossing


def test_random_polygons_cross_themselves_where_shapely_says_so():
    rng = np.random.default_rng(5)
    crossing = 0
    for corners in rng.integers(3, 7, 300):
        points = rng.uniform(0, 100, (corners, 2))
        simple = shapely.LinearRing(points).is_simple
        found = self_crossing(Contour.from_points(points))
        assert (found is None) == simple
        if found is not None:
            crossing += 1
            assert shapely.distance(shapely.LinearRing(points), shapely.Point(found)) < 1e-9
    assert 100 < crossing < 250


TRIANGLE = [(0, 0), (10, 0), (5, 8)]


@pytest.mark.parametrize(
    ("points", "closed", "where"),
    [
        (TRIANGLE, True, None),
        (TRIANGLE, False, None),
        ([*TRIANGLE, (0, 0)], False, (0, 0)),  # an open path that comes back to its start touches itself
        ([(0, 0), (10, 0), (10, 10), (0, 0), (-10, 10), (-10, 0)], True, (0, 0)),  # two leaves at one vertex
        ([(0, 0), (10, 0), (10, 8), (5, 0), (0, 8)], True, (5, 0)),  # a vertex on an edge
    ],
)
def test_neighbours_share_their_vertex_and_nothing_else_is_shared(points, closed, where):
    bulges = np.zeros((len(points), 1))
    found = self_crossing(Contour(np.hstack([np.array(points, float), bulges]), closed=closed))
    assert found == (where if where is None else pytest.approx(where))
