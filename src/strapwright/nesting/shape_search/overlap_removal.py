"""Overlap removal by guided local search, compiled: pieces that overlap are pushed apart until none does.

Every two pieces that overlap weigh the more the longer they do, so that a jam gives way somewhere. How far
two overlap is how far one must move to be clear of the other: the penetration depth of its origin in their
no-fit polygon.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from strapwright.nesting.compiled import compiled, within
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

_PATIENCE = 15
"""Rounds without less overlap, after which it is given up."""

_SAMPLES = 60
"""Places tried for each rotation that is moved."""

_MOVES = 4000
"""Rotations moved until none overlaps, at most."""


class Crowd(NamedTuple):
    """Rotations on a ground that may overlap.

    Args:
        choices: rotations each may take, (n, T), -1 where there are fewer.
        rotations: of each, (n,).
        at: origin of each, (n, 2) mm.
    """

    choices: Any
    rotations: Any
    at: Any


class Near(NamedTuple):
    """What one piece in one rotation may overlap.

    Args:
        rotation: the rotation.
        count: how many pieces there are near it.
        boxes: in which its origin is in the no-fit polygon of each, (count or more, 4) mm.
        ranges: of the sides of each, and the piece's number, (count or more, 3).
        at: origin of each piece there is, by number.
        weights: of the overlap with each piece there is, by number; the last of straying from the ground.
    """

    rotation: Any
    count: Any
    boxes: Any
    ranges: Any
    at: Any
    weights: Any


@within
def _find_near(nfps: Any, crowd: Crowd, i: int, rotation: int, boxes: Any, ranges: Any) -> int:
    """Write which pieces one of them may overlap as `Near` has them, and return how many there are.

    Those that the rotation can never meet within its inner-fit polygon are left out.
    """
    at, count = crowd.at, 0
    x0, y0, x1, y1 = nfps.fit_box[rotation]
    for j in range(len(at)):
        if j == i:
            continue
        pair = nfps.pair[crowd.rotations[j], rotation]
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


@within
def _overlap_cost(nfps: Any, near: Near, x: float, y: float, limit: float) -> Any:
    """Return the weighted overlap of a rotation at a place, or something above the limit."""
    boxes, ranges, weights = near.boxes, near.ranges, near.weights
    total = 0.0
    for k in range(near.count):
        if boxes[k, 0] < x < boxes[k, 2] and boxes[k, 1] < y < boxes[k, 3]:
            j = ranges[k, 2]
            px, py = x - near.at[j, 0], y - near.at[j, 1]
            if inside(nfps.sides, ranges[k, 0], ranges[k, 1], px, py):
                deep, _, _ = nearest(nfps.sides, ranges[k, 0], ranges[k, 1], px, py)
                if deep > CLEAR:
                    total += weights[j] * deep
                    if total > limit:
                        return total
    far, _, _ = distance_outside(nfps, near.rotation, x, y)
    if far > CLEAR:
        total += weights[len(weights) - 1] * far
    return total


@within
def _separating_steps(nfps: Any, near: Near, x: float, y: float) -> Any:
    """Return the steps that free a rotation of its heaviest overlap, and of all together."""
    boxes, ranges, weights = near.boxes, near.ranges, near.weights
    far, hx, hy = distance_outside(nfps, near.rotation, x, y)
    ax, ay = hx, hy
    heaviest = far * weights[len(weights) - 1]
    for k in range(near.count):
        if boxes[k, 0] < x < boxes[k, 2] and boxes[k, 1] < y < boxes[k, 3]:
            j = ranges[k, 2]
            px, py = x - near.at[j, 0], y - near.at[j, 1]
            if inside(nfps.sides, ranges[k, 0], ranges[k, 1], px, py):
                deep, dx, dy = nearest(nfps.sides, ranges[k, 0], ranges[k, 1], px, py)
                ax += dx
                ay += dy
                if deep * weights[j] > heaviest:
                    heaviest, hx, hy = deep * weights[j], dx, dy
    return hx, hy, ax, ay


@within
def _descended(
    nfps: Any, near: Near, x: float, y: float, now: float, step: float, least: float, rng: Any
) -> Any:
    """Descend from a place to where the weighted overlap is least near by, and return place and overlap."""
    pushing = True
    while step > least and now > 0:
        if pushing:
            hx, hy, ax, ay = _separating_steps(nfps, near, x, y)
            found = False
            for trial in range(2):
                tx, ty = (x + ax, y + ay) if trial == 0 else (x + hx, y + hy)
                value = _overlap_cost(nfps, near, tx, ty, now)
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
        a = _overlap_cost(nfps, near, x + cx, y + cy, now)
        b = _overlap_cost(nfps, near, x - cx, y - cy, min(now, a))
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


@within
def _sample(nfps: Any, crowd: Crowd, i: int, rotation: int, spread: float, rng: Any) -> Any:
    """Return a random place: anywhere, near where it is, or at the inner fit's or a neighbour's edge."""
    at, n = crowd.at, len(crowd.at)
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
    x, y, sides = 0.0, 0.0, nfps.fit_sides
    first, last = nfps.fit_start[rotation], nfps.fit_stop[rotation]
    if kind < 0.85 and n > 1:
        j = integer(rng, n)
        if j != i:
            pair = nfps.pair[crowd.rotations[j], rotation]
            x, y, sides = at[j, 0], at[j, 1], nfps.sides
            first, last = int(nfps.start[pair]), int(nfps.stop[pair])
    k = first + integer(rng, last - first)
    share = uniform(rng) if uniform(rng) < 0.3 else 0.0
    return x + sides[k, 0] + share * sides[k, 2], y + sides[k, 1] + share * sides[k, 3]


@within
def _relocate(nfps: Any, crowd: Crowd, weights: Any, i: int, fresh: bool, rng: Any) -> None:
    """Move one piece to the best place and rotation found, where its weighted overlap is least.

    Args:
        nfps: the no-fit polygons.
        crowd: the pieces; changed in place.
        weights: of each overlap; on the diagonal, of straying from the ground.
        i: which to move.
        fresh: whether where it lies now does not count.
        rng: random numbers.
    """
    choices, at, n = crowd.choices, crowd.at, len(crowd.at)
    count = 0
    while count < choices.shape[1] and choices[i, count] >= 0:
        count += 1
    own = crowd.rotations[i]
    width = nfps.reach[own, 2] - nfps.reach[own, 0]
    height = nfps.reach[own, 3] - nfps.reach[own, 1]
    smallest = min(width, height)
    boxes, ranges = np.empty((count, n, 4)), np.empty((count, n, 3), np.int64)
    counts = np.full(count, -1)
    row = np.empty(n + 1)
    for j in range(n):
        row[j] = weights[i, j]
    row[n] = weights[i, i]
    now = np.inf
    kept_x, kept_y = np.empty(_KEPT), np.empty(_KEPT)
    kept_turn, kept = np.empty(_KEPT, np.int64), np.full(_KEPT, np.inf)
    for trial in range((4 * _SAMPLES if fresh else _SAMPLES) + 1):
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
            x, y = _sample(nfps, crowd, i, rotation, 0.15 * smallest, rng)
        if counts[turn] < 0:
            counts[turn] = _find_near(nfps, crowd, i, rotation, boxes[turn], ranges[turn])
        near = Near(rotation, counts[turn], boxes[turn], ranges[turn], at, row)
        value = _overlap_cost(nfps, near, x, y, kept[_KEPT - 1])
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
    for place in range(_KEPT):
        if not np.isfinite(kept[place]):
            break
        turn = kept_turn[place]
        near = Near(choices[i, turn], counts[turn], boxes[turn], ranges[turn], at, row)
        x, y, value = _descended(
            nfps, near, kept_x[place], kept_y[place], kept[place], 0.03 * smallest, 0.001 * smallest, rng
        )
        if value < now:
            now, crowd.rotations[i], at[i, 0], at[i, 1] = value, choices[i, turn], x, y
        if value == 0:
            break


@within
def _overlaps(nfps: Any, crowd: Crowd, found: Any) -> float:
    """Write each overlap into a square table, and return their sum."""
    rotations, at, total = crowd.rotations, crowd.at, 0.0
    for i in range(len(at)):
        far, _, _ = distance_outside(nfps, rotations[i], at[i, 0], at[i, 1])
        found[i, i] = far if far > CLEAR else 0.0
        total += found[i, i]
        for j in range(i):
            deep, _, _ = depth(nfps, rotations[j], rotations[i], at[i, 0] - at[j, 0], at[i, 1] - at[j, 1])
            found[i, j] = found[j, i] = deep
            total += deep
    return total


@within
def _overlaps_any(nfps: Any, crowd: Crowd, i: int) -> bool:
    """Whether a rotation overlaps anything."""
    rotations, at = crowd.rotations, crowd.at
    far, _, _ = distance_outside(nfps, rotations[i], at[i, 0], at[i, 1])
    if far > CLEAR:
        return True
    for j in range(len(at)):
        if j != i:
            deep, _, _ = depth(nfps, rotations[j], rotations[i], at[i, 0] - at[j, 0], at[i, 1] - at[j, 1])
            if deep > 0:
                return True
    return False


@compiled
def insert(nfps: Any, crowd: Crowd, first: int, seed: int) -> None:
    """Give each piece from the first on a place where it overlaps least; the others lie already.

    Args:
        nfps: the no-fit polygons.
        crowd: the pieces; changed in place.
        first: number of the first that has no place yet.
        seed: of the random numbers.
    """
    n, rng = len(crowd.at), rng_of(seed)
    fresh: Any = np.bool_(True)
    weights = np.ones((n, n))
    for i in range(first, n):
        _relocate(nfps, crowd, weights, i, fresh, rng)


@compiled
def separate(nfps: Any, crowd: Crowd, seed: int) -> float:
    """Move pieces until none overlaps, each to where its weighted overlap is least.

    Args:
        nfps: the no-fit polygons.
        crowd: the pieces; changed in place.
        seed: of the random numbers.

    Returns:
        The overlap that is left, mm, 0.0 where all is sound.
    """
    n, rng = len(crowd.at), rng_of(seed)
    fresh: Any = np.bool_(False)
    order, weights, found = np.arange(n), np.ones((n, n)), np.zeros((n, n))
    least, waited, moved = np.inf, 0, 0
    while moved < _MOVES:
        total = _overlaps(nfps, crowd, found)
        if total == 0:
            return 0.0
        if total < least * 0.99:
            least, waited = total, 0
        else:
            waited += 1
            if waited > _PATIENCE:
                return least
        most = found.max()
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
            if _overlaps_any(nfps, crowd, i):
                moved += 1
                _relocate(nfps, crowd, weights, i, fresh, rng)
    return _overlaps(nfps, crowd, found)
