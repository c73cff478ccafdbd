"""Improve a layout of straps window by window: what lies below stays down, what lies above is pushed up.

All the leather a layout leaves over is gathered in one window that way. The straps of the window are taken
out and, with those that found no place, laid anew in it, by a beam or by annealing; what lies around it does
not move.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from strapwright.nesting.compiled import compiled
from strapwright.nesting.strap_search.anneal import anneal
from strapwright.nesting.strap_search.beam import beam
from strapwright.nesting.strap_search.guide import guide_within
from strapwright.nesting.strap_search.instance import stacked
from strapwright.nesting.strap_search.rows import place, stretches

if TYPE_CHECKING:
    from strapwright.core.arrays import Floats, Ints
    from strapwright.nesting.strap_search.guide import Guide
    from strapwright.nesting.strap_search.instance import Instance, Rows
    from strapwright.nesting.strap_search.rows import CompiledInstance

_LEAST, _MOST = 6, 16
"""Straps taken out of a window."""

_BEAMS = 0.5
"""Share of the windows that a beam lays anew; annealing lays the others."""

_REACH = 3
"""Straps below a window, and above it, beside which it may lie."""

_WIDTH = 10
"""Layouts kept of each level of a window's beam."""

_TRIES = 1500
"""Layouts made of one window."""

_HOT, _COLD, _SPARE = 0.05, 0.01, 0.004
"""Temperatures at the beginning and at the end, and the worth of a row that is free, per mean value."""


def pushed(shelves: Instance, laid: Rows, *, up: bool) -> Rows:
    """Return straps pushed up or down, one after another, each as far as the others let it."""
    order = np.argsort(laid.row, kind="stable")
    out = laid.only(order[::-1] if up else order)
    _push(up, shelves.numbers, out.form, out.row, out.x, out.side)
    return out


@compiled
def _push(up: bool, table: CompiledInstance, form: Ints, row: Ints, x: Floats, side: Ints) -> None:
    """Move straps in the order given: to the last row that takes them, or the first."""
    count, rows = len(form), table.low.shape[1]
    others, their_rows, their_xs = np.empty(count, np.int64), np.empty(count, np.int64), np.empty(count)
    for k in range(count):
        first: Any = np.int64(0)
        n = first
        for j in range(count):
            if j != k:
                others[n], their_rows[n], their_xs[n] = form[j], row[j], x[j]
                n += 1
        at = rows - 1 if up else 0
        while at != row[k]:
            own, right = form[k], side[k] == 1
            found = place(own, right, at, table, others, their_rows, their_xs, first, n)
            if not np.isnan(found):
                row[k], x[k] = at, found
                break
            at += -1 if up else 1


@compiled
def _runs_beside(
    table: CompiledInstance,
    shortest: Floats,
    form: Ints,
    row: Ints,
    x: Floats,
    new_low: Floats,
    new_high: Floats,
) -> None:
    """Write the free runs of every row that straps leave.

    Args:
        table: the straps, and the rows with their free runs.
        shortest: strap of each make, mm; shorter runs are left out.
        form: of the straps that lie.
        row: likewise.
        x: likewise, mm.
        new_low: filled with the left ends of the runs, (makes, rows, runs) mm.
        new_high: filled with the right ends.
    """
    makes, rows, runs = table.low.shape
    left, right = np.empty(runs + len(form)), np.empty(runs + len(form))
    nothing: Any = np.int64(0)
    for own in range(makes):
        for r in range(rows):
            count = stretches(own, r, table, form, row, x, nothing, len(form), left, right)
            new_low[own, r], new_high[own, r] = np.inf, -np.inf
            kept = 0
            for k in range(1, count):  # in order from left to right; they nearly are
                begin, end, at = left[k], right[k], k
                while at > 0 and left[at - 1] > begin:
                    left[at], right[at] = left[at - 1], right[at - 1]
                    at -= 1
                left[at], right[at] = begin, end
            for k in range(count):
                if kept < runs and right[k] - left[k] >= shortest[own]:
                    new_low[own, r, kept], new_high[own, r, kept] = left[k], right[k]
                    kept += 1


class Windows:
    """Improves one layout again and again, a window at a time.

    Args:
        shelves: the straps and the ground.
        guide: of both; None where there is none, and so no beam.
        numbers: of the random choices.
    """

    def __init__(self, shelves: Instance, guide: Guide | None, numbers: np.random.Generator) -> None:
        self._shelves, self._guide, self._numbers = shelves, guide, numbers
        table = shelves.numbers
        self._mean, self._cell = shelves.mean, 1 if guide is None else guide.rows
        self._state = numbers.integers(1, 2**63, 1, np.uint64)
        self._shortest = np.full(len(table.low), np.inf)
        np.minimum.at(self._shortest, table.make, table.length)
        self._shortest -= 1e-3

    def changed(self, laid: Rows, worth: float, heat: float) -> tuple[Rows, float]:
        """Return a layout changed in one window, and what it is worth; the same where it lost too much.

        Args:
            laid: the layout.
            worth: what it is worth.
            heat: how much it may lose, on average, per mean value of a strap.
        """
        shelves, numbers, count = self._shelves, self._numbers, len(laid.strap)
        laid = laid.only(np.argsort(laid.row, kind="stable"))
        size = int(numbers.integers(_LEAST, _MOST + 1))
        first = int(numbers.integers(-(size // 2), max(1, count - size // 2)))
        inside = np.arange(max(0, first), min(count, first + size))
        below = pushed(shelves, laid.only(np.arange(inside[0] if len(inside) else 0)), up=False)
        above = pushed(shelves, laid.only(np.arange(inside[-1] + 1 if len(inside) else 0, count)), up=True)
        around, window = below.joined(above), laid.only(inside)
        made = self._filled(around, window, *self._rows(below, above))
        whole = around.joined(made)
        value = float(shelves.value[whole.strap].sum())
        may_lose = heat * self._mean * float(numbers.exponential())
        return (whole, value) if value >= worth - may_lose - 1e-6 else (laid, worth)

    def _rows(self, below: Rows, above: Rows) -> tuple[int, int]:
        """Return the first row between some straps and others, a cell's first, and the row after the last."""
        tall = self._shelves.numbers.tall[self._shelves.numbers.make]
        begin = int(np.sort(below.row)[-_REACH:][0]) if len(below.row) else 0
        tops = np.sort(above.row + tall[above.form])[:_REACH]
        return begin - begin % self._cell, int(np.min(tops[-1:], initial=self._shelves.rows))

    def _filled(self, around: Rows, window: Rows, begin: int, end: int) -> Rows:
        """Return what rows hold best: the straps of a window and those that found no place, laid anew."""
        shelves, table = self._shelves, self._shelves.numbers
        low, high = np.empty((2, len(table.low), end - begin, table.low.shape[2]))
        reach = table.middle
        near = around.only(np.flatnonzero((around.row > begin - reach) & (around.row < end + reach)))
        rows = table._replace(low=table.low[:, begin:end].copy(), high=table.high[:, begin:end].copy())
        _runs_beside(rows, self._shortest, near.form, near.row - begin, near.x, low, high)
        found = np.flatnonzero(np.isfinite(low[:, :, 0]).any(axis=0))
        if len(found):
            first, end = int(found[0]) - int(found[0]) % self._cell, int(found[-1]) + 1
            begin, low, high = begin + first, low[:, first:end].copy(), high[:, first:end].copy()
        free = table.with_runs(low, high)
        left_over = np.setdiff1d(np.arange(len(shelves.pieces)), np.concatenate([around.strap, window.strap]))
        straps = np.concatenate([window.strap, self._numbers.permutation(left_over)])
        # Each way finds what the other passes over.
        if self._guide is not None and self._numbers.random() < _BEAMS:
            made = self._beamed(self._guide, straps, free, begin)
        else:
            made = self._annealed(window, straps, free)
        return replace(made, strap=straps[made.strap], row=made.row + begin)

    def _annealed(self, window: Rows, straps: Ints, free: CompiledInstance) -> Rows:
        """Return what annealing lays of some straps, those of a window first among them."""
        shelves, mean, n, own = self._shelves, self._mean, len(straps), len(window.strap)
        turn, side = self._numbers.integers(0, 2, n), self._numbers.integers(0, 2, n)
        turn[:own] = shelves.turns[window.strap, 0] != window.form
        side[:own] = window.side
        best, turns = np.zeros((3, n), np.int64), shelves.turns[straps]
        hot, cold, spare = _HOT * mean, _COLD * mean, _SPARE * mean
        value = shelves.value[straps]
        anneal(
            np.arange(n), turn, side, best, -np.inf, _TRIES, hot, cold, spare, self._state, value, turns, free
        )
        return stacked(turns, free, *best)

    def _beamed(self, guide: Guide, straps: Ints, free: CompiledInstance, begin: int) -> Rows:
        """Return what a beam lays of some straps in rows from one on."""
        shelves = self._shelves
        within = replace(shelves, value=shelves.value[straps], turns=shelves.turns[straps], numbers=free)
        *_, made = beam(
            within, guide_within(guide, within, straps, begin // guide.rows), self._numbers, _WIDTH
        )
        assert made is not None
        return made
