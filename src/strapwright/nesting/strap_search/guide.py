"""How much value rows can still take: two lanes filled from the top down by dynamic programming; compiled.

On most lines of a hide at most two straps lie side by side, one pushed to the left and one to the right.
Where only that is kept of a layout, and every strap may be used again and again, the most value that the rows
from one on can take is found exactly, whatever strap still lies in one of the lanes. It is an estimate, not a
bound: :mod:`strapwright.nesting.strap_search.beam` sorts unfinished layouts by it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from strapwright.nesting.compiled import compiled

if TYPE_CHECKING:
    from strapwright.core.arrays import Flags, Floats, Ints, LongWords, Words
    from strapwright.nesting.strap_search.instance import Instance

_CELL = 2.0
"""Height of a cell, mm: finer ones take longer and guide no better."""

_KINDS = 64
"""Most kinds of straps kept apart: the bits of a word."""

_FIRST_BUCKET = 1.0
"""Where there are more, lengths within so much are taken for one, or within twice as much, and so on, mm."""


class Guide(NamedTuple):
    """Straps and a ground as two lanes of cells.

    Args:
        rows: of the search in one cell.
        starts: whether a strap of each kind finds room in a cell, (kinds, cells).
        tall: cells a kind covers.
        kind: of each strap.
        beside: kinds, as bits, that may begin in a cell in the other lane while so many cells are left of a
            strap of kind k in the left (2k) or right (2k + 1) lane, (cells, most covered + 1, 2 · kinds).
        one: most value from a cell up with both lanes free, (cells + most covered + 1,).
        two: likewise with one taken, (cells + most covered + 1, most covered + 1, 2 · kinds).
    """

    rows: int
    starts: Flags
    tall: Ints
    kind: Ints
    beside: LongWords
    one: Floats
    two: Floats


def guide_of(shelves: Instance) -> Guide | None:
    """Return the two lanes of straps and a ground, not filled yet; None where three abreast, or no rows."""
    table = shelves.numbers
    widest = float(np.max(table.high - table.low, initial=0.0))
    if (
        not len(shelves.pieces)
        or not shelves.rows
        or 3 * float(np.median(table.length[shelves.turns])) <= widest
    ):
        return None
    rows = max(1, round(_CELL / shelves.table.step))
    cells = -(-shelves.rows // rows)
    pairs, own = np.unique(shelves.turns, axis=0, return_inverse=True)
    length = table.length[pairs].min(axis=1)
    covers = np.maximum(1, table.tall[table.make[pairs[:, 0]]] // rows)
    kind_of_pair, tall = _kinds(length, covers)
    left, right = (np.empty((len(pairs), cells)) for _ in range(2))
    for number, forms in enumerate(pairs):
        ends = [_ends(shelves, int(form), rows, cells) for form in forms]
        left[number] = np.minimum(ends[0][0], ends[1][0])
        right[number] = np.maximum(ends[0][1], ends[1][1])
    starts = np.zeros((len(tall), cells), np.bool_)
    for number, kind in enumerate(kind_of_pair):
        starts[kind] |= np.isfinite(left[number])
    makes, make = np.unique(table.make[pairs], axis=0, return_inverse=True)
    first = table.middle % rows
    apart = table.apart[:, :, first::rows]
    apart = apart[makes[:, None, :, None], makes[None, :, None, :]].min(axis=(2, 3))
    most = int(np.max(tall, initial=0))
    beside = np.zeros((cells, most + 1, 2 * len(tall)), np.uint64)
    middle, never = (table.middle - first) // rows, np.zeros(1, np.bool_)
    mark_beside(kind_of_pair, make.reshape(-1), left, right, tall, apart, middle, 0.0, beside, never, False)
    one, two = np.zeros(cells + most + 1), np.zeros((cells + most + 1, most + 1, 2 * len(tall)))
    return Guide(rows, starts, tall, kind_of_pair[own.reshape(-1)], beside, one, two)


def guide_within(guide: Guide, shelves: Instance, straps: Ints, first: int) -> Guide:
    """Return the guide of some straps on a part of the ground that begins with a cell of the whole.

    Which may lie beside which is taken from the whole ground.

    Args:
        guide: of all straps and the whole ground.
        shelves: the straps and the part.
        straps: their numbers in the whole.
        first: the part's first cell.
    """
    kind, following = guide.kind[straps], shelves.numbers.following
    begin = np.arange(0, following.shape[1] - 1, guide.rows)
    fits = following[:, begin] < np.minimum(begin + guide.rows, following.shape[1] - 1)
    starts = np.zeros((len(guide.tall), len(begin)), np.bool_)
    np.logical_or.at(starts, kind, fits[shelves.turns].any(axis=1))
    beside = guide.beside[first : first + len(begin)]
    one = np.zeros(len(begin) + beside.shape[1])
    return guide._replace(
        starts=starts, kind=kind, beside=beside, one=one, two=np.zeros((len(one), *beside.shape[1:]))
    )


def _ends(shelves: Instance, form: int, rows: int, cells: int) -> tuple[Floats, Floats]:
    """Return a form's right end in each cell when pushed to the left, and its left end when to the right."""
    table = shelves.numbers
    low, high, size = table.low[table.make[form]], table.high[table.make[form]], table.length[form]
    fits = high - low >= size - 1e-6
    left, right = np.full(cells * rows, np.inf), np.full(cells * rows, -np.inf)
    left[: len(low)] = np.where(fits, low + size, np.inf).min(axis=1)
    right[: len(low)] = np.where(fits, high - size, -np.inf).max(axis=1)
    return left.reshape(cells, rows).min(axis=1), right.reshape(cells, rows).max(axis=1)


def _kinds(length: Floats, covers: Ints) -> tuple[Ints, Ints]:
    """Return the kind of each strap, and the cells each kind covers."""
    bucket = _FIRST_BUCKET
    while True:
        keys = sorted({(int(c), int(n)) for c, n in zip(covers, length // bucket, strict=True)})
        if len(keys) <= _KINDS or len({c for c, _ in keys}) == len(keys):
            break
        bucket *= 2
    keys = keys[:_KINDS]
    number = {key: n for n, key in enumerate(keys)}
    kinds = [number.get((int(c), int(n)), 0) for c, n in zip(covers, length // bucket, strict=True)]
    return np.array(kinds, np.int64), np.array([c for c, _ in keys], np.int64)


@compiled
def mark_beside(
    kind: Ints,
    make: Ints,
    left: Floats,
    right: Floats,
    tall: Ints,
    apart: Floats,
    middle: int,
    slack: float,
    beside: Words | LongWords,
    halted: Flags,
    first: bool,
) -> bool:
    """Fill the table of which kinds of strap may begin beside which, in the other of two lanes.

    Args:
        kind: of each form.
        make: of each form.
        left: right end of a form pushed to the left, infinite where it finds no room, (forms, rows) mm.
        right: left end of a form pushed to the right, mm.
        tall: rows that each kind covers.
        apart: see :func:`strapwright.nesting.strap_search.free_runs.distances`.
        middle: likewise.
        slack: two forms this much too near still lie side by side, mm.
        beside: filled, (rows, most covered + 1, 2 · kinds): as bits the kinds that may begin in a row while
            so many rows are left of a form of kind k in the left (2k) or right (2k + 1) lane.
        halted: once it holds, (1,), what was begun is left.
        first: end with the first such pair.

    Returns:
        Whether it ended with the first pair.
    """
    forms, rows = left.shape
    for a in range(forms):
        for b in range(forms):
            if halted[0]:
                return False
            bit = np.uint64(1) << np.uint64(kind[b])
            furthest, nearest, after, before = -np.inf, np.inf, np.inf, np.inf
            for row in range(rows):
                furthest, nearest = max(furthest, right[b, row]), min(nearest, left[b, row])
            for rise in range(apart.shape[2]):
                if apart[make[a], make[b], rise] > -np.inf:
                    after = min(after, apart[make[a], make[b], rise])
                if apart[make[b], make[a], rise] > -np.inf:
                    before = min(before, apart[make[b], make[a], rise])
            for row in range(rows):
                if left[a, row] == np.inf:
                    continue
                if left[a, row] + after > furthest + slack and nearest + before > right[a, row] + slack:
                    continue
                for rise in range(min(tall[kind[a]], rows - row)):
                    if left[b, row + rise] == np.inf:
                        continue
                    rest = tall[kind[a]] - rise
                    if left[a, row] + apart[make[a], make[b], middle + rise] <= right[b, row + rise] + slack:
                        beside[row + rise, rest, 2 * kind[a]] |= bit
                        if first:
                            return True
                    if left[b, row + rise] + apart[make[b], make[a], middle - rise] <= right[a, row] + slack:
                        beside[row + rise, rest, 2 * kind[a] + 1] |= bit
                        if first:
                            return True
    return False


@compiled
def fill(gain: Floats, starts: Flags, tall: Ints, beside: LongWords, one: Floats, two: Floats) -> None:
    """Write the most value that the cells from each one up can take.

    Args:
        gain: what a strap of each kind counts for.
        starts: see `Guide`.
        tall: likewise.
        beside: likewise.
        one: filled, likewise.
        two: filled, likewise.
    """
    kinds, cells = starts.shape
    for cell in range(cells - 1, -1, -1):
        alone = one[cell + 1]
        here = np.uint64(0)
        for k in range(kinds):
            if starts[k, cell] and gain[k] > 0:
                here |= np.uint64(1) << np.uint64(k)
        for lane in range(2 * kinds):
            if gain[lane // 2] <= 0:
                continue
            for left in range(1, tall[lane // 2] + 1):
                best = two[cell + 1, left - 1, lane] if left > 1 else one[cell + 1]
                bits = beside[cell, left, lane] & here
                k = 0
                while bits:
                    if bits & np.uint64(1):
                        if tall[k] < left:
                            worth = gain[k] + two[cell + tall[k], left - tall[k], lane]
                        elif tall[k] == left:
                            worth = gain[k] + one[cell + left]
                        else:
                            worth = gain[k] + two[cell + left, tall[k] - left, 2 * k + 1 - lane % 2]
                        best = max(best, worth)
                    bits >>= np.uint64(1)
                    k += 1
                two[cell, left, lane] = best
        for k in range(kinds):
            if starts[k, cell] and gain[k] > 0:
                alone = max(alone, gain[k] + max(two[cell, tall[k], 2 * k], two[cell, tall[k], 2 * k + 1]))
        one[cell] = alone
