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
from strapwright.nesting.rowtable import Edges, best_step
from strapwright.tolerances import CLEARANCE, NESTING_CHORD

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from strapwright.nesting.problem import Problem

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

_MOVED = 0.99
"""Shapely moves an edge by up to a hundredth less than asked, and a bound must not ask too much."""


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


def lines_of(problem: Problem, ground: int) -> Lines:
    """Return the easier problem of one ground's straps."""
    gap = max(problem.gap - CLEARANCE, 0.0)
    margin = max(problem.margin * _MOVED - CLEARANCE - NESTING_CHORD, 0.0)
    pieces = tuple(
        n
        for n, piece in enumerate(problem.pieces)
        if piece.strap and (piece.grounds is None or ground in piece.grounds)
    )
    straps = [problem.pieces[n] for n in pieces]
    makes, forms, by_shape = forms_of(straps, gap)
    step = _fitting_step([make.height + gap for make in makes])
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


def _fitting_step(pitches: Sequence[float]) -> float:
    """Return a step of which every pitch is a whole number of times or a little more, mm."""
    step = best_step(pitches, 0.0)
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


def _weights(length: Floats, widest: float) -> list[Ints]:
    """Return weightings of straps that tell most about which may lie side by side.

    For a length s: straps too long to lie beside one of length s weigh 2, shorter ones down to s weigh 1,
    those shorter still nothing. And their lengths themselves.
    """
    found: dict[bytes, Ints] = {}
    for s in np.unique(np.append(length[length <= widest / 2], widest / 2 + 1e-6)):
        weight = np.where(length > widest - s, 2, np.where(length >= s, 1, 0)).astype(np.int64)
        if weight.any():
            found.setdefault(weight.tobytes(), weight)
    if 2 * float(length.min(initial=np.inf)) <= widest:
        whole = np.floor(length).astype(np.int64)
        found.setdefault(whole.tobytes(), whole)
    return list(found.values())


def _most(length: Floats, weight: Ints, longest: int) -> Ints:
    """Return the heaviest set of straps side by side in a run of so many mm, for every whole mm.

    Example:
        >>> _most(np.array([3.0, 5.0]), np.array([1, 2]), 8).tolist()
        [0, 0, 0, 1, 1, 2, 2, 2, 3]
    """
    out = np.zeros(longest + 1, np.int64)
    kinds = sorted({(max(1, math.floor(size)), int(w)) for size, w in zip(length, weight, strict=True) if w})
    for mm in range(1, longest + 1):
        most = out[mm - 1]
        for size, w in kinds:
            if size <= mm:
                most = max(most, out[mm - size] + w)
        out[mm] = most
    return out


@dataclass(frozen=True)
class Proof:
    """What is proven of one ground.

    Args:
        value: the straps on it are worth no more.
        height: where they all lie, they reach at least so high, mm; 0 where that was not asked.
    """

    value: float
    height: float = 0.0


def prove(lines: Lines, seconds: float, *, everything: bool = False, exact_time: bool = False) -> Proof:
    """Solve the easier problem as far as there is time; what is not solved is bounded.

    Args:
        lines: the easier problem.
        seconds: how long it may take.
        everything: look for the least height of a layout of all straps, instead of the most value.
        exact_time: count the solver's own work instead of time, so that the answer is always the same.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    total = len(lines.runs)
    starts, present, bars = [], [], []
    for n in range(len(lines.pieces)):
        cells = np.flatnonzero(lines.begins[n])
        if not len(cells):
            if everything:
                return Proof(float(lines.value.sum()))
            cells = np.zeros(1, np.int64)
        start = model.new_int_var_from_domain(cp_model.Domain.from_values(cells.tolist()), f"s{n}")
        here = model.new_bool_var(f"p{n}")
        if everything:
            model.add(here == 1)
        elif not lines.begins[n].any():
            model.add(here == 0)
        size = int(lines.covers[n])
        bars.append(model.new_optional_interval_var(start, size, start + size, here, f"b{n}"))
        starts.append(start)
        present.append(here)
    widest = max((run for runs in lines.runs for run in runs), default=0.0)
    for weight in _weights(lines.length, widest):
        most = _most(lines.length, weight, math.ceil(widest) + 1)
        room = np.array([sum(int(most[math.ceil(run)]) for run in runs) for runs in lines.runs])
        _side_by_side(model, bars, weight, room, total)
    last: dict[int, int] = {}
    for n, shape in enumerate(lines.shape):
        if shape in last:
            model.add_implication(present[n], present[last[shape]])
            model.add(starts[last[shape]] <= starts[n]).only_enforce_if(present[n])
        last[shape] = n
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1 if exact_time else 2
    solver.parameters.random_seed = 0
    if exact_time:
        solver.parameters.max_deterministic_time = seconds
    else:
        solver.parameters.max_time_in_seconds = seconds
    if everything:
        scale = 1000
        top = model.new_int_var(0, math.ceil((total * lines.step + 200) * scale), "top")
        for n, start in enumerate(starts):
            model.add(
                top >= start * math.floor(lines.step * scale) + math.floor(float(lines.height[n]) * scale)
            )
        model.minimize(top)
        status = solver.solve(model)
        if status in (cp_model.INFEASIBLE, cp_model.MODEL_INVALID):
            return Proof(float(lines.value.sum()))
        return Proof(float(lines.value.sum()), lines.y0 + solver.best_objective_bound / scale)
    worth = np.ceil(lines.value).astype(np.int64)
    model.maximize(sum(int(w) * here for w, here in zip(worth, present, strict=True)))
    solver.solve(model)
    return Proof(min(float(lines.value.sum()), solver.best_objective_bound))


def _side_by_side(model: Any, bars: Sequence[Any], weight: Ints, room: Ints, total: int) -> None:
    """Add to a model that on no line straps weigh more than the leather it meets holds."""
    most = int(room.max(initial=0))
    used = [n for n in range(len(bars)) if weight[n] > 0]
    # A strap in a cell covers the lines above it: the bar of a line is one cell long and begins below it.
    edges = np.flatnonzero(np.diff(room)) + 1
    fixed, demands = [], []
    for first, last in zip([0, *edges.tolist()], [*edges.tolist(), total], strict=True):
        if room[first] < most:
            fixed.append(model.new_fixed_size_interval_var(first - 1, last - first, f"r{first}"))
            demands.append(most - int(room[first]))
    model.add_cumulative([bars[n] for n in used] + fixed, [int(weight[n]) for n in used] + demands, most)
