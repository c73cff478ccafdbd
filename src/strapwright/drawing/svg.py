"""A canvas as SVG: a file by itself, or an element of a page that carries the style sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.core.text import escape, one_line
from strapwright.drawing.canvas import Circle, Group, Line, Path, Text
from strapwright.drawing.looks import SCOPE, style_sheet
from strapwright.drawing.path_data import path_data
from strapwright.drawing.text import FAMILY
from strapwright.files.atomic_write import MARK
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from strapwright.drawing.canvas import Canvas, Item


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
