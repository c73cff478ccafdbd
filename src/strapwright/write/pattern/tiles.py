"""Cutting a part up for paper: its two ends with a break between, tiles that overlap."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.contour import Contour
from strapwright.parts.part import PartKind

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.parts.part import Part

OVERLAP: Final = 16.0
"""Neighbouring tiles share this much of the part, mm: half of it lies on either side of the join."""

BEYOND: Final = 30.0
"""At a break, the line to measure from stands this far beyond the last hole, mm, or up to 1 mm further."""

STUB: Final = 8.0
"""The strap is drawn on past that line by this much, mm."""

LEAST_BREAK: Final = 120.0
"""A strap of which less than this could be left out is printed whole, mm."""


_CLEAR_OF_JOIN: Final = 4.0
_FURTHEST_ASIDE: Final = 40.0


@dataclass(frozen=True)
class Stretch:
    """A run of a part, from ``x0`` to ``x1`` in its own frame, mm.

    Args:
        x0: where it begins.
        x1: where it ends.
        breaks: x of the lines to measure between, where the part goes on but is left out: at the start, at
            the end; None where it does not.
        left_out: between the two lines, mm; 0 where nothing is left out.
    """

    x0: float
    x1: float
    breaks: tuple[float | None, float | None] = (None, None)
    left_out: float = 0.0


@dataclass(frozen=True)
class Tile:
    """What one sheet shows of a stretch.

    Args:
        stretch: the stretch.
        x0: where the tile begins, mm.
        x1: where it ends, mm.
        joins: x of the lines on which it meets its neighbours, at the start and at the end; None at the ends.
        number: among the stretch's tiles, from 1.
    """

    stretch: Stretch
    x0: float
    x1: float
    joins: tuple[float | None, float | None]
    number: int


def stretches_of(part: Part, *, whole: bool) -> tuple[Stretch, ...]:
    """Return what to print of a part: all of it, or its two ends without the plain strap between.

    Args:
        part: the part.
        whole: print all of it in any case.
    """
    low, _, high, _ = part.outline.bounding_box
    gap = None if whole or part.kind is PartKind.KEEPER else _plain_run(part)
    if gap is None:
        return (Stretch(low, high),)
    first, second = math.ceil(gap[0] + BEYOND), math.floor(gap[1] - BEYOND)
    if second - first < LEAST_BREAK:
        return (Stretch(low, high),)
    return (
        Stretch(low, first + STUB, (None, float(first)), float(second - first)),
        Stretch(second - STUB, high, (float(second), None), float(second - first)),
    )


def _plain_run(part: Part) -> tuple[float, float] | None:
    """Return the longest run along a part with straight edges and nothing made in it, or None."""
    low, _, high, _ = part.outline.bounding_box
    taken = []
    for start, end, bulge in zip(part.outline.starts, part.outline.ends, part.outline.bulges, strict=True):
        if bulge or abs(end[1] - start[1]) > 1e-9:
            piece = Contour(np.array([(*start, bulge), (*end, 0.0)]), closed=False)
            taken.append(piece.bounding_box[::2])
    for feature in part.features:
        x0, _, x1, _ = feature.contour.bounding_box
        if x1 - x0 < (high - low) / 2:  # a crease runs on along the strap
            taken.append((x0, x1))
    best, reached = None, low
    for x0, x1 in sorted(taken):
        if best is None or x0 - reached > best[1] - best[0]:
            best = (reached, x0)
        reached = max(reached, x1)
    return best


def tiles_of(stretch: Stretch, room: float, avoid: Sequence[tuple[float, float]] = ()) -> tuple[Tile, ...]:
    """Cut a stretch into tiles of about one length that overlap by `OVERLAP`.

    Args:
        stretch: the stretch.
        room: longest tile, mm; more than twice the overlap.
        avoid: runs along x that no join should cross, where another place is near.

    Example:
        >>> [(tile.x0, tile.x1, tile.joins) for tile in tiles_of(Stretch(0.0, 384.0), 260.0)]
        [(0.0, 200.0, (None, 192.0)), (184.0, 384.0, (192.0, None))]
        >>> [tile.joins for tile in tiles_of(Stretch(0.0, 384.0), 260.0, [(185.0, 197.0)])]
        [(None, 201.0), (201.0, None)]
    """
    length = stretch.x1 - stretch.x0
    if length <= room:
        return (Tile(stretch, stretch.x0, stretch.x1, (None, None), 1),)
    count = math.ceil((length - OVERLAP) / (room - OVERLAP) - 1e-9)
    for number, clear in ((count, avoid), (count + 1, avoid), (count, ())):
        step, half = (length - OVERLAP) / number, OVERLAP / 2
        places = [_beside(stretch.x0 + k * step + half, clear) for k in range(1, number)]
        ends = [stretch.x0, *(x - half for x in places)], [*(x + half for x in places), stretch.x1]
        if all(OVERLAP < x1 - x0 <= room + 1e-9 for x0, x1 in zip(*ends, strict=True)):
            break
    joins = [None, *places, None]
    return tuple(
        Tile(stretch, x0, x1, (joins[k], joins[k + 1]), k + 1)
        for k, (x0, x1) in enumerate(zip(*ends, strict=True))
    )


def _beside(x: float, avoid: Sequence[tuple[float, float]]) -> float:
    """Return the nearest place that keeps clear of what is to be avoided, or the place itself."""
    for away in range(int(_FURTHEST_ASIDE) + 1):
        for place in (x - away, x + away):
            if not any(low - _CLEAR_OF_JOIN < place < high + _CLEAR_OF_JOIN for low, high in avoid):
                return place
    return x
