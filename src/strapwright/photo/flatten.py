"""A photograph made flat: what lies on the floor, seen from straight above, at so many mm to a px."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from strapwright.core.arrays import Bytes, Flags, Floats


@dataclass(frozen=True, eq=False)
class Flat:
    """A part of the floor as a picture.

    Args:
        picture: what is seen there, (rows, columns, 3), the top row the furthest up.
        seen: whether it is in the photograph, (rows, columns).
        left: x of its left edge, mm.
        top: y of its upper edge, mm.
        cell: side of a px, mm.
    """

    picture: Any
    seen: Flags
    left: float
    top: float
    cell: float

    def at(self, points: Floats) -> Floats:
        """Return where points (N, 2) mm are in it, px; the middle of its first px is 0, 0."""
        return np.column_stack(
            [(points[:, 0] - self.left) / self.cell - 0.5, (self.top - points[:, 1]) / self.cell - 0.5]
        )

    def points(self, pixels: Floats) -> Floats:
        """Return the points at px (N, 2), mm."""
        return np.column_stack(
            [self.left + (pixels[:, 0] + 0.5) * self.cell, self.top - (pixels[:, 1] + 0.5) * self.cell]
        )


def flatten(
    picture: Bytes, there: Callable[[Floats], Floats], box: tuple[float, float, float, float], cell: float
) -> Flat:
    """Return a box of the floor as it would be seen from straight above.

    Args:
        picture: the photograph.
        there: says where points of the floor, mm, are in it, px.
        box: left, low, right and high, mm.
        cell: side of a px, mm.
    """
    import cv2

    left, low, right, high = box
    columns, rows = (int(np.ceil(side / cell)) for side in (right - left, high - low))
    flat = Flat(picture, np.zeros((rows, columns), bool), left, high, cell)
    every = 8  # the way to the picture is smooth: between, straight lines err by far less than a px
    us = np.append(np.arange(0, columns - 1, every), columns - 1).astype(float)
    vs = np.append(np.arange(0, rows - 1, every), rows - 1).astype(float)
    u, v = np.meshgrid(us, vs)
    where = there(flat.points(np.column_stack([u.ravel(), v.ravel()])))
    maps = [_between(where[:, k].reshape(u.shape), us, vs, columns, rows) for k in (0, 1)]
    height, width = picture.shape[:2]
    seen = (maps[0] > 0) & (maps[0] < width - 1) & (maps[1] > 0) & (maps[1] < height - 1)
    shown = cv2.remap(picture, maps[0], maps[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return Flat(shown, seen, left, high, cell)


def _between(values: Floats, us: Floats, vs: Floats, columns: int, rows: int) -> Floats:
    every = np.arange(columns, dtype=float)
    wide = np.array([np.interp(every, us, line) for line in values])
    down = np.interp(np.arange(rows, dtype=float), vs, np.arange(len(vs)))
    low = np.minimum(down.astype(int), len(vs) - 2)
    share = (down - low)[:, None]
    return np.asarray(wide[low] * (1 - share) + wide[low + 1] * share, dtype=np.float32)
