"""What a layout leaves of a hide, against figures worked out by hand on square hides."""

from __future__ import annotations

import math

import numpy as np
import pytest

from strapwright.geometry.contour import Contour
from strapwright.geometry.transform import Placement
from strapwright.nesting.hide import Flaw, FlawKind, Hide
from strapwright.nesting.layout import Clearance, Layout, Placed
from strapwright.nesting.left_over import left_over, waste_of_hide, wastes_of
from strapwright.parts.part import Part, PartKind
from strapwright.trade.leather import Tannage

SQUARE = np.array([(0, 0), (1000, 0), (1000, 800), (0, 800)], dtype=float)


def laid(*flaws, direction=0.0, outline=SQUARE, at=(0.0, 0.0), gap=0.0):
    """One strap of 1000 × 200 mm at the foot of a hide."""
    hide = Hide("side", outline, flaws, strap_direction=direction)
    strap = Contour.from_points([(0, 0), (1000, 0), (1000, 200), (0, 200)])
    part = Part("a/strap", "a", PartKind.STRAP, strap, (), 3.6, Tannage.VEGETABLE)
    placed = Placed(part, "side", Placement(direction, *at))
    return Layout((hide,), (placed,), (), Clearance(gap, 0.0), (), 0, 1)


def test_the_piece_past_the_last_part_stays_whole():
    layout = laid()
    rest = left_over(layout, "side")
    assert rest.area == pytest.approx(1000 * 600)
    assert (rest.along, rest.across) == (1000, 600)
    assert waste_of_hide(layout, layout.hides[0]) == pytest.approx(0.0)
    assert left_over(laid(gap=50.0), "side").area == pytest.approx(1000 * 550)


def test_the_rectangle_keeps_clear_of_flaws_of_every_kind_and_the_piece_does_not():
    flaw = Flaw(FlawKind.LOOSE, np.array([(300, 500), (400, 500), (400, 600), (300, 600)], dtype=float))
    rest = left_over(laid(flaw), "side")
    assert rest.area == pytest.approx(1000 * 600)
    assert rest.along * rest.across == 600 * 600  # right of the flaw, the largest of the four round it
    assert rest.rectangle[:, 0].min() == pytest.approx(400)


def test_straps_that_lie_across_are_measured_across():
    turned = laid(direction=math.pi / 2, outline=SQUARE[:, ::-1][::-1], at=(200.0, 0.0))
    rest = left_over(turned, "side")
    assert rest.area == pytest.approx(1000 * 600)
    assert rest.outline[:, 0].min() == pytest.approx(200.0)
    # The grid begins at the turned hide's own corner, a rounding off: then a cell is lost each way.
    assert 980 <= rest.along <= 1000
    assert 580 <= rest.across <= 600


def test_a_strip_too_narrow_for_anything_counts_as_waste():
    low = SQUARE * np.array([1.0, 0.28])
    layout = laid(outline=low)  # 24 mm are left beside the strap
    assert left_over(layout, "side") is None
    assert waste_of_hide(layout, layout.hides[0]) == pytest.approx(1 - 200 / 224)
    assert wastes_of(layout)["a/strap"].said == 'true of hide "side", nested'


def test_a_hide_nothing_lies_on_has_nothing_left_over():
    layout = laid()
    empty = Layout(layout.hides, (), (), layout.clearance, (), 0, 1)
    assert left_over(empty, "side") is None
