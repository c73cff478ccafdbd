"""Where on a hide the leather is as thick, and tanned, as a part wants it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from strapwright.geometry.polygon import polygons_in
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from strapwright.core.arrays import Floats
    from strapwright.nesting.hide.types import Hide


THICKNESS_AGREES: Final = 0.3
"""A hide may be this much thicker or thinner than the job says, mm: what hides of one order vary by."""


def patches(hide: Hide) -> list[tuple[float | None, Floats]]:
    """Return a hide as patches of one thickness that cover it once; none where it has no thickness zones.

    Where two zones overlap, the later one in the file counts. A patch with a hole in it is cut in two
    through the hole, so that each is one plain outline.

    Example:
        >>> import numpy as np
        >>> from strapwright.nesting.hide.types import Hide, ThicknessZone
        >>> square = np.array([(0, 0), (900, 0), (900, 900), (0, 900)])
        >>> hide = Hide("a", square, thickness=3.6, thickness_zones=(ThicknessZone(3.0, square / 3 + 300),))
        >>> [(thickness, len(corners)) for thickness, corners in patches(hide)]
        [(3.6, 8), (3.6, 8), (3.0, 4)]
    """
    import shapely

    if not hide.thickness_zones:
        return []
    left = shapely.Polygon(hide.outline)
    found: list[tuple[float | None, Floats]] = []
    for zone in reversed(hide.thickness_zones):
        place = shapely.Polygon(zone.polygon)
        found += [(zone.thickness, corners) for corners in _without_holes(left & place)]
        left = left - place
    found += [(hide.thickness, corners) for corners in _without_holes(left)]
    return found[::-1]


def agrees(thickness: float | None, wanted: float) -> bool:
    """Whether leather suits a part that wants a thickness, mm; any does where it was not measured."""
    return thickness is None or abs(thickness - wanted) <= THICKNESS_AGREES + 1e-9


def tanned_as(tannage: Tannage | None, wanted: Tannage) -> bool:
    """Whether leather suits a part that wants a tannage; what nobody has said, or knows, is not compared.

    Example:
        >>> tanned_as(None, Tannage.CHROME), tanned_as(Tannage.VEGETABLE, Tannage.CHROME)
        (True, False)
    """
    return tannage in (None, Tannage.UNKNOWN, wanted) or wanted is Tannage.UNKNOWN


def _without_holes(shape: Any) -> list[Floats]:
    """Return a shape's polygons, cut upright through their holes until none has any."""
    import shapely

    out: list[Floats] = []
    left = polygons_in(shape, 1.0)
    while left:
        piece = left.pop()
        if not piece.interiors:
            corners: Floats = shapely.get_coordinates(piece.exterior)[:-1]
            out.append(corners)
            continue
        x0, y0, x1, y1 = piece.bounds
        x = float(piece.interiors[0].centroid.x)
        for half in (shapely.box(x0 - 1, y0 - 1, x, y1 + 1), shapely.box(x, y0 - 1, x1 + 1, y1 + 1)):
            left += polygons_in(piece & half, 1.0)
    return out
