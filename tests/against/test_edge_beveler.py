"""Edge beveler numbers against a craft page's table.

Source: "How to bevel leather edges", a craft page: number 1 for 2 to 4 oz, number 2 for 5 to 7 oz, number
3 for 8 oz and up, the largest it knows. Common practice: makers of tools number them otherwise. The page puts
leather of 4 mm and of 10 mm to one number; its steps of three ounces, carried on, tell them apart.
"""

from __future__ import annotations

import pytest

from strapwright.core.units import parse_length
from strapwright.rules.leather import edge_beveler

BY_OUNCE = {2: 1, 3: 1, 4: 1, 5: 2, 6: 2, 7: 2, 8: 3, 9: 3, 10: 3}

CARRIED_ON = {11: 4, 13: 4, 14: 5, 16: 5, 17: 6, 23: 8, 30: 10}
"""From 11 oz on by the page's own steps, up to the thickest leather a job takes."""


@pytest.mark.parametrize(("weight", "number"), (BY_OUNCE | CARRIED_ON).items())
def test_the_number_goes_by_the_weight(weight: int, number: int) -> None:
    assert edge_beveler(parse_length(f"{weight} oz", ounces=True)) == number


# the page is silent between whole ounces; a supplier's chart rounds 2 to 8 oz to these millimetres
@pytest.mark.parametrize(
    ("mm", "number"),
    [(0.8, 1), (1.2, 1), (1.6, 1), (2.0, 2), (2.4, 2), (2.8, 2), (3.2, 3), (3.6, 3)],
)
def test_the_number_is_the_same_for_the_millimetres_of_the_suppliers_chart(mm: float, number: int) -> None:
    assert edge_beveler(mm) == number


def test_thick_leather_has_numbers_of_its_own() -> None:
    assert [edge_beveler(mm) for mm in (3.6, 4.8, 5.6, 9.0)] == [3, 4, 5, 8]


@pytest.mark.parametrize("mm", [0.3, 0.4, 0.5])
def test_leather_thinner_than_the_table_gets_no_number(mm: float) -> None:
    assert edge_beveler(mm) is None
