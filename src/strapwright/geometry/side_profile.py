"""The course of a strap seen from the side: the lines and arcs that its middle line follows.

The plane is the one through the strap's centre line: x along the front layer, z up, the buckle bar's
centre at the origin. s runs along the strap as everywhere: 0 in the middle of the fold, + towards the tip.
Left of the way of travel lies the grain, right of it the flesh.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Sequence

    Point = tuple[float, float]
    Line = list[tuple[str, list[Point]]]

SMOOTH: Final = 1e-6
"""Headings that differ by less, rad, are one."""

NEAR: Final = 1e-9
"""Places along the strap that differ by less, mm, are one."""


@dataclass(frozen=True)
class Stretch:
    """A line or arc of the course.

    Args:
        start: s where it begins, mm.
        end: s where it ends, mm.
        x: of its first point, mm.
        z: of its first point, mm.
        heading: where it sets out to, rad, counter-clockwise from +x.
        curvature: 1/radius, 1/mm, + to the left; 0 for a line.

    Example:
        >>> quarter = Stretch(0.0, 5.0 * math.pi, 0.0, 0.0, 0.0, 0.1)
        >>> x, z = quarter.point(5.0 * math.pi)
        >>> round(x, 9), round(z, 9)
        (10.0, 10.0)
    """

    start: float
    end: float
    x: float
    z: float
    heading: float
    curvature: float = 0.0

    def heading_at(self, s: float) -> float:
        """Return where the strap heads at s, rad."""
        return self.heading + self.curvature * (s - self.start)

    def point(self, s: float, offset: float = 0.0) -> Point:
        """Return the point at s, moved to the left by an offset, mm."""
        way, turned = s - self.start, self.heading_at(s)
        if self.curvature:
            radius = 1.0 / self.curvature
            x = self.x + radius * (math.sin(turned) - math.sin(self.heading))
            z = self.z - radius * (math.cos(turned) - math.cos(self.heading))
        else:
            x, z = self.x + way * math.cos(self.heading), self.z + way * math.sin(self.heading)
        return x - offset * math.sin(turned), z + offset * math.cos(turned)


@dataclass(frozen=True)
class Course:
    """Stretches end to end, in the order of s."""

    stretches: tuple[Stretch, ...]

    @property
    def start(self) -> float:
        """Least s, the end of the turn-back."""
        return self.stretches[0].start

    @property
    def end(self) -> float:
        """Greatest s, the tip."""
        return self.stretches[-1].end

    def on(self, s: float) -> Stretch:
        """Return the stretch s lies on; at a joint the one that begins there."""
        return next((one for one in reversed(self.stretches) if one.start <= s + NEAR), self.stretches[0])

    def point(self, s: float, offset: float = 0.0) -> Point:
        """Return the point at s, moved to the left by an offset, mm."""
        return self.on(s).point(s, offset)

    def heading_at(self, s: float) -> float:
        """Return where the strap heads at s, rad."""
        return self.on(s).heading_at(s)

    def face(self, start: float, end: float, height: Height, knots: Sequence[float] = ()) -> Line:
        """Return the line of a face over the course, whole where the course turns sharply.

        On the inner side of a kink its two lines end where they meet; on the outer side an arc joins them.

        Args:
            start: s where it begins, mm.
            end: s where it ends, mm.
            height: of the face over the course.
            knots: s of further places at which a line is to end, mm.

        Returns:
            Runs of ``("line", [p, q])`` and ``("arc", [p, middle, q])``, mm.
        """
        pieces = []
        for one in self.stretches:
            lo, hi = max(one.start, start), min(one.end, end)
            inside = (knot for knot in sorted({*height.knots, *knots}) if lo + NEAR < knot < hi - NEAR)
            pieces += [(one, a, b) for a, b in pairwise([lo, *inside, hi]) if b - a > NEAR]
        run: Line = []
        for index, (one, a, b) in enumerate(pieces):
            p, q = one.point(a, height(a)), one.point(b, height(b))
            if index and pieces[index - 1][0] is not one:
                p, joint = _joint(pieces[index - 1][0], one, a, height(a))
                if joint:
                    run.append(("arc", joint))
                    p = joint[2]
            if index + 1 < len(pieces) and pieces[index + 1][0] is not one:
                q, joint = _joint(one, pieces[index + 1][0], b, height(b))
                if joint:
                    q = joint[0]
            if one.curvature:
                middle = (a + b) / 2
                run.append(("arc", [p, one.point(middle, (height(a) + height(b)) / 2), q]))
            else:
                run.append(("line", [p, q]))
        return run


def _joint(before: Stretch, after: Stretch, s: float, offset: float) -> tuple[Point, list[Point]]:
    """Return where a face turns at a joint: one point, and on the outer side of a kink an arc round it."""
    turn = math.remainder(after.heading - before.heading_at(s), 2 * math.pi)
    if abs(turn) < SMOOTH:
        return after.point(s, offset), []
    middle = before.heading_at(s) + turn / 2
    x, z = after.point(s)
    if turn * offset < 0:  # the outer side: as far from the kink as from anywhere else
        round_it = (x - offset * math.sin(middle), z + offset * math.cos(middle))
        return round_it, [before.point(s, offset), round_it, after.point(s, offset)]
    far = offset / math.cos(turn / 2)
    return (x - far * math.sin(middle), z + far * math.cos(middle)), []


@dataclass(frozen=True)
class Height:
    """How far left of the course a face lies, straight from knot to knot and level beyond them.

    Args:
        knots: s of the knots, rising, mm.
        values: the height at each, mm.

    Example:
        >>> Height((0.0, 10.0), (1.0, 2.0))(5.0)
        1.5
    """

    knots: tuple[float, ...]
    values: tuple[float, ...]

    def __call__(self, s: float) -> float:
        """Return the height at s, mm."""
        if s <= self.knots[0]:
            return self.values[0]
        for (a, b), (u, v) in zip(pairwise(self.knots), pairwise(self.values), strict=True):
            if s <= b:
                return u + (v - u) * (s - a) / (b - a)
        return self.values[-1]


class Pen:
    """Draws a course: each call adds a stretch that sets out from the end of the last.

    Args:
        x: where it begins, mm.
        z: where it begins, mm.
        s: of that place, mm.
        heading: rad.
    """

    def __init__(self, x: float, z: float, s: float, heading: float) -> None:
        self.x, self.z, self.s, self.heading = x, z, s, heading
        self.stretches: list[Stretch] = []

    def _add(self, length: float, curvature: float) -> None:
        if length < NEAR:
            return
        one = Stretch(self.s, self.s + length, self.x, self.z, self.heading, curvature)
        self.stretches.append(one)
        self.x, self.z = one.point(one.end)
        self.s, self.heading = one.end, one.heading_at(one.end)

    def line(self, length: float) -> None:
        """Go straight on, mm."""
        self._add(length, 0.0)

    def line_to(self, x: float, z: float) -> None:
        """Turn towards a point and go there."""
        turn = math.atan2(z - self.z, x - self.x) - self.heading
        self.heading += math.remainder(turn, 2 * math.pi)
        self._add(math.hypot(x - self.x, z - self.z), 0.0)

    def arc(self, radius: float, sweep: float) -> None:
        """Go round an arc: a positive sweep, rad, turns left."""
        self._add(radius * abs(sweep), math.copysign(1.0 / radius, sweep))

    def course(self) -> Course:
        """Return what has been drawn."""
        return Course(tuple(self.stretches))


def leaves_circle(radius: float, x: float, z: float) -> float:
    """Return where the tangent to a point leaves the circle about the origin, rad round from its top.

    The way leads from the top over the back (−x) and the bottom.

    Args:
        radius: of the circle, mm.
        x: of the point, mm.
        z: of the point, mm.

    Raises:
        ValueError: the point lies in the circle.

    Example:
        >>> round(math.degrees(leaves_circle(4.0, 20.0, -4.0)), 6)
        180.0
    """
    reach = math.hypot(x, z)
    if reach <= radius:
        raise ValueError(f"a clamped place {reach:.1f} mm from the bar's centre is within the fold")
    return 1.5 * math.pi + math.atan2(z, x) - math.acos(radius / reach)


@dataclass(frozen=True)
class Rise:
    """The way of a middle line that comes from below a bar, round it to the left, and straight up to a point.

    Args:
        radius: of the middle line round the bar, mm.
        x: of the point, from the bar's centre along the way it came, mm.
        turn: how far it goes round the bar, rad.
        straight: from there to the point, mm.
    """

    radius: float
    x: float
    turn: float
    straight: float

    @property
    def climb(self) -> float:
        """How much longer it is than the way along, from under the bar's centre to below the point, mm."""
        return self.radius * self.turn + self.straight - self.x


def rise_round(radius: float, x: float, z: float) -> Rise:
    """Return the tightest way round a bar from below and up to a point.

    A point nearer to the bar than the line is taken to lie on its round: leather gives.

    Args:
        radius: of the middle line round the bar, mm.
        x: of the point, from the bar's centre along the way the line comes, mm.
        z: of the point, over the bar's centre, mm.

    Example:
        >>> rise = rise_round(4.0, 4.0, 6.0)  # straight up beside the bar: a quarter turn and 6 mm
        >>> round(math.degrees(rise.turn), 6), round(rise.straight, 6), round(rise.climb, 4)
        (90.0, 6.0, 8.2832)
    """
    reach = max(math.hypot(x, z), radius)
    turn = math.atan2(z, x) - math.acos(radius / reach) + math.pi / 2
    return Rise(radius, x, turn, math.sqrt(reach**2 - radius**2))


def turned_round(radius: float, places: Sequence[Point], turn_back: float) -> Pen:
    """Draw the turn-back from its end to the bar, and the half-turn.

    Args:
        radius: of the middle line round the bar, mm.
        places: what it is led past, from the bar outwards, mm; beyond the last it goes on along x.
        turn_back: its length from the middle of the fold, mm.

    Returns:
        A pen on top of the bar that heads along the front.

    Raises:
        ValueError: the first place lies within the fold.
    """
    tau = leaves_circle(radius, *places[0])
    points = [(-radius * math.sin(tau), radius * math.cos(tau)), *places]
    s = (math.pi / 2 - tau) * radius - sum(math.dist(p, q) for p, q in pairwise(points))
    if s > -turn_back:
        points.append((places[-1][0] + s + turn_back, places[-1][1]))
        s = -turn_back
    pen = Pen(*points[-1], s, math.pi)
    for x, z in reversed(points[:-1]):
        pen.line_to(x, z)
    pen.arc(radius, -tau)
    pen.heading = 0.0
    return pen
