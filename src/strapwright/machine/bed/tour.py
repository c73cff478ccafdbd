"""A routing heuristic, 2-opt and or-opt, for stops that are entered at one point and left at another.

A stop run the other way is not the same stop, so a stretch of the tour that is turned about is measured anew,
by running sums; moves are tried between near neighbours only, all of them at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from strapwright.core.arrays import Flags, Floats, Ints


_NEAR: Final = 10
"""Moves join a stop only to so many of its nearest: more cost time and gain next to nothing."""

_LONGEST_MOVE: Final = 3
"""Runs of up to so many stops are taken out and put in elsewhere, as or-opt has it."""

_GAIN: Final = 1e-7
"""A move must shorten the way by more than this, mm, so that rounding never sends the search in circles."""


def shortest_tour(
    entries: ArrayLike, exits: ArrayLike, start: ArrayLike, first: ArrayLike | None = None
) -> list[int]:
    """Return in which order to visit stops, so that little way lies between them.

    Args:
        entries: where each stop is entered, (N, 2) mm.
        exits: where each stop is left, (N, 2) mm.
        start: where the tour begins, mm; it may end anywhere.
        first: an order to better, (N,); None begins with the nearest stop each time.

    Returns:
        The stops' numbers, each once.

    Example:
        >>> points = [(10, 0), (30, 0), (20, 0), (0, 0)]
        >>> shortest_tour(points, points, (-5, 0))
        [3, 0, 2, 1]
    """
    way = _Way(entries, exits, start)
    tour = way.nearest_first() if first is None else way.around(np.asarray(first, dtype=np.int64))
    if way.count > 1:
        tour = _improved(way, tour, way.near())
    return [int(stop) for stop in tour[1:-1]]


class _Way:
    """The stops and the travel between them; stop ``count`` is the start, the one after it an open end."""

    def __init__(self, entries: ArrayLike, exits: ArrayLike, start: ArrayLike) -> None:
        into = np.asarray(entries, dtype=np.float64).reshape(-1, 2)
        self.count = len(into)
        into = np.vstack([into, start, start])
        out = np.vstack([np.asarray(exits, dtype=np.float64).reshape(-1, 2), start, start])
        x, y = np.moveaxis(out[:, None] - into, 2, 0)
        self._travel: Floats = np.sqrt(x**2 + y**2)
        self._travel[:, self.count + 1] = 0.0

    def between(self, one: Ints, other: Ints) -> Floats:
        """Return the travel from stops to stops, mm; none to the end, which is left open."""
        return self._travel[one, other]

    def around(self, order: Ints) -> Ints:
        """Return an order with the start before it and the end after it."""
        return np.concatenate(([self.count], order, [self.count + 1]))

    def nearest_first(self) -> Ints:
        """Return the tour that goes to the nearest stop not yet visited each time."""
        left = np.arange(self.count)
        here, order = np.int64(self.count), np.empty(self.count, dtype=np.int64)
        for place in range(self.count):
            # Rounded, so that a tie falls the same way on every machine.
            nearest = int(np.argmin(np.round(self.between(np.full(len(left), here), left), 6)))
            here = order[place] = left[nearest]
            left = np.delete(left, nearest)
        return self.around(order)

    def near(self) -> tuple[Ints, Ints]:
        """Return pairs of a stop and one of the nearest to go on to from it, as two flat arrays."""
        most = min(_NEAR, self.count - 1)
        rows: list[Ints] = []
        every = np.arange(self.count)
        for stop in range(self.count):
            way = np.round(self.between(np.full(self.count, stop), every), 6)
            way[stop] = np.inf
            found = np.argpartition(way, most - 1)[:most] if most < self.count - 1 else every[every != stop]
            rows.append(found)
        return np.repeat(every, most), np.concatenate(rows)


def _improved(way: _Way, tour: Ints, near: tuple[Ints, Ints]) -> Ints:
    """Return the tour after every move that shortens it."""
    while True:
        moves = _moves(way, tour, near)
        if not len(moves):
            return tour
        before, tour = tour, tour.copy()
        taken: list[tuple[int, int]] = []
        for low, high, kind, one, two in moves.tolist():
            if any(low <= last and high >= first for first, last in taken):
                continue
            taken.append((low, high))
            tour[low : high + 1] = _moved(before, low, high, kind, one, two)


def _moved(tour: Ints, low: int, high: int, kind: int, one: int, two: int) -> Ints:
    """Return the stretch from ``low`` to ``high`` after a move.

    Kind 0 turns the places ``one`` to ``two`` about. Kinds 1 and 2 take them out and put them in at the
    stretch's other end, 2 turned about.
    """
    run = tour[one : two + 1]
    if kind == 0:
        return np.concatenate((tour[low:one], run[::-1], tour[two + 1 : high + 1]))
    run = run[::-1] if kind == 2 else run
    if one == low + 1 and two + 1 < high:  # goes further back in the tour
        return np.concatenate((tour[low:one], tour[two + 1 : high], run, tour[high : high + 1]))
    return np.concatenate((tour[low : low + 1], run, tour[low + 1 : one], tour[two + 1 : high + 1]))


def _moves(way: _Way, tour: Ints, pairs: tuple[Ints, Ints]) -> Ints:
    """Return the moves that shorten a tour, the best first: (M, 5) of low, high, kind, one, two."""
    place = np.empty(way.count + 2, dtype=np.int64)
    place[tour] = np.arange(len(tour))
    onward = np.concatenate(([0.0], np.cumsum(way.between(tour[:-1], tour[1:]))))
    back = np.concatenate(([0.0], np.cumsum(way.between(tour[1:], tour[:-1]))))
    a, c = place[pairs[0]], place[pairs[1]]
    tried = [
        (first, last, after, np.full(len(a), turned))
        for rest in range(_LONGEST_MOVE)
        for first, last, after, turned in (
            (c, c + rest, a, False),
            (c - rest, c, a, True),
            (a - rest, a, c - 1, False),
            (a, a + rest, c - 1, True),
        )
    ]
    first, last, after, turned = (np.concatenate(some) for some in zip(*tried, strict=True))
    found = (
        _turns(way, tour, onward, back, a, c),
        _shifts(way, tour, onward, back, first, last, after, turned),
    )
    every = np.concatenate([moves for moves, _ in found])
    gains = np.concatenate([gain for _, gain in found])
    # Rounded, and moves in a fixed order: the same tour on every machine.
    order = np.lexsort((*every.T[::-1], np.round(gains, 6)))
    return every[order]


def _turns(way: _Way, tour: Ints, onward: Floats, back: Floats, a: Ints, c: Ints) -> tuple[Ints, Floats]:
    """Return the stretches to turn about so that ``a`` goes on to ``c``, and what each adds (negative)."""
    ahead = c > a
    i = np.concatenate((a[ahead], a[ahead] - 1))
    j = np.concatenate((c[ahead], c[ahead] - 1))
    some = (j > i + 1) & (i >= 0)
    i, j = i[some], j[some]
    added = (
        way.between(tour[i], tour[j])
        + way.between(tour[i + 1], tour[j + 1])
        - way.between(tour[i], tour[i + 1])
        - way.between(tour[j], tour[j + 1])
        + (back[j] - back[i + 1])
        - (onward[j] - onward[i + 1])
    )
    good = added < -_GAIN
    i, j = i[good], j[good]
    return np.column_stack([i, j + 1, np.zeros_like(i), i + 1, j]), added[good]


def _shifts(
    way: _Way, tour: Ints, onward: Floats, back: Floats, first: Ints, last: Ints, after: Ints, turned: Flags
) -> tuple[Ints, Floats]:
    """Return the runs to put in after a place, and what each adds (negative)."""
    good = (first >= 1) & (last <= way.count) & ((after < first - 1) | (after > last)) & (after <= way.count)
    s, e, p, turned = first[good], last[good], after[good], turned[good]
    head, tail = np.where(turned, tour[e], tour[s]), np.where(turned, tour[s], tour[e])
    added = (
        way.between(tour[s - 1], tour[e + 1])
        - way.between(tour[s - 1], tour[s])
        - way.between(tour[e], tour[e + 1])
        + way.between(tour[p], head)
        + way.between(tail, tour[p + 1])
        - way.between(tour[p], tour[p + 1])
    )
    added = np.where(turned, added + ((back[e] - back[s]) - (onward[e] - onward[s])), added)
    good = added < -_GAIN
    s, e, p, turned = s[good], e[good], p[good], turned[good]
    low, high = np.minimum(s - 1, p), np.maximum(e + 1, p + 1)
    return np.column_stack([low, high, np.where(turned, 2, 1), s, e]), added[good]
