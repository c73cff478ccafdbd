"""The left and right side of a convex shape as functions of height."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_TOUCH = 1e-9
"""Corners whose heights differ by less than this are at one height, mm."""


@dataclass(frozen=True, eq=False)
class Profile:
    """The left and right side of a convex shape as functions of height.

    Args:
        y: heights of the corners, increasing, (K,) mm.
        left: smallest x at each height, (K,) mm; straight between heights.
        right: greatest x at each height, (K,) mm.
    """

    y: Floats
    left: Floats
    right: Floats


def profile_of(hull: Floats) -> Profile:
    """Return the sides of a convex polygon.

    Args:
        hull: corners in order, counter-clockwise, (M, 2) mm.

    Example:
        >>> profile_of(np.array([(0.0, 0.0), (4.0, 1e-15), (2.0, 2.0)])).right.tolist()
        [4.0, 2.0]
    """
    # The two ends of a level side, a rounding apart, are at one height: heights on a hide could not
    # tell them apart either, and the side would shrink to one of its ends.
    lowest, highest = np.min(hull[:, 1]), np.max(hull[:, 1])
    low = np.flatnonzero(hull[:, 1] <= lowest + _TOUCH)
    high = np.flatnonzero(hull[:, 1] >= highest - _TOUCH)
    hull = hull.copy()
    hull[low, 1], hull[high, 1] = lowest, highest
    y = np.unique(hull[:, 1])
    right_start = int(low[np.argmax(hull[low, 0])])
    right_end = int(high[np.argmax(hull[high, 0])])
    left_start = int(high[np.argmin(hull[high, 0])])
    left_end = int(low[np.argmin(hull[low, 0])])
    right = _run(hull, right_start, right_end)
    left = _run(hull, left_start, left_end)[::-1]
    return Profile(y, np.interp(y, left[:, 1], left[:, 0]), np.interp(y, right[:, 1], right[:, 0]))


def _run(points: Floats, first: int, last: int) -> Floats:
    """Return the corners from ``first`` to ``last``, going round the end where need be."""
    count = (last - first) % len(points)
    return points[(first + np.arange(count + 1)) % len(points)]
