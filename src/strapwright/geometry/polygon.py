"""Contours as polygons, for nesting and for screens, with a stated chord tolerance and side."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from strapwright.core.errors import GeometryError
from strapwright.core.tolerances import COINCIDENT
from strapwright.geometry.transform import cos_sin

if TYPE_CHECKING:
    from strapwright.core.arrays import Floats
    from strapwright.geometry.contour import Contour


Side = Literal["inward", "outward", "nearest"]


_HALVINGS = 12
"""How often the tolerance is halved beside a spike: to a four-thousandth of it."""


def to_polygon(contour: Contour, tolerance: float, side: Side = "nearest") -> Floats:
    """Replace arcs by chords that stray from them by at most ``tolerance`` mm.

    Args:
        contour: closed or open; an open contour takes only ``"nearest"``.
        tolerance: greatest distance between arc and chords, mm.
        side: ``"outward"``: the polygon covers the contour's inside (for parts: what is kept clear of
            the polygon is clear of the part); ``"inward"``: the contour covers the polygon (for hides);
            ``"nearest"``: the polygon's corners lie on the contour.

    Returns:
        Corners in the contour's order, (M, 2) mm; the first is not repeated at the end.

    Beside a spike narrower than the tolerance the arcs are cut finer until the polygon keeps to its side.

    Raises:
        GeometryError: the tolerance is not positive, a side is asked of an open contour, or a cusp is so
            sharp that no polygon keeps to its side.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> len(to_polygon(Contour.circle(0, 0, 10), 0.1))
        16
    """
    if not tolerance > 0:
        raise GeometryError(f"the chord tolerance must be positive, got {tolerance:g} mm")
    if side != "nearest" and not contour.closed:
        raise GeometryError(f"an open contour has no {side} side")
    if side == "nearest" or not contour.is_arc.any():
        return _corners(contour, tolerance, 0.0)
    inner = 1.0 if contour.is_counter_clockwise else -1.0
    convex = inner if side == "outward" else -inner
    corners = _corners(contour, tolerance, convex)
    for halvings in range(1, _HALVINGS + 1):
        if (astray := _astray(contour, corners, side)) is None:
            return corners
        corners = _corners(contour, tolerance / 2**halvings, convex)
    assert astray is not None
    x, y = astray
    raise GeometryError(
        f"the contour has so sharp a cusp near ({x:.3f}, {y:.3f}) mm that no polygon keeps {side} of it"
    )


def _astray(contour: Contour, corners: Floats, side: Side) -> Floats | None:
    """Return a point of the polygon, tried at eighths of its sides, that is on the wrong side, or None."""
    along = np.arange(8)[:, None, None] / 8
    points = (corners + along * (np.roll(corners, -1, axis=0) - corners)).reshape(-1, 2)
    wrong = contour.contains(points) == (side == "outward")
    wrong[wrong] = contour.distance_to(points[wrong]) > COINCIDENT
    return points[np.argmax(wrong)] if wrong.any() else None


def _corners(contour: Contour, tolerance: float, convex: float) -> Floats:
    """Return the polygon's corners; arcs whose sweep has the sign of ``convex`` are circumscribed."""
    sweeps, radii, arcs = contour.sweeps, contour.radii, contour.is_arc
    # Convex towards the side asked for: corners of the tangents, outside the arc; otherwise chords.
    round_it = sweeps * convex > 0
    pieces = np.ones(len(contour), dtype=int)
    share = np.minimum(tolerance / (2 * (radii + np.where(round_it, tolerance, 0.0))), 1.0)
    half = np.arcsin(np.sqrt(share[arcs]))  # 1 - cos(2 half) without cancellation
    least = np.where(round_it[arcs] | (np.abs(sweeps[arcs]) < math.pi), 1, 2)
    needed = np.ceil(np.abs(sweeps[arcs]) / np.minimum(4 * half, math.pi / 2) - 1e-12)
    pieces[arcs] = np.maximum(least, needed)
    # Of every segment its start, then points between: none on a line, one a tangent or one a joint on an arc.
    emitted = np.where(round_it, pieces + 1, pieces)
    owner = np.repeat(np.arange(len(contour)), emitted)
    number = np.arange(len(owner)) - np.repeat(np.cumsum(emitted) - emitted, emitted)
    points = contour.starts[owner]
    between = number > 0
    of = owner[between]
    start = contour.starts[of] - contour.centres[of]
    step = sweeps[of] / pieces[of]
    angles = np.arctan2(start[:, 1], start[:, 0]) + step * (
        number[between] - np.where(round_it[of], 0.5, 0.0)
    )
    reach = radii[of] / np.where(round_it[of], np.cos(step / 2), 1.0)
    points[between] = contour.centres[of] + reach[:, None] * np.column_stack([np.cos(angles), np.sin(angles)])
    return points if contour.closed else np.vstack([points, contour.ends[-1:]])


def signed_area(points: Floats) -> float:
    """Return the area inside corners, mm²; positive where they run counter-clockwise.

    Example:
        >>> signed_area(np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0]]))
        6.0
    """
    p = points - points[0]
    q = np.roll(p, -1, axis=0)
    return float((p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]).sum()) / 2


def polygons_in(geometry: Any, least: float = 0.0) -> list[Any]:
    """Return those polygons of a shapely geometry that have an area of more than ``least`` mm²."""
    import shapely

    return [p for p in shapely.get_parts(geometry) if p.geom_type == "Polygon" and p.area > least]


def turned(points: Floats, turn: float) -> Floats:
    """Return points turned about the origin by ``turn`` radians, (N, 2) mm.

    Quarter turns are exact: a side that was level stays level to the last bit.
    """
    c, s = cos_sin(turn)
    x, y = points[:, 0], points[:, 1]
    return np.column_stack([c * x - s * y, s * x + c * y])
