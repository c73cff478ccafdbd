"""Lead-ins: a beam begins a closed cut in the waste; a blade is turned there before it goes in on the line.

Where a beam goes in and comes out it leaves a notch. So an outline begins at its part's far end from the tip,
at a corner where there is one; the beam is turned on in the waste beside it; the cut goes on a little past
its beginning, so that it closes.

A blade that turns on the spot, or on a curve tighter than it can follow, breaks or tears the leather if it
stands in it to its full depth. So it is drawn a few millimetres through the waste, no deeper than a score,
until it points along the cut; then it is lifted and goes in on the line itself, its heading already right.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.contour import Contour
from strapwright.machine.toolpath.spindle_track import (
    heading_on,
    opened,
    point_on,
    settling_length,
    started_at,
    turn_between,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.core.arrays import Flags, Floats
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.profile.tool_keys import Blade, Laser
    from strapwright.machine.types import CutPath

_CORNER: Final = math.radians(30.0)
"""A joint that turns further is a corner; so is an arc no longer than a kerf that does."""

_AT_THE_END: Final = 1.0
"""A vertex this near a part's end along x is at it, mm."""

_ANGLES: Final = tuple(math.radians(angle) for angle in (0, 30, -30, 60, -60, 90, -90))
"""Ways a beam's lead-in comes from, tried in turn: back along the cut's beginning, or turned from that."""

_SHARES: Final = (1.0, 0.5, 0.25, 0.1)
"""Length of a beam's lead-in, tried in turn, as a share of what the profile asks."""

_STEEP: Final = 0.3
"""A beam's leaves the cut so fast at least: its distance from every cut by the way gone, to `_BEAM_CLEAR`."""

_BEAM_CLEAR: Final = 0.5
"""A beam's need not keep further from every cut than this, mm."""

_BEAM_POINTS: Final = np.linspace(1.0, 1 / 12, 12)
"""Where on its way a beam's is looked at, as shares from the cut."""

_BESIDE: Final = (1.0, 0.6, 0.35)
"""So far beside the cut a blade's lead-in is drawn, tried in turn, mm."""

_CLEAR: Final = 0.3
"""A blade's keeps so far from every part, mm."""

_POINTS: Final = 17
"""A blade's is looked at in so many points."""

_FEW: Final = (2, 8)
"""Starts looked at first, and next; then all."""

_RINGS: Final = tuple(range(2, 13, 2)) + tuple(range(16, 65, 8))
"""Where there is no room beside a cut, the waste is searched this far round its start, mm."""

_ROUND: Final = 24
"""Places looked at on each of these rings."""

_ARC: Final = math.radians(120.0)
"""The longest single arc of a blade's lead-in."""

_POINTING: Final = 1e-6
"""A blade that is off its heading by no more than this points along it, radians."""

_TOUCHING: Final = 1e-6
"""Rounding in a distance, mm."""

ROOM_FOR_LEAD_IN: Final = _BESIDE[0] + _CLEAR
"""So much waste beside a part a blade wants to turn in, mm; less only leaves it less choice."""


def lead_in_length(blade: Blade) -> float:
    """Return how long a blade's lead-in is, mm: what its profile asks, and enough to turn it."""
    return max(blade.lead_in, settling_length(blade.offset))


@dataclass(frozen=True)
class Approach:
    """The lead-in of one cut, and the cut begun where it goes in.

    Args:
        cut: the way of the cut; where it is closed it begins at the place the blade goes in at.
        lead_in: the tip's way in the waste that leaves the blade pointing along the cut's beginning, open;
            None where it points there already, or there is no room: then it turns on the line, shallow.
        alike: of a closed cut the vertices, one array for all cuts alike, and what was added to place it.
    """

    cut: Contour
    lead_in: Contour | None
    alike: tuple[Floats, Floats] | None = None


class WasteArea:
    """The waste round the parts of a sheet, in which lead-ins find room.

    Args:
        outlines: of all parts on the sheet, closed.
        bed: its reach along x and y, mm.
        leather: the hide's outline, closed; None where it is not known: then the leather has no edge.
    """

    def __init__(
        self, outlines: Sequence[Contour], bed: tuple[float, float], leather: Contour | None = None
    ) -> None:
        self._leather = leather
        self._outlines = tuple(outlines)
        self._bed = np.array(bed)
        boxes = [outline.bounding_box for outline in outlines]
        self._boxes = np.array(boxes, dtype=float).reshape(-1, 4)

    def on_bed(self, points: Floats, reach: float) -> Flags:
        """Return which points have the bed all round them as far as ``reach`` mm, (M,)."""
        on: Flags = np.all((points >= reach) & (points <= self._bed - reach), axis=1)
        return on

    def on_leather(self, points: Floats, reach: float) -> Flags:
        """Return which points have leather all round them as far as ``reach`` mm, (M,)."""
        if self._leather is None:
            return np.ones(len(points), dtype=bool)
        on: Flags = self._leather.contains(points)
        on &= self._leather.distance_to(points) >= reach - _TOUCHING
        return on

    def room(self, points: Floats, reach: float) -> Floats:
        """Return each point's distance from the outlines near it, (M,) mm; below 0 inside one.

        Args:
            points: (M, 2), mm.
            reach: outlines further away than this are left out, mm; the answer is then at most this.
        """
        room = np.full(len(points), reach)
        (x0, y0), (x1, y1) = points.min(axis=0) - reach, points.max(axis=0) + reach
        b = self._boxes
        near = (b[:, 0] <= x1) & (b[:, 2] >= x0) & (b[:, 1] <= y1) & (b[:, 3] >= y0)
        for index in np.flatnonzero(near).tolist():
            other = self._outlines[index]
            x0, y0, x1, y1 = other.bounding_box
            inside = (points >= (x0 - reach, y0 - reach)).all(axis=1)
            inside &= (points <= (x1 + reach, y1 + reach)).all(axis=1)
            if not inside.any():
                continue
            away = other.distance_to(points[inside])
            room[inside] = np.minimum(room[inside], np.where(other.contains(points[inside]), -away, away))
        return room

    def free(self, ways: Floats, offset: float) -> Flags:
        """Return which ways, (K, P, 2) mm, lie on leather, clear of parts, the spindle on the bed; (K,)."""
        points = ways.reshape(-1, 2)
        good: Flags = np.logical_and(self.on_bed(points, offset), self.on_leather(points, _CLEAR))
        if good.any():
            good[good] = self.room(points[good], _CLEAR) >= _CLEAR - _TOUCHING
        every: Flags = np.all(good.reshape(ways.shape[:2]), axis=1)
        return every

    def stroke_near(self, x: float, y: float, heading: float, blade: Blade) -> Contour | None:
        """Return the nearest straight way in the waste, in some heading, long enough to turn a blade."""
        length = lead_in_length(blade)
        rings = np.repeat(np.array(_RINGS, dtype=float), _ROUND)
        angles = heading + np.tile(np.arange(_ROUND) * 2 * math.pi / _ROUND, len(_RINGS))
        middles = np.column_stack([x + rings * np.cos(angles), y + rings * np.sin(angles)])
        half = length / 2 * np.array([math.cos(heading), math.sin(heading)])
        shares = np.linspace(-1.0, 1.0, _POINTS)[None, :, None]
        found = np.flatnonzero(self.free(middles[:, None] + shares * half, blade.offset))
        if not len(found):
            return None
        middle = middles[found[0]]
        return Contour.from_points([middle - half, middle + half], closed=False)


@dataclass(frozen=True)
class _Candidate:
    """A place a closed cut may start at, and a way beside it, which runs as the contour does.

    A straight way may be gone along backwards, and the contour with it.
    """

    segment: int
    share: float
    vertices: Floats

    @property
    def straight(self) -> bool:
        return len(self.vertices) == 2 and self.vertices[0, 2] == 0.0


class Shape:
    """One shape of closed cut, wherever it lies: where it may start, and the ways in the waste beside it.

    Of cuts alike all this is found once. It lies with its first vertex at the origin.

    Args:
        contour: of that shape, closed.
        blade: its offset, lead-in and overcut.
        inner: whether the waste is inside it, as in a hole, not outside, as round a part.
    """

    def __init__(self, contour: Contour, blade: Blade, *, inner: bool) -> None:
        first = np.array([*contour.vertices[0, :2].tolist(), 0.0])
        self.contour = Contour(contour.vertices - first).counter_clockwise()
        self._blade = blade
        self._ways_round: dict[tuple[int, float, bool], tuple[Floats, float]] = {}
        self.starts = list(_starts(self.contour, lead_in_length(blade) + blade.overcut))
        self.candidates = [
            [
                _Candidate(*start, way)
                for start in self.starts
                for way in self._ways(*start, beside, inner=inner)
            ]
            for beside in _BESIDE
        ]
        self.points = [
            np.array([_sampled(one) for one in some]).reshape(len(some), _POINTS, 2)
            for some in self.candidates
        ]
        if not inner:
            return
        for level, points in enumerate(self.points):
            flat = points.reshape(-1, 2)
            good = self.contour.contains(flat) & (self.contour.distance_to(flat) >= _CLEAR - _TOUCHING)
            kept = np.flatnonzero(good.reshape(-1, _POINTS).all(axis=1))
            self.candidates[level] = [self.candidates[level][k] for k in kept.tolist()]

    def round_from(self, segment: int, share: float, *, forward: bool) -> tuple[Floats, float]:
        """Return the way round from a start, as the contour runs or the other way, and its first heading."""
        key = segment, share, forward
        if key not in self._ways_round:
            way = started_at(self.contour, segment, share)
            way = way if forward else way.reversed()
            self._ways_round[key] = way.vertices, start_heading(way)
        return self._ways_round[key]

    def _ways(self, segment: int, share: float, beside: float, *, inner: bool) -> Iterator[Floats]:
        """Yield ways of a lead-in's length beside a start, in the waste."""
        contour, length = self.contour, lead_in_length(self._blade)
        x, y = point_on(contour, segment, share)
        heading, sweep = heading_on(contour, segment, share), float(contour.sweeps[segment])
        cos, sin = math.cos(heading), math.sin(heading)
        # The waste lies on the left of a hole's contour, on the right of a part's.
        side = 1.0 if inner else -1.0
        if inner and sweep > 0.0:
            radius = float(contour.radii[segment])
            own = radius - max(beside, radius / 3)
            if own >= self._blade.offset:
                yield _arc_to(x - radius * sin, y + radius * cos, own, heading - math.pi / 2, length)
        px, py = x - side * beside * sin, y + side * beside * cos
        for past in (0.0, length / 2, length):
            low = past - length
            yield np.array([(px + low * cos, py + low * sin, 0.0), (px + past * cos, py + past * sin, 0.0)])


def approach(
    contour: Contour,
    inner: bool,
    blade: Blade,
    heading: float,
    waste: WasteArea,
    memory: dict[tuple[bytes, bool], Shape],
) -> Approach:
    """Return the lead-in of a closed cut: where the blade goes in, which way round, and the way before.

    Of the places beside the cut that are waste the first from the contour's own start is taken, the furthest
    from the line before the nearer; of the two ways round the one that needs the blade turned less. Where
    there is none, the blade turns elsewhere in the waste, within a hand's breadth.

    Args:
        contour: the cut, closed.
        inner: whether the waste is inside it, as in a hole, not outside, as round a part.
        blade: offset, lead-in and overcut.
        heading: the blade's before, radians.
        waste: round the parts.
        memory: shapes met before with this blade.
    """
    origin = np.append(contour.vertices[0, :2], 0.0)
    alike = np.round(contour.vertices - origin, 9) + 0.0  # no minus zero
    shape = memory.get((alike.tobytes(), inner))
    if shape is None:
        shape = memory[alike.tobytes(), inner] = Shape(contour, blade, inner=inner)
    found = _first(shape, origin[:2], blade, None if inner else waste)
    segment, share = (found.segment, found.share) if found else shape.starts[0]
    ways = [shape.round_from(segment, share, forward=forward) for forward in (True, False)]
    turns = [abs(turn_between(heading, begins)) for _, begins in ways]
    forward = round(turns[0], 6) <= round(turns[1], 6) or (found is not None and not found.straight)
    vertices, begins = ways[0 if forward else 1]
    cut = Contour(vertices + origin)
    if turns[0 if forward else 1] < _POINTING:
        return Approach(cut, None, (vertices, origin))
    if found is None:
        x, y = cut.starts[0].tolist()
        return Approach(cut, waste.stroke_near(x, y, begins, blade), (vertices, origin))
    lead_in = Contour(found.vertices + origin, closed=False)
    return Approach(cut, lead_in if forward else lead_in.reversed(), (vertices, origin))


def open_approach(
    contour: Contour, before: float, blade: Blade, waste: WasteArea, last: Approach | None = None
) -> Approach:
    """Return the lead-in of an open cut, as a run of an outline is: beside its start, or near it.

    Args:
        contour: the cut, open; where it is of an outline its part lies on its left.
        before: the blade's heading, radians.
        blade: its offset and lead-in.
        waste: round the parts.
        last: of the pass before, whose lead-in is taken again where it had one.
    """
    x, y = contour.starts[0].tolist()
    heading = start_heading(contour)
    if abs(turn_between(before, heading)) < _POINTING:
        return Approach(contour, None)
    if last is not None and last.lead_in is not None:
        return last
    cos, sin = math.cos(heading), math.sin(heading)
    length = lead_in_length(blade)
    along = np.array([[-length], [length / 2 - length], [0.0]]) + np.linspace(0.0, 1.0, _POINTS) * length
    for beside in _BESIDE:
        ways = np.concatenate(
            [
                np.stack([x - side * sin + along * cos, y + side * cos + along * sin], axis=2)
                for side in (-beside, beside)  # its part lies on its left
            ]
        )
        free = np.flatnonzero(waste.free(ways, blade.offset))
        if len(free):
            return Approach(contour, Contour.from_points(ways[free[0]][[0, -1]], closed=False))
    return Approach(contour, waste.stroke_near(x, y, heading, blade))


def start_heading(contour: Contour) -> float:
    """Return the heading in which a contour begins, radians."""
    cos, sin = contour.tangent_at(0.0)
    return math.atan2(sin, cos)


def _first(shape: Shape, origin: Floats, blade: Blade, waste: WasteArea | None) -> _Candidate | None:
    """Return the first candidate whose way is free; inside a hole all that are left are."""
    for candidates, points in zip(shape.candidates, shape.points, strict=True):
        if waste is None:
            if candidates:
                return candidates[0]
            continue
        low = 0
        for high in (*(3 * few for few in _FEW), len(candidates)):
            some = points[low:high]
            if not len(some):
                break
            free = waste.free(some + origin, blade.offset)
            if free.any():
                return candidates[low + int(np.argmax(free))]
            low = high
    return None


def _starts(contour: Contour, from_end: float) -> Iterator[tuple[int, float]]:
    """Yield where a cut may start, a segment and a share of it: lines before arcs, and never a joint."""
    long = contour.segment_lengths.tolist()
    for arcs in (False, True):
        for segment in np.flatnonzero(contour.is_arc == arcs).tolist():
            if not arcs and long[segment] > 4 * from_end:
                near = from_end / long[segment]
                yield from ((segment, near), (segment, 1.0 - near))
            yield segment, 0.5


def _arc_to(cx: float, cy: float, radius: float, angle: float, length: float) -> Floats:
    """Return an arc, counter-clockwise, as open vertices: it ends at an angle about its centre."""
    sweep = length / radius
    pieces = math.ceil(sweep / _ARC)
    bulges = [math.tan(sweep / pieces / 4)] * pieces + [0.0]
    angles = [angle - sweep * (1 - k / pieces) for k in range(pieces + 1)]
    return np.array(
        [
            (cx + radius * math.cos(a), cy + radius * math.sin(a), b)
            for a, b in zip(angles, bulges, strict=True)
        ]
    )


def _sampled(candidate: _Candidate) -> Floats:
    """Return points evenly along a candidate's way, (P, 2)."""
    if candidate.straight:
        begin, end = candidate.vertices[:, :2]
        points: Floats = begin + np.linspace(0.0, 1.0, _POINTS)[:, None] * (end - begin)
        return points
    run = Contour(candidate.vertices, closed=False)
    return np.array([run.point_at(along) for along in np.linspace(0.0, run.length, _POINTS).tolist()])


def has_lead_in(machine: Machine) -> bool:
    """Whether it is a laser whose closed cuts are begun in the waste, or go on past their start."""
    return machine.kind == "laser" and (machine.laser.lead_in > 0 or machine.laser.overcut > 0)


def begun_at_the_rear(contour: Contour, kerf: float) -> Contour:
    """Return a part's closed outline begun at its end of lowest x, at a corner where there is one.

    That is the turn-back's end of a strap, whose x runs from the fold to the tip. An outline without a
    vertex there begins where its arc reaches furthest.

    Args:
        contour: closed, in the part's frame.
        kerf: width of the cut, mm; a corner that the beam goes round on an arc is no longer than that.

    Example:
        >>> square = Contour.from_points([(10, 0), (10, 4), (0, 4), (0, 0)])
        >>> begun_at_the_rear(square, 0.2).starts[0].tolist()
        [0.0, 0.0]
        >>> x, y = begun_at_the_rear(Contour.circle(5, 2, 10), 0.2).starts[0].tolist()
        >>> round(x, 9) + 0.0, round(y, 9)
        (0.0, 2.0)
    """
    rear = contour.bounding_box[0]
    xs, ys = contour.starts.T
    corners = [k for k in np.flatnonzero(xs <= rear + _AT_THE_END).tolist() if _is_corner(contour, k, kerf)]
    if some := corners or np.flatnonzero(xs <= rear + 1e-6).tolist():
        return started_at(contour, min(some, key=lambda k: (round(float(ys[k]), 6), k)), 0.0)
    reach = contour.centres[:, 0] - contour.radii
    arcs = np.flatnonzero(contour.is_arc & (np.abs(reach - rear) < 1e-6))
    segment = int(arcs[0])
    start = contour.starts[segment] - contour.centres[segment]
    turn, sweep = math.pi - math.atan2(start[1], start[0]), float(contour.sweeps[segment])
    share = (turn % (2 * math.pi) if sweep > 0 else -(-turn % (2 * math.pi))) / sweep
    return started_at(contour, segment, share)


def _is_corner(contour: Contour, k: int, kerf: float) -> bool:
    """Whether a contour turns sharply at a vertex, or on an arc round a corner right beside it."""
    if abs(turn_between(heading_on(contour, k - 1, 1.0), heading_on(contour, k, 0.0))) > _CORNER:
        return True
    beside = [s % len(contour) for s in (k - 1, k)]
    return any(
        contour.is_arc[s] and contour.segment_lengths[s] <= 2 * kerf and abs(contour.sweeps[s]) > _CORNER
        for s in beside
    )


def beam_track(path: CutPath, laser: Laser, waste: WasteArea) -> tuple[Contour, bool]:
    """Return the beam's way along a closed cut, and whether it begins in the waste.

    Args:
        path: closed, begun where the beam is to enter it.
        laser: lead-in and overcut.
        waste: round the parts.
    """
    contour = path.contour
    cut = opened(contour, 0, laser.overcut)
    if laser.lead_in <= 0:
        return cut, False
    x, y = contour.starts[0].tolist()
    back = heading_on(contour, 0, 0.0) + math.pi
    for share in _SHARES:
        length = share * laser.lead_in
        for angle in _ANGLES:
            along = length * _BEAM_POINTS[:, None] * [math.cos(back + angle), math.sin(back + angle)]
            points = np.array([x, y]) + along
            if _is_waste(points, length * _BEAM_POINTS, path, waste):
                lead = [*points[0].tolist(), 0.0]
                return Contour(np.vstack([lead, cut.vertices]), closed=False), True
    return cut, False


def _is_waste(points: Floats, gone: Floats, path: CutPath, waste: WasteArea) -> bool:
    """Whether a way leaves its cut fast enough into the waste, on the bed and clear of every other cut."""
    needed = np.minimum(_STEEP * gone, _BEAM_CLEAR)
    if not waste.on_bed(points, 0.0).all():
        return False
    if path.is_outline:
        return bool((waste.room(points, 2 * _BEAM_CLEAR) >= needed).all())
    inside = path.contour.contains(points)
    return bool(inside.all() and (path.contour.distance_to(points) >= needed).all())
