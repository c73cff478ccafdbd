"""Solve a problem: straps in rows first, ground by ground, then everything else in what they leave.

A keeper counts for little unless its strap is placed: without it the keeper wastes leather.
"""

from __future__ import annotations

import math
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.bound.runner import Prover
from strapwright.nesting.cancellation import broken_off, noting_ctrl_c
from strapwright.nesting.shape_search.lay_shapes import lay_shapes
from strapwright.nesting.strap_search.instance import build_instance, laid_lowest, laid_out
from strapwright.nesting.strap_search.search import Budget, search
from strapwright.nesting.strap_search.window_search import pushed

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.core.arrays import Ints
    from strapwright.nesting.problem import PiecePlacement, Problem
    from strapwright.nesting.shape_search.lay_shapes import ShapesProgress
    from strapwright.nesting.strap_search.instance import Instance, Rows

_SPARE = 0.1
"""What a piece without its strap is worth, as a share: less than any that makes something whole."""

_WANTED = 2.0
"""What one whose strap lies is worth, as a share: more than the same leather in anything else."""

_STRAPS = 0.94
"""Share of the time that straps may take where there is something else to lay."""


_SLIDING = 0.05
"""Seconds kept for sliding straps down."""


_KEPT = 0.2
"""Seconds kept for laying out the rest, and the least that pieces of any outline are given."""


_HEIGHT_NEEDS = 1.0
"""Seconds a proof of the least height may take."""


_USUAL = 0.6
"""Share of a ground that straps usually cover: only to share the time out among grounds."""


@dataclass(frozen=True)
class Solution:
    """What was found so far, or in the end.

    Args:
        placements: where the placed pieces lie; while the search goes on `so_far` gives them where it is set.
        placed: how many pieces lie.
        value: what they are worth.
        bound: a value that no layout of the problem can pass.
        steps: of the search.
        least_height: no layout of everything reaches less high on the ground, mm; 0 where not known.
        so_far: gives where the placed pieces lie while the search goes on; it takes milliseconds and is good
            only until `progress` returns.
    """

    placements: tuple[PiecePlacement, ...]
    placed: int
    value: float
    bound: float
    steps: int
    least_height: float = 0.0
    so_far: Callable[[], Sequence[PiecePlacement]] | None = None


@dataclass
class _Run:
    """What is known while the search goes on."""

    problem: Problem
    seed: int
    time_limit: float
    steps: int | None
    progress: Callable[[Solution], None] | None
    began: float = field(default_factory=time.monotonic)
    placements: list[PiecePlacement] = field(default_factory=list)
    worth: dict[int, float] = field(default_factory=dict)
    done: int = 1
    stopped: bool = False

    @property
    def left(self) -> float:
        """Seconds left."""
        self.stopped |= broken_off()
        return 0.0 if self.stopped else self.time_limit - (time.monotonic() - self.began)

    @cached_property
    def prover(self) -> Prover:
        """What is proven of the problem."""
        return Prover(self.problem, lambda ground: self.worth.get(ground, 0.0))

    def value(self) -> float:
        """Return what lies is worth."""
        return sum(self.problem.pieces[placed.piece].value for placed in self.placements)

    def report(self, more: int, worth: float, lie: Callable[[], Sequence[PiecePlacement]]) -> None:
        """Report how far the search is; Ctrl-C ends it, and what was found so far is whole and sound.

        Args:
            more: pieces laid besides those of `placements`.
            worth: of them.
            lie: gives where they lie.
        """
        self.stopped |= broken_off()
        if self.progress is None:
            return
        placed = len(self.placements) + more
        try:
            value = self.value() + worth
            self.progress(
                Solution(
                    (), placed, value, self.prover.value, self.done, so_far=lambda: (*self.placements, *lie())
                )
            )
        except KeyboardInterrupt:
            self.stopped = True


def solve(
    problem: Problem,
    *,
    time_limit: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    progress: Callable[[Solution], None] | None = None,
    prove: bool = True,
    ending: Callable[[str], None] = lambda _: None,
) -> Solution:
    """Solve a nesting problem: the greatest value that fits, and where all fits the least height.

    Args:
        problem: the pieces and grounds.
        time_limit: seconds to search, not counting those in which a ground's rows are scanned; the first
            layout is always finished.
        steps: steps of the search instead of a time: the same number gives the same layout everywhere.
        seed: of the random choices.
        progress: called after every step.
        prove: whether to look for better bounds than those of the areas beside the search.
        ending: called with what is proven once nothing more is laid, in words.
    """
    work = _Run(problem, seed, time_limit, steps, progress, placements=list(problem.locked))
    straps = [n for n, piece in enumerate(problem.pieces) if piece.strap]
    others = [n for n, piece in enumerate(problem.pieces) if not piece.strap]
    proving = bool(straps) and prove
    if proving and steps is None:
        work.prover.start(time_limit)
    try:
        _lay(work, straps, _STRAPS if others else 1.0)
        _lay_others(work, others, steps if not straps or steps is None else 1)
    finally:
        work.prover.stop()
    least = 0.0
    if len(work.placements) == len(problem.pieces):
        time_for_it = work.left > (0.0 if steps is not None else _HEIGHT_NEEDS)
        if proving and (steps or 2) > 1 and time_for_it and not work.stopped:
            ending("proving how little leather would do")
            seconds = min(work.left, _HEIGHT_NEEDS)
            least = work.prover.height_bound(work.placements, seconds, counted=steps is not None)
    elif proving and steps is not None and not (work.stopped or broken_off()):
        ending("proving how much more could be placed at most")
        work.prover.prove_by_steps(steps)
    bound = max(work.prover.value, work.value())
    done = work.done if steps is None else steps
    return Solution(tuple(work.placements), len(work.placements), work.value(), bound, done, least)


def _lay(work: _Run, pieces: Sequence[int], share: float) -> None:
    """Lay pieces ground by ground.

    Args:
        work: changed.
        pieces: numbers of those that are to be laid.
        share: of the time that is left.
    """
    ends = work.left * (1 - share)
    for ground in range(len(work.problem.grounds)):
        lying_already = {placed.piece for placed in work.placements}
        left = [
            n
            for n in pieces
            if n not in lying_already
            and ((allowed := work.problem.pieces[n].grounds) is None or ground in allowed)
        ]
        if not left:
            continue
        _lay_on(work, ground, left, ends)
        if work.stopped:
            work.prover.stop()


def _lay_others(work: _Run, pieces: Sequence[int], steps: int | None) -> None:
    """Lay pieces of any outline around what lies; a first layout of them even where it was broken off."""
    if not pieces:
        return
    before = work.done

    def report(how_far: ShapesProgress) -> None:
        work.done = before + how_far.tried
        work.report(how_far.placed, how_far.value, how_far.so_far)
        if work.stopped:
            raise KeyboardInterrupt

    with noting_ctrl_c() as interrupted:
        try:
            work.placements += lay_shapes(
                keeper_priority(work.problem, work.placements),
                time_limit=max(work.left - _KEPT, _KEPT),
                steps=steps,
                seed=work.seed,
                progress=report,
                placements=work.placements,
                todo=pieces,
            )
        except KeyboardInterrupt:  # before anything was laid
            work.stopped = True
        work.stopped |= interrupted()


def _grounds_needed(problem: Problem, left: Sequence[int], ground: int) -> int:
    """Return about how many grounds, this one and those after it, the pieces left will take."""
    import shapely

    wanted = sum(float(shapely.Polygon(problem.pieces[n].outline).area) for n in left)
    each = float(shapely.Polygon(problem.grounds[ground].boundary).area) * _USUAL
    return max(1, min(len(problem.grounds) - ground, math.ceil(wanted / each)))


def _numbered(problem: Problem, left: Sequence[int], order: Sequence[tuple[int, float]]) -> Ints:
    """Return places in ``left`` of pieces known by shape and value, each used once; others are left out."""
    places = defaultdict(list)
    for place in range(len(left) - 1, -1, -1):
        piece = problem.pieces[left[place]]
        places[piece.shape, piece.value].append(place)
    return np.array([places[key].pop() for key in order if places[key]], np.int64)


def _lay_on(work: _Run, ground: int, left: Sequence[int], ends: float) -> None:
    """Lay as many pieces as find room on a ground, and end when so many seconds are left."""
    best, worth = None, -math.inf
    tried: tuple[tuple[int, float], ...] = ()
    before = work.done
    straps = work.problem.pieces[left[0]].strap
    try:
        began = time.monotonic()
        instance = build_instance(work.problem, ground, left, work.placements)
        work.began += time.monotonic() - began  # what is made ready is not searched yet
        seconds = max(0.0, work.left - ends - _SLIDING) / _grounds_needed(work.problem, left, ground)
        budget = Budget(seconds, None if work.steps is None else max(0, work.steps - 1))
        for found, value in search(instance, budget, work.seed):
            if value > worth:
                best, worth = found, value
            if (order := work.prover.order_on(ground)) != tried:
                tried = order
                other = laid_lowest(instance, _numbered(work.problem, left, order))
                if (value := float(instance.value[other.strap].sum())) > worth:
                    best, worth = other, value
            assert best is not None
            work.done = before + budget.done
            work.report(len(best.strap), worth, partial(_pushed_down, instance, best))
            if straps:
                work.worth[ground] = worth
            if work.stopped:
                break
            if straps and len(best.strap) < len(left) and worth >= work.prover.straps_on(ground) - 1e-6:
                break
    except KeyboardInterrupt:
        work.stopped = True
    if best is not None:
        work.placements += _pushed_down(instance, best)


def _pushed_down(instance: Instance, laid: Rows) -> list[PiecePlacement]:
    return laid_out(instance, pushed(instance, laid, up=False))


def keeper_priority(problem: Problem, placements: Sequence[PiecePlacement]) -> Problem:
    """Return a problem in which pieces are worth more where their strap lies, and little where it does not.

    Args:
        problem: the problem.
        placements: what lies, all its straps among them.

    Example:
        >>> import numpy as np
        >>> from strapwright.nesting.problem import Piece, Problem, PiecePlacement
        >>> square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], dtype=float)
        >>> strap = Piece("strap", square, (0.0,), frozenset(), value=900.0, strap=True, assembly="belt")
        >>> keeper = Piece("keeper", square, (0.0,), frozenset(), value=100.0, shape=1, assembly="belt")
        >>> both = Problem((strap, keeper, strap, keeper), ())
        >>> [p.value for p in keeper_priority(both, [PiecePlacement(0, 0, 0.0, 0.0, 0.0)]).pieces]
        [900.0, 200.0, 900.0, 10.0]
    """
    pieces = problem.pieces
    lying = {placed.piece for placed in placements}
    asked: dict[str, Counter[int]] = defaultdict(Counter)
    there: dict[str, Counter[int]] = defaultdict(Counter)
    for number, piece in enumerate(pieces):
        if piece.strap and piece.assembly:
            asked[piece.assembly][piece.shape] += 1
            there[piece.assembly][piece.shape] += number in lying
    if not asked:
        return problem
    # Of a lined belt both strap and lining are wanted: the one fewer of which lie decides.
    share = {name: min(there[name][s] / count for s, count in asked[name].items()) for name in asked}
    others = (piece for piece in pieces if not piece.strap and piece.assembly in share)
    each = Counter((piece.assembly, piece.shape) for piece in others)
    wanted = {key: round(count * share[key[0]]) for key, count in each.items()}
    for number in lying:
        key = (pieces[number].assembly, pieces[number].shape)
        if key in wanted:
            wanted[key] -= 1
    # The engines take pieces of one shape for equal in all, worth included.
    shapes: dict[tuple[int, float], int] = {}
    out = []
    for number, piece in enumerate(pieces):
        factor = 1.0
        key = (piece.assembly, piece.shape)
        if key in wanted and number not in lying:
            factor = _WANTED if wanted[key] > 0 else _SPARE
            wanted[key] -= 1
        shape = shapes.setdefault((piece.shape, factor), len(shapes))
        out.append(replace(piece, value=piece.value * factor, shape=shape))
    return replace(problem, pieces=tuple(out))
