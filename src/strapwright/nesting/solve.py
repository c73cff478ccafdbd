"""Solve a problem: straps in rows first, ground by ground, then everything else in what they leave."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from strapwright.nesting.bound import area_bounds
from strapwright.nesting.shelves import laid_out, lying, shelves_of
from strapwright.nesting.straps import Budget, search

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.nesting.problem import Problem, Spot

_STRAPS = 0.9
"""Share of the time that straps may take where there is something else to lay."""

_KEPT = 0.2
"""Seconds kept for sliding straps down and laying out the rest."""

_USUAL = 0.6
"""Share of a ground that straps usually cover: only to share the time out among grounds."""


@dataclass(frozen=True)
class Solution:
    """What was found so far, or in the end.

    Args:
        spots: where the placed pieces lie; empty while the search goes on.
        placed: how many pieces lie.
        value: what they are worth.
        bound: a value that no layout of the problem can pass.
        steps: of the search.
        least_height: no layout of everything reaches less high on the ground, mm; 0 where not known.
    """

    spots: tuple[Spot, ...]
    placed: int
    value: float
    bound: float
    steps: int
    least_height: float = 0.0


@dataclass
class _Work:
    """What is known while the search goes on."""

    problem: Problem
    seed: int
    time_limit: float
    steps: int | None
    progress: Callable[[Solution], None] | None
    began: float = field(default_factory=time.monotonic)
    spots: list[Spot] = field(default_factory=list)
    bounds: list[float] = field(default_factory=list)
    done: int = 1
    stopped: bool = False

    @property
    def left(self) -> float:
        """Seconds left."""
        return 0.0 if self.stopped else self.time_limit - (time.monotonic() - self.began)

    @property
    def bound(self) -> float:
        """What no layout of the problem can pass."""
        placeable = sum(piece.value for piece in self.problem.pieces if piece.grounds != ())
        return min(sum(self.bounds), placeable)

    def value(self) -> float:
        """Return what lies is worth."""
        return sum(self.problem.pieces[spot.piece].value for spot in self.spots)

    def tell(self, more: int, worth: float) -> None:
        """Tell how far the search is; Ctrl-C ends it, and what was found so far is whole and sound."""
        if self.progress is None:
            return
        placed = len(self.spots) + more
        try:
            self.progress(Solution((), placed, self.value() + worth, self.bound, self.done))
        except KeyboardInterrupt:
            self.stopped = True


def solve(
    problem: Problem,
    *,
    time_limit: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    progress: Callable[[Solution], None] | None = None,
) -> Solution:
    """Lay pieces on grounds: as much value as fits, and where all fits as little of the ground as may be.

    Args:
        problem: the pieces and grounds.
        time_limit: seconds; the first layout is always finished.
        steps: steps of the search instead of a time: the same number gives the same layout everywhere.
        seed: of the random choices.
        progress: called after every step, without spots.
    """
    work = _Work(problem, seed, time_limit, steps, progress, spots=list(problem.locked))
    work.bounds = area_bounds(problem)
    straps = [n for n, piece in enumerate(problem.pieces) if piece.strap]
    others = [n for n, piece in enumerate(problem.pieces) if not piece.strap]
    _lay(work, straps, _STRAPS if others else 1.0)
    _lay(work, others, 1.0, steps=None if not straps else 1)
    known = max(work.bound, work.value())
    told = work.done if steps is None else steps
    return Solution(tuple(work.spots), len(work.spots), work.value(), known, told)


def _lay(work: _Work, pieces: Sequence[int], share: float, steps: int | None = None) -> None:
    """Lay pieces ground by ground.

    Args:
        work: changed.
        pieces: numbers of those that are to be laid.
        share: of the time that is left.
        steps: at most, where the search goes by steps; None for as many as were asked for.
    """
    ends = work.left * (1 - share)
    for ground in range(len(work.problem.grounds)):
        lying_already = {spot.piece for spot in work.spots}
        left = [
            n
            for n in pieces
            if n not in lying_already
            and ((allowed := work.problem.pieces[n].grounds) is None or ground in allowed)
        ]
        if not left:
            continue
        parts = _grounds_needed(work.problem, left, ground)
        seconds = max(0.0, work.left - ends - _KEPT) / parts
        allowed_steps = None
        if work.steps is not None:
            allowed_steps = max(0, min(work.steps, steps or work.steps) - 1)
        _lay_on(work, ground, left, Budget(seconds, allowed_steps))


def _grounds_needed(problem: Problem, left: Sequence[int], ground: int) -> int:
    """Return about how many grounds, this one and those after it, the pieces left will take."""
    import shapely

    wanted = sum(float(shapely.Polygon(problem.pieces[n].outline).area) for n in left)
    each = float(shapely.Polygon(problem.grounds[ground].boundary).area) * _USUAL
    return max(1, min(len(problem.grounds) - ground, math.ceil(wanted / each)))


def _lay_on(work: _Work, ground: int, left: Sequence[int], budget: Budget) -> None:
    """Lay as many pieces as find room on a ground."""
    shelves = shelves_of(work.problem, ground, left, work.spots)
    best = None
    count, known = 0, -1.0
    found = search(shelves, budget, work.seed)
    before = work.done
    try:
        for best, worth in found:
            work.done = before + budget.done
            if worth != known:
                count, known = lying(shelves, best), worth
            work.tell(count, worth)
            if work.stopped or (work.value() + worth >= work.bound - 1e-6 > 0 and count < len(left)):
                break
    except KeyboardInterrupt:
        work.stopped = True
    if best is not None:
        work.spots += laid_out(shelves, *best)
