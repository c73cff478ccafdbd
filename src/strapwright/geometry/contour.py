"""The one geometry: a contour of straight lines and circular arcs, exact from part to file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar, overload

import numpy as np

from strapwright.core.errors import GeometryError
from strapwright.core.tolerances import SHORTEST_SEGMENT, STRAIGHT_BULGE

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from typing import Any, Self

    from numpy.typing import ArrayLike

    from strapwright.core.arrays import Flags, Floats, Ints


T = TypeVar("T")

_CHUNK = 2_000_000
"""Point–segment pairs worked on at once: bounds the memory of a query to about 100 MB."""


class lazy(Generic[T]):  # noqa: N801 - reads as a decorator, as `property` does
    """A property computed when first asked for and kept in the instance.

    It is `functools.cached_property` without the lock that one takes until Python 3.12, on which thousands of
    short contours spend more than on their figures.
    """

    def __init__(self, compute: Callable[[Any], T]) -> None:
        self.compute = compute
        self.name = compute.__name__
        self.__doc__ = compute.__doc__

    @overload
    def __get__(self, instance: None, owner: type) -> Self: ...
    @overload
    def __get__(self, instance: object, owner: type) -> T: ...
    def __get__(self, instance: object | None, owner: type) -> Self | T:
        if instance is None:
            return self
        value = instance.__dict__[self.name] = self.compute(instance)
        return value


@dataclass(frozen=True, eq=False)
class Contour:
    """An ordered run of vertices ``(x, y, bulge)``, joined by lines and arcs.

    The bulge of a vertex shapes the segment that leaves it: tan(sweep / 4), positive counter-clockwise,
    0 for a straight line, ±1 for a half turn (as in a DXF LWPOLYLINE). A closed contour's last vertex
    leads back to its first; an open contour's last bulge is meaningless and held at 0.

    Args:
        vertices: array of shape (N, 3): x and y in mm, bulge. Copied and made read-only.
        closed: whether the last vertex is joined to the first.

    Raises:
        GeometryError: wrong shape, not finite, fewer than two vertices, or two neighbours in one place.

    Example:
        >>> half_disc = Contour([(0, -1, 1), (0, 1, 0)])
        >>> round(half_disc.area, 6), round(half_disc.length, 6)
        (1.570796, 5.141593)
    """

    vertices: Floats
    closed: bool = True

    def __post_init__(self) -> None:
        array = np.array(self.vertices, dtype=np.float64)
        if array.ndim != 2 or array.shape[1] != 3:
            raise GeometryError(f"a contour needs vertices of shape (N, 3), got {array.shape}")
        if len(array) < 2:
            raise GeometryError(f"a contour needs at least 2 vertices, got {len(array)}")
        if not np.isfinite(array).all():
            row = int(np.argmin(np.isfinite(array).all(axis=1)))
            raise GeometryError(f"vertex {row} of a contour is not finite: {array[row].tolist()}")
        bulges = array[:, 2]
        bulges[np.abs(bulges) < STRAIGHT_BULGE] = 0.0
        if not self.closed:
            array[-1, 2] = 0.0
        array.flags.writeable = False
        object.__setattr__(self, "vertices", array)
        if not self._chords.min() >= SHORTEST_SEGMENT:
            row = int(np.argmax(self._chords < SHORTEST_SEGMENT))
            x, y = array[row, :2]
            raise GeometryError(
                f"segment {row} of a contour starts and ends at ({x:.6g}, {y:.6g}) mm; "
                f"segments must be at least {SHORTEST_SEGMENT:g} mm long"
            )
        if self.closed and len(array) == 2 and not bulges.any():
            raise GeometryError("a closed contour of two straight lines encloses nothing")

    @classmethod
    def each(
        cls, vertices: Floats, counts: Sequence[int], closed: Sequence[bool], *, measured: bool = False
    ) -> list[Contour]:
        """Return a contour for each stretch of vertices, all checked at once: a file has thousands.

        Args:
            vertices: of all, one contour's after the other's, (N, 3), as of one contour.
            counts: how many each has; together N.
            closed: whether each is closed.
            measured: whether radii, centres and lengths are found at once too, as most of them are asked for.

        Raises:
            GeometryError: as for one contour, of the first that is wrong.

        Example:
            >>> both = np.array([(0, 0, 0), (3, 4, 0), (0, 0, 1), (0, 2, 1)])
            >>> tuple(round(one.length, 6) for one in Contour.each(both, [2, 2], [False, True]))
            (5.0, 6.283185)
        """
        if not counts:
            return []
        stops = np.cumsum(counts)
        every = np.array(vertices, dtype=np.float64)
        bounds = list(zip((0, *stops.tolist()), stops.tolist(), closed, strict=False))
        if min(counts) < 2 or not np.isfinite(every).all():
            return [cls(every[low:high], one) for low, high, one in bounds]
        last, round_ = stops - 1, np.array(closed)
        bulges = every[:, 2]
        bulges[np.abs(bulges) < STRAIGHT_BULGE] = 0.0
        bulges[last[~round_]] = 0.0
        every.flags.writeable = False
        onward = np.arange(1, len(every) + 1)
        onward[last] = firsts = np.append(0, stops[:-1])
        starts = every[:, :2]
        ends = starts[onward]
        chords = chords_of(starts, ends)
        chords[last[~round_]] = np.inf  # nothing leads from an open contour's last vertex
        flat = round_ & (np.array(counts) == 2) & ~np.logical_or.reduceat(bulges != 0.0, firsts)
        if flat.any() or not (chords >= SHORTEST_SEGMENT).all():
            return [cls(every[low:high], one) for low, high, one in bounds]
        figures = {"_chords": chords}
        if measured:
            arcs, sweeps = bulges != 0.0, 4.0 * np.arctan(bulges)
            radii = radii_of(chords, bulges, arcs)
            figures |= {"starts": starts, "ends": ends, "bulges": bulges, "is_arc": arcs, "sweeps": sweeps}
            figures |= {"radii": radii, "centres": _centres(starts, ends, bulges, arcs)}
            figures["segment_lengths"] = lengths_of(chords, radii, sweeps, arcs)
        made: list[Contour] = []
        for low, high, one in bounds:
            contour = object.__new__(cls)
            mine = slice(low, high if one else high - 1)
            contour.__dict__.update({name: values[mine] for name, values in figures.items()})
            contour.__dict__.update(vertices=every[low:high], closed=one)
            made.append(contour)
        return made

    @classmethod
    def from_points(cls, points: ArrayLike, *, closed: bool = True) -> Contour:
        """Join points with straight lines.

        Args:
            points: array of shape (N, 2), mm.
            closed: whether the last point is joined to the first.
        """
        array = np.asarray(points, dtype=np.float64)
        if array.ndim != 2 or array.shape[1] != 2:
            raise GeometryError(f"points must have shape (N, 2), got {array.shape}")
        return cls(np.column_stack([array, np.zeros(len(array))]), closed)

    @classmethod
    def circle(cls, x: float, y: float, diameter: float) -> Contour:
        """Return a full circle, counter-clockwise, as two half turns.

        Raises:
            GeometryError: the diameter is not positive.
        """
        if not diameter > 0:
            raise GeometryError(f"a circle's diameter must be positive, got {diameter:g} mm")
        r = diameter / 2
        return cls(np.array([(x + r, y, 1.0), (x - r, y, 1.0)]))

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, Contour)
            and self.closed == other.closed
            and self.vertices.shape == other.vertices.shape
            and bool((self.vertices == other.vertices).all())
        )

    def __hash__(self) -> int:
        return hash((self.closed, self.vertices.tobytes()))

    def __len__(self) -> int:
        """Return the number of segments."""
        return len(self.vertices) if self.closed else len(self.vertices) - 1

    @lazy
    def starts(self) -> Floats:
        """Start points of the segments, (S, 2) mm."""
        return self.vertices[: len(self), :2]

    @lazy
    def ends(self) -> Floats:
        """End points of the segments, (S, 2) mm."""
        points = self.vertices[:, :2]
        return np.concatenate((points[1:], points[:1])) if self.closed else points[1:]

    @lazy
    def bulges(self) -> Floats:
        """Bulges of the segments, (S,)."""
        return self.vertices[: len(self), 2]

    @lazy
    def _chords(self) -> Floats:
        return chords_of(self.starts, self.ends)

    @lazy
    def is_arc(self) -> Flags:
        """Which segments are arcs, (S,)."""
        arcs: Flags = self.bulges != 0.0
        return arcs

    @lazy
    def sweeps(self) -> Floats:
        """Signed sweep of each segment in radians, positive counter-clockwise, 0 for lines; (S,)."""
        return 4.0 * np.arctan(self.bulges)

    @lazy
    def radii(self) -> Floats:
        """Radius of each arc in mm, infinite for lines; (S,)."""
        return radii_of(self._chords, self.bulges, self.is_arc)

    @lazy
    def centres(self) -> Floats:
        """Centre of each arc in mm, not-a-number for lines; (S, 2)."""
        return _centres(self.starts, self.ends, self.bulges, self.is_arc)

    @lazy
    def segment_lengths(self) -> Floats:
        """Length of each segment in mm, exact for arcs; (S,)."""
        return lengths_of(self._chords, self.radii, self.sweeps, self.is_arc)

    @lazy
    def reach(self) -> Floats:
        """Length from the first vertex to where each segment begins, and to the end, mm; (S + 1,)."""
        return np.concatenate(([0.0], np.cumsum(self.segment_lengths)))

    @lazy
    def length(self) -> float:
        """Total length in mm, exact for arcs."""
        return float(self.segment_lengths.sum())

    @lazy
    def area(self) -> float:
        """Signed area in mm², exact for arcs: positive when counter-clockwise.

        Raises:
            GeometryError: the contour is open.
        """
        if not self.closed:
            raise GeometryError("an open contour has no area")
        origin = self.starts[0]
        p, q = self.starts - origin, self.ends - origin
        triangles = float((p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]).sum()) / 2
        arcs = self.is_arc
        theta = self.sweeps[arcs]
        cube = theta**3 * (1 / 6 - theta**2 / 120)  # θ − sin θ without cancellation
        excess = np.where(np.abs(theta) < 1e-2, cube, theta - np.sin(theta))
        return triangles + float((self.radii[arcs] ** 2 * excess).sum()) / 2

    @property
    def is_counter_clockwise(self) -> bool:
        """Whether the area is positive."""
        return self.area > 0

    @lazy
    def bounding_box(self) -> tuple[float, float, float, float]:
        """Smallest and greatest x and y as (x_min, y_min, x_max, y_max), mm, exact for arcs."""
        points, arcs = self.vertices[:, :2], self.is_arc
        if arcs.any():
            furthest, _ = arc_extremes(
                self.starts[arcs], self.centres[arcs], self.radii[arcs], self.sweeps[arcs]
            )
            points = np.concatenate([points, furthest])
        (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
        return x0, y0, x1, y1

    def _locate(self, s: float) -> tuple[int, float]:
        """Return the segment at length ``s`` from the start, and how far along it (0 to 1)."""
        if not s:
            return 0, 0.0
        total = self.length
        if self.closed:
            s = s % total
        elif not -1e-9 <= s <= total + 1e-9:
            raise GeometryError(f"length along the contour must be 0 to {total:.3f} mm, got {s:.3f}")
        reach = np.cumsum(self.segment_lengths)
        index = min(int(np.searchsorted(reach, s, side="right")), len(self) - 1)
        before = float(reach[index] - self.segment_lengths[index])
        return index, min(max((s - before) / float(self.segment_lengths[index]), 0.0), 1.0)

    def point_at(self, s: float) -> tuple[float, float]:
        """Return the point at length ``s`` mm from the first vertex; wraps round a closed contour.

        Raises:
            GeometryError: ``s`` lies beyond an open contour.

        Example:
            >>> Contour.from_points([(0, 0), (10, 0)], closed=False).point_at(4)
            (4.0, 0.0)
        """
        index, t = self._locate(s)
        x, y = self._evaluate(index, np.array([t]))[0]
        return float(x), float(y)

    def tangent_at(self, s: float) -> tuple[float, float]:
        """Return the unit tangent in the direction of travel at length ``s`` mm.

        At a corner it is the tangent of the segment that leaves it.
        """
        index, t = self._locate(s)
        chord = (self.ends[index] - self.starts[index]) / self._chords[index]
        turn = self.sweeps[index] * (t - 0.5)
        c, n = np.cos(turn), np.sin(turn)
        return float(chord[0] * c - chord[1] * n), float(chord[0] * n + chord[1] * c)

    def _evaluate(self, index: int, t: Floats) -> Floats:
        """Return the points at fractions ``t`` (M,) of segment ``index``, (M, 2)."""
        a, b = self.starts[index], self.ends[index]
        sweep = self.sweeps[index]
        if sweep == 0.0:
            straight: Floats = a + t[:, None] * (b - a)
            return straight
        if abs(sweep) > np.pi:  # the chord of a nearly full turn says little, the centre all
            turn, from_centre = sweep * t, a - self.centres[index]
            round_centre: Floats = self.centres[index] + rotated(from_centre, turn)
            return round_centre
        # From the chord, so that arcs nearly straight, their centre far away, lose no digits.
        along = np.sin(sweep * t / 2) / np.sin(sweep / 2)
        points: Floats = a + along[:, None] * rotated(b - a, sweep * (t - 1.0) / 2)
        return points

    def sample(self, per_segment: int = 4) -> Floats:
        """Return points evenly spread over every segment, its start included, (S · per_segment, 2).

        An open contour's last point is added.
        """
        t = np.arange(per_segment) / per_segment
        sweep = self.sweeps[:, None]
        half = np.where(sweep == 0.0, 1.0, np.sin(sweep / 2))
        along = np.where(sweep == 0.0, t, np.sin(sweep * t / 2) / half)
        turn = sweep * (t - 1.0) / 2
        chord = self.ends - self.starts
        dx, dy, cos, sin = chord[:, :1], chord[:, 1:], np.cos(turn), np.sin(turn)
        points = np.stack([along * (cos * dx - sin * dy), along * (sin * dx + cos * dy)], axis=2)
        points += self.starts[:, None, :]
        for index in np.flatnonzero(np.abs(self.sweeps) > np.pi).tolist():
            points[index] = self._evaluate(index, t)
        flat: Floats = points.reshape(-1, 2)
        return flat if self.closed else np.vstack([flat, self.ends[-1:]])

    def reversed(self) -> Contour:
        """Return the same contour run the other way; a closed one keeps its first vertex."""
        xy = self.vertices[::-1, :2]
        bulge = np.zeros(len(self.vertices))
        if self.closed:
            xy = np.roll(xy, 1, axis=0)
            bulge = -self.bulges[::-1]
        else:
            bulge[:-1] = -self.bulges[::-1]
        return Contour(np.column_stack([xy, bulge]), self.closed)

    def counter_clockwise(self) -> Contour:
        """Return the contour run counter-clockwise."""
        return self if self.is_counter_clockwise else self.reversed()

    def as_circle(self, tolerance: float = 1e-9) -> tuple[float, float, float] | None:
        """Return ``(x, y, diameter)`` if the contour is one full circle, else None."""
        if not self.closed or not self.is_arc.all():
            return None
        if len(self.vertices) == 2:  # two half turns the same way, as `circle` draws one
            (x0, y0, one), (x1, y1, other) = self.vertices.tolist()
            if one == other and abs(one) == 1.0:
                return (x0 + x1) / 2, (y0 + y1) / 2, float(self._chords[0])
        if abs(abs(float(self.sweeps.sum())) - 2 * np.pi) > 1e-9:
            return None
        centre, radius = self.centres.mean(axis=0), float(self.radii.mean())
        if np.abs(self.centres - centre).max() > tolerance or np.abs(self.radii - radius).max() > tolerance:
            return None
        return float(centre[0]), float(centre[1]), 2 * radius

    def distance_to(self, points: ArrayLike) -> Floats:
        """Return the distance of each point from the contour's line (not its inside), mm.

        Args:
            points: array of shape (M, 2), mm.

        Returns:
            Array of shape (M,), never negative.
        """
        array = np.atleast_2d(np.asarray(points, dtype=np.float64))
        step = max(1, _CHUNK // len(self))
        parts = [self._some_distances(array[i : i + step]) for i in range(0, len(array), step)]
        return np.concatenate(parts) if parts else np.empty(0)

    def _some_distances(self, points: Floats) -> Floats:
        best = np.full(len(points), np.inf)
        px, py = points[:, :1], points[:, 1:]
        lines = ~self.is_arc
        if lines.any():
            ax, ay = self.starts[lines].T
            dx, dy = (self.ends[lines] - self.starts[lines]).T
            x, y = px - ax, py - ay
            t = np.clip((x * dx + y * dy) / (dx * dx + dy * dy), 0.0, 1.0)
            best = np.hypot(x - t * dx, y - t * dy).min(axis=1)
        arcs = self.is_arc
        if arcs.any():
            starts, centres, sweep = self.starts[arcs], self.centres[arcs], self.sweeps[arcs]
            (ax, ay), (bx, by), (cx, cy) = starts.T, self.ends[arcs].T, centres.T
            ox, oy = (starts - centres).T
            x, y = px - cx, py - cy
            turn = np.arctan2(y, x) - np.arctan2(oy, ox)
            on_arc = np.mod(turn * np.sign(sweep), 2 * np.pi) <= np.abs(sweep)
            # |p − c| − r as a quotient of differences from the arc's start: with the centre far away
            # (arcs nearly straight) the plain difference would lose every digit.
            sx, sy = px - ax, py - ay
            power = sx * sx + sy * sy + 2 * (sx * ox + sy * oy)
            radial = np.abs(power) / (np.hypot(x, y) + self.radii[arcs])
            ends = np.minimum(np.hypot(sx, sy), np.hypot(px - bx, py - by))
            best = np.minimum(best, np.where(on_arc, radial, ends).min(axis=1))
        return best

    def contains(self, points: ArrayLike) -> Flags:
        """Return which points lie inside a closed contour (even–odd), exact for arcs, (M,).

        Args:
            points: array of shape (M, 2), mm.

        Raises:
            GeometryError: the contour is open.
        """
        if not self.closed:
            raise GeometryError("an open contour has no inside")
        p = np.atleast_2d(np.asarray(points, dtype=np.float64))[:, None, :]
        a, b = self.starts, self.ends
        straddles = (a[:, 1] > p[:, :, 1]) != (b[:, 1] > p[:, :, 1])
        side = (b[:, 0] - a[:, 0]) * (p[:, :, 1] - a[:, 1]) - (p[:, :, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
        # Inside is what lies an odd number of times in the chord polygon and in the segments between chords
        # and arcs. A point exactly on a line counts as a little to the right of it and, by less, above: on a
        # chord it then lies in the polygon or beyond the chord, never in both or in neither.
        up = (b[:, 1] > a[:, 1]) | ((b[:, 1] == a[:, 1]) & (b[:, 0] < a[:, 0]))
        left = (side > 0) | ((side == 0) & ~up)
        count = (straddles & (left == up)).sum(axis=1)
        arcs = self.is_arc
        if arcs.any():
            rel = p - self.centres[arcs]
            in_disc = np.hypot(rel[:, :, 0], rel[:, :, 1]) < self.radii[arcs]
            beyond_chord = np.where(self.bulges[arcs] > 0, ~left[:, arcs], left[:, arcs])
            count = count + (in_disc & beyond_chord).sum(axis=1)
        odd: Flags = (count % 2).astype(bool)
        return odd


def chords_of(starts: Floats, ends: Floats) -> Floats:
    """Return the lengths of segments' chords, (S,) mm."""
    delta = ends - starts
    return np.hypot(delta[:, 0], delta[:, 1])


def radii_of(chords: Floats, bulges: Floats, arcs: Flags) -> Floats:
    """Return the radii of segments, infinite for lines, (S,) mm."""
    radii = np.full(len(bulges), np.inf)
    b = bulges[arcs]
    radii[arcs] = chords[arcs] * (1.0 + b * b) / (4.0 * np.abs(b))
    return radii


def _centres(starts: Floats, ends: Floats, bulges: Floats, arcs: Flags) -> Floats:
    centres = np.full((len(bulges), 2), np.nan)
    a, z, b = starts[arcs], ends[arcs], bulges[arcs, None]
    chord = z - a
    left = np.column_stack([-chord[:, 1], chord[:, 0]])
    centres[arcs] = (a + z) / 2 + left * (1.0 - b * b) / (4.0 * b)
    return centres


def lengths_of(chords: Floats, radii: Floats, sweeps: Floats, arcs: Flags) -> Floats:
    """Return the lengths of segments, exact for arcs, (S,) mm."""
    lengths = chords.copy()
    lengths[arcs] = radii[arcs] * np.abs(sweeps[arcs])
    return lengths


def rotated(vectors: Floats, angles: Floats) -> Floats:
    """Return one vector turned by each angle, or each vector by its own, (M, 2)."""
    cos, sin = np.cos(angles), np.sin(angles)
    x, y = vectors.T
    return np.column_stack([cos * x - sin * y, sin * x + cos * y])


def through_points(
    start: tuple[float, float], middle: tuple[float, float], end: tuple[float, float]
) -> float:
    """Return the bulge of the arc from ``start`` to ``end`` that passes through ``middle``.

    Points in one line give 0. Exact inscribed-angle form: the angle seen from the middle point is
    π − sweep / 2.

    Example:
        >>> round(through_points((1, 0), (0, 1), (-1, 0)), 12)
        1.0
    """
    ax, ay = start[0] - middle[0], start[1] - middle[1]
    bx, by = end[0] - middle[0], end[1] - middle[1]
    seen = np.arctan2(ax * by - ay * bx, ax * bx + ay * by)
    half_sweep = np.copysign(np.pi, seen) - seen if seen else 0.0
    bulge = -float(np.tan(half_sweep / 2))
    return 0.0 if abs(bulge) < STRAIGHT_BULGE else bulge


def arc_extremes(starts: Floats, centres: Floats, radii: Floats, sweeps: Floats) -> tuple[Floats, Ints]:
    """Return where arcs reach furthest along x and y between their ends, (K, 2) mm, and which arc it is of.

    Args:
        starts: (A, 2) mm.
        centres: (A, 2) mm.
        radii: (A,) mm.
        sweeps: signed, (A,) radians.
    """
    quarters = np.array([0.0, 0.5, 1.0, 1.5]) * np.pi
    ways = np.array([(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)])
    out = starts - centres
    turned = (quarters - np.arctan2(out[:, 1], out[:, 0])[:, None]) * np.sign(sweeps)[:, None]
    arc, way = np.nonzero(np.mod(turned, 2 * np.pi) / np.abs(sweeps)[:, None] <= 1.0)
    return centres[arc] + radii[arc, None] * ways[way], arc
