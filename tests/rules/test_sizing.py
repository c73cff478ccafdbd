"""From person to hole: the two ways round invert one another, and wider people get longer belts."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, strategies as st

from strapwright.rules.keeper import keeper_length
from strapwright.rules.sizing import (
    Seat,
    doubled_room,
    edge_from_girth,
    edge_from_worn,
    girth_of_edge,
    last_hole_to_tip,
    size_from_trousers,
)

seats = st.builds(
    Seat,
    thickness=st.floats(1.5, 6),
    fold_thickness=st.floats(1.5, 6),
    fold_radius=st.floats(1.5, 6),
    half_turn=st.floats(6, 30),
    hole_seat=st.floats(15, 80),
    turn_back=st.floats(40, 150),
    doubled=st.floats(1.5, 12),
)


@given(seat=seats, girth=st.floats(250, 2000))
def test_girth_to_hole_and_back_is_exact(seat, girth):
    assert girth_of_edge(edge_from_girth(girth, seat), seat) == pytest.approx(girth, rel=1e-11)


@given(seat=seats, worn=st.floats(300, 2000))
def test_a_belt_made_to_its_own_measure_measures_the_same(seat, worn):
    # Fold it: from the outer end of the fold to the edge the prong has worn is s − B/2 + r + t again.
    s = edge_from_worn(worn, seat, seat)
    assert s - seat.half_turn / 2 + seat.fold_radius + seat.fold_thickness == pytest.approx(worn)


@given(seat=seats, girth=st.floats(250, 2000), more=st.floats(0, 100))
def test_a_wider_girth_never_moves_the_hole_inward(seat, girth, more):
    assert edge_from_girth(girth + more, seat) >= edge_from_girth(girth, seat)


def test_a_longer_buckle_on_the_old_belt_lengthens_the_new_strap_by_the_difference():
    seat = Seat(3.6, 3.6, 2.75, 14.294, 40.0, 80.0, 3.6)
    plain = edge_from_worn(1000.0, seat, seat)
    assert edge_from_worn(1000.0, seat, replace(seat, hole_seat=46.0)) == pytest.approx(plain + 6.0)


def test_the_doubled_room_is_the_extra_of_a_line_drawn_over_a_step():
    """Walk the neutral line: an arc raised by h over T, then the tangent down to the body's circle."""
    girth, turn_back, h = 1000.0, 80.0, 3.6
    r = girth / (2 * math.pi)
    over = turn_back / r  # the raised arc spans the turn-back's angle at the body
    ramp_angle = math.acos(r / (r + h))
    ramp = math.sqrt((r + h) ** 2 - r**2)
    extra_one_side = (r + h) * over + ramp - r * (over + ramp_angle)
    # The formula's ramp is the tangent of the raised circle, taken once at each end of the doubling.
    leading = 2 / 3 * math.sqrt(2) * h**1.5 / math.sqrt(r)
    assert extra_one_side == pytest.approx(h * over + leading, rel=0.02)
    assert doubled_room(girth, turn_back, h) == pytest.approx(h * over + 2 * leading, rel=1e-12)


@given(w=st.floats(10, 80), more=st.floats(0, 20))
def test_the_tip_never_shortens_with_width(w, more):
    assert last_hole_to_tip(w + more) >= last_hole_to_tip(w)


@given(
    w=st.floats(10, 80),
    layers=st.floats(2, 15),
    t=st.floats(1, 5),
    more=st.floats(0, 3),
)
def test_thicker_leather_never_shortens_the_keeper(w, layers, t, more):
    assert keeper_length(w, layers + more, t + more, 0.5, 1.0, 1.5) >= keeper_length(
        w, layers, t, 0.5, 1.0, 1.5
    )


def test_trousers_are_two_inches_shorter_than_what_the_belt_is_worn_to():
    assert size_from_trousers(30) == pytest.approx(32 * 25.4)
