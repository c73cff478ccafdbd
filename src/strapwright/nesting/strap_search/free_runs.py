"""Scan rows of a ground for the free runs of a strap, compiled: a hide's rows take hundredths of a second."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numba
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

_TOUCH = 1e-9
"""An edge that enters a band by less than this only touches it, mm."""

SLACK = 1e-6
"""A strap this much too long for a run still goes in, mm: rounding, a hundredth of the tolerance."""


@numba.njit(cache=True, nogil=True)
def _at(y: Floats, x: Floats, first: int, last: int, height: float) -> float:
    """Return x at a height on a chain of corners ``first`` to ``last - 1``, y increasing."""
    if height <= y[first]:
        return x[first]
    if height > y[last - 1]:
        return x[last - 1]
    below, k = first, last - 1
    while k - below > 1:
        middle = (below + k) // 2
        if height <= y[middle]:
            k = middle
        else:
            below = middle
    share = (height - y[k - 1]) / (y[k] - y[k - 1])
    return x[k - 1] + share * (x[k] - x[k - 1])


@numba.njit(cache=True, nogil=True)
def scan(
    edges: Floats,
    edge_of: Ints,
    corner_of: Ints,
    y: Floats,
    left: Floats,
    right: Floats,
    shortest: float,
    y0: float,
    step: float,
    low: Floats,
    high: Floats,
) -> None:
    """Write the free runs of every row.

    Args:
        edges: of the leather first, then of each area's zones, by rising lower end in each group, (E, 4) mm.
        edge_of: where each group's edges begin and end, (groups + 1,).
        corner_of: where each group's corners begin and end, (groups + 1,).
        y: heights of the groups' corners, mm.
        left: their least x from the strap's left end, mm.
        right: their greatest x from its right end, mm.
        shortest: runs shorter than this are left out, mm.
        y0: height of the first row, mm.
        step: from row to row, mm.
        low: filled with the runs' left ends, (rows, runs) mm.
        high: filled with their right ends.
    """
    groups = len(edge_of) - 1
    reach = np.empty(len(edges))  # the strap's right end touches the edge here, in rising order
    leave = np.empty(len(edges))  # and its left end is past it here
    beside = np.empty(len(edges), np.int64)  # of each group's edges those that lie beside the strap
    count, ahead = np.zeros(groups, np.int64), edge_of[:-1].copy()
    for row in range(len(low)):
        base = y0 + row * step
        met = 0
        for group in range(groups):
            first, last = corner_of[group], corner_of[group + 1]
            bottom, top = base + y[first], base + y[last - 1]
            begin = edge_of[group]
            end = begin + count[group]
            count[group] = 0
            while ahead[group] < edge_of[group + 1]:
                edge = ahead[group]
                if min(edges[edge, 1], edges[edge, 3]) >= top - _TOUCH:
                    break
                beside[end] = edge
                end += 1
                ahead[group] += 1
            for at in range(begin, end):
                edge = beside[at]
                ax, ay, bx, by = edges[edge]
                if ay > by:
                    ax, ay, bx, by = bx, by, ax, ay
                if by <= bottom + _TOUCH:
                    continue
                beside[begin + count[group]] = edge
                count[group] += 1
                from_, to = max(ay, bottom), min(by, top)
                level = by - ay < _TOUCH
                nearest, furthest = np.inf, -np.inf
                # An edge may come nearest at its own ends, or at a corner of the strap between.
                for k in range(first - 2, last):
                    if k == first - 2:
                        height = from_
                    elif k == first - 1:
                        height = to
                    else:
                        height = base + y[k]
                        if height <= from_ or height >= to:
                            continue
                    r = _at(y, right, first, last, height - base)
                    m = _at(y, left, first, last, height - base)
                    if level:
                        nearest = min(nearest, min(ax, bx) - r)
                        furthest = max(furthest, max(ax, bx) - m)
                    else:
                        x = ax + (height - ay) / (by - ay) * (bx - ax)
                        nearest = min(nearest, x - r)
                        furthest = max(furthest, x - m)
                place = met
                while place > 0 and reach[place - 1] > nearest:
                    reach[place], leave[place] = reach[place - 1], leave[place - 1]
                    place -= 1
                reach[place], leave[place] = nearest, furthest
                met += 1
        if met == 0:
            continue
        run = 0
        past = leave[0]
        for k in range(1, met):
            start = reach[k]
            if (
                start - past >= shortest - SLACK
                and run < low.shape[1]
                and _all_free(edges, beside, edge_of, count, corner_of, y, left, right, base, past, start)
            ):
                low[row, run], high[row, run] = past, start
                run += 1
            past = max(past, leave[k])


@numba.njit(cache=True, nogil=True)
def _all_free(
    edges: Floats,
    beside: Ints,
    edge_of: Ints,
    count: Ints,
    corner_of: Ints,
    y: Floats,
    left: Floats,
    right: Floats,
    base: float,
    low: float,
    high: float,
) -> bool:
    """Whether a run lies on the leather and off the zones: one point of each area decides for all of it."""
    for group in range(len(edge_of) - 1):
        first, last = corner_of[group], corner_of[group + 1]
        middle = (first + last) // 2
        within = (y[middle] + y[middle - 1]) / 2
        x = (low + _at(y, left, first, last, within) + high + _at(y, right, first, last, within)) / 2
        height = base + within
        inside = False
        for at in range(edge_of[group], edge_of[group] + count[group]):
            ax, ay, bx, by = edges[beside[at]]
            if (ay > height) != (by > height) and ax + (height - ay) / (by - ay) * (bx - ax) < x:
                inside = not inside
        if inside != (group == 0):
            return False
    return True


@numba.njit(cache=True, nogil=True)
def clearances(
    y: Floats, right: Floats, other_y: Floats, other_left: Floats, step: float, middle: int, out: Floats
) -> None:
    """Write the distance from one strap's right end to another's left end, by how much higher that lies.

    Args:
        y: heights of the first strap's corners, grown by the gap, mm.
        right: its greatest x from its right end, grown by the gap, mm.
        other_y: heights of the other's corners, mm.
        other_left: its least x from its left end, mm.
        step: from row to row, mm.
        middle: where the table tells of no difference in height.
        out: filled, (2 · middle + 1,) mm.
    """
    count, others = len(y), len(other_y)
    first: Any = np.int64(0)
    for at in range(len(out)):
        rise = (at - middle) * step
        low = max(y[0], other_y[0] + rise)
        high = min(y[count - 1], other_y[others - 1] + rise)
        if high - low <= _TOUCH:
            continue
        most = -np.inf
        for k in range(count + others):
            height = y[k] if k < count else other_y[k - count] + rise
            height = min(max(height, low), high)
            most = max(
                most,
                _at(y, right, first, count, height) - _at(other_y, other_left, first, others, height - rise),
            )
        out[at] = most
