"""A sheet of thumbnails of the hides in stock, all to one scale, as SVG or as a page for a browser."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.text import counted, escape
from strapwright.core.units import MM_PER_FOOT, MM_PER_INCH, Units, format_length
from strapwright.drawing.canvas import Canvas, Group, Path, polygon
from strapwright.drawing.layout.elements import EDGE, WIDTH, Frame, patch, text
from strapwright.drawing.layout.flaws import flaw_items, flaw_key
from strapwright.drawing.looks import style_sheet
from strapwright.drawing.svg import element, svg
from strapwright.drawing.text import shortened
from strapwright.files.atomic_write import MARK
from strapwright.nesting.hide.types import Face

if TYPE_CHECKING:
    from strapwright.drawing.canvas import Item
    from strapwright.nesting.stock import Stock, Stocked

_COLUMNS: Final = 3
_CELL: Final = (WIDTH - 2 * EDGE) / _COLUMNS
_PICTURE: Final = (_CELL - 24, 240.0)
_LINE: Final = 16.0
_ALONE: Final = (480.0, 240.0)
"""Of a picture of one hide by itself, px."""


def hide_sheet(stock: Stock, *, title: str, inches: bool = False) -> Canvas:
    """Draw every good hide of a folder with its figures, and list the bad files.

    Args:
        stock: the folder's hides.
        title: what stands at the head.
        inches: whether lengths are given in inches and areas in square feet.

    Returns:
        A canvas 1200 px wide.
    """
    count = len(stock.hides)
    lines: list[Item] = [text(EDGE, 44, title, 22, bold=True)]
    said = f"{counted(count, 'hide')}, all to one scale. Green: the longest strap each can give."
    lines.append(text(EDGE, 68, said, 13))
    top = 84.0
    if stock.hides:
        scale = min(_PICTURE[k] / max(_extents(one)[k] for one in stock.hides) for k in (0, 1))
        lines += _key(stock, scale, top + 8, inches)
        top += 34
        for row in range(0, count, _COLUMNS):
            in_row = stock.hides[row : row + _COLUMNS]
            high = max(_extents(one)[1] for one in in_row) * scale
            words = max(len(figures(one, inches)) for one in in_row)
            for column, one in enumerate(in_row):
                lines += _thumbnail(one, EDGE + column * _CELL, top, high, scale, inches)
            top += 26 + high + 8 + words * _LINE + 22
    if stock.bad:
        lines.append(text(EDGE, top + 14, "Not read", 15, bold=True, look="grave"))
        top += 20
        for _, problems in stock.bad:
            for problem in problems:
                top += _LINE
                lines.append(text(EDGE, top, shortened(problem, WIDTH - 2 * EDGE, 12), 12))
    return Canvas(WIDTH, round(top + 24), title, lines, paper="sheet")


def sheet_svg(stock: Stock, *, title: str, inches: bool = False) -> str:
    """Return the sheet as an SVG document."""
    return svg(hide_sheet(stock, title=title, inches=inches))


def sheet_html(stock: Stock, *, title: str, inches: bool = False) -> str:
    """Return the sheet as a page for a browser, without scripts or anything from elsewhere."""
    sheet = hide_sheet(stock, title=title, inches=inches)
    return (
        f'<!DOCTYPE html>\n<!-- {MARK} -->\n<html lang="en">\n<head><meta charset="utf-8">'
        f"<title>{escape(sheet.title)}</title>\n"
        f"<style>\nbody{{margin:0;background:#fff}}\n{style_sheet(sheet.looks())}\n</style>\n"
        f"</head>\n<body>\n{element(sheet)}\n</body>\n</html>\n"
    )


def length_text(mm: float, inches: bool) -> str:
    """Return a length with its unit.

    Example:
        >>> length_text(1015.84, False), length_text(1015.84, True)
        ('1016 mm', '40 in')
    """
    return format_length(mm, "in", 16) if inches else f"{mm:.0f} mm"


def longest_text(mm: float, inches: bool) -> str:
    """Return the longest length there is room for, rounded down, with its unit.

    Example:
        >>> longest_text(1015.84, False), longest_text(1015.84, True)
        ('1015 mm', '39 15/16 in')
    """
    step = MM_PER_INCH / 16 if inches else 1.0
    return length_text(math.floor(mm / step) * step, inches)


def area_text(mm2: float, inches: bool) -> str:
    """Return an area with its unit: m², or the square feet leather is sold by.

    Example:
        >>> area_text(1_544_000, False), area_text(1_544_000, True)
        ('1.544 m²', '16.6 sq ft')
    """
    return f"{mm2 / MM_PER_FOOT**2:.1f} sq ft" if inches else f"{mm2 / 1e6:.3f} m²"


def figures(one: Stocked, inches: bool) -> list[str]:
    """Return the figures of a hide, in short lines."""
    hide = one.hide
    usable = f"{area_text(hide.area, inches)}, {area_text(one.usable, inches)} of it usable"
    unit: Units = "in" if inches else "mm"
    thick = "thickness not measured"
    if hide.thickness is not None:
        thick = f"{format_length(hide.thickness, unit)} thick"
    if hide.thickness_zones:
        found = sorted({zone.thickness for zone in hide.thickness_zones})
        ends = found[:: max(1, len(found) - 1)]
        thick += f", {' to '.join(format_length(value, unit) for value in ends)} in places"
    if hide.face_up is Face.FLESH:
        thick += ", flesh side up"
    strap = "no strap that wide"
    if one.longest is not None:
        width = length_text(one.longest.width, inches)
        strap = f"strap {width} wide: up to {longest_text(one.longest.length, inches)}"
    lines = [usable, thick, strap]
    if hide.parent:
        lines.append(f"remnant of {hide.parent}")
    return lines


def _extents(one: Stocked) -> tuple[float, float]:
    """Return how far a hide reaches along x and y, mm."""
    wide, high = np.ptp(one.hide.outline, axis=0)
    return float(wide), float(high)


def _key(stock: Stock, scale: float, y: float, inches: bool) -> list[Item]:
    """Draw the scale bar and what the hatches mean."""
    mm = MM_PER_FOOT if inches else 500.0
    bar = mm * scale
    ends = (((x, y - 5), (x, y + 5)) for x in (EDGE, EDGE + bar))
    out: list[Item] = [
        Path((((EDGE, y), (EDGE + bar, y)), *ends), "scale"),
        text(EDGE + bar + 8, y + 4.5, "1 ft" if inches else "500 mm", 12),
    ]
    kinds = {str(flaw.kind) for one in stock.hides for flaw in one.hide.flaws}
    key, x, y = flaw_key(kinds, EDGE + bar + 110, y, "small-flaw")
    out += key
    if any(one.hide.thickness_zones for one in stock.hides):
        out.append(patch(x, y, "small-zone"))
        out.append(text(x + 33, y + 4.5, "of another thickness", 12))
    return out


def thumbnail(one: Stocked) -> Canvas:
    """Draw one hide by itself, without words.

    Args:
        one: the hide with its longest strap.
    """
    (width, height), (wide, high) = _ALONE, _extents(one)
    scale = 0.96 * min(width / wide, height / high)
    return Canvas(
        width, height, one.hide.name, _on_sheet(one, 0.02 * width, 0.98 * height, scale), paper="sheet"
    )


def _thumbnail(one: Stocked, left: float, top: float, high: float, scale: float, inches: bool) -> list[Item]:
    name = shortened(one.hide.name, _CELL - 24, 15, bold=True)
    out: list[Item] = [text(left, top + 16, name, 15, bold=True)]
    base = top + 26 + high
    out += _on_sheet(one, left, base, scale)
    y = base + 8
    for line in figures(one, inches):
        y += _LINE
        out.append(text(left, y, shortened(line, _CELL - 12, 12), 12))
    return out


def _on_sheet(one: Stocked, left: float, base: float, scale: float) -> list[Item]:
    """Draw a hide with its flaws and its longest strap, its lowest point on a base line."""
    hide = one.hide
    (x0, y0), (_, y1) = hide.outline.min(axis=0), hide.outline.max(axis=0)
    frame = Frame(float(x0), float(y1), left, base - float(y1 - y0) * scale, scale)
    outline = polygon("small-hide", *frame.points(hide.outline))
    on_it: list[Item] = [polygon("small-zone", *frame.points(zone.polygon)) for zone in hide.thickness_zones]
    for flaw in hide.flaws:
        on_it += flaw_items(str(flaw.kind), [frame.points(flaw.polygon)], "small-flaw")
    out: list[Item] = [outline, Group(tuple(on_it), outline)]
    if one.longest is not None:
        out.append(polygon("longest", *frame.points(one.longest.corners)))
    return out
