"""Windows: a hide longer than the bed is moved through the machine and cut window by window."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import PlanError
from strapwright.core.tolerances import CLEARANCE
from strapwright.geometry.intervals import between
from strapwright.machine.toolpath.long_edges import is_edge
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.core.arrays import Flags, Floats
    from strapwright.geometry.contour import Contour
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.types import CutPath


PAST_JOIN: Final = 0.5
"""Cuts that meet at a join run on past it so far, each along the same straight edge, mm."""

_CLEAR: Final = 2.0
"""A join stays so far from corners, curves and holes, mm: a hide put back 0.2 mm off leaves no step there."""

_STEP: Final = 0.5
"""Places for joins are tried so far apart, mm."""


@dataclass(frozen=True)
class WindowPaths:
    """The paths cut in one window, and where it reaches.

    Args:
        low: where it begins along x, with the hide as it lies for the first window, mm.
        high: where it ends, mm.
        pieces: the paths cut in it, by piece, not yet moved onto the bed.
    """

    low: float
    high: float
    pieces: tuple[tuple[CutPath, ...], ...]


def in_windows(
    pieces: Sequence[Sequence[CutPath]], machine: Machine, begin: float | None = None
) -> tuple[WindowPaths, ...]:
    """Return the windows a hide is cut in, from low x to high.

    Each window is as long as the bed less its margins, and reaches back over the one before by the
    profile's overlap, or by whole pins and at least that. In the overlap each part that goes on is
    parted at a place of its own, where only straight edges along the window cross: no tip, and no hole
    where there is any other place. The two cuts that meet run on past the join along the same line.

    Args:
        pieces: what is cut before the next is begun, with all its paths.
        machine: bed, margin, overlap, registration.
        begin: where the first window begins along x, mm; None: with the first path.

    Raises:
        PlanError: the bed has no room for windows, or a part no place for a join; by its id.
    """
    check_windows(machine)
    overlap = machine.window_overlap
    room = machine.bed[0] - 2 * machine.window_margin
    parts = [_SplitPart(paths) for paths in by_part(pieces)]
    low = min(part.low for part in parts) if begin is None else begin
    last = max(part.high for part in parts)
    reaches: list[tuple[float, float]] = []
    while last > low + room + CLEARANCE:
        high = _end(parts, low, machine)
        for part in parts:
            part.go_on(len(reaches), high - overlap, high)
        reaches.append((low, high))
        low = high - overlap
    for part in parts:
        part.go_on(len(reaches), math.inf, math.inf)
    reaches.append((low, low + room))
    runs: list[list[list[CutPath]]] = []
    found = iter([list(part.runs()) for part in parts])
    for piece in pieces:
        held: list[list[CutPath]] = [[] for _ in reaches]
        for _ in by_part([piece]):
            for window, path in next(found):
                held[window].append(path)
        runs.append(held)
    return tuple(
        WindowPaths(*reach, tuple(tuple(held[window]) for held in runs if held[window]))
        for window, reach in enumerate(reaches)
    )


def check_windows(machine: Machine) -> None:
    """Refuse windows so short that their overlaps meet, or an overlap with no room for a join.

    Raises:
        PlanError: the figures, and the keys of the profile to change.
    """
    room = machine.bed[0] - 2 * machine.window_margin
    overlap, least = machine.window_overlap, 2 * _CLEAR + 2 * PAST_JOIN
    if room >= 2 * overlap + 4 * _CLEAR and overlap >= least:
        return
    raise PlanError(
        f"windows {room:g} mm long with {overlap:g} mm of overlap cannot be had on the bed of "
        f"{machine.name!r}; expected an overlap of {least:g} mm or more, and windows longer than twice "
        f"that by {4 * _CLEAR:g} mm; change window_overlap or window_margin in the profile"
    )


def by_part(pieces: Sequence[Sequence[CutPath]]) -> Iterator[list[CutPath]]:
    """Yield each part's paths, piece by piece."""
    for piece in pieces:
        parts: dict[str, list[CutPath]] = {}
        for path in piece:
            parts.setdefault(path.part_id, []).append(path)
        yield from parts.values()


class _SplitPart:
    """One part's paths, where they may be split between windows, and where they are."""

    def __init__(self, paths: Sequence[CutPath]) -> None:
        self.paths = paths
        boxes = np.array([path.contour.bounding_box for path in paths])
        self.low, self.high = float(boxes[:, 0].min()), float(boxes[:, 2].max())
        never, seldom = zip(*(_barred(path) for path in paths), strict=True)
        self._never = np.vstack([np.empty((0, 2)), *never])
        self._seldom = np.vstack([np.empty((0, 2)), *seldom])
        self.joins: list[float] = []
        self.windows: list[int] = []

    def free(self, at: Floats) -> tuple[Flags, Flags]:
        """Return at which of some places a join may be, and at which it parts no hole either."""
        may = ~_within(at, self._never)
        return may, may & ~_within(at, self._seldom)

    def go_on(self, window: int, following: float, high: float) -> None:
        """Go through a window: stay out of it, end in it, or be split before its end."""
        if self.windows and len(self.joins) < len(self.windows):
            return
        if not self.windows and self.low >= following - CLEARANCE:
            return
        self.windows.append(window)
        if self.high > high + CLEARANCE:
            self.joins.append(self._join(following, high))

    def _join(self, low: float, high: float) -> float:
        at = _places(low, high)
        may, best = self.free(at)
        return float(at[_middle_of_longest(best if best.any() else may)])

    def runs(self) -> Iterator[tuple[int, CutPath]]:
        """Yield every run with the number of the window it is cut in."""
        for path in self.paths:
            for contour in _parted(path, self.joins):
                x0, _, x1, _ = contour.bounding_box
                place = int(np.searchsorted(self.joins, (x0 + x1) / 2))
                yield self.windows[place], replace(path, contour=contour)


def _end(parts: Sequence[_SplitPart], low: float, machine: Machine) -> float:
    """Return where a window best ends: as far on as can be, without parting a hole if that can be had."""
    overlap = machine.window_overlap
    furthest = low + machine.bed[0] - 2 * machine.window_margin
    if machine.registration == "bed_pins" and machine.pin_pitch is not None:
        # A window's share with the next begins no sooner than its share with the one before ends.
        most = math.floor((furthest - overlap - low) / machine.pin_pitch + 1e-9)
        pins = np.arange(most, math.ceil(overlap / machine.pin_pitch) - 1, -1)
        ends = np.asarray(low + pins * machine.pin_pitch + overlap, dtype=np.float64)
    else:
        ends = np.arange(furthest, low + 2 * overlap, -_STEP, dtype=np.float64)
    if not len(ends):
        raise PlanError(
            f"one pin pitch of {machine.pin_pitch:g} mm and {overlap:g} mm of overlap are longer than a "
            f"window on the bed of {machine.name!r}; lower window_overlap or window_margin in the profile"
        )
    split = np.zeros(len(ends), dtype=np.int64)
    stuck: list[tuple[_SplitPart, Flags]] = []
    for part in parts:
        crosses = (part.low < ends - overlap - CLEARANCE) & (part.high > ends + CLEARANCE)
        if not crosses.any():
            continue
        may, best = _anywhere(part, ends, overlap)
        stuck.append((part, crosses & ~may))
        split += crosses & ~best
    barred = np.any([one for _, one in stuck], axis=0) if stuck else np.zeros(len(ends), dtype=bool)
    if barred.all():
        part = max(stuck, key=lambda one: int(one[1].sum()))[0]
        raise PlanError(
            f"{part.paths[0].part_id}: no straight edge along the bed to join two cuts at, from x {low:.1f} "
            f"to {furthest:.1f} mm; lay it along the direction the hide is moved, or use a larger bed"
        )
    return float(ends[int(np.argmin(np.where(barred, np.iinfo(np.int64).max, split)))])


def _anywhere(part: _SplitPart, ends: Floats, overlap: float) -> tuple[Flags, Flags]:
    """Return for which ends of a window the part can be parted before it, and so without parting a hole."""
    at = _places(float(np.min(ends)) - overlap, float(np.max(ends)))
    first = np.searchsorted(at, ends - overlap + 2 * PAST_JOIN)
    last = np.searchsorted(at, ends - 2 * PAST_JOIN, side="right")
    counted = (np.concatenate(([0], np.cumsum(free))) for free in part.free(at))
    may, best = (count[last] > count[first] for count in counted)
    return may, best


def _places(low: float, high: float) -> Floats:
    """Return where a join may be tried between the beginning of one window and the end of another."""
    first = math.ceil((low + 2 * PAST_JOIN) / _STEP - 1e-9)
    last = math.floor((high - 2 * PAST_JOIN) / _STEP + 1e-9)
    return np.arange(first, last + 1, dtype=np.float64) * _STEP


def _middle_of_longest(free: Flags) -> int:
    """Return the middle of the longest run of free places."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], free, [False])).astype(np.int8)))
    begins, ends = edges[::2], edges[1::2]
    longest = int(np.argmax(ends - begins))
    return int(begins[longest] + ends[longest] - 1) // 2


def _within(at: Floats, barred: Floats) -> Flags:
    inside = (at[:, None] > barred[:, 0]) & (at[:, None] < barred[:, 1])
    return np.asarray(inside.any(axis=1), dtype=np.bool_)


def _barred(path: CutPath) -> tuple[Floats, Floats]:
    """Return where along x a path must not be parted, and where it had better not, (M, 2) each."""
    contour = path.contour
    edges = is_edge(contour, 0.0)
    low = np.minimum(contour.starts[:, 0], contour.ends[:, 0])
    high = np.maximum(contour.starts[:, 0], contour.ends[:, 0])
    for index in np.flatnonzero(contour.is_arc):
        low[index], high[index] = _reach_of(contour, int(index))
    steep = np.column_stack([low[~edges] - _CLEAR, high[~edges] + _CLEAR])
    ends = np.concatenate([low[edges], high[edges]])
    corners = np.column_stack([ends - _CLEAR, ends + _CLEAR])
    box = contour.bounding_box
    whole = np.array([[box[0] - _CLEAR, box[2] + _CLEAR]])
    inner = path.operation is not Operation.SCORE and not path.is_outline
    return np.vstack([steep, corners]), whole if inner else np.empty((0, 2))


def _reach_of(contour: Contour, index: int) -> tuple[float, float]:
    """Return from where to where along x an arc of a contour reaches, mm."""
    begin, end = contour.reach[index : index + 2].tolist()
    box = between(contour, begin, end).bounding_box
    return box[0], box[2]


def _parted(path: CutPath, joins: Sequence[float]) -> Iterator[Contour]:
    """Yield the runs a path is parted into at joins; a path no join crosses is itself."""
    contour = path.contour
    at: list[float] = []
    for join in joins:
        from_x, to_x = contour.starts[:, 0] - join, contour.ends[:, 0] - join
        for index in np.flatnonzero((from_x < 0) != (to_x < 0)):
            share = float(from_x[index] / (from_x[index] - to_x[index]))
            at.append(float(contour.reach[index]) + share * float(contour.segment_lengths[index]))
    if not at:
        yield contour
        return
    at.sort()
    past = PAST_JOIN if path.operation is Operation.CUT else 0.0
    if contour.closed:
        for begin, end in zip(at, [*at[1:], at[0] + contour.length], strict=True):
            yield between(contour, begin - past, end + past)
        return
    bounds = [0.0, *at, contour.length]
    for begin, end in pairwise(bounds):
        yield between(
            contour, begin - (past if begin else 0.0), end + (past if end < contour.length else 0.0)
        )
