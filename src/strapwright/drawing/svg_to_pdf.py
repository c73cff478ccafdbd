"""Our own SVG pictures on a PDF page, as lines, arcs and text: the drawing is made once and shown twice."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final
from xml.etree import ElementTree

import numpy as np

from strapwright.drawing.fonts import SheetFont
from strapwright.drawing.pdf import PdfSheets
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from xml.etree.ElementTree import Element

A4: Final = (210.0, 297.0)
"""Short and long side, mm (ISO 216)."""

MARGIN: Final = 10.0
"""Kept white round a drawing on its page, mm."""

_SPACE: Final = "{http://www.w3.org/2000/svg}"
_WORD: Final = re.compile(r"[MLHVAZmlhvaz]|-?\d*\.?\d+(?:e-?\d+)?")
_RULE: Final = re.compile(r"\.[\w-]+ ?(?:\.)?([\w-]+)\{([^}]*)\}")
_TURN: Final = re.compile(r"rotate\((-?[\d.]+) (-?[\d.]+) (-?[\d.]+)\)")
_HATCHES: Final = {"hole": (45.0, -45.0), "mark": (45.0,), "loose": (0.0,), "once": (90.0,)}
"""Directions of each hatch's lines, degrees; dots become a dotted line."""

_HATCH_PITCH: Final = 6.0


@dataclass(frozen=True)
class _Looks:
    """How a shape is drawn; colours as #RRGGBB, empty for none; lengths in px."""

    fill: str
    stroke: str
    width: float
    dashes: tuple[float, ...]


class SvgPage:
    """Draws our SVG documents on the pages of a PDF.

    Args:
        pdf: the pages.
        bold: the font of bold text.
    """

    def __init__(self, pdf: PdfSheets, bold: SheetFont) -> None:
        self.pdf, self.bold = pdf, bold

    def draw(self, svg: str, left: float, top: float, width: float) -> float:
        """Draw a document, in its light colours.

        Args:
            svg: as our writers make it.
            left: of the room, mm on the page.
            top: of it, mm.
            width: of it, mm.

        Returns:
            How high the drawing is, mm.
        """
        root = ElementTree.fromstring(svg.encode())  # noqa: S314 - written by strapwright itself
        frame = _Frame(left, top, width / _size(root)[0])
        style = root.find(f"{_SPACE}style")
        rules = _rules(style.text or "" if style is not None else "")
        for element in root:
            kind = element.tag.removeprefix(_SPACE)
            if element.get("class") == "paper" or element.get("width") == "100%":
                continue
            if kind == "text":
                self._text(element, rules, frame)
            elif kind in ("path", "line", "circle", "rect"):
                self._shape(element, kind, rules, frame)
        return _size(root)[1] * frame.scale

    def height(self, svg: str, width: float) -> float:
        """Return how high a document is when it is drawn so wide, mm."""
        root = ElementTree.fromstring(svg.encode())  # noqa: S314 - written by strapwright itself
        across, high = _size(root)
        return high * width / across

    def _shape(self, element: Element, kind: str, rules: Mapping[str, dict[str, str]], frame: _Frame) -> None:
        turn = _turn(element)
        contours = [frame.placed(contour, turn) for contour in _contours(element, kind)]
        if not contours:
            return
        looks = _looks(element, rules)
        scale = frame.scale
        fill = "" if looks.fill.startswith("url") else looks.fill
        if fill or looks.stroke:
            self.pdf.paint(
                contours,
                fill=fill,
                stroke=looks.stroke,
                width=looks.width * scale,
                dashes=[length * scale for length in looks.dashes],
            )
        if looks.fill.startswith("url"):
            self._hatch(contours, looks, scale)

    def _hatch(self, contours: Sequence[Contour], looks: _Looks, scale: float) -> None:
        """Draw a hatch's lines inside a shape."""
        kind = looks.fill[len("url(#") : -1]
        boxes = [contour.bounding_box for contour in contours]
        x0, y0 = min(box[0] for box in boxes), min(box[1] for box in boxes)
        x1, y1 = max(box[2] for box in boxes), max(box[3] for box in boxes)
        cx, cy, reach = (x0 + x1) / 2, (y0 + y1) / 2, math.hypot(x1 - x0, y1 - y0) / 2
        pitch = _HATCH_PITCH * scale
        dashes = [0.3 * pitch, 0.7 * pitch] if kind == "loose" else []
        with self.pdf.within(contours):
            for direction in _HATCHES[kind]:
                c, s = math.cos(math.radians(direction)), math.sin(math.radians(direction))
                for k in range(-int(reach / pitch), int(reach / pitch) + 1):
                    x, y = cx - s * k * pitch, cy + c * k * pitch
                    line = Contour.from_points(
                        [(x - reach * c, y - reach * s), (x + reach * c, y + reach * s)], closed=False
                    )
                    self.pdf.paint([line], stroke=looks.stroke, width=0.9 * scale, dashes=dashes)

    def _text(self, element: Element, rules: Mapping[str, dict[str, str]], frame: _Frame) -> None:
        words = element.text or ""
        font = self.bold if element.get("font-weight") == "bold" else self.pdf.font
        size = float(element.get("font-size", "12")) * frame.scale
        wide = font.width(words, size)
        before = {"start": 0.0, "middle": wide / 2, "end": wide}[element.get("text-anchor", "start")]
        turn = _turn(element)
        angle = -turn[0] if turn else 0.0
        x, y = frame.point(float(element.get("x", "0")), float(element.get("y", "0")), turn)
        x, y = x - before * math.cos(angle), y - before * math.sin(angle)
        colour = element.get("fill") or rules.get("text", {}).get("fill", "#000000")
        self.pdf.turned_text(words, x, y, size, angle, font, colour)


@dataclass(frozen=True)
class _Frame:
    """From the drawing's px, y down, to the page's mm, y up."""

    left: float
    top: float
    scale: float

    def point(self, x: float, y: float, turn: tuple[float, float, float] | None) -> tuple[float, float]:
        if turn:
            angle, cx, cy = turn
            c, s = math.cos(angle), math.sin(angle)
            x, y = cx + c * (x - cx) - s * (y - cy), cy + s * (x - cx) + c * (y - cy)
        return self.left + self.scale * x, self.top - self.scale * y

    def placed(self, contour: Contour, turn: tuple[float, float, float] | None) -> Contour:
        rows = [(*self.point(float(x), float(y), turn), -float(bulge)) for x, y, bulge in contour.vertices]
        return Contour(np.array(rows), contour.closed)


def drawing_pdf(pages: Sequence[str], title: str) -> bytes:
    """Return drawings as a PDF, one an A4 page, upright or lying, as large as it can be.

    Args:
        pages: SVG documents of ours.
        title: of the document.
    """
    pdf = PdfSheets(SheetFont(), title)
    draws = SvgPage(pdf, bold_font())
    for svg in pages:
        across, high = _size(ElementTree.fromstring(svg.encode()))  # noqa: S314 - written by strapwright itself
        scales = {
            paper: min((paper[0] - 2 * MARGIN) / across, (paper[1] - 2 * MARGIN) / high)
            for paper in (A4, (A4[1], A4[0]))
        }
        paper = max(scales, key=lambda one: scales[one])
        pdf.page(*paper)
        width = across * scales[paper]
        draws.draw(svg, (paper[0] - width) / 2, paper[1] - MARGIN, width)
    return pdf.save()


def bold_font() -> SheetFont:
    """Return the bold face of the font that comes with reportlab."""
    return SheetFont(Path("VeraBd.ttf"))


def _size(root: Element) -> tuple[float, float]:
    _, _, width, height = (float(word) for word in root.get("viewBox", "").split())
    return width, height


def _rules(css: str) -> dict[str, dict[str, str]]:
    """Return the light style's declarations by class, or by the word ``text``."""
    light = css.partition("@media")[0]
    return {
        name: dict(one.split(":", 1) for one in body.split(";") if one) for name, body in _RULE.findall(light)
    }


def _looks(element: Element, rules: Mapping[str, dict[str, str]]) -> _Looks:
    told: dict[str, str] = {}
    for name in element.get("class", "").split():
        told |= rules.get(name, {})
    for key in ("fill", "stroke", "stroke-width", "stroke-dasharray"):
        told |= {key: value} if (value := element.get(key)) else {}
    dashes = [float(word) for word in told.get("stroke-dasharray", "").replace(",", " ").split()]
    return _Looks(
        fill="" if told.get("fill", "none") == "none" else told["fill"],
        stroke="" if told.get("stroke", "none") == "none" else told["stroke"],
        width=float(told.get("stroke-width", "1")),
        dashes=tuple(dashes),
    )


def _turn(element: Element) -> tuple[float, float, float] | None:
    match = _TURN.fullmatch(element.get("transform", ""))
    return (math.radians(float(match[1])), float(match[2]), float(match[3])) if match else None


def _contours(element: Element, kind: str) -> list[Contour]:
    def value(key: str) -> float:
        return float(element.get(key, "0"))

    if kind == "path":
        return list(contours_of(element.get("d", "")))
    if kind == "line":
        ends = [(value("x1"), value("y1")), (value("x2"), value("y2"))]
        return [Contour.from_points(ends, closed=False)] if ends[0] != ends[1] else []
    if kind == "circle":
        return [Contour.circle(value("cx"), value("cy"), 2 * value("r"))]
    x, y, w, h = value("x"), value("y"), value("width"), value("height")
    return [Contour.from_points([(x, y), (x + w, y), (x + w, y + h), (x, y + h)])]


def contours_of(data: str) -> Iterator[Contour]:
    """Yield the runs of an SVG path of straight lines and circular arcs of less than half a turn.

    Args:
        data: with the commands M, L, H, V, A and Z, absolute or relative.

    Example:
        >>> [run.vertices.tolist() for run in contours_of("M0,0h4v2Z")]
        [[[0.0, 0.0, 0.0], [4.0, 0.0, 0.0], [4.0, 2.0, 0.0]]]
    """
    words = _WORD.findall(data)
    rows: list[list[float]] = []
    x = y = 0.0
    command, k = "", 0
    while k < len(words):
        if words[k].isalpha():
            command, k = words[k], k + 1
        shift = (x, y) if command.islower() else (0.0, 0.0)
        kind = command.upper()
        if kind == "Z":
            yield from _run(rows, closed=True)
            (x, y), rows = (rows[0][0], rows[0][1]), []
            continue
        if kind == "M":
            yield from _run(rows, closed=False)
            rows = []
        bulge = 0.0
        if kind == "A":
            radius, sweep = float(words[k]), words[k + 4] == "1"
            k += 5
        if kind in "HV":
            at = float(words[k]) + (shift[0] if kind == "H" else shift[1])
            x1, y1 = (at, y) if kind == "H" else (x, at)
            k += 1
        else:
            x1, y1 = float(words[k]) + shift[0], float(words[k + 1]) + shift[1]
            k += 2
        if kind == "A":
            half = math.asin(min(1.0, math.dist((x, y), (x1, y1)) / (2 * radius)))
            bulge = math.tan(half / 2) * (1 if sweep else -1)
        if rows and kind != "M":
            rows[-1][2] = bulge
        elif not rows and kind != "M":
            rows.append([x, y, bulge])
        rows.append([x1, y1, 0.0])
        x, y = x1, y1
        command = {"M": "L", "m": "l"}.get(command, command)
    yield from _run(rows, closed=False)


def _run(rows: list[list[float]], *, closed: bool) -> Iterator[Contour]:
    """Yield a run, if it has any length; a closed one without its start told again at the end."""
    if not rows:
        return
    kept = [row for row, after in zip(rows, [*rows[1:], None], strict=True) if row[:2] != (after or [])[:2]]
    if closed and len(kept) > 1 and math.dist(kept[0][:2], kept[-1][:2]) < 1e-9:
        kept.pop()
    if len(kept) > 1:
        yield Contour(np.array(kept), closed)
