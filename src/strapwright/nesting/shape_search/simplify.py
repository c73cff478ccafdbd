"""Simplified outlines, always on the safe side: pieces grow by a stated tolerance, grounds shrink by it."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from strapwright.core.arrays import Points


_HALVINGS = 8
"""How often the tolerance is halved where an outline came out wrong, before it is left as it was."""


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
