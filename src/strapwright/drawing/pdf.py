"""Canvases on pages of a PDF, in millimetres: exact arcs, looks, text in embedded fonts."""

from __future__ import annotations

import io
import itertools
import math
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field, replace
from functools import cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.core.text import one_line
from strapwright.core.units import MM_PER_INCH
from strapwright.drawing.canvas import Circle, Group, Line, Path, Text, polyline, turned_over
from strapwright.drawing.looks import INK, Look, merged
from strapwright.drawing.text import usual_font
from strapwright.files.atomic_write import MARK
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from strapwright.core.arrays import Floats
    from strapwright.drawing.canvas import Canvas, Hatch, Item, Point
    from strapwright.drawing.text import Font

POINTS_PER_MM: Final = 72.0 / MM_PER_INCH
"""A PDF's unit is 1/72 in (ISO 32000-1, user space)."""

ARC_ERROR: Final = 5e-4
"""A curve of an arc strays from it by no more, mm."""

A4: Final = (210.0, 297.0)
"""Short and long side, mm (ISO 216)."""

MARGIN: Final = 10.0
"""Kept white round a drawing on its page, mm."""


@dataclass(frozen=True)
class PaperPage:
    """A canvas on a page.

    Args:
        canvas: the drawing.
        paper: width and height, mm.
        left: where the drawing begins, mm from the left.
        top: the same from above.
        size: mm to a px of the canvas.
        stretch: how much larger all of it is drawn in x and in y, for a printer that shrinks it.
    """

    canvas: Canvas
    paper: tuple[float, float]
    left: float = 0.0
    top: float = 0.0
    size: float = 1.0
    stretch: tuple[float, float] = (1.0, 1.0)


def pdf_of(pages: Iterable[PaperPage], title: str, font: Font | None = None) -> bytes:
    """Return pages as a PDF, marked for `write_whole`; the same pages give the same bytes.

    Args:
        pages: one after another.
        title: of the document.
        font: of all text, bold or not; None takes the usual ones.
    """
    from reportlab.pdfgen.canvas import Canvas as PdfCanvas

    plain, bold = font or usual_font(), font or usual_font(bold=True)
    embed(plain)
    stream = io.BytesIO()
    # Fixed dates and names; pages stay readable as text.
    pdf = PdfCanvas(stream, invariant=1, pageCompression=0, initialFontName=plain.name)
    pdf.setTitle(one_line(title))
    pdf.setCreator("strapwright")
    pdf.setKeywords(MARK)
    for page in pages:
        pdf.setPageSize([side * POINTS_PER_MM for side in page.paper])
        pdf.scale(*(POINTS_PER_MM * scale for scale in page.stretch))
        top = page.paper[1] / page.stretch[1] - page.top
        draw(pdf, page.canvas, page.left, top, page.size, plain, bold)
        pdf.showPage()
    pdf.save()
    return stream.getvalue()


def drawing_pdf(drawings: Sequence[Canvas], title: str) -> bytes:
    """Return drawings as a PDF, one an A4 page, upright or lying, as large as it can be.

    Args:
        drawings: one a page.
        title: of the document.
    """
    return pdf_of(map(_on_a4, drawings), title)


def _on_a4(canvas: Canvas) -> PaperPage:
    sizes = {
        paper: min((paper[0] - 2 * MARGIN) / canvas.width, (paper[1] - 2 * MARGIN) / canvas.height)
        for paper in (A4, (A4[1], A4[0]))
    }
    paper = max(sizes, key=lambda one: sizes[one])
    left = (paper[0] - canvas.width * sizes[paper]) / 2
    return PaperPage(canvas, paper, left, MARGIN, sizes[paper])


def draw(pdf: Any, canvas: Canvas, left: float, top: float, size: float, font: Font, bold: Font) -> None:
    """Draw a canvas, in its light colours, on the page that a canvas of reportlab's is at.

    Args:
        pdf: reportlab's canvas, its unit made a millimetre.
        canvas: the drawing.
        left: where it begins, mm from the left.
        top: where it begins, mm from below.
        size: mm to a px of it.
        font: of its text.
        bold: of its bold text.
    """
    _Placed(pdf, font, bold, canvas.looks(), left, top, size).draw(canvas.items)


@cache
def embed(font: Font) -> None:
    """Make a font known to reportlab, which embeds what is used of it."""
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    registerFont(TTFont(font.name, str(font.path)))


@cache
def _mixed(colour: str) -> Any:
    from reportlab.lib.colors import HexColor

    return HexColor(colour)


@dataclass(frozen=True)
class _Placed:
    """A canvas on a page: from its px, y down, to the page's mm, y up."""

    pdf: Any
    font: Font
    bold: Font
    looks: dict[str, Look]
    left: float
    top: float
    scale: float
    now: dict[str, tuple[object, ...]] = field(
        default_factory=lambda: {"setFillAlpha": (1.0,), "setLineCap": (0,)}
    )
    """How lines and letters are drawn at the moment."""

    def draw(self, items: Iterable[Item]) -> None:
        for item in items:
            match item:
                case Text():
                    self._text(item)
                case Group():
                    left, top = self._point(item.x, item.y)
                    moved = replace(self, left=left, top=top)
                    with nullcontext() if item.clip is None else moved._within(item.clip):
                        moved.draw(item.items)
                case _:
                    shape = _shape(item)
                    if not shape.runs:
                        continue
                    self._paint(shape)
                    if shape.hatch:
                        with self._within(shape):
                            self.draw(_repeated(shape.hatch, shape))

    def _point(self, x: float, y: float) -> Point:
        return self.left + self.scale * x, self.top - self.scale * y

    def _paint(self, shape: Path) -> None:
        """Draw a shape without its hatch."""
        look = merged(shape.look, self.looks)
        stroke, fill = (colour not in ("", "none") for colour in (look.stroke, look.fill))
        if stroke:
            self._set("setLineWidth", look.width * self.scale)
            self._set("setDash", [length * self.scale for length in look.dashes])
            self._set("setLineCap", int(look.round))
            self._colour("Stroke", look.stroke)
        if fill:
            self._colour("Fill", look.fill)
            self._set("setFillAlpha", look.opacity)
        if stroke or fill:
            self.pdf.drawPath(self._path(shape), stroke=int(stroke), fill=int(fill), fillMode=1)

    def _set(self, what: str, *value: object) -> None:
        if self.now.get(what) != value:
            self.now[what] = value
            getattr(self.pdf, what)(*value)

    def _colour(self, what: str, colour: str) -> None:
        """Set the colour of what is stroked, or filled; black, white and grey are no mixtures."""
        if self.now.get(what) != (colour,):
            self.now[what] = (colour,)
            mixed = _mixed(colour)
            if mixed.red == mixed.green == mixed.blue:
                getattr(self.pdf, f"set{what}Gray")(mixed.red)
            else:
                getattr(self.pdf, f"set{what}Color")(mixed)

    @contextmanager
    def _saved(self) -> Iterator[None]:
        before = dict(self.now)
        self.pdf.saveState()
        yield
        self.pdf.restoreState()
        self.now.clear()
        self.now.update(before)

    @contextmanager
    def _within(self, shape: Path) -> Iterator[None]:
        """Draw, meanwhile, only inside a shape."""
        with self._saved():
            self.pdf.clipPath(self._path(shape), stroke=0, fill=0, fillMode=1)
            yield

    def _path(self, shape: Path) -> Any:
        """Return a shape as reportlab's: lines as lines, arcs as Bézier curves."""
        path = self.pdf.beginPath()
        for run in shape.runs:
            if isinstance(run, Contour):
                placed = turned_over(run, self.scale, self.left, self.top)
                path.moveTo(*placed.starts[0].tolist())
                for index, end in enumerate(placed.ends.tolist()):
                    if placed.is_arc[index]:
                        for curve in arc_curves(placed, index).reshape(-1, 6).tolist():
                            path.curveTo(*curve)
                    else:
                        path.lineTo(*end)
                closed = placed.closed
            else:
                path.moveTo(*self._point(*run[0]))
                for point in run[1:]:
                    path.lineTo(*self._point(*point))
                closed = shape.closed
            if closed:
                path.close()
        return path

    def _text(self, text: Text) -> None:
        font, size = self.bold if text.bold else self.font, text.size * self.scale
        wide, (x, y) = font.width(text.words, size), self._point(text.x, text.y)
        before = {"start": 0.0, "middle": wide / 2, "end": wide}[text.anchor]
        self._colour("Fill", merged(text.look, self.looks).fill or INK.fill)
        self._set("setFillAlpha", 1.0)
        with self._saved() if text.turn else nullcontext():
            if text.turn:
                self.pdf.translate(x, y)
                self.pdf.rotate(-text.turn)
                x = y = 0.0
            x -= before
            for used, run in font.runs(one_line(text.words)):
                embed(used)
                self.pdf.setFont(used.name, size)
                self.pdf.drawString(x, y, run)
                x += used.width(run, size)


def arc_curves(contour: Contour, index: int) -> Floats:
    """Return the Bézier curves of one arc of a contour: two control points and the end of each, (N, 3, 2).

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
    return np.stack([points[:-1] + across[:-1], points[1:] - across[1:], points[1:]], axis=1)


def _strays(radius: float, sweep: float) -> float:
    quarter = abs(sweep) / 4.0
    return radius * 2.0 / 27.0 * math.sin(quarter) ** 6 / math.cos(quarter) ** 2


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
