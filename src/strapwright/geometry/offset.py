"""Offset a contour exactly: lines to lines, arcs to arcs, or refuse by name.

Every line and arc is moved along its normal, convex corners are joined by an arc about the vertex (or a
miter), all the moved pieces are cut wherever they meet, and only what keeps its distance from the whole
of the original is kept. What is left must form one simple closed contour of the same orientation.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from strapwright.core.errors import GeometryError
from strapwright.core.tolerances import COINCIDENT, OFFSET
from strapwright.geometry.contour import Contour
from strapwright.geometry.intersect import Point, Segment, meet, near_pairs, segments_of, self_crossing

if TYPE_CHECKING:
    from strapwright.core.arrays import Ints

Corner = Literal["round", "miter"]

_JOIN = 1e-7
"""Ends nearer than this are one node when pieces are strung together, mm."""

_MITER_TURN = math.radians(90.0)
"""Sharper corners than this are rounded even where a miter is asked: the point would run far out."""


def offset(
    contour: Contour, distance: float, *, name: str = "the contour", corner: Corner = "round"
) -> Contour:
    """Return the contour moved sideways by ``distance``, exact in lines and arcs.

    Args:
        contour: closed and simple, of either orientation.
        distance: mm. Positive grows the enclosed area, negative shrinks it, whichever way the contour
            runs: + for an outline's outside, − for the inside of a hole.
        name: what to call the contour in a refusal.
        corner: how the outside of a convex corner is joined: ``"round"`` by an arc about the vertex,
            ``"miter"`` by the two lines produced until they meet (corners over 90° stay round).

    Returns:
        Closed contour of the same orientation, |distance| from the original everywhere (beyond it at
        miters), to 1e-6 mm.

    Raises:
        GeometryError: the contour is open or crosses itself, or its offset vanishes, falls into pieces or
            closes a gap.

    Source: for a convex contour the result obeys the Steiner formula,
        A(d) = A + L d + π d², and L(d) = L + 2 π d.

    Example:
        >>> grown = offset(Contour.circle(0, 0, 10), 0.5)
        >>> grown.as_circle()
        (0.0, 0.0, 11.0)
    """
    if not contour.closed:
        raise GeometryError(f"{name} is open; only a closed contour can be offset")
    if not math.isfinite(distance):
        raise GeometryError(f"{name} cannot be offset by {distance}; expected a length in mm")
    crossing = self_crossing(contour)
    if crossing is not None:
        raise GeometryError(
            f"{name} touches or crosses itself near ({crossing[0]:.3f}, {crossing[1]:.3f}) mm"
        )
    if distance == 0.0:
        return contour
    forward = contour.counter_clockwise()
    whole = forward.as_circle()
    if whole is not None:
        grown = _offset_circle(forward, distance, name)
    else:
        pieces = _keep_valid(_split(_move(forward, distance, corner)), forward, abs(distance))
        grown = _string(_prune(pieces), distance, name)
        _check(grown, forward, distance, corner, name)
    return grown if contour.is_counter_clockwise else grown.reversed()


def _offset_circle(circle: Contour, distance: float, name: str) -> Contour:
    """Move a full circle's vertices radially: it stays the same two arcs."""
    radius = float(circle.radii[0])
    if radius + distance <= OFFSET:
        raise GeometryError(_vanished(name, distance))
    centre = circle.centres.mean(axis=0)
    xy = centre + (circle.vertices[:, :2] - centre) * ((radius + distance) / radius)
    return Contour(np.column_stack([xy, circle.vertices[:, 2]]))


def _tangents(seg: Segment) -> tuple[Point, Point]:
    """Return the unit tangents at a segment's start and end."""
    if not seg.bulge:
        length = math.dist(seg.start, seg.end)
        t = (seg.end[0] - seg.start[0]) / length, (seg.end[1] - seg.start[1]) / length
        return t, t
    turn = math.copysign(1.0, seg.bulge) / seg.radius
    (ax, ay), (bx, by), (cx, cy) = seg.start, seg.end, seg.centre
    return (-(ay - cy) * turn, (ax - cx) * turn), (-(by - cy) * turn, (bx - cx) * turn)


def _move(contour: Contour, d: float, corner: Corner) -> list[Segment]:
    """Return the moved segments and corner joins of a counter-clockwise contour; outward is to the right."""
    segments = segments_of(contour)
    tangents = [_tangents(seg) for seg in segments]
    moved: list[Segment] = []
    for k, seg in enumerate(segments):
        (t0, t1), (u0, _) = tangents[k], tangents[(k + 1) % len(segments)]
        start = seg.start[0] + d * t0[1], seg.start[1] - d * t0[0]
        end = seg.end[0] + d * t1[1], seg.end[1] - d * t1[0]
        if not seg.bulge:
            moved.append(Segment(start, end))
        else:
            radius = seg.radius + math.copysign(d, d * seg.bulge)
            if radius > COINCIDENT:  # an arc that would turn inside out is nowhere at this distance
                moved.append(Segment(start, end, seg.bulge, seg.centre, radius))
        turn = math.atan2(t1[0] * u0[1] - t1[1] * u0[0], t1[0] * u0[0] + t1[1] * u0[1])
        if turn * d > 0 and abs(turn * d) > COINCIDENT:
            after = seg.end[0] + d * u0[1], seg.end[1] - d * u0[0]
            moved.extend(_join(seg.end, end, after, t1, turn, d, corner))
    return moved


def _join(
    vertex: Point, before: Point, after: Point, tangent: Point, turn: float, d: float, corner: Corner
) -> list[Segment]:
    """Return what joins two moved segments round a convex corner."""
    if corner == "miter" and abs(turn) <= _MITER_TURN:
        reach = abs(d) * math.tan(abs(turn) / 2)
        apex = before[0] + reach * tangent[0], before[1] + reach * tangent[1]
        return [Segment(before, apex), Segment(apex, after)]
    return [Segment(before, after, math.tan(turn / 4), vertex, abs(d))]


def _split(segments: list[Segment]) -> list[Segment]:
    """Cut every segment wherever another meets it."""
    cuts: list[list[tuple[float, Point]]] = [[] for _ in segments]
    for i, j in near_pairs(segments):
        for point in meet(segments[i], segments[j]):
            for k in (i, j):
                cuts[k].append((segments[k].fraction(point), point))
    pieces: list[Segment] = []
    for seg, places in zip(segments, cuts, strict=True):
        length = seg.length
        inner = sorted(cut for cut in places if _JOIN < cut[0] * length < length - _JOIN)
        t0, a = 0.0, seg.start
        for t1, b in [*inner, (1.0, seg.end)]:
            if (t1 - t0) * length <= _JOIN:
                continue
            pieces.append(seg.part(t0, t1, a, b))
            t0, a = t1, b
    return pieces


def _keep_valid(pieces: list[Segment], contour: Contour, distance: float) -> list[Segment]:
    """Keep the pieces whose middle is no nearer to the original than the distance."""
    if not pieces:
        return []
    gaps = contour.distance_to([piece.point(0.5) for piece in pieces])
    return [piece for piece, gap in zip(pieces, gaps, strict=True) if gap >= distance - COINCIDENT]


def _nodes(pieces: list[Segment]) -> tuple[Ints, Ints]:
    """Number the places where pieces start and end; ends within ``_JOIN`` share a number."""
    points = np.array([p.start for p in pieces] + [p.end for p in pieces])
    near = np.hypot(*(points[:, None, :] - points[None, :, :]).transpose(2, 0, 1)) <= 2 * _JOIN
    number = np.argmax(near, axis=1)
    while (number != number[number]).any():
        number = number[number]
    return number[: len(pieces)], number[len(pieces) :]


def _prune(pieces: list[Segment]) -> list[Segment]:
    """Drop pieces shorter than a node, and stubs that lead nowhere.

    Where two moved segments meet at a very small angle the part beyond their meeting keeps its distance
    to within rounding; it is recognised by its loose end.
    """
    while pieces:
        starts, ends = _nodes(pieces)
        kept = [
            piece
            for piece, a, b in zip(pieces, starts, ends, strict=True)
            if a != b and (ends == a).any() and (starts == b).any()
        ]
        if len(kept) == len(pieces):
            break
        pieces = kept
    return pieces


def _vanished(name: str, d: float) -> str:
    return f"{name} is too small to be offset by {d:g} mm: nothing of it is left"


def _string(pieces: list[Segment], d: float, name: str) -> Contour:
    """String the pieces into one closed contour."""
    if not pieces:
        raise GeometryError(_vanished(name, d))
    starts, ends = _nodes(pieces)
    following: dict[int, int] = {}
    for row, node in enumerate(starts.tolist()):
        if node in following:
            raise GeometryError(f"{name} offset by {d:g} mm touches itself near {_where(pieces[row].start)}")
        following[node] = row
    order = [0]
    while (row := following.get(int(ends[order[-1]]), 0)) != 0:
        order.append(row)
        if len(order) > len(pieces):
            break
    if len(order) != len(pieces):
        left = next(row for row in range(len(pieces)) if row not in set(order))
        how = "falls into more than one piece" if d < 0 else "closes a gap"
        raise GeometryError(f"{name} offset by {d:g} mm {how} near {_where(pieces[left].start)}")
    run = _merge([pieces[row] for row in order])
    if len(run) < 3 and not any(seg.bulge for seg in run):  # there and back along one line
        raise GeometryError(_vanished(name, d))
    return Contour(np.array([(*seg.start, seg.bulge) for seg in run]))


def _where(point: Point) -> str:
    return f"({point[0]:.2f}, {point[1]:.2f}) mm"


def _merge(run: list[Segment]) -> list[Segment]:
    """Join again what was cut only because something met it there."""
    kept: list[Segment] = []
    for seg in run:
        if kept and (joined := _rejoined(kept[-1], seg)) is not None:
            kept[-1] = joined
        else:
            kept.append(seg)
    if len(kept) > 2 and (joined := _rejoined(kept[-1], kept[0])) is not None:
        kept = [joined, *kept[1:-1]]
    return kept


def _rejoined(one: Segment, two: Segment) -> Segment | None:
    """Return the two as one segment where they lie on the same line or circle, else None."""
    if bool(one.bulge) != bool(two.bulge) or one.bulge * two.bulge < 0:
        return None
    if one.bulge:
        sweep = one.sweep + two.sweep
        same = math.dist(one.centre, two.centre) <= COINCIDENT and abs(one.radius - two.radius) <= COINCIDENT
        if not same or abs(sweep) > math.pi:
            return None
        return Segment(one.start, two.end, math.tan(sweep / 4), one.centre, one.radius)
    (t, _), (u, _) = _tangents(one), _tangents(two)
    if abs(t[0] * u[1] - t[1] * u[0]) > 1e-12 or t[0] * u[0] + t[1] * u[1] < 0:
        return None
    return Segment(one.start, two.end)


def _check(grown: Contour, original: Contour, d: float, corner: Corner, name: str) -> None:
    """Refuse a result that is not simple, turned over, or anywhere off its distance."""
    if not grown.is_counter_clockwise:
        raise GeometryError(_vanished(name, d))
    crossing = self_crossing(grown)
    if crossing is not None:
        raise GeometryError(f"{name} offset by {d:g} mm crosses itself near {_where(crossing)}")
    points = grown.sample(4)
    gaps = original.distance_to(points)
    most = abs(d) / math.cos(_MITER_TURN / 2) if corner == "miter" else abs(d)
    if np.min(gaps) < abs(d) - OFFSET or np.max(gaps) > most + OFFSET:
        worst = int(np.argmax(np.abs(gaps - abs(d))))
        raise GeometryError(
            f"{name} offset by {d:g} mm comes out {gaps[worst]:.6f} mm away near "
            f"{_where((float(points[worst][0]), float(points[worst][1])))}"
        )
    if (original.contains(points) == (d > 0)).any():
        raise GeometryError(f"{name} offset by {d:g} mm comes out on the wrong side")
