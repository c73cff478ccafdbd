"""No-fit and inner-fit polygons of the pieces on one ground, made when first asked for and kept in arrays."""

from __future__ import annotations

import math
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from strapwright.core.errors import NestError
from strapwright.core.tolerances import NESTING_CHORD
from strapwright.geometry.polygon import signed_area, turned
from strapwright.nesting.problem import PiecePlacement
from strapwright.nesting.shape_search import nfp
from strapwright.nesting.shape_search.nfp import simplified

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from strapwright.core.arrays import Floats, Ints, Points
    from strapwright.nesting.problem import Piece, Problem


SHARE = 0.0008
"""Outlines are simplified by at most this share of the ground's extent, mm a mm."""

_MANY = 40
"""Outlines with no more corners than this are taken as they are."""

_CELLS = 64
"""Cells, along each side, of the raster that shows quickly whether a place is in an inner-fit polygon."""

_AT_ONCE = 4096
"""Pairs whose no-fit polygons are made in one go."""

INSIDE, OUTSIDE, EDGE = 0, 1, 2
"""What a cell of the raster holds."""


class NfpArrays(NamedTuple):
    """The no-fit and inner-fit polygons as the compiled search reads them.

    A side is five numbers: its start, its way, and one over its length squared. ``pair[f, g]`` is the
    no-fit polygon of rotation ``g`` beside rotation ``f``, or -1 where it has not been worked out.
    """

    pair: Any
    start: Any
    stop: Any
    box: Any
    sides: Any
    fit_start: Any
    fit_stop: Any
    fit_box: Any
    fit_sides: Any
    raster: Any
    reach: Any


class PieceGroup:
    """Pieces alike in outline, turns, value and what they shun, so that any may take the place of another.

    Args:
        pieces: their numbers.
        piece: one of them.
        outline: simplified, counter-clockwise, mm.
        rotations: numbers of its rotations: one a turn it may take, those that look alike left out.
        value: of one piece.
        area: of its outline as simplified, mm².
    """

    def __init__(self, piece: Piece, outline: Points) -> None:
        self.pieces: list[int] = []
        self.piece = piece
        self.outline = outline
        self.rotations: list[int] = []
        self.value = piece.value
        self.area = signed_area(outline)


@dataclass(frozen=True, eq=False)
class Packing:
    """Rotations on a ground, none of them overlapping.

    Args:
        value: what the pieces are worth.
        groups: of each.
        rotations: of each.
        at: origin of each, (n, 2) mm.
    """

    value: float
    groups: tuple[int, ...]
    rotations: Ints
    at: Floats


NOTHING: Final = Packing(0.0, (), np.zeros(0, np.int64), np.zeros((0, 2)))
"""An empty ground."""


def _outline_fault(outline: Points) -> str:
    """Return what is wrong with an outline, or nothing."""
    import shapely

    if len(outline) < 3:
        return f"has only {len(outline)} corners"
    if not np.isfinite(outline).all():
        return "has a corner that is no number"
    polygon = shapely.Polygon(outline)
    if not polygon.is_valid:
        where = shapely.is_valid_reason(polygon).partition("[")[2].rstrip("]").replace(" ", ", ")
        return f"crosses itself near ({where}) mm" if where else "crosses itself"
    return "" if polygon.area > 0 else "has no area"


def _counter_clockwise(outline: Points) -> Points:
    """Return an outline that runs counter-clockwise."""
    return outline if signed_area(outline) > 0 else outline[::-1]


def _sides(points: Points) -> Points:
    way = np.roll(points, -1, axis=0) - points
    long = np.maximum((way**2).sum(axis=1), 1e-30)
    return np.column_stack([points, way, 1 / long])


class _GrowingRows:
    """Rows of numbers that grow, without moving what a search in another thread may be reading."""

    def __init__(self, width: int) -> None:
        self.rows = np.empty((1024, width))
        self.used = 0

    def add(self, rows: Points) -> tuple[int, int]:
        first, last = self.used, self.used + len(rows)
        if last > len(self.rows):
            larger = np.empty((2 * last, self.rows.shape[1]))
            larger[:first] = self.rows[:first]
            self.rows = larger
        self.rows[first:last] = rows
        self.used = last
        return first, last


class NfpCache:
    """The rotations of pieces, their inner-fit polygons on one ground, and their no-fit polygons.

    Args:
        problem: the pieces and grounds.
        ground: number of the ground.
        wanted: numbers of the pieces that may be laid on it.
        there: placements of what lies there already and stays.
    """

    def __init__(
        self, problem: Problem, ground: int, wanted: Iterable[int], there: Sequence[PiecePlacement] = ()
    ) -> None:
        from strapwright.nesting.shape_search.convex import ConvexPieces

        self.problem, self.number, self.ground = problem, ground, problem.grounds[ground]
        extent = float(np.max(np.ptp(self.ground.boundary, axis=0)))
        self.tolerance = max(NESTING_CHORD, SHARE * extent)
        largest = max((float(np.max(np.ptp(p.outline, axis=0))) for p in problem.pieces), default=0.0)
        far = float(np.abs(self.ground.boundary).max())
        self.grid = nfp.Grid(max(extent, largest, far))
        if fault := _outline_fault(self.ground.boundary):
            raise NestError(f"ground {ground + 1}: its outline {fault}; draw it as one simple loop")
        self.boundary = self._simplified(_counter_clockwise(self.ground.boundary), inward=True)
        lying = [placed for placed in there if placed.ground == ground]
        self._still = [self._placed_path(placed) for placed in lying]
        taken = sum(abs(signed_area(problem.pieces[placed.piece].outline)) for placed in lying)
        self.area_left = signed_area(self.boundary) - taken
        """Of the ground within its edge, less what lies there already, mm²."""
        self.groups: list[PieceGroup] = []
        self.group_of: list[int] = []
        self.angle_of: list[float] = []
        self.paths: list[nfp.Path] = []
        self._group_pieces(wanted)
        self._lock = Lock()
        self._regions: dict[tuple[frozenset[str], bool], list[nfp.Path]] = {}
        self._no_fits: dict[tuple[int, int, float, float], list[Points]] = {}
        self._convex = ConvexPieces(self.paths, self.grid.scale, problem.gap)
        count = len(self.paths)
        self._pair = np.full((count, count), -1, dtype=np.int64)
        self._ranges = _GrowingRows(6)
        self._edges = _GrowingRows(5)
        self._fit_edges = _GrowingRows(5)
        # Row by row: one rotation then makes arrays laid out as many do, and nothing is compiled twice.
        self._fit = np.zeros((2, count), dtype=np.int64)
        self._fit_box = np.zeros((count, 4))
        self._fit_known = np.zeros(count, dtype=bool)
        self._raster = np.full((count, _CELLS, _CELLS), OUTSIDE, dtype=np.int8)
        self._reach = np.zeros((count, 4))
        for rotation, path in enumerate(self.paths):
            points = self.grid.points(path)
            self._reach[rotation] = [*points.min(axis=0), *points.max(axis=0)]

    def _simplified(self, outline: Points, *, inward: bool = False) -> Points:
        return outline if len(outline) <= _MANY else simplified(outline, self.tolerance, inward=inward)

    def _placed_path(self, placed: PiecePlacement) -> nfp.Path:
        outline = self._simplified(_counter_clockwise(self.problem.pieces[placed.piece].outline))
        return self.grid.path(placed.apply(outline))

    def _group_pieces(self, wanted: Iterable[int]) -> None:
        known: dict[object, PieceGroup] = {}
        outlines: dict[int, Points] = {}
        for number in wanted:
            piece = self.problem.pieces[number]
            key = (piece.shape, piece.shuns, piece.areas, piece.turns, piece.value)
            if key not in known:
                if piece.shape not in outlines:
                    if fault := _outline_fault(piece.outline):
                        raise NestError(f"{piece.id}: its outline {fault}; draw it as one simple loop")
                    outlines[piece.shape] = self._simplified(_counter_clockwise(piece.outline))
                known[key] = group = PieceGroup(piece, outlines[piece.shape])
                self._add_rotations(group, len(self.groups))
                self.groups.append(group)
            known[key].pieces.append(number)

    def _add_rotations(self, group: PieceGroup, number: int) -> None:
        looks: set[object] = set()
        for turn in group.piece.turns:
            path = self.grid.path(turned(group.outline, turn))
            low = np.min(path, axis=0)
            look = frozenset((x - int(low[0]), y - int(low[1])) for x, y in path)
            if look in looks and not group.piece.areas:
                continue
            looks.add(look)
            group.rotations.append(len(self.paths))
            self.group_of.append(number)
            self.angle_of.append(turn)
            self.paths.append(path)

    def arrays_for(self, groups: Iterable[int]) -> NfpArrays:
        """Return the arrays with every no-fit polygon between some groups."""
        rotations = [rotation for group in dict.fromkeys(groups) for rotation in self.groups[group].rotations]
        with self._lock:
            for rotation in rotations:
                self._find_inner_fit(rotation)
            fitting = [rotation for rotation in rotations if self._has_inner_fit(rotation)]
            self._compute_pairs(fitting, fitting)
            return self.nfps()

    def arrays_beside(self, lying: Iterable[int], group: int) -> NfpArrays:
        """Return the arrays with the no-fit polygons of a group beside rotations that lie.

        Args:
            lying: numbers of the rotations that lie.
            group: the group; of its rotations those that have an inner-fit polygon.
        """
        with self._lock:
            self._compute_pairs(sorted(set(lying)), self.fitting(group))
            return self.nfps()

    def nfps(self) -> NfpArrays:
        """Return the arrays as they stand."""
        ranges = self._ranges.rows
        return NfpArrays(
            self._pair,
            ranges[:, 0],
            ranges[:, 1],
            ranges[:, 2:],
            self._edges.rows,
            self._fit[0],
            self._fit[1],
            self._fit_box,
            self._fit_edges.rows,
            self._raster,
            self._reach,
        )

    def fitting(self, group: int) -> list[int]:
        """Return the rotations of a group that have any place on the ground."""
        return [rotation for rotation in self.groups[group].rotations if self._has_inner_fit(rotation)]

    def placements_of(self, packing: Packing) -> list[PiecePlacement]:
        """Return rotations laid as placements of pieces: those of a group in turn."""
        pieces = [iter(group.pieces) for group in self.groups]
        return [
            PiecePlacement(next(pieces[group]), self.number, self.angle_of[rotation], x, y)
            for group, rotation, (x, y) in zip(
                packing.groups, packing.rotations.tolist(), packing.at.tolist(), strict=True
            )
        ]

    def _has_inner_fit(self, rotation: int) -> bool:
        return bool(self._fit[1, rotation] > self._fit[0, rotation])

    def fits(self, group: int) -> bool:
        """Whether a group has any place on the ground as it is."""
        with self._lock:
            for rotation in self.groups[group].rotations:
                self._find_inner_fit(rotation)
        return bool(self.fitting(group))

    def _compute_pairs(self, still: Sequence[int], moving: Sequence[int]) -> None:
        """Make the no-fit polygons of some rotations beside others, as far as they are missing."""
        if not still or not moving:
            return
        rows, columns = np.nonzero(self._pair[np.ix_(still, moving)] < 0)
        pairs = np.column_stack([np.array(still)[rows], np.array(moving)[columns]])
        convex = self._convex.known[pairs].all(axis=1)
        for one, other in pairs[~convex].tolist():
            self._compute_pair(one, other)
        # So many at a time as are a few megabytes.
        for first in range(0, len(smooth := pairs[convex]), _AT_ONCE):
            some = smooth[first : first + _AT_ONCE]
            sides, stops, boxes = self._convex.no_fits(some)
            begin, _ = self._edges.add(sides)
            starts = np.concatenate([[0], stops[:-1]])
            row, end = self._ranges.add(np.column_stack([begin + starts, begin + stops, boxes]))
            self._pair[some[:, 0], some[:, 1]] = np.arange(row, end)

    def _compute_pair(self, still: int, moving: int) -> None:
        # Always the same way round and from the same turn, so that no order of asking changes the result.
        still, moving = min(still, moving), max(still, moving)
        if self._pair[still, moving] >= 0:
            return
        turn = self.angle_of[still]
        by = round(math.remainder(self.angle_of[moving] - turn, 2 * math.pi), 9)
        if abs(math.remainder(turn, math.pi / 2)) < 1e-12:
            key, back = (self.group_of[still], self.group_of[moving], by, 0.0), turn
        else:  # turned back it would no longer be on the grid
            key, back = (self.group_of[still], self.group_of[moving], by, turn), 0.0
        if key not in self._no_fits:
            first, second = (
                np.rint(turned(np.array(self.paths[rotation], float), -back)).astype(np.int64).tolist()
                for rotation in (still, moving)
            )
            found = nfp.no_fit(first, second, self.problem.gap * self.grid.scale)
            self._no_fits[key] = [self.grid.points(path) for path in found]
        paths = [turned(points, back) for points in self._no_fits[key]]
        self._store_pair(still, moving, paths)
        if still != moving:
            self._store_pair(moving, still, [-points for points in paths])

    def _store_pair(self, still: int, moving: int, paths: list[Points]) -> None:
        points = np.vstack(paths)
        first, last = self._edges.add(np.vstack([_sides(path) for path in paths]))
        row, _ = self._ranges.add(np.array([[first, last, *points.min(axis=0), *points.max(axis=0)]]))
        self._pair[still, moving] = row

    def _region(self, shuns: frozenset[str], *, bounded: bool = True) -> list[nfp.Path]:
        """Return what may be covered by something that shuns some kinds of zone."""
        key = (shuns, bounded)
        if key not in self._regions:
            boundary = self.boundary
            if not bounded:
                size = np.ptp(boundary, axis=0)
                (x0, y0), (x1, y1) = boundary.min(axis=0) - size, boundary.max(axis=0) + size
                boundary = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
            zones = [
                self.grid.path(
                    zone.polygon if _outline_fault(zone.polygon) else self._simplified(zone.polygon)
                )
                for zone in self.ground.zones
                if zone.kind in shuns
            ]
            margin = self.problem.margin * self.grid.scale
            self._regions[key] = nfp.free_region(self.grid.path(boundary), zones, margin, self.grid)
        return self._regions[key]

    def _find_inner_fit(self, rotation: int) -> None:
        if self._fit_known[rotation]:
            return
        self._fit_known[rotation] = True
        piece = self.groups[self.group_of[rotation]].piece
        turn, path = self.angle_of[rotation], self.paths[rotation]
        kinds = {zone.kind for zone in self.ground.zones}
        room = nfp.inner_fit(self._region(piece.shuns & kinds), path)
        for area in piece.areas:
            if room and area.shuns & kinds:
                share = self.grid.path(turned(_counter_clockwise(area.polygon), turn))
                region = self._region(area.shuns & kinds, bounded=False)
                room = nfp.intersection(room, nfp.inner_fit(region, share))
        gap = self.problem.gap * self.grid.scale
        if room:
            taken = [nfp.no_fit(still, path, gap) for still in self._still]
            room = nfp.difference(room, [way for paths in taken for way in paths])
        if not room:
            return
        paths = [self.grid.points(way) for way in room]
        points, sides = np.vstack(paths), np.vstack([_sides(way) for way in paths])
        self._fit[:, rotation] = self._fit_edges.add(sides)
        self._fit_box[rotation] = [*points.min(axis=0), *points.max(axis=0)]
        from strapwright.nesting.shape_search.penetration import rasterize

        rasterize(sides, self._fit_box[rotation], self._raster[rotation])
