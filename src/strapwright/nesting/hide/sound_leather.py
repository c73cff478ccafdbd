"""Sound leather on a hide, clear of edge and flaws: all of it, its longest strap, its largest rectangle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.geometry.polygon import turned

if TYPE_CHECKING:
    from strapwright.core.arrays import Floats
    from strapwright.nesting.hide.types import Hide


ROW: Final = 2.0
"""Rows for the longest strap are looked at every so many mm across the hide."""

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
    free = shapely.Polygon(turned(hide.outline, -turn))
    if hide.flaws:
        flaws = [shapely.Polygon(turned(flaw.polygon, -turn)) for flaw in hide.flaws]
        free = shapely.difference(free, shapely.union_all(flaws))
    if free.is_empty:
        return None
    # Of upright rectangles of grid cells that lie wholly in what is free, the largest.
    x0, y0, x1, y1 = free.bounds
    columns, rows = int((x1 - x0) // CELL), int((y1 - y0) // CELL)
    if not columns or not rows:
        return None
    xs, ys = np.meshgrid(x0 + CELL * np.arange(columns), y0 + CELL * np.arange(rows))
    shapely.prepare(free)
    inside = shapely.covers(free, shapely.box(xs, ys, xs + CELL, ys + CELL))
    best, found = 0, (0, 0, 0, 0)
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
    if not best:
        return None
    (x1, y1), (x2, y2) = np.array([(x0, y0)]) + CELL * np.array(found).reshape(2, 2)
    corners = np.array([(x1, y1), (x2, y1), (x2, y2), (x1, y2)])
    return ClearRectangle(turned(corners, turn), float(x2 - x1), float(y2 - y1))


def free_leather(hide: Hide, margin: float) -> Any:
    """Return what of a hide lies clear of its edge and of every flaw, as a shapely geometry.

    Args:
        hide: the hide.
        margin: distance kept, mm, not negative.
    """
    import shapely

    free = shapely.Polygon(hide.outline).buffer(-margin)
    if hide.flaws:
        flaws = shapely.union_all([shapely.Polygon(flaw.polygon) for flaw in hide.flaws])
        free = free.difference(flaws.buffer(margin))
    return free


@dataclass(frozen=True, eq=False)
class LongestStrap:
    """The longest strap of one width that finds room on a hide.

    Args:
        length: mm.
        width: mm.
        corners: where it lies, (4, 2) mm in the hide's frame.
    """

    length: float
    width: float
    corners: Floats


def longest_strap(hide: Hide, width: float, margin: float = 2.0) -> LongestStrap | None:
    """Return the longest strip of a width that lies along the strap direction, clear of edges and flaws.

    Args:
        hide: the hide.
        width: of the strap, mm.
        margin: kept from edges and flaws, mm.

    Returns:
        The strip, to within `ROW` of the best height; None where no row is that wide.

    Example:
        >>> from strapwright.nesting.hide.types import Hide
        >>> bend = Hide("bend", np.array([(0, 0), (1200, 0), (1200, 700), (0, 700)]))
        >>> longest_strap(bend, 38.0).length, longest_strap(bend, 800.0)
        (1196.0, None)
    """
    import shapely

    direction = hide.strap_direction
    free = shapely.transform(free_leather(hide, margin), lambda points: turned(points, -direction))
    if free.is_empty:
        return None
    x0, y0, x1, y1 = free.bounds
    if y1 - y0 < width:
        return None
    heights = np.append(np.arange(y0, y1 - width, ROW), y1 - width)
    rows = shapely.box(x0 - 1, heights, x1 + 1, heights + width)
    # What of a row is not free casts a shadow on x; the longest strap lies in the longest light. Each flaw is
    # asked for the few rows it reaches: all in one shape, every row would go through all their corners.
    blocked = [shapely.Polygon(hide.outline).buffer(-margin)]
    blocked += list(shapely.buffer([shapely.Polygon(flaw.polygon) for flaw in hide.flaws], margin))
    inner, *flaws = shapely.transform(blocked, lambda points: turned(points, -direction))
    flaw, met = shapely.STRtree(rows).query(flaws) if flaws else (np.empty(0, int), np.empty(0, int))
    beside, beside_row = shapely.get_parts(shapely.difference(rows, inner), return_index=True)
    grown, boxes = np.array(flaws, dtype=object), shapely.bounds(flaws).reshape(-1, 4)
    within = (boxes[flaw, 1] >= heights[met]) & (boxes[flaw, 3] <= heights[met] + width)
    cut = shapely.intersection(rows[met[~within]], grown[flaw[~within]])
    parts, pair = shapely.get_parts(cut, return_index=True)
    real = shapely.area(parts) > 0.0  # what only touches a row takes nothing of it
    shadows = np.concatenate([shapely.bounds(beside), boxes[flaw[within]], shapely.bounds(parts[real])])
    index = np.concatenate([beside_row, met[within], met[~within][pair[real]]])
    order = np.lexsort((shadows[:, 0], index))
    ends_of = np.searchsorted(index[order], np.arange(len(heights) + 1))
    best: tuple[float, float, float] | None = None
    for row in range(len(heights)):
        mine = shadows[order[ends_of[row] : ends_of[row + 1]]]
        ends = np.maximum.accumulate(mine[:, 2])
        gaps = mine[1:, 0] - ends[:-1]
        if not len(gaps):
            continue
        widest = int(np.argmax(gaps))
        if gaps[widest] > 0 and (best is None or gaps[widest] > best[0] + 1e-6):
            best = float(gaps[widest]), float(ends[widest]), float(heights[row])
    if best is None:
        return None
    length, x, y = best
    corners = np.array([(x, y), (x + length, y), (x + length, y + width), (x, y + width)])
    return LongestStrap(length, width, turned(corners, direction))
