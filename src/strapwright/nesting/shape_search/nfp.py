"""No-fit and inner-fit polygons: where the origin of a piece may not lie beside another, and may on a ground.

A rotation is a piece's outline in one of its turns. All polygons here are lists of whole numbers on a fine
grid, so that edges that touch do so exactly.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.tolerances import CLEARANCE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Points

    Path = list[list[int]]

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
    from strapwright.nesting.shape_search.minkowski import convolution

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
