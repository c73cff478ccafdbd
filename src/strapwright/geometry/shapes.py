"""Plain shapes drawn as contours: rectangle, stadium, line, and a polygon with rounded corners."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.errors import GeometryError
from strapwright.core.tolerances import SHORTEST_SEGMENT
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


def line(x0: float, y0: float, x1: float, y1: float) -> Contour:
    """Return the open line from one point to another, mm."""
    return Contour(np.array([(x0, y0, 0.0), (x1, y1, 0.0)]), closed=False)


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Contour:
    """Return the rectangle between two corners, counter-clockwise, mm.

    Raises:
        GeometryError: it is empty.
    """
    if not (x1 > x0 and y1 > y0):
        raise GeometryError(
            f"a rectangle needs x0 < x1 and y0 < y1, got {x0:g} to {x1:g} and {y0:g} to {y1:g} mm"
        )
    return Contour.from_points([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def stadium(x: float, y: float, length: float, width: float) -> Contour:
    """Return a slot with half-round ends, its long axis along x, counter-clockwise.

    Args:
        x: of its middle, mm.
        y: of its middle, mm.
        length: overall, ends included, mm; at least the width.
        width: mm.

    Raises:
        GeometryError: the width is not positive or the length is less than it.

    Example:
        >>> round(stadium(0, 0, 20, 5).area, 6)
        94.634954
    """
    if not width > 0 or length < width:
        raise GeometryError(f"a slot needs 0 < width <= length, got {length:g} mm long and {width:g} mm wide")
    r, half = width / 2, (length - width) / 2
    if 2 * half < SHORTEST_SEGMENT:
        return Contour.circle(x, y, width)
    return Contour(
        np.array(
            [(x - half, y - r, 0.0), (x + half, y - r, 1.0), (x + half, y + r, 0.0), (x - half, y + r, 1.0)]
        )
    )


def filleted(
    points: Sequence[tuple[float, float]], radii: Sequence[float], *, closed: bool = True
) -> Contour:
    """Return a polygon, or an open run of lines, whose corners are rounded by tangent arcs.

    Args:
        points: corners in order, mm.
        radii: of each corner, mm; 0 leaves it sharp. The two ends of an open run have none.
        closed: whether the last corner is joined to the first.

    Raises:
        GeometryError: a radius needs more of its sides than there is.

    Example:
        >>> round(filleted([(0, 0), (10, 0), (10, 10), (0, 10)], [2] * 4).area, 6)
        96.566371
    """
    count = len(points)
    if count != len(radii) or count < 3:
        raise GeometryError(f"{count} corners and {len(radii)} radii; expected as many, at least 3")
    bends = [_bend(points[k - 1], points[k], points[(k + 1) % count]) for k in range(count)]
    if not closed:
        bends[0] = bends[-1] = 0.0
    needs = [radius * math.tan(abs(bend) / 2) for radius, bend in zip(radii, bends, strict=True)]
    vertices: list[tuple[float, float, float]] = []
    for k, point in enumerate(points):
        if radii[k] == 0.0 or abs(bends[k]) < 1e-12:
            vertices.append((*point, 0.0))
            continue
        before, after = (k - 1) % count, (k + 1) % count
        for other in (before, after):
            room, need = math.dist(points[other], point), needs[k] + needs[other]
            if need > room + SHORTEST_SEGMENT:
                raise GeometryError(
                    f"the corner at ({point[0]:.2f}, {point[1]:.2f}) mm cannot be rounded by "
                    f"{radii[k]:g} mm: its side is {room:.2f} mm long and {need:.2f} mm are needed"
                )
        vertices.append((*_toward(point, points[before], needs[k]), math.tan(bends[k] / 4)))
        vertices.append((*_toward(point, points[after], needs[k]), 0.0))
    return chain(vertices, closed=closed)


def _bend(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    """Return the turn at ``b`` on the way from ``a`` to ``c``, radians, left positive."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], c[0] - b[0], c[1] - b[1]
    return math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)


def _toward(point: tuple[float, float], other: tuple[float, float], step: float) -> tuple[float, float]:
    share = step / math.dist(point, other)
    return point[0] + share * (other[0] - point[0]), point[1] + share * (other[1] - point[1])


def chain(points: Iterable[tuple[float, float, float]], *, closed: bool = True) -> Contour:
    """Build a contour from ``(x, y, bulge)`` triples, leaving out vertices that repeat the one before.

    Parts are drawn piece by piece, and a piece may have shrunk to nothing (a full round tip leaves no
    straight between its arcs); a repeated vertex hands its bulge to the point that stays.
    """
    kept: list[tuple[float, float, float]] = []
    for x, y, bulge in points:
        if kept and abs(kept[-1][0] - x) + abs(kept[-1][1] - y) < SHORTEST_SEGMENT:
            kept[-1] = (kept[-1][0], kept[-1][1], bulge)
        else:
            kept.append((x, y, bulge))
    if closed and len(kept) > 1:
        first, last = kept[0], kept[-1]
        if abs(first[0] - last[0]) + abs(first[1] - last[1]) < SHORTEST_SEGMENT:
            kept.pop()
    return Contour(np.array(kept), closed)
