"""Leather choice: windows by use and their edges, ounces beside millimetres, prong against strap."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from strapwright.core.units import parse_length
from strapwright.rules.leather import USUAL_THICKNESS, edge_beveler, ounces, side_by_side, strap_for_prong

THICKNESSES = st.floats(0.8, 12)


def oz(value):
    return parse_length(f"{value} oz", ounces=True)


@pytest.mark.parametrize(
    ("weight", "uses"),
    [
        # a supplier's guide to measuring leather: 8 to 10 oz is belt leather, 7 to 8 oz average, 11 to 12
        # heavy; a magazine's how-to says the same of belts (common practice)
        (7, {"dress", "work"}),
        (8, {"dress", "work"}),
        (9, {"work", "load_carrying"}),
        (10, {"work", "load_carrying"}),
        (11, {"load_carrying"}),
        (12, {"load_carrying"}),
        # below and above all of them
        (4, set()),
        (13, set()),
    ],
)
def test_a_weight_of_leather_suits_its_uses(weight, uses):
    assert {use for use, window in USUAL_THICKNESS.items() if window.side(oz(weight)) == "within"} == uses


@pytest.mark.parametrize("use", USUAL_THICKNESS)
def test_each_window_has_two_sides_and_forgives_a_step_of_the_gauge(use):
    window = USUAL_THICKNESS[use]
    assert window.side(window.low - 0.09) == window.side(window.high + 0.09) == "within"
    assert window.side(window.low - 0.11) == "thin"
    assert window.side(window.high + 0.11) == "thick"


def test_heavier_uses_ask_for_thicker_leather():
    windows = [USUAL_THICKNESS[use] for use in ("dress", "work", "load_carrying")]
    assert windows == sorted(windows, key=lambda window: (window.least, window.most))


def test_both_ends_of_a_window_are_said_in_millimetres_and_ounces():
    assert {use: str(window) for use, window in USUAL_THICKNESS.items()} == {
        "dress": "2.0 to 3.2 mm (5 to 8 oz)",
        "work": "2.8 to 4.0 mm (7 to 10 oz)",
        "load_carrying": "3.6 to 4.8 mm (9 to 12 oz)",
    }


@given(t=THICKNESSES)
def test_what_is_said_side_by_side_means_the_same_to_half_a_step(t):
    mm, weight = side_by_side(t).rstrip(" oz)").split(" mm (")
    assert float(mm) == pytest.approx(t, abs=0.05 + 1e-9)
    assert oz(weight) == pytest.approx(t, abs=0.25 * oz(1) + 1e-9)
    assert oz(1) * ounces(t) == pytest.approx(t)


@given(t=THICKNESSES, more=st.floats(0, 4))
def test_thicker_leather_never_takes_a_smaller_beveler(t, more):
    assert (edge_beveler(t + more) or 0) >= (edge_beveler(t) or 0)


@given(p=st.floats(1, 15), more=st.floats(0.01, 4))
def test_a_thicker_prong_wants_a_thicker_strap(p, more):
    assert strap_for_prong(p) < strap_for_prong(p + more)
    assert strap_for_prong(p) < p
