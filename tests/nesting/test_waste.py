"""What a layout wastes of a hide, and what is clear in it, by hand on square hides."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from strapwright.geometry.contour import Contour
from strapwright.geometry.transform import Placement
from strapwright.nesting.hide.sound_leather import clear_rectangle
from strapwright.nesting.hide.types import FirstCut, Flaw, FlawKind, Hide
from strapwright.nesting.layout.types import Clearance, Layout, PlacedPart
from strapwright.nesting.remnant import remnants_of, waste_of_hide, wastes_of
from strapwright.parts.part import Part, PartKind
from strapwright.rules.leather import Tannage

SQUARE = np.array([(0, 0), (1000, 0), (1000, 800), (0, 800)], dtype=float)


def laid(*flaws, direction=0.0, outline=SQUARE, at=(0.0, 0.0), gap=0.0):
    """One strap of 1000 × 200 mm at the foot of a hide."""
    hide = Hide("side", outline, flaws, strap_direction=direction)
    strap = Contour.from_points([(0, 0), (1000, 0), (1000, 200), (0, 200)])
    part = Part("a/strap", "a", PartKind.STRAP, strap, (), 3.6, Tannage.VEGETABLE)
    placed = PlacedPart(part, "side", Placement(direction, *at))
    return Layout((hide,), (placed,), (), Clearance(gap, 0.0), (), 0, 1)


def test_what_is_cut_off_whole_is_not_used_up():
    layout = laid()
    (rest,) = remnants_of(layout)
    assert rest.hide.area == pytest.approx(1000 * 600)
    assert waste_of_hide(layout, layout.hides[0]) == pytest.approx(0.0)
    apart = laid(gap=50.0)
    assert waste_of_hide(apart, apart.hides[0]) == pytest.approx(1 - 200 / 250)


def test_a_strip_too_narrow_for_anything_counts_as_waste():
    low = SQUARE * np.array([1.0, 0.28])
    layout = laid(outline=low)  # 24 mm are left beside the strap
    assert not remnants_of(layout)
    assert waste_of_hide(layout, layout.hides[0]) == pytest.approx(1 - 200 / 224)
    assert wastes_of(layout)["a/strap"].said == 'true of hide "side", nested'


def test_what_the_first_cut_took_off_is_used_up():
    layout = laid()
    cut = replace(layout.hides[0], first_cut=FirstCut((0.0, 0.0), (1000.0, 0.0), 50_000.0))
    squared = replace(layout, hides=(cut,))
    assert waste_of_hide(squared, cut) == pytest.approx(1 - 200 / 250)


def test_the_rectangle_keeps_clear_of_flaws_of_every_kind():
    flaw = Flaw(FlawKind.LOOSE, np.array([(300, 500), (400, 500), (400, 600), (300, 600)], dtype=float))
    (rest,) = remnants_of(laid(flaw))
    clear = clear_rectangle(rest.hide)
    assert rest.hide.area == pytest.approx(1000 * 600)
    assert clear.along * clear.across == 600 * 600  # right of the flaw, the largest of the four round it
    assert clear.corners[:, 0].min() + rest.shift[0] == pytest.approx(400)


def test_a_rectangle_is_measured_along_the_straps():
    turned = Hide("side", SQUARE * np.array([1.0, 0.75]), strap_direction=math.pi / 2)
    clear = clear_rectangle(turned)
    # The grid begins at the turned hide's own corner, a rounding off: then a cell is lost each way.
    assert 580 <= clear.along <= 600
    assert 980 <= clear.across <= 1000


def test_no_rectangle_is_found_where_flaws_leave_no_cell():
    placements = [Flaw(FlawKind.HOLE, SQUARE)]
    assert clear_rectangle(Hide("side", SQUARE, tuple(placements))) is None
