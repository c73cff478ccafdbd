"""What a plan takes from the measured rows: kerf, drive, scale, and what it says of them."""

from __future__ import annotations

from datetime import date

import pytest
from tests.machine.layouts import keeper, layout, strap

from strapwright.core.errors import PlanError
from strapwright.machine.kerf import find_kerfs, scale_findings, scale_of
from strapwright.machine.planning import plan
from strapwright.machine.profile.machine import Machine, machine_from
from strapwright.parts.part import Operation
from strapwright.rules.leather import Tannage

DRIVE = {"speed_mm_s": 9, "power_percent": 70, "passes": 2}
CUT = {"layer": "cut", "color": "#009E73", "speed_mm_s": 12, "power_percent": 80, "passes": 1}


def row(thickness: float, width: float, day: str = "2026-05-01", **more: object) -> dict[str, object]:
    leather = {"material": "vegetable", "thickness": thickness, "width": width}
    return leather | {"measured": date.fromisoformat(day)} | more


def laser(*rows: dict[str, object], scale: tuple[dict[str, object], ...] = ()) -> Machine:
    table = {"name": "test laser", "kind": "laser", "bed": [1000, 600]}
    data = {"machine": table, "kerf": rows, "scale": scale, "operation": {"cut": CUT}}
    return machine_from(data, "laser.toml")


def one(machine: Machine, thickness: float = 3.6, by_hand: float | None = None):
    return find_kerfs([(Tannage.VEGETABLE, thickness)], machine, by_hand)


def test_the_cut_is_driven_as_its_kerf_was_measured_and_says_so():
    found = one(laser(row(3.6, 0.2, **DRIVE)))
    cut = found.machine.settings(Operation.CUT)
    assert (cut.speed_mm_s, cut.power_percent, cut.passes) == (9, 70, 2)
    (note,) = found.findings
    assert note.code == "kerf-drive"
    assert note.what == (
        "The cut runs at 9 mm/s, 70 % power, 2 passes, as its kerf was measured, not at 12 mm/s, 80 % power, "
        "1 pass as operation.cut says."
    )


def test_a_row_that_tells_part_of_its_drive_changes_just_that():
    found = one(laser(row(3.6, 0.2, passes=3)))
    cut = found.machine.settings(Operation.CUT)
    assert (cut.speed_mm_s, cut.power_percent, cut.passes) == (12, 80, 3)


@pytest.mark.parametrize("more", [{}, {"speed_mm_s": 12, "power_percent": 80, "passes": 1}])
def test_a_row_without_or_with_the_operations_drive_changes_nothing(more):
    machine = laser(row(3.6, 0.2, **more))
    assert one(machine).machine == machine
    assert one(machine).findings == ()


def test_by_hand_the_operation_drives_the_cut():
    assert one(laser(row(3.6, 0.2, **DRIVE)), by_hand=0.3).findings == ()


def test_rows_cut_differently_leave_the_operation_as_it_is_and_are_told():
    machine = laser(row(3.0, 0.2, **DRIVE), row(4.0, 0.3, passes=4))
    found = one(machine)
    assert found.machine == machine
    (caution,) = found.findings
    assert caution.code == "kerf-drives-differ"
    assert "vegetable 3 mm at 9 mm/s, 70 % power, 2 passes, vegetable 4 mm at 4 passes" in caution.what


def test_two_widths_of_one_day_are_told():
    found = one(laser(row(3.6, 0.2), row(3.6, 0.24), row(3.6, 0.9, "2026-01-01")))
    assert [kerf.width for kerf in found.by_leather.values()] == [0.24]
    (note,) = found.findings
    assert note.code == "kerf-tie"
    assert (
        "measured more than once on 2026-05-01: 0.2 mm, then 0.24 mm; the last in the file counts"
        in note.what
    )


def test_history_and_equal_readings_are_not_told():
    assert one(laser(row(3.6, 0.2), row(3.6, 0.3, "2026-01-01"), row(3.6, 0.2))).findings == ()


def test_what_is_not_known_of_all_leathers_is_told_together():
    with pytest.raises(PlanError) as caught:
        find_kerfs([(Tannage.VEGETABLE, 3.0), (Tannage.CHROME, 2.0), (Tannage.CHROME, 2.0)], laser())
    assert len(str(caught.value).splitlines()) == 2


def test_the_newest_scale_counts():
    rows = ({"x": 1.002, "measured": date(2026, 5, 1)}, {"x": 1.0, "y": 1.0, "measured": date(2026, 4, 1)})
    scale = scale_of(laser(scale=rows))
    assert scale is not None
    assert scale.x == 1.002
    assert scale_of(laser()) is None


def test_axes_that_are_out_are_told_with_what_puts_them_right():
    scale = scale_of(laser(scale=({"x": 1.004, "y": 0.998, "measured": date(2026, 5, 1)},)))
    assert scale is not None
    (caution,) = scale_findings("test laser", scale)
    assert caution.code == "axis-scale"
    assert "out by +4.0 mm in a metre along x and -2.0 mm in a metre along y" in caution.what
    assert "do not correct it" in caution.what
    assert "of x by 0.99602 and y by 1.00200" in caution.do


def test_axes_out_by_less_than_a_millimetre_in_a_metre_are_not_told():
    scale = scale_of(laser(scale=({"x": 1.0009, "y": 0.9995, "measured": date(2026, 5, 1)},)))
    assert scale is not None
    assert not list(scale_findings("test laser", scale))


def test_a_plan_carries_the_drive_and_all_that_is_to_be_known():
    machine = laser(
        row(3.6, 0.2, **DRIVE), row(3.6, 0.22, **DRIVE), scale=({"x": 1.01, "measured": date(2026, 5, 1)},)
    )
    made = plan(layout((strap(), 120, 60, 0), (keeper(), 420, 40, 90)), machine)
    assert made.machine.settings(Operation.CUT).passes == 2
    assert {found.code for found in made.findings} >= {"kerf-tie", "kerf-drive", "axis-scale"}
    assert made.kerf == 0.22
