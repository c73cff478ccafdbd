"""Stack straps on a ground row by row; compiled.

A layout is made from an order: each strap goes to the lowest row, not below the one laid before it, where
its chosen end first and its chosen side have room. Every layout in which no strap can slide down or aside
comes from some order, so nothing is lost. What finds no row is left over.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from strapwright.nesting.compiled import compiled, within

if TYPE_CHECKING:
    from strapwright.core.arrays import Floats, Ints

SLACK = 1e-6
"""A strap this much too long for a run still goes in, mm: rounding, a hundredth of the tolerance."""

_STRIDE = 4
"""Rows skipped where a strap has a run but another strap is in its way: 2 mm."""


_BLOCK = 32
"""Rows that are judged together by how far their runs reach: 16 mm."""


class CompiledInstance(NamedTuple):
    """Straps and a ground in numbers, as the compiled search takes them.

    Args:
        following: of each form and row, the first row from there on whose free runs take the form.
        low: left ends of the free runs, (makes, rows, runs) mm.
        high: right ends.
        west: least left end in each block of rows, (makes, blocks) mm.
        east: greatest right end in each block.
        make: of each form.
        length: of each form, mm.
        least: from the right end of a strap of one make to the left end of one of another, at least, mm.
        tall: rows above its own from which a strap of each make is out of the way, at the latest.
        apart: see :func:`strapwright.nesting.strap_search.free_runs.distances`.
        middle: likewise.
    """

    following: Ints
    low: Floats
    high: Floats
    west: Floats
    east: Floats
    make: Ints
    length: Floats
    least: Floats
    tall: Ints
    apart: Floats
    middle: int

    def with_runs(self, low: Floats, high: Floats) -> CompiledInstance:
        """Return the same straps on other free runs."""
        makes, rows, _ = low.shape
        following = np.empty((len(self.make), rows + 1), np.int64)
        west, east = np.full((2, makes, -(-rows // _BLOCK)), np.inf)
        _next_rows(low, high, self.make, self.length, following, west, east)
        return self._replace(following=following, low=low, high=high, west=west, east=-east)


@compiled
def _next_rows(
    low: Floats, high: Floats, make: Ints, length: Floats, out: Ints, west: Floats, east: Floats
) -> None:
    """Write, for every form and row, the first row from there on whose free runs take the form.

    Args:
        low: left ends of the runs, (makes, rows, runs) mm.
        high: right ends.
        make: of each form.
        length: of each form, mm.
        out: filled, (forms, rows + 1); the number of rows where there is none.
        west: infinite, filled with the least left end in each block of rows.
        east: likewise with the negative of the greatest right end.
    """
    makes, rows, runs = low.shape
    widest = np.zeros((makes, rows))
    for own in range(makes):
        for row in range(rows):
            for run in range(runs):
                start, end = low[own, row, run], high[own, row, run]
                if end >= start:
                    widest[own, row] = max(widest[own, row], end - start)
                    west[own, row // _BLOCK] = min(west[own, row // _BLOCK], start)
                    east[own, row // _BLOCK] = min(east[own, row // _BLOCK], -end)
    for form in range(len(make)):
        out[form, rows] = rows
        for row in range(rows - 1, -1, -1):
            fits = widest[make[form], row] >= length[form] - SLACK
            out[form, row] = row if fits else out[form, row + 1]


@within
def place(
    form: int,
    to_right: bool,
    row: int,
    table: CompiledInstance,
    lying: Ints,
    rows: Ints,
    xs: Floats,
    first: int,
    count: int,
) -> float:
    """Return the x of a form's left end in a row, beside the straps ``first`` to ``count - 1``; or NaN."""
    _, low, high, _, _, make, length, _, _, apart, middle = table
    own, size = make[form], length[form]
    runs = low.shape[2]
    for k in range(runs):
        run = runs - 1 - k if to_right else k
        left, right = low[own, row, run], high[own, row, run] - size
        if right < left:
            if right < left - SLACK:
                continue
            left = right = (left + right) / 2
        x = right if to_right else left
        moved = True
        while moved and left - SLACK <= x <= right + SLACK:
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
                if before + SLACK < x < beyond - SLACK:
                    x = before if to_right else beyond
                    moved = True
        if left - SLACK <= x <= right + SLACK:
            return x
    return np.nan


@within
def stretches(
    own: int,
    row: int,
    table: CompiledInstance,
    lying: Ints,
    rows: Ints,
    xs: Floats,
    first: int,
    count: int,
    left: Floats,
    right: Floats,
) -> int:
    """Write the stretches of a row that the straps ``first`` to ``count - 1`` leave, and return how many.

    ``left`` and ``right`` are filled with their ends for a make, in any order, mm; some may be of no length.
    """
    _, low, high, _, _, make, length, _, _, apart, middle = table
    found: Any = np.int64(0)
    for k in range(low.shape[2]):
        if high[own, row, k] >= low[own, row, k]:
            left[found], right[found] = low[own, row, k], high[own, row, k]
            found += 1
    for j in range(first, count):
        rise = row - rows[j]
        if rise > middle or rise < -middle:
            continue
        other = make[lying[j]]
        after = apart[other, own, rise + middle]
        if after == -np.inf:
            continue
        beyond = xs[j] + length[lying[j]] + after
        before = xs[j] - apart[own, other, middle - rise]
        for k in range(found):
            if before >= right[k] or beyond <= left[k]:
                continue
            if before > left[k] and beyond < right[k]:
                left[found], right[found] = beyond, right[k]
                found += 1
                right[k] = before
            elif before > left[k]:
                right[k] = before
            else:
                left[k] = beyond
    return found


@within
def first_roomy(
    form: int, row: int, table: CompiledInstance, lying: Ints, rows: Ints, xs: Floats, first: int, count: int
) -> int:
    """Return the first row, from one on, where a form could lie beside others, judged by blocks of rows."""
    following, _, _, west, east, make, length, least, tall, _, _ = table
    own, size, total = make[form], length[form] - 2 * SLACK, following.shape[1] - 1
    row = following[form, row]
    while row < total:
        block = row // _BLOCK
        end = min(total, (block + 1) * _BLOCK)
        for i in range(first - 1, count):
            # The stretch that begins at the left, or at the right end of a strap, up to the next strap.
            start, stop = west[own, block], east[own, block]
            if i >= first:
                if rows[i] + tall[make[lying[i]]] <= row:
                    continue
                start = max(start, xs[i] + length[lying[i]] + least[make[lying[i]], own])
            for j in range(first, count):
                other = make[lying[j]]
                if rows[j] + tall[other] > row and xs[j] + length[lying[j]] + least[other, own] > start:
                    stop = min(stop, xs[j] - least[own, other])
            if stop - start >= size:
                return row
        for j in range(first, count):
            clear = rows[j] + tall[make[lying[j]]]
            if row < clear < end:
                end = clear
        row = following[form, end]
    return row


@compiled
def stack(
    order: Ints,
    turn: Ints,
    side: Ints,
    start: int,
    forms: Ints,
    table: CompiledInstance,
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
        table: the straps and the ground in numbers.
        lying: filled with the forms of those that lie.
        rows: with their rows.
        xs: with their left ends, mm.
        put: with their places in the order.
    """
    make, length, tall = table.make, table.length, table.tall
    makes, total, _ = table.low.shape
    count = start
    front = rows[start - 1] if start else 0
    first = 0
    for k in range(start):
        put[k] = k
    shortest_left_over = np.full(makes, np.inf)
    for at in range(start, len(order)):
        strap = order[at]
        form = forms[strap, turn[strap]]
        own = make[form]
        if length[form] >= shortest_left_over[own]:
            continue
        while first < count and rows[first] + tall[make[lying[first]]] <= front:
            first += 1
        to_right, row, x = side[strap] == 1, front, np.nan
        while math.isnan(x):
            row = first_roomy(form, row, table, lying, rows, xs, first, count)
            if row >= total:
                break
            x = place(form, to_right, row, table, lying, rows, xs, first, count)
            if math.isnan(x):
                further = row + _STRIDE
                for j in range(first, count):
                    clear = rows[j] + tall[make[lying[j]]]
                    if row < clear < further:
                        further = clear
                row = min(further, total)
        if row >= total:
            shortest_left_over[own] = length[form]
            continue
        lying[count], rows[count], xs[count], put[count] = form, row, x, at
        count += 1
        front = row
    return count
