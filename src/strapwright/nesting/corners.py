"""Places where a form would touch two things at once: the corners of what is free for it, compiled."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from strapwright.nesting.depth import CLEAR, astray, depth


@njit(cache=True, nogil=True)
def _free(book: Any, form: int, last: int, forms: Any, at: Any, x: float, y: float) -> bool:
    """Whether a form at a place is within its room, and clear of the first forms laid, up to ``last``."""
    far, _, _ = astray(book, form, x, y)
    if far > CLEAR:
        return False
    for k in range(last, -1, -1):
        deep, _, _ = depth(book, forms[k], form, x - at[k, 0], y - at[k, 1])
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
    second: Any,
    c: int,
    d: int,
    cx: float,
    cy: float,
    out: Any,
) -> int:
    """Write where some sides cross others, and return how often."""
    count = 0
    for i in range(a, b):
        x, y, dx, dy = first[i, 0] + ax - cx, first[i, 1] + ay - cy, first[i, 2], first[i, 3]
        low_x, high_x = min(x, x + dx), max(x, x + dx)
        low_y, high_y = min(y, y + dy), max(y, y + dy)
        for k in range(c, d):
            u, v, du, dv = second[k, 0], second[k, 1], second[k, 2], second[k, 3]
            if (
                max(u, u + du) < low_x
                or min(u, u + du) > high_x
                or max(v, v + dv) < low_y
                or min(v, v + dv) > high_y
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
def add_corners(book: Any, form: int, n: int, forms: Any, at: Any, done: int, places: Any, count: int) -> int:
    """Bring the corners of what is free for a form up to date.

    Args:
        book: the tables.
        form: the form.
        n: how many forms lie.
        forms: of each.
        at: origin of each.
        done: how many of them the corners know of already; -1 where there are none yet.
        places: the corners, (capacity, 2); changed in place. What does not fit in is left out.
        count: how many there are.

    Returns:
        How many there are now.
    """
    first, last = book.room_start[form], book.room_stop[form]
    crossings = np.empty((2048, 2))
    if done < 0:
        for k in range(first, last):
            if count < len(places):
                places[count, 0], places[count, 1] = book.room_sides[k, 0], book.room_sides[k, 1]
                count += 1
        done = 0
    for j in range(done, n):
        kept = 0
        for k in range(count):
            deep, _, _ = depth(book, forms[j], form, places[k, 0] - at[j, 0], places[k, 1] - at[j, 1])
            if deep == 0:
                places[kept, 0], places[kept, 1] = places[k, 0], places[k, 1]
                kept += 1
        count = kept
        pair = book.pair[forms[j], form]
        a, b = int(book.start[pair]), int(book.stop[pair])
        for k in range(a, b):
            x, y = at[j, 0] + book.sides[k, 0], at[j, 1] + book.sides[k, 1]
            if count < len(places) and _free(book, form, j, forms, at, x, y):
                places[count, 0], places[count, 1] = x, y
                count += 1
        for other in range(-1, j):
            if other < 0:
                found = _crossings(
                    book.sides, a, b, at[j, 0], at[j, 1], book.room_sides, first, last, 0.0, 0.0, crossings
                )
            else:
                beside = book.pair[forms[other], form]
                dx, dy = at[j, 0] - at[other, 0], at[j, 1] - at[other, 1]
                if (
                    dx + book.box[pair, 0] > book.box[beside, 2]
                    or dx + book.box[pair, 2] < book.box[beside, 0]
                    or dy + book.box[pair, 1] > book.box[beside, 3]
                    or dy + book.box[pair, 3] < book.box[beside, 1]
                ):
                    continue
                found = _crossings(
                    book.sides,
                    a,
                    b,
                    at[j, 0],
                    at[j, 1],
                    book.sides,
                    int(book.start[beside]),
                    int(book.stop[beside]),
                    at[other, 0],
                    at[other, 1],
                    crossings,
                )
            for k in range(found):
                x, y = crossings[k, 0], crossings[k, 1]
                if count < len(places) and _free(book, form, j, forms, at, x, y):
                    places[count, 0], places[count, 1] = x, y
                    count += 1
    return count


@njit(cache=True, nogil=True)
def furthest(book: Any, form: int, places: Any, count: int, ux: float, uy: float) -> Any:
    """Return the corner where a form keeps back most against a direction, and how far it reaches there."""
    best, where = np.inf, -1
    reach_x = book.reach[form, 2] if ux > 0 else book.reach[form, 0]
    reach_y = book.reach[form, 3] if uy > 0 else book.reach[form, 1]
    for k in range(count):
        reach = ux * (places[k, 0] + reach_x) + uy * (places[k, 1] + reach_y)
        if reach < best:
            best, where = reach, k
    return where, best
