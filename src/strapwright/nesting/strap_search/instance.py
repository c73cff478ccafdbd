"""Straps and one ground made ready for the search: all its numbers in arrays, and layouts as placements."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.problem import PiecePlacement
from strapwright.nesting.strap_search.free_runs import (
    RowTable,
    best_step,
    clearances,
    distances,
    table_of,
)
from strapwright.nesting.strap_search.rows import SLACK, CompiledInstance, stack
from strapwright.nesting.strap_search.strap_shape import Form, Make, forms_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats, Ints
    from strapwright.nesting.problem import Ground, Piece, Problem

_FAR = 1e9
"""Further to a side than any hide reaches, mm."""

_KEPT = 4
"""Grounds made ready that are kept."""

_HALVINGS = 14
"""How often the way a strap may still slide down is halved: to a ten-thousandth of a millimetre."""


@dataclass(frozen=True, eq=False)
class Instance:
    """What the search works on.

    Args:
        ground: number of the ground.
        pieces: numbers of the pieces, the search's own straps 0, 1, ….
        makes: of the pieces.
        forms: of the pieces.
        table: free runs of every row.
        gap: kept between pieces, mm.
        value: of each piece.
        turns: numbers of the forms each piece takes by its first and its last turn, (pieces, 2).
        numbers: forms and rows as the compiled search takes them.
    """

    ground: int
    pieces: tuple[int, ...]
    makes: list[Make]
    forms: list[Form]
    table: RowTable
    gap: float
    value: Floats
    turns: Ints
    numbers: CompiledInstance

    @property
    def mean(self) -> float:
        """Mean value of a piece; 1 where none is worth anything."""
        mean = float(self.value.mean()) if len(self.pieces) else 0.0
        return mean if mean > 0 else 1.0

    @property
    def rows(self) -> int:
        """How many rows there are."""
        return int(self.table.low.shape[1])


def build_instance(
    problem: Problem, ground: int, pieces: Sequence[int], spots: Sequence[PiecePlacement]
) -> Instance:
    """Return straps and a ground as the arrays the search works on.

    Args:
        problem: the problem.
        ground: number of the ground.
        pieces: numbers of the pieces that are to be laid.
        spots: placements of what lies there already; those on other grounds do not matter.
    """
    chosen = tuple(problem.pieces[n] for n in pieces)
    lying = tuple((problem.pieces[spot.piece], spot) for spot in spots if spot.ground == ground)
    ready = _ready(problem.grounds[ground], chosen, problem.gap, problem.margin, lying)
    return replace(ready, ground=ground, pieces=tuple(pieces))


@lru_cache(maxsize=_KEPT)
def _ready(
    ground: Ground,
    chosen: tuple[Piece, ...],
    gap: float,
    margin: float,
    lying: tuple[tuple[Piece, PiecePlacement], ...],
) -> Instance:
    """Return pieces and a ground made ready, kept: a search begins where its first layout was made."""
    makes, forms, by_shape = forms_of(chosen, gap)
    step = best_step([make.height for make in makes], gap)
    taken = [spot.apply(piece.outline) for piece, spot in lying]
    table = table_of(ground, makes, forms, step, margin=margin, gap=gap, taken=taken)
    apart, middle = distances(makes, gap, step)
    make = np.array([form.make for form in forms], np.int64)
    length = np.array([form.length for form in forms])
    first_and_last = [(by_shape[piece.shape][0], by_shape[piece.shape][-1]) for piece in chosen]
    least = np.where(np.isfinite(apart), apart, np.inf).min(axis=2)
    nothing = np.zeros((0, 0))
    numbers = CompiledInstance(
        nothing.astype(np.int64),
        table.low,
        table.high,
        nothing,
        nothing,
        make,
        length,
        least,
        np.array([math.ceil((m.height + gap) / step - SLACK) for m in makes], np.int64),
        apart,
        middle,
    ).with_runs(table.low, table.high)
    value = np.array([piece.value for piece in chosen])
    turns = np.array(first_and_last, np.int64)
    return Instance(0, tuple(range(len(chosen))), makes, forms, table, gap, value, turns, numbers)


@dataclass(frozen=True, eq=False)
class Rows:
    """Straps that lie, in arrays of one length.

    Args:
        strap: numbers in the search.
        form: which of its forms each takes.
        row: the row each lies in.
        x: left end, mm.
        side: 1 where it is pushed to the right.
    """

    strap: Ints
    form: Ints
    row: Ints
    x: Floats
    side: Ints

    def only(self, chosen: Ints) -> Rows:
        """Return some of them, by their places."""
        return Rows(*(each[chosen] for each in vars(self).values()))

    def joined(self, other: Rows) -> Rows:
        """Return these and others."""
        both = zip(vars(self).values(), vars(other).values(), strict=True)
        return Rows(*map(np.concatenate, both))


def below(shelves: Instance, ceiling: int) -> Instance:
    """Return straps and a ground of which only what lies below a row may be used."""
    table = shelves.numbers
    low, high = table.low.copy(), table.high.copy()
    for make, tall in enumerate(table.tall):
        low[make, max(0, ceiling - tall + 1) :] = np.inf
        high[make, max(0, ceiling - tall + 1) :] = -np.inf
    return replace(shelves, numbers=table.with_runs(low, high))


def laid_by(shelves: Instance, order: Ints, turn: Ints, side: Ints) -> Rows:
    """Return what an order lays.

    Args:
        shelves: the straps and the ground.
        order: numbers of the straps.
        turn: which of its forms each strap takes.
        side: 1 where a strap is pushed to the right.
    """
    return stacked(shelves.turns, shelves.numbers, order, turn, side)


def laid_lowest(shelves: Instance, order: Ints) -> Rows:
    """Return what an order lays where each strap takes the turn in which it lies lowest.

    Args:
        shelves: the straps and the ground.
        order: numbers of the straps.
    """
    turn, side = np.zeros((2, len(shelves.pieces)), np.int64)
    laid = laid_by(shelves, order[:0], turn, side)
    for count, strap in enumerate(order, start=1):
        tried = []
        for way in (0, 1):
            turn[strap] = way
            tried.append(laid_by(shelves, order[:count], turn, side))
        lowest = min(
            (0, 1), key=lambda way: (-len(tried[way].row), int(np.max(tried[way].row, initial=0)), way)
        )
        turn[strap], laid = lowest, tried[lowest]
    return laid


def stacked(forms: Ints, table: CompiledInstance, order: Ints, turn: Ints, side: Ints) -> Rows:
    """Return what an order lays of straps with these forms, (straps, 2), where a table says there is room."""
    n = len(order)
    form, row, put = (np.empty(n, np.int64) for _ in range(3))
    x = np.empty(n)
    count = stack(order, turn, side, 0, forms, table, form, row, x, put)
    strap = order[put[:count]]
    return Rows(strap, form[:count].copy(), row[:count].copy(), x[:count].copy(), side[strap])


def laid_out(shelves: Instance, laid: Rows) -> list[PiecePlacement]:
    """Return straps as placements, every one slid down and aside as far as it goes."""
    laid = laid.only(np.argsort(laid.row, kind="stable"))
    table = shelves.table
    at = [
        Slot(int(strap), int(form), float(x), table.y0 + int(row) * table.step)
        for strap, form, row, x in zip(laid.strap, laid.form, laid.row, laid.x, strict=True)
    ]
    drop = 0.0
    for number, one in enumerate(at):
        others = at[:number] + at[number + 1 :]
        at[number] = _slid_down(shelves, one, others, drop + table.step, bool(laid.side[number]))
        drop = max(drop, one.y - at[number].y)
    out = []
    for one in _aligned(shelves, at):
        f = shelves.forms[one.form]
        out.append(
            PiecePlacement(
                shelves.pieces[one.strap], shelves.ground, f.turn, one.x + f.origin[0], one.y + f.origin[1]
            )
        )
    return out


@dataclass(frozen=True)
class Slot:
    """A strap, the form it takes, and the lower left corner of its box, mm."""

    strap: int
    form: int
    x: float
    y: float


def _aligned(shelves: Instance, at: list[Slot]) -> list[Slot]:
    """Return straps pushed as far as they go to one side, the one to which less has to move.

    What they leave then lies together, as a hand would have it.
    """
    sides = []
    for far in (-_FAR, _FAR):
        moved = list(at)
        for number, one in sorted(enumerate(at), key=lambda place: place[1].x, reverse=far > 0):
            others = moved[:number] + moved[number + 1 :]
            x = _place(shelves, replace(one, x=far), one.y, others, far > 0)
            moved[number] = one if x is None else replace(one, x=x)
        sides.append((sum(abs(a.x - b.x) for a, b in zip(moved, at, strict=True)), moved))
    return min(sides, key=lambda side: side[0])[1]


def _slid_down(shelves: Instance, one: Slot, others: Sequence[Slot], way: float, to_right: bool) -> Slot:
    """Return a strap as low as it goes between its rows, at most ``way`` lower."""
    best = one
    free, taken = one.y, max(one.y - way, shelves.table.y0 - shelves.table.step)
    for _ in range(_HALVINGS):
        y = (free + taken) / 2
        x = _place(shelves, one, y, others, to_right)
        if x is None:
            taken = y
        else:
            free, best = y, Slot(one.strap, one.form, x, y)
    return best


def _place(shelves: Instance, one: Slot, y: float, others: Sequence[Slot], to_right: bool) -> float | None:
    """Return the x of a strap's left end at any height beside those that lie, or None."""
    form = shelves.forms[one.form]
    make = shelves.makes[form.make]
    low, high = np.full((1, 8), np.inf), np.full((1, 8), -np.inf)
    shelves.table.edges.scan(make, form.length, y, 1.0, low, high)
    best: float | None = None
    for left, end in zip(low[0], high[0], strict=True):
        if end - left < form.length - SLACK:
            continue
        right = max(end - form.length, left)
        x = right if to_right else left
        for _ in range(len(others) + 1):
            stop = next(
                (
                    run
                    for other in others
                    if (run := _forbidden(shelves, one, y, other)) is not None
                    and run[0] + SLACK < x < run[1] - SLACK
                ),
                None,
            )
            if stop is None:
                break
            x = stop[0] if to_right else stop[1]
        else:
            continue
        # Of several places the one nearest to where the search had it.
        if left - SLACK <= x <= right + SLACK and (best is None or abs(x - one.x) < abs(best - one.x)):
            best = x
    return best


def _forbidden(shelves: Instance, one: Slot, y: float, other: Slot) -> tuple[float, float] | None:
    """Return the x of its left end at which a strap at a height is too near another, or None."""
    own, theirs = shelves.forms[one.form], shelves.forms[other.form]
    a, b = shelves.makes[own.make], shelves.makes[theirs.make]
    rise = y - other.y
    if not -a.height - shelves.gap < rise < b.height + shelves.gap:
        return None
    after, before = np.full(1, -np.inf), np.full(1, -np.inf)
    clearances(b.grown.y, b.grown.right, a.whole.y + rise, a.whole.left, 1.0, 0, after)
    clearances(a.grown.y + rise, a.grown.right, b.whole.y, b.whole.left, 1.0, 0, before)
    if not math.isfinite(after[0]) and not math.isfinite(before[0]):
        return None
    return other.x - float(before[0]) - own.length, other.x + theirs.length + float(after[0])
