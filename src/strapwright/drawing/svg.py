"""A canvas as SVG, a file by itself or an element of a page; contours as path data, arcs as arcs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from strapwright.core.text import escape, one_line
from strapwright.core.tolerances import SVG_ARC_SWEEP_DEG
from strapwright.drawing.canvas import Circle, Group, Line, Path, Text
from strapwright.drawing.looks import SCOPE, style_sheet
from strapwright.drawing.text import FAMILY
from strapwright.files.atomic_write import MARK
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from strapwright.drawing.canvas import Canvas, Item

_DECIMALS: Final = 7
"""Rounding to 7 decimals moves a point by 0.00000005 mm at most."""

_FLAT: Final = 1e-5
"""An arc that rises less than this over its chord is drawn straight, mm: its radius is so great that
readers lose its centre."""


def svg(canvas: Canvas) -> str:
    """Return a drawing as an SVG document that keeps its looks wherever it is shown."""
    return f'<?xml version="1.0" encoding="UTF-8"?>\n<!-- {MARK} -->\n{element(canvas, styled=True)}\n'


def element(canvas: Canvas, *, own: str = "", styled: bool = False, figures: bool = False) -> str:
    """Return a drawing as it stands in a page.

    Args:
        canvas: the drawing.
        own: put before its ids, so that two drawings of a page share none.
        styled: whether it carries its looks itself; else the page has `style_sheet`.
        figures: whether its figures are buttons, each with its name as ``data-figure``.
    """
    width, height = number(canvas.width), number(canvas.height)
    return "\n".join(
        [
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" class="{SCOPE}" width="{width}" height="{height}" '
                f'viewBox="0 0 {width} {height}" fill="none" font-family="{FAMILY}">'
            ),
            f"<title>{escape(one_line(canvas.title))}</title>",
            *([f"<style>\n{style_sheet(canvas.looks())}\n</style>"] if styled else []),
            *_patterns(canvas, own),
            f'<rect class="{canvas.paper}" width="{width}" height="{height}"/>',
            *_drawn(canvas.items, own, figures=figures),
            "</svg>",
        ]
    )


def _patterns(canvas: Canvas, own: str) -> Iterator[str]:
    for name, hatch in canvas.hatches().items():
        size = f'width="{hatch.pitch:g}" height="{hatch.pitch:g}" patternUnits="userSpaceOnUse"'
        turn = f' patternTransform="rotate({hatch.turn:g})"' if hatch.turn else ""
        inside = "".join(_drawn(hatch.items, own))
        yield f'<defs><pattern id="{own}{name}" {size}{turn}>{inside}</pattern></defs>'


def _drawn(items: Iterable[Item], own: str, clip: str = "clip", *, figures: bool = False) -> Iterator[str]:
    """Yield items as elements; a clipping shape's id says its place among the items."""
    for place, item in enumerate(items):
        match item:
            case Line(x0, y0, x1, y1, look):
                ends = f'x1="{number(x0)}" y1="{number(y0)}" x2="{number(x1)}" y2="{number(y1)}"'
                yield f'<line class="{look}" {ends}/>'
            case Circle(x, y, radius, look):
                yield f'<circle class="{look}" cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"/>'
            case Path():
                fill = f' fill="url(#{own}{item.hatch.name})"' if item.hatch else ""
                yield f'<path class="{item.look}"{fill} d="{_data(item)}"/>'
            case Text():
                yield _text(item, figures=figures)
            case Group():
                name, more = f"{clip}-{place}", ""
                if item.clip is not None:
                    yield f'<clipPath id="{own}{name}"><path d="{_data(item.clip)}"/></clipPath>'
                    more = f' clip-path="url(#{own}{name})"'
                if item.x or item.y:
                    more += f' transform="translate({number(item.x, 3)} {number(item.y, 3)})"'
                yield f"<g{more}>"
                yield from _drawn(item.items, own, name, figures=figures)
                yield "</g>"


def _data(path: Path) -> str:
    """Return a path's data: contours with their arcs, points with straight lines between."""
    words = []
    for run in path.runs:
        if isinstance(run, Contour):
            words.append(path_data(run, down=True))
        else:
            points = "L".join(f"{number(x, 3)},{number(y, 3)}" for x, y in run)
            words.append(f"M{points}{'Z' if path.closed else ''}")
    return "".join(words)


def _text(text: Text, *, figures: bool) -> str:
    x, y = number(text.x), number(text.y)
    more = f' class="{text.look}"' if text.look else ""
    more += f' text-anchor="{text.anchor}"' if text.anchor != "start" else ""
    more += ' font-weight="bold"' if text.bold else ""
    more += f' transform="rotate({number(text.turn, 3)} {x} {y})"' if abs(text.turn) > 1e-6 else ""
    if figures and text.figure:
        more += f' data-figure="{escape(text.figure, quote=True)}" role="button" tabindex="0"'
    return f'<text x="{x}" y="{y}" font-size="{number(text.size)}"{more}>{escape(text.words)}</text>'


def number(value: float, decimals: int = 2) -> str:
    """Return a coordinate as short text.

    Example:
        >>> number(12.0), number(0.126), number(-0.001)
        ('12', '0.13', '0')
    """
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def path_data(contour: Contour, top: float = 0.0, *, down: bool = False) -> str:
    """Return a contour as the ``d`` of an SVG path, y turned, arcs of at most 120°.

    Args:
        contour: y to the back, mm.
        top: the y that is SVG's 0, mm.
        down: whether the contour's y runs down already, as SVG's does; it is not turned then.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> path_data(Contour([(0, 0, 0), (4, 0, 1)]))
        'M0,0L4,0A2,2 0 0 0 2,-2A2,2 0 0 0 0,0Z'
    """
    figures = (contour.starts, contour.ends, contour.centres, contour.radii, contour.sweeps)
    segments = list(zip(*(each.tolist() for each in figures), contour.segment_lengths.tolist(), strict=True))
    way = 1.0 if down else -1.0
    words = ["M" + _point(segments[0][0], top, way)]
    last = len(segments) - 1
    for index, (begin, finish, centre, far, sweep, length) in enumerate(segments):
        if length * abs(sweep) / 8 < _FLAT:  # the rise, nearly
            if not (contour.closed and index == last):  # Z draws a straight way home itself
                words.append("L" + _point(finish, top, way))
            continue
        pieces = max(1, math.ceil(abs(sweep) / math.radians(SVG_ARC_SWEEP_DEG) - 1e-9))
        x, y = begin[0] - centre[0], begin[1] - centre[1]
        radius = decimal(far)
        for piece in range(1, pieces + 1):
            end = finish
            if piece < pieces:
                turn = sweep * piece / pieces
                cos, sin = math.cos(turn), math.sin(turn)
                end = [centre[0] + (x * cos - y * sin), centre[1] + (x * sin + y * cos)]
            # Turning y turns the sense of every arc: SVG's 1 is clockwise on the bed.
            words.append(f"A{radius},{radius} 0 0 {int(sweep * way > 0)} {_point(end, top, way)}")
    return "".join(words) + ("Z" if contour.closed else "")


def _point(point: Sequence[float], top: float, way: float) -> str:
    return f"{decimal(point[0])},{decimal(top + way * point[1])}"


def decimal(value: float) -> str:
    """Return a number as an SVG file has it: at most seven decimals, none that is nought."""
    return number(value, _DECIMALS)
