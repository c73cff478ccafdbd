"""Pages of a PDF in millimetres: exact arcs, line styles, text in an embedded font; and canvases on them."""

from __future__ import annotations

import io
import itertools
import math
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.core.text import one_line
from strapwright.core.units import MM_PER_INCH
from strapwright.drawing.canvas import Circle, Group, Line, Path, Text, polyline, turned_over
from strapwright.drawing.looks import INK, LOOKS, Look, merged
from strapwright.drawing.text import usual_font
from strapwright.files.atomic_write import MARK
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from strapwright.drawing.canvas import Canvas, Hatch, Item, Point
    from strapwright.drawing.text import Font

POINTS_PER_MM: Final = 72.0 / MM_PER_INCH
"""A PDF's unit is 1/72 in (ISO 32000-1, user space)."""

ARC_ERROR: Final = 5e-4
"""A curve of an arc strays from it by no more, mm."""


class PdfSheets:
    """Pages of a PDF, drawn one after another; x to the right, y up, mm as they shall measure on paper.

    Args:
        font: of all text.
        title: of the document.
        canvas: of reportlab's, to draw on the page it is at instead of on pages of one's own.
    """

    def __init__(self, font: Font, title: str = "", canvas: Any = None) -> None:
        from reportlab.pdfgen.canvas import Canvas

        embed(font)
        self.font, self._canvas = font, canvas
        if canvas is not None:
            return
        self._stream = io.BytesIO()
        # Fixed dates and names: the same pattern gives the same bytes. Pages stay readable as text.
        self._canvas = Canvas(self._stream, invariant=1, pageCompression=0, initialFontName=font.name)
        self._canvas.setTitle(one_line(title))
        self._canvas.setCreator("strapwright")
        self._canvas.setKeywords(MARK)
        self._page = False
        self._now: dict[str, tuple[object, ...]] = {}
        """How lines and letters are drawn at the moment."""

    def page(self, width: float, height: float, scale: tuple[float, float] = (1.0, 1.0)) -> None:
        """Begin a page.

        Args:
            width: of the paper, mm.
            height: of the paper, mm.
            scale: what is drawn is stretched by this in x and y, for a printer that shrinks it.
        """
        if self._page:
            self._canvas.showPage()
        self._page = True
        self._canvas.setPageSize((width * POINTS_PER_MM, height * POINTS_PER_MM))
        self._canvas.scale(POINTS_PER_MM * scale[0], POINTS_PER_MM * scale[1])
        self._now = {"setFillAlpha": (1.0,), "setLineCap": (0,)}

    def save(self) -> bytes:
        """Return the finished file, marked for `write_whole`."""
        self._canvas.showPage()
        self._canvas.save()
        return self._stream.getvalue()

    def _set(self, what: str, *value: object) -> None:
        """Set how lines or letters are drawn, unless they are drawn so already."""
        if self._now.get(what) != value:
            self._now[what] = value
            getattr(self._canvas, what)(*value)

    def _colour(self, what: str, colour: str) -> None:
        """Set a colour given as #RRGGBB: of what is stroked, or filled."""
        if self._now.get(what) != (colour,):
            self._now[what] = (colour,)
            mixed = _mixed(colour)
            if mixed.red == mixed.green == mixed.blue:  # as such, for printers without colours
                getattr(self._canvas, f"set{what}Gray")(mixed.red)
            else:
                getattr(self._canvas, f"set{what}Color")(mixed)

    def _style(self, look: Look, scale: float = 1.0) -> None:
        self._set("setLineWidth", look.width * scale)
        self._set("setDash", [length * scale for length in look.dashes])
        self._set("setLineCap", int(look.round))
        self._colour("Stroke", look.stroke)

    def line(self, x0: float, y0: float, x1: float, y1: float, look: str) -> None:
        """Draw a straight line."""
        self._style(LOOKS[look])
        self._canvas.line(x0, y0, x1, y1)

    def box(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Draw a thin rectangle."""
        self._style(LOOKS["print-fine"])
        self._canvas.rect(x0, y0, x1 - x0, y1 - y0, stroke=1, fill=0)

    def _trace(self, path: Any, contour: Contour) -> None:
        """Add a contour to a path: lines as lines, arcs as Bézier curves."""
        path.moveTo(*contour.starts[0].tolist())
        for index, (end, is_arc) in enumerate(
            zip(contour.ends.tolist(), contour.is_arc.tolist(), strict=True)
        ):
            if is_arc:
                for curve in arc_curves(contour, index):
                    path.curveTo(*itertools.chain.from_iterable(curve))
            else:
                path.lineTo(*end)
        if contour.closed:
            path.close()

    def paint(self, shape: Path, look: Look, scale: float) -> None:
        """Draw a shape in colour, without its hatch.

        Args:
            shape: mm on the page.
            look: how it is drawn.
            scale: mm on the page to a px of the look's lines.
        """
        stroke, fill = (colour not in ("", "none") for colour in (look.stroke, look.fill))
        if not (stroke or fill):
            return
        if stroke:
            self._style(look, scale)
        if fill:
            self._colour("Fill", look.fill)
            self._set("setFillAlpha", look.opacity)
        self._canvas.drawPath(self._path(shape), stroke=int(stroke), fill=int(fill), fillMode=1)

    @contextmanager
    def within(self, shape: Path) -> Iterator[None]:
        """Draw, meanwhile, only inside a shape."""
        with self._saved():
            self._canvas.clipPath(self._path(shape), stroke=0, fill=0, fillMode=1)
            yield

    @contextmanager
    def _saved(self) -> Iterator[None]:
        self._canvas.saveState()
        before = dict(self._now)
        yield
        self._canvas.restoreState()
        self._now = before

    def _path(self, shape: Path) -> Any:
        path = self._canvas.beginPath()
        for run in shape.runs:
            if isinstance(run, Contour):
                self._trace(path, run)
                continue
            path.moveTo(*run[0])
            for point in run[1:]:
                path.lineTo(*point)
            if shape.closed:
                path.close()
        return path

    def text(
        self,
        text: str,
        x: float,
        y: float,
        size: float,
        *,
        turn: float = 0.0,
        colour: str = "#000000",
        font: Font | None = None,
    ) -> None:
        """Write a text from (x, y) on along its base line.

        Args:
            text: what is written.
            x: left end, mm.
            y: base line, mm.
            size: of the letters, mm.
            turn: of the base line, radians counter-clockwise.
            colour: as #RRGGBB.
            font: another than that of all text.
        """
        if turn:
            with self._saved():
                self._canvas.translate(x, y)
                self._canvas.rotate(math.degrees(turn))
                self.text(text, 0.0, 0.0, size, colour=colour, font=font)
            return
        self._colour("Fill", colour)
        self._set("setFillAlpha", 1.0)
        for used, run in (font or self.font).runs(one_line(text)):
            embed(used)
            self._canvas.setFont(used.name, size)
            self._canvas.drawString(x, y, run)
            x += used.width(run, size)


@cache
def _mixed(colour: str) -> Any:
    from reportlab.lib.colors import HexColor

    return HexColor(colour)


@cache
def embed(font: Font) -> None:
    """Make a font known to reportlab, which embeds what is used of it."""
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    registerFont(TTFont(font.name, str(font.path)))


Curve = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]


def arc_curves(contour: Contour, index: int) -> Iterable[Curve]:
    """Yield the Bézier curves of one arc of a contour: two control points and the end of each.

    A cubic Bézier with control arms of 4/3 tan(θ/4) radii touches the arc at both ends and midway, and
    strays outward by at most r · 2/27 · sin⁶(θ/4) / cos²(θ/4); the arc is split until that is below
    `ARC_ERROR`.

    Args:
        contour: with the arc.
        index: of the arc's segment.
    """
    radius, sweep = float(contour.radii[index]), float(contour.sweeps[index])
    parts = max(1, math.ceil(abs(sweep) / (math.pi / 2) - 1e-9))
    while _strays(radius, sweep / parts) > ARC_ERROR:
        parts += 1
    step = sweep / parts
    arm = 4.0 / 3.0 * math.tan(step / 4.0)
    centre = contour.centres[index]
    start = contour.starts[index] - centre
    turns = step * np.arange(parts + 1)
    c, s = np.cos(turns), np.sin(turns)
    spokes = np.column_stack([c * start[0] - s * start[1], s * start[0] + c * start[1]])
    points = centre + spokes
    points[-1] = contour.ends[index]
    across = arm * np.column_stack([-spokes[:, 1], spokes[:, 0]])
    for k in range(parts):
        first, second = points[k] + across[k], points[k + 1] - across[k + 1]
        yield _pair(first), _pair(second), _pair(points[k + 1])


def _strays(radius: float, sweep: float) -> float:
    quarter = abs(sweep) / 4.0
    return radius * 2.0 / 27.0 * math.sin(quarter) ** 6 / math.cos(quarter) ** 2


def _pair(point: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[float, float]:
    return float(point[0]), float(point[1])


A4: Final = (210.0, 297.0)
"""Short and long side, mm (ISO 216)."""

MARGIN: Final = 10.0
"""Kept white round a drawing on its page, mm."""


def drawing_pdf(drawings: Sequence[Canvas], title: str) -> bytes:
    """Return drawings as a PDF, one an A4 page, upright or lying, as large as it can be.

    Args:
        drawings: one a page.
        title: of the document.
    """
    pdf, bold = PdfSheets(usual_font(), title), usual_font(bold=True)
    for canvas in drawings:
        scales = {
            paper: min((paper[0] - 2 * MARGIN) / canvas.width, (paper[1] - 2 * MARGIN) / canvas.height)
            for paper in (A4, (A4[1], A4[0]))
        }
        paper = max(scales, key=lambda one: scales[one])
        pdf.page(*paper)
        width = canvas.width * scales[paper]
        draw(pdf, bold, canvas, (paper[0] - width) / 2, paper[1] - MARGIN, width)
    return pdf.save()


def draw(pdf: PdfSheets, bold: Font, canvas: Canvas, left: float, top: float, width: float) -> None:
    """Draw a canvas on a page, in its light colours.

    Args:
        pdf: the page.
        bold: the font of bold text.
        canvas: the drawing.
        left: of the room, mm on the page.
        top: of it, mm.
        width: of it, mm.
    """
    _Placed(pdf, bold, canvas.looks(), canvas.hatches(), left, top, width / canvas.width).draw(canvas.items)


@dataclass(frozen=True)
class _Placed:
    """A canvas on a page: from its px, y down, to the page's mm, y up."""

    pdf: PdfSheets
    bold: Font
    looks: dict[str, Look]
    hatches: dict[str, Hatch]
    left: float
    top: float
    scale: float

    def draw(self, items: Iterable[Item]) -> None:
        for item in items:
            match item:
                case Text():
                    self._text(item)
                case Group():
                    moved = self._moved(item.x, item.y)
                    with nullcontext() if item.clip is None else self.pdf.within(moved._placed(item.clip)):
                        moved.draw(item.items)
                case _:
                    shape = _shape(item)
                    if not shape.runs:
                        continue
                    placed = self._placed(shape)
                    self.pdf.paint(placed, merged(shape.look, self.looks), self.scale)
                    if shape.hatch:
                        with self.pdf.within(placed):
                            self.draw(_repeated(self.hatches[shape.hatch], shape))

    def _point(self, x: float, y: float) -> Point:
        return self.left + self.scale * x, self.top - self.scale * y

    def _moved(self, x: float, y: float) -> _Placed:
        left, top = self._point(x, y)
        return replace(self, left=left, top=top)

    def _placed(self, shape: Path) -> Path:
        runs = tuple(
            turned_over(run, self.scale, self.left, self.top)
            if isinstance(run, Contour)
            else [self._point(*point) for point in run]
            for run in shape.runs
        )
        return replace(shape, runs=runs)

    def _text(self, text: Text) -> None:
        font = self.bold if text.bold else self.pdf.font
        size = text.size * self.scale
        wide = font.width(text.words, size)
        before = {"start": 0.0, "middle": wide / 2, "end": wide}[text.anchor]
        angle = -math.radians(text.turn)
        x, y = self._point(text.x, text.y)
        x, y = x - before * math.cos(angle), y - before * math.sin(angle)
        colour = merged(text.look, self.looks).fill or INK.fill
        self.pdf.text(text.words, x, y, size, turn=angle, colour=colour, font=font)


def _shape(item: Line | Circle | Path) -> Path:
    match item:
        case Line():
            return polyline(item.look, (item.x0, item.y0), (item.x1, item.y1))
        case Circle():
            return Path((Contour.circle(item.x, item.y, 2 * item.radius),), item.look)
    return item


def _repeated(hatch: Hatch, shape: Path) -> Iterator[Path]:
    """Yield what a hatch draws over a shape: each of its lines wherever it stands, as one path."""
    points = np.vstack(
        [np.reshape(one.bounding_box, (2, 2)) if isinstance(one, Contour) else one for one in shape.runs]
    )
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    c, s = math.cos(math.radians(hatch.turn)), math.sin(math.radians(hatch.turn))
    turn = np.array([[c, s], [-s, c]])  # of rows, from the hatch's squares to the drawing
    corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]) @ turn.T / hatch.pitch
    first, last = np.floor(corners.min(axis=0)), np.ceil(corners.max(axis=0))
    squares = np.array(list(itertools.product(*(np.arange(*ends) for ends in zip(first, last, strict=True)))))
    for line in hatch.items:
        ends = np.array([(line.x0, line.y0), (line.x1, line.y1)])
        placed = (ends + hatch.pitch * squares[:, None]) @ turn
        yield Path(tuple(placed.tolist()), line.look)
