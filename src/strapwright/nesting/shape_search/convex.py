"""No-fit polygons of convex pieces, many at once: the sides of both merged by direction, compiled.

The sum of two convex outlines has the sides of both in the order of their directions (de Berg et al.,
"Computational Geometry", on Minkowski sums), so nothing need be joined or repaired.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from strapwright.nesting.compiled import compiled, within
from strapwright.nesting.shape_search.nfp import ARC

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Ints
    from strapwright.nesting.shape_search.nfp import Path

_TURN = 2 * math.acos(1 / (1 + ARC))
"""The most that one chord about a round corner may turn against the next, radians: each touches the arc, and
its ends lie at most that share of the gap beyond."""


def convex_ring(path: Path) -> Path | None:
    """Return an outline without corners that lie on a side, the lowest first; None where it has a dent.

    Args:
        path: simple, counter-clockwise, whole numbers.

    Example:
        >>> convex_ring([[4, 4], [0, 4], [0, 0], [2, 0], [4, 0]])
        [[0, 0], [4, 0], [4, 4], [0, 4]]
        >>> convex_ring([[0, 0], [4, 0], [2, 1], [0, 4]]) is None
        True
    """
    ring = [corner for before, corner in pairwise([path[-1], *path]) if corner != before]
    corners = []
    for number, (x, y) in enumerate(ring):
        (x0, y0), (x1, y1) = ring[number - 1], ring[(number + 1) % len(ring)]
        cross = (x - x0) * (y1 - y) - (y - y0) * (x1 - x)
        if cross < 0:
            return None
        if cross > 0:
            corners.append([x, y])
    if len(corners) < 3:
        return None
    lowest_corner = min(range(len(corners)), key=lambda number: (corners[number][1], corners[number][0]))
    return corners[lowest_corner:] + corners[:lowest_corner]


class ConvexPieces:
    """The rotations that are convex among some, in flat arrays.

    Args:
        paths: of all rotations, counter-clockwise, whole numbers.
        scale: steps of their grid in a millimetre.
        gap: distance to be kept between two rotations, mm.
    """

    def __init__(self, paths: Sequence[Path], scale: float, gap: float) -> None:
        found = [convex_ring(path) for path in paths]
        self.known = np.array([corners is not None for corners in found], dtype=bool)
        """Whether a rotation has no dents, by its number."""
        self._ends = np.cumsum([0, *(len(corners or ()) for corners in found)])
        flat = [corner for corners in found for corner in corners or ()]
        self._corners = np.array(flat, dtype=np.float64).reshape(-1, 2) / scale
        self._scale, self._gap = scale, gap

    def no_fits(self, pairs: Ints) -> tuple[Any, Any, Any]:
        """Return the no-fit polygons of pairs of rotations without dents.

        Args:
            pairs: (N, 2), of a rotation that stays and one that moves.

        Returns:
            Sides as in :class:`strapwright.nesting.shape_search.nfp_cache.NfpArrays`, (K, 5); where each
            polygon ends among them, (N,); and the box about each, (N, 4) mm. It is exact but for a gap's
            round corners, and never too small.
        """
        sides, stops, boxes = convex_no_fits(self._corners, self._ends, pairs, self._gap, self._scale)
        return sides, stops, boxes


@within
def _minkowski_difference(p: Any, q: Any, out: Any) -> int:
    """Write the corners of one outline less another, and return how many there are.

    Args:
        p: counter-clockwise from its lowest corner, and of those the leftmost.
        q: the same.
        out: room for as many corners as both have together.
    """
    n, m = len(p), len(q)
    # Turned half about, the other's highest corner is the lowest.
    top = 0
    for k in range(1, m):
        if q[k, 1] > q[top, 1] or (q[k, 1] == q[top, 1] and q[k, 0] > q[top, 0]):
            top = k
    i, j, count = 0, 0, 0
    x, y = p[0, 0] - q[top, 0], p[0, 1] - q[top, 1]
    while i < n or j < m:
        out[count, 0], out[count, 1] = x, y
        count += 1
        ux, uy = p[(i + 1) % n, 0] - p[i % n, 0], p[(i + 1) % n, 1] - p[i % n, 1]
        a, b = (top + j) % m, (top + j + 1) % m
        vx, vy = q[a, 0] - q[b, 0], q[a, 1] - q[b, 1]
        # Both next sides turn left of the last by less than half a turn, so this decides which comes first.
        cross = ux * vy - uy * vx
        first = j == m or (i < n and cross >= 0)
        second = i == n or (j < m and cross <= 0)
        if first:
            x, y, i = x + ux, y + uy, i + 1
        if second:
            x, y, j = x + vx, y + vy, j + 1
    return count


@within
def _offset(corners: Any, count: int, by: float, out: Any) -> int:
    """Write the corners of a convex outline grown by a distance, and return how many there are.

    Sides are moved out by just that; chords that touch the arc from outside go about each corner.
    """
    written = 0
    for k in range(count):
        before, after = (k - 1) % count, (k + 1) % count
        ux, uy = corners[k, 0] - corners[before, 0], corners[k, 1] - corners[before, 1]
        vx, vy = corners[after, 0] - corners[k, 0], corners[after, 1] - corners[k, 1]
        turn = np.arctan2(ux * vy - uy * vx, ux * vx + uy * vy)
        chords = max(1, int(np.ceil(turn / _TURN)))
        far = by / np.cos(turn / (2 * chords)) / np.sqrt(ux * ux + uy * uy)
        for number in range(chords):
            angle = turn * (2 * number + 1) / (2 * chords)
            c, s = np.cos(angle) * far, np.sin(angle) * far
            out[written, 0] = corners[k, 0] + c * uy + s * ux
            out[written, 1] = corners[k, 1] - c * ux + s * uy
            written += 1
    return written


@compiled
def convex_no_fits(corners: Any, ends: Any, pairs: Any, gap: float, scale: float) -> Any:
    """Return the sides of no-fit polygons, where each polygon ends among them, and the box about each.

    Args:
        corners: of all rotations, (K, 2) mm on a grid.
        ends: where each rotation begins, and the last ends.
        pairs: (N, 2) of numbers of rotations.
        gap: distance to be kept, mm.
        scale: steps of the grid in a millimetre.
    """
    about = int(2 * np.pi / _TURN) + 1
    most, total = 0, 0
    for row in range(len(pairs)):
        both = 0
        for rotation in pairs[row]:
            both += ends[rotation + 1] - ends[rotation]
        most, total = max(most, both), total + both + about
    summed, offset = np.empty((most, 2)), np.empty((most + about, 2))
    sides, stops, boxes = np.empty((total, 5)), np.empty(len(pairs), np.int64), np.empty((len(pairs), 4))
    used = 0
    for row in range(len(pairs)):
        # Always the same way round, so that the one is exactly the other turned half about.
        still, moving = min(pairs[row]), max(pairs[row])
        sign = 1.0 if pairs[row, 0] == still else -1.0
        p, q = corners[ends[still] : ends[still + 1]], corners[ends[moving] : ends[moving + 1]]
        count, found = _minkowski_difference(p, q, summed), summed
        if gap > 0:
            # A step more than makes up for rounding to the grid.
            count, found = _offset(summed, count, gap + 1 / scale, offset), offset
            for k in range(count):
                found[k, 0] = np.rint(found[k, 0] * scale) / scale
                found[k, 1] = np.rint(found[k, 1] * scale) / scale
        for k in range(4):
            boxes[row, k] = np.inf if k < 2 else -np.inf
        for k in range(count):
            x, y = sign * found[k, 0], sign * found[k, 1]
            after = (k + 1) % count
            dx, dy = sign * found[after, 0] - x, sign * found[after, 1] - y
            sides[used, 0], sides[used, 1], sides[used, 2], sides[used, 3] = x, y, dx, dy
            sides[used, 4] = 1 / max(dx * dx + dy * dy, 1e-30)
            used += 1
            boxes[row, 0], boxes[row, 1] = min(boxes[row, 0], x), min(boxes[row, 1], y)
            boxes[row, 2], boxes[row, 3] = max(boxes[row, 2], x), max(boxes[row, 3], y)
        stops[row] = used
    return sides[:used], stops, boxes
