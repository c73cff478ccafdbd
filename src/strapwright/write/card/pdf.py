"""A bench card as PDF: its blocks as reportlab's flowables, which it breaks into pages; fonts embedded."""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from reportlab.lib import pagesizes
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas as PdfCanvas
from reportlab.platypus import (
    ActionFlowable,
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    HRFlowable,
    KeepTogether,
    PageBreak,
    PageTemplate,
    Paragraph,
    Table as Grid,
)
from reportlab.platypus.paraparser import ParaFrag

from strapwright.core.text import one_line
from strapwright.drawing.pdf import draw, embed
from strapwright.drawing.text import LACKING, font_of, usual_font
from strapwright.files.atomic_write import MARK
from strapwright.write.card.blocks import Beside, Blanks, Drawing, Facts, Table, Ticks, Words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from strapwright.drawing.canvas import Canvas
    from strapwright.drawing.text import Font
    from strapwright.write.card.blocks import Block, Card, Paper, Sheet

MARGINS: Final = (14 * mm, 12 * mm, 12 * mm, 18 * mm)
"""Left, right, above and below."""

FOOT: Final = 2.5 * mm
TEXT: Final = 3.1 * mm
_HEADING: Final = 3.5 * mm
TITLE: Final = 5.6 * mm
_BOX: Final = 3.2 * mm
_PAD: Final = 2.6 * mm
_TIGHT_PAD: Final = 1.2 * mm
_GAP: Final = 2.2 * mm
_RULE: Final = 0.06 * mm
_STRONG: Final = 0.35 * mm
_KEPT_WHOLE: Final = 110 * mm
"""A table no higher than this begins a new page rather than being broken."""

_LEFT_SHARE: Final = 0.40
"""Of two blocks side by side the left one has this share of the width."""


def card_pdf(card: Card, font: Path | None = None, paper: Paper = "a4") -> bytes:
    """Return a card as PDF.

    Args:
        card: the card.
        font: a TrueType font of the user's own for all its text; None takes the usual one.
        paper: ``"a4"`` or ``"letter"``.
    """
    stream = io.BytesIO()
    document, setter = blank_document(stream, f"{card.title}: bench card", font, paper)
    left, _, _, bottom = MARGINS
    low, end = bottom - 3.5 * mm, left + setter.wide

    def end_page(canvas: Any, _: Any) -> None:
        canvas.setLineWidth(_RULE)
        canvas.line(left, low, end, low)
        setter.foot(canvas, f"{card.foot} · {document.sheet}", low - 0.5 * mm, 25 * mm)

    document.handle_sheet = lambda name: setattr(document, "sheet", name)
    frame = Frame(left, bottom, setter.wide, setter.high, 0, 0, 0, 0)
    document.addPageTemplates(PageTemplate("page", [frame], onPageEnd=end_page))
    document.build(list(setter.card(card)), canvasmaker=NumberedPages)
    return stream.getvalue()


def blank_document(
    stream: io.BytesIO, title: str, font: Path | None, paper: Paper
) -> tuple[BaseDocTemplate, Setter]:
    """Return a document without pages yet, which gives the same bytes each time, and what sets its blocks.

    Args:
        stream: where its bytes go.
        title: of the document.
        font: a TrueType font of the user's own for all its text; None takes the usual one.
        paper: ``"a4"`` or ``"letter"``.
    """
    width, height = {"a4": pagesizes.A4, "letter": pagesizes.LETTER}[paper]
    left, right, top, bottom = MARGINS
    plain, bold = font_of(font), font_of(font) if font else usual_font(bold=True)
    document = BaseDocTemplate(
        stream,
        pagesize=(width, height),
        title=one_line(title),
        creator="strapwright",
        keywords=MARK,
        invariant=1,
        pageCompression=0,
        initialFontName=plain.name,
    )
    return document, Setter(plain, bold, width - left - right, height - top - bottom)


class NumberedPages(PdfCanvas):  # type: ignore[misc]  # reportlab carries no types
    """Pages kept until their number is known, and numbered then where they say at which place."""

    number_at: tuple[float, float] | None = None
    words = "page {number} of {count}"

    def showPage(self) -> None:  # noqa: N802 - reportlab's name
        """Keep a page."""
        self.__dict__.setdefault("kept", []).append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        """Number the pages and write them."""
        kept = self.kept
        for number, page in enumerate(kept, 1):
            self.__dict__.update(page)
            if self.number_at is not None:
                self.setFont(self._initialFontName, FOOT)
                self.drawRightString(*self.number_at, self.words.format(number=number, count=len(kept)))
            super().showPage()
        super().save()


def _runs(text: str, font: Font) -> list[tuple[Font, str]]:
    """Return a text in runs of one font each, and have the fonts embedded."""
    runs = list(font.runs(one_line(text))) or [(font, "")]
    for used, _ in runs:
        embed(used)
    return runs


class _Box(Flowable):  # type: ignore[misc]  # reportlab carries no types
    """A box to tick."""

    def wrap(self, *_: float) -> tuple[float, float]:
        """Return its width and height."""
        return _BOX, _BOX

    def draw(self) -> None:
        """Draw it on the page."""
        self.canv.setLineWidth(0.1 * mm)
        self.canv.rect(0, 0, _BOX, _BOX)


class Picture(Flowable):  # type: ignore[misc]  # reportlab carries no types
    """A drawing, as wide as it may be."""

    def __init__(self, canvas: Canvas, setter: Setter, wide: float | None = None) -> None:
        super().__init__()
        self.canvas, self.setter = canvas, setter
        self.width = min(
            setter.wide if wide is None else wide, (setter.high - 8 * mm) * canvas.width / canvas.height
        )
        self.height = self.width * canvas.height / canvas.width
        self.hAlign = "CENTER"

    def draw(self) -> None:
        """Draw it on the page."""
        self.canv.saveState()
        self.canv.scale(mm, mm)
        size = self.width / mm / self.canvas.width
        draw(self.canv, self.canvas, 0.0, self.height / mm, size, self.setter.font, self.setter.bold)
        self.canv.restoreState()


@dataclass(frozen=True)
class Setter:
    """Sets blocks as flowables.

    Args:
        font: of all text.
        bold: of headings.
        wide: width they get, points.
        high: height of a page, points.
        pad: beside the words of a table's cell, points.
    """

    font: Font
    bold: Font
    wide: float
    high: float
    pad: float = _PAD

    def card(self, card: Card) -> Iterator[Flowable]:
        """Yield what stands on all pages."""
        yield ActionFlowable(("sheet", card.sheets[0].title))
        yield self.paragraph(card.title, TITLE + 1.2 * mm, bold=True)
        yield self.paragraph(card.subtitle)
        if self.font.lacking(card.text):
            yield self.paragraph(LACKING)
        for before, sheet in zip((None, *card.sheets), card.sheets, strict=False):
            goes_on = before is not None and before.brief and sheet.brief
            if before is not None and not goes_on:
                yield PageBreak()
                yield ActionFlowable(("sheet", card.subtitle if sheet.brief else sheet.title))
            flow = list(self.sheet(sheet, 3 * mm if before is None else 6 * mm))
            yield from [KeepTogether(flow)] if sheet.brief else flow

    def sheet(self, sheet: Sheet, gap: float) -> Iterator[Flowable]:
        """Yield a sheet's heading and blocks."""
        yield self.paragraph(sheet.title, TITLE, bold=True, gap=gap)
        yield self.paragraph(sheet.subtitle)
        yield HRFlowable("100%", _STRONG, color="black", spaceBefore=1.5 * mm, spaceAfter=0)
        for block in sheet.blocks:
            yield from self.block(block)

    def block(self, block: Block) -> Iterator[Flowable]:
        """Yield one block."""
        match block:
            case Facts():
                yield self.facts(block)
            case Blanks():
                yield self.blanks(block)
            case Table():
                flow = self.table(block)
                if flow[1]._height <= _KEPT_WHOLE:
                    yield KeepTogether(flow)
                else:
                    yield from (CondPageBreak(_KEPT_WHOLE), *flow)
            case Ticks():
                yield from self.steps(block)
            case Words():
                yield from self.words(block)
            case Drawing():
                yield KeepTogether([self.heading(block.title), Picture(block.canvas, self)])
            case Beside():
                yield self.beside(block)

    def paragraph(
        self,
        text: str,
        size: float = TEXT,
        *,
        bold: bool = False,
        right: bool = False,
        gap: float = 0.0,
        indent: float = 0.0,
    ) -> Paragraph:
        """Return words in lines no longer than there is room, after a gap unless they begin a page."""
        font = self.bold if bold else self.font
        style = ParagraphStyle(
            "",
            fontName=font.name,
            fontSize=size,
            leading=1.4 * size,
            alignment=TA_RIGHT if right else TA_LEFT,
            spaceBefore=gap,
            leftIndent=indent,
        )
        runs = [
            ParaFrag(
                text=run, fontName=used.name, fontSize=size, textColor="black", rise=0, us_lines=(), link=()
            )
            for used, run in _runs(text, font)
        ]
        return Paragraph("", style, frags=runs)  # as it stands, without reading markup in it

    def cell(self, text: str, width: float, *, bold: bool = False, right: bool = False) -> str | Paragraph:
        """Return what stands in a table: words that need no second line or font as they are, for speed."""
        font = self.bold if bold else self.font
        (used, run), *more = _runs(text, font)
        if used is font and not more and font.width(text, TEXT) <= width:
            return run
        return self.paragraph(text, bold=bold, right=right)

    def foot(self, canvas: Any, text: str, top: float, number: float) -> None:
        """Write words at the foot of a page, and say where its number comes, as wide as that may be."""
        words = self.paragraph(text, FOOT)
        _, high = words.wrapOn(canvas, self.wide - number, top)
        words.drawOn(canvas, MARGINS[0], top - high)
        canvas.number_at = MARGINS[0] + self.wide, top - FOOT * 1.1

    def heading(self, title: str) -> Paragraph:
        """Return the heading of a block."""
        return self.paragraph(title, _HEADING, bold=True, gap=_GAP)

    def begun(
        self, title: str, rows: Sequence[Sequence[object]], widths: Sequence[float], *looks: object
    ) -> Iterator[Flowable]:
        """Yield a heading and the rows under it, the first of them never on another page."""
        heading, (first, *others) = self.heading(title), rows
        yield KeepTogether([heading, self.grid([first], widths, *looks)])
        if others:
            yield self.grid(others, widths, *looks)

    def grid(
        self, rows: Sequence[Sequence[object]], widths: Sequence[float], *looks: object, **more: Any
    ) -> Grid:
        """Return rows of cells; a row is broken only where it is higher than half a page."""
        bare = ("LEFTPADDING", "RIGHTPADDING", "TOPPADDING", "BOTTOMPADDING")
        everywhere = (0, 0), (-1, -1)
        style = [
            *((side, *everywhere, 0) for side in bare),
            ("VALIGN", *everywhere, "TOP"),
            ("FONT", *everywhere, self.font.name, TEXT, 1.4 * TEXT),
            *looks,
        ]
        made = Grid(rows, colWidths=widths, style=style, hAlign="LEFT", **more)
        made.wrap(self.wide, self.high)
        made.splitInRow = max(made._rowHeights) > self.high / 2
        return made

    def facts(self, facts: Facts) -> Grid:
        """Return names and words in two columns."""
        aside = max(self.font.width(name, TEXT) for name, _ in facts.rows) + 5 * mm
        widths = aside, self.wide - aside
        rows = [[*map(self.cell, row, widths)] for row in facts.rows]
        return self.grid(rows, widths, spaceBefore=_GAP)

    def blanks(self, blanks: Blanks) -> Grid:
        """Return labels, each with a line behind it to write on."""
        cells = [cell for label in blanks.labels for cell in (self.paragraph(label, 2.6 * mm), "")]
        widths = [self.wide / len(blanks.labels) - 4 * mm, 4 * mm] * len(blanks.labels)
        lines = [("LINEBELOW", (k, 0), (k, 0), _RULE, "black") for k in range(0, len(cells), 2)]
        return self.grid([cells], widths, ("TOPPADDING", (0, 0), (-1, 0), 4 * mm), *lines, spaceBefore=_GAP)

    def steps(self, ticks: Ticks) -> Iterator[Flowable]:
        """Yield steps, each with its box and its caution."""
        rows = []
        for number, (step, caution) in enumerate(ticks.steps, 1):
            warning = [self.paragraph(caution, 0.9 * TEXT, indent=4 * mm)] if caution else []
            rows.append([_Box(), f"{number}.", [self.paragraph(step), *warning]])
        widths = [5.5 * mm, 7.5 * mm, self.wide - 13 * mm]
        yield from self.begun(ticks.title, rows, widths, ("BOTTOMPADDING", (0, 0), (-1, -1), 1 * mm))

    def words(self, words: Words) -> Iterator[Flowable]:
        """Yield paragraphs, with a bar beside each where they warn."""
        rows = [["", self.paragraph(line)] for line in words.lines]
        looks = [("LEFTPADDING", (1, 0), (1, -1), 2 * mm), ("BOTTOMPADDING", (0, 0), (-1, -1), 0.8 * mm)]
        bar = [("LINEBEFORE", (1, 0), (1, -1), 0.8 * mm, "black")] if words.grave else []
        yield from self.begun(words.title, rows, [1 * mm, self.wide - 1 * mm], *looks, *bar)

    def beside(self, block: Beside) -> Grid:
        """Return two blocks side by side, the right one broader."""
        left = _LEFT_SHARE * self.wide
        right = replace(self, wide=self.wide - left - 4 * mm, pad=_TIGHT_PAD)
        cells = [replace(self, wide=left).facts(block.left), "", right.table(block.right)]
        return self.grid([cells], [left, 4 * mm, right.wide], spaceBefore=_GAP)

    def table(self, table: Table) -> list[Flowable]:
        """Return a table under its heading, and what is said under it."""
        inset = [_BOX + 3 * mm] if table.ticks else []
        widths, box = self.widths(table, self.wide - sum(inset)), [_Box()] if inset else []
        head = [*([""] if inset else []), *self.cells(table, table.columns, widths, bold=True)]
        made = self.grid(
            [head, *([*box, *self.cells(table, row, widths)] for row in table.rows)],
            [*inset, *widths],
            ("LEFTPADDING", (len(inset) + 1, 0), (-1, -1), self.pad),
            ("RIGHTPADDING", (len(inset), 0), (-2, -1), self.pad),
            ("TOPPADDING", (0, 0), (-1, -1), 0.5 * mm),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 0.5 * mm),
            ("LINEBELOW", (0, 0), (-1, 0), 0.1 * mm, "black"),
            ("LINEBELOW", (0, 1), (-1, -1), _RULE, "black"),
            ("FONTNAME", (0, 0), (-1, 0), self.bold.name),
            *(
                ("ALIGN", (k, 0), (k, -1), "RIGHT")
                for k, is_figure in enumerate(table.figures, len(inset))
                if is_figure
            ),
            repeatRows=1,
        )
        note = [self.paragraph(table.note, 0.9 * TEXT, gap=0.8 * mm)] if table.note else []
        return [self.heading(table.title), made, *note]

    def cells(
        self, table: Table, row: Sequence[str], widths: Sequence[float], *, bold: bool = False
    ) -> list[str | Paragraph]:
        """Return a row's cells, figures to the right."""
        return [
            self.cell(text, width - 2 * self.pad, bold=bold, right=is_figure)
            for text, width, is_figure in zip(row, widths, table.figures, strict=True)
        ]

    def widths(self, table: Table, room: float) -> list[float]:
        """Return the columns' widths: what their cells want, or alike for those that want too much."""
        wants = [
            max(self.bold.width(column, TEXT), *(self.font.width(row[k], TEXT) for row in table.rows))
            + 2 * self.pad
            + 0.1
            for k, column in enumerate(table.columns)
        ]
        spare = (room - sum(wants)) / len(wants)
        if spare >= 0:
            return [want + min(spare, 10 * mm) for want in wants]
        most, rest = 0.0, room
        for number, want in zip(range(len(wants), 0, -1), sorted(wants), strict=True):
            most = rest / number
            if want > most:
                break
            rest -= want
        return [min(want, most) for want in wants]
