"""Local search by exchanges: some pieces out, others in, and what overlaps then pushed apart."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.shape_search.nfp_cache import NOTHING, Packing

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.nesting.shape_search.nfp_cache import NfpCache

_GAIN = 0.006
"""What an exchange gains, on average, as a share of what a full ground is worth."""

_LOSS = 0.006
"""What an exchange may lose at most, as a share of what a full ground is worth: it opens new ways."""

_BACK = 60
"""Exchanges without a new best, after which the search goes back to the best."""

_TRIES = 600
"""Exchanges drawn until one gains what is sought."""


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
