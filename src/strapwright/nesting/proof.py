"""What no layout can pass, proven by solving an easier problem: straps as bars, one row after another.

The easier problem forgets most of the geometry and keeps what decides. Heights are cut into cells, open
below and closed above. A strap whose underside lies in a cell covers, drawn upwards by the gap, so many
lines between cells for certain. On each line the drawn straps lie side by side on the leather that is
met there or up to the gap below, so for any weight given to straps their weights add up to no more than
the heaviest set that fits that leather's runs. Each strap may only begin in cells where a core of it, the
part it covers wherever in the cell it lies, finds room on the empty ground.

Every layout obeys these rules, so the best value under them is one that no layout can pass.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from strapwright.nesting.forms import Make, Sides, forms_of
from strapwright.nesting.lanes import fill_lanes
from strapwright.nesting.rowtable import Edges, best_step
from strapwright.tolerances import CLEARANCE, NESTING_CHORD

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    from strapwright.nesting.problem import Problem

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

_MOVED = 0.99
"""Shapely moves an edge by up to a hundredth less than asked, and a bound must not ask too much."""

LANES = 2
"""More straps side by side than this are not looked at."""

_PATIENCE = 12
"""Fees are moved half as far after so many bounds in a row that were no lower."""

_FINEST = 1e-3
"""Fees moved by less than this share change nothing worth the time."""


@dataclass(frozen=True, eq=False)
class Lines:
    """The easier problem of one ground.

    Args:
        pieces: numbers of the straps.
        y0: lower end of the first cell, mm.
        step: height of a cell, mm.
        begins: the cells each strap may begin in, (straps, cells).
        covers: the lines each strap covers for certain.
        length: what it covers of each of them at least, mm.
        height: of each strap, in its lowest turn, mm.
        runs: lengths of the runs of leather met by each line, mm.
        value: of each strap.
        shape: straps of one number are alike.
    """

    pieces: tuple[int, ...]
    y0: float
    step: float
    begins: NDArray[np.bool_]
    covers: Ints
    length: Floats
    height: Floats
    runs: tuple[tuple[float, ...], ...]
    value: Floats
    shape: tuple[int, ...]


def lines_of(problem: Problem, ground: int, about: float) -> Lines:
    """Return the easier problem of one ground's straps.

    Args:
        problem: the problem.
        ground: number of the ground.
        about: height of a cell, within a fifth, mm.
    """
    gap = max(problem.nearest - CLEARANCE, 0.0)
    margin = max(problem.margin * _MOVED - CLEARANCE - NESTING_CHORD, 0.0)
    pieces = tuple(
        n
        for n, piece in enumerate(problem.pieces)
        if piece.strap and (piece.grounds is None or ground in piece.grounds)
    )
    straps = [problem.pieces[n] for n in pieces]
    makes, forms, by_shape = forms_of(straps, gap)
    step = _fitting_step([make.height + gap for make in makes], about)
    boundary = problem.grounds[ground].boundary
    y0 = float(boundary[:, 1].min()) - step
    cells = math.ceil((float(boundary[:, 1].max()) - y0) / step) + 1
    edges = Edges(problem.grounds[ground], margin, gap, (), mended=False)
    free = np.zeros((len(forms), cells), np.bool_)
    for number, make in enumerate(makes):
        own = [n for n, form in enumerate(forms) if form.make == number]
        shortest = min(forms[n].length for n in own)
        low, high = np.full((cells, 8), np.inf), np.full((cells, 8), -np.inf)
        edges.scan(_core(make, step), shortest - 2 * CLEARANCE, y0, step, low, high)
        longest = (high - low).max(axis=1)
        for n in own:
            free[n] = longest >= forms[n].length - 2 * CLEARANCE
    chosen = [by_shape[piece.shape] for piece in straps]
    covers = [
        min(math.floor((makes[forms[n].make].height + gap) / step + 1e-9) for n in own) for own in chosen
    ]
    length = [min(_least_chord(makes[forms[n].make], forms[n].length) for n in own) for own in chosen]
    runs = _runs(edges.shape(straps[0].shuns if _alike(straps) else frozenset()), y0, step, cells, gap)
    return Lines(
        pieces,
        y0,
        step,
        np.array([free[own].any(axis=0) for own in chosen]),
        np.array(covers, np.int64),
        np.array(length),
        np.array([min(makes[forms[n].make].height for n in own) for own in chosen]),
        runs,
        np.array([piece.value for piece in straps]),
        tuple(piece.shape for piece in straps),
    )


def _fitting_step(pitches: Sequence[float], about: float) -> float:
    """Return a step of which every pitch is a whole number of times or a little more, mm."""
    step = best_step(pitches, 0.0, about)
    return min([step, *(pitch / math.floor(pitch / step + 1e-3) for pitch in pitches if pitch > step)])


def _alike(straps: Sequence[Any]) -> bool:
    return all(strap.shuns == straps[0].shuns for strap in straps)


def _core(make: Make, step: float) -> Make:
    """Return what a strap covers wherever in the cell above a height it begins, seen from that height."""
    return replace(make, whole=_sunk(make.whole, step), areas=tuple(_sunk(a, step) for a in make.areas))


def _sunk(side: Sides, step: float) -> Sides:
    """Return the sides of what an area covers both where it lies and ``step`` higher.

    Between heights the true sides bulge outwards, so that the straight ones cover less, never more.
    """
    low, high = float(side.y[0]) + step, float(side.y[-1])
    y = np.unique(np.clip(np.concatenate([side.y, side.y + step]), low, high))
    if len(y) < 2:
        y = np.array([low, low + 1e-3])
    left = np.maximum(np.interp(y, side.y, side.left), np.interp(y - step, side.y, side.left))
    right = np.minimum(np.interp(y, side.y, side.right), np.interp(y - step, side.y, side.right))
    return Sides(side.shuns, y, left, right)


def _least_chord(make: Make, length: float) -> float:
    """Return how long a strap is at each height at least, mm."""
    return float((length + make.whole.right - make.whole.left).min()) - 2 * NESTING_CHORD


def _runs(free: Any, y0: float, step: float, cells: int, gap: float) -> tuple[tuple[float, ...], ...]:
    """Return the lengths of the runs of leather that each line meets, or meets up to the gap below it."""
    import shapely

    x0, _, x1, _ = shapely.bounds(free) if not free.is_empty else (0.0, 0.0, 0.0, 0.0)
    heights = y0 + step * np.arange(cells + 1)
    windows = shapely.box(x0 - 1, heights - gap - 1e-3, x1 + 1, heights + 1e-3)
    out = []
    for piece in shapely.intersection(free, windows):
        found = shapely.get_parts(piece)
        found = found[~shapely.is_empty(found)]
        box = shapely.bounds(found)
        out.append(tuple(sorted((box[:, 2] - box[:, 0]).tolist(), reverse=True)) if len(found) else ())
    return tuple(out)


@dataclass(frozen=True, eq=False)
class Kinds:
    """Straps gathered by shape, as `fill_lanes` takes them."""

    value: Floats
    number: Ints
    covers: Ints
    kind: Ints
    begins: NDArray[np.bool_]
    beside: Ints


def most_value(lines: Lines, known: Callable[[], float], going: Callable[[int], bool]) -> Iterator[float]:
    """Yield ever lower values that straps on a ground cannot pass, by Lagrange's multipliers.

    Each strap may be used as often as one likes, but for a fee; the fees of all straps there are, are then
    given back. Whatever the fees, no layout is worth more than the best of that; they are moved towards
    those that use each strap once. Straps so short that three may lie side by side are not looked at.

    Args:
        lines: the easier problem.
        known: returns the worth of the best layout found so far, to aim the fees.
        going: is given how many bounds were found, and answers whether to go on.
    """
    lowest = math.inf
    for worth, _ in bounds(lines, known, going):
        lowest = min(lowest, worth)
        yield lowest


def bounds(
    lines: Lines, known: Callable[[], float], going: Callable[[int], bool]
) -> Iterator[tuple[float, Floats]]:
    """Yield bounds with the fees that gave them: see `most_value`."""
    if side_by_side(lines) > LANES:
        return
    kinds = kinds_of(lines)
    cells, most = kinds.begins.shape[1], int(kinds.covers.max())
    one = np.zeros(cells + most + 1)
    two = np.zeros((cells + most + 1, most + 1, max(1, len(kinds.beside))))
    fee, used = np.zeros(len(kinds.value)), np.zeros(len(kinds.value), np.int64)
    best, best_fee, scale, idle, count = math.inf, fee, 1.0, 0, 0
    while going(count):
        gain = kinds.value - fee
        worth = fill_lanes(gain, kinds.covers, kinds.kind, kinds.begins, kinds.beside, one, two, used)
        worth += float(fee @ kinds.number)
        count += 1
        if worth < best - 1e-6:
            best, best_fee, idle = worth, fee, 0
        else:
            idle += 1
            if idle >= _PATIENCE:
                scale, idle, fee = scale / 2, 0, best_fee
                if scale < _FINEST:
                    return
                continue
        yield worth, fee
        over = (used - kinds.number).astype(np.float64)
        over[(fee <= 0) & (over < 0)] = 0.0
        square = float(over @ over)
        if not square:
            return
        # Where no layout is known that is as good, the fees aim a little below the bound.
        aim = max(worth - known(), worth * 1e-4)
        fee = np.maximum(0.0, fee + scale * aim / square * over)


def kinds_of(lines: Lines) -> Kinds:
    """Return the straps gathered by shape."""
    shapes = sorted(set(lines.shape))
    first = [lines.shape.index(shape) for shape in shapes]
    # Only straps that may lie beside the shortest can lie beside any; lengths are told in 5 mm, less if any.
    shortest = float(lines.length.min())
    room = max((_room_for_two(runs, shortest) for runs in lines.runs), default=0.0)
    own = lines.length[first]
    told, pairs = np.floor(own / 5) * 5, own + shortest <= room
    lengths = sorted(set(told[pairs].tolist()))
    kind = np.array(
        [lengths.index(n) if paired else -1 for n, paired in zip(told.tolist(), pairs, strict=True)], np.int64
    )
    cells = lines.begins.shape[1]
    beside = np.zeros((len(lengths), len(lengths), cells), np.int64)
    longest = [max(runs, default=0.0) for runs in lines.runs]
    second = [runs[1] if len(runs) > 1 else 0.0 for runs in lines.runs]
    for a, first_length in enumerate(lengths):
        for b, other in enumerate(lengths):
            both = np.array(
                [
                    first_length + other <= one
                    or (max(first_length, other) <= one and min(first_length, other) <= two)
                    for one, two in zip(longest, second, strict=True)
                ]
            )
            lasting = 0
            for cell in range(cells - 1, -1, -1):
                # The line above a cell is the first that a strap beginning in it covers.
                lasting = lasting + 1 if cell + 1 < len(both) and both[cell + 1] else 0
                beside[a, b, cell] = lasting
    return Kinds(
        lines.value[first],
        np.array([lines.shape.count(shape) for shape in shapes], np.int64),
        lines.covers[first],
        kind,
        lines.begins[first],
        beside,
    )


def side_by_side(lines: Lines) -> int:
    """Return how many straps lie side by side on any line at most."""
    shortest = float(lines.length.min(initial=math.inf))
    return max((sum(math.floor(run / shortest) for run in runs) for runs in lines.runs), default=0)


def _room_for_two(runs: tuple[float, ...], shortest: float) -> float:
    """Return how long two straps on a line may be together, neither shorter than the shortest, mm."""
    return sum(run for run in runs[:2] if run >= shortest)
