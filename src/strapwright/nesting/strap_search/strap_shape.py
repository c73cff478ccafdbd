"""A strap in one turn, as its two ends and its length, so that straps of one make share their row tables.

Whether a strap lies free in a row depends on its length only by where its right end comes to lie. Straps
of one width, tip and buckle end therefore share all that is worked out about rows: that is a `Make`.
Every strap is treated as its convex hull; a hollow one is given a little more room than it needs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from strapwright.geometry.polygon import turned

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats, Points
    from strapwright.nesting.problem import Piece

_TOUCH = 1e-9
"""Corners whose heights differ by less than this are at one height, mm."""

_ROUND = 64
"""Sides of the polygon drawn round the gap's circle: at most 0.12 % more gap than asked, at corners."""


_DIGITS = 6
"""Ends are of one make where they agree to this many decimals of a millimetre."""


_HULLS = 2048
"""Hulls that are kept: of some hundred straps in both turns, with the gap and without."""


@dataclass(frozen=True, eq=False)
class Sides:
    """How far an area reaches at each height, on the left and on the right.

    Args:
        shuns: the kinds of zone it may not lie on.
        y: heights above the strap's underside, increasing, (K,) mm.
        left: least x from the strap's left end, (K,) mm.
        right: greatest x from the strap's right end, (K,) mm.
    """

    shuns: frozenset[str]
    y: Floats
    left: Floats
    right: Floats


@dataclass(frozen=True, eq=False)
class Make:
    """What straps of one make share.

    Args:
        height: extent across the strap, mm.
        whole: the sides of the whole strap; what it shuns, it shuns everywhere.
        areas: the sides of areas that shun more.
        grown: the sides of the whole strap grown by the gap.
    """

    height: float
    whole: Sides
    areas: tuple[Sides, ...]
    grown: Sides


@dataclass(frozen=True)
class Form:
    """A shape in one turn.

    Args:
        make: number of its make.
        turn: radians.
        length: extent along the row, mm.
        origin: where the piece's own origin lies from the lower left corner of its box, mm.
    """

    make: int
    turn: float
    length: float
    origin: tuple[float, float]


def forms_of(pieces: Sequence[Piece], gap: float) -> tuple[list[Make], list[Form], dict[int, list[int]]]:
    """Return the makes, the forms, and the numbers of the forms that each shape may take.

    Args:
        pieces: straps; pieces of one shape number are alike.
        gap: kept between pieces, mm.
    """
    makes: list[Make] = []
    known: dict[object, int] = {}
    forms: list[Form] = []
    by_shape: dict[int, list[int]] = {}
    circle = _circle_round(gap)
    for piece in pieces:
        if piece.shape in by_shape:
            continue
        own: dict[object, int] = {}
        for turn in piece.turns:
            outline = turned(piece.outline, turn)
            corner, (x1, y1) = outline.min(axis=0), outline.max(axis=0)
            length, hull = float(x1 - corner[0]), _hull(outline - corner)
            sides = [_sides(hull, length, piece.shuns)] + [
                _sides(_hull(turned(area.polygon, turn) - corner), length, area.shuns - piece.shuns)
                for area in piece.areas
                if area.shuns - piece.shuns
            ]
            key = tuple((side.shuns, *_rounded(side)) for side in sides)
            if key not in known:
                known[key] = len(makes)
                grown = _hull((hull[:, None, :] + circle[None, :, :]).reshape(-1, 2))
                height, grown_sides = float(y1 - corner[1]), _sides(grown, length, piece.shuns)
                makes.append(Make(height, sides[0], tuple(sides[1:]), grown_sides))
            number = known[key]
            if (number, round(length, _DIGITS)) not in own:
                own[number, round(length, _DIGITS)] = len(forms)
                forms.append(Form(number, turn, length, (-float(corner[0]), -float(corner[1]))))
        by_shape[piece.shape] = list(own.values())
    return makes, forms, by_shape


def _rounded(side: Sides) -> tuple[bytes, bytes, bytes]:
    # Adding nought turns −0 into 0, which would otherwise be another pattern of bits.
    return tuple((np.round(a, _DIGITS) + 0.0).tobytes() for a in (side.y, side.left, side.right))  # type: ignore[return-value]


def _circle_round(radius: float) -> Points:
    """Return a polygon that covers the circle and touches it straight up, down, left and right."""
    angles = (np.arange(_ROUND) + 0.5) * (2 * np.pi / _ROUND)
    reach = radius / math.cos(math.pi / _ROUND)
    return reach * np.column_stack([np.cos(angles), np.sin(angles)])


def _hull(points: Points) -> Points:
    """Return the convex hull's corners, counter-clockwise, not repeated."""
    return _hull_of(np.ascontiguousarray(points, dtype=np.float64).tobytes())


@lru_cache(maxsize=_HULLS)
def _hull_of(points: bytes) -> Points:
    """Return the hull of points given by their bytes: the same straps are looked at on every hide."""
    import shapely

    hull = shapely.convex_hull(shapely.MultiPoint(np.frombuffer(points).reshape(-1, 2)))
    corners: Points = shapely.get_coordinates(shapely.get_exterior_ring(shapely.orient_polygons(hull)))[:-1]
    corners.flags.writeable = False
    return corners


def _sides(hull: Points, length: float, shuns: frozenset[str]) -> Sides:
    """Return how far a convex area reaches.

    Args:
        hull: corners in order, counter-clockwise, (M, 2) mm from the lower left corner of the strap's box.
        length: of the strap, mm.
        shuns: the kinds of zone the area may not lie on.

    Example:
        >>> triangle = np.array([(0.0, 0.0), (4.0, 1e-15), (2.0, 2.0)])
        >>> _sides(triangle, 5.0, frozenset()).right.tolist()
        [-1.0, -3.0]
    """
    # The two ends of a level side, a rounding apart, are at one height: heights on a hide could not
    # tell them apart either, and the side would shrink to one of its ends.
    lowest, highest = np.min(hull[:, 1]), np.max(hull[:, 1])
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
    return Sides(
        shuns, y, np.interp(y, left[:, 1], left[:, 0]), np.interp(y, right[:, 1], right[:, 0]) - length
    )


def _run(points: Floats, first: int, last: int) -> Floats:
    """Return the corners from ``first`` to ``last``, going round the end where need be."""
    count = (last - first) % len(points)
    return points[(first + np.arange(count + 1)) % len(points)]
