"""Rigid motions keep every measure, and quarter turns keep every digit."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings, strategies as st
from tests.geometry.shapes_sampled import NAMED, stars, tipped_strap

from strapwright.geometry.transform import Placement, mirrored, moved, turned


@given(
    contour=stars(),
    turn=st.floats(-7, 7),
    x=st.floats(-5000, 5000),
    y=st.floats(-5000, 5000),
)
@settings(max_examples=60, deadline=None)
def test_a_placement_keeps_length_area_and_bulges(contour, turn, x, y):
    placed = Placement(turn, x, y).apply(contour)
    assert placed.length == pytest.approx(contour.length, rel=1e-10)
    assert placed.area == pytest.approx(contour.area, rel=1e-9)
    assert (placed.vertices[:, 2] == contour.vertices[:, 2]).all()


def test_four_quarter_turns_give_back_every_digit():
    contour = tipped_strap()
    turning = contour
    for _ in range(4):
        turning = turned(turning, math.pi / 2)
    assert turning == contour


@pytest.mark.parametrize("name", NAMED)
def test_a_mirrored_outline_keeps_its_orientation_and_area(name):
    contour = NAMED[name]
    other = mirrored(contour)
    assert other.area == pytest.approx(contour.area, rel=1e-14)
    assert other.is_counter_clockwise == contour.is_counter_clockwise
    x0, y0, x1, y1 = contour.bounding_box
    assert other.bounding_box == pytest.approx((x0, -y1, x1, -y0), abs=1e-12)


def test_a_point_goes_where_its_contour_goes():
    place = Placement(0.7, 12.0, -3.0)
    contour = moved(tipped_strap(), 1.0, 2.0)
    x, y, _ = contour.vertices[2]
    assert place.apply_to_point(x, y) == pytest.approx(tuple(place.apply(contour).vertices[2, :2]))


@pytest.mark.parametrize("first_mirrors", [False, True])
@pytest.mark.parametrize("then_mirrors", [False, True])
def test_one_placement_after_another_is_the_same_as_both_in_turn(first_mirrors, then_mirrors):
    first = Placement(0.7, 12.0, -3.0, mirror=first_mirrors)
    then = Placement(-1.9, 5.0, 40.0, mirror=then_mirrors)
    both = first.then(then)
    for point in ((0.0, 0.0), (30.0, 0.0), (0.0, 7.0)):
        assert both.apply_to_point(*point) == pytest.approx(
            then.apply_to_point(*first.apply_to_point(*point))
        )
    assert both.mirror == (first_mirrors != then_mirrors)


@pytest.mark.parametrize("mirror", [False, True])
def test_contours_are_put_together_where_each_is_put_alone(mirror):
    put = Placement(0.3, 12.5, -7.0, mirror)
    contours = [*NAMED.values(), moved(tipped_strap(), 3.0, 4.0)]
    assert put.apply_to_each(contours) == [put.apply(contour) for contour in contours]
    assert put.apply_to_each([]) == []
