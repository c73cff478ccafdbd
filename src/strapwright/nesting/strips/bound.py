"""A lower bound by cutting patterns: column generation, its prices made whole so that the bound is exact.

Of each stretch with marks or loose leather the relaxation heeds one flaw, that which costs most: at most one
part lies across it, in a place it may have. Source: Gilmore and Gomory 1961 for the patterns, Farley 1990 for
a bound from any prices (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from time import monotonic
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.strips.problem import Stretch, StripKind, StripProblem

_SCALE: Final = 1 << 12
"""Prices are whole multiples of 1 / this."""

_MOST_ROUNDS: Final = 400

_FAR: Final = -(1 << 60)


@dataclass(frozen=True)
class Pattern:
    """What one strip may give.

    Args:
        kind: number of the kind of strip.
        fillings: of each stretch: the items on it from its start on, and how many of each.
        cost: of the strip, less what goes back to the shelf.
    """

    kind: int
    fillings: tuple[tuple[tuple[int, int], ...], ...]
    cost: int

    @property
    def counts(self) -> dict[int, int]:
        """How many of each item it has in all."""
        found: dict[int, int] = {}
        for item, count in (one for filling in self.fillings for one in filling):
            found[item] = found.get(item, 0) + count
        return found


@dataclass(frozen=True)
class Relaxation:
    """What column generation found.

    Args:
        bound: what any assignment costs at least, parts left out included.
        patterns: that it made on the way.
        shares: how often each is used in the best fractions; of the last ones made, nothing is known.
    """

    bound: int
    patterns: tuple[Pattern, ...]
    shares: tuple[float, ...]


def relax(
    problem: StripProblem,
    seconds: float,
    *,
    counted: bool = False,
    known: Sequence[Pattern] = (),
) -> Relaxation:
    """Return a lower bound and the patterns it rests on.

    Args:
        problem: the problem.
        seconds: how long it may take.
        counted: count rounds instead of time, so that the answer is always the same.
        known: patterns to begin with.
    """
    until = monotonic() + seconds
    master = _Master(problem)
    master.add(known)
    bound = 0
    for _ in range(_MOST_ROUNDS):
        value, prices = master.solve()
        whole = [
            max(0, min(int(price * _SCALE), problem.penalty * item.weight * _SCALE))
            for price, item in zip(prices, problem.items, strict=True)
        ]
        fresh, found = _price(problem, whole)
        bound = max(bound, found)
        shares = master.shares()
        added = master.add(fresh)
        if not added or bound >= value - 1e-6 or (not counted and monotonic() > until):
            break
    return Relaxation(bound, tuple(master.patterns), tuple(shares))


def dive(problem: StripProblem, seconds: float, *, counted: bool = False) -> list[Pattern]:
    """Return patterns chosen one by one: that used most in the best fractions, then of what is left again.

    Args:
        problem: the problem.
        seconds: how long it may take; what is chosen until then is returned.
        counted: as for `relax`.
    """
    until = monotonic() + seconds
    parts = [len(item.parts) for item in problem.items]
    strips = [kind.strip.quantity for kind in problem.kinds]
    chosen: list[Pattern] = []
    relaxed = relax(problem, seconds, counted=counted)
    while any(parts):
        used = [one for one in zip(relaxed.shares, relaxed.patterns, strict=False) if one[0] > 1e-6]
        used = [one for one in used if _is_left(one[1], parts, strips)]
        if not used or (not counted and monotonic() > until):
            break
        share, best = max(used, key=lambda one: one[0])
        for _ in range(max(1, int(share + 1e-6))):
            if not _is_left(best, parts, strips):
                break
            chosen.append(best)
            strips[best.kind] -= 1
            for item, count in best.counts.items():
                parts[item] -= count
        known = [one for one in relaxed.patterns if _is_left(one, parts, strips)]
        relaxed = relax(
            _left(problem, parts, strips), max(0.0, until - monotonic()), counted=counted, known=known
        )
    return chosen


def _is_left(pattern: Pattern, parts: Sequence[int], strips: Sequence[int]) -> bool:
    """Whether a pattern can be cut of what is left."""
    return strips[pattern.kind] > 0 and all(count <= parts[item] for item, count in pattern.counts.items())


def _left(problem: StripProblem, parts: Sequence[int], strips: Sequence[int]) -> StripProblem:
    """Return the problem with so many parts of each item and strips of each kind."""
    items = (
        replace(item, parts=item.parts[:count]) for item, count in zip(problem.items, parts, strict=True)
    )
    kinds = (
        replace(kind, strip=replace(kind.strip, quantity=count))
        for kind, count in zip(problem.kinds, strips, strict=True)
    )
    return replace(problem, items=tuple(items), kinds=tuple(kinds))


def _price(problem: StripProblem, prices: Sequence[int]) -> tuple[list[Pattern], int]:
    """Return the best pattern of each kind of strip by these prices, and the bound they prove.

    Args:
        problem: the problem.
        prices: of a part of each item, in multiples of 1 / `_SCALE`.
    """
    total = sum(price * len(item.parts) for price, item in zip(prices, problem.items, strict=True))
    fillings: dict[object, _Filling] = {}
    patterns = []
    for number, kind in enumerate(problem.kinds):
        like = (kind.takes, kind.worth)
        if like not in fillings:
            alike = [one for one in problem.kinds if one.takes == kind.takes]
            room = max((s.room for one in alike for s in one.stretches), default=0)
            fillings[like] = _Filling(problem, kind, prices, room)
        best = [_best(problem, stretch, fillings[like], prices) for stretch in kind.stretches]
        reduced = kind.cost * _SCALE - sum(one.value for one in best)
        total += kind.strip.quantity * min(0, reduced)
        if any(one.items for one in best):
            cost = kind.cost - sum(one.refund for one in best)
            patterns.append(Pattern(number, tuple(one.items for one in best), cost))
    return patterns, -(-total // _SCALE)


@dataclass(frozen=True)
class _Filled:
    """How a stretch is filled best: the worth of it by the prices, its items in order, and what goes back."""

    value: int
    items: tuple[tuple[int, int], ...]
    refund: int


def _best(problem: StripProblem, stretch: Stretch, filling: _Filling, prices: Sequence[int]) -> _Filled:
    """Return how a stretch is filled best; with flaws, by that which leaves the least."""
    if stretch.starts is None:
        return filling.after((), 0, stretch.room)
    found = [_across(problem, stretch, flaw, filling, prices) for flaw in stretch.soft]
    return min(found, key=lambda one: one.value)


def _across(
    problem: StripProblem,
    stretch: Stretch,
    flaw: tuple[int, int],
    filling: _Filling,
    prices: Sequence[int],
) -> _Filled:
    """Return how a stretch is filled best round a flaw: before it, after it, and by one part across it.

    That part is the first to touch it, so what lies before that ends where the flaw begins; what lies behind
    it is free.
    """
    room = stretch.room
    before = min(max(flaw[0], 0) + problem.gap + 1, room) if flaw[0] + problem.gap >= 0 else 0
    beyond = max(0, room - max(0, flaw[1] - 1))
    used = filling.used_up(before)
    options = [filling.after(filling.items(used), int(filling.worth[used]), beyond)]
    if filling.returns:  # nothing lies beyond it: all of that goes back, flaw and all
        options.append(filling.nothing_beyond(before, room))
    best, across = -1, (0, 0)
    for (item, _), runs in (stretch.starts or {}).items():
        ticks = problem.items[item].ticks
        for low, high in runs if prices[item] else ():
            first, last = max(low, before - ticks - 1), min(high, flaw[1] + 1)
            if first > last:
                continue
            left = filling.most[np.minimum(np.arange(first, last + 1), before)]
            right = filling.tail[room - ticks - last : room - ticks - first + 1][::-1]
            at = int(np.argmax(left + right))
            if (value := int(left[at] + right[at]) + prices[item]) > best:
                best, across = value, (item, first + at)
    if best >= 0:
        item, start = across
        used = filling.used_up(min(start, before))
        so_far = (*filling.items(used), (item, 1))
        value = int(filling.worth[used]) + prices[item]
        options.append(filling.after(so_far, value, room - start - problem.items[item].ticks))
    return max(options, key=lambda one: one.value)


class _Filling:
    """The most valuable filling of every length by what a kind of strip takes: a knapsack's table.

    Args:
        problem: the problem.
        kind: of strip.
        prices: of each item.
        room: the greatest length.
    """

    def __init__(self, problem: StripProblem, kind: StripKind, prices: Sequence[int], room: int) -> None:
        self.worth = np.full(room + 1, _FAR, dtype=np.int64)
        self.worth[0] = 0
        self._lots: list[tuple[int, int, int, Any]] = []
        for item in sorted(kind.takes):
            size, price = problem.items[item].ticks, prices[item]
            left = min(len(problem.items[item].parts), room // size)
            lot = 1
            while left > 0 and price > 0:
                many = min(lot, left)
                if many * size <= room:
                    self._take(item, many, many * size, many * price)
                left, lot = left - many, 2 * lot
        self.returns, self._gap, self._least = kind.worth, problem.gap, problem.gap + problem.keep
        self.most = np.maximum.accumulate(self.worth)
        self.tail = self.most.copy()
        """The worth of a length at the end of a stretch, with what goes back of it."""
        if kind.worth and room >= self._least:
            at = np.arange(room + 1, dtype=np.int64) * kind.worth * _SCALE
            spare = np.maximum.accumulate(self.worth - at)[: room + 1 - self._least]
            back = spare + at[self._least :] - self._gap * kind.worth * _SCALE
            self.tail[self._least :] = np.maximum(self.tail[self._least :], back)

    def used_up(self, room: int) -> int:
        """Return what the most valuable filling of a length takes of it."""
        return int(np.argmax(self.worth[: room + 1]))

    def after(self, items: tuple[tuple[int, int], ...], value: int, room: int) -> _Filled:
        """Return the best filling of a length at the end of a stretch, behind items of some value."""
        if self.tail[room] > self.most[room]:
            return self._returned(items, value, room, room - self._least + 1)
        return _Filled(value + int(self.most[room]), (*items, *self.items(self.used_up(room))), 0)

    def nothing_beyond(self, before: int, room: int) -> _Filled:
        """Return the best filling of the first ticks of a stretch of which all the rest goes back."""
        return self._returned((), 0, room, min(before, room - self._least) + 1)

    def _returned(self, items: tuple[tuple[int, int], ...], value: int, room: int, within: int) -> _Filled:
        if within <= 0:
            return _Filled(value, items, 0)
        at = np.arange(within, dtype=np.int64) * self.returns * _SCALE
        used = int(np.argmax(self.worth[:within] - at))
        refund = self.returns * (room - self._gap - used)
        worth = int(self.worth[used]) + refund * _SCALE
        return _Filled(value + worth, (*items, *self.items(used)), refund)

    def _take(self, item: int, many: int, length: int, price: int) -> None:
        with_it = self.worth[:-length] + price
        better = with_it > self.worth[length:]
        self.worth[length:][better] = with_it[better]
        self._lots.append((item, many, length, better))

    def items(self, used: int) -> tuple[tuple[int, int], ...]:
        """Return how many of each item fill a length."""
        found: dict[int, int] = {}
        for item, many, length, better in reversed(self._lots):
            if used >= length and better[used - length]:
                found[item] = found.get(item, 0) + many
                used -= length
        return tuple(sorted(found.items()))


class _Master:
    """The linear program that chooses patterns in fractions."""

    def __init__(self, problem: StripProblem) -> None:
        from ortools.linear_solver.python import model_builder

        self._problem = problem
        self.patterns: list[Pattern] = []
        self._known: set[Pattern] = set()
        self._shares: list[Any] = []
        self._scale = 1.0 / max([kind.cost for kind in problem.kinds], default=1)
        self._model: Any = model_builder.Model()  # type: ignore[no-untyped-call]
        out = [self._model.new_num_var(0.0, len(item.parts), "") for item in problem.items]
        self._cover = [
            self._model.add(one >= len(item.parts)) for one, item in zip(out, problem.items, strict=True)
        ]
        none = self._model.new_num_var(0.0, 0.0, "")
        self._stock = [
            self._model.add_linear_constraint(none, ub=float(kind.strip.quantity)) for kind in problem.kinds
        ]
        self._model.minimize(
            sum(
                problem.penalty * item.weight * self._scale * one
                for one, item in zip(out, problem.items, strict=True)
            )
        )
        self._solver = model_builder.Solver("glop")

    def add(self, fresh: Sequence[Pattern]) -> int:
        """Add those patterns that are new; return how many."""
        added = 0
        for pattern in fresh:
            if pattern in self._known:
                continue
            self._known.add(pattern)
            self.patterns.append(pattern)
            share = self._model.new_num_var(0.0, float("inf"), "")
            self._shares.append(share)
            share.objective_coefficient = pattern.cost * self._scale
            self._stock[pattern.kind].set_coefficient(share, 1.0)
            for item, count in pattern.counts.items():
                self._cover[item].set_coefficient(share, float(count))
            added += 1
        return added

    def shares(self) -> list[float]:
        """Return how often each pattern is used in the fractions solved last."""
        return [float(self._solver.value(one)) for one in self._shares]

    def solve(self) -> tuple[float, list[float]]:
        """Return the cost of the best fractions and the price of a part of each item."""
        self._solver.solve(self._model)
        prices = [float(self._solver.dual_value(one)) / self._scale for one in self._cover]
        return float(self._solver.objective_value) / self._scale, prices
