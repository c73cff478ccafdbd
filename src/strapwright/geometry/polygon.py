"""Contours as polygons, for nesting and for screens, with a stated chord tolerance and side."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from strapwright.errors import GeometryError
from strapwright.tolerances import COINCIDENT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from strapwright.geometry.contour import Contour

Side = Literal["inward", "outward", "nearest"]

_HALVINGS = 12
"""How often the tolerance is halved beside a spike: to a four-thousandth of it."""


def to_polygon(contour: Contour, tolerance: float, side: Side = "nearest") -> NDArray[np.float64]:
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
    if side == "nearest":
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


def _astray(contour: Contour, corners: NDArray[np.float64], side: Side) -> NDArray[np.float64] | None:
    """Return a point of the polygon, tried at eighths of its sides, that is on the wrong side, or None."""
    along = np.arange(8)[:, None, None] / 8
    points = (corners + along * (np.roll(corners, -1, axis=0) - corners)).reshape(-1, 2)
    wrong = contour.contains(points) == (side == "outward")
    wrong[wrong] = contour.distance_to(points[wrong]) > COINCIDENT
    return points[np.argmax(wrong)] if wrong.any() else None


def _corners(contour: Contour, tolerance: float, convex: float) -> NDArray[np.float64]:
    """Return the polygon's corners; arcs whose sweep has the sign of ``convex`` are circumscribed."""
    points: list[NDArray[np.float64]] = []
    for index in range(len(contour)):
        points.append(contour.starts[index : index + 1])
        sweep, radius = float(contour.sweeps[index]), float(contour.radii[index])
        if sweep == 0.0:
            continue
        start = contour.starts[index] - contour.centres[index]
        first = math.atan2(start[1], start[0])
        # Convex towards the side asked for: corners of the tangents, outside the arc; otherwise chords.
        if sweep * convex > 0:
            pieces = _pieces(sweep, math.acos(radius / (radius + tolerance)), 1)
            step = sweep / pieces
            angles = first + step * (np.arange(pieces) + 0.5)
            reach = radius / math.cos(step / 2)
        else:
            bend = math.acos(max(1.0 - tolerance / radius, -1.0))
            pieces = _pieces(sweep, bend, 1 if abs(sweep) < math.pi else 2)
            angles = first + sweep * np.arange(1, pieces) / pieces
            reach = radius
        points.append(contour.centres[index] + reach * np.column_stack([np.cos(angles), np.sin(angles)]))
    if not contour.closed:
        points.append(contour.ends[-1:])
    return np.vstack(points)


def _pieces(sweep: float, half_angle: float, least: int) -> int:
    """Return how many equal pieces keep each within twice ``half_angle``, and under a quarter turn."""
    largest = min(2 * half_angle, math.pi / 2)
    return max(least, math.ceil(abs(sweep) / largest - 1e-12))
