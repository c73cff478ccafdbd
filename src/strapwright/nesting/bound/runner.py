"""Upper bounds of a whole problem, proven in a thread beside the search."""

from __future__ import annotations

import math
import threading
import time
from functools import partial
from typing import TYPE_CHECKING

from strapwright.nesting.bound.area import area_bounds
from strapwright.nesting.bound.cp_sat import height_bound, prove_value
from strapwright.nesting.bound.relaxation import lie_side_by_side, relax_to_lanes, value_bounds
from strapwright.nesting.cancellation import Halt, broken_off

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from strapwright.nesting.problem import PiecePlacement, Problem

_ABOUT = 1.0
"""Height of the cells of a first proof by constraint programming, mm."""

_ABOUT_HEIGHT = 0.25
"""Height of the cells of a proof of height, mm."""

_FINER = (0.25, 0.03)
"""Height of the cells, mm, of the proofs that follow where straps never lie side by side: what a strap may
lack to pass between two flaws can be tenths of a millimetre."""

_SHARE = 0.35
"""Share of the time that a proof by constraint programming may begin in, beside the search."""

_PRICES_SHARE = 0.15
"""Share of the time in which Lagrangian prices are moved: it is taken from the search."""

_PRICES_NEED = 2.0
"""Seconds they are given even in a short search, within the share of a proof."""

_RIPE = 0.15
"""Share of the time after which the search knows something that is worth aiming a proof at."""

_WAIT = 0.02
"""Seconds between two looks at how far the search is."""

_PROOF_SECONDS = 4.0
"""Seconds a proof by constraint programming may take."""

_LEAST = 1.0
"""A search shorter than this is not worth a proof beyond areas, s."""

_FINEST = ((30, 2.0), (300, 1.0), (math.inf, 0.0))
"""A search of fewer steps than these has a proof in cells no finer than these, mm."""

_COUNT = 200
"""Bounds made of each ground where the search goes by steps, at most."""


class Prover:
    """Proves bounds, on a thread of its own where the search goes by time.

    Args:
        problem: the problem.
        known: returns the worth of the straps on a ground in the best layout so far.
    """

    def __init__(self, problem: Problem, known: Callable[[int], float]) -> None:
        self._problem, self._known = problem, known
        self._grounds = area_bounds(problem)
        self._others = [
            sum(piece.value for piece in problem.pieces_for(ground) if not piece.strap)
            for ground in range(len(problem.grounds))
        ]
        self._straps = [math.inf] * len(problem.grounds)
        self._orders: list[tuple[tuple[int, float], ...]] = [()] * len(problem.grounds)
        self._thread: threading.Thread | None = None
        self._halt = Halt()
        self._ripe, self._ends = 0.0, math.inf

    @property
    def value(self) -> float:
        """A value that no layout of the problem can pass."""
        placeable = sum(piece.value for piece in self._problem.pieces if piece.grounds != ())
        return min(placeable, sum(self.of(ground) for ground in range(len(self._grounds))))

    def of(self, ground: int) -> float:
        """Return a value that what lies on one ground can never pass."""
        return min(self._grounds[ground], self._straps[ground] + self._others[ground])

    def straps_on(self, ground: int) -> float:
        """Return a value that straps on one ground can never pass."""
        return min(self._grounds[ground], self._straps[ground])

    def order_on(self, ground: int) -> tuple[tuple[int, float], ...]:
        """Return an order of straps that may be worth more than the best known, from below.

        Each is given by its shape and value. The proof came upon it in an easier problem, so it may not fit.
        """
        return self._orders[ground]

    def start(self, time_limit: float) -> None:
        """Begin to prove beside the search; short searches do without."""
        if time_limit >= _LEAST:
            now = time.monotonic()
            ends = now + time_limit * _SHARE
            prices_end = min(ends, now + max(time_limit * _PRICES_SHARE, _PRICES_NEED))
            self._ripe, self._ends = now + time_limit * _RIPE, now + time_limit
            self._thread = threading.Thread(
                target=self._prove,
                args=(
                    lambda _: not self._halt.given[0] and time.monotonic() < prices_end,
                    lambda: not self._halt.given[0] and time.monotonic() < ends,
                    False,
                ),
                daemon=True,
            )
            self._thread.start()

    def prove_by_steps(self, steps: int) -> None:
        """Prove as far as so many steps of a search are worth, the same on every machine."""
        if steps > 1:
            finest = next(cells for most, cells in _FINEST if steps < most)

            def going(count: int) -> bool:
                return count < min(_COUNT, steps) and not broken_off()

            self._prove(going, lambda: not broken_off(), True, finest)

    def stop(self) -> None:
        """End the proof; what is proven stays."""
        if self._thread is not None:
            self._halt.end(self._thread)

    def _prove(
        self, going: Callable[[int], bool], may_prove: Callable[[], bool], counted: bool, finest: float = 0.0
    ) -> None:
        for ground in range(len(self._problem.grounds)):
            if not may_prove():
                return
            if not any(piece.strap for piece in self._problem.pieces_for(ground)):
                self._straps[ground] = 0.0
                continue
            known = partial(self._known, ground)
            for worth in value_bounds(self._problem, ground, known, going, finest, self._halt):
                self._straps[ground] = min(self._straps[ground], worth)
            self._prove_by_constraints(ground, may_prove, counted)

    def _prove_by_constraints(self, ground: int, may_prove: Callable[[], bool], counted: bool) -> None:
        """Prove by constraint programming, in ever finer cells while more than is known seems possible."""
        if not may_prove():
            return
        relaxed = relax_to_lanes(self._problem, ground, _ABOUT, self._halt, single=True)
        if not relaxed.single:
            return
        while may_prove() and not counted and (self._known(ground) <= 0 or time.monotonic() < self._ripe):
            time.sleep(_WAIT)
        began, before = time.monotonic(), 0.0
        for about in (_ABOUT, *_FINER):
            known = self._known(ground)
            now = time.monotonic()
            # Finer cells take no longer than in proportion to their number.
            needs = (now - began) * before / about
            if known <= 0 or self._straps[ground] <= known + 1e-6 or not may_prove():
                return
            if now + needs > self._ends and not counted:
                return
            if about != _ABOUT:
                relaxed = relax_to_lanes(self._problem, ground, about, self._halt, single=True)
            found = prove_value(relaxed, known, _PROOF_SECONDS, counted=counted, halt=self._halt)
            self._straps[ground] = min(self._straps[ground], found.bound)
            if found.order:
                self._orders[ground] = tuple(relaxed.alike[kind] for kind in found.order)
            began, before = now, about

    def height_bound(self, found: Iterable[PiecePlacement], seconds: float, *, counted: bool) -> float:
        """Return a height that a layout of everything on the only ground reaches at least, mm; or 0.

        Args:
            found: a layout of everything: where straps lie side by side in it, nothing can be proven.
            seconds: how long it may take.
            counted: count the solver's own work instead of time, so that the answer is always the same.
        """
        if len(self._problem.grounds) != 1 or lie_side_by_side(self._problem, found, _ABOUT_HEIGHT):
            return 0.0
        relaxed = relax_to_lanes(self._problem, 0, _ABOUT_HEIGHT, single=True)
        return height_bound(relaxed, seconds, counted=counted)
