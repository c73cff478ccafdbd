"""Checks of the corners of a hide, a flaw or a zone: what is wrong with them, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.core.units import beyond
from strapwright.geometry.drawings.gathered import LARGEST_EXTENT, place
from strapwright.geometry.polygon import signed_area

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from strapwright.core.arrays import Floats


SMALLEST_AREA: Final = 100.0
"""A hide under 1 cm² is a slip of units, mm²."""

COVERED: Final = 1.0
"""Where holes and cuts leave less than this of a hide, mm², they leave nothing."""


def outline_problem(points: ArrayLike) -> str | None:
    """Return what keeps points from being a hide's outline, or None where nothing does."""
    array = np.asarray(points, dtype=np.float64)
    wrong = shape_problem(array)
    if wrong:
        return wrong
    area, extent = abs(signed_area(array)), float(np.max(np.ptp(array, axis=0)))
    if area < SMALLEST_AREA:
        return (
            f"found {beyond(area / 100, SMALLEST_AREA / 100, 2)} cm², expected at least "
            f"{SMALLEST_AREA / 100:g} cm²; bare numbers are millimetres"
        )
    if extent > LARGEST_EXTENT:
        return (
            f"found {beyond(extent / 1000, LARGEST_EXTENT / 1000)} m from side to side, expected at most "
            f"{LARGEST_EXTENT / 1000:g} m; are the units right? (bare numbers are millimetres)"
        )
    return None


def leather_of(outline: ArrayLike) -> Any:
    """Return a sound outline as a shapely polygon that is asked about many flaws."""
    import shapely

    leather = shapely.Polygon(np.asarray(outline, dtype=np.float64))
    shapely.prepare(leather)
    return leather


def flaw_problem(points: ArrayLike, leather: Any) -> str | None:
    """Return what keeps points from being a flaw on a hide, or None where nothing does.

    Args:
        points: the flaw's corners, mm.
        leather: the hide's outline, by `leather_of`; None where that is itself unsound, and only the flaw is
            looked at.
    """
    import shapely

    array = np.asarray(points, dtype=np.float64)
    wrong = shape_problem(array)
    if wrong or leather is None:
        return wrong
    if not shapely.intersects(leather, shapely.Polygon(array)):
        return (
            f"is off the hide, near {place(array[0])}; put it on the hide or remove it "
            "(a flaw may reach over the edge)"
        )
    return None


def shape_problem(array: Floats) -> str | None:
    """Return what keeps corners from bounding one piece of leather, or None where nothing does."""
    import shapely

    if array.ndim != 2 or array.shape[1] != 2 or len(array) < 3:
        return f"found {len(array)} points, expected at least 3"
    if not np.isfinite(array).all():
        return "found a coordinate that is not a number"
    steps = np.diff(array, axis=0, append=array[:1])
    same = np.flatnonzero(np.hypot(steps[:, 0], steps[:, 1]) < 1e-6)
    if len(same):
        number = int(same[0])
        after = (number + 1) % len(array)
        return (
            f"points {number + 1} and {after + 1} are both {place(array[number])}; "
            "give each corner once (the outline closes itself)"
        )
    if shapely.is_valid(shapely.polygons(array)):
        return None
    if shapely.MultiPoint(array).convex_hull.area < 1e-9:
        return "encloses nothing: all its points lie in one line"
    return (
        f"crosses or touches itself near {_crossing(array)}; go round the edge in one sweep, "
        "or write repair = true under [hide]"
    )


def meets_itself_at(array: Floats) -> Floats | None:
    """Return a point where corners make a polygon that crosses or touches itself; None where unknown."""
    import shapely

    reason = str(shapely.is_valid_reason(shapely.Polygon(array)))
    words = reason.partition("[")[2].rstrip("]").split()
    return np.array(words[:2], float) if len(words) > 1 else None


def _crossing(array: Floats) -> str:
    """Return where a polygon meets itself, and between which of its points."""
    at = meets_itself_at(array)
    if at is None:
        return "an unknown point"
    following = np.roll(array, -1, axis=0)
    edge = following - array
    share = np.clip(((at - array) * edge).sum(axis=1) / (edge * edge).sum(axis=1), 0.0, 1.0)
    apart = np.hypot(*(array + share[:, None] * edge - at).T)
    number = int(np.argmin(apart))
    return f"{place(at)}, between points {number + 1} and {(number + 1) % len(array) + 1}"


def counter_clockwise(points: ArrayLike) -> Floats:
    """Return corners as a read-only array that runs counter-clockwise, (N, 2) mm."""
    array = np.array(points, dtype=np.float64)
    if signed_area(array) < 0:
        array = array[::-1].copy()
    array.flags.writeable = False
    return array
