"""Circular arcs, each tangent to the next, in place of Bézier curves, splines and ellipses.

Source of the biarc: K. M. Bolton, "Biarc curves", Computer-Aided Design 7 (1975), with equal tangents, in
vectors, from memory. Its error grows with the change of curvature and the cube of its length, so that shares
of equal error are shares of the integral of the cube root of that change.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.tolerances import DRAWN_CURVE, SHORTEST_SEGMENT
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from collections.abc import Iterable

    from strapwright.core.arrays import Floats

Vertex = tuple[float, float, float]

_CORNER: Final = math.radians(1.0)
"""Curves that meet at a greater turn make a corner, which is kept."""

_DENSE: Final = 96
"""Points looked at on each curve."""

_MOST: Final = 64
"""Into so many pieces one curve is divided at most; what is not smooth even then becomes short lines."""

_STRAIGHT: Final = 1e-6
"""A curve whose control points stray by less from its chord is a line, mm."""


def arcs_of(cubics: Floats) -> list[Vertex]:
    """Return a run of curves as ``(x, y, bulge)`` of lines and tangent arcs, its last point with bulge 0.

    Each curve is divided where its change of curvature says, into the fewest pieces of two tangent arcs that
    stay within `DRAWN_CURVE` of it, and it of them; or the whole smooth run is, where that takes fewer arcs.

    Args:
        cubics: start, two control points and end of each curve, which goes on where the last one ends,
            (C, 4, 2) mm.

    Example:
        >>> quarter = [(10.0, 0.0), (10.0, 5.5228), (5.5228, 10.0), (0.0, 10.0)]
        >>> [(round(x, 3), round(y, 3), round(bulge, 3)) for x, y, bulge in arcs_of(np.array([quarter]))]
        [(10.0, 0.0, 0.414), (0.0, 10.0, 0.0)]
    """
    found: list[Vertex] = []
    for stretch in _smooth_stretches(cubics):
        single = [vertex for cubic in stretch for vertex in _fitted(cubic[None], _MOST)[:-1]]
        if len(stretch) > 1:
            whole = _fitted(stretch, len(single) // 2)
            single = whole[:-1] if whole and len(whole) - 1 < len(single) else single
        found += single
    end = (float(cubics[-1, 3, 0]), float(cubics[-1, 3, 1]), 0.0)
    return [*merged(found), end]


def circle_of(cubics: Floats) -> list[Vertex] | None:
    """Return two half turns where a closed run of curves is a circle within `DRAWN_CURVE`; None where not.

    Args:
        cubics: as for :func:`arcs_of`.
    """
    points = _points(cubics, np.linspace(0.0, len(cubics), len(cubics) * _DENSE, endpoint=False))
    solved, *_ = np.linalg.lstsq(
        np.column_stack([2 * points, np.ones(len(points))]), (points**2).sum(axis=1), rcond=None
    )
    x, y = solved[:2]
    out = points - (x, y)
    reach = np.hypot(out[:, 0], out[:, 1])
    radius = float(reach.min() + reach.max()) / 2
    angles = np.unwrap(np.arctan2(out[:, 1], out[:, 0]))
    steps = np.diff(angles)
    once = abs(abs(angles[-1] - angles[0]) - 2 * math.pi) < 0.2 and ((steps > 0).all() or (steps < 0).all())
    if not once or radius <= DRAWN_CURVE or np.abs(reach - radius).max() > DRAWN_CURVE:
        return None
    way = 1.0 if steps[0] > 0 else -1.0
    return [(float(x) - radius, float(y), way), (float(x) + radius, float(y), way)]


def merged(vertices: Iterable[Vertex]) -> list[Vertex]:
    """Return an open run's vertices without those between two arcs of one circle, or two lines in one.

    Args:
        vertices: each with the bulge of what leaves it; what the last one leads to is not among them.
    """
    kept = list(vertices)
    at = 1
    while at < len(kept) - 1:
        (ax, ay, one), (bx, by, two), (cx, cy, _) = kept[at - 1 : at + 2]
        sweep = 4 * (math.atan(one) + math.atan(two))
        if one * two > 0 and abs(sweep) < math.pi * 1.01:
            pair = Contour(np.array([(ax, ay, one), (bx, by, two), (cx, cy, 0.0)]), closed=False)
            if (
                np.abs(pair.centres[0] - pair.centres[1]).max() < _STRAIGHT
                and abs(pair.radii[0] - pair.radii[1]) < _STRAIGHT
            ):
                kept[at - 1 : at + 1] = [(ax, ay, math.tan(sweep / 4))]
                continue
        at += 1
    return kept


def is_straight(cubic: Floats) -> bool:
    """Return whether a curve runs straight from its start to its end, (4, 2) mm."""
    chord = cubic[3] - cubic[0]
    length = float(np.hypot(*chord))
    if length < SHORTEST_SEGMENT:
        return False
    along = (cubic[1:3] - cubic[0]) @ chord / length
    across = (cubic[1:3] - cubic[0]) @ (-chord[1], chord[0]) / length
    return bool(
        np.abs(across).max() < _STRAIGHT and along.min() > -_STRAIGHT and along.max() < length + _STRAIGHT
    )


def _smooth_stretches(cubics: Floats) -> list[Floats]:
    """Return the curves in runs without a corner between them."""
    parts = np.arange(len(cubics), dtype=float)
    out, into = _tangents(cubics, parts[1:] - 1e-6), _tangents(cubics, parts[1:] + 1e-6)
    turn = np.abs(np.arctan2(out[:, 0] * into[:, 1] - out[:, 1] * into[:, 0], (out * into).sum(axis=1)))
    return np.split(cubics, np.flatnonzero(turn > _CORNER) + 1)


def _fitted(cubics: Floats, most: int) -> list[Vertex]:
    """Return a smooth run as tangent arcs and its last point; empty where it takes more than the most."""
    start, end = cubics[0, 0], cubics[-1, 3]
    if len(cubics) == 1 and is_straight(cubics[0]):
        return [(float(start[0]), float(start[1]), 0.0), (float(end[0]), float(end[1]), 0.0)]
    u = np.linspace(0.0, len(cubics), len(cubics) * _DENSE + 1)
    points = _points(cubics, u)
    places = _equal_shares(points, u)
    tried, fits = 1, None
    while tried <= most and (fits := _divided(cubics, points, u, places, tried)) is None:
        tried += 1 if tried < 8 else max(1, tried // 6)
    if fits is not None:
        return fits
    if len(cubics) > 1:
        return []
    return [(float(x), float(y), 0.0) for x, y in points]


def _equal_shares(points: Floats, u: Floats) -> Floats:
    """Return for each point the share of the work of fitting that lies before it, 0 to 1."""
    step = np.diff(points, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    turn = np.arctan2(
        step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0], (step[:-1] * step[1:]).sum(axis=1)
    )
    between = np.maximum((length[:-1] + length[1:]) / 2, 1e-12)
    curvature = np.interp(u[:-1] + np.diff(u) / 2, u[1:-1], turn / between)
    change = np.abs(np.gradient(curvature)) / np.maximum(length, 1e-12)
    total = max(float(length.sum()), 1e-12)
    work = np.cbrt(change + 1e-3 / total**2) * length
    shares = np.concatenate([[0.0], np.cumsum(work)])
    found: Floats = shares / shares[-1]
    return found


def _divided(cubics: Floats, points: Floats, u: Floats, shares: Floats, count: int) -> list[Vertex] | None:
    """Return a smooth run in so many biarcs and its last point; None where one strays too far."""
    cuts = np.interp(np.linspace(0.0, 1.0, count + 1), shares, u)
    cuts[0], cuts[-1] = 0.0, len(cubics)
    ends, ways = _points(cubics, cuts), _tangents(cubics, cuts)
    ends[0], ends[-1] = cubics[0, 0], cubics[-1, 3]
    found: list[Vertex] = []
    for k in range(count):
        pair = _biarc(ends[k], ways[k], ends[k + 1], ways[k + 1])
        if pair is None:
            return None
        inner = points[(u > cuts[k]) & (u < cuts[k + 1])]
        more = _points(cubics, np.linspace(cuts[k], cuts[k + 1], 4 * _DENSE // max(count, 1) + 33))
        if not _near(pair, np.vstack([inner, more]) if len(inner) else more, more):
            return None
        found += pair
    return [*merged([*found, (float(ends[-1, 0]), float(ends[-1, 1]), 0.0)])]


def _near(pair: list[Vertex], checked: Floats, line: Floats) -> bool:
    """Return whether arcs stay within `DRAWN_CURVE` of a curve, and it of them.

    Args:
        pair: the arcs' vertices, the end not among them.
        checked: points of the curve.
        line: points of the curve in its order, from the arcs' start to their end, dense.
    """
    arcs = Contour(np.array([*pair, (*line[-1], 0.0)]), closed=False)
    if arcs.distance_to(checked).max() > DRAWN_CURVE:
        return False
    dense = line[np.concatenate([[True], np.hypot(*np.diff(line, axis=0).T) > SHORTEST_SEGMENT])]
    if len(dense) < 2:
        return True
    drawn = Contour(np.column_stack([dense, np.zeros(len(dense))]), closed=False)
    return bool(drawn.distance_to(arcs.sample(12)).max() <= DRAWN_CURVE)


def _biarc(p: Floats, a: Floats, q: Floats, b: Floats) -> list[Vertex] | None:
    """Return the two tangent arcs from p to q that leave along a and arrive along b; None for none.

    With v = q − p, t = a + b and d the length of both tangents, |v − d t| = 2 d gives d; the arcs meet at
    (p + q + d (a − b)) / 2.
    """
    v, t = q - p, a + b
    vv, vt, bend = float(v @ v), float(v @ t), 2 * (1 - float(a @ b))
    if vv < SHORTEST_SEGMENT**2 * 4:
        return None
    if bend < 1e-9:
        if vt < 1e-9:
            return None
        d = vv / (2 * vt)
    else:
        d = (math.sqrt(vt * vt + bend * vv) - vt) / bend
    middle = (p + q + d * (a - b)) / 2
    one, two = middle - p, q - middle
    if min(float(one @ one), float(two @ two)) < SHORTEST_SEGMENT**2 * 4:
        return None
    first = math.atan2(a[0] * one[1] - a[1] * one[0], float(a @ one))
    last = math.atan2(two[0] * b[1] - two[1] * b[0], float(two @ b))
    if max(abs(first), abs(last)) > math.pi / 2 + 1e-9:
        return None
    return [
        (float(p[0]), float(p[1]), math.tan(first / 2)),
        (float(middle[0]), float(middle[1]), math.tan(last / 2)),
    ]


def _points(cubics: Floats, u: Floats) -> Floats:
    """Return points of a run of curves, (M, 2) mm; u runs from 0 over each whole curve by 1."""
    owner = np.minimum(u.astype(int), len(cubics) - 1)
    t = (u - owner)[:, None]
    s = 1 - t
    a, b, c, d = (cubics[owner, k] for k in range(4))
    found: Floats = s**3 * a + 3 * s * s * t * b + 3 * s * t * t * c + t**3 * d
    return found


def _tangents(cubics: Floats, u: Floats) -> Floats:
    """Return unit tangents of a run of curves, (M, 2); where one stands still, towards where it goes on."""
    owner = np.minimum(u.astype(int), len(cubics) - 1)
    t = (u - owner)[:, None]
    s = 1 - t
    a, b, c, d = (cubics[owner, k] for k in range(4))
    way = s * s * (b - a) + 2 * s * t * (c - b) + t * t * (d - c)
    size = np.hypot(way[:, 0], way[:, 1])
    still = size < 1e-9 * np.maximum(np.abs(d - a).max(axis=1), 1e-9)
    if still.any():
        near = _points(cubics, np.clip(u[still] + 1e-4, owner[still], owner[still] + 1.0))
        way[still] = near - _points(cubics, np.clip(u[still] - 1e-4, owner[still], owner[still] + 1.0))
        size = np.hypot(way[:, 0], way[:, 1])
    found: Floats = way / np.maximum(size, 1e-300)[:, None]
    return found
