"""Stack straps on a ground row by row, and search among orders of them; compiled.

A layout is made from an order: each strap goes to the lowest row, not below the one laid before it, where
its chosen end first and its chosen side have room. Every layout in which no strap can slide down or aside
comes from some order, so nothing is lost. What finds no row is left over.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numba
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Words = NDArray[np.uint64]

_SLACK = 1e-6
"""A strap this much too long for a run still goes in, mm: rounding, a hundredth of the tolerance."""

_STRIDE = 4
"""Rows skipped where a strap has a run but another strap is in its way: 2 mm."""


_TIE = 1e-3
"""Of two layouts of equal value the one that leaves more rows is better, by this a row."""


@numba.njit(cache=True, nogil=True)
def next_rows(low: Floats, high: Floats, make: Ints, length: Floats, out: Ints) -> None:
    """Write, for every form and row, the first row from there on whose free runs take the form.

    Args:
        low: left ends of the runs, (makes, rows, runs) mm.
        high: right ends.
        make: of each form.
        length: of each form, mm.
        out: filled, (forms, rows + 1); the number of rows where there is none.
    """
    rows = low.shape[1]
    for form in range(len(make)):
        out[form, rows] = rows
        for row in range(rows - 1, -1, -1):
            out[form, row] = out[form, row + 1]
            for run in range(low.shape[2]):
                if high[make[form], row, run] - low[make[form], row, run] >= length[form] - _SLACK:
                    out[form, row] = row
                    break


@numba.njit(cache=True, nogil=True)
def _place(
    form: int,
    to_right: bool,
    row: int,
    low: Floats,
    high: Floats,
    make: Ints,
    length: Floats,
    apart: Floats,
    middle: int,
    lying: Ints,
    rows: Ints,
    xs: Floats,
    first: int,
    count: int,
) -> float:
    """Return the x of a form's left end in a row, beside the straps ``first`` to ``count - 1``; or NaN."""
    own, size = make[form], length[form]
    runs = low.shape[2]
    for k in range(runs):
        run = runs - 1 - k if to_right else k
        left, right = low[own, row, run], high[own, row, run] - size
        if right < left:
            if right < left - _SLACK:
                continue
            left = right = (left + right) / 2
        x = right if to_right else left
        moved = True
        while moved and left - _SLACK <= x <= right + _SLACK:
            moved = False
            for j in range(first, count):
                rise = row - rows[j]
                if rise > middle or rise < -middle:
                    continue
                other = make[lying[j]]
                after = apart[other, own, rise + middle]
                if after == -np.inf:
                    continue
                beyond = xs[j] + length[lying[j]] + after
                before = xs[j] - apart[own, other, middle - rise] - size
                if before + _SLACK < x < beyond - _SLACK:
                    x = before if to_right else beyond
                    moved = True
        if left - _SLACK <= x <= right + _SLACK:
            return x
    return np.nan


@numba.njit(cache=True, nogil=True)
def stack(
    order: Ints,
    turn: Ints,
    side: Ints,
    start: int,
    forms: Ints,
    following: Ints,
    low: Floats,
    high: Floats,
    make: Ints,
    length: Floats,
    room: Floats,
    tall: Ints,
    apart: Floats,
    middle: int,
    lying: Ints,
    rows: Ints,
    xs: Floats,
    put: Ints,
) -> int:
    """Lay straps in an order and return how many lie.

    Args:
        order: numbers of the straps.
        turn: which of its forms each strap takes.
        side: 1 where a strap is pushed to the right.
        start: so many straps at the beginning of the order lie already.
        forms: of each strap, (straps, 2).
        following: see :func:`next_rows`.
        low: left ends of the free runs, (makes, rows, runs) mm.
        high: right ends.
        make: of each form.
        length: of each form, mm.
        room: two straps of these makes that are together longer than this never lie side by side, mm.
        tall: rows above its own from which a strap of each make is out of the way, at the latest.
        apart: see :func:`strapwright.nesting.rowtable.distances`.
        middle: likewise.
        lying: filled with the forms of those that lie.
        rows: with their rows.
        xs: with their left ends, mm.
        put: with their places in the order.
    """
    total = low.shape[1]
    count = start
    front = rows[start - 1] if start else 0
    first = 0
    for k in range(start):
        put[k] = k
    shortest_left_over = np.full(len(low), np.inf)
    for at in range(start, len(order)):
        strap = order[at]
        form = forms[strap, turn[strap]]
        own = make[form]
        if length[form] >= shortest_left_over[own]:
            continue
        while first < count and rows[first] + tall[make[lying[first]]] <= front:
            first += 1
        row = front
        for j in range(first, count):
            other = lying[j]
            if length[other] + length[form] > room[make[other], own]:
                row = max(row, rows[j] + tall[make[other]])
        row = following[form, row] if row < total else total
        found = False
        while row < total:
            x = _place(
                form,
                side[strap] == 1,
                row,
                low,
                high,
                make,
                length,
                apart,
                middle,
                lying,
                rows,
                xs,
                first,
                count,
            )
            if not math.isnan(x):
                found = True
                break
            further = row + _STRIDE
            for j in range(first, count):
                clear = rows[j] + tall[make[lying[j]]]
                if row < clear < further:
                    further = clear
            row = following[form, min(further, total)]
        if not found:
            shortest_left_over[own] = length[form]
            continue
        lying[count], rows[count], xs[count], put[count] = form, row, x, at
        count += 1
        front = row
    return count


@numba.njit(cache=True, nogil=True)
def _random(state: Words) -> float:
    """Return the next number of a xorshift generator, from 0 to 1; the same on every machine."""
    s = state[0]
    s ^= s << np.uint64(13)
    s ^= s >> np.uint64(7)
    s ^= s << np.uint64(17)
    state[0] = s
    return np.float64(s >> np.uint64(11)) / 9007199254740992.0


@numba.njit(cache=True, nogil=True)
def _worth(
    count: int,
    put: Ints,
    order: Ints,
    value: Floats,
    lying: Ints,
    rows: Ints,
    make: Ints,
    tall: Ints,
    total: int,
    spare: float,
) -> float:
    """Return what a layout is worth: the straps' value, and a little for rows that are still free."""
    worth = 0.0
    top = 0
    for k in range(count):
        worth += value[order[put[k]]]
        top = max(top, rows[k] + tall[make[lying[k]]])
    return worth + spare * max(0, total - top)


@numba.njit(cache=True, nogil=True)
def _change(order: Ints, trial: Ints, flips: Ints, kept: int, state: Words) -> int:
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
    kind = _random(state)
    i = int(_random(state) * kept)
    j = int(_random(state) * n)
    if kind < 0.45:
        trial[i], trial[j] = trial[j], trial[i]
        return min(i, j)
    if kind < 0.75:
        taken = trial[j]
        if j > i:
            for k in range(j, i, -1):
                trial[k] = trial[k - 1]
        else:
            for k in range(j, i):
                trial[k] = trial[k + 1]
        trial[i] = taken
        return min(i, j)
    if kind < 0.85:
        flips[0] = order[i]
        return i
    if kind < 0.95:
        flips[1] = order[i]
        return i
    start = i
    j = min(i + 1 + int(_random(state) * 6), kept - 1)
    while i < j:
        trial[i], trial[j] = trial[j], trial[i]
        i += 1
        j -= 1
    return start


@numba.njit(cache=True, nogil=True)
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
    state: Words,
    value: Floats,
    forms: Ints,
    following: Ints,
    low: Floats,
    high: Floats,
    make: Ints,
    length: Floats,
    room: Floats,
    tall: Ints,
    apart: Floats,
    middle: int,
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
        forms: this and the others as in :func:`stack`.
        following: likewise.
        low: likewise.
        high: likewise.
        make: likewise.
        length: likewise.
        room: likewise.
        tall: likewise.
        apart: likewise.
        middle: likewise.
    """
    n = len(order)
    lying, rows, put = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    now_lying, now_rows, trial = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    xs, now_xs = np.empty(n), np.empty(n)
    flips = np.full(2, -1)
    total = low.shape[1]
    for k in range(n):
        trial[k] = order[k]
    start, now, kept, heat = 0, -np.inf, 0, hot
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
        count = stack(
            trial,
            turn,
            side,
            start,
            forms,
            following,
            low,
            high,
            make,
            length,
            room,
            tall,
            apart,
            middle,
            lying,
            rows,
            xs,
            put,
        )
        worth = _worth(count, put, trial, value, lying, rows, make, tall, total, spare)
        if worth >= now or _random(state) < math.exp((worth - now) / heat):
            now, kept = worth, count
            for k in range(start, count):
                now_lying[k], now_rows[k], now_xs[k] = lying[k], rows[k], xs[k]
            _placed_first(trial, put, count, order)
            worth = _worth(count, put, trial, value, lying, rows, make, tall, total, _TIE)
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


@numba.njit(cache=True, nogil=True)
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
