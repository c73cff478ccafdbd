"""Leather's strength against published ranges, and belt joints against an old handbook.

Sources:

- Leather encyclopaedia, "Tensile strength, tear strength": cattle leather 8 to 25 N/mm².
- "Bookbinding and the Conservation of Books", a dictionary, "tensile strength": most leathers 2000 to
  6000 psi.
- "Modern Shop Practice", vol. 1, "Strength of Leather Belting": belting leather 3000 to 5000 psi; a laced
  joint has 7/10, a metal fastener 1/2 of the full strength.
- A textbook of 1903, quoted on a web page: a single belt breaks at 200 lb an inch of width through the
  lace holes; "Applied Science", an old handbook: a single belt is 3/16 in thick.
- "Test requirement for fancy and fine leather", a table that names no source: vegetable leather at least
  1000 N/cm² up to 1.25 mm, 1500 N/cm² above.

The sizes of lace holes below, 1/4 to 5/16 in at 7/8 to 1 in, are from memory; so the checks that use them
are of the order of magnitude, with their tolerance stated beside each.
"""

from __future__ import annotations

import itertools

import pytest

from strapwright.rules.leather import Tannage
from strapwright.rules.strength import (
    BEARING_SHARE,
    SHEAR_SHARE,
    bearing_area,
    net_section,
    pull,
    tear_out_area,
    tensile_strength,
)

INCH = 25.4
NEWTONS_PER_POUND = 4.4482216152605
PSI = NEWTONS_PER_POUND / INCH**2

CATTLE = (8.0, 25.0)
MOST_LEATHERS = (2000 * PSI, 6000 * PSI)
BELTING = (3000 * PSI, 5000 * PSI)
SINGLE_BELT = 3 / 16 * INCH
LEATHERS = [tannage for tannage in Tannage if tannage is not Tannage.SYNTHETIC]

LACE_HOLES = list(itertools.product((1 / 4 * INCH, 5 / 16 * INCH), (7 / 8 * INCH, INCH)))
"""Diameter and distance across the belt, mm; from memory."""


def overlap(one, other):
    return max(one[0], other[0]) < min(one[1], other[1])


@pytest.mark.parametrize("tannage", LEATHERS)
@pytest.mark.parametrize("thickness", [1.0, 2.4, 3.6, 5.0])
def test_every_leathers_range_lies_within_the_encyclopaedias_and_meets_the_dictionarys(tannage, thickness):
    low, high = tensile_strength(tannage, thickness)
    assert CATTLE[0] <= low < high <= CATTLE[1]
    assert overlap((low, high), MOST_LEATHERS)


def test_vegetable_leather_meets_belting_leather_which_is_tanned_alike():
    assert overlap(tensile_strength(Tannage.VEGETABLE, SINGLE_BELT), BELTING)


@pytest.mark.parametrize(("thickness", "newtons_per_cm2"), [(1.25, 1000), (1.26, 1500), (3.6, 1500)])
def test_vegetable_leathers_least_is_what_the_requirement_table_asks(thickness, newtons_per_cm2):
    assert tensile_strength(Tannage.VEGETABLE, thickness)[0] == pytest.approx(newtons_per_cm2 / 100)


def test_a_strap_without_holes_has_the_strength_its_test_piece_had():
    # ISO 3376: strength is the force over width and thickness of the piece
    low, high = pull(net_section(10.0, 0, 5.0, 2.0), BELTING)
    assert (low / (10.0 * 2.0), high / (10.0 * 2.0)) == pytest.approx(BELTING)


@pytest.mark.parametrize(("diameter", "across"), LACE_HOLES)
def test_a_row_of_lace_holes_keeps_about_the_handbooks_share_of_the_belt(diameter, across):
    # the handbook: 0.5 (metal fastener) to 0.7 (laced); tolerance 0.1, for holes whose size is from memory
    width = 6 * across
    kept = net_section(width, 6, diameter, SINGLE_BELT) / net_section(width, 0, diameter, SINGLE_BELT)
    assert 0.5 - 0.1 <= kept <= 0.7 + 0.1


@pytest.mark.parametrize(("diameter", "across"), LACE_HOLES)
def test_a_laced_single_belt_breaks_near_200_pounds_an_inch(diameter, across):
    # tolerance: a tenth under the low estimate, nothing over the high one
    published = 200 * NEWTONS_PER_POUND / INCH * across
    edge = 3 / 4 * INCH - diameter / 2  # of the nearest holes to the belt's end, from memory
    modes = [
        pull(net_section(across, 1, diameter, SINGLE_BELT), BELTING),
        pull(bearing_area(1, diameter, SINGLE_BELT), BELTING, stands=BEARING_SHARE),
        pull(tear_out_area(1, edge, SINGLE_BELT), BELTING, stands=SHEAR_SHARE),
    ]
    low, high = min(modes)
    assert 0.9 * low <= published <= high
    # and the whole joint, by the handbook's own share of the full section, is no more than four times it
    full = pull(net_section(across, 0, diameter, SINGLE_BELT), BELTING)
    assert published <= 0.7 * full[1] <= 4 * published
