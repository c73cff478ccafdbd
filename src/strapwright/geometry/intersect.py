"""Where two lines or arcs meet, and whether a contour crosses itself."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.tolerances import COINCIDENT

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour

Point = tuple[float, float]

_BOXES_TOUCH: Final = 1e-6
"""Segments whose boxes are further apart than this cannot meet, mm."""

_CROSSES: Final = 1e-7
"""Segments of a contour that are not neighbours stay apart by more than this, mm."""

_AT_VERTEX: Final = 1e-5
"""Two neighbours meet so near their common vertex, mm."""


@dataclass(frozen=True, slots=True)
class Segment:
    """One line or arc as plain numbers: scalar work is faster here than arrays of one.

    Args:
        start: first point, mm.
        end: last point, mm.
        bulge: as in a contour.
        centre: of the arc; not used for a line.
        radius: of the arc; 0 for a line.
    """

    start: Point
    end: Point
    bulge: float = 0.0
    centre: Point = (0.0, 0.0)
    radius: float = 0.0

    @property
    def sweep(self) -> float:
        """Signed sweep in radians, 0 for a line."""
        return 4.0 * math.atan(self.bulge)

    @property
    def length(self) -> float:
        """Length in mm."""
        if self.bulge:
            return self.radius * abs(self.sweep)
        return math.dist(self.start, self.end)

    def fraction(self, point: Point) -> float:
        """Return how far along the segment a point lies; below 0 or over 1 beyond its ends."""
        if not self.bulge:
            dx, dy = self.end[0] - self.start[0], self.end[1] - self.start[1]
            px, py = point[0] - self.start[0], point[1] - self.start[1]
            return (px * dx + py * dy) / (dx * dx + dy * dy)
        sweep = self.sweep
        ax, ay = self.start[0] - self.centre[0], self.start[1] - self.centre[1]
        bx, by = point[0] - self.centre[0], point[1] - self.centre[1]
        angle = math.atan2(ax * by - ay * bx, ax * bx + ay * by) * math.copysign(1.0, sweep)
        total = abs(sweep)
        # The point's angle is known only up to whole turns: take the one nearest to the arc's middle.
        angle += 2 * math.pi * round((total / 2 - angle) / (2 * math.pi))
        return angle / total

    def point(self, t: float) -> Point:
        """Return the point at fraction ``t``."""
        if t <= 0.0:
            return self.start
        if t >= 1.0:
            return self.end
        if not self.bulge:
            return (
                self.start[0] + t * (self.end[0] - self.start[0]),
                self.start[1] + t * (self.end[1] - self.start[1]),
            )
        c, s = math.cos(self.sweep * t), math.sin(self.sweep * t)
        ax, ay = self.start[0] - self.centre[0], self.start[1] - self.centre[1]
        return self.centre[0] + c * ax - s * ay, self.centre[1] + s * ax + c * ay

    def part(self, t0: float, t1: float, start: Point, end: Point) -> Segment:
        """Return the piece between two fractions, its ends given (so that neighbours share them)."""
        bulge = math.tan(self.sweep * (t1 - t0) / 4) if self.bulge else 0.0
        return Segment(start, end, bulge, self.centre, self.radius)

    def holds(self, point: Point, slack: float) -> bool:
        """Return whether a point on the segment's carrier lies between its ends, give or take ``slack``."""
        length = self.length
        return -slack <= self.fraction(point) * length <= length + slack


def segments_of(contour: Contour) -> list[Segment]:
    """Return the contour's segments in order."""
    rows = zip(
        contour.starts.tolist(),
        contour.ends.tolist(),
        contour.bulges.tolist(),
        contour.centres.tolist(),
        contour.radii.tolist(),
        strict=True,
    )
    return [
        Segment((a[0], a[1]), (b[0], b[1]), k, (c[0], c[1]), r) if k else Segment((a[0], a[1]), (b[0], b[1]))
        for a, b, k, c, r in rows
    ]


def meet(one: Segment, two: Segment, slack: float = COINCIDENT) -> list[Point]:
    """Return the points where two segments meet, within ``slack`` mm of their ends.

    Segments that lie on each other for a length meet where either one ends on the other.
    """
    if one.bulge and two.bulge:
        found = _circle_circle(one, two, slack)
    elif one.bulge:
        found = _line_circle(two, one, slack)
    elif two.bulge:
        found = _line_circle(one, two, slack)
    else:
        found = _line_line(one, two)
    if found is None:
        found = [one.start, one.end, two.start, two.end]
    return [p for p in found if one.holds(p, slack) and two.holds(p, slack)]


def _line_line(one: Segment, two: Segment) -> list[Point] | None:
    ax, ay = one.end[0] - one.start[0], one.end[1] - one.start[1]
    bx, by = two.end[0] - two.start[0], two.end[1] - two.start[1]
    wx, wy = two.start[0] - one.start[0], two.start[1] - one.start[1]
    cross = ax * by - ay * bx
    la, lb = math.hypot(ax, ay), math.hypot(bx, by)
    if abs(cross) <= 1e-12 * la * lb:
        apart = abs(ax * wy - ay * wx) / la
        return None if apart <= COINCIDENT else []
    t = (wx * by - wy * bx) / cross
    return [(one.start[0] + t * ax, one.start[1] + t * ay)]


def _line_circle(line: Segment, arc: Segment, slack: float) -> list[Point]:
    dx, dy = line.end[0] - line.start[0], line.end[1] - line.start[1]
    length = math.hypot(dx, dy)
    ux, uy = dx / length, dy / length
    rx, ry = arc.centre[0] - line.start[0], arc.centre[1] - line.start[1]
    along, off = rx * ux + ry * uy, ux * ry - uy * rx
    foot = (line.start[0] + along * ux, line.start[1] + along * uy)
    rest = (arc.radius - abs(off)) * (arc.radius + abs(off))
    if abs(off) > arc.radius:
        return [foot] if abs(off) - arc.radius <= slack else []
    half = math.sqrt(max(rest, 0.0))
    return [(foot[0] + half * ux, foot[1] + half * uy), (foot[0] - half * ux, foot[1] - half * uy)]


def _circle_circle(one: Segment, two: Segment, slack: float) -> list[Point] | None:
    dx, dy = two.centre[0] - one.centre[0], two.centre[1] - one.centre[1]
    gap = math.hypot(dx, dy)
    if gap <= COINCIDENT:
        return None if abs(one.radius - two.radius) <= COINCIDENT else []
    r, s = one.radius, two.radius
    ux, uy = dx / gap, dy / gap
    along = (gap * gap + (r - s) * (r + s)) / (2 * gap)
    rest = (r - along) * (r + along)
    foot = (one.centre[0] + along * ux, one.centre[1] + along * uy)
    if rest < 0:
        miss = max(gap - (r + s), abs(r - s) - gap)
        return [foot] if miss <= slack else []
    half = math.sqrt(rest)
    return [(foot[0] - half * uy, foot[1] + half * ux), (foot[0] + half * uy, foot[1] - half * ux)]


def boxes(segments: list[Segment]) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return a box round each segment, (S, 4) as x_min, y_min, x_max, y_max; for arcs it may be loose."""
    out = np.empty((len(segments), 4))
    for row, seg in enumerate(segments):
        (x0, y0), (x1, y1) = seg.start, seg.end
        # An arc stays within its sagitta of its chord, on either side.
        grow = abs(seg.bulge) * math.hypot(x1 - x0, y1 - y0) / 2
        if abs(seg.bulge) > 1:
            grow = 2 * seg.radius
        out[row] = min(x0, x1) - grow, min(y0, y1) - grow, max(x0, x1) + grow, max(y0, y1) + grow
    return out


def near_pairs(segments: list[Segment]) -> list[tuple[int, int]]:
    """Return the pairs of segments whose boxes touch, ``i < j``."""
    box = boxes(segments)
    low, high = box[:, :2] - _BOXES_TOUCH, box[:, 2:]
    touch = ((low[:, None, :] <= high[None, :, :]) & (low[None, :, :] <= high[:, None, :])).all(axis=2)
    i, j = np.nonzero(np.triu(touch, 1))
    return list(zip(i.tolist(), j.tolist(), strict=True))


def self_crossing(contour: Contour) -> Point | None:
    """Return a point where the contour touches or crosses itself, or None for a simple contour.

    Neighbouring segments may share their common vertex and nothing else; every other pair must stay
    apart by more than 1e-7 mm.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> bow_tie = Contour.from_points([(0, 0), (2, 2), (2, 0), (0, 2)])
        >>> self_crossing(bow_tie)
        (1.0, 1.0)
    """
    segments = segments_of(contour)
    count = len(segments)
    for i, j in near_pairs(segments):
        shared = []
        if j == i + 1:
            shared.append(segments[i].end)
        if contour.closed and i == 0 and j == count - 1:
            shared.append(segments[0].start)
        for point in meet(segments[i], segments[j], _CROSSES):
            if all(math.dist(point, vertex) > _AT_VERTEX for vertex in shared):
                return point
    return None
