"""Lay straps by beam search, from the lowest row up; compiled.

An unfinished layout is worth what it holds and what the rows above its front can still take, by
:mod:`strapwright.nesting.strap_search.guide`. Of all that have come about as far, the best few are kept, of
those that hold the same straps, or straps of the same makes and about the same lengths, only one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from strapwright.nesting.compiled import compiled
from strapwright.nesting.strap_search.guide import Guide, fill
from strapwright.nesting.strap_search.instance import Rows
from strapwright.nesting.strap_search.rows import SLACK as _SLACK, CompiledInstance, first_roomy, stretches

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.core.arrays import Flags, Floats, Ints
    from strapwright.nesting.strap_search.instance import Instance

_SPREAD = 0.03
"""Share by which what a strap counts for is more or less from one beam to another."""

_AT_ONCE = 1000
"""Unfinished layouts gone through without a look at the clock."""

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
    sizes = np.zeros(levels, np.int64)
    sizes[0] = 1
    reals, wholes = np.zeros((4, levels, width)), np.full((6, levels, width), -1)
    return Nodes._make((sizes, np.full(levels, -np.inf), *reals[:3], *wholes, reals[3]))


@compiled
def expand(
    begin: int,
    end: int,
    nodes: Nodes,
    forms: Ints,
    like: Flags,
    value: Floats,
    gain: Floats,
    key: Ints,
    table: CompiledInstance,
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
        key: random numbers of the straps, the same for those that count as the same.
        table: the straps and the ground in numbers.
        guide: filled.
        best: filled with the place in ``nodes`` of the best layout, (1,), if it is better yet.
        best_value: its value so far.
    """
    make, length = table.make, table.length
    per_cell, kind, one, two = guide.rows, guide.kind, guide.one, guide.two
    levels, width = nodes.score.shape
    n, promised, tall = len(forms), one[0], table.tall[make]
    _, total, runs = table.low.shape
    strap, lying, rows, sides = (
        np.empty(n + 1, np.int64),
        np.empty(n + 1, np.int64),
        np.empty(n + 1, np.int64),
        np.empty(n + 1, np.int64),
    )
    kinds, xs, used = np.empty(n + 1, np.int64), np.empty(n + 1), np.zeros(n, np.bool_)
    row_of, x_of = np.empty((2, n), np.int64), np.empty((2, 2, n))
    left, right = np.empty(runs + n), np.empty(runs + n)
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
            row_of[:] = total
            for turn in range(2):
                before, row, widest = np.int64(-1), front, -np.inf
                found: Any = np.int64(0)
                for s in range(n):
                    form = forms[s, turn]
                    if used[s] or (like[s] and not used[s - 1]) or (turn and form == forms[s, 0]):
                        continue
                    own, size = make[form], length[form] - _SLACK
                    if own != before:
                        before, row, widest = own, front, -np.inf
                    while size > widest and row < total:
                        if widest > -np.inf:
                            further = row + _STRIDE
                            for j in range(first, count):
                                clear = rows[j] + tall[lying[j]]
                                if row < clear < further:
                                    further = clear
                            row = min(further, total)
                        row = first_roomy(form, row, table, lying, rows, xs, first, count)
                        if row < total:
                            found = stretches(own, row, table, lying, rows, xs, first, count, left, right)
                            widest = 0.0
                            for k in range(found):
                                widest = max(widest, right[k] - left[k])
                    row_of[turn, s] = row
                    if row < total:
                        x_of[turn, 0, s], x_of[turn, 1, s] = np.inf, -np.inf
                        for k in range(found):
                            if right[k] - left[k] >= size:
                                x_of[turn, 0, s] = min(x_of[turn, 0, s], left[k])
                                x_of[turn, 1, s] = max(x_of[turn, 1, s], right[k] - length[form])
            for s in range(n):
                turn = 0 if row_of[0, s] <= row_of[1, s] else 1
                form, row = forms[s, turn], row_of[turn, s]
                if row >= total:
                    continue
                active = first
                while active < count and rows[active] + tall[lying[active]] <= row:
                    active += 1
                # The lanes above this strap: what reaches highest, and from which row the other is free.
                free, highest, lane = row, np.int64(0), np.int64(0)
                for j in range(active, count):
                    top = rows[j] + tall[lying[j]]
                    if top > highest:
                        free = max(free, highest)
                        highest, lane = top, 2 * kinds[j] + sides[j]
                    else:
                        free = max(free, top)
                above = row + tall[form] > highest
                if above:
                    free, highest, lane = max(free, highest), row + tall[form], 2 * kind[s]
                else:
                    free = max(free, row + tall[form])
                cell = (free + per_cell - 1) // per_cell
                taken = min((highest + per_cell - 1) // per_cell - cell, two.shape[1] - 1)
                for side in range(2):
                    x = x_of[turn, side, s]
                    if cell >= len(one):
                        promise = 0.0
                    elif taken <= 0:
                        promise = one[cell]
                    else:
                        promise = two[cell, taken, lane + side if above else lane]
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
                        nodes.least[to] = nodes.score[to, np.argmin(nodes.score[to])]
    return best_value


def beam(
    shelves: Instance, guide: Guide, numbers: np.random.Generator, width: int, about: float = 0.0
) -> Iterator[Rows | None]:
    """Yield None while a beam goes on, and at its end the best layout it found.

    Args:
        shelves: the straps and the ground.
        guide: of both; its tables are filled.
        numbers: of the random choices.
        width: layouts kept of each level.
        about: straps whose lengths agree within so much count as the same where layouts are compared, mm:
            layouts that differ in little else would crowd out all others. 0 for none but like straps.
    """
    table, turns = shelves.numbers, shelves.turns
    length, make = table.length[turns], table.make[turns]
    order = np.lexsort((shelves.value, length[:, 1], length[:, 0], make[:, 1], make[:, 0]))
    forms, value, kind = turns[order], shelves.value[order], guide.kind[order]
    like = np.zeros(len(forms), np.bool_)
    like[1:] = (forms[1:] == forms[:-1]).all(axis=1) & (value[1:] == value[:-1])
    each = np.cumsum(~like) - 1
    gain = value * numbers.uniform(1 - _SPREAD / 2, 1 + _SPREAD / 2, len(forms))[each]
    same = each
    if about:
        rough = np.column_stack([make[order, 0], length[order, 0] // about])
        same = np.unique(rough, axis=0, return_inverse=True)[1].reshape(-1)
    key = numbers.integers(1, 2**62, len(forms))[same]
    # As dense as a strap is: cells are cut off a strap's top where it is not a multiple of them high.
    dense = np.zeros(len(guide.tall))
    np.maximum.at(dense, kind, gain * guide.tall[kind] * guide.rows / table.tall[make[order, 0]])
    fill(dense, guide.starts, guide.tall, guide.beside, guide.one, guide.two)
    levels = guide.starts.shape[1]
    nodes, best, most = nodes_of(levels, width), np.zeros(1, np.int64), -1.0
    guide, begin = guide._replace(kind=kind), 0
    while begin < levels:
        end = begin + max(1, _AT_ONCE // width)
        most = expand(begin, min(end, levels), nodes, forms, like, value, gain, key, table, guide, best, most)
        begin = end
        yield None
    at, chain = int(best[0]), []
    while nodes.parent[at // width, at % width] >= 0:
        chain.append(at)
        at = int(nodes.parent[at // width, at % width])
    own = np.divmod(np.array(chain[::-1], np.int64), width)
    yield Rows(order[nodes.strap[own]], nodes.form[own], nodes.row[own], nodes.x[own], nodes.side[own])
