"""Build layouts of straps from the bottom up, many side by side, guided by the bound; compiled.

The easier problem of the proof tells what straps may still be worth from a height up, with a fee for each
that is used. A half-made layout is judged by what lies, less the fees, and that. Of the layouts that have
come about as high up, the most promising are gone on with.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numba
import numpy as np

from strapwright.nesting.stack import Table, lowest

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

ACTIVE = 8
"""Straps of a half-made layout that the next may meet, at most."""

_DEPTH = 4
"""Straps laid one after another within one bucket, at most."""


@numba.njit(cache=True, nogil=True)
def _promise(low_top: int, high_top: int, k: int, one: Floats, two: Floats) -> float:
    """Return what the easier problem may add above two tops, the higher one of a strap of kind ``k``."""
    cells = len(one) - 1
    low_top = min(low_top, cells)
    if high_top <= low_top or k < 0:
        return float(one[min(max(low_top, high_top), cells)])
    return float(two[low_top, min(high_top - low_top, two.shape[1] - 1), k])


@numba.njit(cache=True, nogil=True)
def _sift(score: Floats, number: Ints, size: int, worth: float, what: int, room: int) -> int:
    """Put a number into a heap of the best, the worst of them on top, and return how many it holds."""
    if size < room:
        at = size
        while at > 0 and score[(at - 1) // 2] > worth:
            score[at], number[at] = score[(at - 1) // 2], number[(at - 1) // 2]
            at = (at - 1) // 2
        score[at], number[at] = worth, what
        return size + 1
    at = 0
    while True:
        child = 2 * at + 1
        if child + 1 < size and score[child + 1] < score[child]:
            child += 1
        if child >= size or score[child] >= worth:
            break
        score[at], number[at] = score[child], number[child]
        at = child
    score[at], number[at] = worth, what
    return size


@numba.njit(cache=True, nogil=True)
def build(
    width: int,
    bucket: int,
    numbers: Ints,
    value: Floats,
    fee: Floats,
    kind: Ints,
    cell_of: Ints,
    one: Floats,
    two: Floats,
    salt: Ints,
    noise: Floats,
    shape_forms: Ints,
    table: Table,
    path: Ints,
) -> int:
    """Make layouts of straps from the bottom up and return how many straps the best one holds.

    Args:
        width: half-made layouts gone on with in each bucket.
        bucket: layouts whose last straps lie within so many rows are compared.
        numbers: how many straps of each shape there are.
        value: of each shape; the shapes' order is that of the guide.
        fee: of each shape, from the proof.
        kind: of each shape, as in :func:`strapwright.nesting.lanes.fill_lanes`.
        cell_of: the cell of each row, (rows + 1,).
        one: what `fill_lanes` found from each cell up, both lanes free.
        two: likewise, with one lane taken.
        salt: a random number for each shape: layouts of the same straps and height are one.
        noise: added to the judgement of a shape, turn and side, (shapes, 2, 2).
        shape_forms: forms of each shape, (shapes, 2).
        table: the straps and the ground in numbers.
        path: filled with the shapes, turns and sides of the best layout, in order, (3, straps).
    """
    following, low, high, make, length, room, tall, apart, middle = table
    shapes, total = len(numbers), low.shape[1]
    buckets = total // bucket + 1
    wide = 3 * width
    score = np.empty((buckets, wide))
    heap = np.empty((buckets, wide), np.int64)
    held = np.zeros(buckets, np.int64)
    # A candidate is a small record; the heap holds its number. Records thrown out are used again.
    most = 2 * buckets * wide + 1
    parent = np.empty(most, np.int32)
    what = np.empty(most, np.int32)
    at_row = np.empty(most, np.int32)
    at_x = np.empty(most, np.float64)
    keys = np.empty(most, np.int64)
    records = 0
    states = 1 + buckets * width * 2
    used = np.zeros((states, shapes), np.int8)
    lying = np.zeros((states, ACTIVE), np.int64)
    rows = np.zeros((states, ACTIVE), np.int64)
    xs = np.zeros((states, ACTIVE), np.float64)
    count = np.zeros(states, np.int64)
    front = np.zeros(states, np.int64)
    laid = np.zeros(states, np.float64)
    fees = np.zeros(states, np.float64)
    key = np.zeros(states, np.int64)
    come = np.full(states, -1, np.int64)
    step = np.zeros(states, np.int64)
    made = 1
    best, best_state = -1.0, 0
    todo = np.empty(max(2, width), np.int64)
    seen = np.zeros(8 * width + 16, np.int64)
    for b in range(-1, buckets):
        for depth in range(_DEPTH if b >= 0 else 1):
            if b < 0:
                todo[0], doing = 0, 1
            else:
                if not held[b]:
                    break
                order = np.argsort(-score[b, : held[b]])
                seen[:] = 0
                doing = 0
                for o in order:
                    c = heap[b, o]
                    h = keys[c] if keys[c] != 0 else 1
                    slot = h % len(seen)
                    while seen[slot] != 0 and seen[slot] != h:
                        slot = (slot + 1) % len(seen)
                    if seen[slot] == h:
                        continue
                    seen[slot] = h
                    if doing >= width // (depth + 1) or made >= states:
                        break
                    p = parent[c]
                    shape, turn, side = what[c] // 4, (what[c] // 2) % 2, what[c] % 2
                    form = shape_forms[shape, turn]
                    m = made
                    made += 1
                    used[m] = used[p]
                    used[m, shape] += 1
                    n = 0
                    for j in range(count[p]):
                        if rows[p, j] + tall[make[lying[p, j]]] > at_row[c] and n < ACTIVE - 1:
                            lying[m, n], rows[m, n], xs[m, n] = lying[p, j], rows[p, j], xs[p, j]
                            n += 1
                    lying[m, n], rows[m, n], xs[m, n] = form, at_row[c], at_x[c]
                    count[m], front[m] = n + 1, at_row[c]
                    laid[m] = laid[p] + value[shape]
                    fees[m] = fees[p] + fee[shape]
                    key[m] = key[p] + salt[shape]
                    come[m], step[m] = p, what[c]
                    if laid[m] > best:
                        best, best_state = laid[m], m
                    todo[doing] = m
                    doing += 1
                held[b] = 0
            for t in range(doing):
                p = todo[t]
                for shape in range(shapes):
                    if used[p, shape] >= numbers[shape]:
                        continue
                    for turn in range(2):
                        form = shape_forms[shape, turn]
                        if turn and form == shape_forms[shape, 0]:
                            continue
                        last_row, last_x = -1, 0.0
                        for side in range(2):
                            row, x = lowest(
                                form,
                                side == 1,
                                front[p],
                                following,
                                low,
                                high,
                                make,
                                length,
                                room,
                                tall,
                                apart,
                                middle,
                                lying[p],
                                rows[p],
                                xs[p],
                                0,
                                count[p],
                            )
                            if row >= total:
                                continue
                            if side and row == last_row and abs(x - last_x) < 1e-6:
                                continue
                            last_row, last_x = row, x
                            top = row + tall[make[form]]
                            low_top, high_top, k = row, top, kind[shape]
                            if k >= 0:
                                for j in range(count[p]):
                                    clear = rows[p, j] + tall[make[lying[p, j]]]
                                    if clear > row:
                                        low_top, high_top = min(clear, top), max(clear, top)
                                        break
                            low_cell = cell_of[min(low_top, total)]
                            worth = laid[p] + value[shape] - fees[p] - fee[shape]
                            worth += _promise(low_cell, cell_of[min(high_top, total)], k, one, two)
                            worth += noise[shape, turn, side]
                            at = row // bucket
                            if held[at] == wide and worth <= score[at, 0]:
                                continue
                            r = heap[at, 0] if held[at] == wide else records
                            if held[at] < wide:
                                if records >= most:
                                    continue
                                records += 1
                            parent[r], what[r] = p, shape * 4 + turn * 2 + side
                            at_row[r], at_x[r] = row, x
                            keys[r] = key[p] + salt[shape] + top * 7919
                            if k >= 0:
                                keys[r] += (side + 1) * 104729 + low_top * 1299709
                            held[at] = _sift(score[at], heap[at], held[at], worth, r, wide)
    n = 0
    m = best_state
    while come[m] >= 0:
        n += 1
        m = come[m]
    m = best_state
    for j in range(n - 1, -1, -1):
        path[0, j], path[1, j], path[2, j] = step[m] // 4, (step[m] // 2) % 2, step[m] % 2
        m = come[m]
    return n
