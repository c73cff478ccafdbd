"""What lies in the drawers, drawn to one scale: buckles, fasteners, leathers and punches."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.drawing.buckle import buckle_items, rounded
from strapwright.drawing.canvas import Canvas, Circle, Line, Text
from strapwright.drawing.svg import element
from strapwright.job.catalogue.buckle import Buckle
from strapwright.job.catalogue.hardware import LeatherStock, Rivet, ScrewPost, Snap
from strapwright.rules.punches import Punch

if TYPE_CHECKING:
    from strapwright.drawing.canvas import Item

BUCKLE_SCALE: Final = 1.3
"""Of buckles, px a mm."""

SMALL_SCALE: Final = 3.0
"""Of all that is small: fasteners, punches' holes, a leather's thickness; px a mm."""

_METAL: Final = "sample-metal"
_AIR: Final = "gap"
_ROOM: Final = 4.0
_MOST: Final = 150.0
"""Nothing is drawn larger than this, px: a punch may be 100 mm long."""


def picture_of(entry: object, title: str, *, large: bool = False) -> str:
    """Return an entry of the catalogue drawn to the scale of its kind, as an SVG element.

    Args:
        entry: a buckle, fastener, leather or punch.
        title: what it is called.
        large: whether it is drawn twice that large, where it stands alone.
    """
    match entry:
        case Buckle():
            items, width, height = buckle_items(entry, BUCKLE_SCALE * (2 if large else 1))
        case ScrewPost():
            items, width, height = _post(entry, SMALL_SCALE * (2 if large else 1))
        case Rivet() | Snap():
            items, width, height = _set(entry, SMALL_SCALE * (2 if large else 1))
        case LeatherStock():
            items, width, height = _leather(entry, SMALL_SCALE * (2 if large else 1))
        case Punch():
            items, width, height = _punch(entry, SMALL_SCALE * (2 if large else 1))
        case _:
            raise TypeError(entry)
    return element(Canvas(width, height, title, items, paper="none"))


def scale_bar(scale: float, mm: float) -> str:
    """Return a bar of some millimetres at a scale, as an SVG element.

    Args:
        scale: px a mm.
        mm: how long it is.
    """
    end = 2.0 + scale * mm
    items: list[Item] = [Line(2.0, 8.0, end, 8.0, "mark")]
    items += [Line(x, 3.0, x, 13.0, "mark") for x in (2.0, end)]
    items.append(Text(f"{mm:g} mm", end + 6.0, 12.5, 12.0))
    return element(Canvas(end + 52.0, 16.0, f"{mm:g} mm at the scale of the drawings", items, paper="none"))


def _post(one: ScrewPost, scale: float) -> tuple[list[Item], float, float]:
    head, barrel, long = (scale * mm for mm in (one.head_diameter, one.barrel_diameter, one.length))
    middle, top, plate = _ROOM + head / 2, _ROOM + 5.0, 5.0
    return (
        [
            rounded(_METAL, middle - barrel / 2, top, middle + barrel / 2, top + long, 0.0),
            rounded(_METAL, middle - head / 2, _ROOM, middle + head / 2, top, 2.0),
            rounded(_METAL, middle - head / 2, top + long, middle + head / 2, top + long + plate, 2.0),
            Line(middle - barrel / 2, top + long / 2, middle + barrel / 2, top + long / 2, "mark"),
        ],
        head + 2 * _ROOM,
        top + long + plate + _ROOM,
    )


def _set(one: Rivet | Snap, scale: float) -> tuple[list[Item], float, float]:
    """Draw what is set by a blow: its caps, and between them the most leather it holds."""
    cap, stack = scale * one.cap_diameter, scale * one.most_stack
    post = scale * (one.hole if isinstance(one, Rivet) else one.stud_hole)
    middle, top, plate = _ROOM + cap / 2, _ROOM + 5.0, 5.0
    foot = cap if isinstance(one, Rivet) else 0.75 * cap
    return (
        [
            rounded("sample", _ROOM, top, _ROOM + cap, top + stack, 0.0),
            rounded(_METAL, middle - post / 2, top, middle + post / 2, top + stack, 0.0),
            rounded(_METAL, middle - cap / 2, _ROOM, middle + cap / 2, top, 5.0),
            rounded(_METAL, middle - foot / 2, top + stack, middle + foot / 2, top + stack + plate, 5.0),
        ],
        cap + 2 * _ROOM,
        top + stack + plate + _ROOM,
    )


def _leather(one: LeatherStock, scale: float) -> tuple[list[Item], float, float]:
    """Draw a leather's edge: its least thickness, and dashed how thick it may come."""
    least, most = (scale * mm for mm in one.thickness)
    return (
        [
            rounded("sample", _ROOM, _ROOM + most - least, _ROOM + 80.0, _ROOM + most, 0.0),
            Line(_ROOM, _ROOM, _ROOM + 80.0, _ROOM, "fold"),
        ],
        80.0 + 2 * _ROOM,
        most + 2 * _ROOM,
    )


def _punch(one: Punch, scale: float) -> tuple[list[Item], float, float]:
    long, wide = (scale * mm for mm in (one.length, one.width))
    shrunk = min(1.0, _MOST / max(long, wide))
    long, wide = shrunk * long, shrunk * wide
    round_end = 0.0 if one.kind == "slot" and wide < 4 else wide / 2
    hole = rounded(_AIR, _ROOM, _ROOM, _ROOM + long, _ROOM + wide, round_end)
    if one.kind == "round":
        return (
            [Circle(_ROOM + long / 2, _ROOM + long / 2, long / 2, _AIR)],
            long + 2 * _ROOM,
            long + 2 * _ROOM,
        )
    return [hole], long + 2 * _ROOM, wide + 2 * _ROOM
