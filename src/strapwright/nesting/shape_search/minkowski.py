"""The convolution of two polygons, whose outer curve bounds their Minkowski sum; compiled.

Guibas, Ramshaw, Stolfi, "A kinetic framework for computational geometry" (1983): where the winding number
of the convolution of two outlines is not zero, a copy of one turned about meets the other. For outlines of
n and m corners it has hardly more than n + m sides where both are nearly convex, against n times m for
sides swept one by one.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def _span(start: Any, stop: Any, left: Any, total: Any) -> Any:
    """Return lowest rank and length of what a corner turns through."""
    if left:
        return start, (stop - start) % total
    return stop, (start - stop) % total


@njit(cache=True, nogil=True)
def _directions(p: Any, q: Any) -> Any:
    """Return the direction of each side of two outlines, one after the other, radians."""
    n, m = len(p), len(q)
    angles = np.empty(n + m)
    for i in range(n):
        angles[i] = np.arctan2(p[(i + 1) % n, 1] - p[i, 1], p[(i + 1) % n, 0] - p[i, 0])
    for j in range(m):
        angles[n + j] = np.arctan2(q[(j + 1) % m, 1] - q[j, 1], q[(j + 1) % m, 0] - q[j, 0])
    return angles


def convolution(p: Any, q: Any) -> Any:
    """Return the closed curves of the convolution of two outlines.

    Directions are compared by rank alone, so that parallel sides fall into one order throughout.

    Args:
        p: (N, 2) whole numbers, simple; it may run either way round.
        q: (M, 2) whole numbers, simple, counter-clockwise.

    Returns:
        Corners (K, 2), and where each curve ends in them (C,).

    Example:
        >>> square = np.array([[0, 0], [4, 0], [4, 4], [0, 4]], dtype=np.int64)
        >>> corners, ends = convolution(square, square)
        >>> corners.max(axis=0).tolist(), ends.tolist()
        ([8, 8], [8])
    """
    angles = _directions(p, q)  # sorted by NumPy: to compile a sort takes longer than all the rest
    corners, ends = _curves(p, q, angles, np.argsort(angles, kind="stable"))
    return corners.copy(), ends.copy()


@njit(cache=True, nogil=True)
def _curves(p: Any, q: Any, angles: Any, order: Any) -> Any:
    """Return the curves of :func:`convolution` from the directions of all sides and their order."""
    n, m = len(p), len(q)
    total = n + m
    rank = np.empty(total, np.int64)
    for place in range(total):
        rank[order[place]] = place
    low, reach = np.empty(total, np.int64), np.empty(total, np.int64)
    left = np.empty(total, np.bool_)
    for i in range(total):
        base, size = (0, n) if i < n else (n, m)
        into, out = base + (i - base - 1) % size, i
        turn = angles[out] - angles[into]
        if turn > np.pi or (turn == np.pi):
            turn -= 2 * np.pi
        elif turn < -np.pi:
            turn += 2 * np.pi
        left[i] = turn > 0 or (turn == 0 and rank[out] > rank[into])
        low[i], reach[i] = _span(rank[into], rank[out], left[i], total)
    seen_p, seen_q = np.zeros((n, m), np.bool_), np.zeros((n, m), np.bool_)
    capacity = 4 * total
    corners = np.empty((capacity, 2), np.int64)
    ends = np.empty(total * 2 + 16, np.int64)
    used, curves = 0, 0
    for kind in range(2):
        for i0 in range(n):
            for j0 in range(m):
                # A side of one is carried by a corner of the other that turns through its direction.
                if kind == 0:
                    carrier, side = n + j0, rank[i0]
                    if seen_p[i0, j0]:
                        continue
                else:
                    carrier, side = i0, rank[n + j0]
                    if seen_q[i0, j0]:
                        continue
                offset = (side - low[carrier]) % total
                if offset == 0 or offset >= reach[carrier]:
                    continue
                forward = left[carrier]
                i, j, moving = i0, j0, kind
                if not forward:
                    if kind == 0:
                        i = (i0 + 1) % n
                    else:
                        j = (j0 + 1) % m
                while True:
                    # Carry along the side; (i, j) is where it is entered.
                    if moving == 0:
                        number = i if forward else (i - 1) % n
                        if seen_p[number, j]:
                            break
                        seen_p[number, j] = True
                        direction = rank[number]
                    else:
                        number = j if forward else (j - 1) % m
                        if seen_q[i, number]:
                            break
                        seen_q[i, number] = True
                        direction = rank[n + number]
                    if used == capacity:
                        capacity *= 2
                        larger = np.empty((capacity, 2), np.int64)
                        for k in range(used):
                            larger[k, 0], larger[k, 1] = corners[k, 0], corners[k, 1]
                        corners = larger
                    corners[used, 0] = p[i, 0] + q[j, 0]
                    corners[used, 1] = p[i, 1] + q[j, 1]
                    used += 1
                    if moving == 0:
                        i = (i + 1) % n if forward else (i - 1) % n
                    else:
                        j = (j + 1) % m if forward else (j - 1) % m
                    # Turn on from this direction until either corner has turned through its own.
                    own, other = (i, n + j) if moving == 0 else (n + j, i)
                    if direction == low[own]:
                        to_own = reach[own]
                        to_other = (low[other] + reach[other] - direction) % total
                        rising = True
                    else:
                        to_own = reach[own]
                        to_other = (direction - low[other]) % total
                        rising = False
                    if to_own > to_other:
                        moving = 1 - moving
                        own = other
                    # A corner that turns left ends rising with the side that leaves it.
                    forward = rising == left[own]
                if curves == len(ends):
                    more = np.empty(2 * curves, np.int64)
                    for k in range(curves):
                        more[k] = ends[k]
                    ends = more
                ends[curves] = used
                curves += 1
    return corners[:used], ends[:curves]
