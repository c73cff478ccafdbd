"""The width of the cut: from the measured rows, by hand, or refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.machine.layouts import knife, laser

from strapwright.errors import PlanError
from strapwright.machine.kerf import kerf_for
from strapwright.trade.leather import Tannage

VEGETABLE = Tannage.VEGETABLE


@pytest.mark.parametrize(
    ("thickness", "width"), [(2.0, 0.16), (4.0, 0.24), (3.0, 0.20), (3.6, 0.224), (1.96, 0.16), (4.04, 0.24)]
)
def test_measured_and_in_between(thickness, width):
    assert kerf_for(laser(), VEGETABLE, thickness) == pytest.approx(width, abs=1e-12)


@given(st.floats(1.95, 4.05))
def test_an_interpolated_kerf_lies_between_the_measured_ones(thickness):
    assert 0.16 <= kerf_for(laser(), VEGETABLE, thickness) <= 0.24


@pytest.mark.parametrize("thickness", [1.94, 4.06, 5.0])
def test_beyond_the_measured_range_it_is_refused(thickness):
    with pytest.raises(PlanError) as caught:
        kerf_for(laser(), VEGETABLE, thickness)
    assert str(caught.value) == (
        "machine 'test laser' has its kerf in vegetable leather measured from 2 to 4 mm, not at "
        f"{thickness:.2f} mm; measure a cut and add a [[kerf]] row to the profile, or give the width with "
        "--kerf"
    )


def test_a_leather_never_measured_is_refused():
    with pytest.raises(PlanError) as caught:
        kerf_for(laser(), Tannage.CHROME, 3.0)
    assert str(caught.value) == (
        "machine 'test laser' has no kerf measured in chrome leather; measure a cut and add a [[kerf]] row "
        "to the profile, or give the width with --kerf"
    )


def test_by_hand_wins_over_what_was_measured():
    assert kerf_for(laser(), VEGETABLE, 3.0, 0.31) == 0.31
    assert kerf_for(laser(), Tannage.CHROME, 9.0, 2.0) == 2.0


@pytest.mark.parametrize("width", [0.0, -0.2, 2.001, float("nan"), float("inf")])
def test_by_hand_it_must_be_a_width(width):
    with pytest.raises(PlanError, match=r"expected a width over 0 and up to 2 mm"):
        kerf_for(laser(), VEGETABLE, 3.0, width)


def test_a_blade_takes_nothing_away():
    assert kerf_for(knife(), Tannage.UNKNOWN, 9.0) == 0.0
    with pytest.raises(PlanError) as caught:
        kerf_for(knife(), VEGETABLE, 3.0, 0.2)
    assert str(caught.value) == (
        "--kerf 0.2 mm: the blade of 'test knife' takes no leather away; leave --kerf out for a drag knife"
    )
