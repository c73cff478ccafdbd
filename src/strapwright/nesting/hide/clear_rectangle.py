"""The largest rectangle along the straps that lies clear of a hide's edge and flaws."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from strapwright.nesting.hide.types import Hide

    Floats = NDArray[np.float64]

CELL: Final = 10.0
"""The rectangle is found on a grid this wide, mm, and so is up to two cells short each way."""


@dataclass(frozen=True, eq=False)
class ClearRectangle:
    """A rectangle of sound leather.

    Args:
        corners: in the hide's frame, (4, 2) mm.
        along: how long it is along the straps, mm.
        across: how wide it is across the straps, mm.
    """

    corners: Floats
    along: float
    across: float


def clear_rectangle(hide: Hide) -> ClearRectangle | None:
    """Return the largest rectangle along the straps clear of edge and flaws; None where there is no room.

    Example:
        >>> from strapwright.nesting.hide.types import Hide
        >>> found = clear_rectangle(Hide("bend", np.array([(0, 0), (1200, 0), (1200, 700), (0, 700)])))
        >>> found.along, found.across
        (1200.0, 700.0)
    """
    import shapely

    turn = hide.strap_direction
    free = shapely.Polygon(_turned(hide.outline, -turn))
    if hide.flaws:
        flaws = [shapely.Polygon(_turned(flaw.polygon, -turn)) for flaw in hide.flaws]
        free = shapely.difference(free, shapely.union_all(flaws))
    box = _largest(free)
    if box is None:
        return None
    x0, y0, x1, y1 = box
    corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    return ClearRectangle(_turned(corners, turn), x1 - x0, y1 - y0)


def _turned(points: Floats, turn: float) -> Floats:
    c, s = (1.0, 0.0) if not turn else (math.cos(turn), math.sin(turn))
    out: Floats = points @ np.array([[c, s], [-s, c]])
    return out


def _largest(free: Any) -> tuple[float, float, float, float] | None:
    """Return the largest upright rectangle of grid cells that lie wholly in a region, or None."""
    import shapely

    if free.is_empty:
        return None
    x0, y0, x1, y1 = free.bounds
    columns, rows = int((x1 - x0) // CELL), int((y1 - y0) // CELL)
    if not columns or not rows:
        return None
    xs, ys = np.meshgrid(x0 + CELL * np.arange(columns), y0 + CELL * np.arange(rows))
    shapely.prepare(free)
    inside = shapely.covers(free, shapely.box(xs, ys, xs + CELL, ys + CELL))
    best, found = 0, None
    heights = np.zeros(columns, dtype=int)
    for row in range(rows):
        heights = np.where(inside[row], heights + 1, 0)
        waiting: list[tuple[int, int]] = []  # where a bar begins, and how high it is; heights rise
        for column, height in enumerate([*heights.tolist(), 0]):
            begins = column
            while waiting and waiting[-1][1] >= height:
                begins, high = waiting.pop()
                if high * (column - begins) > best:
                    best = high * (column - begins)
                    found = (begins, row + 1 - high, column, row + 1)
            waiting.append((begins, height))
    if found is None:
        return None
    return x0 + CELL * found[0], y0 + CELL * found[1], x0 + CELL * found[2], y0 + CELL * found[3]
