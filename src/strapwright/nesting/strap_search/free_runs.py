"""Free runs of every row of a ground, for every make of strap, by one compiled scan."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from strapwright.core.tolerances import CLEARANCE
from strapwright.nesting.compiled import compiled, within
from strapwright.nesting.strap_search.rows import SLACK

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats, Ints, Points
    from strapwright.nesting.problem import Ground
    from strapwright.nesting.strap_search.strap_shape import Form, Make

_TOUCH = 1e-9
"""An edge that enters a band by less than this only touches it, mm."""

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


def distances(makes: Sequence[Make], gap: float, step: float) -> tuple[Floats, int]:
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


@within
def _first_above(y: Floats, first: int, last: int, height: float) -> int:
    """Return the lowest of corners ``first`` to ``last - 1``, y rising, not below a height; or ``last``."""
    below, k = first - 1, last
    while k - below > 1:
        middle = (below + k) // 2
        if height <= y[middle]:
            k = middle
        else:
            below = middle
    return k


@within
def _at(y: Floats, x: Floats, first: int, last: int, above: int, height: float) -> float:
    """Return x at a height on a chain of corners of which ``above`` is the lowest not below it."""
    if above == first:
        return x[first]
    if above == last:
        return x[last - 1]
    share = (height - y[above - 1]) / (y[above] - y[above - 1])
    return x[above - 1] + share * (x[above] - x[above - 1])


@compiled
def scan(
    edges: Floats,
    edge_of: Ints,
    corner_of: Ints,
    y: Floats,
    left: Floats,
    right: Floats,
    shortest: float,
    y0: float,
    step: float,
    low: Floats,
    high: Floats,
) -> None:
    """Write the free runs of every row.

    Args:
        edges: of the leather first, then of each area's zones, by rising lower end in each group, (E, 4) mm.
        edge_of: where each group's edges begin and end, (groups + 1,).
        corner_of: where each group's corners begin and end, (groups + 1,).
        y: heights of the groups' corners, mm.
        left: their least x from the strap's left end, mm.
        right: their greatest x from its right end, mm.
        shortest: runs shorter than this are left out, mm.
        y0: height of the first row, mm.
        step: from row to row, mm.
        low: filled with the runs' left ends, (rows, runs) mm.
        high: filled with their right ends.
    """
    groups = len(edge_of) - 1
    reach = np.empty(len(edges))  # the strap's right end touches the edge here, in rising order
    leave = np.empty(len(edges))  # and its left end is past it here
    beside = np.empty(len(edges), np.int64)  # of each group's edges those that lie beside the strap
    count, ahead = np.zeros(groups, np.int64), edge_of[:-1].copy()
    for row in range(len(low)):
        base = y0 + row * step
        met = 0
        for group in range(groups):
            first, last = corner_of[group], corner_of[group + 1]
            bottom, top = base + y[first], base + y[last - 1]
            begin = edge_of[group]
            end = begin + count[group]
            count[group] = 0
            while ahead[group] < edge_of[group + 1]:
                edge = ahead[group]
                if min(edges[edge, 1], edges[edge, 3]) >= top - _TOUCH:
                    break
                beside[end] = edge
                end += 1
                ahead[group] += 1
            for at in range(begin, end):
                edge = beside[at]
                ax, ay, bx, by = edges[edge]
                if ay > by:
                    ax, ay, bx, by = bx, by, ax, ay
                if by <= bottom + _TOUCH:
                    continue
                beside[begin + count[group]] = edge
                count[group] += 1
                from_, to = max(ay, bottom), min(by, top)
                level = by - ay < _TOUCH
                nearest, furthest = np.inf, -np.inf
                # An edge may come nearest at its own ends, or at a corner of the strap between.
                lower = _first_above(y, first, last, from_ - base)
                upper = _first_above(y, first, last, to - base)
                for k in range(lower - 3, min(upper + 1, last)):
                    if k < lower - 1:
                        height, above = (from_, lower) if k == lower - 3 else (to, upper)
                    elif k < first:
                        continue
                    else:
                        height = base + y[k]
                        if height <= from_ or height >= to:
                            continue
                        above = k if height - base <= y[k] else k + 1  # k but for rounding
                    r = _at(y, right, first, last, above, height - base)
                    m = _at(y, left, first, last, above, height - base)
                    if level:
                        nearest = min(nearest, min(ax, bx) - r)
                        furthest = max(furthest, max(ax, bx) - m)
                    else:
                        x = ax + (height - ay) / (by - ay) * (bx - ax)
                        nearest = min(nearest, x - r)
                        furthest = max(furthest, x - m)
                place = met
                while place > 0 and reach[place - 1] > nearest:
                    reach[place], leave[place] = reach[place - 1], leave[place - 1]
                    place -= 1
                reach[place], leave[place] = nearest, furthest
                met += 1
        if met == 0:
            continue
        run = 0
        past = leave[0]
        for k in range(1, met):
            start = reach[k]
            if (
                start - past >= shortest - SLACK
                and run < low.shape[1]
                and _all_free(edges, beside, edge_of, count, corner_of, y, left, right, base, past, start)
            ):
                low[row, run], high[row, run] = past, start
                run += 1
            past = max(past, leave[k])


@within
def _all_free(
    edges: Floats,
    beside: Ints,
    edge_of: Ints,
    count: Ints,
    corner_of: Ints,
    y: Floats,
    left: Floats,
    right: Floats,
    base: float,
    low: float,
    high: float,
) -> bool:
    """Whether a run lies on the leather and off the zones: one point of each area decides for all of it."""
    for group in range(len(edge_of) - 1):
        first, last = corner_of[group], corner_of[group + 1]
        middle = (first + last) // 2
        within = (y[middle] + y[middle - 1]) / 2
        above = _first_above(y, first, last, within)
        from_, to = _at(y, left, first, last, above, within), _at(y, right, first, last, above, within)
        x = (low + from_ + high + to) / 2
        height = base + within
        inside = False
        for at in range(edge_of[group], edge_of[group] + count[group]):
            ax, ay, bx, by = edges[beside[at]]
            if (ay > height) != (by > height) and ax + (height - ay) / (by - ay) * (bx - ax) < x:
                inside = not inside
        if inside != (group == 0):
            return False
    return True


@compiled
def clearances(
    y: Floats, right: Floats, other_y: Floats, other_left: Floats, step: float, middle: int, out: Floats
) -> None:
    """Write the distance from one strap's right end to another's left end, by how much higher that lies.

    Args:
        y: heights of the first strap's corners, grown by the gap, mm.
        right: its greatest x from its right end, grown by the gap, mm.
        other_y: heights of the other's corners, mm.
        other_left: its least x from its left end, mm.
        step: from row to row, mm.
        middle: where the table tells of no difference in height.
        out: filled, (2 · middle + 1,) mm.
    """
    count, others = len(y), len(other_y)
    first: Any = np.int64(0)
    for at in range(len(out)):
        rise = (at - middle) * step
        low = max(y[0], other_y[0] + rise)
        high = min(y[count - 1], other_y[others - 1] + rise)
        if high - low <= _TOUCH:
            continue
        most = -np.inf
        for k in range(count + others):
            if k in (0, count):  # the corners of one strap from below, then those of the other
                above, other_above = first, first
            height = y[k] if k < count else other_y[k - count] + rise
            height = min(max(height, low), high)
            while above < count and y[above] < height:
                above += 1
            while other_above < others and other_y[other_above] < height - rise:
                other_above += 1
            most = max(
                most,
                _at(y, right, first, count, above, height)
                - _at(other_y, other_left, first, others, other_above, height - rise),
            )
        out[at] = most
