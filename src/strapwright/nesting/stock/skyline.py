"""The stepped line with few steps that runs above a set of boxes and loses least of the leather below."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

COLUMN: Final = 5.0
"""Steps stand on a grid of this width, mm."""

SHORTEST_TREAD: Final = 150.0
"""A level stretch shorter than this is not worth two corners, mm."""

_ROUND: Final = 0.1
"""Levels are rounded up to this, mm: nobody cuts a remnant off finer."""


@dataclass(frozen=True, eq=False)
class Stairs:
    """A line that runs level, in steps, from one side of a hide to the other.

    Args:
        line: its corners from left to right, (2 × treads, 2) mm; it begins and ends off the hide.
        far: a height above everything, mm.
    """

    line: Floats
    far: float


def stairs(shape: Any, boxes: Floats, treads: int) -> Stairs | None:
    """Return the line of so many treads above all boxes that loses least of a shape.

    Args:
        shape: a shapely polygon.
        boxes: (N, 4) mm: least x, least y, greatest x, greatest y.
        treads: how many level stretches, 1 or more.

    Returns:
        The line, or None where the shape is too short for so many treads.

    Example:
        >>> import shapely
        >>> boxes = np.array([(0.0, 0.0, 1000.0, 100.0), (0.0, 100.0, 300.0, 200.0)])
        >>> stairs(shapely.box(0, 0, 1000, 500), boxes, 2).line.tolist()
        [[-1.0, 200.0], [300.0, 200.0], [300.0, 100.0], [1001.0, 100.0]]
    """
    made = list(all_stairs(shape, boxes, treads))
    return made[-1] if len(made) == treads else None


def all_stairs(shape: Any, boxes: Floats, most: int) -> Iterator[Stairs]:
    """Yield the line of one tread, of two and so on, as `stairs` has them, as many as there is room for."""
    x0, y0, x1, y1 = shape.bounds
    count = max(1, math.ceil((x1 - x0) / COLUMN - 1e-9))
    least = min(math.ceil(SHORTEST_TREAD / COLUMN), count)
    most = max(1, min(most, count // least))
    edges = x0 + COLUMN * np.arange(count + 1)
    skyline = np.full(count, y0)
    for bx0, _, bx1, by1 in boxes:
        first = max(0, math.floor((bx0 - x0) / COLUMN + 1e-9))
        last = min(count, math.ceil((bx1 - x0) / COLUMN - 1e-9))
        skyline[first:last] = np.maximum(skyline[first:last], math.ceil(by1 / _ROUND - 1e-9) * _ROUND)
    lost, levels = _losses(shape, edges, skyline)
    for ends in _cheapest(lost, most, least):
        corners: list[tuple[float, float]] = []
        for first, last in pairwise(ends):
            height = float(levels[first, last - 1])
            height = y0 - 1.0 if height <= y0 else height  # nothing lies there: all of it is kept
            left = x0 - 1.0 if first == 0 else float(edges[first])
            right = max(x1, float(edges[-1])) + 1.0 if last == count else float(edges[last])
            corners += [(left, height), (right, height)]
        yield Stairs(np.array(corners), y1 + 1.0)


def _losses(shape: Any, edges: Floats, skyline: Floats) -> tuple[Floats, Floats]:
    """Return, for a tread over columns i to j, about how much leather it loses, and its level: (C, C)."""
    low, high = _chords(shape, (edges[:-1] + edges[1:]) / 2)
    count = len(skyline)
    heights, which = np.unique(skyline, return_inverse=True)
    below = np.clip(heights[:, None] - low[None, :], 0.0, (high - low)[None, :]) * COLUMN
    summed = np.concatenate([np.zeros((len(heights), 1)), np.cumsum(below, axis=1)], axis=1)
    lost = np.full((count, count), np.inf)
    levels = np.full((count, count), np.inf)
    for first in range(count):
        top = np.maximum.accumulate(which[first:])
        last = np.arange(first, count)
        lost[first, first:] = summed[top, last + 1] - summed[top, first]
        levels[first, first:] = heights[top]
    return lost, levels


def _chords(shape: Any, xs: Floats) -> tuple[Floats, Floats]:
    """Return the lowest and the highest point of a shape at each x; equal where it has none."""
    import shapely

    _, y0, _, y1 = shape.bounds
    lines = shapely.linestrings([[(x, y0 - 1), (x, y1 + 1)] for x in xs])
    bounds = shapely.bounds(shapely.intersection(lines, shape))
    low, high = bounds[:, 1], bounds[:, 3]
    off = ~np.isfinite(low)
    return np.where(off, y0, low), np.where(off, y0, high)


def _cheapest(lost: Floats, most: int, least: int) -> Iterator[list[int]]:
    """Yield the columns at which one tread, two and so on begin, and the end, so that least is lost."""
    count = len(lost)
    first, last = np.arange(count)[:, None], np.arange(1, count + 1)
    one = np.where(last - first >= least, lost, np.inf)  # of a tread from column ``first`` up to ``last``
    best = np.full(count + 1, np.inf)
    best[0] = 0.0
    came: list[NDArray[np.int64]] = []
    for _ in range(most):
        cost = best[:-1, None] + one
        pick = np.argmin(cost, axis=0)
        came.append(np.append(0, pick))
        best = np.append(np.inf, cost[pick, last - 1])
        ends = [count]
        for back in reversed(came):
            ends.append(int(back[ends[-1]]))
        yield ends[::-1]
