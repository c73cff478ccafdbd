"""No-fit and inner-fit polygons: where the origin of a piece may not lie beside another, and may on a ground.

A rotation is a piece's outline in one of its turns. All polygons here are lists of whole numbers on a fine
grid, so that edges that touch do so exactly. A no-fit polygon is what the convolution of two outlines winds
about. Outlines of many corners are simplified before, always on the safe side: pieces grow by a stated
tolerance, grounds shrink by it.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from strapwright.core.tolerances import CLEARANCE
from strapwright.nesting.compiled import compiled

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Points

    Path = list[list[int]]

_HALVINGS = 8
"""How often the tolerance is halved where an outline came out wrong, before it is left as it was."""

_LARGEST = 4.0e9
"""Coordinates are kept below this: the library's whole numbers go far beyond it, but slow down."""


ARC = 0.02
"""Round corners of a gap are cut to chords that leave at most this share of it to spare."""


_CRACK = 1
"""Cracks less than twice this wide come of rounding, steps of the grid."""


_OPENINGS = 40
"""How many steps a region is shrunk and grown by at most, until its edge is simple."""


class Grid:
    """A grid of whole numbers fine enough for grounds and pieces of one extent.

    Args:
        extent: greatest width or height of anything, mm.

    Example:
        >>> grid = Grid(2400.0)
        >>> grid.scale > 50_000
        True
        >>> square = grid.path(np.array([[0, 0], [10, 0], [10, 10], [0, 10]], dtype=float))
        >>> float(grid.points(square).max())
        10.0
    """

    def __init__(self, extent: float) -> None:
        self.scale = 2.0 ** min(20, math.floor(math.log2(_LARGEST / (3 * max(extent, 1.0)))))
        """Steps of the grid in a millimetre."""

    def path(self, points: Points) -> Path:
        """Return points as whole numbers."""
        path: Path = np.rint(np.asarray(points) * self.scale).astype(np.int64).tolist()
        return path

    def points(self, path: Path) -> Points:
        """Return whole numbers as points, mm."""
        return np.array(path, dtype=np.float64).reshape(-1, 2) / self.scale


def _clipped(operation: str, region: list[Path], other: Sequence[Path] = ()) -> list[Path]:
    """Return the union, difference or intersection of regions: outer paths counter-clockwise, holes not.

    They are filled where they wind at all.
    """
    import pyclipper

    clipper = pyclipper.Pyclipper()
    clipper.AddPaths(region, pyclipper.PT_SUBJECT, True)
    if other:
        clipper.AddPaths(other, pyclipper.PT_CLIP, True)
    filled = pyclipper.PFT_NONZERO
    found: list[Path] = clipper.Execute(getattr(pyclipper, f"CT_{operation}"), filled, filled)
    return found


def difference(region: list[Path], taken: list[Path]) -> list[Path]:
    """Return what is left of a region when others are taken from it."""
    return _clipped("DIFFERENCE", region, taken) if region and taken else region


def intersection(region: list[Path], other: list[Path]) -> list[Path]:
    """Return what two regions share."""
    return _clipped("INTERSECTION", region, other) if region and other else []


def _convolution_curves(still: Path, moving: Path) -> list[Path]:
    """Return curves that wind, about each origin of the moving rotation, as often as the two share pieces."""
    corners, ends = convolution(np.array(still, dtype=np.int64), -np.array(moving, dtype=np.int64))
    return [corners[start:end].tolist() for start, end in pairwise([0, *ends.tolist()])]


def no_fit(still: Path, moving: Path, gap: float = 0.0) -> list[Path]:
    """Return the no-fit polygon: where the origin of a moving piece may not lie beside one that stays.

    Its edge is free.

    Args:
        still: counter-clockwise, whole numbers.
        moving: counter-clockwise, whole numbers.
        gap: distance to be kept, in steps of the grid.

    Returns:
        Outer paths counter-clockwise, holes clockwise: a hole is where the moving rotation lies in a bay of
        the other.

    Example:
        >>> square = [[0, 0], [4, 0], [4, 4], [0, 4]]
        >>> sorted(no_fit(square, square)[0])
        [[-4, -4], [-4, 4], [4, -4], [4, 4]]
    """
    paths = _clipped("UNION", _convolution_curves(still, moving))
    if len(still) + len(moving) > len(paths[0]) or len(paths) > 1:
        # Sides of the curve that run to and fro leave cracks where they are rounded: those are closed.
        paths = _mitred_offset(_mitred_offset(paths, _CRACK), -_CRACK)
    return offset(paths, gap)


def offset(paths: list[Path], by: float) -> list[Path]:
    """Return paths grown by at least a distance, round at corners; by a negative one shrunk as much.

    Args:
        paths: outer paths counter-clockwise, holes clockwise.
        by: steps of the grid. Chords of round corners lie outside the arc, by at most a fiftieth.
    """
    import pyclipper

    if not by:
        return paths
    slack = max(ARC * abs(by), 1.0)
    # The library rounds the number of chords: one may span half as much again, and stray 2.25 times as far.
    offset = pyclipper.PyclipperOffset(2.0, slack / 2.3)
    offset.AddPaths(paths, pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    found: list[Path] = offset.Execute(by + math.copysign(slack, by))
    return found


def _mitred_offset(paths: list[Path], by: float) -> list[Path]:
    """Return paths grown, or shrunk, with sharp corners: for a few steps of the grid only."""
    import pyclipper

    offset = pyclipper.PyclipperOffset(2.0, 1.0)
    offset.AddPaths(paths, pyclipper.JT_MITER, pyclipper.ET_CLOSEDPOLYGON)
    found: list[Path] = offset.Execute(by)
    return found


def free_region(boundary: Path, zones: list[Path], margin: float, grid: Grid) -> list[Path]:
    """Return the part of a ground that a rotation may cover.

    It is a hair too large, by a quarter of what a layout is allowed, so that a rotation as wide as its room
    still has a place there.

    Args:
        boundary: of the ground, counter-clockwise.
        zones: what the rotation shuns, counter-clockwise each; they may cross each other and the boundary.
        margin: distance to keep from both, in steps of the grid.
        grid: the grid.

    Returns:
        Outer paths counter-clockwise, holes clockwise.
    """
    ease = max(2.0 * _CRACK, CLEARANCE / 4 * grid.scale)
    region = _mitred_offset(offset(_clipped("UNION", [boundary]), -margin), ease)
    if not zones:
        return _simple(region)
    # Each by itself first, so that none that runs the other way about undoes another.
    each = [path for zone in zones for path in _clipped("UNION", [zone])]
    shunned = offset(_clipped("UNION", each), margin)
    return _simple(difference(region, _mitred_offset(shunned, -ease) if shunned else []))


def _simple(region: list[Path]) -> list[Path]:
    """Return a region whose paths neither touch nor cross themselves, for rounding makes them do so.

    The region is shrunk and grown again by a step or two of the grid until that is so; slivers go.
    """
    import pyclipper
    import shapely

    for steps in range(_OPENINGS):
        opened = region if not steps else _mitred_offset(_mitred_offset(region, -steps), steps)
        opened = [path for path in opened if abs(pyclipper.Area(path)) > len(path)]
        if all(shapely.is_valid(shapely.Polygon(path)) for path in opened):
            return opened
    return []


def inner_fit(region: list[Path], rotation: Path) -> list[Path]:
    """Return the inner-fit polygon: where the origin of a piece may lie so that it lies within a region.

    It lies within where it meets nothing of what is outside, and where no piece of the region lies within
    it: an island of leather inside a rotation would be counted against the ring about it.

    Args:
        region: outer paths counter-clockwise, holes clockwise.
        rotation: counter-clockwise.

    Returns:
        Outer paths counter-clockwise, holes clockwise.

    Example:
        >>> ground = [[0, 0], [10, 0], [10, 10], [0, 10]]
        >>> sorted(inner_fit([ground], [[0, 0], [4, 0], [4, 4], [0, 4]])[0])
        [[0, 0], [0, 6], [6, 0], [6, 6]]
    """
    if not region:
        return []
    # The ground's outside, as seen from the rotation: everything, less the region.
    low = np.min([np.min(path, axis=0) for path in region], axis=0)
    high = np.max([np.max(path, axis=0) for path in region], axis=0)
    size = np.ptp(rotation, axis=0)
    x0, y0 = (low - size - np.max(rotation, axis=0)).tolist()
    x1, y1 = (high + size - np.min(rotation, axis=0)).tolist()
    everything = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
    crossed = [everything]
    for path in region:
        crossed += _convolution_curves(path[::-1], rotation)
        crossed.append([[path[0][0] - x, path[0][1] - y] for x, y in rotation])
    room = difference([everything], crossed)
    return _mitred_offset(_mitred_offset(room, -_CRACK), _CRACK) if room else room


@compiled
def _directions(p: Any, q: Any) -> Any:
    """Return the direction of each side of two outlines, one after the other, radians."""
    n, m = len(p), len(q)
    angles = np.empty(n + m)
    for i in range(n):
        angles[i] = np.arctan2(p[(i + 1) % n, 1] - p[i, 1], p[(i + 1) % n, 0] - p[i, 0])
    for j in range(m):
        angles[n + j] = np.arctan2(q[(j + 1) % m, 1] - q[j, 1], q[(j + 1) % m, 0] - q[j, 0])
    return angles


def convolution(p: Any, q: Any) -> Any:
    """Return the closed curves of the convolution of two outlines.

    Its outer curve bounds their Minkowski sum: where the winding number of the convolution of two outlines is
    not zero, a copy of one turned about meets the other. For outlines of n and m corners it has hardly more
    than n + m sides where both are nearly convex, against n times m for sides swept one by one. Directions
    are compared by rank alone, so that parallel sides fall into one order throughout.

    Source: Guibas, Ramshaw, Stolfi, "A kinetic framework for computational geometry" (1983).

    Args:
        p: (N, 2) whole numbers, simple; it may run either way round.
        q: (M, 2) whole numbers, simple, counter-clockwise.

    Returns:
        Corners (K, 2), and where each curve ends in them (C,).

    Example:
        >>> square = np.array([[0, 0], [4, 0], [4, 4], [0, 4]], dtype=np.int64)
        >>> corners, ends = convolution(square, square)
        >>> corners.max(axis=0).tolist(), ends.tolist()
        ([8, 8], [8])
    """
    angles = _directions(p, q)  # sorted by NumPy: to compile a sort takes longer than all the rest
    corners, ends = _curves(p, q, angles, np.argsort(angles, kind="stable"))
    return corners.copy(), ends.copy()


@compiled
def _curves(p: Any, q: Any, angles: Any, order: Any) -> Any:
    """Return the curves of :func:`convolution` from the directions of all sides and their order."""
    n, m = len(p), len(q)
    total = n + m
    rank = np.empty(total, np.int64)
    for place in range(total):
        rank[order[place]] = place
    # What each corner turns through: from a lowest rank on, so many ranks.
    low, reach = np.empty(total, np.int64), np.empty(total, np.int64)
    left = np.empty(total, np.bool_)
    for out in range(total):
        base, size = (0, n) if out < n else (n, m)
        into = base + (out - base - 1) % size
        turn = angles[out] - angles[into]
        if turn >= np.pi:
            turn -= 2 * np.pi
        elif turn < -np.pi:
            turn += 2 * np.pi
        left[out] = turn > 0 or (turn == 0 and rank[out] > rank[into])
        low[out] = rank[into] if left[out] else rank[out]
        reach[out] = (rank[out] - rank[into] if left[out] else rank[into] - rank[out]) % total
    seen = np.zeros((2, n, m), np.bool_)
    corners, ends = np.empty((2 * n * m, 2), np.int64), np.empty(2 * n * m, np.int64)
    used, curves = 0, 0
    sizes, at = np.array([n, m]), np.empty(2, np.int64)
    for kind in range(2):
        for i0 in range(n):
            for j0 in range(m):
                # A side of one is carried by a corner of the other that turns through its direction.
                carrier, side = (n + j0, rank[i0]) if kind == 0 else (i0, rank[n + j0])
                offset = (side - low[carrier]) % total
                if seen[kind, i0, j0] or offset == 0 or offset >= reach[carrier]:
                    continue
                forward, moving = left[carrier], kind
                at[0], at[1] = i0, j0
                if not forward:
                    at[kind] = (at[kind] + 1) % sizes[kind]
                while True:
                    # Carry along the side; it is entered where both corners are.
                    x, y = p[at[0], 0] + q[at[1], 0], p[at[0], 1] + q[at[1], 1]
                    number = at[moving] if forward else (at[moving] - 1) % sizes[moving]
                    i, j = (number, at[1]) if moving == 0 else (at[0], number)
                    if seen[moving, i, j]:
                        break
                    seen[moving, i, j] = True
                    direction = rank[number + moving * n]
                    corners[used, 0], corners[used, 1] = x, y
                    used += 1
                    at[moving] = (at[moving] + (1 if forward else -1)) % sizes[moving]
                    # Turn on from this direction until either corner has turned through its own.
                    own, other = (at[0], n + at[1]) if moving == 0 else (n + at[1], at[0])
                    rising = direction == low[own]
                    to_other = low[other] + reach[other] - direction if rising else direction - low[other]
                    if reach[own] > to_other % total:
                        moving, own = 1 - moving, other
                    # A corner that turns left ends rising with the side that leaves it.
                    forward = rising == left[own]
                ends[curves] = used
                curves += 1
    return corners[:used], ends[:curves]


def simplified(outline: Points, tolerance: float, *, inward: bool = False) -> Points:
    """Return an outline with fewer corners that covers the given one, or is covered by it.

    Corners are left out as long as the rest lies near the chords; then each chord is moved out until
    nothing lies beyond it, and neighbouring chords are drawn until they meet.

    Args:
        outline: simple, counter-clockwise, (N, 2) mm.
        tolerance: no point of the new outline is further than this from the old one, mm.
        inward: the new outline lies within the old one, and does not cover it.

    Returns:
        Counter-clockwise, (M, 2) mm; the outline itself where nothing could be left out.

    Example:
        >>> dented = np.array([[0, 0], [5, 0.1], [10, 0], [10, 5], [0, 5]], dtype=float)
        >>> len(simplified(dented, 0.3)), len(simplified(dented, 0.05))
        (4, 5)
    """
    import shapely

    if len(outline) <= 4 or not tolerance > 0:
        return outline
    before = shapely.Polygon(outline)
    way = outline[::-1] if inward else outline
    for halvings in range(_HALVINGS):
        found = _covering_chords(way, tolerance / 2 ** (halvings + 1))
        if len(found) < 3 or len(found) >= len(outline):
            continue
        after = shapely.Polygon(found)
        if not after.is_valid or shapely.hausdorff_distance(after, before) > tolerance:
            continue
        inner, outer = (after, before) if inward else (before, after)
        # Rounding alone may leave a corner a hair outside.
        if outer.buffer(1e-7 * tolerance).covers(inner):
            return np.ascontiguousarray(found[::-1] if inward else found)
    return outline


def _covering_chords(outline: Points, tolerance: float) -> Points:
    """Return chords of an outline moved to the right until nothing lies right of them, joined up."""
    import shapely

    outline = np.roll(outline, -_sharpest(outline), axis=0)
    ring = np.vstack([outline, outline[:1]])
    # As a line, for a polygon may come back with another first corner.
    thinned = shapely.simplify(shapely.LineString(ring), tolerance, preserve_topology=False)
    kept = shapely.get_coordinates(thinned)
    if len(kept) < 4:
        return outline
    places = _indices_of(ring, kept)
    starts, steps, shifts = ring[places[:-1]], np.diff(ring[places], axis=0), np.empty(len(places) - 1)
    right = np.column_stack([steps[:, 1], -steps[:, 0]]) / np.linalg.norm(steps, axis=1)[:, None]
    for number, (first, last) in enumerate(pairwise(places)):
        shifts[number] = max(0.0, float(((ring[first : last + 1] - starts[number]) @ right[number]).max()))
    moved = starts + right * shifts[:, None]
    corners: list[Points] = []
    for number in range(len(starts)):
        before = number - 1
        u, v = steps[before], steps[number]
        cross = u[0] * v[1] - u[1] * v[0]
        if abs(cross) > 0.02 * float(np.hypot(*u) * np.hypot(*v)):
            gap = moved[number] - moved[before]
            meeting = moved[before] + (gap[0] * v[1] - gap[1] * v[0]) / cross * u
            if np.hypot(*(meeting - starts[number])) <= 2 * tolerance:
                corners.append(meeting)
                continue
        for corner in (starts[number] + right[before] * shifts[before], moved[number]):
            if not corners or not np.allclose(corner, corners[-1], rtol=0, atol=1e-9):
                corners.append(corner)
    return np.array(corners)


def _sharpest(outline: Points) -> int:
    """Return the number of the corner that turns most: one that stays a corner."""
    into = outline - np.roll(outline, 1, axis=0)
    out = np.roll(outline, -1, axis=0) - outline
    angles = np.abs(np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1)))
    return int(np.argmax(angles))


def _indices_of(ring: Points, kept: Points) -> list[int]:
    """Return the numbers of kept corners in the ring they were taken from, in order."""
    places, at = [], 0
    for corner in kept[:-1]:
        while not np.array_equal(ring[at], corner):
            at += 1
        places.append(at)
        at += 1
    return [*places, len(ring) - 1]
