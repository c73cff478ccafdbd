from __future__ import annotations

import numpy as np
import pyclipper
import pytest
import shapely
from hypothesis import given, settings, strategies as st
from tests.nesting.outlines import stars

from strapwright.nesting.shape_search.nfp import Grid, free_region, inner_fit, no_fit, simplified

GRID = Grid(1000.0)


def region(paths) -> shapely.Geometry:
    """Outer paths less holes."""
    found = shapely.Polygon()
    for path in sorted(paths, key=lambda path: -abs(pyclipper.Area(path))):
        ring = shapely.make_valid(shapely.Polygon(GRID.points(path)))
        found = found.union(ring) if pyclipper.Orientation(path) else found.difference(ring)
    return found


def swept(still, moving) -> shapely.Geometry:
    """The same no-fit polygon from triangles: sums of convex pieces, joined by shapely."""
    pieces = []
    for one in shapely.get_parts(shapely.constrained_delaunay_triangles(shapely.Polygon(still))):
        for other in shapely.get_parts(shapely.constrained_delaunay_triangles(shapely.Polygon(moving))):
            a, b = shapely.get_coordinates(one), shapely.get_coordinates(other)
            pieces.append(shapely.MultiPoint((a[:, None] - b[None, :]).reshape(-1, 2)).convex_hull)
    return shapely.union_all(pieces)


@settings(deadline=None, max_examples=60)
@given(stars(100.0), stars(80.0))
def test_a_no_fit_polygon_is_the_sum_of_the_triangles_of_both_outlines(still, moving):
    found = region(no_fit(GRID.path(still), GRID.path(moving)))
    expected = swept(still, moving)
    # A hair's width along the edge may differ by rounding.
    assert found.symmetric_difference(expected).area <= 1e-4 * expected.length


@settings(deadline=None, max_examples=40)
@given(stars(100.0), stars(60.0), st.floats(0.5, 5.0))
def test_a_form_on_the_edge_of_a_no_fit_polygon_keeps_the_gap_and_no_more_than_a_little(still, moving, gap):
    paths = no_fit(GRID.path(still), GRID.path(moving), gap * GRID.scale)
    apart = [
        shapely.distance(shapely.Polygon(still), shapely.Polygon(moving + at))
        for path in paths
        for at in GRID.points(path)
    ]
    assert min(apart) >= gap - 1e-4
    assert max(apart) <= gap * 1.1 + 1e-3


def test_a_piece_may_lie_in_the_bay_of_another():
    ring = np.array(
        [[0, 0], [100, 0], [100, 100], [60, 100], [60, 90], [90, 90], [90, 10], [10, 10], [10, 90], [40, 90],
         [40, 100], [0, 100]], dtype=float,
    )  # fmt: skip
    tab = np.array([[0, 0], [50, 0], [50, 50], [0, 50]], dtype=float)
    forbidden = region(no_fit(GRID.path(ring), GRID.path(tab)))
    # The mouth is 20 mm wide and the tab 50 mm: there is no way in, but room inside.
    assert not forbidden.contains(shapely.Point(25, 25))
    assert forbidden.contains(shapely.Point(25, 60))
    assert shapely.get_num_interior_rings(forbidden) == 1


@settings(deadline=None, max_examples=40)
@given(stars(300.0, 14, 0.4), stars(60.0), stars(70.0), st.floats(-150, 150), st.floats(0, 4))
def test_a_form_in_its_inner_fit_lies_on_the_ground_and_clear_of_zones(ground, rotation, zone, at, margin):
    paths = free_region(GRID.path(ground), [GRID.path(zone + at)], margin * GRID.scale, GRID)
    leather = shapely.Polygon(ground).buffer(1e-4)
    spoilt = shapely.Polygon(zone + at)
    for path in inner_fit(paths, GRID.path(rotation)):
        for place in GRID.points(path):
            laid = shapely.Polygon(rotation + place)
            assert leather.covers(laid)
            assert shapely.Polygon(ground).exterior.distance(laid) >= margin - 1e-4
            if margin > 1e-3:
                assert laid.distance(spoilt) >= margin - 1e-4
            else:
                assert laid.intersection(spoilt).buffer(-1e-4).is_empty


@settings(deadline=None, max_examples=40)
@given(stars(300.0, 14, 0.4), stars(60.0), st.data())
def test_a_form_outside_its_inner_fit_does_not_lie_on_the_ground(ground, rotation, data):
    room = region(inner_fit(free_region(GRID.path(ground), [], 0.0, GRID), GRID.path(rotation)))
    place = shapely.Point(data.draw(st.floats(-300, 300)), data.draw(st.floats(-300, 300)))
    if room.distance(place) > 1e-3:
        laid = shapely.Polygon(rotation + shapely.get_coordinates(place))
        assert not shapely.Polygon(ground).covers(laid)


def test_a_form_as_wide_as_its_room_has_a_place_there():
    ground = np.array([[0, 0], [200, 0], [200, 40], [0, 40]], dtype=float)
    rotation = np.array([[0, 0], [50, 0], [50, 40], [0, 40]], dtype=float)
    room = region(inner_fit(free_region(GRID.path(ground), [], 0.0, GRID), GRID.path(rotation)))
    assert room.bounds == pytest.approx((0, 0, 150, 0), abs=1e-4)


@settings(deadline=None, max_examples=60)
@given(stars(200.0, 60, 0.9), st.floats(0.1, 10.0), st.booleans())
def test_a_simpler_outline_keeps_to_its_side_and_within_its_tolerance(outline, tolerance, inward):
    found = simplified(outline, tolerance, inward=inward)
    before, after = shapely.Polygon(outline), shapely.Polygon(found)
    inner, outer = (after, before) if inward else (before, after)
    assert outer.buffer(1e-6).covers(inner)
    assert shapely.hausdorff_distance(before, after) <= tolerance
    assert len(found) <= len(outline)


@pytest.mark.parametrize("first", range(0, 66, 5))
def test_a_round_ended_outline_is_simplified_whichever_corner_comes_first(first):
    half = np.linspace(-np.pi / 2, np.pi / 2, 33)
    end = np.column_stack([400 + 16.5 * np.cos(half), 16.5 * np.sin(half)])
    outline = np.roll(np.vstack([end, end * [-1, -1]]), first, axis=0)
    found = simplified(outline, 0.5)
    assert len(found) < 40
    assert shapely.Polygon(found).buffer(1e-6).covers(shapely.Polygon(outline))
    assert shapely.hausdorff_distance(shapely.Polygon(found), shapely.Polygon(outline)) <= 0.5
