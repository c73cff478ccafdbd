"""The paper pattern: a draft's pieces at true size, on sheets of paper, as a PDF."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from strapwright.errors import PaperError, PlanError
from strapwright.findings import Finding, Severity
from strapwright.parts.part import Operation
from strapwright.trade.safety import cautions
from strapwright.units import format_length
from strapwright.write.header import one_line
from strapwright.write.paper import (
    LONGEST_PAGE,
    PRINTER_MARGIN,
    Correction,
    Paper,
    larger,
    read_correction,
    read_paper,
)
from strapwright.write.pattern_page import (
    COLUMN,
    SCALE_NOTE,
    MapRow,
    Page,
    draw_footer,
    draw_heading,
    draw_notes,
    draw_upright_bar,
    footer_height,
    heading_height,
    heading_lines,
    note_lines,
    notes_height,
)
from strapwright.write.pattern_pieces import Order, orders_of, placed_orders
from strapwright.write.pattern_strip import LEAD, Strip, draw_strip, strip_of
from strapwright.write.pdf_sheet import PdfSheets
from strapwright.write.sheet_font import SheetFont
from strapwright.write.tiles import tiles_of, windows_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path
    from typing import Literal

    from strapwright.job.draft import Draft
    from strapwright.nesting.layout import Layout
    from strapwright.write.tiles import Window

    Units = Literal["mm", "in"]

_BETWEEN = 3.0
"""Between two strips on a sheet, mm."""


@dataclass(frozen=True)
class SheetShown:
    """One sheet of a pattern.

    Args:
        number: from 1.
        order: id of the belt or strap it belongs to.
        width: of the paper as printed, mm.
        height: of the paper, mm.
        shown: what is on it: the part's id, from where to where along it, mm.
    """

    number: int
    order: str
    width: float
    height: float
    shown: tuple[tuple[str, float, float], ...]

    def as_json(self) -> dict[str, Any]:
        """Return it as plain JSON values."""
        return {
            "sheet": self.number,
            "belt": self.order,
            "paper_mm": [round(self.width, 4), round(self.height, 4)],
            "shown": [
                {"part": part, "from_mm": round(x0, 4), "to_mm": round(x1, 4)} for part, x0, x1 in self.shown
            ],
        }


@dataclass(frozen=True)
class Pattern:
    """A pattern.

    Args:
        pdf: the file's bytes.
        sheets: what is on them.
        findings: what there is to know about printing it.
    """

    pdf: bytes
    sheets: tuple[SheetShown, ...]
    findings: tuple[Finding, ...]


@dataclass
class _Sheet:
    """A sheet while it is filled."""

    page: Page
    notes: list[str]
    left: float
    strips: list[Strip] = field(default_factory=list)

    def takes(self, strip: Strip) -> bool:
        """Whether a strip has room; parts that are joined to each other come on sheets of their own."""
        joined = any(
            other.piece is strip.piece and other.tile.window == strip.tile.window for other in self.strips
        )
        return not joined and strip.height <= self.left

    def add(self, strip: Strip) -> None:
        """Put a strip on the sheet."""
        self.strips.append(strip)
        self.left -= strip.height + _BETWEEN


@dataclass(frozen=True)
class _Setting:
    """What all sheets share."""

    paper: Paper
    correct: Correction
    whole: bool
    units: Units
    font: SheetFont
    job: str
    orders: int
    first: str
    """The id of the belt or strap printed first: cautions stand on its sheet alone."""


def pattern(
    drafted: Draft,
    paper: str,
    *,
    whole: bool = False,
    belts: Sequence[str] = (),
    correct: str = "",
    units: Units = "mm",
    font: Path | None = None,
    layout: Layout | None = None,
) -> Pattern:
    """Return a draft's pattern; the same draft gives the same bytes.

    Args:
        drafted: the draft.
        paper: ``a4``, ``letter``, ``legal``, ``a3``, or a roll by its width, such as ``roll:914mm``.
        whole: print straps from end to end, in tiles to be joined; else their two ends.
        belts: ids of those to print, or of graded belts for all their sizes; none means all.
        correct: what a check bar should measure and what it did, such as ``100:99.4``; empty for a printer
            that prints true.
        units: of the lengths told.
        font: a TrueType font of the maker's own, for names with letters the usual one lacks.
        layout: where the draft's parts lie: sheets name the hide, and what has no place is left out.

    Raises:
        PlanError: a belt with a finding that stops it.
        PaperError: no such paper or belt, or a piece that has no room across the paper.
        FileProblems: a font that cannot be embedded.
    """
    sheet, scale = read_paper(paper), read_correction(correct) if correct else Correction()
    orders = _chosen(orders_of(drafted, units), belts)
    left_out: tuple[Finding, ...] = ()
    if layout is not None:
        orders, left_out = placed_orders(orders, layout)
        if not orders:
            raise PaperError("\n".join(f"{one.what} {one.do}" for one in left_out))
    stops = [f for order in orders for f in order.findings if f.severity is Severity.STOP]
    if stops:
        raise PlanError("\n".join(f"{stop.subject}: {stop.what} {stop.do}" for stop in stops))
    own = SheetFont(font)
    job = one_line(drafted.name) or "belts"
    setting = _Setting(
        sheet, scale, whole, units, own, job, len(drafted.belts) + len(drafted.straps), orders[0].id
    )
    laid = [_lay_out(order, setting) for order in orders]
    count = sum(len(sheets) for sheets in laid)
    pdf = PdfSheets(own, f"{job}: pattern")
    shown: list[SheetShown] = []
    for order, sheets in zip(orders, laid, strict=True):
        shown += _draw(pdf, order, sheets, len(shown), count, setting)
    return Pattern(pdf.save(), tuple(shown), left_out + _findings(job, orders, own))


def _chosen(orders: tuple[Order, ...], belts: Sequence[str]) -> tuple[Order, ...]:
    from difflib import get_close_matches

    known = dict.fromkeys(name for order in orders for name in (order.id, order.run) if name)
    for belt in belts:
        if belt not in known:
            near = get_close_matches(belt, known, n=1)
            hint = f'did you mean "{near[0]}"?' if near else f"there are {', '.join(known)}"
            raise PaperError(f'belt: found "{belt}", expected one of the job\'s; {hint}')
    return tuple(order for order in orders if not belts or order.id in belts or order.run in belts)


def _findings(job: str, orders: Sequence[Order], font: SheetFont) -> tuple[Finding, ...]:
    letters = font.lacking(" ".join((job, *(order.id for order in orders))))
    if not letters:
        return ()
    return (
        Finding(
            "letters-not-in-font",
            Severity.CAUTION,
            f"The sheets' font lacks {' '.join(letters)}: they print without their accents, or as ?.",
            "Give a TrueType font that has them with --font FILE.ttf.",
        ),
    )


def _pages(paper: Paper, correct: Correction, length: float) -> tuple[Page, ...]:
    """Return the ways a sheet may lie, straps along its width: on its long side first.

    Args:
        paper: the paper.
        correct: for the printer.
        length: of the longest window, mm; a roll is drawn as long as that needs.
    """
    lying = (correct.y, correct.x), ("y", "x")
    if paper.is_roll:
        along = max((length + 2 * LEAD + COLUMN) * correct.y + 2 * PRINTER_MARGIN, 320.0)
        return (Page(min(along, LONGEST_PAGE), paper.short, *lying),)
    upright = (correct.x, correct.y), ("x", "y")
    return Page(paper.long, paper.short, *lying), Page(paper.short, paper.long, *upright)


def _windows(order: Order, setting: _Setting) -> list[tuple[int, Window]]:
    return [
        (place, window)
        for place, piece in enumerate(order.pieces)
        for window in windows_of(piece.part, whole=setting.whole)
    ]


def _lay_out(order: Order, setting: _Setting) -> list[_Sheet]:
    """Return an order's sheets, lying the way that takes fewest."""
    longest = max(window.x1 - window.x0 for _, window in _windows(order, setting))
    tries = [_fill(order, setting, page) for page in _pages(setting.paper, setting.correct, longest)]
    good = [sheets for sheets in tries if not isinstance(sheets, str)]
    if good:
        return min(good, key=len)
    fits = (
        other
        for other in larger(setting.paper)
        if any(
            not isinstance(_fill(order, setting, page), str)
            for page in _pages(other, setting.correct, longest)
        )
    )
    best = next(fits, None)
    do = "print it on a wider roll, --paper roll:WIDTH, or cut it from the drawing" if best is None else ""
    if best is not None:
        asked = f"roll:{best.short:g}mm" if best.is_roll else best.name
        do = f"take {best.words}, --paper {asked}"
    raise PaperError(f"{tries[0]}; {do}")


def _fill(order: Order, setting: _Setting, page: Page) -> list[_Sheet] | str:
    """Fill sheets one after the other, or say which piece has no room on an empty one."""
    font = setting.font
    across = page.top - page.bottom
    lines = _heading(order, setting, page)
    windows = _windows(order, setting)
    free = across - heading_height(lines, len(order.pieces)) - footer_height(font, page) - _BETWEEN
    notes = note_lines(font, page, _notes(order, setting))
    first = _Sheet(page, notes, free - notes_height(notes) - _BETWEEN)
    sheets = [first]
    for place, window in windows:
        holes = [
            feature.contour.bounding_box[::2]
            for feature in order.pieces[place].part.features
            if feature.operation is not Operation.SCORE
        ]
        tiles = tiles_of(window, page.room - 2 * LEAD, holes)
        for tile in tiles:
            strip = strip_of(order.pieces[place], tile, len(tiles), page.room, font, setting.units)
            if strip.height > free:
                need, have = (format_length(mm, setting.units) for mm in (strip.height, max(free, 0.0)))
                what = (
                    f"{order.id}: the {strip.piece.part.kind} with its labels needs {need} across the paper"
                )
                return f"{what}, and {setting.paper.words} leaves {have} beside heading and check bars"
            sheet = next((one for one in sheets if one.takes(strip)), None)
            if sheet is None:
                sheet = _Sheet(page, [], free)
                sheets.append(sheet)
            sheet.add(strip)
    return sheets


def _heading(order: Order, setting: _Setting, page: Page) -> list[tuple[str, float]]:
    among = f" ({order.place} of {setting.orders})" if setting.orders > 1 else ""
    facts = [
        f"Job: {setting.job}",
        f"{order.facts} · make {order.quantity}",
        SCALE_NOTE,
        setting.correct.words,
    ]
    return heading_lines(setting.font, page, f"{order.id}{among}", [fact for fact in facts if fact])


def _notes(order: Order, setting: _Setting) -> list[str]:
    notes = ["At the bench: " + " ".join(cautions("bench"))] if order.id == setting.first else []
    findings = [found.in_units(setting.units) for found in order.findings]
    notes += [f"{f.severity.capitalize()}: {f.what} {f.do}" for f in findings]
    if setting.font.lacking(f"{setting.job} {order.id}"):
        notes.append("Some letters of the names are not in this font; they stand without accents, or as ?.")
    return notes


def _draw(
    pdf: PdfSheets, order: Order, sheets: Sequence[_Sheet], before: int, count: int, setting: _Setting
) -> list[SheetShown]:
    """Draw an order's sheets, numbered on from those before."""
    where = {
        (id(strip.piece), strip.tile): before + place
        for place, sheet in enumerate(sheets, 1)
        for strip in sheet.strips
    }
    rows = _map(order, where)
    shown = []
    for number, sheet in enumerate(sheets, before + 1):
        page = sheet.page
        pdf.page(page.width, page.height, page.scale)
        lines = _heading(order, setting, page)
        draw_heading(pdf, page, lines, rows, number, count)
        footer = footer_height(setting.font, page)
        draw_footer(pdf, page, footer)
        top = page.top - heading_height(lines, len(order.pieces)) - _BETWEEN
        draw_upright_bar(pdf, page, page.bottom + footer, top)
        if sheet.notes:
            draw_notes(pdf, page, sheet.notes, top)
            top -= notes_height(sheet.notes) + _BETWEEN
        for strip in sheet.strips:
            top -= strip.high
            neighbours = (
                _neighbour(where, strip, strip.tile.number - 1),
                _neighbour(where, strip, strip.tile.number + 1),
            )
            draw_strip(pdf, strip, page.left, top, neighbours, page.room)
            top += strip.low - _BETWEEN
        seen = tuple((s.piece.part.id, s.tile.x0, s.tile.x1) for s in sheet.strips)
        shown.append(SheetShown(number, order.id, page.width, page.height, seen))
    return shown


def _neighbour(where: dict[Any, int], strip: Strip, number: int) -> int | None:
    return next(
        (
            sheet
            for (piece, tile), sheet in where.items()
            if piece == id(strip.piece) and tile.window == strip.tile.window and tile.number == number
        ),
        None,
    )


def _map(order: Order, where: dict[Any, int]) -> list[MapRow]:
    rows = []
    for piece in order.pieces:
        tiles = [(tile, sheet) for (owner, tile), sheet in where.items() if owner == id(piece)]
        tiles.sort(key=lambda one: one[0].x0)
        breaks = tuple(
            place
            for place, ((before, _), (after, _)) in enumerate(pairwise(tiles), 1)
            if before.window != after.window
        )
        rows.append(MapRow(str(piece.part.kind), tuple(sheet for _, sheet in tiles), breaks))
    return rows
