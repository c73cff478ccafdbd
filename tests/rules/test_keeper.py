"""How much strap a layer needs to climb over a keeper."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, strategies as st

from strapwright.rules.keeper import rise_that_closes, way_to_close

RADII = st.floats(1.5, 12)


@given(radius=RADII, share=st.floats(0.05, 1.9))
def test_two_bends_of_the_radius_just_fit_on_the_way_that_closes(radius, share):
    # by construction: a line that climbs by z over w at φ, rounded at either end; each bend takes R tan(φ/2)
    rise = share * radius
    way = way_to_close(rise, radius)
    slope = math.asin(rise / way)
    assert 2 * radius * math.tan(slope / 2) == pytest.approx(way)
    assert rise_that_closes(way, radius) == pytest.approx(rise)


@given(radius=RADII, rise=st.floats(0.1, 8), more=st.floats(0.1, 8))
def test_a_thicker_keeper_a_tighter_bend_forbidden_or_a_shorter_way_close_less(radius, rise, more):
    way = way_to_close(rise, radius)
    assert way >= rise
    assert way_to_close(rise + more, radius) > way
    assert way_to_close(rise, radius + more) >= way - 1e-9
    assert rise_that_closes(way + more, radius) > rise_that_closes(way, radius)
