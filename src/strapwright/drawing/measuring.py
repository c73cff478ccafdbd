"""What is measured, drawn: a body, a belt laid flat, a label, a run of sizes, a buckle to scale."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.drawing.canvas import Canvas, Circle, Line, Path, Text, polygon, polyline
from strapwright.drawing.text import figure
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.units import Units
    from strapwright.drawing.canvas import Item, Point
    from strapwright.job.catalogue.buckle import Buckle

_QUARTER: Final = 0.41421356237309503
"""Bulge of a quarter of a circle: tan(90° / 4)."""

_METAL: Final = "sample-metal"
_AIR: Final = "gap"
_ROOM: Final = 4.0

MEASURED: Final = (300.0, 120.0)
"""Of every picture, px."""

_LEATHER: Final = "sample"


def box(x: float, y: float, width: float, height: float, look: str) -> Path:
    """Return a rectangle by its upper left corner and its sides, px."""
    return polygon(look, (x, y), (x + width, y), (x + width, y + height), (x, y + height))


def slot(x: float, y: float, long: float, wide: float) -> Item:
    """Return a hole about its middle, drawn out along x where it is longer than wide, px."""
    if long <= wide:
        return Circle(x, y, wide / 2, "hole mark")
    half, r = (long - wide) / 2, wide / 2
    corners = [(x - half, y - r, 0.0), (x + half, y - r, 1.0), (x + half, y + r, 0.0), (x - half, y + r, 1.0)]
    return Path((Contour(np.array(corners)),), "hole mark")


def arrow(x0: float, x1: float, y: float, head: tuple[float, float] = (6.0, 2.5)) -> list[Item]:
    """Draw a length that is measured along x: a line with a head at either end, so long and half so wide."""
    long, half = head
    heads = [
        polygon("head", (x, y), (x + way * long, y - half), (x + way * long, y + half))
        for x, way in ((x0, 1), (x1, -1))
    ]
    return [Line(x0, y, x1, y, "mark"), *heads]


def body(words: str = "waist or girth") -> list[Item]:
    """Draw a body from the front, and the tape round it where the belt is worn.

    Args:
        words: what the tape reads.
    """
    left: Sequence[Point] = (
        (96.0, 4.0),
        (102.0, 30.0),
        (106.0, 48.0),
        (100.0, 72.0),
        (94.0, 100.0),
        (92.0, 118.0),
    )
    right = [(300.0 - x, y) for x, y in left]
    upper = _curve(104.0, 196.0, 60.0, 7.0)
    lower = _curve(102.0, 198.0, 72.0, 7.0)
    ticks = [polyline("mark", upper[k], lower[k]) for k in range(1, len(upper) - 1)]
    return [
        polyline("thin", *left),
        polyline("thin", *right),
        polyline("thin", (150.0, 118.0), (150.0, 104.0)),
        polygon(_LEATHER, *upper, *reversed(lower)),
        *ticks,
        Text(words, 204.0, 72.0, 13.0),
    ]


def _curve(x0: float, x1: float, y: float, sag: float) -> list[Point]:
    """Return points along a shallow arc that hangs down in its middle."""
    return [(x0 + (x1 - x0) * k / 20, y + sag * math.sin(math.pi * k / 20)) for k in range(21)]


def laid_belt(to: str, start: str = "outer end of the fold", end_words: str = "") -> list[Item]:
    """Draw a belt laid flat, and what is measured on it: to the worn edge of a hole, or a hole's centre.

    Args:
        to: "worn" for the worn edge, "middle" for the middle hole's centre.
        start: where the length begins, in words.
        end_words: where it ends; empty for the usual words.
    """
    holes, middle = [172.0, 192.0, 212.0, 232.0, 252.0], 66.0
    worn = 3 if to == "worn" else 2
    end = holes[worn] + (6.0 if to == "worn" else 0.0)
    items: list[Item] = [
        polygon("frame", (8.0, 40.0), (50.0, 40.0), (50.0, 92.0), (8.0, 92.0)),
        box(44.0, 48.0, 248.0, 36.0, _LEATHER),
        Line(54.0, middle, 6.0, middle, "frame"),
        box(84.0, 44.0, 14.0, 44.0, _LEATHER),
    ]
    for place, x in enumerate(holes):
        long = 10.0 if to == "worn" and place == worn else 7.0
        items.append(slot(x + (long - 7.0) / 2, middle, long, 7.0))
    if to != "worn":
        items += [
            Line(end - 6.0, middle, end + 6.0, middle, "thin"),
            Line(end, middle - 6.0, end, middle + 6.0, "thin"),
        ]
    return [
        *items,
        Line(44.0, 14.0, 44.0, 48.0, "thin"),
        Line(end, 14.0, end, middle, "thin"),
        *arrow(44.0, end, 20.0),
        Text(start, 14.0, 112.0, 13.0),
        Line(44.0, 84.0, 44.0, 99.0, "thin"),
        Text(end_words or ("worn edge" if to == "worn" else "middle hole"), end, 112.0, 13.0, "middle"),
        Line(end, middle + 8.0, end, 97.0, "thin"),
    ]


def trousers() -> list[Item]:
    """Draw trousers, and the label in their waistband."""
    legs = (
        (96.0, 10.0),
        (204.0, 10.0),
        (214.0, 118.0),
        (164.0, 118.0),
        (150.0, 50.0),
        (136.0, 118.0),
        (86.0, 118.0),
    )
    return [
        polygon(_LEATHER, *legs),
        Line(95.0, 24.0, 205.0, 24.0, "thin"),
        box(134.0, 6.0, 32.0, 24.0, "hole mark"),
        Text("36", 150.0, 23.0, 15.0, "middle", bold=True),
    ]


def sizes() -> list[Item]:
    """Draw belts of one run beneath each other."""
    items: list[Item] = []
    for place, size in enumerate(("30", "32", "34")):
        y, long = 14.0 + 34.0 * place, 150.0 + 24.0 * place
        items += [box(50.0, y, long, 22.0, _LEATHER), Text(size, 20.0, y + 16.0, 15.0, bold=True)]
        items += [Circle(50.0 + long - 20.0 - 14.0 * k, y + 11.0, 2.5, "hole mark") for k in range(5)]
    return items


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
    return [*arrow(x0, x1, y, (7.0, 3.0)), Text(words, (x0 + x1) / 2, y + 17.0, 14.0, "middle")]


def _up(x: float, y0: float, y1: float, words: str) -> list[Item]:
    heads = [
        polygon("head", (x, y), (x - 3, y + 7 * way), (x + 3, y + 7 * way)) for y, way in ((y0, 1), (y1, -1))
    ]
    ends = [Line(x - 12.0, y, x + 6.0, y, "thin") for y in (y0, y1)]
    return [Line(x, y0, x, y1, "mark"), *heads, *ends, Text(words, x + 8.0, (y0 + y1) / 2 + 5.0, 14.0)]
