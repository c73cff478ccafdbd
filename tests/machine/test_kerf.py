"""The width of the cut: from the measured rows, by hand, or refused."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, strategies as st
from tests.machine.layouts import knife, laser

from strapwright.core.errors import PlanError
from strapwright.machine.kerf import find_kerf, rows_in_use, standing
from strapwright.machine.profile.machine import machine_from
from strapwright.rules.leather import Tannage

VEGETABLE = Tannage.VEGETABLE


@pytest.mark.parametrize(
    ("thickness", "width"), [(2.0, 0.16), (4.0, 0.24), (3.0, 0.20), (3.6, 0.224), (1.96, 0.16), (4.04, 0.24)]
)
def test_measured_and_in_between(thickness, width):
    assert find_kerf(laser(), VEGETABLE, thickness).width == pytest.approx(width, abs=1e-12)


@given(st.floats(1.95, 4.05))
def test_an_interpolated_kerf_lies_between_the_measured_ones(thickness):
    assert 0.16 <= find_kerf(laser(), VEGETABLE, thickness).width <= 0.24


@pytest.mark.parametrize("thickness", [1.94, 4.06, 5.0])
def test_beyond_the_measured_range_it_is_refused(thickness):
    with pytest.raises(PlanError) as caught:
        find_kerf(laser(), VEGETABLE, thickness)
    assert str(caught.value) == (
        "machine 'test laser' has its kerf in vegetable leather measured from 2 to 4 mm, not at "
        f"{thickness:.2f} mm; cut a test piece: strapwright kerf coupon --machine laser.toml --material "
        f"vegetable --thickness {thickness:g}mm --out coupon, or give the width with --kerf"
    )


def test_a_leather_never_measured_is_refused():
    with pytest.raises(PlanError) as caught:
        find_kerf(laser(), Tannage.CHROME, 3.0)
    assert str(caught.value) == (
        "machine 'test laser' has no kerf measured in chrome leather; cut a test piece: strapwright kerf "
        "coupon --machine laser.toml --material chrome --thickness 3mm --out coupon, or give the width with "
        "--kerf"
    )


def test_by_hand_wins_over_what_was_measured():
    assert find_kerf(laser(), VEGETABLE, 3.0, 0.31).width == 0.31
    assert find_kerf(laser(), Tannage.CHROME, 9.0, 2.0).width == 2.0


@pytest.mark.parametrize("width", [0.0, -0.2, 2.001, float("nan"), float("inf")])
def test_by_hand_it_must_be_a_width(width):
    with pytest.raises(PlanError, match=r"expected a width over 0 and up to 2 mm"):
        find_kerf(laser(), VEGETABLE, 3.0, width)


def test_a_blade_takes_nothing_away():
    assert find_kerf(knife(), Tannage.UNKNOWN, 9.0).width == 0.0
    with pytest.raises(PlanError) as caught:
        find_kerf(knife(), VEGETABLE, 3.0, 0.2)
    assert str(caught.value) == (
        "--kerf 0.2 mm: the blade of 'test knife' takes no leather away; leave --kerf out for a drag knife"
    )


def measured_laser(*rows: tuple[float, float, str], **limits: int):
    """A laser with rows of (thickness, width, day) in vegetable leather."""
    table = {"name": "test laser", "kind": "laser", "bed": [1000, 600]}
    kerf = [
        {"material": "vegetable", "thickness": t, "width": w, "measured": date.fromisoformat(day)}
        for t, w, day in rows
    ]
    return machine_from({"machine": table, "limits": limits, "kerf": kerf}, "my laser.toml")


def test_the_newest_row_of_a_leather_counts_wherever_it_stands_in_the_file():
    machine = measured_laser(
        (3.0, 0.30, "2026-05-01"),
        (3.0, 0.20, "2026-04-01"),
        (4.0, 0.26, "2026-01-01"),
        (4.02, 0.4, "2026-06-01"),
    )
    assert find_kerf(machine, VEGETABLE, 3.0).width == 0.30
    assert [row.width for row in rows_in_use(machine.kerf, VEGETABLE)] == [0.30, 0.4]
    assert rows_in_use(machine.kerf, Tannage.CHROME) == ()


def test_a_row_half_a_graduation_of_the_gauge_away_is_another_thickness():
    rows = (3.0, 0.2, "2026-05-01"), (3.05, 0.3, "2026-04-01"), (3.099, 0.4, "2026-06-01")
    machine = measured_laser(*rows)
    assert [row.width for row in rows_in_use(machine.kerf, VEGETABLE)] == [0.2, 0.4]  # 0.049 mm is the same
    assert [row.width for row in rows_in_use(machine.kerf[:2], VEGETABLE)] == [0.2, 0.3]
    assert find_kerf(measured_laser(*rows[:2]), VEGETABLE, 3.025).width == pytest.approx(0.25)


def test_of_two_rows_of_one_day_the_later_in_the_file_counts():
    assert (
        find_kerf(measured_laser((3, 0.3, "2026-05-01"), (3, 0.2, "2026-05-01")), VEGETABLE, 3.0).width == 0.2
    )
    assert (
        find_kerf(measured_laser((3, 0.2, "2026-05-01"), (3, 0.3, "2026-05-01")), VEGETABLE, 3.0).width == 0.3
    )


def test_the_rows_a_width_was_found_from_are_told():
    machine = measured_laser((2, 0.1, "2026-05-01"), (3, 0.2, "2026-05-01"), (4, 0.4, "2026-05-01"))
    assert [row.thickness for row in find_kerf(machine, VEGETABLE, 3.5).rows] == [3, 4]
    assert [row.thickness for row in find_kerf(machine, VEGETABLE, 3.0).rows] == [3]
    assert [row.thickness for row in find_kerf(machine, VEGETABLE, 4.04).rows] == [4]
    assert [row.thickness for row in find_kerf(machine, VEGETABLE, 1.96).rows] == [2]
    assert find_kerf(machine, VEGETABLE, 3.0, 0.5).rows == ()


def test_a_row_older_than_the_profile_allows_stops_planning_unless_the_kerf_is_given_by_hand():
    machine = measured_laser((2, 0.1, "2026-05-01"), (4, 0.4, "2026-01-01"), kerf_max_age_days=90)
    today = date(2026, 5, 2)
    assert find_kerf(machine, VEGETABLE, 2.0, today=today).width == 0.1
    with pytest.raises(PlanError) as caught:
        find_kerf(machine, VEGETABLE, 3.0, today=today)
    assert str(caught.value) == (
        "machine 'test laser' had its kerf in vegetable leather of 4 mm measured on 2026-01-01, 121 days "
        "ago; its profile allows 90 days; cut a test piece: strapwright kerf coupon --machine "
        "'my laser.toml' --material vegetable --thickness 3mm --out coupon, or give the width with --kerf"
    )
    assert find_kerf(machine, VEGETABLE, 3.0, 0.2, today=today).width == 0.2
    assert find_kerf(machine, VEGETABLE, 4.0, today=date(2026, 4, 1)).width == 0.4  # the 90th day


def test_without_a_limit_any_age_will_do():
    assert find_kerf(measured_laser((3, 0.2, "1999-01-01")), VEGETABLE, 3.0).width == 0.2


def test_of_two_rows_of_one_day_it_is_said_which_was_replaced():
    machine = measured_laser((3, 0.3, "2026-05-01"), (3, 0.2, "2026-05-01"))
    assert standing(machine.kerf[0], machine) == ("history", "replaced by one further down of that day")


def test_why_a_row_counts_or_does_not():
    machine = measured_laser(
        (3, 0.3, "2026-01-01"), (3, 0.2, "2026-05-01"), (4, 0.26, "2026-01-01"), kerf_max_age_days=90
    )
    assert [standing(row, machine, date(2026, 5, 2)) for row in machine.kerf] == [
        ("history", "replaced by the one of 2026-05-01"),
        ("in use", "the newest of its thickness"),
        ("too old", "121 days old; the profile allows 90"),
    ]
