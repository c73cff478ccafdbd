"""The half-turn formula against published bend-allowance examples (same formula, other K and angle).

Sources: sheet-metal workbook, "90 Degree Bends" (T 0.050 in, R 0.032 in); US Navy Aviation Structural
Mechanic training manual, chapter on bend allowance, formula (0.0173 R + 0.0078 T) N; Machinery's
Handbook, bend allowance with K as quoted in CAD help.
"""

from __future__ import annotations

import math

import pytest

from strapwright.rules.fold import fold_strain, half_turn

NAVY_K = 0.0078 / (math.pi / 180)
"""The neutral-axis share that the Navy's rounded constants imply: 0.4469."""


def test_the_navy_formula_gives_the_workbooks_allowance_for_ninety_degrees():
    # .085 in is printed; the formula with the workbook's own constants gives .0853.
    ninety = half_turn(0.050, 0.032, NAVY_K) / 2
    assert ninety == pytest.approx((0.0078 * 0.050 + 0.01743 * 0.032) * 90, abs=1e-4)
    assert ninety == pytest.approx(0.085, abs=5e-4)


def test_the_workbooks_flat_length_follows_from_the_allowance():
    thickness, radius = 0.050, 0.032
    deduction = 2 * (thickness + radius) - half_turn(thickness, radius, NAVY_K) / 2
    assert deduction == pytest.approx(0.079, abs=5e-4)
    assert 0.740 + 0.420 + 1.050 + 1.000 - 3 * deduction == pytest.approx(2.973, abs=2e-3)


@pytest.mark.parametrize(("y_factor", "k_factor"), [(0.55, 0.35), (0.64, 0.41), (0.71, 0.45)])
def test_the_handbooks_y_factors_are_its_k_factors_times_half_pi(y_factor, k_factor):
    # Y is the allowance of a 90° bend of unit thickness about no radius at all.
    assert half_turn(1.0, 0.0, k_factor) / 2 == pytest.approx(y_factor, abs=0.005)


def test_a_fold_about_its_own_thickness_strains_a_third():
    # elementary bending: R = T gives T / (2 R + T) = 33 %
    assert fold_strain(3.6, 3.6) == pytest.approx(1 / 3)


def test_half_a_thickness_of_radius_keeps_to_the_fifty_per_cent_of_the_mandrel_bend():
    # A published requirement for vegetable leather allows 50 % elongation; R = T/2 is where it is reached.
    assert fold_strain(4.0, 2.0) == pytest.approx(0.5)
