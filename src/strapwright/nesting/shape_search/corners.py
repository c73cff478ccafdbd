"""Candidate places for bottom-left placement: corners of the free region of a piece; compiled."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from strapwright.nesting.shape_search.penetration import CLEAR, depth, distance_outside, inside, nearest


@njit(cache=True, nogil=True)
def _is_free(nfps: Any, rotation: int, last: int, rotations: Any, at: Any, x: float, y: float) -> bool:
    """Whether a piece at a place is within its inner-fit polygon and clear of those laid, up to ``last``."""
    far, _, _ = distance_outside(nfps, rotation, x, y)
    if far > CLEAR:
        return False
    for k in range(last, -1, -1):
        deep, _, _ = depth(nfps, rotations[k], rotation, x - at[k, 0], y - at[k, 1])
        if deep > 0:
            return False
    return True


@njit(cache=True, nogil=True)
def _crossings(
    first: Any,
    a: int,
    b: int,
    ax: float,
    ay: float,
    box: Any,
    second: Any,
    c: int,
    d: int,
    cx: float,
    cy: float,
    out: Any,
) -> int:
    """Write where some sides, within a box about them, cross others, and return how often."""
    count = 0
    x0, y0, x1, y1 = box[0] + ax - cx, box[1] + ay - cy, box[2] + ax - cx, box[3] + ay - cy
    for k in range(c, d):
        u, v, du, dv = second[k, 0], second[k, 1], second[k, 2], second[k, 3]
        low_u, high_u = min(u, u + du), max(u, u + du)
        low_v, high_v = min(v, v + dv), max(v, v + dv)
        if low_u > x1 or high_u < x0 or low_v > y1 or high_v < y0:
            continue
        for i in range(a, b):
            x, y, dx, dy = first[i, 0] + ax - cx, first[i, 1] + ay - cy, first[i, 2], first[i, 3]
            if (
                max(x, x + dx) < low_u
                or min(x, x + dx) > high_u
                or max(y, y + dy) < low_v
                or min(y, y + dy) > high_v
            ):
                continue
            cross = dx * dv - dy * du
            if cross == 0:
                continue
            s = ((u - x) * dv - (v - y) * du) / cross
            t = ((u - x) * dy - (v - y) * dx) / cross
            if 0 <= s <= 1 and 0 <= t <= 1 and count < len(out):
                out[count, 0], out[count, 1] = x + s * dx + cx, y + s * dy + cy
                count += 1
    return count


@njit(cache=True, nogil=True)
def _copy_corners(sides: Any, first: int, last: int, x: float, y: float, out: Any) -> int:
    """Write where some sides begin, moved, and return how many there are."""
    count = min(last - first, len(out))
    for k in range(count):
        out[k, 0], out[k, 1] = x + sides[first + k, 0], y + sides[first + k, 1]
    return count


@njit(cache=True, nogil=True)
def update_corners(
    nfps: Any, rotation: int, n: int, rotations: Any, at: Any, done: int, places: Any, count: int
) -> int:
    """Update the corners of the region that is free for a piece, in one of its rotations.

    Args:
        nfps: the no-fit polygons.
        rotation: the rotation.
        n: how many rotations lie.
        rotations: of each.
        at: origin of each.
        done: how many of them the corners know of already; -1 where there are none yet.
        places: the corners, (capacity, 2); changed in place. What does not fit in is left out.
        count: how many there are.

    Returns:
        How many there are now.
    """
    first, last = nfps.fit_start[rotation], nfps.fit_stop[rotation]
    crossings = np.empty((2048, 2))
    if done < 0:
        count = _copy_corners(nfps.fit_sides, first, last, 0.0, 0.0, places)
        done = 0
    for j in range(done, n):
        kept = 0
        for k in range(count):
            deep, _, _ = depth(nfps, rotations[j], rotation, places[k, 0] - at[j, 0], places[k, 1] - at[j, 1])
            if deep == 0:
                places[kept, 0], places[kept, 1] = places[k, 0], places[k, 1]
                kept += 1
        count = kept
        pair = nfps.pair[rotations[j], rotation]
        a, b = int(nfps.start[pair]), int(nfps.stop[pair])
        for k in range(a, b):
            x, y = at[j, 0] + nfps.sides[k, 0], at[j, 1] + nfps.sides[k, 1]
            if count < len(places) and _is_free(nfps, rotation, j, rotations, at, x, y):
                places[count, 0], places[count, 1] = x, y
                count += 1
        for other in range(-1, j):
            others, c, d, dx, dy = nfps.fit_sides, first, last, 0.0, 0.0
            if other >= 0:
                beside, boxes = nfps.pair[rotations[other], rotation], nfps.box
                others, c, d = nfps.sides, int(nfps.start[beside]), int(nfps.stop[beside])
                dx, dy = at[other, 0], at[other, 1]
                x, y = at[j, 0] - dx, at[j, 1] - dy
                if x + boxes[pair, 0] > boxes[beside, 2] or x + boxes[pair, 2] < boxes[beside, 0]:
                    continue
                if y + boxes[pair, 1] > boxes[beside, 3] or y + boxes[pair, 3] < boxes[beside, 1]:
                    continue
            x, y, box = at[j, 0], at[j, 1], nfps.box[pair]
            found = _crossings(nfps.sides, a, b, x, y, box, others, c, d, dx, dy, crossings)
            for k in range(found):
                x, y = crossings[k, 0], crossings[k, 1]
                if count < len(places) and _is_free(nfps, rotation, j, rotations, at, x, y):
                    places[count, 0], places[count, 1] = x, y
                    count += 1
    return count


@njit(cache=True, nogil=True)
def lowest_kept(nfps: Any, rotation: int, places: Any, count: int, ux: float, uy: float) -> Any:
    """Return the lowest corner kept, as seen along a direction, and how far the piece reaches there."""
    best, where = np.inf, -1
    reach_x = nfps.reach[rotation, 2] if ux > 0 else nfps.reach[rotation, 0]
    reach_y = nfps.reach[rotation, 3] if uy > 0 else nfps.reach[rotation, 1]
    for k in range(count):
        reach = ux * (places[k, 0] + reach_x) + uy * (places[k, 1] + reach_y)
        if reach < best:
            best, where = reach, k
    return where, best


@njit(cache=True, nogil=True)
def _blocker(
    nfps: Any, rotation: int, n: int, around: Any, ranges: Any, x: float, y: float, first: int
) -> int:
    """Return which of the rotations around keeps another from a place: -1 for none, n for the ground's edge.

    Args:
        nfps: the no-fit polygons.
        rotation: the rotation.
        n: how many there are around.
        around: the origin of each, and the box where it keeps the rotation away, (n, 6).
        ranges: of the sides of each no-fit polygon, (n, 2) or wider.
        x: of the place, mm.
        y: of the place, mm.
        first: asked first: most often it is what was in the way of the place before.
    """
    for turn in range(n + 1):
        k = first if turn == 0 else n - turn
        if around[k, 2] < x < around[k, 4] and around[k, 3] < y < around[k, 5]:
            px, py = x - around[k, 0], y - around[k, 1]
            a, b = ranges[k, 0], ranges[k, 1]
            if inside(nfps.sides, a, b, px, py):
                far, _, _ = nearest(nfps.sides, a, b, px, py)
                if far > CLEAR:
                    return k
    far, _, _ = distance_outside(nfps, rotation, x, y)
    return n if far > CLEAR else -1


@njit(cache=True, nogil=True)
def _reach_of_both(around: Any, i: int, j: int, ux: float, uy: float) -> Any:
    """Return how far at least a place within two boxes reaches; infinity where they do not meet."""
    x0, x1 = max(around[i, 2], around[j, 2]), min(around[i, 4], around[j, 4])
    y0, y1 = max(around[i, 3], around[j, 3]), min(around[i, 5], around[j, 5])
    if x0 > x1 or y0 > y1:
        return np.inf
    return ux * (x0 if ux > 0 else x1) + uy * (y0 if uy > 0 else y1)


@njit(cache=True, nogil=True)
def lowest_corner(
    nfps: Any, rotation: int, n: int, rotations: Any, at: Any, ux: float, uy: float, limit: float
) -> Any:
    """Return the lowest corner of what is free for a rotation, as seen along a direction.

    Of the corners `update_corners` keeps up to date, it looks only at those that reach less far than
    the best so far: much less work where they are wanted once.

    Args:
        nfps: the no-fit polygons.
        rotation: the rotation.
        n: how many rotations lie.
        rotations: of each.
        at: origin of each.
        ux: the direction.
        uy: the direction.
        limit: only what reaches less far counts.

    Returns:
        x and y, mm, and how far the rotation reaches there: infinity where there is no such corner.
    """
    reach_x = ux * (nfps.reach[rotation, 2] if ux > 0 else nfps.reach[rotation, 0])
    reach_y = uy * (nfps.reach[rotation, 3] if uy > 0 else nfps.reach[rotation, 1])
    best, best_x, best_y, any_free = limit - reach_x - reach_y, 0.0, 0.0, False
    first, last = nfps.fit_start[rotation], nfps.fit_stop[rotation]
    x0, y0, x1, y1 = nfps.fit_box[rotation]
    # Beyond the last, one that is nowhere: it is asked first while nothing was in the way yet.
    around, ranges = np.empty((n + 1, 6)), np.empty((n + 1, 3), np.int64)
    count: Any = np.int64(0)
    for j in range(n):
        pair = nfps.pair[rotations[j], rotation]
        x, y, box = at[j, 0], at[j, 1], nfps.box[pair]
        if x + box[0] > x1 or x + box[2] < x0 or y + box[1] > y1 or y + box[3] < y0:
            continue
        around[count, 0], around[count, 1] = x, y
        around[count, 2], around[count, 3] = x + box[0], y + box[1]
        around[count, 4], around[count, 5] = x + box[2], y + box[3]
        ranges[count, 0], ranges[count, 1], ranges[count, 2] = (
            int(nfps.start[pair]),
            int(nfps.stop[pair]),
            pair,
        )
        count += 1
    for k in range(6):
        around[count, k] = np.inf if k < 4 else -np.inf
    places, hint = np.empty((2048, 2)), count
    for j in range(-1, count):
        if j >= 0 and _reach_of_both(around, j, j, ux, uy) >= best:
            continue
        # The corners of its no-fit polygon, then where that crosses the ground's edge and those before it.
        for other in range(-2, max(j, -1)):
            if other >= 0 and _reach_of_both(around, j, other, ux, uy) >= best:
                continue
            found = 0
            if j < 0:
                found = _copy_corners(nfps.fit_sides, first, last, 0.0, 0.0, places)
            else:
                c, d, x, y, box = (
                    ranges[j, 0],
                    ranges[j, 1],
                    around[j, 0],
                    around[j, 1],
                    nfps.box[ranges[j, 2]],
                )
                if other == -2:
                    found = _copy_corners(nfps.sides, c, d, x, y, places)
                elif other == -1:
                    found = _crossings(
                        nfps.sides, c, d, x, y, box, nfps.fit_sides, first, last, 0.0, 0.0, places
                    )
                else:
                    e, f, u, v = ranges[other, 0], ranges[other, 1], around[other, 0], around[other, 1]
                    found = _crossings(nfps.sides, c, d, x, y, box, nfps.sides, e, f, u, v, places)
            for k in range(found):
                reach = ux * places[k, 0] + uy * places[k, 1]
                if reach >= best:
                    continue
                blocked = _blocker(nfps, rotation, count, around, ranges, places[k, 0], places[k, 1], hint)
                if blocked < 0:
                    best, best_x, best_y, any_free = reach, places[k, 0], places[k, 1], True
                elif blocked < count:
                    hint = blocked
    return best_x, best_y, best + reach_x + reach_y if any_free else np.inf
