"""The first cut of a raw edge: the first path on the sheet, its kerf in the waste, or left to the maker."""

from __future__ import annotations

import dataclasses
import math

import pytest
from tests.machine.layouts import hide, knife, laser, layout, strap

from strapwright.machine.planning import plan
from strapwright.machine.types import FIRST_CUT
from strapwright.nesting.hide.types import FirstCut
from strapwright.write.cut_files import write_plan


def raw(length=900.0, start=(10.0, 20.0), end=(890.0, 20.0), direction=0.0):
    """A hide whose lower edge was raw."""
    cut = FirstCut(start, end, 9000.0)
    return dataclasses.replace(hide("raw side", length, 500.0), first_cut=cut, strap_direction=direction)


def laid(on=None):
    return layout((strap(), 120.0, 80.0, 0.0), hides=(on or raw(),))


def test_it_is_cut_first_half_a_kerf_into_what_comes_off():
    made = plan(laid(), laser(), kerf=0.3)
    [sheet] = made.sheets
    assert [path.name for path in sheet.paths].index(FIRST_CUT) == 0
    cut = sheet.paths[0].contour
    assert cut.starts[0] == pytest.approx((10.0, 19.85))
    assert cut.ends[-1] == pytest.approx((890.0, 19.85))
    assert "first-cut-by-hand" not in {found.code for found in made.findings}


def test_the_kerf_lies_right_of_the_strap_direction_however_the_hide_lies():
    turned = raw(start=(400.0, 10.0), end=(400.0, 490.0), direction=math.pi / 2)
    [sheet] = plan(laid(turned), laser(), kerf=0.3).sheets
    assert sheet.paths[0].contour.starts[0] == pytest.approx((400.15, 10.0))


@pytest.mark.parametrize("machine", [laser(formats=["dxf", "svg"]), knife(formats=["dxf", "svg"])])
def test_its_files_are_proven_and_the_sheet_says_what_comes_first(machine):
    made = plan(laid(), machine, kerf=0.3 if machine.kind == "laser" else None)
    files = write_plan(made, machine.formats, "raw")
    sheet = next(text for name, text in files.texts.items() if name.endswith("-sheet.txt"))
    assert "First, one straight cut squares the hide's raw edge." in sheet
    assert "1 outline, " in sheet
    assert "raw side\n" not in sheet.partition("Order:")[2].partition("Punch")[0]


def test_a_blade_that_begins_it_at_the_hide_s_edge_is_told_and_a_part_is_not_blamed():
    codes = {found.code: found for found in plan(laid(), knife()).findings}
    assert "at x 10, y 20 mm on the bed" in codes["first-cut-from-edge"].what
    assert "blade-turns-on-line" not in codes
    assert "first-cut-from-edge" not in {found.code for found in plan(laid(), laser(), kerf=0.3).findings}


@pytest.mark.parametrize(
    ("on", "changes", "why"),
    [
        (raw(1500.0, (10.0, 20.0), (1490.0, 20.0)), {}, "it is 1480 mm long and leaves the bed"),
        (raw(), {"ends_only": True}, "leaves long edges to the bench"),
        (raw(), {"bed": [300, 600], "pass_through": True}, "not pieced together out of windows"),
    ],
)
def test_where_the_machine_does_not_make_it_the_maker_is_told(on, changes, why):
    made = plan(laid(on), laser(**changes), kerf=0.3)
    [found] = [found for found in made.findings if found.code == "first-cut-by-hand"]
    assert why in found.what
    assert not [path for sheet in made.sheets for path in sheet.paths if path.name == FIRST_CUT]
