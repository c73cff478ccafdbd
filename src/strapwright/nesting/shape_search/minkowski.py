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
    # What each corner turns through: from a lowest rank on, so many ranks.
    low, reach = np.empty(total, np.int64), np.empty(total, np.int64)
    left = np.empty(total, np.bool_)
    for out in range(total):
        base, size = (0, n) if out < n else (n, m)
        into = base + (out - base - 1) % size
        turn = angles[out] - angles[into]
        if turn >= np.pi:
            turn -= 2 * np.pi
        elif turn < -np.pi:
            turn += 2 * np.pi
        left[out] = turn > 0 or (turn == 0 and rank[out] > rank[into])
        low[out] = rank[into] if left[out] else rank[out]
        reach[out] = (rank[out] - rank[into] if left[out] else rank[into] - rank[out]) % total
    seen = np.zeros((2, n, m), np.bool_)
    corners, ends = np.empty((2 * n * m, 2), np.int64), np.empty(2 * n * m, np.int64)
    used, curves = 0, 0
    sizes, at = np.array([n, m]), np.empty(2, np.int64)
    for kind in range(2):
        for i0 in range(n):
            for j0 in range(m):
                # A side of one is carried by a corner of the other that turns through its direction.
                carrier, side = (n + j0, rank[i0]) if kind == 0 else (i0, rank[n + j0])
                offset = (side - low[carrier]) % total
                if seen[kind, i0, j0] or offset == 0 or offset >= reach[carrier]:
                    continue
                forward, moving = left[carrier], kind
                at[0], at[1] = i0, j0
                if not forward:
                    at[kind] = (at[kind] + 1) % sizes[kind]
                while True:
                    # Carry along the side; it is entered where both corners are.
                    x, y = p[at[0], 0] + q[at[1], 0], p[at[0], 1] + q[at[1], 1]
                    number = at[moving] if forward else (at[moving] - 1) % sizes[moving]
                    i, j = (number, at[1]) if moving == 0 else (at[0], number)
                    if seen[moving, i, j]:
                        break
                    seen[moving, i, j] = True
                    direction = rank[number + moving * n]
                    corners[used, 0], corners[used, 1] = x, y
                    used += 1
                    at[moving] = (at[moving] + (1 if forward else -1)) % sizes[moving]
                    # Turn on from this direction until either corner has turned through its own.
                    own, other = (at[0], n + at[1]) if moving == 0 else (n + at[1], at[0])
                    rising = direction == low[own]
                    to_other = low[other] + reach[other] - direction if rising else direction - low[other]
                    if reach[own] > to_other % total:
                        moving, own = 1 - moving, other
                    # A corner that turns left ends rising with the side that leaves it.
                    forward = rising == left[own]
                ends[curves] = used
                curves += 1
    return corners[:used], ends[:curves]
