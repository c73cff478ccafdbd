"""Offsets: exact where they can be had, refused by name where they cannot."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings, strategies as st
from tests.geometry.shapes_sampled import NAMED, stars

from strapwright.core.errors import GeometryError
from strapwright.geometry.contour import Contour
from strapwright.geometry.intersect import self_crossing
from strapwright.geometry.offset import _check, offset
from strapwright.geometry.shapes import line, rectangle, stadium

DUMB_BELL = Contour.from_points(
    np.transpose([[0, 10, 10, 20, 20, 30, 30, 20, 20, 10, 10, 0], [0, 0, 4, 4, 0, 0, 10, 10, 6, 6, 10, 10]])
)
POCKET = Contour.from_points(
    np.transpose([[0, 30, 30, 16, 16, 25, 25, 5, 5, 14, 14, 0], [0, 0, 20, 20, 15, 15, 5, 5, 15, 15, 20, 20]])
)
"""One whose neck pinches; one with a bottle-necked pocket whose mouth closes."""


@given(contour=stars(), distance=st.floats(0.01, 6.0), inward=st.booleans())
@settings(max_examples=150, deadline=None)
def test_an_offset_is_simple_and_at_its_distance_or_refused(contour, distance, inward):
    signed = -distance if inward else distance
    try:
        grown = offset(contour, signed)
    except GeometryError:
        return
    assert self_crossing(grown) is None
    assert grown.is_counter_clockwise
    gaps = contour.distance_to(grown.sample(16))
    assert gaps == pytest.approx(distance, abs=1e-6)
    assert (grown.area > contour.area) == (signed > 0)


@given(contour=stars(), distance=st.floats(0.05, 2.0))
@settings(max_examples=80, deadline=None)
def test_growing_and_shrinking_again_gives_back_what_has_no_sharp_hollow(contour, distance):
    try:
        grown = offset(contour, distance)
        back = offset(grown, -distance)
    except GeometryError:
        assume(False)
    # Growing then shrinking fills hollows narrower than the tool and changes nothing else.
    assert back.area >= contour.area - 1e-6
    kept = contour.distance_to(back.sample(8))
    assert kept[kept > 1e-5].size == 0 or back.area > contour.area


@pytest.mark.parametrize("name", NAMED)
@pytest.mark.parametrize("distance", [0.11, -0.11, 1.0, -1.0])
def test_orientation_does_not_matter(name, distance):
    contour = NAMED[name]
    one, two = offset(contour, distance), offset(contour.reversed(), distance)
    assert two.area == pytest.approx(-one.area, rel=1e-12)


def test_a_circle_stays_a_circle():
    assert offset(Contour.circle(4, 5, 6), -0.25).as_circle() == pytest.approx((4, 5, 5.5))


def test_a_stadium_keeps_its_four_segments():
    grown = offset(stadium(0, 0, 27, 5.5), -0.11)
    assert len(grown) == 4
    assert grown.bounding_box == pytest.approx((-13.39, -2.64, 13.39, 2.64), abs=1e-12)


def test_a_hollow_corner_is_cut_sharp_and_a_full_corner_is_rounded():
    grown = offset(NAMED["l_shape"], 1.0)
    assert int(grown.is_arc.sum()) == 5
    assert (16.0, 16.0) in {(round(x, 9), round(y, 9)) for x, y in grown.vertices[:, :2]}


def test_a_miter_keeps_square_corners_square():
    grown = offset(rectangle(0, 0, 10, 10), 1.0, corner="miter")
    assert not grown.is_arc.any()
    assert grown.area == pytest.approx(144.0, rel=1e-12)


def test_a_miter_at_a_needle_stays_round():
    needle = Contour.from_points([(0, 0), (50, -2), (50, 2)])
    grown = offset(needle, 1.0, corner="miter")
    assert grown.bounding_box[0] == pytest.approx(-1.0)


@pytest.mark.parametrize(
    ("contour", "distance", "message"),
    [
        (line(0, 0, 1, 0), 1.0, "is open"),
        (Contour.circle(0, 0, 4), -2.0, "nothing of it is left"),
        (rectangle(0, 0, 10, 4), -2.0, "nothing of it is left"),
        (rectangle(0, 0, 10, 4), -3.0, "nothing of it is left"),
        (Contour.from_points([(0, 0), (4, 4), (4, 0), (0, 4)]), 0.1, "crosses itself near"),
        (rectangle(0, 0, 1, 1), math.nan, "cannot be offset by nan"),
        (DUMB_BELL, -1.5, "falls into more than one piece"),
        (DUMB_BELL, -1.05, "falls into more than one piece"),  # its neck is 2 mm: just
        (POCKET, 1.5, "closes a gap"),
        (POCKET, 1.05, "closes a gap"),  # its mouth is 2 mm: just
    ],
)
def test_what_cannot_be_had_is_refused_by_name(contour, distance, message):
    with pytest.raises(GeometryError, match=message) as caught:
        offset(contour, distance, name="the flap")
    assert str(caught.value).startswith("the flap")


@pytest.mark.parametrize(
    ("near", "corner"),  # a miter's own distance is up to √2 of what was asked
    [(0.4, "round"), (0.49, "round"), (0.51, "round"), (0.6, "round"), (0.4, "miter"), (0.49, "miter")],
)
def test_what_came_out_at_another_distance_would_be_refused(near, corner):
    strap = rectangle(0, 0, 200, 38)
    _check(offset(strap, 0.5, corner=corner), strap, 0.5, corner, "the strap")
    with pytest.raises(GeometryError, match=f"the strap offset by 0.5 mm comes out {near:.6f} mm away"):
        _check(offset(strap, near), strap, 0.5, corner, "the strap")


def test_an_inward_cusp_of_a_tenth_of_a_degree_is_right_or_refused():
    for tenths in (1, 5, 10, 50):
        half = math.radians(tenths / 10) / 2
        depth = 30.0
        notch = depth * math.tan(half)
        contour = Contour.from_points(
            [(0, 0), (40, 0), (40, 40), (20 + notch, 40), (20, 10), (20 - notch, 40), (0, 40)]
        )
        try:
            grown = offset(contour, 0.11)
        except GeometryError:
            continue
        assert contour.distance_to(grown.sample(9)) == pytest.approx(0.11, abs=1e-6)


def test_a_tangency_is_no_corner():
    tangent = NAMED["english_point"]
    grown = offset(tangent, 0.5)
    # two sharp corners at the square end, every joint of the tip tangent
    assert len(grown) == len(tangent) + 2
    assert np.isclose(grown.length, tangent.length + math.pi, rtol=1e-12)
