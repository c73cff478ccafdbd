"""Upper bound on the value of straps by relaxing them to bars in two lanes.

Heights are cut into cells, open below and closed above. A strap whose underside lies in a cell covers, drawn
upwards by the gap, so many cells for certain. It may only begin in cells where a core of it, the part it
covers wherever in the cell it lies, finds room on the empty ground; and beside another only where both,
pushed apart as far as their cores can be, are the gap apart at some heights in their cells.

Every layout obeys these rules, so the best value under them is one that no layout can pass. Straps with
hollow sides, which the search takes for their hulls, and straps that may lie three abreast are not looked at.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.tolerances import CLEARANCE, NESTING_CHORD
from strapwright.nesting.bound.lagrangian_bound import StrapKinds, ends_of, lagrangian_bounds, lanes_of
from strapwright.nesting.strap_search.free_runs import Edges, best_step, clearances, distances
from strapwright.nesting.strap_search.strap_shape import Make, Sides, forms_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from strapwright.core.arrays import Floats
    from strapwright.nesting.cancellation import Halt
    from strapwright.nesting.problem import Piece, PiecePlacement, Problem


_MOVED = 0.99
"""Shapely moves an edge by up to a hundredth less than asked, and a bound must not ask too much."""

_ROUND = 0.0013
"""Share by which the gap drawn round straps is more than asked, at corners, at most."""

_HOLLOW = 1e-6
"""A strap whose hull is larger by no more than this share of itself is not hollow."""

CELLS = ((2.0, 200), (1.0, 100), (0.5, 60), (0.25, 60))
"""Heights of the cells, mm, and how many bounds are found in them at most, from the prices of the last on."""

LARGEST = 32_000_000
"""Places in the largest table of a proof: cells are made no finer than that allows."""

_GROWS = 4
"""So many times larger is the table of cells half as high."""

_RUNS = 8
"""Free runs of a line that are looked at."""

_SPARSE = 32
"""Of so many cells one is looked at first where it only matters whether any two straps fit side by side."""


@dataclass(frozen=True, eq=False)
class LaneRelaxation:
    """One ground's straps relaxed to bars in two lanes.

    Args:
        y0: lower end of the first cell, mm.
        step: height of a cell, mm.
        height: of each kind of strap, in its lowest turn, mm.
        alike: shape and value of each kind of strap.
        kinds: the straps gathered; None where nothing can be proven of them.
    """

    y0: float
    step: float
    height: Floats
    alike: tuple[tuple[int, float], ...]
    kinds: StrapKinds | None

    @property
    def single(self) -> bool:
        """Whether straps never lie side by side."""
        return self.kinds is not None and not len(self.kinds.lanes.tall)


def relax_to_lanes(
    problem: Problem, ground: int, about: float, halt: Halt | None = None, *, single: bool = False
) -> LaneRelaxation:
    """Return one ground's straps relaxed to bars in two lanes.

    Args:
        problem: the problem.
        ground: number of the ground.
        about: height of a cell, within a fifth, mm.
        halt: once it is given, nothing can be proven.
        single: prove nothing either where two straps may lie side by side.
    """
    gap = max(problem.nearest - CLEARANCE, 0.0)
    margin = max(problem.margin * _MOVED - CLEARANCE - NESTING_CHORD, 0.0)
    straps = [piece for piece in problem.pieces_for(ground) if piece.strap]
    makes, forms, by_shape = forms_of(straps, gap)
    step = _fitting_step([make.height + gap for make in makes], about)
    boundary = problem.grounds[ground].boundary
    y0 = float(np.min(boundary[:, 1])) - step
    cells = math.ceil((float(np.max(boundary[:, 1])) - y0) / step) + 1
    edges = Edges(problem.grounds[ground], margin, gap, (), mended=False)
    # Straps alike in shape and worth are gathered.
    alike = Counter((strap.shape, strap.value) for strap in straps)
    own = [(form, shape) for shape, (number, _) in enumerate(alike) for form in by_shape[number]]
    heights = [[makes[forms[form].make].height for form in by_shape[number]] for number, _ in alike]
    slack = 2 * (CLEARANCE + NESTING_CHORD) + _ROUND * gap
    cores = [_core(make, step) for make in makes]
    shortest = [min(form.length for form in forms if form.make == number) for number in range(len(makes))]
    if single:
        some = _free_runs(edges, cores, shortest, y0, step * _SPARSE, cells // _SPARSE)
        if _two_fit(makes, shortest, *some, slack):
            return LaneRelaxation(y0, step, np.array([min(own) for own in heights]), tuple(alike), None)
    low, high = _free_runs(edges, cores, shortest, y0, step, cells)
    width = max(0.0, float(high.max(initial=-np.inf) - low.min(initial=np.inf)))
    if 2 * min(form.length for form in forms) - _tips(makes) - slack > width:
        apart, middle = np.zeros((len(makes), len(makes), 1)), 0  # no two lie side by side
    else:
        apart, middle = distances(makes, gap, step)
        apart = _nearest(apart)
    ends = ends_of(
        [shape for _, shape in own],
        np.array([forms[form].make for form, _ in own], np.int64),
        np.array([forms[form].length for form, _ in own]),
        low,
        high,
        apart,
        middle,
        2 * CLEARANCE,
    )
    covered = [min(math.floor((height + gap) / step + 1e-9) for height in own) for own in heights]
    lanes = None
    if not any(_is_hollow(strap) for strap in straps):
        halted = None if halt is None else halt.given
        lanes = lanes_of(ends, np.array(covered, np.int64), slack, halted, single=single)
    value, count = np.array([worth for _, worth in alike]), np.array(list(alike.values()), np.int64)
    kinds = None if lanes is None else StrapKinds(value, count, lanes)
    return LaneRelaxation(y0, step, np.array([min(own) for own in heights]), tuple(alike), kinds)


def _free_runs(
    edges: Edges, cores: Sequence[Make], shortest: Sequence[float], y0: float, step: float, rows: int
) -> tuple[Floats, Floats]:
    """Return left and right ends of the free runs of every row, (makes, rows, runs) mm."""
    low, high = np.full((len(cores), rows, _RUNS), np.inf), np.full((len(cores), rows, _RUNS), -np.inf)
    for number, (core, length) in enumerate(zip(cores, shortest, strict=True)):
        edges.scan(core, length - 2 * CLEARANCE, y0, step, low[number], high[number])
    return low, high


def _two_fit(
    makes: Sequence[Make], shortest: Sequence[float], low: Floats, high: Floats, slack: float
) -> bool:
    """Whether the shortest straps of two makes, or two of one, go into a row side by side at one height.

    They are as far apart there as at that height alone, so what fits here fits in cells, which ask for less.
    """
    each = range(len(makes))
    ends = ends_of(each, np.arange(len(makes)), np.array(shortest), low, high, np.empty(0), 0, 2 * CLEARANCE)
    for a, b in itertools.product(each, each):
        apart = np.full(1, -np.inf)
        left, right = makes[a].grown, makes[b].whole
        clearances(left.y, left.right, right.y, right.left, 1.0, 0, apart)
        if np.isfinite(apart[0]) and (ends.left[a] + apart[0] <= ends.right[b] + slack).any():
            return True
    return False


def lie_side_by_side(problem: Problem, found: Iterable[PiecePlacement], about: float) -> bool:
    """Whether straps of a layout lie side by side, so that no relaxation to cells of a height is `single`.

    Args:
        problem: the problem.
        found: where pieces lie.
        about: height of a cell, within a fifth, mm: beside each other for less than a few tells nothing.
    """
    pieces = problem.pieces
    straps = [
        placed.apply(pieces[placed.piece].outline)[:, 1] for placed in found if pieces[placed.piece].strap
    ]
    reach = -math.inf
    for low, high in sorted((float(y.min()), float(y.max())) for y in straps):
        if low < reach - 4 * about:
            return True
        reach = max(reach, high)
    return False


def value_bounds(
    problem: Problem,
    ground: int,
    known: Callable[[], float],
    going: Callable[[int], bool],
    finest: float = 0.0,
    halt: Halt | None = None,
) -> Iterator[float]:
    """Yield ever lower upper bounds on the value of a ground's straps, in ever finer cells.

    Args:
        problem: the problem.
        ground: number of the ground.
        known: returns the worth of the best layout found so far, to aim the prices.
        going: is given how many bounds were found with cells of one height, and answers whether to go on.
        finest: cells are made no finer than this, mm.
        halt: ends it as soon as it is given.
    """
    lowest, price = math.inf, None
    for about, most in CELLS:
        if about < finest or not going(0):
            return
        kinds = relax_to_lanes(problem, ground, about, halt).kinds
        if kinds is None:
            return
        least = math.inf
        for worth, own in lagrangian_bounds(kinds, known, lambda count: count < most and going(count), price):  # noqa: B023
            if worth < least:
                least, price = worth, own
            if worth < lowest:
                lowest = worth
                yield lowest
        if kinds.lanes.beside.size * _GROWS > LARGEST:
            return


def _is_hollow(strap: Piece) -> bool:
    import shapely

    shape = shapely.Polygon(strap.outline)
    return bool(shape.convex_hull.area - shape.area > _HOLLOW * shape.area)


def _tips(makes: Sequence[Make]) -> float:
    """Return how far the ends of two straps may reach past one another at most, mm."""
    return max(float(np.max(m.whole.left)) for m in makes) - min(float(np.min(m.whole.right)) for m in makes)


def _nearest(apart: Floats) -> Floats:
    """Return how far apart straps stay at least, whatever their heights within their cells.

    Up to one cell more or less may be between them; both sides bulge, so the least is at either end.
    """
    padded = np.pad(apart, ((0, 0), (0, 0), (1, 1)), constant_values=-np.inf)
    return np.minimum(padded[:, :, :-2], padded[:, :, 2:])


def _fitting_step(pitches: Sequence[float], about: float) -> float:
    """Return a step of which every pitch is a whole number of times or a little more, mm."""
    step = best_step(pitches, 0.0, about)
    return min([step, *(pitch / math.floor(pitch / step + 1e-3) for pitch in pitches if pitch > step)])


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
