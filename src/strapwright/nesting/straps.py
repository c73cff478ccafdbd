"""Search for the best layout of straps on one ground: two annealed chains, one to each core."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.anneal import anneal

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from concurrent.futures import Future

    from numpy.typing import NDArray

    from strapwright.nesting.shelves import Shelves

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

CHAINS = 2
"""Chains that run side by side: one to each core of a small machine, and the same number on any."""

TRIES = 1000
"""Layouts a chain makes in one step."""

_HOT, _COLD, _SPARE = 0.1, 0.03, 0.008
"""Temperatures at the beginning and at the end, and the worth of a row that is free, per mean value."""

_REHEAT = 0.4
"""The second half begins so hot, of the first's beginning, from the better chain's best."""

_FIRST = 0.7
"""Share of the search before both chains go on from the better one."""

_STARTING = 0.08
"""Share of the search in which orders are made for the second chain to begin with."""

_COOLER = 0.7
"""A chain that begins with such an order is this much cooler, lest it lose it again."""

_ENOUGH = 0.25
"""Once everything is placed, so much of the search is still given to saving leather."""

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

    def shorten(self, share: float) -> None:
        """End when so much more of the whole is spent, if that is sooner."""
        if self.steps is not None:
            self.steps = min(self.steps, self.done + round(self.steps * share))
        else:
            passed = time.monotonic() - self.began
            self.seconds = min(self.seconds, passed + self.seconds * share)


@dataclass
class Chain:
    """One chain of the search: where it is, the best it met, and its share of the usual heat."""

    order: Ints
    turn: Ints
    side: Ints
    best: Ints
    worth: float
    state: NDArray[np.uint64]
    cooler: float = 1.0


def search(
    shelves: Shelves,
    budget: Budget,
    seed: int,
    start: Callable[[float, Callable[[], bool] | None], Ints | None] | None = None,
) -> Iterator[tuple[Ints, float]]:
    """Yield the best order found after each step, with its worth.

    Args:
        shelves: the straps and the ground.
        budget: how long it may take; the first layouts are always made.
        seed: of the random choices.
        start: makes an order that the second chain goes on from, in a thread of its own: given the worth of
            a layout and a function that answers whether there is time for more, if that counts.

    Yields:
        The order, its turns and its sides, (3, straps), and the value of what lies.
    """
    n = len(shelves.pieces)
    mean = float(shelves.value.mean()) if n else 0.0
    if not mean > 0:
        mean = 1.0
    chains = [_chain(shelves, seed, number, mean) for number in range(CHAINS)]
    everything = float(shelves.value.sum()) - 1e-6
    best = max(chains, key=lambda chain: chain.worth)
    yield best.best, best.worth
    tries, second, saving = TRIES, False, False
    started_with: Future[Ints | None] | None = None
    with ThreadPoolExecutor(CHAINS + 1) as pool:
        if start is not None:
            going = None if budget.steps is not None else lambda: budget.spent < _STARTING
            started_with = pool.submit(start, best.worth, going)
            if budget.steps is not None:
                wait([started_with])
        while budget.spent < 1:
            if started_with is not None and started_with.done():
                made, started_with = started_with.result(), None
                if made is not None and not second:
                    chains[1].order, chains[1].turn, chains[1].side = made
                    chains[1].cooler = _COOLER
            share = budget.spent
            if not second and share >= _FIRST:
                second = True
                for chain in chains:
                    chain.order, chain.turn, chain.side = best.best.copy()
                    chain.cooler = 1.0
            heat = _heat(share, second) * mean
            started = time.monotonic()
            step = partial(_step, shelves=shelves, tries=tries, heat=heat, spare=_SPARE * mean)
            for _ in pool.map(step, chains):
                pass
            if budget.steps is None:
                took = max(time.monotonic() - started, 1e-6)
                tries = int(np.clip(tries * _SECONDS / took, 20, 50 * TRIES))
            budget.done += 1
            best = max(chains, key=lambda chain: chain.worth)
            if not saving and best.worth >= everything:
                saving = True
                budget.shorten(_ENOUGH)
            yield best.best, best.worth


def _heat(share: float, second: bool) -> float:
    """Return the temperature when a share of the search is done."""
    if second:
        hot, passed = _HOT * _REHEAT, (share - _FIRST) / (1 - _FIRST)
    else:
        hot, passed = _HOT, share / _FIRST
    return hot * float((_COLD / hot) ** passed)


def _step(chain: Chain, *, shelves: Shelves, tries: int, heat: float, spare: float) -> None:
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


def _chain(shelves: Shelves, seed: int, number: int, mean: float) -> Chain:
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
                    _step(trial, shelves=shelves, tries=0, heat=mean, spare=0.0)
                    if trial.worth > best.worth:
                        best = trial
    return best
