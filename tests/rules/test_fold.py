"""The fold: where the two layers' holes meet, by a drawn construction, and what must grow with what."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, strategies as st

from strapwright.rules.fold import bend_radius, flat_bar_radius, half_turn, mate, slot_length


def drawn_mate(s, thickness, radius, k, gap):
    """Walk the neutral line: half-turn from the upper tangent, then the tangent that meets the place.

    The front layer runs level at height a above the bar's centre. The clamped place lies ``s − B/2``
    along it, one thickness and the gap below. The turn-back leaves the neutral circle on the tangent
    through that place: found here by stepping round the circle, not by the formula.
    """
    a = radius + k * thickness
    along, height = s - math.pi * a / 2, a - thickness - gap
    low, high = 0.0, 1.5 * math.pi
    for _ in range(200):
        turn = (low + high) / 2  # turned from the top, round the back of the bar
        x, y = -a * math.sin(turn), a * math.cos(turn)
        tx, ty = -math.cos(turn), -math.sin(turn)  # direction of travel there
        side = tx * (height - y) - ty * (along - x)
        ahead = tx * (along - x) + ty * (height - y)
        if side > 0 or ahead < 0:
            low = turn
        else:
            high = turn
    walked = a * turn + math.hypot(along - x, height - y)
    return math.pi * a / 2 - walked


@given(
    b=st.floats(3, 8),
    t=st.floats(2, 5),
    k=st.floats(0.3, 0.6),
    along=st.floats(8, 60),
    gap=st.floats(0, 5),
)
def test_the_mate_is_where_a_drawn_tangent_puts_it(b, t, k, along, gap):
    radius = bend_radius(b, 0.25)
    s = half_turn(t, radius, k) / 2 + along
    assert mate(s, t, radius, k, gap) == pytest.approx(drawn_mate(s, t, radius, k, gap), abs=1e-6)


def test_the_worked_example_misses_its_mirror_by_a_millimetre():
    radius = bend_radius(5.0, 0.25)
    s = half_turn(3.2, radius, 0.5) / 2 + 15
    assert s == pytest.approx(21.83, abs=0.005)
    assert mate(s, 3.2, radius, 0.5) == pytest.approx(-22.84, abs=0.005)


def test_a_hole_on_the_bar_has_no_mate():
    with pytest.raises(ValueError, match="is on the bar; expected more than"):
        mate(5.0, 3.6, 2.75, 0.5)


@given(t=st.floats(1, 6), more=st.floats(0, 2), r=st.floats(1, 8), k=st.floats(0.3, 0.6))
def test_thicker_leather_never_shortens_the_fold(t, more, r, k):
    assert half_turn(t + more, r, k) >= half_turn(t, r, k)


@given(b=st.floats(2, 10), p=st.floats(1, 6), t=st.floats(1, 6))
def test_a_slot_is_longer_than_the_half_turn_by_its_play_and_whole(b, p, t):
    r = bend_radius(b, 0.25)
    turn = half_turn(t, r, 0.5)
    length = slot_length(turn, b / 2, r, p)
    assert isinstance(length, int)
    assert length >= turn + 2 - 1e-9


def test_a_flat_bars_half_turn_is_half_its_perimeter_and_the_leathers_share():
    assert half_turn(3.0, flat_bar_radius(6, 3), 0.5) == pytest.approx(9 + math.pi * 1.5)
