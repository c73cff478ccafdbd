"""Search for the most valuable layout of irregular pieces within a time: exchanges, then overlap removal.

On each ground a layout is improved by small exchanges. Some pieces are taken out and others, worth a
little more, put in where they overlap least; then all are pushed apart. Where that succeeds the exchange
stands. Two searches run at once; what they learn is shared from time to time.
"""

from __future__ import annotations

import random
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.errors import NestError
from strapwright.nesting.cancellation import broken_off
from strapwright.nesting.shape_search.bottom_left import bottom_left_fill
from strapwright.nesting.shape_search.nfp_cache import NOTHING, NfpCache, Packing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from strapwright.nesting.problem import PiecePlacement, Problem

_GAIN = 0.006
"""What an exchange gains, on average, as a share of what a full ground is worth."""

_LOSS = 0.006
"""What an exchange may lose at most, as a share of what a full ground is worth: it opens new ways."""

_BACK = 60
"""Exchanges without a new best, after which the search goes back to the best."""

_TRIES = 600
"""Exchanges drawn until one gains what is sought."""

_WORKERS = 2
"""Searches at once: always so many, so that a seed gives one layout on every machine."""


_STARTS = 0.25
"""The share of the time, or steps, that goes into starts; the rest goes into the best of them."""


_START_SECONDS = 4.0
"""A start gets so long, where there is time for several."""


_START_STEPS = 60
"""A start gets so many exchanges, where there are steps for several."""


_SLICES = 8
"""What is left after the starts is done in so many slices; between them the searches look at each other."""


_BEHIND = 0.01
"""A search behind the best by more than this share goes on from the best."""


@dataclass(frozen=True)
class ShapesProgress:
    """How far a search is.

    Args:
        placed: pieces laid so far, on all grounds.
        value: of them.
        tried: exchanges tried on this ground.
        so_far: gives where they lie.
    """

    placed: int
    value: float
    tried: int
    so_far: Callable[[], Sequence[PiecePlacement]]


def lay_shapes(
    problem: Problem,
    *,
    time_limit: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    progress: Callable[[ShapesProgress], None] | None = None,
    placements: Sequence[PiecePlacement] = (),
    todo: Iterable[int] | None = None,
) -> list[PiecePlacement]:
    """Return placements of irregular pieces worth as much together as can be found.

    Args:
        problem: pieces and grounds.
        time_limit: seconds for all grounds, not looked at when steps are given; a first layout is always
            finished.
        steps: exchanges on each ground; 1 is the first layout alone. The same seed and steps give the same
            layout on every machine.
        seed: of the random numbers.
        progress: called now and then.
        placements: what lies already, and stays; so do the problem's locked placements.
        todo: numbers of the pieces to lay; None for all that do not lie already.

    Returns:
        The placements of the pieces laid; Ctrl-C gives what was found so far.

    Raises:
        NestError: an outline crosses itself, or no time is given.

    Example:
        >>> import numpy as np
        >>> from strapwright.nesting.problem import Ground, Piece, Problem
        >>> square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], dtype=float)
        >>> pieces = tuple(Piece(f"tab {n}", square, (0.0,), frozenset(), value=100.0) for n in range(4))
        >>> len(lay_shapes(Problem(pieces, (Ground(square * [2, 2]),)), steps=2))
        4
    """
    began = time.monotonic()
    if steps is None and not time_limit > 0:
        raise NestError(f"the time must be more than 0 s, got {time_limit:g} s")
    there = tuple(dict.fromkeys((*placements, *problem.locked)))
    done = {placed.piece for placed in there}
    asked = range(len(problem.pieces)) if todo is None else dict.fromkeys(todo)
    left = [n for n in asked if n not in done]
    laid: list[PiecePlacement] = []
    earned = 0.0

    def report(best: Packing, tried: int) -> None:
        if progress is not None:
            placed, value = len(laid) + len(best.groups), earned + best.value
            progress(ShapesProgress(placed, value, tried, lambda: (*laid, *here.placements_of(best))))

    for ground in range(len(problem.grounds)):
        wanted = [n for n in left if (g := problem.pieces[n].grounds) is None or ground in g]
        if not wanted:
            continue
        here = NfpCache(problem, ground, wanted, there)
        share = (time_limit - (time.monotonic() - began)) / (len(problem.grounds) - ground)
        deadline = None if steps is not None else time.monotonic() + share
        best, stopped = _search_ground(here, deadline, steps or 0, seed, report)
        found = here.placements_of(best)
        laid += found
        earned += best.value
        done = {placed.piece for placed in found}
        left = [n for n in left if n not in done]
        if stopped:
            break
    return laid


def _search_ground(
    cache: NfpCache, deadline: float | None, steps: int, seed: int, report: Callable[[Packing, int], None]
) -> tuple[Packing, bool]:
    """Return the best layout of one ground, and whether Ctrl-C ended it."""
    budget = ExchangeBudget(deadline, steps)
    best, searches = NOTHING, []
    try:
        best = bottom_left_fill(cache)
        report(best, 0)
        asked = sum(len(group.pieces) for group in cache.groups)
        if len(best.groups) < asked and not budget.slice(0.0, 1.0)(0):
            searches = [ExchangeSearch(cache, seed * 7919 + n) for n in range(_WORKERS)]
            if searches[0].usable:
                _run_searches(searches, best, budget, report)
    except KeyboardInterrupt:
        return _best_of(best, searches), True
    return _best_of(best, searches), False


class ExchangeBudget:
    """Time or steps that may be spent, and the order to stop at once.

    Args:
        deadline: on the clock of ``time.monotonic``; None where steps are counted.
        steps: exchanges of all searches together.
    """

    def __init__(self, deadline: float | None, steps: int) -> None:
        self.deadline, self.steps = deadline, steps
        self.began = time.monotonic()
        self.halted = False

    def stopping(self) -> bool:
        """Whether all is to end at once, whatever time or steps are left."""
        return self.halted or broken_off()

    def slice(self, start: float, stop: float) -> Callable[[int], bool]:
        """Return a function that says when a search has used up its slice, from one share to another."""
        if self.deadline is None:
            most = round(stop * self.steps / _WORKERS) - round(start * self.steps / _WORKERS)
            return lambda tried: self.stopping() or tried >= most
        until = self.began + stop * (self.deadline - self.began)
        return lambda _: self.stopping() or time.monotonic() >= until

    def starts(self) -> int:
        """Return how many starts each search makes."""
        if self.deadline is None:
            return max(1, int(_STARTS * self.steps / _WORKERS / _START_STEPS))
        return max(1, int(_STARTS * (self.deadline - self.began) / _START_SECONDS))


def _run_searches(
    searches: Sequence[ExchangeSearch],
    first: Packing,
    budget: ExchangeBudget,
    report: Callable[[Packing, int], None],
) -> None:
    """Run searches side by side: several starts each, then on from the best of them."""
    starts = budget.starts()
    share = _STARTS if starts > 1 else 0.5
    found: list[Packing] = []

    def begin_and_go_on(search: ExchangeSearch, number: int, stop: Callable[[int], bool]) -> None:
        by_time = budget.deadline is not None
        search.begin(
            first if number == 0 and search is searches[0] else None,
            lambda: stop(0) if by_time else budget.stopping(),
        )
        search.run(stop)

    with ThreadPoolExecutor(len(searches)) as pool:

        def side_by_side(jobs: Iterable[Callable[[], None]]) -> None:
            running = [pool.submit(job) for job in jobs]
            try:
                for job in running:
                    job.result()
            except BaseException:
                budget.halted = True
                raise
            best = max((_best_of(first, searches), *found), key=lambda one: one.value)
            report(best, sum(search.tried for search in searches))

        try:
            for number in range(starts):
                stop = budget.slice(share * number / starts, share * (number + 1) / starts)
                side_by_side([partial(begin_and_go_on, search, number, stop) for search in searches])
                found += [search.best for search in searches]
            found.sort(key=lambda one: -one.value)
            for search, start in zip(searches, found, strict=False):
                search.begin(start)
            for number in range(_SLICES):
                low, high = (share + (1 - share) * (number + k) / _SLICES for k in (0, 1))
                side_by_side([partial(search.run, budget.slice(low, high)) for search in searches])
                best = _best_of(first, searches)
                for search in searches:
                    behind = search.best.value < best.value * (1 - _BEHIND)
                    if behind or (number >= _SLICES // 2 and search.best.value < best.value):
                        search.begin(best)
        finally:
            # Whatever ends it, the best of all that was found is kept.
            if found:
                searches[0].best = max([searches[0].best, *found], key=lambda one: one.value)


def _best_of(first: Packing, searches: Sequence[ExchangeSearch]) -> Packing:
    return max((first, *(search.best for search in searches)), key=lambda found: found.value)


class ExchangeSearch:
    """One search on one ground, that can be carried on from where it was.

    Args:
        cache: of the ground; shared with other searches.
        seed: of its random numbers.
    """

    def __init__(self, cache: NfpCache, seed: int) -> None:
        self.cache = cache
        self.rng = random.Random(seed)  # noqa: S311 -- a search, not a secret; its numbers never change
        self.usable = [group for group in range(len(cache.groups)) if cache.fits(group)]
        """Groups that have a place on the ground."""
        self.value = [group.value for group in cache.groups]
        self.area = [group.area for group in cache.groups]
        self.stock = [len(group.pieces) for group in cache.groups]
        self.asked = sum(self.stock[group] for group in self.usable)
        asked_area = sum(self.area[group] * self.stock[group] for group in self.usable)
        asked_value = sum(self.value[group] * self.stock[group] for group in self.usable)
        self.full = cache.area_left * asked_value / max(asked_area, 1e-12)
        """What a full ground is worth, about: gains are measured by it."""
        self.best = self.now = NOTHING
        self.tried = 0

    def begin(self, found: Packing | None = None, given_up: Callable[[], bool] = lambda: False) -> None:
        """Start afresh from a layout, or from pieces drawn at random that fill much of the ground.

        Args:
            found: the layout; None: draw pieces, fewer each time that they do not all find room.
            given_up: asked before fewer are drawn; once it is so, the start is an empty ground.
        """
        if found is not None:
            self.best = self.now = found
            return
        share = self.rng.uniform(0.55, 0.72)
        bias = self.rng.uniform(-1.0, 0.5)
        while True:
            order = [group for group in self.usable for _ in range(self.stock[group])]
            order.sort(key=lambda group: self.rng.random() * self.area[group] ** bias)
            chosen: list[int] = []
            covered = 0.0
            for group in order:
                if covered + self.area[group] <= share * self.cache.area_left:
                    chosen.append(group)
                    covered += self.area[group]
            laid = self._laid(NOTHING, [], chosen)
            self.tried += 1
            if laid is not None or share < 0.05 or given_up():
                self.best = self.now = laid or NOTHING
                return
            share *= 0.95

    def run(self, stop: Callable[[int], bool]) -> None:
        """Try exchanges until asked to stop.

        Args:
            stop: asked with the number of exchanges tried in this call.
        """
        tried = since = 0
        while not stop(tried) and len(self.best.groups) < self.asked:
            tried += 1
            since += 1
            self.tried += 1
            if since > _BACK:
                self.now, since = self.best, 0
            drawn = self._draw_exchange()
            laid = None if drawn is None else self._laid(self.now, *drawn)
            if laid is None:
                continue
            self.now = laid
            if laid.value > self.best.value:
                self.best, since = laid, 0

    def _draw_exchange(self) -> tuple[list[int], list[int]] | None:
        """Return which of the rotations laid to take out, and which groups to put in."""
        rng, now = self.rng, self.now
        left = {group: self.stock[group] for group in self.usable}
        for group in now.groups:
            left[group] -= 1
        rest = [group for group, count in left.items() for _ in range(min(count, 3))]
        if not rest:
            return None
        most = rng.expovariate(1 / _GAIN) * self.full
        least = -rng.random() * _LOSS * self.full
        for _ in range(_TRIES):
            out = self._some_neighbours(rng.choice((0, 0, 1, 1, 1, 2, 2, 3)))
            count = rng.choice((1, 1, 2, 2, 3))
            if count > len(rest):
                continue
            new = rng.sample(rest, count)
            gain = sum(self.value[group] for group in new) - sum(self.value[now.groups[i]] for i in out)
            if (gain and least <= gain <= most) or (not out and count == 1 and gain <= 4 * most):
                return out, new
        return None

    def _some_neighbours(self, count: int) -> list[int]:
        """Return some rotations laid that lie near each other."""
        now, rng = self.now, self.rng
        if not len(now.at) or not count:
            return []
        first = rng.randrange(len(now.at))
        order = np.argsort(((now.at - now.at[first]) ** 2).sum(axis=1), kind="stable")
        near = [int(i) for i in order[: max(count, 5)] if i != first]
        return [first, *rng.sample(near, min(count - 1, len(near)))]

    def _laid(self, found: Packing, out: Sequence[int], new: Sequence[int]) -> Packing | None:
        """Take rotations out, put groups in where they overlap least, and push apart what does overlap.

        Returns:
            The layout; None where something overlaps still.
        """
        from strapwright.nesting.shape_search.overlap_removal import Crowd, insert, separate

        kept = [i for i in range(len(found.groups)) if i not in set(out)]
        groups = [*(found.groups[i] for i in kept), *new]
        nfps = self.cache.arrays_for(groups)
        most = max(len(group.rotations) for group in self.cache.groups)
        choices = np.full((len(groups), most), -1, dtype=np.int64)
        for row, group in enumerate(groups):
            fitting = self.cache.fitting(group)
            choices[row, : len(fitting)] = fitting
        # What has no place yet is out of everyone's way.
        rotations, at = choices[:, 0].copy(), np.full((len(groups), 2), -1e7)
        rotations[: len(kept)], at[: len(kept)] = found.rotations[kept], found.at[kept]
        crowd = Crowd(choices, rotations, at)
        insert(nfps, crowd, len(kept), self.rng.randrange(2**31))
        if separate(nfps, crowd, self.rng.randrange(2**31)) > 0:
            return None
        return Packing(sum(self.value[group] for group in groups), tuple(groups), rotations, at)
