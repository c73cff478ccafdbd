"""Strap width from a callipered opening: common practice, no published source."""

from __future__ import annotations

import pytest

from strapwright.rules.sizing import last_hole_to_tip, size_from_trousers, strap_width


@pytest.mark.parametrize(("opening", "width"), [(40.0, 38.0), (46.0, 44.0), (49.0, 47.0)])
def test_the_strap_is_two_millimetres_narrower_than_the_opening(opening, width):
    assert strap_width(opening, 2.0) == width


def test_a_trouser_size_adds_two_inches():
    # retailers' guides: 34 takes a 36 in belt, fold to middle hole (common practice)
    assert size_from_trousers(34) == pytest.approx(36 * 25.4)


def test_a_saddlers_point_is_two_and_a_half_widths_beyond_the_last_hole():
    # saddlers' traditional rules: last hole to point 2.5 strap widths; 38 mm gives 95 mm
    assert last_hole_to_tip(38.0) == pytest.approx(95.0)
