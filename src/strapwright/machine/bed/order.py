"""The cutting order: inner cuts before outlines, part by part, with little travel between.

Travel is shortened by a routing heuristic, 2-opt and or-opt, for stops that are entered at one point and left
at another. A stop run the other way is not the same stop, so a stretch of the tour that is turned about is
measured anew, by running sums; moves are tried between near neighbours only, all of them at once.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.contour import Contour
from strapwright.machine.types import CUTTING_ORDER
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from strapwright.core.arrays import Flags, Floats, Ints
    from strapwright.machine.hide_pose import Point
    from strapwright.machine.types import CutPath

_NEAR: Final = 10
"""Moves join a stop only to so many of its nearest: more cost time and gain next to nothing."""

_LONGEST_MOVE: Final = 3
"""Runs of up to so many stops are taken out and put in elsewhere, as or-opt has it."""

_GAIN: Final = 1e-7
"""A move must shorten the way by more than this, mm, so that rounding never sends the search in circles."""


_STARTS: Final = 12
"""A closed path may begin at so many of its corners, spread evenly round it."""


_ROUNDS: Final = 3
"""Order of the pieces and starts of the paths are chosen in turn, so often at most."""


def in_order(pieces: Sequence[Sequence[CutPath]], start: Point = (0.0, 0.0)) -> tuple[CutPath, ...]:
    """Return all paths in the order they are cut.

    A piece is scored, then punched, then its holes are cut and its outlines last, and the next is begun
    when it is done, so that nothing moves before all is made in it. Within that the way between the
    paths is kept short: which piece and which path comes next, which way an open path is run and at
    which corner a closed one begins.

    Args:
        pieces: the paths of each piece, in any order; straps that share an edge are one piece.
        start: where the tool stands at first, mm.

    Example:
        >>> in_order([])
        ()
    """
    known: dict[bytes, list[int]] = {}
    jobs = [_PathGroup(paths, known) for paths in pieces if paths]
    if not jobs:
        return ()
    order: list[int] | None = None
    best: list[tuple[CutPath, int]] = []
    length = math.inf
    for _ in range(_ROUNDS):
        order = shortest_tour([job.entry for job in jobs], [job.exit for job in jobs], start, first=order)
        chosen, found = _choose([jobs[k] for k in order], start)
        if found > length - 1e-6:
            break
        best, length = chosen, found
    return tuple(_begun(path, option) for path, option in best)


def in_order_by_tool(
    pieces: Sequence[Sequence[CutPath]], first_cuts: Sequence[CutPath] = ()
) -> tuple[CutPath, ...]:
    """Return all paths in the order they are cut where one tool does all of its work before the next.

    Everything is scored, then everything is marked, then cut; a piece's holes are cut before its outlines.

    Args:
        pieces: as for :func:`in_order`.
        first_cuts: what is cut before any of them, in its order.
    """
    ordered: list[CutPath] = []
    for operation in CUTTING_ORDER:
        ordered += first_cuts if operation is Operation.CUT else ()
        ordered += in_order(
            [[p for p in piece if p.operation is operation] for piece in pieces], end_of(ordered)
        )
    return tuple(ordered)


def end_of(paths: Sequence[CutPath]) -> Point:
    """Return where the tool stands after some paths, mm: at first in the corner of the bed."""
    if not paths:
        return 0.0, 0.0
    x, y = paths[-1].contour.ends[-1].tolist()
    return x, y


class _Slot:
    """One place in the cutting order, and the paths that may take it, each in the ways it may be run.

    A group of paths is run in its order or the other way about, so two paths may stand in each place.
    """

    def __init__(self, piece: _PathGroup, paths: Sequence[CutPath]) -> None:
        self.piece = piece
        ways = [(path, *_options(path)) for path in paths]
        self.paths = [(path, option) for path, options, _, _ in ways for option in options]
        self.starts = np.vstack([into for _, _, into, _ in ways])
        self.ends = np.vstack([out for _, _, _, out in ways])
        self.runs = np.repeat(np.arange(len(ways)), [len(options) for _, options, _, _ in ways])


class _PathGroup:
    """Paths cut before those of the next group, by rank: scores, punches, holes, outlines."""

    def __init__(self, paths: Sequence[CutPath], known: dict[bytes, list[int]]) -> None:
        ranked = sorted(paths, key=_rank)
        self.groups: list[list[_Slot]] = []
        for _, group in groupby(ranked, key=_rank):
            members = list(group)
            members = [members[k] for k in _short_order(members, known)]
            ways = (members, members[::-1]) if len(members) > 1 else (members,)
            self.groups.append([_Slot(self, both) for both in zip(*ways, strict=True)])
        self.entry: Floats = self.groups[0][0].starts[0]
        self.exit: Floats = self.groups[-1][-1].ends[0]


def _rank(path: CutPath) -> int:
    """Return when a path's turn comes in its piece: score, punch, inner cut, outline."""
    return len(CUTTING_ORDER) if path.is_outline else CUTTING_ORDER.index(path.operation)


def _short_order(paths: Sequence[CutPath], known: dict[bytes, list[int]]) -> list[int]:
    """Return a short order of paths of one rank; groups alike are ordered once."""
    if len(paths) < 3:
        return list(range(len(paths)))
    points = np.array([path.contour.starts[0] for path in paths])
    key = np.round(points - points[0], 3).tobytes()
    if key not in known:
        corner = points[np.lexsort((points[:, 1], points[:, 0]))[0]]
        known[key] = shortest_tour(points, points, corner)
    return known[key]


def _options(path: CutPath) -> tuple[list[int], Floats, Floats]:
    """Return the ways a path may be run, and where each begins and ends.

    Of an open path 0 is as it is, 1 turned about; of a closed one it is the corner it begins at. A run of
    an outline keeps its way, its part on the left: a knife's lead-in lies on its right.
    """
    contour = path.contour
    if not contour.closed:
        ends = np.vstack([contour.starts[0], contour.ends[-1]])
        return ([0], ends[:1], ends[1:]) if path.is_outline else ([0, 1], ends, ends[::-1])
    count = len(contour)
    corners = [0] if path.fixed_start else sorted({count * k // _STARTS for k in range(_STARTS)})
    return corners, contour.starts[corners], contour.starts[corners]


def _choose(jobs: Sequence[_PathGroup], start: Point) -> tuple[list[tuple[CutPath, int]], float]:
    """Return every path in turn and how it is run, so that least way lies between them, and that way, mm.

    The order of pieces stands, and that of a group's paths but for which end it is begun at; each
    group takes on where it is entered and left.
    """
    slots = [(slot, place) for job in jobs for group in job.groups for place, slot in enumerate(group)]
    origins: list[Ints] = []
    cost, ends = np.zeros(1), np.array([start], dtype=np.float64)
    before: _Slot | None = None
    for slot, place in slots:
        apart = slot.starts[None] - ends[:, None]
        total = cost[:, None] + np.sqrt(apart[..., 0] ** 2 + apart[..., 1] ** 2)
        if place and before is not None:  # a group keeps to its way
            total[before.runs[:, None] != slot.runs[None]] = np.inf
        # Rounded, so that a tie falls the same way on every machine.
        origin = total.round(6).argmin(axis=0)
        cost = total[origin, np.arange(len(slot.paths))]
        origins.append(origin)
        ends, before = slot.ends, slot
    state = int(np.argmin(np.round(cost, 6)))
    length = float(cost[state])
    states = []
    for origin in reversed(origins):
        states.append(state)
        state = int(origin[state])
    states.reverse()
    chosen = [(slot, state) for (slot, _), state in zip(slots, states, strict=True)]
    for piece, run in groupby(chosen, key=lambda one: one[0].piece):
        stretch = list(run)
        piece.entry = stretch[0][0].starts[stretch[0][1]]
        piece.exit = stretch[-1][0].ends[stretch[-1][1]]
    return [slot.paths[state] for slot, state in chosen], length


def _begun(path: CutPath, option: int) -> CutPath:
    """Return a path run as chosen."""
    if option == 0:
        return path
    contour = path.contour
    if contour.closed:
        return replace(path, contour=Contour(np.roll(contour.vertices, -option, axis=0)))
    return replace(path, contour=contour.reversed())


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
            nearest = int(np.argmin(np.round(self._travel[here, left], 6)))
            here = order[place] = left[nearest]
            left = np.delete(left, nearest)
        return self.around(order)

    def near(self) -> tuple[Ints, Ints]:
        """Return pairs of a stop and one of the nearest to go on to from it, as two flat arrays."""
        most = min(_NEAR, self.count - 1)
        way = np.round(self._travel[: self.count, : self.count], 6)
        np.fill_diagonal(way, np.inf)
        nearest = np.argpartition(way, most - 1, axis=1)[:, :most]
        return np.repeat(np.arange(self.count), most), nearest.ravel()


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
