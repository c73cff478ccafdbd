"""Strength and stiffness: sections against a drawn strap, ratios against a summed section, what must grow."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, strategies as st

from strapwright.rules.leather import Tannage
from strapwright.rules.strength import (
    CAUTION,
    LEG_SHARE,
    SHEAR_SHARE,
    Mode,
    bearing_area,
    net_section,
    pull,
    roll_ratio,
    sag_ratio,
    tear_out_area,
    tear_out_length,
    tensile_strength,
    weakest_first,
)

WIDTHS = st.floats(10, 80)
THICKNESSES = st.floats(0.8, 8)
GROWTHS = st.floats(0, 4)
HOLES = st.integers(0, 4)
DIAMETERS = st.floats(1, 12)
TANNAGES = st.sampled_from(Tannage)


def drawn_strap(width, holes):
    """A length of strap with round holes ``(x, y, diameter)``, drawn as a polygon."""
    from shapely.geometry import Point, box

    strap = box(-60, -width / 2, 60, width / 2)
    for x, y, d in holes:
        strap = strap.difference(Point(x, y).buffer(d / 2, quad_segs=256))
    return strap


@pytest.mark.parametrize(
    ("width", "ys", "d"), [(44, (0,), 5.5), (44, (-11, 11), 5), (52, (-10, 10), 6), (12, (0,), 4)]
)
def test_the_net_section_is_the_narrowest_cut_across_a_drawn_strap(width, ys, d):
    from shapely.geometry import LineString

    strap = drawn_strap(width, [(0, y, d) for y in ys])
    cuts = [LineString([(x, -100), (x, 100)]).intersection(strap).length for x in np.linspace(-8, 8, 161)]
    assert net_section(width, len(ys), d, 3.6) == pytest.approx(3.6 * min(cuts), rel=1e-4)


@pytest.mark.parametrize(("pitch", "d", "tip"), [(25, 5.5, 110), (25.4, 4, 95), (12, 6, 30)])
def test_tear_out_lengths_are_the_leather_on_the_centre_line_of_a_drawn_strap(pitch, d, tip):
    from shapely.geometry import LineString

    strap = drawn_strap(40, [(-pitch, 0, d), (0, 0, d)])
    between = LineString([(-pitch, 0), (0, 0)]).intersection(strap).length
    beyond = LineString([(0, 0), (tip, 0)]).intersection(drawn_strap(40, [(0, 0, d)])).length
    reached = min(tip, 60) - d / 2  # the drawn strap ends at 60
    assert tear_out_length(pitch, d, tip, last=False) == pytest.approx(between, rel=1e-3)
    assert tear_out_length(pitch, d, min(tip, 60), last=True) == pytest.approx(beyond, rel=1e-3)
    assert beyond == pytest.approx(reached, rel=1e-3)


def test_holes_that_leave_no_leather_leave_no_strength():
    assert net_section(12, 2, 7, 3.6) == 0.0
    assert tear_out_length(5, 6, 2, last=False) == tear_out_length(25, 6, 2, last=True) == 0.0


def test_the_pulls_of_a_work_belt_by_hand():
    # 44 × 3.6 mm vegetable strap, 5.5 mm holes 25 mm apart, 4.5 mm prong, 6 mm slot, 15 to 25 N/mm²
    veg = tensile_strength(Tannage.VEGETABLE, 3.6)
    assert veg == (15.0, 25.0)
    assert pull(net_section(44, 1, 5.5, 3.6), veg) == pytest.approx((2079, 3465))
    assert pull(bearing_area(1, 4.5, 3.6), veg) == pytest.approx((243, 405))
    tear = tear_out_area(1, tear_out_length(25, 5.5, 110, last=False), 3.6)
    assert pull(tear, veg, stands=SHEAR_SHARE) == pytest.approx((1053, 1755))
    # two legs of 38 mm: each carries half
    assert pull(net_section(44, 1, 6, 3.6), veg, carries=LEG_SHARE) == pytest.approx((4104, 6840))


def test_two_prongs_share_the_pull():
    assert bearing_area(2, 4.5, 3.6) == 2 * bearing_area(1, 4.5, 3.6)
    assert tear_out_area(2, 19.5, 3.6) == 2 * tear_out_area(1, 19.5, 3.6)


def test_synthetic_stock_has_no_strength_of_leather():
    assert tensile_strength(Tannage.SYNTHETIC, 3.6) is None


@given(tannage=TANNAGES.filter(lambda one: one is not Tannage.SYNTHETIC), t=THICKNESSES)
def test_every_leather_has_a_range_with_its_low_end_first(tannage, t):
    low, high = tensile_strength(tannage, t)
    assert 0 < low < high


@given(w=WIDTHS, n=HOLES, d=DIAMETERS, t=THICKNESSES, more=GROWTHS, e=st.floats(0, 60))
def test_thicker_leather_is_never_weaker(w, n, d, t, more, e):
    thin, thick = tensile_strength(Tannage.VEGETABLE, t), tensile_strength(Tannage.VEGETABLE, t + more)
    for area in (
        lambda t: net_section(w, n, d, t),
        lambda t: bearing_area(n, d, t),
        lambda t: tear_out_area(n, e, t),
    ):
        assert pull(area(t + more), thick) >= pull(area(t), thin)


@given(w=WIDTHS, n=HOLES, d=DIAMETERS, t=THICKNESSES)
def test_more_holes_abreast_never_leave_a_stronger_strap(w, n, d, t):
    assert net_section(w, n + 1, d, t) <= net_section(w, n, d, t)


@given(w=WIDTHS, n=HOLES, d=DIAMETERS, t=THICKNESSES, more=GROWTHS)
def test_a_wider_strap_is_never_weaker_nor_a_larger_hole_stronger(w, n, d, t, more):
    assert net_section(w + more, n, d, t) >= net_section(w, n, d, t)
    assert net_section(w, n, d + more, t) <= net_section(w, n, d, t)


@given(pitch=st.floats(8, 80), d=DIAMETERS, tip=st.floats(30, 200), more=GROWTHS, last=st.booleans())
def test_holes_further_apart_never_tear_out_sooner(pitch, d, tip, more, last):
    least = tear_out_length(pitch, d, tip, last=last)
    assert tear_out_length(pitch + more, d, tip + more, last=last) >= least
    assert tear_out_length(pitch, d + more, tip, last=last) <= least


@given(area=st.floats(1, 1000), carries=st.floats(0.1, 1), stands=st.floats(0.1, 1))
def test_a_place_that_carries_a_share_lets_the_belt_pull_the_inverse_of_it(area, carries, stands):
    low, high = pull(area, (15.0, 25.0), stands=stands, carries=carries)
    assert low * carries / area == pytest.approx(15.0 * stands)
    assert high / low == pytest.approx(25 / 15)


def test_the_lowest_governs():
    modes = [Mode(name, name, "", "", low, 2 * low) for name, low in (("a", 900), ("b", 240), ("c", 500))]
    assert [mode.name for mode in weakest_first(modes)] == ["b", "c", "a"]


def test_the_caution_says_what_it_is_and_what_it_is_never_for():
    for words in ("estimate", "published ranges", "varies", "climbing, lifting or fall arrest", "licensed"):
        assert words in CAUTION


def second_moment(across, along):
    """∫ y² dA of a rectangle about its middle, summed over 4000 strips."""
    edges = np.linspace(-across / 2, across / 2, 4001)
    middles = (edges[1:] + edges[:-1]) / 2
    return float(np.sum(middles**2) * (edges[1] - edges[0]) * along)


@given(w=WIDTHS, t=THICKNESSES)
def test_the_ratios_are_those_of_summed_second_moments(w, t):
    assert sag_ratio(w, t) == pytest.approx(second_moment(38, 3.6) / second_moment(w, t), rel=1e-6)
    assert roll_ratio(w, t) == pytest.approx(second_moment(3.6, 38) / second_moment(t, w), rel=1e-6)


@given(w=WIDTHS, t=THICKNESSES, more=st.floats(0.01, 4))
def test_wider_and_thicker_straps_sag_and_roll_less(w, t, more):
    assert sag_ratio(w + more, t) < sag_ratio(w, t)
    assert sag_ratio(w, t + more) < sag_ratio(w, t)
    assert roll_ratio(w + more, t) < roll_ratio(w, t)
    assert roll_ratio(w, t + more) < roll_ratio(w, t)
