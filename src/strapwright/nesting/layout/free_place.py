"""A place on a hide where one more part could lie, beside what lies there already."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.tolerances import NESTING_CHORD
from strapwright.geometry.polygon import to_polygon, turned
from strapwright.geometry.transform import Placement
from strapwright.nesting.hide.types import Face

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.core.arrays import Points
    from strapwright.nesting.layout.types import Layout
    from strapwright.parts.part import Part

_CELL: Final = 4.0
"""Side of the squares a hide is looked at in, mm: a place narrower than a part and one of them is missed."""


def free_places(layout: Layout, part: Part, hide: str) -> Iterator[Placement]:
    """Yield one place for each turn of a part, the lowest across the straps where its box is clear of all.

    Every flaw counts as a hole and a part as its box, so a narrow place may be missed; what is yielded is
    still to be checked, for the leather may be of another thickness.

    Args:
        layout: what lies there.
        part: is left out of it, if it lies there itself.
        hide: the hide's name.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> from strapwright.nesting.hide.types import Hide
        >>> from strapwright.nesting.layout.types import Clearance, Layout, PlacedPart
        >>> from strapwright.parts.part import Part, PartKind
        >>> from strapwright.rules.leather import Tannage
        >>> strip = Contour.from_points([(0, -20), (1100, -20), (1100, 20), (0, 20)])
        >>> one = Part("a/strap", "a", PartKind.STRAP, strip, (), 3.6, Tannage.VEGETABLE)
        >>> other = Part("b/strap", "b", PartKind.STRAP, strip, (), 3.6, Tannage.VEGETABLE)
        >>> bend = Hide("bend", np.array([(0, 0), (1200, 0), (1200, 700), (0, 700)]))
        >>> lies = PlacedPart(one, "bend", Placement(0.0, 2.0, 22.0))
        >>> layout = Layout((bend,), (lies,), (), Clearance(), (), 0, 0)
        >>> place = next(free_places(layout, other, "bend"))
        >>> place.turn, 64.0 <= place.y <= 64.0 + 2 * _CELL
        (0.0, True)
    """
    import shapely

    ground = layout.with_avoided(hide)
    way = ground.strap_direction
    edge, between = layout.clearance.edge, layout.clearance.between
    taken = [shapely.Polygon(turned(flaw.polygon, -way)).buffer(edge) for flaw in ground.flaws]
    for one in layout.placed_on(hide):
        if one.part.id != part.id:
            outline = turned(to_polygon(one.outline, NESTING_CHORD, "outward"), -way)
            taken.append(shapely.Polygon(outline).buffer(between))
    leather = shapely.Polygon(turned(ground.outline, -way)).buffer(-edge)
    free = shapely.difference(leather, shapely.union_all(taken)).buffer(-_CELL * 0.71)
    if free.is_empty:
        return
    x0, y0, x1, y1 = free.bounds
    xs, ys = np.arange(x0, x1 + _CELL, _CELL), np.arange(y0, y1 + _CELL, _CELL)
    shapely.prepare(free)
    clear = shapely.contains_xy(free, *np.meshgrid(xs, ys))
    covered = np.pad(np.cumsum(np.cumsum(~clear, axis=0), axis=1), ((1, 0), (1, 0)))
    mirror = ground.face_up is Face.FLESH
    for turn in part.turns:
        box = _box(Placement(turn, 0.0, 0.0, mirror), part)
        wide, high = (int(np.ceil(side / _CELL)) + 1 for side in np.ptp(box, axis=0))
        if high > len(ys) or wide > len(xs):
            continue
        within = covered[high:, wide:] - covered[:-high, wide:] - covered[high:, :-wide]
        rows, columns = np.nonzero(within + covered[:-high, :-wide] == 0)
        if not len(rows):
            continue
        corner = np.array([xs[columns[0]], ys[rows[0]]]) - box[0]
        ((x, y),) = turned(corner[None], way)
        yield Placement(way + turn, float(x), float(y), mirror)


def _box(place: Placement, part: Part) -> Points:
    x0, y0, x1, y1 = place.apply(part.outline).bounding_box
    return np.array([(x0, y0), (x1, y1)])
