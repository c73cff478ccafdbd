"""Many contours at once: where their points lie and how far each set of points is from its own contour.

A file has thousands of short runs. Asked one by one, nearly all the time goes into asking.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from strapwright.geometry.contour import arc_extremes, chords_of, lengths_of, radii_of, rotated

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Flags, Floats, Ints
    from strapwright.geometry.contour import Contour


_CHUNK = 100_000
"""Point–segment pairs worked on at once: few enough to stay near the processor."""


@dataclass(frozen=True, eq=False)
class Many:
    """The segments of several contours, one contour's after the other's.

    Args:
        starts: (S, 2), mm.
        ends: (S, 2), mm.
        bulges: (S,).
        counts: how many segments each contour has, (C,); one with none is infinitely far from everything.
        closed: which contours are closed, (C,).

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> both = Many.of([Contour.circle(0, 0, 4), Contour.circle(9, 0, 2)])
        >>> both.distances(np.array([(0.0, 0.0), (1.0, 0.0), (9.0, 5.0)]), np.array([2, 1])).tolist()
        [2.0, 1.0, 4.0]
    """

    starts: Floats
    ends: Floats
    bulges: Floats
    counts: Ints
    closed: Flags

    @classmethod
    def of(cls, contours: Sequence[Contour]) -> Many:
        """Return the segments of contours, at least one."""
        every = np.concatenate([contour.vertices for contour in contours])
        stops = np.cumsum([len(contour.vertices) for contour in contours])
        closed = np.array([contour.closed for contour in contours])
        onward = np.arange(1, len(every) + 1)
        onward[stops - 1] = np.append(0, stops[:-1])
        leads = np.ones(len(every), dtype=bool)
        leads[stops[~closed] - 1] = False  # nothing leads from an open contour's last vertex
        counts = np.diff(stops, prepend=0) - ~closed
        return cls(every[leads, :2], every[onward[leads], :2], every[leads, 2], counts, closed)

    @cached_property
    def chords(self) -> Floats:
        """Length of each segment's chord in mm; (S,)."""
        return chords_of(self.starts, self.ends)

    @cached_property
    def is_arc(self) -> Flags:
        """Which segments are arcs, (S,)."""
        arcs: Flags = self.bulges != 0.0
        return arcs

    @cached_property
    def sweeps(self) -> Floats:
        """Signed sweep of each segment in radians, 0 for lines; (S,)."""
        return 4.0 * np.arctan(self.bulges)

    @cached_property
    def radii(self) -> Floats:
        """Radius of each arc in mm, infinite for lines; (S,)."""
        return radii_of(self.chords, self.bulges, self.is_arc)

    @cached_property
    def centres(self) -> Floats:
        """Centre of each arc in mm, not-a-number for lines; (S, 2)."""
        return self.starts - self.from_centres

    @cached_property
    def from_centres(self) -> Floats:
        """From each arc's centre to its start, mm; not-a-number for lines; (S, 2)."""
        chord = self.ends - self.starts
        left = np.column_stack([-chord[:, 1], chord[:, 0]])
        b = np.where(self.bulges == 0.0, np.nan, self.bulges)[:, None]
        return -(chord / 2 + left * (1.0 - b * b) / (4.0 * b))

    @cached_property
    def lengths(self) -> Floats:
        """Length of each contour in mm, exact for arcs; (C,)."""
        lengths = lengths_of(self.chords, self.radii, self.sweeps, self.is_arc)
        return np.add.reduceat(lengths, np.cumsum(self.counts) - self.counts)

    @cached_property
    def boxes(self) -> Floats:
        """Least and greatest x and y of each contour, exact for arcs, (C, 4) mm."""
        arcs = self.is_arc
        of = np.repeat(np.arange(len(self.counts)), self.counts)
        points, arc = arc_extremes(self.starts[arcs], self.centres[arcs], self.radii[arcs], self.sweeps[arcs])
        every = np.concatenate([self.starts, self.ends, points])
        order = np.argsort(np.concatenate([of, of, of[arcs][arc]]), kind="stable")
        counts = 2 * self.counts + np.bincount(of[arcs][arc], minlength=len(self.counts))
        firsts = np.cumsum(counts) - counts
        return np.column_stack(
            [least.reduceat(every[order], firsts, axis=0) for least in (np.minimum, np.maximum)]
        )

    def at(self, segments: Ints, shares: Floats) -> Floats:
        """Return points on segments, (M, 2) mm.

        Args:
            segments: (M,), each point's.
            shares: how far along it, 0 to 1, (M,).
        """
        sweep, a = self.sweeps[segments], self.starts[segments]
        chord = self.ends[segments] - a
        # From the chord, so that arcs nearly straight, their centre far away, lose no digits; but from the
        # centre where the arc is a nearly full turn, whose chord says little.
        wide = np.abs(sweep) > np.pi
        half = np.where(sweep == 0.0, 1.0, np.sin(sweep / 2))
        along = np.where(sweep == 0.0, shares, np.sin(sweep * shares / 2) / half)
        points: Floats = a + along[:, None] * rotated(chord, sweep * (shares - 1.0) / 2)
        if wide.any():
            out = self.from_centres[segments[wide]]
            points[wide] = a[wide] - out + rotated(out, sweep[wide] * shares[wide])
        return points

    def sample(self, per_segment: int = 4) -> tuple[Floats, Ints]:
        """Return points evenly spread over every segment, as `Contour.sample` does, and how many of each.

        Returns:
            Points (M, 2), one contour's after the other's, and their counts (C,).
        """
        counts = self.counts * per_segment + ~self.closed
        shares = np.tile(np.arange(per_segment) / per_segment, len(self.starts))
        points = np.empty((int(counts.sum()), 2))
        last = np.cumsum(counts)[~self.closed] - 1
        spread = np.ones(len(points), dtype=bool)
        spread[last] = False
        points[spread] = self.at(np.repeat(np.arange(len(self.starts)), per_segment), shares)
        points[last] = self.ends[np.cumsum(self.counts)[~self.closed] - 1]
        return points, counts

    def distances(self, points: Floats, counts: Ints) -> Floats:
        """Return the distance of each point from the line of its own contour, (M,) mm.

        Args:
            points: (M, 2) mm, the first contour's first.
            counts: how many of them belong to each contour, (C,).
        """
        out = np.empty(len(points))
        pairs = np.cumsum(counts * self.counts)
        point_ends, segment_ends = np.cumsum(counts), np.cumsum(self.counts)
        first = 0
        while first < len(counts):
            done = int(pairs[first - 1]) if first else 0
            last = max(first + 1, int(np.searchsorted(pairs, done + _CHUNK, side="right")))
            p = slice(int(point_ends[first] - counts[first]), int(point_ends[last - 1]))
            s = slice(int(segment_ends[first] - self.counts[first]), int(segment_ends[last - 1]))
            out[p] = self._some(points[p], counts[first:last], s, self.counts[first:last])
            first = last
        return out

    def _some(self, points: Floats, counts: Ints, part: slice, segments: Ints) -> Floats:
        owner = np.repeat(np.arange(len(counts)), counts)
        arcs = self.is_arc[part]
        of = np.repeat(np.arange(len(segments)), segments)
        best = np.full(len(points), np.inf)
        for kind, away in ((~arcs, self._from_lines), (arcs, self._from_arcs)):
            of_kind = np.bincount(of[kind], minlength=len(segments))
            each = of_kind[owner]
            some = each > 0
            if not some.any():
                continue
            firsts = np.cumsum(each) - each
            point = np.repeat(np.arange(len(points)), each)
            before = (np.cumsum(of_kind) - of_kind)[owner]
            index = np.flatnonzero(kind) + part.start
            segment = index[np.arange(len(point)) + np.repeat(before - firsts, each)]
            best[some] = np.minimum(
                best[some], np.minimum.reduceat(away(points[point], segment), firsts[some])
            )
        return best

    def _from_lines(self, points: Floats, segments: Ints) -> Floats:
        x, y = (points - self.starts[segments]).T
        dx, dy = (self.ends - self.starts)[segments].T
        t = np.clip((x * dx + y * dy) / (dx * dx + dy * dy), 0.0, 1.0)
        return _long(x - t * dx, y - t * dy)

    def _from_arcs(self, points: Floats, segments: Ints) -> Floats:
        sweep = self.sweeps[segments]
        ax, ay = (points - self.starts[segments]).T
        bx, by = (points - self.ends[segments]).T
        ox, oy = self.from_centres[segments].T
        x, y = ax + ox, ay + oy
        # An arc of no more than a half turn faces what lies on its side of both its radii, a longer one
        # what lies on its side of either.
        past_start = np.sign(sweep) * (ox * y - oy * x) >= 0.0
        before_end = np.sign(sweep) * (x * (y - by) - y * (x - bx)) >= 0.0
        faces = np.where(np.abs(sweep) <= np.pi, past_start & before_end, past_start | before_end)
        # |p − c| − r as a quotient of differences from the arc's start: with the centre far away the plain
        # difference would lose every digit.
        power = ax * ax + ay * ay + 2 * (ax * ox + ay * oy)
        radial = np.abs(power) / (_long(x, y) + _long(ox, oy))
        ends = np.sqrt(np.minimum(ax * ax + ay * ay, bx * bx + by * by))
        away: Floats = np.where(faces, radial, ends)
        return away


def greatest_of_each(values: Floats, counts: Ints) -> Floats:
    """Return the greatest of each group of values, (C,).

    Args:
        values: (M,), one group's after the other's.
        counts: how many each group has, (C,), each at least 1.

    Example:
        >>> greatest_of_each(np.array([1.0, 5.0, 2.0]), np.array([2, 1])).tolist()
        [5.0, 2.0]
    """
    return np.maximum.reduceat(values, np.cumsum(counts) - counts)


def _long(x: Floats, y: Floats) -> Floats:
    """Return the lengths of vectors: at millimetres no care for overflow is needed, which `hypot` takes."""
    return np.sqrt(x * x + y * y)
