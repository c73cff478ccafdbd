"""Outlines made fit for work: a wound one mended where the maker allows it, a crowded one thinned out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from strapwright.core.tolerances import NESTING_CHORD
from strapwright.nesting.hide.outline_check import place, shape_problem

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MOST_CORNERS: Final = 1500
"""An outline of more corners is thinned out: more than a photograph of a hide needs at 5 mm a corner."""

_NEAR: Final = 1e-6
"""Corners that follow each other nearer than this are one corner, mm."""

_COARSEST: Final = 20.0
"""Thinning out never moves an edge further than this, mm."""


def mended(points: Floats) -> tuple[Floats, str] | None:
    """Return an unsound outline's largest sound piece, and in words what was changed.

    Corners given twice are dropped. Where the outline crosses itself, what it encloses falls into pieces;
    the largest is kept, without the holes in it.

    Args:
        points: corners, (N, 2) mm.

    Returns:
        None where nothing is wrong, or nothing can be made of it.

    Example:
        >>> bow = np.array([(0.0, 0.0), (100.0, 0.0), (0.0, 50.0), (100.0, 100.0)])
        >>> corners, words = mended(bow)
        >>> len(corners), words
        (3, 'it crossed itself near (33.3, 33.3) mm; of its 2 pieces the largest is kept, 16.67 of 33.33 cm²')
    """
    import shapely

    if points.ndim != 2 or not np.isfinite(points).all():
        return None
    wrong = shape_problem(points)
    if wrong is None:
        return None
    kept = np.hypot(*(np.roll(points, -1, axis=0) - points).T) > _NEAR
    corners, said = points[kept], []
    if not kept.all():
        count = int((~kept).sum())
        said.append(
            f"{count} corner{'s' if count > 1 else ''} given twice {'were' if count > 1 else 'was'} removed"
        )
    if len(corners) < 3:
        return None
    shape = shapely.Polygon(corners)
    if not shape.is_valid:
        at = str(shapely.is_valid_reason(shape)).partition("[")[2].rstrip("]").split()
        near = f" near {place(np.array([float(at[0]), float(at[1])]))}" if len(at) > 1 else ""
        sound = shapely.make_valid(shape, method="structure", keep_collapsed=False)
        pieces = [piece for piece in shapely.get_parts(sound) if piece.geom_type == "Polygon"]
        if not pieces:
            return None
        largest = max(pieces, key=lambda piece: float(piece.area))
        corners = shapely.get_coordinates(largest.exterior)[:-1]
        area, total = shapely.Polygon(corners).area / 100, sum(piece.area for piece in pieces) / 100
        of = (
            f"of its {len(pieces)} pieces the largest is kept"
            if len(pieces) > 1
            else "its outer edge is kept"
        )
        said.append(f"it crossed itself{near}; {of}, {area:.4g} of {max(area, total):.4g} cm²")
    if not said or shape_problem(corners) is not None:
        return None
    return corners, " and ".join(said)


def thinned_out(points: Floats, side: Literal["inward", "outward"]) -> Floats:
    """Return an outline with at most `MOST_CORNERS` corners that keeps to one side of the given one.

    The whole edge is moved to that side by a tolerance, then corners are left out that stray by no more;
    the tolerance is the least, in steps of a half, that leaves few enough.

    Args:
        points: corners of a sound outline, (N, 2) mm.
        side: ``"inward"``: the answer lies within the outline, for leather; ``"outward"``: it covers it,
            for flaws.

    Returns:
        Corners, (M, 2) mm; the given ones where there are few enough.
    """
    import shapely

    if len(points) <= MOST_CORNERS:
        return points
    whole = shapely.Polygon(points)
    shapely.prepare(whole)
    outward = 1.0 if side == "outward" else -1.0
    tolerance = NESTING_CHORD
    while tolerance <= _COARSEST:
        moved = whole.buffer(outward * tolerance * 1.02, join_style="mitre", mitre_limit=2.0)
        pieces = [piece for piece in shapely.get_parts(moved) if piece.geom_type == "Polygon" and piece.area]
        largest = max(pieces, key=lambda piece: float(piece.area), default=whole)
        corners: Floats = shapely.get_coordinates(shapely.Polygon(largest.exterior).simplify(tolerance))[:-1]
        if len(corners) <= MOST_CORNERS and shape_problem(corners) is None:
            fewer = shapely.Polygon(corners)
            if whole.covers(fewer) if side == "inward" else fewer.covers(whole):
                return corners
        tolerance *= 1.5
    return points
