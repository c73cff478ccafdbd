"""How much could be placed at best: numbers no layout can pass, so that a maker knows when to stop.

Two counts are made for each hide and the smaller holds.

1. Area. Parts kept g apart stay disjoint when each grows by g/2 all round, and then lie on the free
   leather grown by g/2. So the grown areas add up to no more than that leather's area.
2. Rows, for straps. Parts kept g apart stay disjoint when each is drawn upwards by g. At every height,
   a run of leather shorter than every strap's shortest chord holds none, and a run of length w holds at
   most floor(w / shortest chord) of them, none longer than the longest. Summed over heights, that
   limits the area of the straps drawn upwards.
"""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from strapwright.geometry.polygon import to_polygon
from strapwright.nesting.rows import leather_of
from strapwright.nesting.verify import THICKNESS_AGREES
from strapwright.tolerances import CLEARANCE, NESTING_CHORD

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from strapwright.nesting.hide import Hide
    from strapwright.nesting.layout import Clearance
    from strapwright.parts.part import Part

    Floats = NDArray[np.float64]

_BANDS = 240
"""Bands a hide is cut into for the rows' count: more bands come nearer the truth, all stay above it."""


def area_bound(parts: Sequence[Part], hides: Sequence[Hide], clearance: Clearance) -> float:
    """Return an area in mm² that the parts placed on these hides can never pass.

    Args:
        parts: all parts asked for.
        hides: the hides.
        clearance: what is kept between parts and to edges.

    Returns:
        At most the area of all parts whose thickness some hide has.
    """
    total = 0.0
    placeable: set[str] = set()
    for hide in hides:
        fitting = [part for part in parts if thickness_agrees(part, hide)]
        placeable.update(part.id for part in fitting)
        if fitting:
            total += _on_hide(fitting, hide, clearance)
    return min(total, sum(part.outline.area for part in parts if part.id in placeable))


def thickness_agrees(part: Part, hide: Hide) -> bool:
    """Whether a part may be cut from a hide of this thickness; a hide not measured takes any."""
    return hide.thickness is None or (abs(hide.thickness - part.thickness) <= THICKNESS_AGREES + 1e-9)


def _on_hide(parts: Sequence[Part], hide: Hide, clearance: Clearance) -> float:
    import shapely

    # Layouts may come this much nearer than asked, so the bound allows them to.
    gap = max(clearance.between - CLEARANCE, 0.0)
    free = leather_of(hide, max(clearance.edge - CLEARANCE, 0.0))
    # Where the edge was moved in a little too far to be safe, that is given back here.
    free_shape = shapely.buffer(free.polygon, 2 * CLEARANCE + clearance.edge * 1e-2, quad_segs=16)
    if free_shape.is_empty:
        return 0.0
    sides = 16
    reach = gap / 2 / math.cos(math.pi / (4 * sides))
    room = free_shape.buffer(reach, quad_segs=sides).area
    count = Counter((part.kind, part.outline) for part in parts)
    cores = {key: to_polygon(key[1], NESTING_CHORD, "inward") for key in count}
    grown = [
        (key[1].area, float(shapely.Polygon(core).buffer(gap / 2).area), count[key])
        for key, core in cores.items()
    ]
    by_area = _most(grown, room)
    straps = {key: core for key, core in cores.items() if key[0].lies_along}
    if not straps:
        return by_area
    drawn = [
        (key[1].area, key[1].area + gap * float(np.ptp(core[:, 0])), count[key])
        for key, core in straps.items()
    ]
    shortest = min(_shortest_chord(core) for core in straps.values())
    longest = max(key[1].bounding_box[2] - key[1].bounding_box[0] for key in straps)
    rows = _row_room(free_shape, gap, shortest, longest)
    others = sum(part.outline.area for part in parts if not part.kind.lies_along)
    return min(by_area, _most(drawn, rows) + others)


def _most(items: Sequence[tuple[float, float, int]], room: float) -> float:
    """Return the greatest total of worths whose sizes fit a room, were items divisible.

    Args:
        items: worth of one, size of one, how many.
        room: what the sizes may add up to.

    Example:
        >>> _most([(10.0, 10.0, 1), (6.0, 12.0, 1)], 16.0)
        13.0
    """
    total = 0.0
    for worth, size, number in sorted(items, key=lambda item: item[0] / item[1], reverse=True):
        share = min(float(number), room / size)
        total += worth * share
        room -= size * share
        if room <= 0:
            break
    return total


def _shortest_chord(core: Floats) -> float:
    """Return a length that no unbroken run of a strap, at any height, is shorter than; mm, may be 0.

    Between two corners' heights each run's length changes in a straight line, so the least is found
    beside the corners.
    """
    import shapely

    (x0, y0), (x1, y1) = core.min(axis=0), core.max(axis=0)
    beside = np.concatenate([core[:, 1] - 1e-7, core[:, 1] + 1e-7])
    heights = np.unique(beside[(beside > y0) & (beside < y1)])
    lines = [shapely.LineString([(x0 - 1, y), (x1 + 1, y)]) for y in heights]
    runs = shapely.get_parts(shapely.intersection(shapely.Polygon(core), lines))
    # A hair less, for the heights are not quite the corners' own.
    return max(float(shapely.length(runs).min()) - 1e-3, 0.0)


def _row_room(free: object, gap: float, shortest: float, longest: float) -> float:
    """Return the area straps drawn upwards by the gap may cover of the free leather, at most, mm²."""
    import shapely

    x0, y0, x1, y1 = shapely.bounds(free)
    edges = np.linspace(y0, y1 + gap, _BANDS + 1)
    # A point of a drawn strap stems from leather at its own height or up to the gap below.
    windows = shapely.box(x0 - 1, edges[:-1] - gap, x1 + 1, edges[1:])
    total = 0.0
    for band, piece in zip(np.diff(edges), shapely.intersection(free, windows), strict=True):
        for left, _, right, _ in shapely.bounds(shapely.get_parts(piece)):
            total += float(band) * _usable(float(right - left), shortest, longest)
    return total


def _usable(width: float, shortest: float, longest: float) -> float:
    """Return how much of a run of leather straps can cover at one height, at most, mm.

    Example:
        >>> _usable(900, 1000, 1200), _usable(1900, 1000, 1200), _usable(1100, 1000, 1200)
        (0.0, 1200.0, 1100.0)
    """
    if shortest <= 0:
        return width
    return float(min(width, math.floor(width / shortest + 1e-9) * longest))
