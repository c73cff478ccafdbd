"""Bounds by constraint programming (CP-SAT), for grounds where straps never lie side by side."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from strapwright.nesting.bound.lagrangian_bound import lagrangian_bounds, lowest_bound
from strapwright.nesting.cancellation import Halt

if TYPE_CHECKING:
    from strapwright.core.arrays import Flags, Floats, Ints
    from strapwright.nesting.bound.lagrangian_bound import StrapKinds
    from strapwright.nesting.bound.relaxation import LaneRelaxation


_PRICE_ROUNDS = 400
"""Lagrangian bounds that are made to find the prices a proof begins with."""


class ValueProof(NamedTuple):
    """What constraint programming proved.

    Args:
        bound: a value no straps on the ground can pass; infinity where it gave up.
        order: kinds of strap from below, in a layout of the easier problem worth more than the best known;
            nothing where none was found.
    """

    bound: float
    order: tuple[int, ...] = ()


def prove_value(
    relaxed: LaneRelaxation, known: float, seconds: float, *, counted: bool = False, halt: Halt | None = None
) -> ValueProof:
    """Prove by constraint programming whether straps on a ground can be worth more than is known.

    For straps that can never lie side by side. First the prices show which straps cannot begin in which cells
    in any layout that is worth more than the best known.

    Args:
        relaxed: the straps as bars in lanes.
        known: worth of the best layout found.
        seconds: how long it may take.
        counted: count the solver's own work instead of time, so that the answer is always the same.
        halt: ends it as soon as it is given.
    """
    from ortools.sat.python import cp_model

    kinds = relaxed.kinds
    if kinds is None or not relaxed.single:
        return ValueProof(math.inf)
    halt = halt or Halt()
    worth, price = lowest_bound(
        lagrangian_bounds(
            kinds, lambda: known, lambda count: count < _PRICE_ROUNDS and not (count and halt.given[0])
        )
    )
    if worth <= known:
        return ValueProof(known)
    begins = kinds.lanes.begins & (_bounds_by_start(kinds, price) > known + 1e-6)
    model = cp_model.CpModel()
    gains: list[Any] = []
    could: list[tuple[Any, Any, int]] = []
    placed: list[list[list[Any]]] = [[[] for _ in range(number)] for number in kinds.number.tolist()]
    for low, high in _cell_runs(begins, kinds.lanes.covers):
        bars, sizes = [], []
        for k, cells in enumerate(begins):
            inside = np.flatnonzero(cells[low:high]) + low
            if not len(inside):
                continue
            domain, size = cp_model.Domain.from_values(inside.tolist()), int(kinds.lanes.covers[k])
            for copy in range(int(kinds.number[k])):
                start = model.new_int_var_from_domain(domain, "")
                here = model.new_bool_var("")
                bars.append(model.new_optional_fixed_size_interval_var(start, size, here, ""))
                sizes.append(size * here)
                gains.append(math.ceil(float(kinds.value[k])) * here)
                placed[k][copy].append(here)
                could.append((here, start, k))
        model.add_no_overlap(bars)
        # What no overlap means for the whole window: the solver bounds a knapsack far sooner.
        model.add(sum(sizes) <= high - low)
    for copies in placed:
        for placements in copies:
            model.add_at_most_one(placements)
        for first, second in itertools.pairwise(copies):
            model.add(sum(second) <= sum(first))
    if not gains:
        return ValueProof(known)
    model.add(sum(gains) >= math.floor(known) + 1)
    model.maximize(sum(gains))
    solver = _solver(seconds, counted)
    halt.solver = solver
    if halt.given[0]:
        return ValueProof(math.inf)
    status = solver.solve(model)
    halt.solver = None
    if status == cp_model.INFEASIBLE:
        return ValueProof(known)
    if halt.given[0] or status == cp_model.MODEL_INVALID:  # it may know nothing yet
        return ValueProof(math.inf)
    order: tuple[int, ...] = ()
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        lying = [(solver.value(start), k) for here, start, k in could if solver.value(here)]
        order = tuple(k for _, k in sorted(lying))
    return ValueProof(solver.best_objective_bound, order)


def _solver(seconds: float, counted: bool) -> Any:
    """Return a CP-SAT solver on one thread with so much time, or so much of its own work if counted."""
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    if counted:
        solver.parameters.max_deterministic_time = seconds
    else:
        solver.parameters.max_time_in_seconds = seconds
    return solver


def _cell_runs(begins: Flags, covers: Ints) -> list[tuple[int, int]]:
    """Return the runs of cells that straps may cover, no strap more than one of them."""
    out: list[tuple[int, int]] = []
    for cell in np.flatnonzero(begins.any(axis=0)).tolist():
        high = cell + int(np.max(covers[begins[:, cell]]))
        if out and cell < out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], high))
        else:
            out.append((cell, high))
    return out


def _bounds_by_start(kinds: StrapKinds, price: Floats) -> Floats:
    """Return a bound for layouts in which a strap of a kind begins in a cell, (kinds, cells)."""
    cells = kinds.lanes.begins.shape[1]
    gain = kinds.value - price
    most = int(np.max(kinds.lanes.covers))
    below, above = np.zeros(cells + most + 1), np.zeros(cells + most + 1)
    for cell in range(cells):
        below[cell + 1] = max(below[cell + 1], below[cell])
        for k in np.flatnonzero(kinds.lanes.begins[:, cell] & (gain > 0)):
            end = cell + kinds.lanes.covers[k]
            below[end] = max(below[end], below[cell] + gain[k])
    for cell in range(cells - 1, -1, -1):
        above[cell] = above[cell + 1]
        for k in np.flatnonzero(kinds.lanes.begins[:, cell] & (gain > 0)):
            above[cell] = max(above[cell], gain[k] + above[cell + kinds.lanes.covers[k]])
    at = np.arange(cells)[None, :]
    worth: Floats = below[at] + gain[:, None] + above[at + kinds.lanes.covers[:, None]]
    return worth + float(price @ kinds.number)


def height_bound(relaxed: LaneRelaxation, seconds: float, *, counted: bool = False) -> float:
    """Return a height that a layout of all straps reaches at least, mm.

    Solved by constraint programming as far as there is time, straps that can never lie side by side only;
    0 where nothing is known.

    Args:
        relaxed: the straps as bars in lanes.
        seconds: how long it may take.
        counted: count the solver's own work instead of time, so that the answer is always the same.
    """
    from ortools.sat.python import cp_model

    kinds = relaxed.kinds
    if kinds is None or not relaxed.single or not kinds.lanes.begins.any(axis=1).all():
        return 0.0
    model, scale = cp_model.CpModel(), 10_000
    bars = []
    top = model.new_int_var(0, math.ceil((kinds.lanes.begins.shape[1] * relaxed.step + 1000) * scale), "top")
    for k, cells in enumerate(kinds.lanes.begins):
        domain = cp_model.Domain.from_values(np.flatnonzero(cells).tolist())
        reach = math.floor(float(relaxed.height[k]) * scale)
        before = None
        for _ in range(int(kinds.number[k])):
            start = model.new_int_var_from_domain(domain, "")
            bars.append(model.new_fixed_size_interval_var(start, int(kinds.lanes.covers[k]), ""))
            model.add(top >= start * math.floor(relaxed.step * scale) + reach)
            if before is not None:
                model.add(before <= start)
            before = start
    model.add_no_overlap(bars)
    model.minimize(top)
    solver = _solver(seconds, counted)
    if solver.solve(model) in (cp_model.INFEASIBLE, cp_model.MODEL_INVALID):
        return 0.0
    return relaxed.y0 + float(solver.best_objective_bound) / scale
