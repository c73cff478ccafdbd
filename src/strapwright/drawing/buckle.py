"""A buckle from above, to scale by its measures, and the same with the figures a calliper reads."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.drawing.canvas import Canvas, Circle, Line, Path, Text, polygon
from strapwright.drawing.text import figure
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from strapwright.core.units import Units
    from strapwright.drawing.canvas import Item
    from strapwright.job.catalogue.buckle import Buckle

_QUARTER: Final = 0.41421356237309503
"""Bulge of a quarter of a circle: tan(90° / 4)."""

_METAL: Final = "sample-metal"
_AIR: Final = "gap"
_ROOM: Final = 4.0


def rounded(look: str, x0: float, y0: float, x1: float, y1: float, radius: float) -> Path:
    """Return a rectangle with round corners.

    Args:
        look: how it is drawn.
        x0: left, px.
        y0: top.
        x1: right.
        y1: bottom.
        radius: of its corners; no more than there is room for.
    """
    r = max(0.0, min(radius, (x1 - x0) / 2, (y1 - y0) / 2))
    if r < 1e-6:
        return Path((((x0, y0), (x1, y0), (x1, y1), (x0, y1)),), look, closed=True)
    b = _QUARTER
    corners = [
        (x0 + r, y0, 0.0), (x1 - r, y0, b), (x1, y0 + r, 0.0), (x1, y1 - r, b),
        (x1 - r, y1, 0.0), (x0 + r, y1, b), (x0, y1 - r, 0.0), (x0, y0 + r, b),
    ]  # fmt: skip
    kept = [
        one for one, after in zip(corners, [*corners[1:], corners[0]], strict=True) if one[:2] != after[:2]
    ]
    return Path((Contour(np.array(kept)),), look)


def buckle_items(one: Buckle, scale: float) -> tuple[list[Item], float, float]:
    """Draw a buckle from above, its bar upright and the front to the right; every measure is its own."""
    across = scale * (one.opening or one.for_strap or 40.0)
    thick = scale * max(one.bar_diameter or 0.0, *(one.bar_section or (0.0,)))
    depth, rear = scale * one.frame_depth, scale * (one.rear_depth or 0.0)
    bar = _ROOM + (rear + thick if rear else thick / 2)
    top, middle = _ROOM + thick, _ROOM + thick + across / 2
    right = bar + depth
    items: list[Item] = [
        rounded(_METAL, _ROOM, _ROOM, right + thick, top + across + thick, 1.2 * thick),
        rounded(_AIR, bar + thick / 2, top, right, top + across, thick / 3),
    ]
    if rear:
        items.append(rounded(_AIR, bar - rear, top, bar - thick / 2, top + across, thick / 3))
    prong = scale * one.prong_width / 2
    half = scale * (one.prong_spacing or 0.0) / 2
    for way in ((), (0.0,), (-half, half))[one.prongs]:
        y = middle + way
        items += [
            rounded(_METAL, bar - thick / 2 - 1, y - 1.4 * prong, bar + thick / 2 + 2, y + 1.4 * prong, 3.0),
            rounded(_METAL, bar + thick / 2, y - prong, right + 0.8 * thick, y + prong, prong),
        ]
    if one.prongs == 0:
        items.append(Circle(bar + scale * one.seat + prong, middle, prong, _METAL))
    return items, right + thick + _ROOM, top + across + thick + _ROOM


def buckle_picture(one: Buckle, units: Units) -> Canvas:
    """Return a buckle from above with the figures a calliper reads on it.

    Args:
        one: the buckle.
        units: of the figures.
    """
    scale, aside = 2.6, 64.0
    items, width, height = buckle_items(one, scale)
    across = one.opening or one.for_strap or 40.0
    thick = scale * max(one.bar_diameter or 0.0, *(one.bar_section or (0.0,)))
    rear = scale * (one.rear_depth or 0.0)
    bar = _ROOM + (rear + thick if rear else thick / 2)
    top, below = _ROOM + thick, height + 18.0
    drawn: list[Item] = [
        *items,
        Line(bar, height - thick, bar, below + 6.0, "thin"),
        *_along(bar, bar + scale * one.frame_depth, below, figure(one.frame_depth, units, exact=True)),
        *_up(width + 14.0, top, top + scale * across, figure(across, units, exact=True)),
    ]
    right = bar + scale * one.frame_depth
    drawn.append(Line(right, height - thick, right, below + 6.0, "thin"))
    if rear:
        drawn += _along(bar - rear, bar, below, figure(one.rear_depth or 0.0, units, exact=True))
        drawn.append(Line(bar - rear, height - thick, bar - rear, below + 6.0, "thin"))
    return Canvas(width + aside, below + 26.0, one.name, drawn, paper="none")


def _along(x0: float, x1: float, y: float, words: str) -> list[Item]:
    heads = [
        polygon("head", (x, y), (x + 7 * way, y - 3), (x + 7 * way, y + 3)) for x, way in ((x0, 1), (x1, -1))
    ]
    return [Line(x0, y, x1, y, "mark"), *heads, Text(words, (x0 + x1) / 2, y + 17.0, 14.0, "middle")]


def _up(x: float, y0: float, y1: float, words: str) -> list[Item]:
    heads = [
        polygon("head", (x, y), (x - 3, y + 7 * way), (x + 3, y + 7 * way)) for y, way in ((y0, 1), (y1, -1))
    ]
    ends = [Line(x - 12.0, y, x + 6.0, y, "thin") for y in (y0, y1)]
    return [Line(x, y0, x, y1, "mark"), *heads, *ends, Text(words, x + 8.0, (y0 + y1) / 2 + 5.0, 14.0)]
