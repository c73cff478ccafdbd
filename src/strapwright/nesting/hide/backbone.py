"""The back of a hide: which edge it is, or the line along it, and on which side of it leather lies.

Leather is firmest along the back and loosest at the belly, so straps are cut from the back first. The search
lays straps from the edge to the right of the strap direction; a hide read from a file has its back there. A
back that runs through the hide, as on a double butt, is laid both ways: see
`strapwright.nesting.solver.backbone_halves`.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.geometry.polygon import turned
from strapwright.nesting.hide.types import Back

if TYPE_CHECKING:
    from strapwright.core.arrays import Floats
    from strapwright.nesting.hide.types import Hide


EDGES: Final = {"bottom": 0.0, "top": math.pi, "left": -math.pi / 2, "right": math.pi / 2}
"""The direction along each edge of a hide that has the leather to its left, radians."""


_THROUGH: Final = 0.1
"""A back runs through a hide where more than this share of it lies on either side."""


_SAME: Final = 1e-6
"""Points that differ by less are one, mm."""


def back_at(outline: Floats, direction: float) -> Back:
    """Return the back along an edge of a hide: the line that touches it to the right of a direction.

    Args:
        outline: the hide's, (N, 2) mm.
        direction: radians from x.

    Example:
        >>> back_at(np.array([(0, 0), (900, 0), (900, 400)]), EDGES["top"])
        Back(start=(900.0, 400.0), end=(0.0, 400.0), assumed=False)
    """
    seen = turned(np.asarray(outline, float), -direction)
    (x0, y0), (x1, _) = seen.min(axis=0), seen.max(axis=0)
    start, end = turned(np.array([(x0, y0), (x1, y0)]), direction) + 0.0
    return Back((float(start[0]), float(start[1])), (float(end[0]), float(end[1])))


def back_through(outline: Floats, first: tuple[float, float], second: tuple[float, float]) -> Back:
    """Return the back through two points: along an edge with the leather to its left, or through the hide."""
    back = Back(first, second)
    left, right = (float(half.area) for half in sides(outline, back))
    if _between(left, right):
        return back if upward(back.direction) == back.direction else Back(second, first)
    return back if left > right else Back(second, first)


def back_of(hide: Hide) -> Back:
    """Return a hide's back; where it was not said, the edge straps are laid from."""
    return hide.back or replace(back_at(hide.outline, hide.strap_direction), assumed=True)


def upward(direction: float) -> float:
    """Return a direction or its opposite: the one with the lower side of the hide, or the left, to its right.

    Example:
        >>> [round(math.degrees(upward(math.radians(turn)))) for turn in (30, 180, 210, 90)]
        [30, 0, 30, -90]
    """
    direction -= math.pi * round(direction / math.pi)
    return -math.pi / 2 if abs(abs(direction) - math.pi / 2) < 1e-12 else direction


def from_the_back(direction: float, back: Back) -> float:
    """Return a strap direction or its opposite: the one that has the back to its right."""
    return direction if math.cos(direction - back.direction) >= -1e-9 else direction + math.pi


def edge_of(back: Back) -> str:
    """Return the word for the edge a back runs along, or nearest to.

    Example:
        >>> edge_of(Back((0.0, 0.0), (900.0, 100.0)))
        'bottom'
    """
    return max(EDGES, key=lambda edge: math.cos(EDGES[edge] - back.direction))


def runs_through(hide: Hide) -> bool:
    """Whether the back runs through the hide, as on a double butt, and not along an edge of it."""
    return hide.back is not None and _between(*(float(h.area) for h in sides(hide.outline, hide.back)))


def starts_both_ways(hide: Hide) -> bool:
    """Whether straps start from the back on both sides of it: it runs through the hide, they along it."""
    back = hide.back
    along = back is not None and abs(math.cos(hide.strap_direction - back.direction)) > math.cos(math.pi / 4)
    return along and runs_through(hide)


def back_written(hide: Hide) -> str:
    """Return what a hide file says of the back, as TOML; empty where it was not said."""
    back = hide.back
    if back is None or back.assumed:
        return ""
    for edge, direction in EDGES.items():
        own = back_at(hide.outline, direction)
        if math.dist(own.start, back.start) < _SAME and math.dist(own.end, back.end) < _SAME:
            return f'"{edge}"'
    (x0, y0), (x1, y1) = back.start, back.end
    return f"[[{x0!r}, {y0!r}], [{x1!r}, {y1!r}]]"


def back_on_piece(hide: Hide, piece: Floats, shift: Floats) -> Back | None:
    """Return the back of a piece cut off a hide, in the piece's own frame: its edge nearest to the hide's.

    Args:
        hide: the hide.
        piece: the piece's outline in its own frame.
        shift: where that frame's (0, 0) lies on the hide.
    """
    back = hide.back
    if back is None or back.assumed:
        return None
    dx, dy = (float(value) for value in shift)
    start, end = ((x - dx, y - dy) for x, y in (back.start, back.end))
    left, right = (float(half.area) for half in sides(piece, Back(start, end)))
    if _between(left, right):
        return Back(start, end)
    return back_at(piece, back.direction if left > right else back.direction + math.pi)


def _between(left: float, right: float) -> bool:
    return min(left, right) > _THROUGH * (left + right)


def sides(outline: Floats, back: Back, over: float = 0.0) -> tuple[Any, Any]:
    """Return what of an outline lies to the left and to the right of a back, as shapely geometries.

    Args:
        outline: (N, 2) mm.
        back: the line.
        over: how far each reaches over the line, mm; negative: how far it keeps off.
    """
    import shapely

    at = turned(np.array([back.start]), -back.direction)[0, 1]
    seen = shapely.Polygon(turned(np.asarray(outline, float), -back.direction))
    x0, y0, x1, y1 = seen.bounds
    out = []
    for low, high in ((at - over, max(y1, at) + 1), (min(y0, at) - 1, at + over)):
        half = shapely.intersection(seen, shapely.box(x0 - 1, low, x1 + 1, high))
        out.append(shapely.transform(half, lambda points: turned(points, back.direction)))
    return out[0], out[1]
