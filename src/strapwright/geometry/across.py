"""What is left of a strap across, place by place, and how far it is along it to the next opening."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.contour import arc_extremes
from strapwright.geometry.intersect import Segment, meet, segments_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from strapwright.core.arrays import Floats, Ints
    from strapwright.geometry.contour import Contour

_SURE: Final = 1e-6
"""The least width is found to this, mm."""

_HALVINGS: Final = 50
"""Of a stretch, to the place where a convex function is least: to rounding."""


@dataclass(frozen=True)
class Narrowest:
    """The place along a strap where the least is left of its width.

    Args:
        x: of the place, mm.
        width: of the outline there, mm.
        taken: by the openings there, all together, mm.
    """

    x: float
    width: float
    taken: float

    @property
    def left(self) -> float:
        """What is left there, mm."""
        return self.width - self.taken


def narrowest(
    outline: Contour, openings: Sequence[Contour], runs: Iterable[tuple[float, float]]
) -> Narrowest | None:
    """Return where the least is left across a strap beside its openings, exact for arcs.

    The width left is a sum of lines and arcs over x. Between their ends its concave arcs are replaced by
    their chords, which makes a convex lower bound; stretches are halved until the bound is within 1e-6 mm.
    At an edge straight across, either side of it counts.

    Args:
        outline: closed.
        openings: closed, inside it, apart from each other.
        runs: of x to look in, mm.

    Returns:
        None where the runs hold none of the outline.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> plate = Contour.from_points([(0, -19), (100, -19), (100, 19), (0, 19)])
        >>> at = narrowest(plate, [Contour.circle(50, 0, 8)], [(40, 60)])
        >>> round(at.x, 6), round(at.width, 6), round(at.taken, 6)
        (50.0, 38.0, 8.0)
    """
    parts = [_terms(outline, 1.0), *(_terms(one, -1.0) for one in openings)]
    terms, of_outline = np.concatenate(parts), len(parts[0])
    x0, x1 = terms[:, 0], terms[:, 1]
    low, _, high, _ = outline.bounding_box
    inside = [(max(a, low), min(b, high)) for a, b in runs if max(a, low) < min(b, high)]
    stops = np.unique(np.concatenate([x0, x1, np.array(inside).reshape(-1)]))
    starts, ends = stops[:-1], stops[1:]
    middles, wanted = (starts + ends) / 2, np.zeros(len(starts), dtype=bool)
    for a, b in inside:
        wanted |= (a < middles) & (middles < b)
    wanted &= ends - starts > _SURE
    firsts, lasts = np.searchsorted(middles, x0), np.searchsorted(middles, x1)
    term = np.repeat(np.arange(len(terms)), lasts - firsts)
    stretch = np.concatenate([np.arange(a, b) for a, b in zip(firsts, lasts, strict=True)])
    best, at = math.inf, None
    while wanted.any():
        term, stretch = term[wanted[stretch]], stretch[wanted[stretch]]
        stretch = (np.cumsum(wanted) - 1)[stretch]
        starts, ends = starts[wanted], ends[wanted]
        least, bound = _relaxed_least(terms[term], stretch, starts, ends)
        for x in (starts, least, ends):
            values = _value(terms[term], stretch, x)
            place = int(values.argmin())
            if values[place] < best - _SURE / 2:
                best = float(values[place])
                own = (stretch == place) & (term < of_outline)
                width = float(_value(terms[term[own]], np.zeros(own.sum(), dtype=int), x[[place]])[0])
                at = Narrowest(float(x[place]), width, width - best)
        open_ = (bound < best - _SURE) & (ends - starts > _SURE)
        count, half = len(starts), (starts + ends) / 2
        starts, ends = np.append(starts, half), np.append(half, ends)
        term, stretch = np.tile(term, 2), np.append(stretch, stretch + count)
        wanted = np.tile(open_, 2)
    return at


def _terms(contour: Contour, sign: float) -> Floats:
    """Return a closed contour's width as terms p + q x + k √(r² − (x − c)²): x0, x1, p, q, k, c, r each."""
    sign *= 1.0 if contour.is_counter_clockwise else -1.0
    rows = []
    for one in segments_of(contour):
        stops = [one.start, one.end]
        if one.bulge:  # from its leftmost to its rightmost point, above its centre or below
            sides = [(one.centre[0] + way * one.radius, one.centre[1]) for way in (-1.0, 1.0)]
            inner = sorted((one.fraction(side), side) for side in sides if 0.0 < one.fraction(side) < 1.0)
            stops[1:1] = [side for _, side in inner]
        for k in range(len(stops) - 1):
            (ax, ay), (bx, by) = stops[k], stops[k + 1]
            if abs(bx - ax) < 1e-9:
                continue
            side = -sign if bx > ax else sign
            span = (min(ax, bx), max(ax, bx))
            if one.bulge:
                upper = side if (one.bulge > 0) == (bx < ax) else -side
                rows.append((*span, side * one.centre[1], 0.0, upper, one.centre[0], one.radius))
            else:
                slope = (by - ay) / (bx - ax)
                rows.append((*span, side * (ay - slope * ax), side * slope, 0.0, 0.0, 0.0))
    return np.array(rows, dtype=np.float64)


def _value(terms: Floats, stretch: Ints, x: Floats) -> Floats:
    """Return the sum of each stretch's terms at its own x."""
    here = x[stretch]
    _, _, p, q, k, c, r = terms.T
    root = np.sqrt(np.maximum((r - (here - c)) * (r + (here - c)), 0.0))
    return np.asarray(np.bincount(stretch, p + q * here + k * root, len(x)), dtype=np.float64)


def _relaxed_least(terms: Floats, stretch: Ints, starts: Floats, ends: Floats) -> tuple[Floats, Floats]:
    """Return for each stretch where its terms, concave arcs as chords, are least, and how much that is."""
    relaxed = terms.copy()
    concave = np.flatnonzero(terms[:, 4] > 0)
    _, _, p, _, _, c, r = terms[concave].T
    a, b = starts[stretch[concave]], ends[stretch[concave]]
    ya, yb = (p + np.sqrt(np.maximum((r - (x - c)) * (r + (x - c)), 0.0)) for x in (a, b))
    slope = (yb - ya) / (b - a)
    relaxed[concave, 2], relaxed[concave, 3], relaxed[concave, 4] = ya - slope * a, slope, 0.0
    low, high = starts.copy(), ends.copy()
    _, _, _, q, k, c, r = relaxed.T
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        off = middle[stretch] - c
        root = np.sqrt(np.maximum((r - off) * (r + off), 1e-18))
        rising = np.bincount(stretch, q - k * off / root, len(middle)) > 0
        low, high = np.where(rising, low, middle), np.where(rising, middle, high)
    least = (low + high) / 2
    bound = np.min([_value(relaxed, stretch, x) for x in (starts, least, ends)], axis=0)
    return least, bound


def first_ahead(contours: Iterable[Contour], beyond: float, low: float, high: float) -> float:
    """Return the least x beyond a place at which a line comes between two heights, mm; infinite for none.

    Args:
        contours: whose lines count.
        beyond: x, mm.
        low: y of the lower edge of the band, mm.
        high: of its upper edge, mm.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> first_ahead([Contour.circle(30, 0, 10), Contour.circle(20, 9, 10)], 0, -2, 2)
        25.0
    """
    found = []
    for contour in contours:
        x0, y0, x1, y1 = contour.bounding_box
        if x1 <= beyond or y1 < low or y0 > high:
            continue
        points = contour.vertices[:, :2].tolist()
        if (arcs := contour.is_arc).any():
            furthest, _ = arc_extremes(
                contour.starts[arcs], contour.centres[arcs], contour.radii[arcs], contour.sweeps[arcs]
            )
            points += furthest.tolist()
        for y in (low, high):
            level = Segment((x0 - 1.0, y), (x1 + 1.0, y))
            points += [point for one in segments_of(contour) for point in meet(level, one)]
        found += [x for x, y in points if x > beyond and low - 1e-9 <= y <= high + 1e-9]
    return min(found, default=math.inf)
