"""Search among orders of straps by annealing; compiled."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from strapwright.nesting.compiled import compiled, within
from strapwright.nesting.rng import uniform
from strapwright.nesting.strap_search.rows import CompiledInstance, stack

if TYPE_CHECKING:
    from strapwright.core.arrays import Floats, Ints, LongWords

TIE = 1e-3
"""Of two layouts of equal value the one that leaves more rows is better, by this a row."""

_BLOCK = 2
"""Straps that are moved together, at most."""


@within
def _worth(
    count: int,
    put: Ints,
    order: Ints,
    value: Floats,
    lying: Ints,
    rows: Ints,
    table: CompiledInstance,
    spare: float,
) -> float:
    """Return what a layout is worth: the straps' value, and a little for rows that are still free."""
    worth = 0.0
    top = 0
    for k in range(count):
        worth += value[order[put[k]]]
        top = max(top, rows[k] + table.tall[table.make[lying[k]]])
    return worth + spare * max(0, table.low.shape[1] - top)


@within
def _change(order: Ints, trial: Ints, flips: Ints, kept: int, state: LongWords) -> int:
    """Write a changed order to ``trial`` and return the first place that is not as it was.

    Args:
        order: the order now, those that lie first.
        trial: filled.
        flips: filled with the strap to be pushed to the other side and the one to be turned, or −1.
        kept: how many lie.
        state: of the random numbers.
    """
    n = len(order)
    for k in range(n):
        trial[k] = order[k]
    flips[0] = flips[1] = -1
    kind = uniform(state)
    i = int(uniform(state) * kept)
    j = int(uniform(state) * n)
    if kind < 0.3:
        trial[i], trial[j] = trial[j], trial[i]
        return min(i, j)
    if kind < 0.75:
        first, second = int(uniform(state) * (_BLOCK + 1)), int(uniform(state) * (_BLOCK + 1))
        _swap_blocks(order, trial, min(i, j), max(i, j), first, second if first else max(second, 1))
        return min(i, j)
    if kind < 0.85:
        flips[0] = order[i]
        return i
    if kind < 0.95:
        flips[1] = order[i]
        return i
    start = i
    j = min(i + 1 + int(uniform(state) * 6), kept - 1)
    while i < j:
        trial[i], trial[j] = trial[j], trial[i]
        i += 1
        j -= 1
    return start


@within
def _swap_blocks(order: Ints, trial: Ints, i: int, j: int, first: int, second: int) -> None:
    """Write an order in which ``first`` straps from place i and ``second`` from place j on change places.

    Straps that lie side by side move as one, or change places with one that lies alone.
    """
    first, second = min(first, j - i), min(second, len(order) - j)
    at = i
    for k in range(j, j + second):
        trial[at] = order[k]
        at += 1
    for k in range(i + first, j):
        trial[at] = order[k]
        at += 1
    for k in range(i, i + first):
        trial[at] = order[k]
        at += 1


@compiled
def anneal(
    order: Ints,
    turn: Ints,
    side: Ints,
    best: Ints,
    best_worth: float,
    tries: int,
    hot: float,
    cold: float,
    spare: float,
    state: LongWords,
    value: Floats,
    forms: Ints,
    table: CompiledInstance,
) -> float:
    """Search among orders by annealing, from one temperature to another, and return the best worth.

    Args:
        order: the order to begin with, changed to the one the search ends with.
        turn: likewise.
        side: likewise.
        best: filled with the best order, its turns and its sides, (3, straps), if it is better yet.
        best_worth: the best so far.
        tries: layouts to make.
        hot: temperature at the beginning, in units of value.
        cold: at the end.
        spare: worth of a row that is still free above everything.
        state: of the random numbers.
        value: of each strap.
        forms: as in :func:`stack`.
        table: likewise.
    """
    n = len(order)
    lying, rows, put = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    now_lying, now_rows, trial = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    xs, now_xs = np.empty(n), np.empty(n)
    flips = np.full(2, -1)
    for k in range(n):
        trial[k] = order[k]
    start, now, heat = 0, -np.inf, hot
    kept: Any = np.int64(0)
    cooling = (cold / hot) ** (1.0 / max(1, tries))
    for attempt in range(tries + 1):
        if attempt:
            heat *= cooling
            start = min(_change(order, trial, flips, kept, state), kept)
            if flips[0] >= 0:
                side[flips[0]] = 1 - side[flips[0]]
            if flips[1] >= 0:
                turn[flips[1]] = 1 - turn[flips[1]]
        for k in range(start):
            lying[k], rows[k], xs[k] = now_lying[k], now_rows[k], now_xs[k]
        count = stack(trial, turn, side, start, forms, table, lying, rows, xs, put)
        worth = _worth(count, put, trial, value, lying, rows, table, spare)
        if worth >= now or uniform(state) < math.exp((worth - now) / heat):
            now, kept = worth, count
            for k in range(start, count):
                now_lying[k], now_rows[k], now_xs[k] = lying[k], rows[k], xs[k]
            _placed_first(trial, put, count, order)
            worth = _worth(count, put, trial, value, lying, rows, table, TIE)
            if worth > best_worth:
                best_worth = worth
                for k in range(n):
                    best[0, k], best[1, k], best[2, k] = order[k], turn[k], side[k]
        else:
            if flips[0] >= 0:
                side[flips[0]] = 1 - side[flips[0]]
            if flips[1] >= 0:
                turn[flips[1]] = 1 - turn[flips[1]]
    return best_worth


@within
def _placed_first(order: Ints, put: Ints, count: int, out: Ints) -> None:
    """Write an order with those that lie first; what it makes stays the same."""
    k = 0
    behind = count
    for at in range(len(order)):
        if k < count and put[k] == at:
            out[k] = order[at]
            k += 1
        else:
            out[behind] = order[at]
            behind += 1
