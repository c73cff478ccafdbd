"""A bench card as PDF on A4: the same content as the HTML file, set page by page, fonts embedded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.drawing.pdf import A4, FINE, LineStyle, PdfSheets, draw
from strapwright.drawing.text import usual_font
from strapwright.write.card.blocks import Beside, Blanks, Drawing, Facts, Table, Ticks, Words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.drawing.text import Font
    from strapwright.write.card.blocks import Block, Card, Sheet

_LEFT: Final = 14.0
_RIGHT: Final = A4[0] - 12.0
_TOP: Final = A4[1] - 12.0
_BOTTOM: Final = 18.0
_ROOM: Final = _RIGHT - _LEFT
_TEXT: Final = 3.1
"""Size of the text, mm: 8.8 points."""

_LINE: Final = 4.4
_HEADING: Final = 3.5
_TITLE: Final = 5.6
_PAD: Final = 2.6
_TIGHT_PAD: Final = 1.2
_BOX: Final = 3.2
_RULE: Final = LineStyle(0.06)
_STRONG: Final = LineStyle(0.35)
_KEPT_WHOLE: Final = 110.0
"""A table no higher than this begins a new page rather than being broken, mm."""

_LACKING: Final = "Some letters of the names are not in this font; they stand without accents, or as ?."
_LEFT_SHARE: Final = 0.40
"""Of two blocks side by side the left one has this share of the room."""

_NARROWEST: Final = 16.0
"""A column of a table is never narrower, mm."""


@dataclass
class _Flow:
    """Where on which page the next line goes."""

    pdf: PdfSheets
    bold: Font
    card: Card
    sheet: str = ""
    y: float = 0.0
    pages: int = 0
    left: float = _LEFT
    right: float = _RIGHT
    pad: float = _PAD

    def new_page(self) -> None:
        """Begin a page, its foot written already."""
        self.pdf.page(*A4)
        self.pages += 1
        self.y = _TOP
        self.pdf.line(_LEFT, _BOTTOM - 3.5, _RIGHT, _BOTTOM - 3.5, _RULE)
        foot = f"{self.card.foot} · {self.sheet} · page {self.pages}"
        for number, line in enumerate(self.pdf.font.wrapped(foot, _ROOM, 2.5)[:2]):
            self.pdf.text(line, _LEFT, _BOTTOM - 6.5 - 3.2 * number, 2.5)

    def need(self, height: float) -> None:
        """Go to a new page unless so much room is left on this one."""
        if self.y - height < _BOTTOM:
            self.new_page()

    def line(self, text: str, x: float | None = None, *, bold: bool = False, size: float = _TEXT) -> None:
        """Write one line."""
        self.need(_LINE)
        self.y -= size * 1.4
        self.pdf.text(text, self.left if x is None else x, self.y, size, font=self.bold if bold else None)

    def paragraph(
        self, text: str, x: float | None = None, *, size: float = _TEXT, bold: bool = False
    ) -> None:
        """Write words, broken where they must be."""
        font = self.bold if bold else self.pdf.font
        x = self.left if x is None else x
        for line in font.wrapped(text, self.right - x, size):
            self.line(line, x, size=size, bold=bold)


def card_pdf(card: Card, font: Font | None = None) -> bytes:
    """Return a card as PDF.

    Args:
        card: the card.
        font: of all its text; None takes the usual one.
    """
    flow = _flow(card, font)
    for number, sheet in enumerate(card.sheets):
        before = number > 0 and card.sheets[number - 1].brief
        if before and sheet.brief and flow.y - _height_of(card, sheet, font) > _BOTTOM:
            flow.y -= 6.0
        else:
            flow.sheet = card.subtitle if sheet.brief else sheet.title
            flow.new_page()
        if number == 0:
            flow.paragraph(card.title, size=_TITLE + 1.2, bold=True)
            flow.paragraph(card.subtitle)
            if flow.pdf.font.lacking(card.text):
                flow.paragraph(_LACKING)
            flow.y -= 3.0
        _sheet(flow, sheet)
    return flow.pdf.save()


def _flow(card: Card, font: Font | None) -> _Flow:
    pdf = PdfSheets(font or usual_font(), f"{card.title}: bench card")
    return _Flow(pdf, font or usual_font(bold=True), card)


def _height_of(card: Card, sheet: Sheet, font: Font | None) -> float:
    """Return how much of a page a sheet takes with the space over it, mm, set on a page thrown away."""
    trial = _flow(card, font)
    trial.new_page()
    _sheet(trial, sheet)
    return _TOP - trial.y + 6.0 if trial.pages == 1 else A4[1]


def _sheet(flow: _Flow, sheet: Sheet) -> None:
    flow.paragraph(sheet.title, size=_TITLE, bold=True)
    flow.paragraph(sheet.subtitle)
    flow.y -= 1.5
    flow.pdf.line(flow.left, flow.y, flow.right, flow.y, _STRONG)
    for block in sheet.blocks:
        _block(flow, block)


def _block(flow: _Flow, block: Block) -> None:
    flow.y -= 2.2
    match block:
        case Facts():
            _facts(flow, block)
        case Blanks():
            _blanks(flow, block)
        case Table():
            _table(flow, block)
        case Ticks():
            _heading(flow, block.title)
            for number, step in enumerate(block.steps, 1):
                _tick(flow, number, *step)
        case Words():
            _heading(flow, block.title)
            for line in block.lines:
                before, pages = flow.y, flow.pages
                flow.paragraph(line, flow.left + 3.0)
                if block.grave and pages == flow.pages:
                    flow.pdf.line(
                        flow.left + 1.0, before - 0.8, flow.left + 1.0, flow.y - 0.8, LineStyle(0.8)
                    )
                flow.y -= 0.8
        case Drawing():
            _drawing(flow, block)
        case Beside():
            _beside(flow, block)


def _beside(flow: _Flow, block: Beside) -> None:
    """Set two blocks side by side, the right one broader; they stand on one page."""
    top, right = flow.y, flow.right
    flow.right = flow.left + _LEFT_SHARE * (flow.right - flow.left)
    _block(flow, block.left)
    low = flow.y
    flow.y, flow.left, flow.right, flow.pad = top, flow.right + 4.0, right, _TIGHT_PAD
    _block(flow, block.right)
    flow.y, flow.left, flow.pad = min(low, flow.y), _LEFT, _PAD


def _heading(flow: _Flow, title: str, more: float = 12.0) -> None:
    """Write a heading, never alone at the foot of a page."""
    flow.need(_HEADING * 1.4 + more)
    flow.line(title, bold=True, size=_HEADING)
    flow.y -= 0.6


def _facts(flow: _Flow, facts: Facts) -> None:
    aside = flow.left + max(flow.pdf.font.width(name, _TEXT) for name, _ in facts.rows) + 5.0
    for name, words in facts.rows:
        lines = flow.pdf.font.wrapped(words, flow.right - aside, _TEXT)
        flow.need(_LINE * len(lines))
        flow.pdf.text(name, flow.left, flow.y - _TEXT * 1.4, _TEXT)
        for line in lines:
            flow.line(line, aside, bold=False)


def _blanks(flow: _Flow, blanks: Blanks) -> None:
    flow.need(9.0)
    flow.y -= 7.5
    wide = (flow.right - flow.left) / len(blanks.labels)
    for number, label in enumerate(blanks.labels):
        x = flow.left + number * wide
        flow.pdf.text(label, x, flow.y + 1.0, 2.6)
        flow.pdf.line(x, flow.y, x + wide - 4.0, flow.y, _RULE)


def _tick(flow: _Flow, number: int, step: str, caution: str) -> None:
    lines = flow.pdf.font.wrapped(step, flow.right - flow.left - 14.0, _TEXT)
    warn = flow.pdf.font.wrapped(caution, flow.right - flow.left - 18.0, _TEXT * 0.9) if caution else []
    flow.need(_LINE * (len(lines) + len(warn)))
    top = flow.y
    flow.pdf.box(flow.left, top - _TEXT * 1.4 - 0.3, flow.left + _BOX, top - _TEXT * 1.4 - 0.3 + _BOX)
    flow.pdf.text(f"{number}.", flow.left + 5.5, top - _TEXT * 1.4, _TEXT)
    for line in lines:
        flow.line(line, flow.left + 13.0)
    for line in warn:
        flow.line(line, flow.left + 17.0, size=_TEXT * 0.9)
    flow.y -= 1.0


def _drawing(flow: _Flow, drawing: Drawing) -> None:
    canvas, across = drawing.canvas, flow.right - flow.left
    high = canvas.height * across / canvas.width
    room = _TOP - _BOTTOM - 8.0
    width = across * min(1.0, room / high)
    _heading(flow, drawing.title, min(high, room))
    draw(flow.pdf, flow.bold, canvas, flow.left + (across - width) / 2, flow.y, width)
    flow.y -= min(high, room)


def _table(flow: _Flow, table: Table) -> None:
    inset = _BOX + 3.0 if table.ticks else 0.0
    widths = _widths(flow, table, (flow.right - flow.left) - inset)
    high = sum(_height(_broken(flow, flow.pdf.font, row, widths)) for row in table.rows)
    _heading(flow, table.title, min(high, _KEPT_WHOLE) + 14.0)
    head = _broken(flow, flow.bold, table.columns, widths)
    _row(flow, head, widths, inset, table.figures, font=flow.bold)
    for row in table.rows:
        broken = _broken(flow, flow.pdf.font, row, widths)
        if flow.y - _height(broken) < _BOTTOM:
            flow.new_page()
            _row(flow, head, widths, inset, table.figures, font=flow.bold)
        _row(flow, broken, widths, inset, table.figures, font=flow.pdf.font, ticks=table.ticks)
    if table.note:
        flow.y -= 0.8
        flow.paragraph(table.note, size=_TEXT * 0.9)


def _widths(flow: _Flow, table: Table, room: float) -> list[float]:
    """Return the columns' widths: what their cells want, or less for those that want most."""
    wants = []
    for k, column in enumerate(table.columns):
        texts = [row[k] for row in table.rows]
        widest = max((flow.pdf.font.width(text, _TEXT) for text in texts), default=0.0)
        head = max(flow.bold.width(word, _TEXT) for word in column.split(" "))
        wants.append(max(widest, head) + 2 * flow.pad)
    over = sum(wants) - room
    if over <= 0:
        spare = -over / len(wants)
        return [want + min(spare, 10.0) for want in wants]
    wide = max(range(len(wants)), key=lambda k: wants[k])
    while over > 0 and wants[wide] > _NARROWEST:
        cut = min(over, wants[wide] - _NARROWEST, max(0.5, wants[wide] * 0.05))
        wants[wide] -= cut
        over -= cut
        wide = max(range(len(wants)), key=lambda k: wants[k])
    return wants


def _broken(flow: _Flow, font: Font, cells: Sequence[str], widths: Sequence[float]) -> list[list[str]]:
    return [
        font.wrapped(cell, width - 2 * flow.pad + 0.01, _TEXT)
        for cell, width in zip(cells, widths, strict=True)
    ]


def _height(broken: Sequence[Sequence[str]]) -> float:
    return _LINE * max(len(lines) for lines in broken) + 1.0


def _row(
    flow: _Flow,
    broken: Sequence[Sequence[str]],
    widths: Sequence[float],
    inset: float,
    right: Sequence[bool],
    *,
    font: Font,
    ticks: bool = False,
) -> None:
    """Set one row at the foot of what is there, figures to the right, and a rule under it."""
    top = flow.y
    if ticks:
        y = top - _TEXT * 1.4 - 0.3
        flow.pdf.box(flow.left, y, flow.left + _BOX, y + _BOX)
    x = flow.left + inset
    for lines, width, is_figure in zip(broken, widths, right, strict=True):
        for number, line in enumerate(lines):
            y = top - _TEXT * 1.4 - _LINE * number
            shift = width - flow.pad - font.width(line, _TEXT) if is_figure else 0.0
            flow.pdf.text(line, x + shift, y, _TEXT, font=font)
        x += width
    flow.y = top - _height(broken)
    flow.pdf.line(flow.left, flow.y, flow.right, flow.y, FINE if font is flow.bold else _RULE)
