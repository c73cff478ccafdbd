"""On a layout's picture: back and belly, what is cut off first and last, where it is thicker or thinner."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.tolerances import NESTING_CHORD
from strapwright.drawing.canvas import polygon, polyline
from strapwright.drawing.layout.parts import text
from strapwright.drawing.text import text_width
from strapwright.geometry.polygon import to_polygon
from strapwright.nesting.hide.backbone import back_of, runs_through

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from strapwright.core.arrays import Floats
    from strapwright.drawing.canvas import Item
    from strapwright.drawing.layout.parts import Frame
    from strapwright.geometry.contour import Contour
    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.stock.remnant import Remnant


_LETTERS: Final = 12.0
_COLUMN: Final = 470.0
_LEVEL: Final = 1e-6

_OFF: Final = 10.0
"""The middle of the words back and belly stands so far off the hide, px."""


def back_lines(hide: Hide, frame: Frame) -> Iterator[Item]:
    """Yield the words back and belly beside a hide, and the back's line where it runs through.

    Args:
        hide: the hide.
        frame: where it is drawn.
    """
    import shapely

    back = back_of(hide)
    along = np.array([math.cos(back.direction), math.sin(back.direction)])
    belly = np.array([-along[1], along[0]])
    leather = shapely.Polygon(hide.outline)
    far = 2 * float(np.max(np.ptp(hide.outline, axis=0))) + float(np.max(np.abs(hide.outline)))

    def ends(through: Floats, way: Floats) -> Floats:
        """Return where a line through a point leaves the leather last, before and after it."""
        line = shapely.LineString([through - far * way, through + far * way])
        cut: Floats = shapely.get_coordinates(shapely.intersection(leather, line))
        return cut[np.argsort(cut @ way)[[0, -1]]]

    def word(words: str, at: Floats, way: Floats) -> Item:
        x, y = frame.point(*(float(value) for value in at))
        off = math.degrees(math.atan2(way[0], way[1]))
        turn = (off + 90.0 + 1e-6) % 180.0 - 90.0 - 1e-6  # never upside down
        x, y = x + _OFF * float(way[0]), y - _OFF * float(way[1])
        return text(x, y, words, _LETTERS, middle=True, turn=round(turn, 3), look="quiet")

    middle = shapely.get_coordinates(shapely.centroid(leather))[0]
    if not leather.contains(shapely.Point(middle)):
        middle = shapely.get_coordinates(leather.representative_point())[0]
    right, left = ends(middle, belly)
    yield word("belly", left, belly)
    if not runs_through(hide):
        yield word("back, assumed" if back.assumed else "back", right, -belly)
        return
    yield word("belly", right, -belly)
    line = ends(np.array(back.start), along)
    yield polyline("back", *frame.points(line))
    yield word("back", line[0], -along)


def zone_lines(hide: Hide, parts: Iterable[Contour], frame: Frame) -> Iterator[Item]:
    """Yield the outline of every thickness zone where it lies on the leather, with its thickness.

    Args:
        hide: the hide.
        parts: outlines of what lies on it; the thickness is written beside them where there is room.
        frame: where the hide is drawn.
    """
    import shapely

    leather = shapely.Polygon(hide.outline)
    zones = [shapely.Polygon(zone.polygon) for zone in hide.thickness_zones]
    covered = [shapely.Polygon(to_polygon(part, NESTING_CHORD)) for part in parts] if zones else []
    for number, zone in enumerate(hide.thickness_zones):
        other = shapely.union_all([*covered, *zones[number + 1 :]])
        for piece in shapely.get_parts(shapely.intersection(zones[number], leather)):
            if piece.geom_type != "Polygon":
                continue
            yield polygon("zone", *frame.points(shapely.get_coordinates(piece.exterior)[:-1]))
            free = shapely.difference(piece, other)
            widest = shapely.maximum_inscribed_circle(piece if free.is_empty else free)
            x, y = frame.point(*(float(value) for value in shapely.get_coordinates(widest)[0]))
            yield text(x, y, f"{zone.thickness:.2f} mm", _LETTERS, middle=True, look="zone-words")


def rest_lines(hide: Hide, rest: Sequence[Remnant], frame: Frame) -> Iterator[Item]:
    """Yield the first cut, and of every remnant its cut line, its clear rectangle and its name.

    Args:
        hide: the hide.
        rest: its remnants.
        frame: where the hide is drawn.
    """
    if hide.first_cut is not None:
        yield polyline("first-cut", frame.point(*hide.first_cut.start), frame.point(*hide.first_cut.end))
    for left in rest:
        for cut in left.cut:
            yield polyline("cut-off", *frame.points(cut))
        clear = left.clear
        if clear is None:
            continue
        corners = clear.corners + np.array(left.shift)
        yield polygon("clear", *frame.points(corners))
        if abs(math.remainder(hide.strap_direction, math.pi / 2)) > _LEVEL:
            x, y = frame.point(*(float(value) for value in corners.mean(axis=0)))
            yield text(x, y, left.hide.name, _LETTERS, middle=True, look="quiet")
            continue
        # In the corner the rectangle has lowest on the picture's left, where no flaw is.
        x0, y0 = corners.min(axis=0)
        x1, y1 = corners.max(axis=0)
        wide, high = (x1 - x0) * frame.scale, (y1 - y0) * frame.scale
        if text_width(left.hide.name, _LETTERS) + 12 < wide and high > 2 * _LETTERS:
            x, y = frame.point(float(x0), float(y0))
            yield text(x + 6, y - 6, left.hide.name, _LETTERS, look="quiet")


def rest_words(hide: Hide, rest: Sequence[Remnant]) -> list[list[tuple[str, float, str]]]:
    """Return what the lines mean, row by row: look, place along the row, words."""
    rows: list[list[tuple[str, float, str]]] = []
    if hide.thickness_zones:
        rows.append([("zone", 0.0, "leather of another thickness, as shown there")])
    if hide.first_cut is not None:
        lost = hide.first_cut.area / 100
        rows.append([("first-cut", 0.0, f"first cut, squares the raw edge: {lost:.0f} cm² cut off")])
    for left in rest:
        row = [("cut-off", 0.0, f"cut off and keep {left.hide.name}: {left.hide.area / 1e6:.2f} m²")]
        clear = left.clear
        if clear is not None:
            said = f"clear in it: at least {clear.along:.0f} × {clear.across:.0f} mm"
            row.append(("clear", _COLUMN, said))
        rows.append(row)
    return rows
