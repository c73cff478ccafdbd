"""A layout as the page draws it, and whether a part may lie where it is put."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems, NestError
from strapwright.drawing.svg import path_data
from strapwright.geometry.transform import Placement
from strapwright.nesting.bound.area import bound_sentence
from strapwright.nesting.hide.types import Face, Flaw, FlawKind
from strapwright.nesting.layout.avoided_zone import check_zones, zone_words
from strapwright.nesting.layout.free_place import free_places
from strapwright.nesting.layout.types import PlacedPart, UnplacedPart
from strapwright.nesting.layout.verify import verify

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import AvoidedZone, Layout
    from strapwright.parts.part import Part

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
        "parts": [
            _part(one.part) | _lies(one) | {"locked": one.part.id in layout.locked} for one in layout.placed
        ],
        "unplaced": [_part(one.part) | {"reason": one.reason} for one in layout.unplaced],
        "zones": [
            {"hide": zone.hide, "outline": _points(zone.polygon), "text": zone_words(zone)}
            for zone in layout.avoided
        ],
        "result": result_words(layout),
    }


def places_json(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the placements alone of a layout's file as it was read."""
    return [
        {
            "id": one["id"],
            "hide": one["hide"],
            "turn": one["turn_rad"],
            "x": one["x_mm"],
            "y": one["y_mm"],
            "mirror": one.get("mirror", False),
        }
        for one in data["placed"]
    ]


def result_words(layout: Layout) -> str:
    """Return in a line how much is laid, on what, and how much more could be."""
    begun = [hide.name for hide in layout.hides if layout.placed_on(hide.name)]
    count = f"{len(layout.placed)} of {layout.asked} part{'s' if layout.asked != 1 else ''} laid"
    if not begun:
        return count
    on = f"on {begun[0]}" if len(begun) == 1 else f"on {len(begun)} hides"
    words = (
        f"{count} {on}: {layout.placed_area / 1e6:.3f} m², {layout.yield_of(*begun):.1%} of the sound leather"
    )
    if not layout.unplaced:
        return f"{words}."
    return f"{words}. {bound_sentence(layout)}" if layout.bound is not None else f"{words}."


def moved(layout: Layout, move: Move, parts: Sequence[Part]) -> Layout:
    """Return a layout with one part put somewhere else, or laid that was not.

    Args:
        layout: as it is.
        move: the part, and where it is to lie.
        parts: all that were asked for, in order.

    Raises:
        FileProblems: there is no such part or hide, it is locked, or a number is none.
    """
    hides = {hide.name: hide for hide in layout.hides}
    lies = next((one for one in layout.placed if one.part.id == move.part), None)
    part = next((one for one in parts if one.id == move.part), None)
    if part is None or move.hide not in hides:
        raise FileProblems((f"found no part {move.part!r} on a hide {move.hide!r} in this layout",))
    if move.part in layout.locked:
        raise FileProblems((f"{move.part}: is locked; unlock it first",))
    if not (abs(move.x) < 1e5 and abs(move.y) < 1e5):
        raise FileProblems((f"{move.part}: found a place off every hide",))
    hide = hides[move.hide]
    turn = hide.strap_direction
    if lies is not None:
        turn = lies.placement.turn
        if move.hide != lies.hide:
            turn += hide.strap_direction - hides[lies.hide].strap_direction
    turn = math.remainder(turn + move.turns * 2 * math.pi / len(part.turns), 2 * math.pi)
    there = Placement(turn, move.x, move.y, hide.face_up is Face.FLESH)
    by_id = {one.part.id: one for one in layout.placed} | {part.id: PlacedPart(part, move.hide, there)}
    return replace(
        layout,
        placed=tuple(by_id[one.id] for one in parts if one.id in by_id),
        unplaced=tuple(one for one in layout.unplaced if one.part is not part),
    )


def taken_off(layout: Layout, why: Mapping[str, str], parts: Sequence[Part]) -> Layout:
    """Return a layout without some parts.

    Args:
        layout: as it is.
        why: the reason for each, by its id.
        parts: all that were asked for, in order.
    """
    by_id = {one.part.id: one for one in layout.unplaced}
    by_id |= {
        one.part.id: UnplacedPart(one.part, why[one.part.id]) for one in layout.placed if one.part.id in why
    }
    return replace(
        layout,
        placed=tuple(one for one in layout.placed if one.part.id not in why),
        unplaced=tuple(by_id[one.id] for one in parts if one.id in by_id),
        locked=tuple(one for one in layout.locked if one not in why),
    )


def with_zones(layout: Layout, zones: Sequence[AvoidedZone], parts: Sequence[Part]) -> Layout:
    """Return a layout that keeps other zones clear; parts that lie in one are taken off.

    What was proven of another set of zones is dropped where leather became free.

    Raises:
        NestError: a zone lies off its hide, or a part that lies in it is locked.
    """
    locked = tuple(one for one in layout.placed if one.part.id in layout.locked)
    by_hide: dict[str, list[Flaw]] = {}
    for zone in zones:
        by_hide.setdefault(zone.hide, []).append(Flaw(FlawKind.HOLE, zone.polygon))
    check_zones(replace(layout, placed=locked), by_hide)
    new = replace(layout, avoided=tuple(zones))
    if any(zone not in zones for zone in layout.avoided):
        new = replace(new, bound=None)
    inside = {
        one.part.id: f"{one.hide} is kept clear where it lay"
        for one in layout.placed
        if any(one.part.id in line for line in _faults(replace(new, placed=(one,), unplaced=()), one.part.id))
    }
    return taken_off(new, inside, parts)


def free_move(layout: Layout, part: Part, hide: str, parts: Sequence[Part]) -> Move | None:
    """Return a move that puts a part on a hide where there is room for it; None where none was found."""
    lies = next((one for one in layout.placed if one.part is part), None)
    ground = layout.hide(hide)
    base = ground.strap_direction
    if lies is not None:
        base += lies.placement.turn - layout.hide(lies.hide).strap_direction
    step = 2 * math.pi / len(part.turns)
    for place in free_places(layout, part, hide):
        turns = round(math.remainder(place.turn - base, 2 * math.pi) / step)
        move = Move(part.id, hide, turns, place.x, place.y)
        if not faults(moved(layout, move, parts), part.id):
            return move
    return None


def faults(layout: Layout, part: str) -> tuple[str, ...]:
    """Return what is wrong with where one part lies, by the check that decides over the whole layout.

    Only what lies within reach of it is looked at, so that it takes milliseconds; nothing passes that the
    whole check would refuse.
    """
    one = next(placed for placed in layout.placed if placed.part.id == part)
    near = tuple(_near(layout, one))
    return _faults(replace(layout, placed=near, unplaced=()), part)


def _faults(layout: Layout, part: str) -> tuple[str, ...]:
    """Return what is wrong with a part of a layout of whose hides only its own is looked at."""
    one = next(placed for placed in layout.placed if placed.part.id == part)
    own = replace(layout, hides=(layout.hide(one.hide),), avoided=layout.avoided_on(one.hide))
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
    return {
        "name": hide.name,
        "box": [round(float(value), 2) for value in (x0, -y1, x1 - x0, y1 - y0)],
        "outline": _points(hide.outline),
        "flaws": [{"kind": str(flaw.kind), "outline": _points(flaw.polygon)} for flaw in hide.flaws],
        "yield": layout.yield_of(hide.name),
        "direction": hide.strap_direction,
        "mirror": hide.face_up is Face.FLESH,
    }


def _points(polygon: Any) -> str:
    return " ".join(f"{x:.2f},{-y:.2f}" for x, y in polygon)


def _part(part: Part) -> dict[str, Any]:
    return {
        "id": part.id,
        "kind": str(part.kind),
        "path": path_data(part.outline),
        "features": [{"kind": str(one.operation), "path": path_data(one.contour)} for one in part.features],
        "box": [round(value, 2) for value in part.outline.bounding_box],
        "step": 2 * math.pi / len(part.turns),
    }


def _lies(placed: PlacedPart) -> dict[str, Any]:
    where = placed.placement
    return {"hide": placed.hide, "turn": where.turn, "x": where.x, "y": where.y, "mirror": where.mirror}
