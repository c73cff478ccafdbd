"""Free runs of every row of a ground, for every make of strap: found by one scan, without no-fit polygons."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from strapwright.core.tolerances import CLEARANCE
from strapwright.nesting.strap_search.free_runs import clearances, scan

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from strapwright.core.arrays import Points
    from strapwright.nesting.problem.types import Ground
    from strapwright.nesting.strap_search.strap_shape import Form, Make

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

RUNS = 6
"""Free runs kept of a row: the longest would never be more, for each takes a strap."""

_WORKERS = 2
"""Makes scanned at once: one on each core of a small machine."""

_STEPS = np.arange(0.80, 1.2001, 0.002)
"""Steps of the grid that are tried, of about what is wanted."""

_QUARTER_SEGMENTS = 16
"""Chords a quarter circle when an edge is moved by the margin: 0.0024 mm short at 2 mm, made up for."""

_MENDINGS = 4
"""How often a shortfall in the margin is made up for; once has been enough."""


@dataclass(frozen=True, eq=False)
class RowTable:
    """The rows of one ground, ``step`` apart from ``y0`` upwards.

    Args:
        y0: height of the lowest row, mm.
        step: mm.
        low: the strap's left end may lie from here, (makes, rows, RUNS) mm.
        high: and its right end up to here; less than ``low`` where there is no run.
        top: greatest height of the leather, mm.
        edges: what the rows were scanned for.
    """

    y0: float
    step: float
    low: Floats
    high: Floats
    top: float
    edges: Edges


def best_step(heights: Sequence[float], gap: float, about: float = 0.5) -> float:
    """Return a step of which the pitch of every strap is nearly a multiple, mm.

    Args:
        heights: of the straps, mm.
        gap: kept between them, mm.
        about: the step wanted, within a fifth, mm.

    Example:
        >>> round(best_step([38.0, 32.0, 52.0], 2.0), 3)
        0.5
    """
    pitch, steps = np.asarray(heights)[:, None] + gap, about * _STEPS
    lost = (np.ceil(pitch / steps - 1e-6) * steps - pitch).sum(axis=0)
    # Among steps that lose the same, the coarsest: there are fewer rows to look at.
    return float(steps[np.flatnonzero(lost < np.min(lost) + 1e-6)[-1]])


def table_of(
    ground: Ground,
    makes: Sequence[Make],
    forms: Sequence[Form],
    step: float,
    *,
    margin: float,
    gap: float = 0.0,
    taken: Sequence[Points] = (),
) -> RowTable:
    """Return the free runs of every row of a ground, for every make of strap.

    Args:
        ground: the ground.
        makes: of the straps.
        forms: the straps in each turn; runs shorter than the shortest of a make are left out.
        step: of the rows, mm.
        margin: kept from the edge and from zones, mm.
        gap: kept from what lies there already, mm.
        taken: outlines of what lies there already.
    """
    shortest = [min((f.length for f in forms if f.make == n), default=0.0) for n in range(len(makes))]
    y0, top = float(np.min(ground.boundary[:, 1])) + margin, float(np.max(ground.boundary[:, 1])) - margin
    least = min((make.height for make in makes), default=0.0)
    rows = max(0, math.floor((top - y0 - least) / step + 1e-6) + 1)
    low = np.full((len(makes), rows, RUNS), np.inf)
    high = np.full((len(makes), rows, RUNS), -np.inf)
    edges = Edges(ground, margin, gap, taken)

    def scan_for(number: int) -> None:
        edges.scan(makes[number], shortest[number], y0, step, low[number], high[number])

    with ThreadPoolExecutor(_WORKERS) as pool:
        list(pool.map(scan_for, range(len(makes))))
    return RowTable(y0, step, low, high, top, edges)


def distances(makes: Sequence[Make], gap: float, step: float) -> tuple[NDArray[np.float64], int]:
    """Return how far apart two straps must stay end to end, at each difference of height.

    Args:
        makes: of the straps.
        gap: kept between them, mm.
        step: of the rows, mm.

    Returns:
        ``table[a, b, d + middle]``, mm: from the right end of a strap of make ``a`` to the left end of one
        of make ``b`` that lies ``d`` rows higher, minus infinity where they do not meet; and ``middle``.
    """
    reach = max((make.height for make in makes), default=0.0) + gap
    middle = math.ceil(reach / step) + 1
    out = np.full((len(makes), len(makes), 2 * middle + 1), -np.inf)
    for a, left in enumerate(makes):
        for b, right in enumerate(makes):
            clearances(
                left.grown.y, left.grown.right, right.whole.y, right.whole.left, step, middle, out[a, b]
            )
    return out, middle


class Edges:
    """Edges of what a ground's pieces may not cross, by the kinds they shun: each made once.

    Args:
        ground: the ground.
        margin: kept from the edge and from zones, mm.
        gap: kept from what lies there already, mm.
        taken: outlines of what lies there already.
        mended: whether edges are moved as far as asked at least; a bound wants them moved no further.
    """

    def __init__(
        self, ground: Ground, margin: float, gap: float, taken: Sequence[Points] = (), *, mended: bool = True
    ) -> None:
        self._ground, self._margin, self._gap, self._taken = ground, margin, gap, taken
        self._moved = moved_edge if mended else _plainly_moved
        self._free: dict[frozenset[str], Floats] = {}
        self._zones: dict[frozenset[str], Floats] = {}
        self._of_makes: dict[Make, tuple[Floats, Ints, Ints, Floats, Floats, Floats]] = {}

    def scan(self, make: Make, shortest: float, y0: float, step: float, low: Floats, high: Floats) -> None:
        """Write the free runs of a make's rows.

        See :func:`strapwright.nesting.strap_search.free_runs.scan`.
        """
        if make not in self._of_makes:
            groups = [self.free(make.whole.shuns)] + [self.zones(area.shuns) for area in make.areas]
            sides = (make.whole, *make.areas)
            self._of_makes[make] = (
                np.concatenate(groups),
                np.cumsum([0, *(len(group) for group in groups)]),
                np.cumsum([0, *(len(side.y) for side in sides)]),
                np.concatenate([side.y for side in sides]),
                np.concatenate([side.left for side in sides]),
                np.concatenate([side.right for side in sides]),
            )
        scan(*self._of_makes[make], shortest, y0, step, low, high)

    def free(self, shuns: frozenset[str]) -> Floats:
        """Return the edges of the leather less the zones shunned and what lies there, (E, 4) mm."""
        if shuns not in self._free:
            self._free[shuns] = edges_of(self.shape(shuns))
        return self._free[shuns]

    def shape(self, shuns: frozenset[str]) -> Any:
        """Return the leather that pieces shunning some kinds of zone may lie on, as a shapely geometry.

        The distance is kept to within half of `tolerances.CLEARANCE`; it is exact on a hide without
        inward corners and a hair more on others.
        """
        import shapely

        leather = self._moved(shapely.Polygon(self._ground.boundary), self._margin, -1.0)
        leather = leather.difference(self._grown_zones(shuns))
        if self._taken:
            # Pieces lie apart, so each is grown by itself: no corner of one hides another's.
            lying = [self._moved(shapely.Polygon(points), self._gap, 1.0) for points in self._taken]
            leather = leather.difference(shapely.union_all(lying))
        return leather

    def _grown_zones(self, shuns: frozenset[str]) -> Any:
        import shapely

        zones = [
            shapely.make_valid(shapely.Polygon(z.polygon)) for z in self._ground.zones if z.kind in shuns
        ]
        return self._moved(shapely.union_all(zones), self._margin, 1.0)

    def zones(self, shuns: frozenset[str]) -> Floats:
        """Return the edges of the zones shunned, grown by the margin, (E, 4) mm."""
        if shuns not in self._zones:
            self._zones[shuns] = edges_of(self._grown_zones(shuns))
        return self._zones[shuns]


def _plainly_moved(shape: Any, edge: float, outward: float) -> Any:
    """Return a shape grown or shrunk with chords inside its round corners: moved no further than asked."""
    return shape.buffer(outward * edge, quad_segs=_QUARTER_SEGMENTS) if edge > 0 else shape


def moved_edge(shape: Any, edge: float, outward: float) -> Any:
    """Return a shape grown (1) or shrunk (−1) until its new edge keeps the distance everywhere.

    Chords inside round corners and the buffer's own simplifying fall a little short; the shortfall is
    measured and made up for.
    """
    import shapely

    if edge <= 0 or shape.is_empty:
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


def edges_of(shape: Any) -> Floats:
    """Return the edges of a shapely geometry, by rising lower end, (E, 4): x, y of start and end, mm."""
    import shapely

    found = [np.empty((0, 4))]
    for piece in shapely.get_parts(shape):
        if piece.geom_type == "Polygon" and not piece.is_empty:
            for ring in (piece.exterior, *piece.interiors):
                points = shapely.get_coordinates(ring)
                found.append(np.hstack([points[:-1], points[1:]]))
    edges = np.concatenate(found)
    return edges[np.argsort(np.minimum(edges[:, 1], edges[:, 3]), kind="stable")]
