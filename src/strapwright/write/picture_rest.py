"""On a layout's picture: what is cut off a hide first and last, and where it is thicker or thinner."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.polygon import to_polygon
from strapwright.nesting.clear import clear_rectangle
from strapwright.tolerances import NESTING_CHORD
from strapwright.write.lettering import text_width
from strapwright.write.picture_parts import text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from strapwright.geometry.contour import Contour
    from strapwright.nesting.hide import Hide
    from strapwright.nesting.remnant import Remnant
    from strapwright.write.picture_parts import Frame

    Floats = NDArray[np.float64]

GREY: Final = "#666666"
_ZONE: Final = "#8A6D3B"
_LETTERS: Final = 12.0
_COLUMN: Final = 470.0
_LEVEL: Final = 1e-6

FIRST_CUT: Final = "2 7"
"""Dash of the first cut, that squares a raw edge."""

CUT_OFF: Final = "14 5"
"""Dash of the line a remnant is cut off along."""

CLEAR: Final = "3 3"
"""Dash of the largest rectangle of sound leather in a remnant."""

ZONE: Final = "10 3 2 3 2 3"
"""Dash of a zone's edge."""


def zone_lines(hide: Hide, parts: Iterable[Contour], frame: Frame) -> Iterator[str]:
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
            shape = frame.polygon(shapely.get_coordinates(piece.exterior)[:-1])
            line = f'stroke="{_ZONE}" stroke-width="1.1" stroke-dasharray="{ZONE}"'
            yield f'<path d="{shape}" fill="none" {line}/>'
            free = shapely.difference(piece, other)
            widest = shapely.maximum_inscribed_circle(piece if free.is_empty else free)
            x, y = frame.point(*(float(value) for value in shapely.get_coordinates(widest)[0]))
            yield text(x, y, f"{zone.thickness:.2f} mm", _LETTERS, middle=True, colour=_ZONE)


def rest_lines(hide: Hide, rest: Sequence[Remnant], frame: Frame) -> Iterator[str]:
    """Yield the first cut, and of every remnant its cut line, its clear rectangle and its name.

    Args:
        hide: the hide.
        rest: its remnants.
        frame: where the hide is drawn.
    """
    if hide.first_cut is not None:
        yield _line(np.array([hide.first_cut.start, hide.first_cut.end]), frame, FIRST_CUT, 4.5)
    for left in rest:
        for cut in left.cut:
            yield _line(cut, frame, CUT_OFF, 2.2)
        clear = clear_rectangle(left.hide)
        if clear is None:
            continue
        corners = clear.corners + np.array(left.shift)
        yield _line(np.vstack([corners, corners[:1]]), frame, CLEAR, 0.9)
        if abs(math.remainder(hide.strap_direction, math.pi / 2)) > _LEVEL:
            x, y = frame.point(*(float(value) for value in corners.mean(axis=0)))
            yield text(x, y, left.hide.name, _LETTERS, middle=True, colour=GREY)
            continue
        # In the corner the rectangle has lowest on the picture's left, where no flaw is.
        x0, y0 = corners.min(axis=0)
        x1, y1 = corners.max(axis=0)
        wide, high = (x1 - x0) * frame.scale, (y1 - y0) * frame.scale
        if text_width(left.hide.name, _LETTERS) + 12 < wide and high > 2 * _LETTERS:
            x, y = frame.point(float(x0), float(y0))
            yield text(x + 6, y - 6, left.hide.name, _LETTERS, colour=GREY)


def rest_words(hide: Hide, rest: Sequence[Remnant]) -> list[list[tuple[str, float, float, str]]]:
    """Return what the lines mean, row by row: dash, stroke width, place along the row, words."""
    rows: list[list[tuple[str, float, float, str]]] = []
    if hide.thickness_zones:
        rows.append([(ZONE, 1.1, 0.0, "leather of another thickness, as told there")])
    if hide.first_cut is not None:
        lost = hide.first_cut.area / 100
        rows.append([(FIRST_CUT, 4.5, 0.0, f"first cut, squares the raw edge: {lost:.0f} cm² cut off")])
    for left in rest:
        row = [(CUT_OFF, 2.2, 0.0, f"cut off and keep {left.hide.name}: {left.area / 1e6:.2f} m²")]
        clear = clear_rectangle(left.hide)
        if clear is not None:
            said = f"clear in it: at least {clear.along:.0f} × {clear.across:.0f} mm"
            row.append((CLEAR, 0.9, _COLUMN, said))
        rows.append(row)
    return rows


def stroke(x: float, y: float, dash: str, wide: float) -> str:
    """Return a short stroke of a line, for the key."""
    colour = _ZONE if dash == ZONE else GREY
    return (
        f'<path d="M {x:g} {y:.2f} H {x + 60:g}" fill="none" stroke="{colour}" '
        f'stroke-width="{wide:g}" stroke-dasharray="{dash}"/>'
    )


def _line(points: Floats, frame: Frame, dash: str, wide: float) -> str:
    corners = ("{:.3f} {:.3f}".format(*frame.point(float(x), float(y))) for x, y in points)
    return (
        f'<path d="M {" L ".join(corners)}" fill="none" stroke="{GREY}" stroke-width="{wide:g}" '
        f'stroke-dasharray="{dash}"/>'
    )
