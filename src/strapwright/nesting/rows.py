"""Rows: where along x a shape is free to lie at a given height on a hide.

A row's answer is exact for the shape's hull and the free leather's polygon: every edge of the
leather's boundary that the shape's band crosses forbids one run of x, the runs are joined, and each
gap between them is wholly on the leather or wholly off it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from strapwright.nesting.shape import Profile
from strapwright.tolerances import CLEARANCE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from strapwright.nesting.hide import Hide

    Floats = NDArray[np.float64]

Run = tuple[float, float]
"""A run of free x, from its least to its greatest value, mm; the ends may be used."""

SLACK = 1e-6
"""A shape this much too long for a gap still goes in, mm: rounding, a hundredth of the tolerance."""

_TOUCH = 1e-9
"""An edge that enters a band by less than this only touches it, mm."""

_QUARTER_SEGMENTS = 16
"""Chords a quarter circle when an edge is moved by the margin: 0.0024 mm short at 2 mm, made up for."""

_MENDINGS = 4
"""How often a shortfall in the margin is made up for; once has been enough."""


@dataclass(frozen=True, eq=False)
class Leather:
    """What of a hide parts may lie on, in a frame whose x runs along the strap direction.

    Args:
        starts: start points of the boundary's edges, (E, 2) mm.
        ends: end points of the boundary's edges, (E, 2) mm.
        x0: least x, mm; y0: least y, mm; x1, y1: the greatest.
        polygon: the same as a shapely geometry.
    """

    starts: Floats
    ends: Floats
    x0: float
    y0: float
    x1: float
    y1: float
    polygon: object

    @property
    def height(self) -> float:
        """Extent across the strap direction, mm."""
        return self.y1 - self.y0


def turned_points(points: Floats, angle: float) -> Floats:
    """Return points turned about the origin by ``angle`` radians, (N, 2)."""
    c, s = math.cos(angle), math.sin(angle)
    return np.column_stack([c * points[:, 0] - s * points[:, 1], s * points[:, 0] + c * points[:, 1]])


def leather_of(hide: Hide, edge: float) -> Leather:
    """Return the leather of a hide that lies at least ``edge`` mm from its edge and from every flaw.

    Every kind of flaw is kept clear of. The distance is kept to within half of
    `tolerances.CLEARANCE`; it is exact on a hide without inward corners and a hair more on others.

    Args:
        hide: the hide.
        edge: margin, mm, not negative.
    """
    import shapely

    turn = -hide.strap_direction
    free = _moved_edge(shapely.Polygon(turned_points(hide.outline, turn)), edge, -1.0)
    if hide.flaws:
        holes = [shapely.Polygon(turned_points(flaw.polygon, turn)) for flaw in hide.flaws]
        free = free.difference(_moved_edge(shapely.union_all(holes), edge, 1.0))
    rings = []
    for piece in shapely.get_parts(free):
        if piece.geom_type == "Polygon" and not piece.is_empty:
            rings += [piece.exterior, *piece.interiors]
    if not rings:
        nothing = np.empty((0, 2))
        return Leather(nothing, nothing, 0.0, 0.0, 0.0, 0.0, shapely.Polygon())
    corners = [shapely.get_coordinates(ring) for ring in rings]
    starts = np.vstack([c[:-1] for c in corners])
    ends = np.vstack([c[1:] for c in corners])
    (x0, y0), (x1, y1) = starts.min(axis=0), starts.max(axis=0)
    return Leather(starts, ends, float(x0), float(y0), float(x1), float(y1), free)


def _moved_edge(shape: Any, edge: float, outward: float) -> Any:
    """Return a shape grown (1) or shrunk (−1) until its new edge keeps the distance everywhere.

    Chords inside round corners and the buffer's own simplifying fall a little short; the shortfall is
    measured and made up for.
    """
    import shapely

    if edge <= 0:
        return shape
    old, reach = shapely.boundary(shape), edge
    shapely.prepare(old)
    for _ in range(_MENDINGS):
        moved = shape.buffer(outward * reach, quad_segs=_QUARTER_SEGMENTS)
        if moved.is_empty:
            break
        short = edge - float(shapely.distance(old, shapely.boundary(moved)))
        if short <= CLEARANCE / 2:
            break
        reach += short
    return moved


def free_runs(leather: Leather, body: Profile, y: float) -> list[Run]:
    """Return the runs of x at which a shape lies wholly on the leather, its underside at height ``y``.

    Args:
        leather: the free leather.
        body: the shape's sides, its lower left corner at (0, 0).
        y: height of the shape's underside, mm.

    Returns:
        Runs of the x of the shape's lower left corner, from left to right, mm.
    """
    bottom, top = y + float(body.y[0]), y + float(body.y[-1])
    low_all = np.minimum(leather.starts[:, 1], leather.ends[:, 1])
    high_all = np.maximum(leather.starts[:, 1], leather.ends[:, 1])
    crossed = np.flatnonzero((high_all > bottom + _TOUCH) & (low_all < top - _TOUCH))
    if not len(crossed):
        return []
    a, b = leather.starts[crossed], leather.ends[crossed]
    low, high = np.maximum(low_all[crossed], bottom), np.minimum(high_all[crossed], top)
    rise = b[:, 1] - a[:, 1]
    level = np.abs(rise) < _TOUCH
    # Heights at which an edge may come nearest: its own ends, and every corner of the shape between.
    heights = np.clip(body.y[None, :] + y, low[:, None], high[:, None])
    share = np.clip((heights - a[:, 1:2]) / np.where(level, 1.0, rise)[:, None], 0.0, 1.0)
    x = a[:, :1] + share * (b[:, :1] - a[:, :1])
    x_low = np.where(level[:, None], np.minimum(a[:, :1], b[:, :1]), x)
    x_high = np.where(level[:, None], np.maximum(a[:, :1], b[:, :1]), x)
    within = heights - y
    start = (x_low - np.interp(within, body.y, body.right)).min(axis=1)
    stop = (x_high - np.interp(within, body.y, body.left)).max(axis=1)
    order = np.argsort(start, kind="stable")
    start, stop = start[order], np.maximum.accumulate(stop[order])
    gaps = np.flatnonzero(start[1:] >= stop[:-1] - SLACK)
    if not len(gaps):
        return []
    left, right = stop[gaps], start[gaps + 1]
    middle_x = (left + right) / 2
    left, right = np.minimum(left, middle_x), np.maximum(right, middle_x)
    # One point of the shape decides for the whole of it: no boundary crosses the shape in a gap.
    middle = len(body.y) // 2
    at = (body.y[middle] + body.y[middle - 1]) / 2
    inner = (np.interp(at, body.y, body.left) + np.interp(at, body.y, body.right)) / 2
    inside = _inside(a, b, middle_x + inner, y + at)
    return [(float(p), float(q)) for p, q, ok in zip(left, right, inside, strict=True) if ok]


def _inside(a: Floats, b: Floats, x: Floats, y: float) -> NDArray[np.bool_]:
    """Which points (x, y) of one height lie on the leather, by counting edges to their left."""
    crossing = (a[:, 1] > y) != (b[:, 1] > y)
    p, q = a[crossing], b[crossing]
    at = p[:, 0] + (y - p[:, 1]) / (q[:, 1] - p[:, 1]) * (q[:, 0] - p[:, 0])
    count = np.searchsorted(np.sort(at), x)
    odd: NDArray[np.bool_] = (count % 2).astype(bool)
    return odd


def without(runs: list[Run], forbidden: list[Run]) -> list[Run]:
    """Return the runs less the inner part of each forbidden run; their ends stay usable.

    Example:
        >>> without([(0.0, 10.0)], [(2.0, 5.0), (4.0, 7.0)])
        [(0.0, 2.0), (7.0, 10.0)]
    """
    for start, stop in forbidden:
        kept: list[Run] = []
        for low, high in runs:
            if stop <= low or start >= high:
                kept.append((low, high))
                continue
            if low <= start:
                kept.append((low, start))
            if stop <= high:
                kept.append((stop, high))
        runs = kept
    return runs


def upright(height: float) -> Profile:
    """Return an upright line as a shape: its longest free run is the longest strap a row can give."""
    return Profile(np.array([0.0, height]), np.zeros(2), np.zeros(2))
