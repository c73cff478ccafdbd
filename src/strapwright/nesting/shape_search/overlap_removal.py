"""Overlap removal by guided local search, compiled: pieces that overlap are pushed apart until none does.

Every two pieces that overlap weigh the more the longer they do, so that a jam gives way somewhere. How far
two overlap is how far one must move to be clear of the other: the penetration depth of its origin in their
no-fit polygon.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from strapwright.nesting.rng import integer, rng_of, uniform
from strapwright.nesting.shape_search.penetration import (
    CLEAR,
    depth,
    distance_outside,
    inside,
    nearest,
    raster_cell,
)

_KEPT = 3
"""So many of the places tried for a rotation are looked at closely."""


@njit(cache=True, nogil=True)
def _neighbours(
    nfps: Any, n: int, rotations: Any, at: Any, i: int, rotation: int, boxes: Any, ranges: Any
) -> int:
    """Write the neighbours of one piece: where its origin may be in another's no-fit polygon.

    Writes a box on the ground a neighbour, and the neighbour's number and its range of sides, and returns
    how many there are. Those that the rotation can never meet within its room are left out.
    """
    count = 0
    x0, y0, x1, y1 = nfps.fit_box[rotation]
    for j in range(n):
        if j == i:
            continue
        pair = nfps.pair[rotations[j], rotation]
        x, y = at[j, 0], at[j, 1]
        bx0, by0, bx1, by1 = nfps.box[pair]
        if x + bx0 > x1 or x + bx1 < x0 or y + by0 > y1 or y + by1 < y0:
            continue
        boxes[count, 0], boxes[count, 1] = x + bx0, y + by0
        boxes[count, 2], boxes[count, 3] = x + bx1, y + by1
        ranges[count, 0], ranges[count, 1] = int(nfps.start[pair]), int(nfps.stop[pair])
        ranges[count, 2] = j
        count += 1
    return count


@njit(cache=True, nogil=True)
def _overlap_cost(
    nfps: Any,
    count: int,
    boxes: Any,
    ranges: Any,
    at: Any,
    weights: Any,
    rotation: int,
    x: float,
    y: float,
    limit: float,
) -> Any:
    """Return the weighted overlap of a rotation at a place, or something above the limit."""
    total = 0.0
    for k in range(count):
        if boxes[k, 0] < x < boxes[k, 2] and boxes[k, 1] < y < boxes[k, 3]:
            j = ranges[k, 2]
            px, py = x - at[j, 0], y - at[j, 1]
            if inside(nfps.sides, ranges[k, 0], ranges[k, 1], px, py):
                deep, _, _ = nearest(nfps.sides, ranges[k, 0], ranges[k, 1], px, py)
                if deep > CLEAR:
                    total += weights[j] * deep
                    if total > limit:
                        return total
    far, _, _ = distance_outside(nfps, rotation, x, y)
    if far > CLEAR:
        total += weights[len(weights) - 1] * far
    return total


@njit(cache=True, nogil=True)
def _separating_steps(
    nfps: Any, count: int, boxes: Any, ranges: Any, at: Any, weights: Any, rotation: int, x: float, y: float
) -> Any:
    """Return the steps that free a rotation of its heaviest overlap, and of all together."""
    far, hx, hy = distance_outside(nfps, rotation, x, y)
    ax, ay = hx, hy
    heaviest = far * weights[len(weights) - 1]
    for k in range(count):
        if boxes[k, 0] < x < boxes[k, 2] and boxes[k, 1] < y < boxes[k, 3]:
            j = ranges[k, 2]
            px, py = x - at[j, 0], y - at[j, 1]
            if inside(nfps.sides, ranges[k, 0], ranges[k, 1], px, py):
                deep, dx, dy = nearest(nfps.sides, ranges[k, 0], ranges[k, 1], px, py)
                ax += dx
                ay += dy
                if deep * weights[j] > heaviest:
                    heaviest, hx, hy = deep * weights[j], dx, dy
    return hx, hy, ax, ay


@njit(cache=True, nogil=True)
def _descended(
    nfps: Any,
    count: int,
    boxes: Any,
    ranges: Any,
    at: Any,
    weights: Any,
    rotation: int,
    x: float,
    y: float,
    now: float,
    step: float,
    least: float,
    rng: Any,
) -> Any:
    """Descend from a place to where the weighted overlap is least near by, and return place and overlap."""
    pushing = True
    while step > least and now > 0:
        if pushing:
            hx, hy, ax, ay = _separating_steps(nfps, count, boxes, ranges, at, weights, rotation, x, y)
            found = False
            for trial in range(2):
                tx, ty = (x + ax, y + ay) if trial == 0 else (x + hx, y + hy)
                value = _overlap_cost(nfps, count, boxes, ranges, at, weights, rotation, tx, ty, now)
                if value < now * 0.99:
                    x, y, now, found = tx, ty, value, True
                    break
            if found:
                continue
            pushing = False
        cx, cy = uniform(rng) - 0.5, uniform(rng) - 0.5
        if uniform(rng) < 0.5:
            # Along a side as often as any way.
            cx, cy = (1.0, 0.0) if abs(cx) > abs(cy) else (0.0, 1.0)
        scale = step / max(np.sqrt(cx * cx + cy * cy), 1e-9)
        cx, cy = cx * scale, cy * scale
        a = _overlap_cost(nfps, count, boxes, ranges, at, weights, rotation, x + cx, y + cy, now)
        b = _overlap_cost(nfps, count, boxes, ranges, at, weights, rotation, x - cx, y - cy, min(now, a))
        if min(a, b) < now:
            if a <= b:
                x, y, now = x + cx, y + cy, a
            else:
                x, y, now = x - cx, y - cy, b
            step *= 1.1
            pushing = True
        else:
            step *= 0.6
    return x, y, now


@njit(cache=True, nogil=True)
def _sample(
    nfps: Any, n: int, rotations: Any, at: Any, i: int, rotation: int, spread: float, rng: Any
) -> Any:
    """Return a random place: anywhere, near where it is, or at the inner fit's or a neighbour's edge."""
    kind = uniform(rng)
    x0, y0, x1, y1 = nfps.fit_box[rotation]
    if kind < 0.4:
        x, y = x0, y0
        for _ in range(6):
            x, y = x0 + uniform(rng) * (x1 - x0), y0 + uniform(rng) * (y1 - y0)
            if raster_cell(nfps, rotation, x, y) != 1:
                break
        return x, y
    if kind < 0.6:
        along = uniform(rng) + uniform(rng) + uniform(rng) - 1.5
        across = uniform(rng) + uniform(rng) + uniform(rng) - 1.5
        return at[i, 0] + 2 * along * spread, at[i, 1] + 2 * across * spread
    if kind < 0.85 and n > 1:
        j = integer(rng, n)
        if j != i:
            pair = nfps.pair[rotations[j], rotation]
            k = int(nfps.start[pair]) + integer(rng, int(nfps.stop[pair] - nfps.start[pair]))
            share = uniform(rng) if uniform(rng) < 0.3 else 0.0
            return (
                at[j, 0] + nfps.sides[k, 0] + share * nfps.sides[k, 2],
                at[j, 1] + nfps.sides[k, 1] + share * nfps.sides[k, 3],
            )
    k = nfps.fit_start[rotation] + integer(rng, nfps.fit_stop[rotation] - nfps.fit_start[rotation])
    share = uniform(rng) if uniform(rng) < 0.3 else 0.0
    return (
        nfps.fit_sides[k, 0] + share * nfps.fit_sides[k, 2],
        nfps.fit_sides[k, 1] + share * nfps.fit_sides[k, 3],
    )


@njit(cache=True, nogil=True)
def relocate(
    nfps: Any,
    choices: Any,
    n: int,
    rotations: Any,
    at: Any,
    weights: Any,
    i: int,
    samples: int,
    fresh: bool,
    rng: Any,
) -> float:
    """Move one piece to the best place and rotation found, and return its weighted overlap there.

    Args:
        nfps: the no-fit polygons.
        choices: rotations of each group, (S, T), -1 where there are fewer: the row of each placed rotation.
        n: how many rotations there are.
        rotations: of each.
        at: origin of each.
        weights: of each overlap; on the diagonal, of straying from the room.
        i: which to move.
        samples: how many places to try.
        fresh: whether where it lies now does not count.
        rng: random numbers.
    """
    count = 0
    while count < choices.shape[1] and choices[i, count] >= 0:
        count += 1
    own = rotations[i]
    width = nfps.reach[own, 2] - nfps.reach[own, 0]
    height = nfps.reach[own, 3] - nfps.reach[own, 1]
    spread = 0.15 * min(width, height)
    boxes, ranges = np.empty((count, n, 4)), np.empty((count, n, 3), np.int64)
    near = np.full(count, -1)
    row = np.empty(n + 1)
    for j in range(n):
        row[j] = weights[i, j]
    row[n] = weights[i, i]
    now = np.inf
    kept_x, kept_y = np.empty(_KEPT), np.empty(_KEPT)
    kept_turn, kept = np.empty(_KEPT, np.int64), np.full(_KEPT, np.inf)
    for trial in range(samples + 1):
        if trial == 0:
            if fresh:
                continue
            turn = 0
            while choices[i, turn] != own:
                turn += 1
            rotation, x, y = own, at[i, 0], at[i, 1]
        else:
            turn = integer(rng, count)
            rotation = choices[i, turn]
            x, y = _sample(nfps, n, rotations, at, i, rotation, spread, rng)
        if near[turn] < 0:
            near[turn] = _neighbours(nfps, n, rotations, at, i, rotation, boxes[turn], ranges[turn])
        value = _overlap_cost(
            nfps, near[turn], boxes[turn], ranges[turn], at, row, rotation, x, y, kept[_KEPT - 1]
        )
        if trial == 0:
            now = value
        if value < kept[_KEPT - 1]:
            place = _KEPT - 1
            while place > 0 and kept[place - 1] > value:
                kept[place], kept_turn[place] = kept[place - 1], kept_turn[place - 1]
                kept_x[place], kept_y[place] = kept_x[place - 1], kept_y[place - 1]
                place -= 1
            kept[place], kept_turn[place], kept_x[place], kept_y[place] = value, turn, x, y
            if value == 0:
                break
    best = now
    for place in range(_KEPT):
        if not np.isfinite(kept[place]):
            break
        turn = kept_turn[place]
        x, y, value = _descended(
            nfps,
            near[turn],
            boxes[turn],
            ranges[turn],
            at,
            row,
            choices[i, turn],
            kept_x[place],
            kept_y[place],
            kept[place],
            0.03 * min(width, height),
            0.001 * min(width, height),
            rng,
        )
        if value < best:
            best = value
            rotations[i], at[i, 0], at[i, 1] = choices[i, turn], x, y
        if value == 0:
            break
    return best


@njit(cache=True, nogil=True)
def overlaps(nfps: Any, n: int, rotations: Any, at: Any, found: Any) -> float:
    """Write each overlap into a square table, and return their sum."""
    total = 0.0
    for i in range(n):
        far, _, _ = distance_outside(nfps, rotations[i], at[i, 0], at[i, 1])
        found[i, i] = far if far > CLEAR else 0.0
        total += found[i, i]
        for j in range(i):
            deep, _, _ = depth(nfps, rotations[j], rotations[i], at[i, 0] - at[j, 0], at[i, 1] - at[j, 1])
            found[i, j] = found[j, i] = deep
            total += deep
    return total


@njit(cache=True, nogil=True)
def _overlaps_any(nfps: Any, n: int, rotations: Any, at: Any, i: int) -> bool:
    """Whether a rotation overlaps anything."""
    far, _, _ = distance_outside(nfps, rotations[i], at[i, 0], at[i, 1])
    if far > CLEAR:
        return True
    for j in range(n):
        if j != i:
            deep, _, _ = depth(nfps, rotations[j], rotations[i], at[i, 0] - at[j, 0], at[i, 1] - at[j, 1])
            if deep > 0:
                return True
    return False


@njit(cache=True, nogil=True)
def separate(
    nfps: Any,
    choices: Any,
    n: int,
    rotations: Any,
    at: Any,
    fresh: Any,
    moves: int,
    patience: int,
    samples: int,
    seed: int,
) -> Any:
    """Move pieces until none overlaps, each to where its weighted overlap is least.

    Args:
        nfps: the no-fit polygons.
        choices: rotations each may take, (n, T), -1 where there are fewer.
        n: how many there are.
        rotations: of each; changed in place.
        at: origin of each, (n, 2); changed in place.
        fresh: which of them have no place yet, and get one first.
        moves: how many rotations are moved at most, one as often as need be.
        patience: rounds without less overlap than ever, after which it is given up.
        samples: places tried for a rotation.
        seed: of the random numbers.

    Returns:
        The overlap that is left, 0.0 where all is sound, and the moves made.
    """
    rng = rng_of(seed)
    afresh: Any = np.bool_(True)
    order, weights, found = np.empty(n, np.int64), np.empty((n, n)), np.zeros((n, n))
    for i in range(n):
        order[i] = i
        for j in range(n):
            weights[i, j] = 1.0
    for i in range(n):
        if fresh[i]:
            relocate(nfps, choices, n, rotations, at, weights, i, 4 * samples, afresh, rng)
    least, waited, moved = np.inf, 0, 0
    while moved < moves:
        total = overlaps(nfps, n, rotations, at, found)
        if total == 0:
            return 0.0, moved
        if total < least * 0.99:
            least, waited = total, 0
        else:
            waited += 1
            if waited > patience:
                return least, moved
        most = 0.0
        for i in range(n):
            for j in range(n):
                most = max(most, found[i, j])
        for i in range(n):
            for j in range(n):
                if found[i, j] > 0:
                    weights[i, j] *= 1.2 + 0.8 * found[i, j] / most
                else:
                    weights[i, j] = max(1.0, weights[i, j] * 0.95)
        for k in range(n - 1, 0, -1):
            other = integer(rng, k + 1)
            order[k], order[other] = order[other], order[k]
        for k in range(n):
            i = order[k]
            if _overlaps_any(nfps, n, rotations, at, i):
                moved += 1
                relocate(nfps, choices, n, rotations, at, weights, i, samples, not afresh, rng)
    return overlaps(nfps, n, rotations, at, found), moved
