"""Search for the best layout of straps on one ground: beams, then windows; a chain for each core."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from itertools import count
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.strap_search.anneal import TIE, anneal
from strapwright.nesting.strap_search.beam import beam
from strapwright.nesting.strap_search.guide import guide_of
from strapwright.nesting.strap_search.instance import Rows, below, laid_by
from strapwright.nesting.strap_search.window_search import Windows, pushed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.core.arrays import Ints, LongWords
    from strapwright.nesting.strap_search.guide import Guide
    from strapwright.nesting.strap_search.instance import Instance

CHAINS = 2
"""Chains that run side by side: one to each core of a small machine, and the same number on any."""

TRIES = 1000
"""Layouts a chain makes in one step."""

_HOT, _COLD, _SPARE = 0.1, 0.02, 0.006
"""Temperatures at the beginning and at the end, and the worth of a row that is free, per mean value."""

_ABREAST = 0.6
"""Share of it where straps lie three abreast, of which the guide of the beams knows nothing."""

_BEAMED = 0.5
"""Share of the search after which the best layout of the beams is bettered window by window."""

_WIDTH, _ALIKE, _WIDEST = 20, 6, 320
"""Layouts that beams keep of each level: so many, after so many beams twice as many, at most so many."""

_ABOUT = (30.0, 100.0)
"""Layouts of a beam that differ only in straps of about the same length count as the same: within so much,
another for each beam, mm."""

_EXACT = 3
"""One beam in so many tells all straps apart."""

_WARM = 0.02
"""How much a change in one window may lose at first, on average, per mean value."""

_ENOUGH = 0.25
"""Once everything is placed, so much of the search is still given to saving leather."""

_LOWER = 0.02
"""Share of its height by which a layout is to be lowered at first; halved where that fails."""

_PATIENCE = 8
"""Steps after which lowering it by that share is given up."""

_AT_LEAST = 1.0
"""And so many seconds, if there are: a quarter of a short search saves little."""

_SECONDS = 0.05
"""About how long a step of a search by time takes."""


@dataclass
class Budget:
    """How long a search may take: seconds, or steps where the same result is wanted everywhere.

    Args:
        seconds: from now on.
        steps: instead of the seconds; None for a search by time.
    """

    seconds: float
    steps: int | None = None
    began: float = field(default_factory=time.monotonic)
    done: int = 0

    @property
    def spent(self) -> float:
        """The share of it that is used up, 1 at the end."""
        if self.steps is not None:
            return 1.0 if self.done >= self.steps else self.done / self.steps
        if self.seconds <= 0:
            return 1.0
        return min(1.0, (time.monotonic() - self.began) / self.seconds)

    def shorten(self, share: float, least: float) -> None:
        """End when so much more of the whole is spent, or so many seconds, if that is sooner."""
        if self.steps is not None:
            self.steps = min(self.steps, self.done + round(self.steps * share))
        else:
            passed = time.monotonic() - self.began
            self.seconds = min(self.seconds, passed + max(self.seconds * share, least))


@dataclass
class Chain:
    """One chain of annealing: where it is, and the best it met."""

    order: Ints
    turn: Ints
    side: Ints
    best: Ints
    worth: float
    state: LongWords


def search(shelves: Instance, budget: Budget, seed: int) -> Iterator[tuple[Rows, float]]:
    """Yield the best layout found after each step, with its worth.

    Args:
        shelves: the straps and the ground.
        budget: how long it may take; the first layouts are always made.
        seed: of the random choices.
    """
    with ThreadPoolExecutor(CHAINS) as pool:
        everything = float(shelves.value.sum()) - 1e-6
        chains = [_chain(shelves, seed, number) for number in range(CHAINS)]
        best = _best_of(shelves, chains)
        yield best
        guide = guide_of(shelves) if best[1] < everything and budget.spent < 1 else None
        if guide is None:
            first, ends = _annealed(shelves, budget, chains, pool, everything), _ABREAST
        else:
            first, ends = _beamed(shelves, guide, budget, best, seed, pool, everything), _BEAMED
        for one in first:
            yield (best := one)
        numbers = [np.random.default_rng([seed, CHAINS, number]) for number in range(CHAINS)]
        windows = [Windows(shelves, guide, own) for own in numbers]
        best = best[0], float(shelves.value[best[0].strap].sum())
        found = [best] * CHAINS
        while best[1] < everything and (spent := budget.spent) < 1:
            change = partial(_changed, heat=_WARM * (1 - spent) / (1 - ends))
            found = list(pool.map(change, windows, found))
            best = max([best, *found], key=lambda one: one[1])
            budget.done += 1
            yield best
        if budget.spent < 1:  # everything lies: what is left of the time saves leather
            budget.shorten(_ENOUGH, _AT_LEAST)
            yield from _lowered(shelves, guide, budget, best[0], numbers, pool)


def _best_of(shelves: Instance, chains: Sequence[Chain]) -> tuple[Rows, float]:
    best = max(chains, key=lambda chain: chain.worth)
    return laid_by(shelves, *best.best), best.worth


def _changed(windows: Windows, one: tuple[Rows, float], heat: float) -> tuple[Rows, float]:
    return windows.changed(*one, heat)


def _annealed(
    shelves: Instance, budget: Budget, chains: Sequence[Chain], pool: ThreadPoolExecutor, everything: float
) -> Iterator[tuple[Rows, float]]:
    """Yield the best layout after each step of annealing, until everything lies or a share is spent."""
    mean, tries, best = shelves.mean, TRIES, _best_of(shelves, chains)
    while best[1] < everything and (spent := budget.spent) < _ABREAST:
        started = time.monotonic()
        heat = _HOT * float((_COLD / _HOT) ** (spent / _ABREAST)) * mean
        step = partial(_step, shelves=shelves, tries=tries, heat=heat, spare=_SPARE * mean)
        for _ in pool.map(step, chains):
            pass
        if budget.steps is None:
            took = max(time.monotonic() - started, 1e-6)
            tries = int(np.clip(tries * _SECONDS / took, 20, 50 * TRIES))
        budget.done += 1
        if max(chain.worth for chain in chains) > best[1]:
            best = _best_of(shelves, chains)
        yield best


def _beamed(
    shelves: Instance,
    guide: Guide,
    budget: Budget,
    best: tuple[Rows, float],
    seed: int,
    pool: ThreadPoolExecutor,
    everything: float,
) -> Iterator[tuple[Rows, float]]:
    """Yield the best layout found after each step of beam search, and its worth, until everything lies."""
    beams = [
        _beams(shelves, guide, np.random.default_rng([seed, CHAINS + 1, number])) for number in range(CHAINS)
    ]
    while best[1] < everything and budget.spent < _BEAMED:
        for laid in pool.map(next, beams):
            if laid is not None and (value := float(shelves.value[laid.strap].sum())) > best[1]:
                best = laid, value
        budget.done += 1
        yield best


def _beams(shelves: Instance, guide: Guide, numbers: np.random.Generator) -> Iterator[Rows | None]:
    """Yield from one beam after another, each as wide as the one before it or wider."""
    guide = guide._replace(one=guide.one.copy(), two=guide.two.copy())
    for number in count():
        about = float(np.exp(numbers.uniform(*np.log(_ABOUT)))) if number % _EXACT else 0.0
        yield from beam(shelves, guide, numbers, min(_WIDEST, _WIDTH * 2 ** (number // _ALIKE)), about)


def _lowered(
    shelves: Instance,
    guide: Guide | None,
    budget: Budget,
    laid: Rows,
    numbers: Sequence[np.random.Generator],
    pool: ThreadPoolExecutor,
) -> Iterator[tuple[Rows, float]]:
    """Yield a layout of every strap that reaches less and less high, after each step, and its worth.

    What reaches above a ceiling is taken out and found room for below it, window by window.
    """
    everything, share, table = float(shelves.value.sum()), _LOWER, shelves.numbers
    tall = table.tall[table.make]
    while len(laid.strap) and budget.spent < 1:
        tops = laid.row + tall[laid.form]
        top = int(tops.max())
        ceiling = top - max(1, round(top * share))
        under = below(shelves, ceiling)
        kept = laid.only(np.flatnonzero(tops <= ceiling))
        windows = [Windows(under, guide, own) for own in numbers]
        found = [(kept, float(shelves.value[kept.strap].sum()))] * CHAINS
        change = partial(_changed, heat=_WARM)
        for _ in range(_PATIENCE):
            found = list(pool.map(change, windows, found))
            best, value = max(found, key=lambda one: one[1])
            budget.done += 1
            if value >= everything - 1e-6 and len(best.strap) >= len(laid.strap):
                laid = pushed(under, best, up=False)
                break
            if budget.spent >= 1:
                break
            yield laid, everything + TIE * (shelves.rows - top)
        else:
            share /= 2
        top = int((laid.row + tall[laid.form]).max())
        yield laid, everything + TIE * (shelves.rows - top)


def _step(chain: Chain, *, shelves: Instance, tries: int, heat: float, spare: float) -> None:
    chain.worth = anneal(
        chain.order,
        chain.turn,
        chain.side,
        chain.best,
        chain.worth,
        tries,
        heat,
        heat,
        spare,
        chain.state,
        shelves.value,
        shelves.turns,
        shelves.numbers,
    )


def _chain(shelves: Instance, seed: int, number: int) -> Chain:
    """Return a chain that begins from the best of a few sensible orders."""
    n = len(shelves.pieces)
    numbers = np.random.default_rng([seed, number])
    forms = [shelves.forms[form] for form in shelves.turns[:, 0]]
    length = np.array([form.length for form in forms])
    height = np.array([shelves.makes[form.make].height for form in forms])
    state = numbers.integers(1, 2**63, 1, np.uint64)
    nothing = np.zeros(n, np.int64)
    # The first turn, where the empty ground takes the strap that way at all.
    following = shelves.numbers.following
    fits = following[shelves.turns, 0] < following.shape[1] - 1
    first_turn = np.where(fits[:, 0], 0, 1).astype(np.int64)
    any_turn = np.where(fits.all(axis=1), numbers.integers(0, 2, n), first_turn).astype(np.int64)
    best = Chain(nothing, nothing.copy(), nothing.copy(), np.zeros((3, n), np.int64), -np.inf, state)
    keys = [
        shelves.value,
        length,
        height * 1e4 + length,
        -height * 1e4 + length,
        shelves.value / (height + 1),
    ]
    for key in keys:
        for jitter in (0.0, 0.1):
            order = np.argsort(-key * numbers.uniform(1 - jitter, 1 + jitter, n), kind="stable")
            for side in (nothing, numbers.integers(0, 2, n)):
                for turn in (first_turn, any_turn):
                    found = np.zeros((3, n), np.int64)
                    trial = Chain(order.copy(), turn.copy(), side.copy(), found, -np.inf, state)
                    _step(trial, shelves=shelves, tries=0, heat=shelves.mean, spare=0.0)
                    if trial.worth > best.worth:
                        best = trial
    return best
