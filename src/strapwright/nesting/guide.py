"""Make orders of straps with the bound as a guide, for the search to go on from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.beam import build
from strapwright.nesting.lanes import fill_lanes
from strapwright.nesting.proof import bounds, kinds_of, lines_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from strapwright.nesting.problem import Problem
    from strapwright.nesting.shelves import Shelves

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

ABOUT = 2.0
"""Height of the guide's cells, mm."""

_BUCKET = 16.0
"""Layouts whose last straps lie within so much height are compared, mm."""

_WIDTH, _SHAPES = 300, 30
"""Half-made layouts gone on with in each such height; fewer where there are more shapes than this."""

_NOISE = 0.03
"""How much of a strap's mean value a layout may be misjudged by, so that no two tries are alike."""

_FEES = 200
"""Bounds made to find the fees."""

_TRIES = 3
"""Orders made where the search goes by steps."""


@dataclass(frozen=True, eq=False)
class Guide:
    """What straps may still be worth from a height up.

    Args:
        members: places in the search's order of straps of each shape.
        fee: of each shape.
        kind: of each shape, as in :func:`strapwright.nesting.lanes.fill_lanes`.
        cell_of: the cell of each row, (rows + 1,).
        one: most value from a cell up, less fees: the same.
        two: likewise, with a strap beside.
    """

    members: tuple[tuple[int, ...], ...]
    fee: Floats
    kind: Ints
    cell_of: Ints
    one: Floats
    two: Floats


def guide_of(
    problem: Problem, shelves: Shelves, known: Callable[[], float], going: Callable[[int], bool]
) -> Guide | None:
    """Return the guide, or None where the proof cannot look at such straps.

    Args:
        problem: the problem; of its straps all are on the shelves.
        shelves: its straps and the ground.
        known: returns the worth of the best layout found so far.
        going: is given how many bounds were found, and answers whether to go on.
    """
    lines = lines_of(problem, shelves.ground, ABOUT)
    if set(lines.pieces) != set(shelves.pieces):
        return None
    best, fee = np.inf, None
    for worth, own in bounds(lines, known, going):
        if worth < best:
            best, fee = worth, own
    if fee is None:
        return None
    kinds = kinds_of(lines)
    cells, most = kinds.begins.shape[1], int(kinds.covers.max())
    one = np.zeros(cells + most + 1)
    two = np.zeros((cells + most + 1, most + 1, max(1, len(kinds.beside))))
    used = np.zeros(len(fee), np.int64)
    fill_lanes(kinds.value - fee, kinds.covers, kinds.kind, kinds.begins, kinds.beside, one, two, used)
    shapes = sorted(set(lines.shape))
    members = tuple(
        tuple(n for n, piece in enumerate(shelves.pieces) if problem.pieces[piece].shape == shape)
        for shape in shapes
    )
    heights = shelves.table.y0 + shelves.table.step * np.arange(shelves.rows + 1)
    cell_of = np.clip(np.floor((heights - lines.y0) / lines.step), 0, cells).astype(np.int64)
    return Guide(members, fee, kinds.kind, cell_of, one, two)


def guided_order(
    problem: Problem, shelves: Shelves, known: float, seed: int, going: Callable[[], bool] | None
) -> Ints | None:
    """Return the best of a few orders made with the guide, its turns and its sides, (3, straps); or None.

    Args:
        problem: the problem.
        shelves: its straps and the ground.
        known: worth of a layout, to aim the fees.
        seed: of the random choices.
        going: answers whether there is time for more; None for a set number of orders.
    """
    more: Callable[[], bool] = (lambda: True) if going is None else going
    guide = guide_of(problem, shelves, lambda: known, lambda count: count < _FEES and more())
    if guide is None:
        return None
    numbers = np.random.default_rng([seed, _WIDTH])
    best, most, tries = None, -np.inf, 0
    while not tries or (tries < _TRIES if going is None else going()):
        order, worth = _guided(shelves, guide, numbers)
        tries += 1
        if worth > most:
            best, most = order, worth
    return best


def _guided(shelves: Shelves, guide: Guide, numbers: np.random.Generator) -> tuple[Ints, float]:
    """Return an order of straps with its turns and sides, (3, straps), and what it is worth."""
    count = len(guide.members)
    first = [members[0] for members in guide.members]
    mean = float(shelves.value.mean())
    n = len(shelves.pieces)
    path = np.zeros((3, n), np.int64)
    laid = build(
        max(2, _WIDTH * _SHAPES // max(_SHAPES, count)),
        max(1, round(_BUCKET / shelves.table.step)),
        np.array([len(members) for members in guide.members], np.int64),
        shelves.value[first],
        guide.fee,
        guide.kind,
        guide.cell_of,
        guide.one,
        guide.two,
        numbers.integers(1, 2**40, count),
        numbers.uniform(0, _NOISE * mean, (count, 2, 2)),
        shelves.turns[first],
        shelves.numbers,
        path,
    )
    out = np.zeros((3, n), np.int64)
    left = [list(members) for members in guide.members]
    for at in range(laid):
        out[0, at] = left[path[0, at]].pop(0)
    out[0, laid:] = sorted((s for rest in left for s in rest), key=lambda s: -shelves.value[s])
    for at in range(laid):
        out[1, out[0, at]], out[2, out[0, at]] = path[1, at], path[2, at]
    return out, float(shelves.value[out[0, :laid]].sum())
