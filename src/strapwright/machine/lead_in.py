"""How a drag knife comes to its cut: where it starts, which way round, and the lead-in in the waste.

A lead-in is an arc in the waste that meets the cut tangentially. Its whole circle must lie in the waste, so
that neither it nor the blade's turning at its start can cross a part; where there is little room the
circle is small and the blade goes round it more than once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.contour import Contour
from strapwright.machine.blade import joined, opened, settling_length, started_at, turn_between

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from strapwright.machine.tool_tables import Blade

    Floats = NDArray[np.float64]

_RADII: Final = (2.0, 1.4, 1.0, 0.7, 0.5, 0.35, 0.25)
"""Radii of the lead-in tried in turn, in offsets: a wide one turns the blade gently."""

_APART: Final = 0.1
"""A lead-in keeps so far from every other part, mm."""

_TOUCHING: Final = 1e-6
"""A circle tangent to its own contour lies this near it and no nearer, mm."""

_SMOOTH: Final = 1e-3
"""A start where the contour turns by no more than this is none of its corners, radians."""

_ARC: Final = math.radians(120.0)
"""The longest single arc of a lead-in."""


def room_for_lead_in(blade: Blade) -> float:
    """Return how much waste beside a part a blade's widest lead-in wants, mm; less only turns it harder.

    Example:
        >>> from strapwright.machine.tool_tables import Blade
        >>> round(room_for_lead_in(Blade(offset=0.6, max_thickness=4.0)), 6)
        2.6
    """
    return 2 * _RADII[0] * blade.offset + 2 * _APART


@dataclass(frozen=True)
class Approach:
    """The tip's whole path for one closed cut.

    Args:
        tip: lead-in, once round, and the overcut; open, mm.
        lead_in: length of the lead-in, mm; 0 where there was no room for one.
        off_leather: whether the lead-in may run past the hide's edge.
    """

    tip: Contour
    lead_in: float
    off_leather: bool = False


@dataclass(frozen=True)
class _Start:
    """A place where a cut might start: on a segment, a share of its length along."""

    segment: int
    share: float


class Waste:
    """What lies round the parts of a sheet, asked where a circle finds room.

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

    def on_bed(self, points: Floats, reach: float) -> NDArray[np.bool_]:
        """Return which points have the bed all round them as far as ``reach`` mm, (M,)."""
        on: NDArray[np.bool_] = np.all((points >= reach) & (points <= self._bed - reach), axis=1)
        return on

    def on_leather(self, points: Floats, reach: float) -> NDArray[np.bool_]:
        """Return which points have leather all round them as far as ``reach`` mm, (M,)."""
        if self._leather is None:
            return np.ones(len(points), dtype=bool)
        on: NDArray[np.bool_] = self._leather.contains(points)
        on &= self._leather.distance_to(points) >= reach - _TOUCHING
        return on

    def room(self, points: Floats, reach: float, own: Contour | None = None) -> Floats:
        """Return each point's distance from the outlines near it, (M,) mm; below 0 inside one.

        Args:
            points: (M, 2), mm.
            reach: outlines further away than this are left out, mm; the answer is then at most this.
            own: an outline that does not count.
        """
        room = np.full(len(points), reach)
        (x0, y0), (x1, y1) = points.min(axis=0) - reach, points.max(axis=0) + reach
        b = self._boxes
        near = (b[:, 0] <= x1) & (b[:, 2] >= x0) & (b[:, 1] <= y1) & (b[:, 3] >= y0)
        for index in np.flatnonzero(near).tolist():
            other = self._outlines[index]
            if other is own:
                continue
            x0, y0, x1, y1 = other.bounding_box
            inside = (points >= (x0 - reach, y0 - reach)).all(axis=1)
            inside &= (points <= (x1 + reach, y1 + reach)).all(axis=1)
            if not inside.any():
                continue
            away = other.distance_to(points[inside])
            room[inside] = np.minimum(room[inside], np.where(other.contains(points[inside]), -away, away))
        return room


class Shape:
    """One shape of cut, wherever it lies: where a lead-in may meet it, and the ways round.

    Of parts alike all this is found once. It lies with its first vertex at the origin.

    Args:
        contour: of that shape, closed.
        inner: whether the waste is inside it.
        blade: offset, lead-in and overcut.
    """

    def __init__(self, contour: Contour, blade: Blade, *, inner: bool) -> None:
        first = np.array([*contour.vertices[0, :2].tolist(), 0.0])
        self._contour = Contour(contour.vertices - first).counter_clockwise()
        self._inner, self._blade = inner, blade
        self._starts = list(_starts(self._contour))
        self._points, self._normals = _places(self._contour, self._starts, inner=inner)
        self._circles: dict[float, tuple[Floats, NDArray[np.bool_]]] = {}
        self._ways: dict[tuple[int, float], tuple[_Way, _Way]] = {}

    def circles(self, radius: float) -> tuple[Floats, NDArray[np.bool_]]:
        """Return the centre of a lead-in's circle at each start, (M, 2), and which keep off the cut, (M,)."""
        if radius not in self._circles:
            centres = self._points + radius * self._normals
            free = self._contour.distance_to(centres) >= radius - _TOUCHING
            if self._inner:
                free &= self._contour.contains(centres)
            self._circles[radius] = centres, free
        return self._circles[radius]

    def ways(self, start: int, radius: float) -> tuple[_Way, _Way]:
        """Return the way round to the left and the one to the right, each with its lead-in."""
        if (start, radius) not in self._ways:
            place = self._starts[start]
            moved = started_at(self._contour, place.segment, place.share)
            left = self._way(moved, radius, left=self._inner)
            self._ways[start, radius] = left, self._way(moved.reversed(), radius, left=not self._inner)
        return self._ways[start, radius]

    def _way(self, contour: Contour, radius: float, *, left: bool) -> _Way:
        run = opened(contour, 0, self._blade.overcut)
        lead = lead_in_circle(run, radius, lead_in_length(self._blade), left=left)
        cos, sin = lead.tangent_at(0.0)
        return _Way(joined([lead, run]).vertices, math.atan2(sin, cos))


@dataclass(frozen=True)
class _Way:
    """A way round, with its lead-in: its vertices, from the shape's origin, and the heading it begins in."""

    vertices: Floats
    heading: float


def lead_in_length(blade: Blade) -> float:
    """Return how long a blade's lead-in is, mm: what its profile asks, and enough to turn it."""
    return max(blade.lead_in, settling_length(blade.offset))


def approach(
    contour: Contour,
    *,
    inner: bool,
    blade: Blade,
    heading: float,
    waste: Waste | None,
    memory: dict[tuple[bytes, bool], Shape] | None = None,
) -> Approach:
    """Return the tip's path round a closed cut, its lead-in in the waste.

    Of the starts with the widest lead-in the first from the contour's own start is taken, and of the two
    ways round the one that needs the blade turned less. A narrow lead-in on the leather goes before a wide
    one past the hide's edge: a blade that drops beside the leather comes to it at its edge, and may fold it.

    Args:
        contour: the cut, closed.
        inner: whether the waste is inside it, as in a hole, not outside, as round a part.
        blade: offset, lead-in and overcut.
        heading: the blade's before it goes in, radians.
        waste: round the parts, for an outline; None for a hole, whose waste is its own.
        memory: shapes met before with this blade.
    """
    memory = {} if memory is None else memory
    origin = contour.vertices[0, :2]
    alike = np.round(contour.vertices - np.append(origin, 0.0), 9) + 0.0  # no minus zero
    shape = memory.get((alike.tobytes(), inner))
    if shape is None:
        shape = memory[alike.tobytes(), inner] = Shape(contour, blade, inner=inner)
    found: tuple[int, float] | None = None
    on_leather = True
    for share in _RADII:
        radius = share * blade.offset
        centres, free = shape.circles(radius)
        if not inner and waste is not None and free.any():
            centres = centres[free] + origin
            needed = radius + _APART
            clear = waste.on_bed(centres, math.hypot(radius, blade.offset))
            clear &= waste.room(centres, needed, contour) >= needed - _TOUCHING
            free = _of(free, clear)
            leather = _of(free, waste.on_leather(centres[clear], needed))
            if free.any() and not leather.any():
                found, on_leather = found or (int(np.argmax(free)), radius), False
                continue
            free = leather
        if free.any():
            found, on_leather = (int(np.argmax(free)), radius), True
            break
    if found is None:
        return Approach(opened(contour, 0, blade.overcut), 0.0)
    ways = shape.ways(*found)
    turns = [round(abs(turn_between(heading, way.heading)), 6) for way in ways]
    way = ways[int(np.argmin(turns))]  # left round where they are alike
    vertices = way.vertices + np.append(origin, 0.0)
    return Approach(Contour(vertices, closed=False), lead_in_length(blade), not on_leather)


def _of(some: NDArray[np.bool_], which: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which of all are among some, (M,), and also among these of the some."""
    both = some.copy()
    both[some] = which
    return both


def lead_in_circle(tip: Contour, radius: float, length: float, *, left: bool) -> Contour:
    """Return a lead-in: an arc that ends at a path's start, tangent to it.

    Args:
        tip: the path it leads to, open.
        radius: mm.
        length: mm; more than once round where the circle is small.
        left: whether its circle lies to the left of the path.
    """
    x, y = tip.starts[0].tolist()
    cos, sin = tip.tangent_at(0.0)
    side = 1.0 if left else -1.0
    cx, cy = x - side * radius * sin, y + side * radius * cos
    sweep = length / radius
    pieces = math.ceil(sweep / _ARC)
    end = math.atan2(y - cy, x - cx)
    bulge = side * math.tan(sweep / pieces / 4)
    angles = [end - side * sweep * (1 - k / pieces) for k in range(pieces)]
    points = [(cx + radius * math.cos(a), cy + radius * math.sin(a), bulge) for a in angles]
    return Contour(np.array([*points, (x, y, 0.0)]), closed=False)


def _starts(contour: Contour) -> Iterator[_Start]:
    """Yield where a cut may start: smooth joints and middles of segments, corners last."""
    chords = contour.ends - contour.starts
    along = np.arctan2(chords[:, 1], chords[:, 0])
    into = along - contour.sweeps / 2
    turns = [
        abs(turn_between(a, b))
        for a, b in zip(np.roll(along + contour.sweeps / 2, 1).tolist(), into.tolist(), strict=True)
    ]
    for index, turn in enumerate(turns):
        if turn <= _SMOOTH:
            yield _Start(index, 0.0)
        yield _Start(index, 0.5)
    for index, turn in enumerate(turns):
        if turn > _SMOOTH:
            yield _Start(index, 0.0)


def _places(contour: Contour, starts: Sequence[_Start], *, inner: bool) -> tuple[Floats, Floats]:
    """Return the starts' points and the unit normals into the waste, (M, 2) each; counter-clockwise only."""
    segments = np.array([start.segment for start in starts])
    middle = np.array([start.share for start in starts]) > 0.0
    chords = contour.ends[segments] - contour.starts[segments]
    left = np.column_stack([-chords[:, 1], chords[:, 0]])
    # The middle of an arc lies beside its chord's, on the right where it turns left.
    beside = chords / 2 - left * contour.bulges[segments, None] / 2
    points = contour.starts[segments] + np.where(middle[:, None], beside, 0.0)
    angle = np.arctan2(chords[:, 1], chords[:, 0]) - np.where(middle, 0.0, contour.sweeps[segments] / 2)
    into_left = np.column_stack([-np.sin(angle), np.cos(angle)])
    return points, into_left if inner else -into_left
