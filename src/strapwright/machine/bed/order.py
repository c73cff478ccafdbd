"""The cutting order: inner cuts before outlines, part by part, with little travel between."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.contour import Contour
from strapwright.machine.bed.tour import shortest_tour
from strapwright.machine.types import CUTTING_ORDER
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats, Ints
    from strapwright.machine.types import CutPath


Point = tuple[float, float]

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
