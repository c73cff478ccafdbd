"""Bottom-left fill: pieces placed one after another, each as low and as far left as it goes; compiled."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from strapwright.nesting.compiled import compiled, within
from strapwright.nesting.shape_search.nfp_cache import Packing
from strapwright.nesting.shape_search.penetration import CLEAR, distance_outside, inside, nearest

if TYPE_CHECKING:
    from strapwright.nesting.shape_search.nfp_cache import NfpCache

LEAN = 0.02
"""What a mm to the left is worth in mm of height, so that no two corners count the same."""

_EASE = 1e-3
"""Of pieces alike none comes to lie lower than the one before it, but for so much by rounding, mm."""


def bottom_left_fill(cache: NfpCache) -> Packing:
    """Return a first layout: the most valuable pieces first, each as low, then as far left, as it goes."""
    room = sum(len(group.pieces) for group in cache.groups)
    groups: list[int] = []
    rotations, at = np.zeros(room, dtype=np.int64), np.zeros((room, 2))
    for group in sorted(range(len(cache.groups)), key=lambda group: (-cache.groups[group].value, group)):
        if not cache.fits(group):
            continue
        least = dict.fromkeys(cache.fitting(group), -math.inf)
        for _ in cache.groups[group].pieces:
            count, best = len(groups), math.inf
            nfps = cache.arrays_beside(rotations[:count].tolist(), group)
            for rotation in least:
                x, y, reach = lowest_corner(
                    nfps, rotation, rotations[:count], at[:count], least[rotation] - _EASE, best - 1e-9
                )
                least[rotation] = min(reach, best)
                if reach < best:
                    best, rotations[count], at[count] = reach, rotation, (x, y)
            if best == math.inf:
                break
            groups.append(group)
    count = len(groups)
    value = sum(cache.groups[group].value for group in groups)
    return Packing(value, tuple(groups), rotations[:count].copy(), at[:count].copy())


@within
def _crossings(one: Any, other: Any, around: Any, ranges: Any, j: int, k: int, out: Any) -> int:
    """Write where the sides of one polygon cross those of another, and return how often.

    Args:
        one: the sides of polygon ``j`` are among these.
        other: the sides of polygon ``k`` are among these.
        around: as in :func:`lowest_corner`.
        ranges: likewise.
        j: number of the one.
        k: number of the other.
        out: room for the crossings.
    """
    count = 0
    ax, ay, cx, cy = around[j, 0], around[j, 1], around[k, 0], around[k, 1]
    x0, y0, x1, y1 = around[j, 2] - cx, around[j, 3] - cy, around[j, 4] - cx, around[j, 5] - cy
    for n in range(ranges[k, 0], ranges[k, 1]):
        u, v, du, dv = other[n, 0], other[n, 1], other[n, 2], other[n, 3]
        low_u, high_u = min(u, u + du), max(u, u + du)
        low_v, high_v = min(v, v + dv), max(v, v + dv)
        if low_u > x1 or high_u < x0 or low_v > y1 or high_v < y0:
            continue
        for i in range(ranges[j, 0], ranges[j, 1]):
            x, y, dx, dy = one[i, 0] + ax - cx, one[i, 1] + ay - cy, one[i, 2], one[i, 3]
            if max(x, x + dx) < low_u or min(x, x + dx) > high_u:
                continue
            if max(y, y + dy) < low_v or min(y, y + dy) > high_v:
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


@within
def _blocker(nfps: Any, rotation: int, around: Any, ranges: Any, x: float, y: float, first: int) -> int:
    """Return which polygon keeps a rotation from a place: 0 for the ground's edge, -1 for none.

    Args:
        nfps: the no-fit polygons.
        rotation: the rotation.
        around: as in :func:`lowest_corner`.
        ranges: likewise.
        x: of the place, mm.
        y: of the place, mm.
        first: asked first: most often it is what was in the way of the place before.
    """
    count = len(around)
    for turn in range(count):
        k = first if turn == 0 else count - turn
        if k > 0 and around[k, 2] < x < around[k, 4] and around[k, 3] < y < around[k, 5]:
            px, py = x - around[k, 0], y - around[k, 1]
            a, b = ranges[k, 0], ranges[k, 1]
            if inside(nfps.sides, a, b, px, py):
                far, _, _ = nearest(nfps.sides, a, b, px, py)
                if far > CLEAR:
                    return k
    far, _, _ = distance_outside(nfps, rotation, x, y)
    return 0 if far > CLEAR else -1


@within
def _passed_over(around: Any, j: int, k: int, least: float, best: float) -> Any:
    """Whether no place within two boxes reaches as far as the least and less far than the best."""
    x0, x1 = max(around[j, 2], around[k, 2]), min(around[j, 4], around[k, 4])
    y0, y1 = max(around[j, 3], around[k, 3]), min(around[j, 5], around[k, 5])
    return x0 > x1 or y0 > y1 or LEAN * x0 + y0 >= best or LEAN * x1 + y1 < least


@compiled
def lowest_corner(nfps: Any, rotation: int, rotations: Any, at: Any, least: float, limit: float) -> Any:
    """Return the lowest corner of what is free for a rotation.

    Polygon 0 is the rotation's inner-fit polygon, the others its no-fit polygons beside what lies: the
    corners are theirs, and where two of them cross.

    Args:
        nfps: the no-fit polygons.
        rotation: the rotation.
        rotations: that lie.
        at: origin of each.
        least: what reaches less far is known not to be free.
        limit: only what reaches less far counts.

    Returns:
        x and y, mm, and how far the rotation reaches there: infinity where there is no such corner.
    """
    reach_x, reach_y = LEAN * nfps.reach[rotation, 2], nfps.reach[rotation, 3]
    best, best_x, best_y, any_free = limit - reach_x - reach_y, 0.0, 0.0, False
    least = least - reach_x - reach_y
    x0, y0, x1, y1 = nfps.fit_box[rotation]
    # Of each polygon its origin and box, and the range of its sides.
    around, ranges = np.zeros((len(rotations) + 1, 6)), np.empty((len(rotations) + 1, 2), np.int64)
    around[0, 2], around[0, 3], around[0, 4], around[0, 5] = x0, y0, x1, y1
    ranges[0, 0], ranges[0, 1] = nfps.fit_start[rotation], nfps.fit_stop[rotation]
    count = 1
    for j in range(len(rotations)):
        pair = nfps.pair[rotations[j], rotation]
        x, y, box = at[j, 0], at[j, 1], nfps.box[pair]
        if x + box[0] > x1 or x + box[2] < x0 or y + box[1] > y1 or y + box[3] < y0:
            continue
        around[count, 0], around[count, 1] = x, y
        around[count, 2], around[count, 3] = x + box[0], y + box[1]
        around[count, 4], around[count, 5] = x + box[2], y + box[3]
        ranges[count, 0], ranges[count, 1] = int(nfps.start[pair]), int(nfps.stop[pair])
        count += 1
    around, places = around[:count], np.empty((2048, 2))
    hint: Any = np.int64(0)
    for j in range(count):
        if _passed_over(around, j, j, least, best):
            continue
        own = nfps.sides if j else nfps.fit_sides
        for other in range(-1, j):
            if other < 0:
                found = min(ranges[j, 1] - ranges[j, 0], len(places))
                for k in range(found):
                    side = ranges[j, 0] + k
                    places[k, 0], places[k, 1] = around[j, 0] + own[side, 0], around[j, 1] + own[side, 1]
            elif _passed_over(around, j, other, least, best):
                continue
            else:
                crossed = nfps.sides if other else nfps.fit_sides
                found = _crossings(own, crossed, around, ranges, j, other, places)
            for k in range(found):
                x, y = places[k, 0], places[k, 1]
                reach = LEAN * x + y
                if not least <= reach < best:
                    continue
                blocked = _blocker(nfps, rotation, around, ranges, x, y, hint)
                if blocked < 0:
                    best, best_x, best_y, any_free = reach, x, y, True
                elif blocked:
                    hint = blocked
    return best_x, best_y, best + reach_x + reach_y if any_free else np.inf
