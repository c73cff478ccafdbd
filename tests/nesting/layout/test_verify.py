"""The check of a layout finds every kind of fault, and nothing in a sound one."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.nesting.workshop import keeper, side, strap

from strapwright.core.errors import NestError
from strapwright.geometry.transform import Placement
from strapwright.nesting.layout.types import AvoidedZone, Clearance, Layout, PlacedPart, UnplacedPart
from strapwright.nesting.layout.verify import verify

# The strap reaches from 80 mm behind its origin to 1100 mm before it; it is 38 mm wide.
STRAP, MATE, STRIP = strap("a"), strap("b"), keeper("a")
SOUND = (
    PlacedPart(STRAP, "side 7", Placement(0.0, 82.0, 21.0)),
    PlacedPart(MATE, "side 7", Placement(math.pi, 1102.0, 61.0)),
    PlacedPart(STRIP, "side 7", Placement(math.pi / 2, 1210.0, 2.0)),
)


def laid(*placed: PlacedPart) -> Layout:
    return Layout((side(),), placed, (), Clearance(), (), 0, 1)


def moved(number: int, **changes: float) -> Layout:
    """The sound layout with one part elsewhere."""
    placed = list(SOUND)
    placement = replace(placed[number].placement, **changes)
    placed[number] = replace(placed[number], placement=placement)
    return laid(*placed)


def faults(layout: Layout, asked: list[str] | None = None) -> list[str]:
    with pytest.raises(NestError) as caught:
        verify(layout, asked)
    return str(caught.value).splitlines()


def test_a_sound_layout_at_the_very_clearances_passes() -> None:
    verify(laid(*SOUND), ["a/strap", "b/strap", "a/keeper"])
    verify(moved(1, y=61.0 - 0.00009))


def test_parts_too_near_or_overlapping_are_told() -> None:
    assert faults(moved(1, y=60.99)) == ["a/strap and b/strap: 1.9900 mm apart, must be 2 mm"]
    assert faults(moved(1, y=40.0)) == ["a/strap and b/strap: 0.0000 mm apart, must be 2 mm"]


def test_one_part_wholly_on_another_is_told() -> None:
    assert faults(moved(2, turn=0.0, x=300.0, y=12.0)) == [
        "a/strap and a/keeper: 0.0000 mm apart, must be 2 mm"
    ]


def test_parts_too_near_the_edge_or_off_the_hide_are_told() -> None:
    assert faults(moved(0, y=20.5)) == ["a/strap: 1.5000 mm from side 7's edge, must be 2 mm"]
    assert faults(moved(0, x=79.0)) == ["a/strap: reaches off side 7"]
    assert faults(moved(0, x=5000.0)) == ["a/strap: reaches off side 7"]


def test_parts_on_or_near_a_flaw_are_told_even_where_the_flaw_lies_wholly_inside() -> None:
    assert faults(moved(1, y=255.0)) == ["b/strap: 0.0000 mm from side 7's flaw 1 (hole), must be 2 mm"]
    (fault,) = faults(moved(2, turn=0.0, x=880.0, y=590.0))
    assert "flaw 3 (mark), must be 2 mm" in fault


def test_a_part_in_a_zone_kept_clear_or_a_zone_on_no_hide_is_told() -> None:
    zone = np.array([(300.0, 39.0), (400.0, 39.0), (400.0, 80.0), (300.0, 80.0)])
    kept = replace(laid(*SOUND), avoided=(AvoidedZone("side 7", zone + np.array([0, 100])),))
    verify(kept)
    assert faults(replace(kept, avoided=(AvoidedZone("side 7", zone), AvoidedZone("side 9", zone)))) == [
        "a zone to keep clear is on side 9, which is not in the layout",
        "a/strap: is in a zone of side 7 kept clear for this layout",
        "b/strap: is in a zone of side 7 kept clear for this layout",
    ]


def test_parts_laid_across_the_straps_are_told() -> None:
    fault = faults(moved(1, turn=math.pi + 1e-6))[0]
    assert fault.startswith("b/strap: is 5.73e-05 deg off; must be along side 7's")
    fault = faults(moved(0, turn=math.pi / 2, x=600.0, y=400.0))[0]
    assert fault.startswith(("a/strap: is -90 deg off", "a/strap: is 90 deg off"))
    fault = faults(moved(2, turn=0.3, x=1400.0, y=100.0))[0]
    assert "must be in steps of 90 deg from side 7's" in fault


def test_a_part_of_another_thickness_is_told() -> None:
    thick = replace(STRAP, thickness=4.0)
    assert faults(laid(replace(SOUND[0], part=thick))) == ["a/strap: needs leather of 4 mm, side 7 is 3.6 mm"]


def test_parts_counted_twice_missing_or_never_asked_for_are_told() -> None:
    assert faults(laid(*SOUND), ["a/strap", "b/strap", "a/keeper", "c/strap"]) == [
        "c/strap: asked for, but neither placed nor reported as unplaced"
    ]
    assert faults(laid(*SOUND), ["a/strap", "b/strap"]) == ["a/keeper: in the layout, but not asked for"]
    twice = replace(laid(*SOUND), unplaced=(UnplacedPart(MATE, "no space left"),))
    assert faults(twice) == ["b/strap: counted 2 times"]


def test_a_part_on_a_hide_that_is_not_there_is_told() -> None:
    assert faults(laid(replace(SOUND[0], hide="side 9"))) == [
        "a/strap: is on side 9, which is not in the layout"
    ]


def test_with_no_gap_parts_may_touch_but_not_overlap() -> None:
    close = replace(moved(1, y=59.0), clearance=Clearance(gap=0.0, margin=2.0))
    verify(close)
    assert faults(replace(moved(1, y=58.9), clearance=Clearance(0.0, 2.0))) == [
        "a/strap and b/strap: 0.0000 mm apart, must be 0 mm"
    ]
