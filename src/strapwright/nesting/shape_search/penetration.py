"""Penetration depth of two pieces, and distance of a piece from its inner-fit polygon; compiled."""

from __future__ import annotations

from typing import Any

import numpy as np

from strapwright.nesting.compiled import compiled, within

CLEAR = 2.0e-5
"""Depths below this are no overlap: rounding, a fifth of what a layout is allowed, mm."""


@within
def inside(sides: Any, first: int, last: int, x: float, y: float) -> bool:
    """Whether a point is inside the polygon of some sides."""
    inside = False
    for k in range(first, last):
        y1 = sides[k, 1]
        dy = sides[k, 3]
        if (y1 > y) != (y1 + dy > y):
            cross = (x - sides[k, 0]) * dy - (y - y1) * sides[k, 2]
            if (cross < 0) == (dy > 0):
                inside = not inside
    return inside


@within
def nearest(sides: Any, first: int, last: int, x: float, y: float) -> Any:
    """Return the distance of a point from some sides, and the step there."""
    best, bx, by = np.inf, 0.0, 0.0
    for k in range(first, last):
        ux, uy = x - sides[k, 0], y - sides[k, 1]
        dx, dy = sides[k, 2], sides[k, 3]
        share = (ux * dx + uy * dy) * sides[k, 4]
        share = min(1.0, max(0.0, share))
        ux, uy = share * dx - ux, share * dy - uy
        far = ux * ux + uy * uy
        if far < best:
            best, bx, by = far, ux, uy
    return np.sqrt(best), bx, by


@compiled
def rasterize(sides: Any, box: Any, cells: Any) -> None:
    """Mark each cell of a box as inside a room, outside it, or crossed by its edge."""
    n = len(cells)
    first: Any = np.int64(0)
    width, height = max(box[2] - box[0], 1e-9) / n, max(box[3] - box[1], 1e-9) / n
    for row in range(n):
        for column in range(n):
            cells[row, column] = 1
    for k in range(len(sides)):
        x1, y1 = (sides[k, 0] - box[0]) / width, (sides[k, 1] - box[1]) / height
        dx, dy = sides[k, 2] / width, sides[k, 3] / height
        r0 = max(0, int(np.floor(min(y1, y1 + dy) - 1e-6)))
        r1 = min(n - 1, int(np.floor(max(y1, y1 + dy) + 1e-6)))
        for row in range(r0, r1 + 1):
            a, b = 0.0, 1.0
            if abs(dy) > 1e-12:
                a, b = (row - 1e-6 - y1) / dy, (row + 1 + 1e-6 - y1) / dy
                if a > b:
                    a, b = b, a
                a, b = max(a, 0.0), min(b, 1.0)
            xa, xb = x1 + a * dx, x1 + b * dx
            c0 = max(0, int(np.floor(min(xa, xb) - 1e-6)))
            c1 = min(n - 1, int(np.floor(max(xa, xb) + 1e-6)))
            for column in range(c0, c1 + 1):
                cells[row, column] = 2
    for row in range(n):
        known = False
        for column in range(n):
            if cells[row, column] == 2:
                known = False
                continue
            if known:
                cells[row, column] = cells[row, column - 1]
                continue
            x, y = box[0] + (column + 0.5) * width, box[1] + (row + 0.5) * height
            cells[row, column] = 0 if inside(sides, first, len(sides), x, y) else 1
            known = True


@within
def raster_cell(nfps: Any, rotation: int, x: float, y: float) -> int:
    """Return what the raster of a rotation's room says of a place."""
    x0, y0, x1, y1 = nfps.fit_box[rotation]
    if x < x0 or x > x1 or y < y0 or y > y1:
        return 1
    n = nfps.raster.shape[1]
    column = min(n - 1, int((x - x0) / max(x1 - x0, 1e-9) * n))
    row = min(n - 1, int((y - y0) / max(y1 - y0, 1e-9) * n))
    return int(nfps.raster[rotation, row, column])


@within
def distance_outside(nfps: Any, rotation: int, x: float, y: float) -> Any:
    """Return how far a rotation's origin is from its room, and the step there."""
    first, last = nfps.fit_start[rotation], nfps.fit_stop[rotation]
    cell = raster_cell(nfps, rotation, x, y)
    if cell == 0 or (cell == 2 and inside(nfps.fit_sides, first, last, x, y)):
        return 0.0, 0.0, 0.0
    return nearest(nfps.fit_sides, first, last, x, y)


@within
def depth(nfps: Any, still: int, moving: int, x: float, y: float) -> Any:
    """Return how deep a rotation at (x, y) from another's origin lies in it, and the shortest step out."""
    pair = nfps.pair[still, moving]
    if x <= nfps.box[pair, 0] or y <= nfps.box[pair, 1] or x >= nfps.box[pair, 2] or y >= nfps.box[pair, 3]:
        return 0.0, 0.0, 0.0
    first, last = int(nfps.start[pair]), int(nfps.stop[pair])
    if not inside(nfps.sides, first, last, x, y):
        return 0.0, 0.0, 0.0
    far, dx, dy = nearest(nfps.sides, first, last, x, y)
    if far <= CLEAR:
        return 0.0, 0.0, 0.0
    return far, dx, dy
