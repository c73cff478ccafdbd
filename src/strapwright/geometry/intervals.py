"""Intervals of a contour: its run from one length along it to another, or from one x to another; the rest."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.tolerances import COINCIDENT, SHORTEST_SEGMENT
from strapwright.geometry.intersect import Segment, meet, segments_of
from strapwright.geometry.shapes import chain

if TYPE_CHECKING:
    from collections.abc import Iterable

    from strapwright.core.arrays import Floats
    from strapwright.geometry.contour import Contour

Interval = tuple[float, float]
"""From one length along a contour to another, mm; on a closed one it may pass the first vertex."""


def between(contour: Contour, begin: float, end: float) -> Contour:
    """Return the open run of a contour between two lengths along it, its arcs kept exactly.

    Args:
        contour: open or closed.
        begin: length from the first vertex, mm.
        end: the same, more than ``begin``; on a closed contour it may pass the first vertex, by less
            than once round.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> square = Contour.from_points([(0, 0), (10, 0), (10, 10), (0, 10)])
        >>> between(square, 35, 45).vertices[:, :2].tolist()
        [[0.0, 5.0], [0.0, 0.0], [5.0, 0.0]]
    """
    total = contour.length
    turns = math.floor(begin / total) if contour.closed else 0
    begin, end = begin - turns * total, end - turns * total
    lengths = np.tile(contour.segment_lengths, 2 if contour.closed else 1)
    bulges, starts = contour.bulges, contour.starts
    reach = np.concatenate(([0.0], np.cumsum(lengths)))
    first = max(0, int(np.searchsorted(reach, begin, side="right")) - 1)
    vertices: list[tuple[float, float, float]] = []
    last = starts[first % len(contour)]
    for number in range(first, len(lengths)):
        low, high = max(float(reach[number]), begin), min(float(reach[number + 1]), end)
        if high - low < SHORTEST_SEGMENT:
            if reach[number] >= end:
                break
            continue
        index = number % len(contour)
        whole = low <= reach[number] and high >= reach[number + 1]
        share = (high - low) / float(lengths[number])
        bulge = bulges[index] if whole else math.tan(math.atan(bulges[index]) * share)
        point = starts[index] if low <= reach[number] else contour.point_at(low)
        vertices.append((float(point[0]), float(point[1]), float(bulge)))
        last = contour.ends[index] if high >= reach[number + 1] else np.array(contour.point_at(high))
    return chain([*vertices, (float(last[0]), float(last[1]), 0.0)], closed=False)


def within_x(contour: Contour, x0: float, x1: float) -> tuple[Contour, ...]:
    """Return what of a contour lies between two places along x: itself, or exact pieces of it, open.

    Args:
        contour: open or closed.
        x0: lower end, mm.
        x1: upper end, mm.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> square = Contour.from_points([(0, 0), (10, 0), (10, 10), (0, 10)])
        >>> [piece.length for piece in within_x(square, 4, 7)]
        [3.0, 3.0]
    """
    low, bottom, high, top = contour.bounding_box
    if x0 <= low and high <= x1:
        return (contour,)
    if high < x0 or low > x1:
        return ()
    uprights = [Segment((x, bottom - 1.0), (x, top + 1.0)) for x in (x0, x1)]
    runs: list[list[tuple[float, float, float]]] = []
    for segment in segments_of(contour):
        crossed = (segment.fraction(point) for upright in uprights for point in meet(segment, upright))
        for t0, t1 in pairwise(sorted({0.0, 1.0, *(t for t in crossed if 0.0 < t < 1.0)})):
            start, end = segment.point(t0), segment.point(t1)
            middle = segment.point((t0 + t1) / 2)[0]
            inside = x0 - COINCIDENT <= middle <= x1 + COINCIDENT
            if not inside or math.dist(start, end) < SHORTEST_SEGMENT:
                continue
            bulge = segment.part(t0, t1, start, end).bulge
            if runs and math.dist(runs[-1][-1][:2], start) < SHORTEST_SEGMENT:
                runs[-1][-1] = (*runs[-1][-1][:2], bulge)
                runs[-1].append((*end, 0.0))
            else:
                runs.append([(*start, bulge), (*end, 0.0)])
    if len(runs) > 1 and math.dist(runs[-1][-1][:2], runs[0][0][:2]) < SHORTEST_SEGMENT:
        runs[0] = runs.pop()[:-1] + runs[0]
    return tuple(chain(run, closed=False) for run in runs)


def without(contour: Contour, gaps: Iterable[Interval]) -> tuple[Contour, ...]:
    """Return what is left of a contour without some stretches, in its own order.

    Args:
        contour: open or closed.
        gaps: the stretches; they may touch, overlap and pass a closed contour's first vertex.

    Returns:
        The contour itself where there are no gaps; otherwise open runs, none where nothing is left.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> square = Contour.from_points([(0, 0), (10, 0), (10, 10), (0, 10)])
        >>> [round(left.length, 6) for left in without(square, [(38, 42), (12, 18)])]
        [10.0, 20.0]
    """
    total = contour.length
    taken = _merged(gaps, total)
    if not taken:
        return (contour,)
    bounds = [0.0, *(place for gap in taken for place in gap), total]
    kept = list(zip(bounds[::2], bounds[1::2], strict=True))
    if contour.closed:
        kept = [*kept[1:-1], (kept[-1][0], total + kept[0][1])]  # the last run passes the first vertex
    return tuple(between(contour, *one) for one in kept if one[1] - one[0] > SHORTEST_SEGMENT)


def left_of(interval: Interval, taken: Iterable[Interval]) -> list[Interval]:
    """Return what of an interval is left without others, in order.

    Example:
        >>> left_of((0.0, 10.0), [(7.0, 12.0), (2.0, 3.0)])
        [(0.0, 2.0), (3.0, 7.0)]
    """
    here, end = interval
    left: list[Interval] = []
    for low, high in [*sorted(taken), (end, end)]:
        if here < min(low, end):
            left.append((here, min(low, end)))
        here = max(here, high)
    return left


def _merged(gaps: Iterable[Interval], total: float) -> list[Interval]:
    """Return stretches within once round, in order, those that touch made one."""
    flat: list[Interval] = []
    for low, high in gaps:
        turns = math.floor(low / total) * total
        low, high = low - turns, high - turns
        flat.append((low, min(high, total)))
        if high > total:
            flat.append((0.0, high - total))
    merged: list[Interval] = []
    for low, high in sorted(flat):
        if merged and low <= merged[-1][1] + SHORTEST_SEGMENT:
            merged[-1] = (merged[-1][0], max(merged[-1][1], high))
        elif high - low > SHORTEST_SEGMENT:
            merged.append((low, high))
    return merged


def lengths_at(contour: Contour, points: Floats) -> Floats:
    """Return how far along a contour the point of it nearest to each of some points lies, (M,) mm.

    Args:
        contour: open or closed.
        points: (M, 2) mm, on the contour or near it.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> lengths_at(Contour.circle(0, 0, 2), np.array([(0, 1.1), (-1, 0)])).round(6).tolist()
        [1.570796, 3.141593]
    """
    best = np.full(len(points), np.inf)
    found = np.zeros(len(points))
    for index in range(len(contour)):
        begin, end = contour.starts[index], contour.ends[index]
        if contour.is_arc[index]:
            centre, sweep = contour.centres[index], contour.sweeps[index]
            rel, start = points - centre, begin - centre
            angle = np.arctan2(rel[:, 1], rel[:, 0]) - np.arctan2(start[1], start[0])
            turned = np.mod(angle * np.sign(sweep), 2 * np.pi)
            past = (abs(sweep) + 2 * np.pi) / 2  # beyond the arc, whichever end is nearer
            share = np.clip(np.where(turned > past, 0.0, turned / abs(sweep)), 0.0, 1.0)
            cos, sin = np.cos(share * sweep), np.sin(share * sweep)
            turning = np.column_stack([cos * start[0] - sin * start[1], sin * start[0] + cos * start[1]])
            nearest = centre + turning
        else:
            way = end - begin
            share = np.clip((points - begin) @ way / (way @ way), 0.0, 1.0)
            nearest = begin + share[:, None] * way
        apart = np.hypot(*(points - nearest).T)
        closer = apart < best
        best[closer] = apart[closer]
        found[closer] = contour.reach[index] + share[closer] * contour.segment_lengths[index]
    return found
