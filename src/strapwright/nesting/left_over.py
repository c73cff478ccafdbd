"""What a layout leaves of a hide: the piece past the last part, its largest rectangle, the true waste."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.transform import turned
from strapwright.job.price import Waste

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from strapwright.nesting.hide import Hide
    from strapwright.nesting.layout import Layout

    Floats = NDArray[np.float64]

NARROWEST: Final = 40.0
"""A strip across the straps narrower than this goes with the waste, mm: no belt comes out of it."""

CELL: Final = 10.0
"""The free rectangle is found on a grid this wide, mm, and so is up to two cells short each way."""


@dataclass(frozen=True, eq=False)
class LeftOver:
    """A piece of a hide that stays whole: cut off along the straps, past the last part.

    Args:
        outline: in the hide's frame, (N, 2) mm.
        area: of it, mm², flaws included.
        rectangle: corners of a rectangle clear of edges and flaws, its long way free, (4, 2) mm in the hide's
            frame; empty where no cell of the grid is free.
        along: of the rectangle along the straps, mm.
        across: of the rectangle across the straps, mm.
    """

    outline: Floats
    area: float
    rectangle: Floats
    along: float
    across: float


def left_over(layout: Layout, name: str) -> LeftOver | None:
    """Return the largest piece a straight cut along the straps leaves beside the parts.

    Args:
        layout: the layout.
        name: of the hide.

    Returns:
        The piece, or None where nothing lies on the hide, or nothing wide enough is left.
    """
    import shapely

    hide, placed = layout.hide(name), layout.placed_on(name)
    if not placed:
        return None
    turn = -hide.strap_direction
    boxes = [turned(one.placement.apply(one.part.outline), turn).bounding_box for one in placed]
    keep = layout.clearance.between
    low, high = min(box[1] for box in boxes) - keep, max(box[3] for box in boxes) + keep
    skin = shapely.Polygon(_turned_points(hide.outline, turn))
    x0, y0, x1, y1 = skin.bounds
    sides = [shapely.box(x0, high, x1, y1)] if y1 - high >= NARROWEST else []
    sides += [shapely.box(x0, y0, x1, low)] if low - y0 >= NARROWEST else []
    pieces = [
        piece
        for side in sides
        for piece in shapely.get_parts(shapely.intersection(skin, side))
        if piece.geom_type == "Polygon" and piece.bounds[3] - piece.bounds[1] >= NARROWEST
    ]
    if not pieces:
        return None
    best = max(pieces, key=lambda piece: piece.area)
    flaws = [shapely.Polygon(_turned_points(flaw.polygon, turn)) for flaw in hide.flaws]
    free = shapely.difference(best, shapely.union_all(flaws)) if flaws else best
    rectangle = _largest_rectangle(free)
    corners = np.array([[p[0], p[1]] for p in _corners(rectangle)] if rectangle else []).reshape(-1, 2)
    return LeftOver(
        outline=_turned_points(shapely.get_coordinates(best.exterior)[:-1], -turn),
        area=float(best.area),
        rectangle=_turned_points(corners, -turn),
        along=rectangle[2] - rectangle[0] if rectangle else 0.0,
        across=rectangle[3] - rectangle[1] if rectangle else 0.0,
    )


def waste_of_hide(layout: Layout, hide: Hide) -> float:
    """Return which share of the leather used up on a hide does not become parts.

    What is left over whole goes back on the shelf and counts as not used; flaws among the parts do count.

    Args:
        layout: the layout.
        hide: one of its hides, with parts on it.
    """
    rest = left_over(layout, hide.name)
    used = hide.area - (rest.area if rest else 0.0)
    parts = sum(placed.part.outline.area for placed in layout.placed_on(hide.name))
    return 1.0 - parts / used


def wastes_of(layout: Layout) -> dict[str, Waste]:
    """Return each placed part's share of waste: that of the hide it lies on, by the part's id."""
    shares = {
        hide.name: Waste(waste_of_hide(layout, hide), f'true of hide "{hide.name}", nested')
        for hide in layout.hides
        if layout.placed_on(hide.name)
    }
    return {placed.part.id: shares[placed.hide] for placed in layout.placed}


def _turned_points(points: Floats, turn: float) -> Floats:
    c, s = math.cos(turn), math.sin(turn)
    turned_points: Floats = points @ np.array([[c, s], [-s, c]])
    return turned_points


def _corners(box: tuple[float, float, float, float]) -> list[tuple[float, float]]:
    x0, y0, x1, y1 = box
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def _largest_rectangle(free: object) -> tuple[float, float, float, float] | None:
    """Return the largest upright rectangle of grid cells that lie wholly in a region, or None."""
    import shapely

    x0, y0, x1, y1 = shapely.bounds(free)
    columns, rows = int((x1 - x0) // CELL), int((y1 - y0) // CELL)
    if not columns or not rows:
        return None
    xs, ys = np.meshgrid(x0 + CELL * np.arange(columns), y0 + CELL * np.arange(rows))
    shapely.prepare(free)
    inside = shapely.contains(free, shapely.box(xs, ys, xs + CELL, ys + CELL))
    best, found = 0, None
    heights = np.zeros(columns, dtype=int)
    for row in range(rows):
        heights = np.where(inside[row], heights + 1, 0)
        waiting: list[tuple[int, int]] = []  # where a bar begins, and how high it is; heights rise
        for column, height in enumerate([*heights.tolist(), 0]):
            begins = column
            while waiting and waiting[-1][1] >= height:
                begins, high = waiting.pop()
                if high * (column - begins) > best:
                    best = high * (column - begins)
                    found = (begins, row + 1 - high, column, row + 1)
            waiting.append((begins, height))
    if found is None:
        return None
    return x0 + CELL * found[0], y0 + CELL * found[1], x0 + CELL * found[2], y0 + CELL * found[3]
