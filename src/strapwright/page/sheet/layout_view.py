"""A layout as the page draws it, and whether a part may lie where it is put."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems, NestError
from strapwright.drawing.path_data import path_data
from strapwright.geometry.transform import Placement
from strapwright.nesting.hide.types import Face
from strapwright.nesting.layout.verify import verify

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import Layout, PlacedPart

_REACH: Final = 100.0
"""Parts further off than this from one that is moved are not looked at with it, mm; no gap is wider."""


@dataclass(frozen=True)
class Move:
    """Where a part is to lie.

    Args:
        part: its id.
        hide: the hide's name.
        turns: quarter turns, or half turns of a strap, from how it lies now.
        x: of its origin on the hide, mm.
        y: likewise.
    """

    part: str
    hide: str
    turns: int
    x: float
    y: float


def layout_json(layout: Layout) -> dict[str, Any]:
    """Return a layout's outlines and placements, y down as on a screen, mm."""
    return {
        "hides": [_hide(hide, layout) for hide in layout.hides],
        "parts": [_part(placed, placed.part.id in layout.locked) for placed in layout.placed],
        "unplaced": [{"id": one.part.id, "reason": one.reason} for one in layout.unplaced],
    }


def moved(layout: Layout, move: Move) -> Layout:
    """Return a layout with one part put somewhere else.

    Raises:
        FileProblems: there is no such part or hide, or a number is none.
    """
    hides = {hide.name: hide for hide in layout.hides}
    found = next((one for one in layout.placed if one.part.id == move.part), None)
    if found is None or move.hide not in hides:
        raise FileProblems((f"found no part {move.part!r} on a hide {move.hide!r} in this layout",))
    if not (abs(move.x) < 1e5 and abs(move.y) < 1e5):
        raise FileProblems((f"{move.part}: found a place off every hide",))
    hide = hides[move.hide]
    turn = found.placement.turn
    if move.hide != found.hide:
        turn += hide.strap_direction - hides[found.hide].strap_direction
    turn = math.remainder(turn + move.turns * 2 * math.pi / len(found.part.turns), 2 * math.pi)
    there = Placement(turn, move.x, move.y, hide.face_up is Face.FLESH)
    new = replace(found, hide=move.hide, placement=there)
    return replace(layout, placed=tuple(new if one is found else one for one in layout.placed))


def faults(layout: Layout, part: str) -> tuple[str, ...]:
    """Return what is wrong with where one part lies, by the check that decides over the whole layout.

    Only what lies within reach of it is looked at, so that it takes milliseconds; nothing passes that the
    whole check would refuse.
    """
    one = next(placed for placed in layout.placed if placed.part.id == part)
    near = tuple(_near(layout, one))
    own = replace(
        layout, hides=(layout.hide(one.hide),), placed=near, unplaced=(), avoided=layout.avoided_on(one.hide)
    )
    try:
        verify(own)
    except NestError as error:
        return tuple(line for line in str(error).splitlines() if part in line)
    return ()


def _near(layout: Layout, one: PlacedPart) -> Iterator[PlacedPart]:
    low_x, low_y, high_x, high_y = one.outline.bounding_box
    for other in layout.placed_on(one.hide):
        x0, y0, x1, y1 = other.outline.bounding_box
        apart = max(x0 - high_x, low_x - x1, y0 - high_y, low_y - y1)
        if other is one or apart < _REACH:
            yield other


def _hide(hide: Hide, layout: Layout) -> dict[str, Any]:
    (x0, y0), (x1, y1) = hide.outline.min(axis=0), hide.outline.max(axis=0)
    flaws = [(str(flaw.kind), flaw.polygon) for flaw in hide.flaws]
    flaws += [("once", zone.polygon) for zone in layout.avoided_on(hide.name)]
    return {
        "name": hide.name,
        "box": [round(float(value), 2) for value in (x0, -y1, x1 - x0, y1 - y0)],
        "outline": _points(hide.outline),
        "flaws": [{"kind": kind, "outline": _points(polygon)} for kind, polygon in flaws],
        "yield": layout.yield_of(hide.name),
    }


def _points(polygon: Any) -> str:
    return " ".join(f"{x:.2f},{-y:.2f}" for x, y in polygon)


def _part(placed: PlacedPart, locked: bool) -> dict[str, Any]:
    part, where = placed.part, placed.placement
    return {
        "id": part.id,
        "kind": str(part.kind),
        "hide": placed.hide,
        "path": path_data(part.outline),
        "features": [{"kind": str(one.operation), "path": path_data(one.contour)} for one in part.features],
        "box": [round(value, 2) for value in part.outline.bounding_box],
        "turn": where.turn,
        "step": 2 * math.pi / len(part.turns),
        "x": where.x,
        "y": where.y,
        "mirror": where.mirror,
        "locked": locked,
    }
