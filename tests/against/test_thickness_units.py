"""Leather's ounces and inches against published conversion tables.

Sources:

- "Leather thickness conversion chart" of a leather supplier: a table of 1 to 16 oz in millimetres,
  rounded by the source to 0.1 or 0.4 mm steps; and 1 oz = 1/64 in, on which several guides agree.
- "Leather thickness conversion chart" of a tannery trader: ounces with fractions in millimetres.
- "Leather conversions" of a leather shop: 16 oz = 1/4 in; 6 oz = 4.5 iron, 12 iron = 16 oz.
- Wholesaler's belt table "Measure belt": inches to whole centimetres.
- Hardware supplier's page "How are buckles measured": nominal webbing sizes, inches and millimetres.
"""

from __future__ import annotations

import pytest

from strapwright.core.units import MM_PER_OUNCE, parse_length

SIXTEEN_ROWS = (0.4, 0.8, 1.2, 1.6, 2.0, 2.4, 2.8, 3.2, 3.6, 4.0, 4.4, 4.8, 5.2, 5.6, 6.0, 6.4)

TRADER_ROWS = {
    "0.75 oz": 0.30,
    "0.875 oz": 0.35,
    "1 oz": 0.40,
    "1 1/4 oz": 0.5,
    "1 1/2 oz": 0.6,
    "2 oz": 0.8,
    "2 1/2 oz": 1.0,
    "3 oz": 1.2,
    "3 1/2 oz": 1.4,
    "3 3/4 oz": 1.5,
    "4 oz": 1.6,
    "4 1/2 oz": 1.8,
    "5 oz": 2.0,
}

INCHES_TO_CM = {32: 81, 34: 86, 36: 91, 38: 97, 40: 102, 42: 107, 44: 112, 46: 117, 48: 122, 50: 127, 52: 132}

WEBBING = {"1/2 in": 12, "1 in": 25, "1 1/4 in": 32, "1 1/2 in": 38, "1 3/4 in": 44, "2 in": 50}


def test_an_ounce_is_a_64th_of_an_inch() -> None:
    assert parse_length("1 oz", ounces=True) == 0.396875
    assert parse_length("1 oz", ounces=True) == parse_length("1/64 in") == MM_PER_OUNCE


@pytest.mark.parametrize(("ounces", "mm"), list(enumerate(SIXTEEN_ROWS, start=1)))
def test_the_suppliers_table_of_sixteen_rows_is_met_within_its_rounding(ounces: int, mm: float) -> None:
    assert parse_length(f"{ounces} oz", ounces=True) == pytest.approx(mm, abs=0.0501)


@pytest.mark.parametrize(("text", "mm"), TRADER_ROWS.items())
def test_the_tannery_traders_table_is_met_within_its_rounding(text: str, mm: float) -> None:
    assert parse_length(text, ounces=True) == pytest.approx(mm, abs=0.016)


def test_sixteen_ounces_are_a_quarter_inch_and_six_are_four_and_a_half_iron() -> None:
    iron = parse_length("1/48 in")
    assert parse_length("16 oz", ounces=True) == parse_length("1/4 in") == pytest.approx(12 * iron)
    assert parse_length("6 oz", ounces=True) == pytest.approx(4.5 * iron)


@pytest.mark.parametrize(("inches", "cm"), INCHES_TO_CM.items())
def test_the_wholesalers_whole_centimetres_are_the_inches_rounded(inches: int, cm: int) -> None:
    assert round(parse_length(f"{inches} in") / 10) == cm


@pytest.mark.parametrize(("text", "nominal"), WEBBING.items())
def test_nominal_webbing_sizes_lie_within_a_millimetre_of_their_inches(text: str, nominal: int) -> None:
    assert parse_length(text) == pytest.approx(nominal, abs=0.8)
