"""Lay straps by beam search, from the lowest row up; compiled.

An unfinished layout is worth what it holds and what the rows above its front can still take, by
:mod:`strapwright.nesting.strap_search.guide`. Of all that have come about as far, the best few are kept, of
those that hold the same straps only one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from strapwright.nesting.strap_search.guide import Guide, fill
from strapwright.nesting.strap_search.instance import Rows
from strapwright.nesting.strap_search.stack import Table, place

if TYPE_CHECKING:
    from strapwright.nesting.strap_search.instance import Instance

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_LEVELS = 100
"""Levels of unfinished layouts: two or three to a strap."""

_WIDTHS = (20, 80, 80, 160, 160, 320)
"""Layouts kept of each level, one beam after another; then no more."""

_SPREAD = 0.04
"""Share by which what a strap counts for is more or less from one beam to another."""

_STRIDE = 4
"""Rows skipped where a strap has a run but another strap is in its way: 2 mm."""


class Nodes(NamedTuple):
    """Unfinished layouts by level and place, each told by its last strap and what it came from.

    Args:
        sizes: how many each level holds, (levels,).
        least: the lowest score of each level once it is full, minus infinite before, (levels,).
        score: estimate of each, (levels, width).
        value: of the straps that lie.
        gain: of the same as the guide counts them.
        held: hash of the straps that lie.
        parent: level · width + place of the one it came from; −1 for the first.
        strap: the last strap's number.
        form: its form.
        row: its row.
        side: 1 where it is pushed to the right.
        x: its left end, mm.
    """

    sizes: Ints
    least: Floats
    score: Floats
    value: Floats
    gain: Floats
    held: Ints
    parent: Ints
    strap: Ints
    form: Ints
    row: Ints
    side: Ints
    x: Floats


def nodes_of(levels: int, width: int) -> Nodes:
    """Return room for so many layouts on each of so many levels, one with nothing in it on the first."""

    def whole() -> Ints:
        return np.full((levels, width), -1)

    def real() -> Floats:
        return np.zeros((levels, width))

    sizes = np.zeros(levels, np.int64)
    sizes[0] = 1
    return Nodes(
        sizes=sizes,
        least=np.full(levels, -np.inf),
        score=real(),
        value=real(),
        gain=real(),
        held=whole(),
        parent=whole(),
        strap=whole(),
        form=whole(),
        row=whole(),
        side=whole(),
        x=real(),
    )


@numba.njit(cache=True, nogil=True)
def _promise(
    count: int,
    first: int,
    lying: Ints,
    rows: Ints,
    sides: Ints,
    kinds: Ints,
    tall: Ints,
    per_cell: int,
    one: Floats,
    two: Floats,
) -> float:
    """Return what the rows above a front can take, from the last strap's row and the tops of those beside."""
    low: Any = rows[count - 1]
    high: Any = np.int64(0)
    lane: Any = np.int64(0)
    for j in range(first, count):
        top = rows[j] + tall[lying[j]]
        if top > high:
            low = max(low, high)
            high, lane = top, 2 * kinds[j] + sides[j]
        else:
            low = max(low, top)
    cell = (low + per_cell - 1) // per_cell
    left = (high + per_cell - 1) // per_cell - cell
    if cell >= len(one):
        return 0.0
    return float(one[cell] if left <= 0 else two[cell, min(left, two.shape[1] - 1), lane])


@numba.njit(cache=True, nogil=True)
def expand(
    begin: int,
    end: int,
    nodes: Nodes,
    forms: Ints,
    like: NDArray[np.bool_],
    value: Floats,
    gain: Floats,
    key: Ints,
    table: Table,
    guide: Guide,
    best: Ints,
    best_value: float,
) -> float:
    """Lay one more strap, every one in turn, in all layouts of some levels; return the best value so far.

    Args:
        begin: first level.
        end: the level after the last.
        nodes: filled; a layout's level is how much of the promise of the empty ground it has used up.
        forms: of each strap, (straps, 2); straps of one make lie together, the short ones first.
        like: whether each is like the one before it.
        value: of each strap.
        gain: the same as the guide counts them.
        key: random numbers of the straps, alike for straps that are alike.
        table: the straps and the ground in numbers.
        guide: filled.
        best: filled with the place in ``nodes`` of the best layout, (1,), if it is better yet.
        best_value: its value so far.
    """
    _, low, high, make, length, room, tall_of, apart, middle = table
    following = table.following
    per_cell, kind, one, two = guide.rows, guide.kind, guide.one, guide.two
    levels, width = nodes.score.shape
    n, total, promised = len(forms), low.shape[1], one[0]
    tall = tall_of[make]
    strap, lying, rows, sides = (
        np.empty(n + 1, np.int64),
        np.empty(n + 1, np.int64),
        np.empty(n + 1, np.int64),
        np.empty(n + 1, np.int64),
    )
    kinds, xs, used = np.empty(n + 1, np.int64), np.empty(n + 1), np.zeros(n, np.bool_)
    for level in range(begin, end):
        for place_ in range(nodes.sizes[level]):
            at = level * width + place_
            count: Any = np.int64(0)
            used[:] = False
            up = at
            while nodes.parent[up // width, up % width] >= 0:
                count += 1
                up = nodes.parent[up // width, up % width]
            up = at
            for j in range(count - 1, -1, -1):
                a, b = up // width, up % width
                strap[j], lying[j], rows[j] = nodes.strap[a, b], nodes.form[a, b], nodes.row[a, b]
                sides[j], xs[j], kinds[j] = nodes.side[a, b], nodes.x[a, b], kind[nodes.strap[a, b]]
                used[strap[j]] = True
                up = nodes.parent[a, b]
            worth, gained, held = (
                nodes.value[level, place_],
                nodes.gain[level, place_],
                nodes.held[level, place_],
            )
            if worth > best_value:
                best_value = worth
                best[0] = at
            front = rows[count - 1] if count else 0
            first: Any = np.int64(0)
            while first < count and rows[first] + tall[lying[first]] <= front:
                first += 1
            for turn in range(2):
                for side in range(2):
                    before, begin_row = -1, front
                    for s in range(n):
                        if used[s] or (like[s] and not used[s - 1]):
                            continue
                        form = forms[s, turn]
                        if turn and form == forms[s, 0]:
                            continue
                        own = make[form]
                        if own != before:
                            before, begin_row = own, front
                        row = begin_row
                        for j in range(first, count):
                            if length[lying[j]] + length[form] > room[make[lying[j]], own]:
                                row = max(row, rows[j] + tall[lying[j]])
                        row = following[form, row] if row < total else total
                        x = np.nan
                        while row < total:
                            x = place(
                                form,
                                side == 1,
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
                            if not np.isnan(x):
                                break
                            further = row + _STRIDE
                            for j in range(first, count):
                                clear = rows[j] + tall[lying[j]]
                                if row < clear < further:
                                    further = clear
                            row = following[form, min(further, total)]
                        begin_row = row
                        if row >= total:
                            continue
                        lying[count], rows[count], sides[count], kinds[count] = form, row, side, kind[s]
                        active = first
                        while rows[active] + tall[lying[active]] <= row:
                            active += 1
                        promise = _promise(
                            count + 1, active, lying, rows, sides, kinds, tall, per_cell, one, two
                        )
                        to = max(level + 1, min(levels - 1, int((1.0 - promise / promised) * (levels - 1))))
                        if to >= levels:
                            continue
                        score = gained + gain[s] + promise
                        if score <= nodes.least[to]:
                            continue
                        own_held = held + key[s]
                        put: Any = np.int64(0)
                        while put < nodes.sizes[to] and nodes.held[to, put] != own_held:
                            put += 1
                        if put < nodes.sizes[to]:
                            if score <= nodes.score[to, put]:
                                continue
                        elif put < width:
                            nodes.sizes[to] += 1
                        else:
                            put = np.argmin(nodes.score[to])
                        nodes.score[to, put], nodes.value[to, put] = score, worth + value[s]
                        nodes.gain[to, put], nodes.held[to, put] = gained + gain[s], own_held
                        nodes.parent[to, put], nodes.strap[to, put], nodes.form[to, put] = at, s, form
                        nodes.row[to, put], nodes.side[to, put], nodes.x[to, put] = row, side, x
                        if nodes.sizes[to] == width:
                            nodes.least[to] = np.min(nodes.score[to])
    return best_value


class Beams:
    """One beam after another, each wider or with straps that count for a little more or less.

    Args:
        shelves: the straps and the ground.
        guide: of both.
        numbers: of the random choices.
        plain: whether the first beam counts straps for just what they are worth.
    """

    def __init__(self, shelves: Instance, guide: Guide, numbers: np.random.Generator, *, plain: bool) -> None:
        self._table, self._numbers, self._plain = shelves.numbers, numbers, plain
        forms, length, make = shelves.turns, shelves.numbers.length, shelves.numbers.make
        self._order = np.lexsort(
            (shelves.value, length[forms[:, 1]], length[forms[:, 0]], make[forms[:, 1]], make[forms[:, 0]])
        )
        self._forms, self._value = forms[self._order], shelves.value[self._order]
        alike = np.zeros(len(forms), np.bool_)
        alike[1:] = (self._forms[1:] == self._forms[:-1]).all(axis=1) & (self._value[1:] == self._value[:-1])
        self._like = alike
        self._type = np.cumsum(~alike) - 1
        self._guide = guide._replace(kind=guide.kind[self._order], one=guide.one.copy(), two=guide.two.copy())
        self._begun = self._level = 0
        self.value, self.done = -1.0, True
        self._best = np.zeros(1, np.int64)

    def advance(self, count: int) -> None:
        """Go on until so many layouts more were looked at, or the beam is at its end."""
        if self.done:
            self._begin()
        end, looked = self._level, 0
        while end < _LEVELS and looked < count:
            self.value = expand(
                end,
                end + 1,
                self._nodes,
                self._forms,
                self._like,
                self._value,
                self._gain,
                self._key,
                self._table,
                self._guide,
                self._best,
                self.value,
            )
            looked += int(self._nodes.sizes[end])
            end += 1
        self._level, self.done = end, end == _LEVELS

    def _begin(self) -> None:
        types = int(self._type[-1]) + 1
        more = self._numbers.uniform(-_SPREAD / 2, _SPREAD / 2, types)
        if self._plain and not self._begun:
            more[:] = 0.0
        self._gain = self._value * (1 + more[self._type])
        self._key = self._numbers.integers(1, 2**62, types)[self._type]
        guide = self._guide
        gain = np.zeros(len(guide.tall))
        np.maximum.at(gain, guide.kind, self._gain)
        fill(gain, guide.starts, guide.tall, guide.beside, guide.one, guide.two)
        width = _WIDTHS[min(self._begun, len(_WIDTHS) - 1)]
        self._nodes = nodes_of(_LEVELS, width)
        self.value, self._level = -1.0, 0
        self._begun += 1

    def laid(self) -> Rows:
        """Return the best layout of the beam so far."""
        nodes, at, chain = self._nodes, int(self._best[0]), []
        width = nodes.score.shape[1]
        while nodes.parent[at // width, at % width] >= 0:
            chain.append(at)
            at = int(nodes.parent[at // width, at % width])
        own = np.divmod(np.array(chain[::-1], np.int64), width)
        return Rows(
            self._order[nodes.strap[own]], nodes.form[own], nodes.row[own], nodes.x[own], nodes.side[own]
        )
