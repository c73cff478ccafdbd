from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings, strategies as st
from tests.nesting.outlines import stars

from strapwright.nesting.shape_search.convex import ConvexPieces, convex_ring
from strapwright.nesting.shape_search.nfp import Grid

GRID = Grid(1000.0)


def hull(outline):
    """What is left of an outline without its dents, counter-clockwise, on the grid."""
    ring = shapely.get_exterior_ring(shapely.orient_polygons(shapely.MultiPoint(outline).convex_hull))
    return GRID.points(GRID.path(shapely.get_coordinates(ring)[:-1]))


def no_fits(still, moving, gap=0.0, pairs=((0, 1),)):
    convex = ConvexPieces([GRID.path(still), GRID.path(moving)], GRID.scale, gap)
    assert convex.known.all()
    sides, stops, boxes = convex.no_fits(np.array(pairs, dtype=np.int64))
    return np.split(sides, stops[:-1]), boxes


@settings(deadline=None, max_examples=60)
@given(stars(100.0, least=0.8), stars(80.0, least=0.8))
def test_without_a_gap_it_is_the_hull_of_all_differences_of_corners(still, moving):
    still, moving = hull(still), hull(moving)
    ((sides,), ((x0, y0, x1, y1),)) = no_fits(still, moving)
    every = shapely.MultiPoint((still[:, None] - moving[None, :]).reshape(-1, 2)).convex_hull
    found = shapely.Polygon(sides[:, :2])
    assert found.exterior.is_ccw
    assert found.symmetric_difference(every).area <= 1e-9 * every.area
    assert (x0, y0, x1, y1) == every.bounds
    assert np.allclose(sides[:, :2] + sides[:, 2:4], np.roll(sides[:, :2], -1, axis=0))
    assert np.allclose(sides[:, 4] * (sides[:, 2:4] ** 2).sum(axis=1), 1)


@settings(deadline=None, max_examples=60)
@given(stars(100.0, least=0.8), stars(60.0, least=0.8), st.floats(0.1, 5.0))
def test_on_its_edge_a_form_keeps_the_gap_and_hardly_more(still, moving, gap):
    still, moving = hull(still), hull(moving)
    ((sides,), _) = no_fits(still, moving, gap)
    ring = shapely.Polygon(sides[:, :2])
    one, other = shapely.Polygon(still), shapely.Polygon(moving)
    for x, y in shapely.get_coordinates(shapely.segmentize(ring, ring.length / 60)):
        apart = one.distance(shapely.transform(other, lambda points, by=(x, y): points + by))
        assert gap <= apart + 1e-9
        assert apart <= 1.02 * gap + 1e-5


@pytest.mark.parametrize("gap", [0.0, 2.0])
def test_the_other_way_about_it_is_turned_half_about_to_the_last_bit(gap):
    still = np.array([[0, 0], [70, 5], [60, 40], [10, 44]], dtype=float)
    moving = np.array([[0, 0], [31, 0], [31, 17], [0, 17]], dtype=float)
    (one, other), boxes = no_fits(still, moving, gap, ((0, 1), (1, 0)))
    assert np.array_equal(one[:, :4], -other[:, :4])
    assert np.array_equal(boxes[0], -boxes[1][[2, 3, 0, 1]])


def test_parallel_sides_become_one():
    square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], dtype=float)
    ((sides,), _) = no_fits(square, square * 2)
    assert sides[:, :2].tolist() == [[-20, -20], [10, -20], [10, 10], [-20, 10]]


@pytest.mark.parametrize(
    ("path", "dents"),
    [
        ([[0, 0], [9, 0], [9, 9], [5, 8], [0, 9]], True),
        ([[0, 0], [9, 0], [9, 9], [5, 9], [0, 9]], False),
        ([[0, 0], [0, 0], [9, 0], [9, 9], [9, 9], [0, 9]], False),
    ],
    ids=["a dent", "a corner on a side", "corners twice"],
)
def test_only_outlines_without_dents_are_taken(path, dents):
    assert (convex_ring(path) is None) == dents
    if not dents:
        assert len(convex_ring(path)) == 4
