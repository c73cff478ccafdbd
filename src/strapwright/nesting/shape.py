"""A part in one turn, ready to be slid along rows: how far it reaches left and right at each height.

The nest treats every part as its convex hull. Straps with the usual tips and keepers are convex, or
so nearly that nothing is lost; a hollow part is given a little more room than it needs, never less.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from strapwright.errors import NestError
from strapwright.geometry.polygon import to_polygon
from strapwright.geometry.transform import turned
from strapwright.tolerances import NESTING_CHORD

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from strapwright.parts.part import Part

    Floats = NDArray[np.float64]

_ROUND = 64
"""Sides of the polygon drawn round the gap's circle: at most 0.12 % more gap than asked, at corners."""

_SAME = 1e-6
"""Two turns whose corners all agree this nearly, in mm, are one turn: a strip turned half round."""

_TOUCH = 1e-9
"""Heights that overlap by less than this only touch, mm."""


@dataclass(frozen=True, eq=False)
class Profile:
    """The left and right side of a convex shape as functions of height.

    Args:
        y: heights of the corners, increasing, (K,) mm.
        left: smallest x at each height, (K,) mm; straight between heights.
        right: greatest x at each height, (K,) mm.
    """

    y: Floats
    left: Floats
    right: Floats


@dataclass(frozen=True, eq=False)
class Shape:
    """A part's hull in one turn, with the lower left corner of its box at (0, 0).

    Args:
        turn: quarter turns from the strap direction, radians.
        hull: corners, counter-clockwise, (M, 2) mm.
        body: the hull's sides.
        grown: the sides of the hull grown by the gap kept between parts, in the same frame.
        length: extent along the strap direction, mm.
        height: extent across it, mm.
        origin: where the part's own origin lies, mm.
    """

    turn: float
    hull: Floats
    body: Profile
    grown: Profile
    length: float
    height: float
    origin: tuple[float, float]


def profile_of(hull: Floats) -> Profile:
    """Return the sides of a convex polygon.

    Args:
        hull: corners in order, counter-clockwise, (M, 2) mm.

    Example:
        >>> profile_of(np.array([(0.0, 0.0), (4.0, 1e-15), (2.0, 2.0)])).right.tolist()
        [4.0, 2.0]
    """
    # The two ends of a level side, a rounding apart, are at one height: heights on a hide could not
    # tell them apart either, and the side would shrink to one of its ends.
    lowest, highest = hull[:, 1].min(), hull[:, 1].max()
    low = np.flatnonzero(hull[:, 1] <= lowest + _TOUCH)
    high = np.flatnonzero(hull[:, 1] >= highest - _TOUCH)
    hull = hull.copy()
    hull[low, 1], hull[high, 1] = lowest, highest
    y = np.unique(hull[:, 1])
    right_start = int(low[np.argmax(hull[low, 0])])
    right_end = int(high[np.argmax(hull[high, 0])])
    left_start = int(high[np.argmin(hull[high, 0])])
    left_end = int(low[np.argmin(hull[low, 0])])
    right = _run(hull, right_start, right_end)
    left = _run(hull, left_start, left_end)[::-1]
    return Profile(y, np.interp(y, left[:, 1], left[:, 0]), np.interp(y, right[:, 1], right[:, 0]))


def _run(points: Floats, first: int, last: int) -> Floats:
    """Return the corners from ``first`` to ``last``, going round the end where need be."""
    count = (last - first) % len(points)
    return points[(first + np.arange(count + 1)) % len(points)]


def blocked(body: Profile, other: Profile, dy: float) -> tuple[float, float] | None:
    """Return the shifts along x at which a shape would overlap another, or None where it cannot.

    Args:
        body: the sides of the shape that moves.
        other: the sides of the shape that stays, grown by the gap.
        dy: how much higher the moving shape lies, mm.

    Returns:
        The ends of the open run of forbidden x, measured from the other's x; mm.

    Example:
        >>> square = profile_of(np.array([(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)]))
        >>> blocked(square, square, 1.0)
        (-2.0, 2.0)
        >>> blocked(square, square, 2.0) is None
        True
    """
    low = max(float(body.y[0]), float(other.y[0]) - dy)
    high = min(float(body.y[-1]), float(other.y[-1]) - dy)
    if high - low <= _TOUCH:
        return None
    heights = np.clip(np.concatenate([body.y, other.y - dy]), low, high)
    right = np.interp(heights, body.y, body.right)
    left = np.interp(heights, body.y, body.left)
    start = np.interp(heights + dy, other.y, other.left) - right
    stop = np.interp(heights + dy, other.y, other.right) - left
    return float(start.min()), float(stop.max())


def shapes_of(part: Part, gap: float) -> tuple[Shape, ...]:
    """Return a part in each turn it may lie in, without those that are the same outline again.

    Args:
        part: a strap (either end first) or a keeper (quarter turns).
        gap: distance to keep from other parts, mm, not negative.

    Raises:
        NestError: the outline crosses itself.
    """
    from shapely import MultiPoint, Polygon, box

    if not Polygon(to_polygon(part.outline, NESTING_CHORD)).is_valid:
        raise NestError(f"{part.id}: its outline crosses itself; it cannot be nested")
    quarters = (0, 2) if part.kind.lies_along else (0, 1, 2, 3)
    circle = _circle_round(gap)
    out: list[Shape] = []
    for quarter in quarters:
        angle = quarter * math.pi / 2
        outline = turned(part.outline, angle)
        x0, y0, x1, y1 = outline.bounding_box
        around = MultiPoint(to_polygon(outline, NESTING_CHORD, "outward") - (x0, y0))
        # Cut back to the true box: chords round a tip would make the part a hair too long to fit.
        hull = _hull(around.convex_hull & box(0.0, 0.0, x1 - x0, y1 - y0))
        if any(_same_outline(hull, other.hull) for other in out):
            continue
        body = profile_of(hull)
        summed = (hull[:, None, :] + circle[None, :, :]).reshape(-1, 2)
        out.append(
            Shape(
                turn=angle,
                hull=hull,
                body=body,
                grown=profile_of(_hull(MultiPoint(summed))),
                length=x1 - x0,
                height=y1 - y0,
                origin=(-x0, -y0),
            )
        )
    return tuple(out)


def _circle_round(radius: float) -> Floats:
    """Return a polygon that covers the circle and touches it straight up, down, left and right."""
    angles = (np.arange(_ROUND) + 0.5) * (2 * np.pi / _ROUND)
    reach = radius / math.cos(math.pi / _ROUND)
    return reach * np.column_stack([np.cos(angles), np.sin(angles)])


def _hull(points: object) -> Floats:
    """Return the convex hull's corners, counter-clockwise, not repeated."""
    import shapely

    ring = shapely.get_exterior_ring(shapely.orient_polygons(shapely.convex_hull(points)))
    corners: Floats = shapely.get_coordinates(ring)[:-1]
    return corners


def _same_outline(first: Floats, second: Floats) -> bool:
    """Whether every corner of each hull is a corner of the other."""
    if len(first) != len(second):
        return False
    apart = np.abs(first[:, None, :] - second[None, :, :]).max(axis=2)
    return bool(apart.min(axis=0).max() < _SAME and apart.min(axis=1).max() < _SAME)
