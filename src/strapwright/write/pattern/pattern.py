"""The paper pattern: a draft's pieces at true size, side by side on sheets of paper, as a PDF.

Pieces are laid in rows: strips side by side, rows one under the other, each strip in the first row with room
for it (first fit), in the order of the draft or by falling height, whichever takes fewer sheets.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import PaperError, PlanError
from strapwright.core.findings import Finding, Severity
from strapwright.core.text import one_line
from strapwright.core.units import Units, format_length
from strapwright.drawing.canvas import Canvas, Group
from strapwright.drawing.pattern_pieces import Order, orders_of, placed_orders, to_give
from strapwright.drawing.pdf import PaperPage, pdf_of
from strapwright.drawing.text import LACKING, font_of
from strapwright.parts.part import Operation
from strapwright.rules.safety import cautions
from strapwright.write.pattern.paper_frame import (
    COLUMN,
    SCALE_NOTE,
    MapRow,
    PaperFrame,
    footer,
    heading,
    notes,
    notes_height,
    upright_bar,
)
from strapwright.write.pattern.paper_sizes import (
    LONGEST_PAGE,
    PRINTER_MARGIN,
    Correction,
    Paper,
    larger,
    read_correction,
    read_paper,
)
from strapwright.write.pattern.tile_drawing import LEAD, DrawnTile, drawn_tile
from strapwright.write.pattern.tiles import stretches_of, tiles_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from strapwright.drawing.text import Font
    from strapwright.job.draft import Draft
    from strapwright.nesting.layout.types import Layout
    from strapwright.write.pattern.tiles import Stretch


_BETWEEN: Final = 3.0
"""Between two strips on a sheet, mm."""

_SHORTEST_PAGE: Final = 320.0
"""Of a page along a roll, mm: heading and check bars need it."""

_ALIKE: Final = 15.0
"""Strips whose heights differ by less than about this keep their order where that costs no sheet, mm."""

_OPEN: Final = 150
"""Strips are offered to so many sheets: further back there is hardly room, and a belt stays together."""

_ROLL_STEP: Final = 5.0
"""Steps in which a page along a roll is made longer until it holds everything, mm."""


@dataclass(frozen=True)
class SheetShown:
    """One sheet of a pattern.

    Args:
        number: from 1.
        orders: ids of the belts and straps of which something is on it.
        width: of the paper as printed, mm.
        height: of the paper, mm.
        shown: what is on it: the part's id, from where to where along it, mm.
    """

    number: int
    orders: tuple[str, ...]
    width: float
    height: float
    shown: tuple[tuple[str, float, float], ...]

    def as_json(self) -> dict[str, Any]:
        """Return it as plain JSON values."""
        return {
            "sheet": self.number,
            "belts": list(self.orders),
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
        pages: the sheets as they are drawn.
    """

    pdf: bytes
    sheets: tuple[SheetShown, ...]
    findings: tuple[Finding, ...]
    pages: tuple[PaperPage, ...] = ()


@dataclass
class _Row:
    """Strips side by side: how high they are and how much of the width they take, mm."""

    down: float
    height: float
    used: float = 0.0


@dataclass
class _Sheet:
    """A sheet while it is filled.

    Args:
        page: its frame.
        notes: over its strips.
        room: for rows, from under the notes down, mm.
        rows: of strips.
        strips: each with its left end and its top, mm from the left and from the top of the room.
    """

    page: PaperFrame
    notes: list[tuple[str, float]]
    room: float
    rows: list[_Row] = field(default_factory=list)
    strips: list[tuple[DrawnTile, float, float]] = field(default_factory=list)

    def put(self, strip: DrawnTile) -> bool:
        """Put a strip in the first row with room; parts joined to each other come on sheets of their own."""
        if any(
            other.piece is strip.piece and other.tile.stretch == strip.tile.stretch
            for other, *_ in self.strips
        ):
            return False
        row = next((row for row in self.rows if self._takes(row, strip)), None)
        if row is None:
            last = self.rows[-1] if self.rows else None
            row = _Row(last.down + last.height + _BETWEEN if last else 0.0, strip.height)
            if row.down + row.height > self.room:
                return False
            self.rows.append(row)
        row.height = max(row.height, strip.height)
        self.strips.append((strip, row.used, row.down))
        row.used += strip.width + _BETWEEN
        return True

    def _takes(self, row: _Row, strip: DrawnTile) -> bool:
        """Whether a row has room; the last one may become higher."""
        high = self.room - row.down if row is self.rows[-1] else row.height
        return strip.height <= high and row.used + strip.width <= self.page.room


@dataclass(frozen=True)
class _Setting:
    """What all sheets share."""

    paper: Paper
    correct: Correction
    whole: bool
    units: Units
    font: Font
    job: str
    notes: tuple[str, ...]
    """On the first sheet alone."""
    given: bool = False


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
    given: bool = False,
) -> Pattern:
    """Return a draft's pattern; the same draft gives the same bytes.

    Args:
        drafted: the draft.
        paper: ``a4``, ``letter``, ``legal``, ``a3``, or a roll by its width, such as ``roll:914mm``.
        whole: print straps from end to end, in tiles to be joined; else their two ends.
        belts: ids of those to print, or of graded belts for all their sizes; none means all.
        correct: what a check bar should measure and what it did, such as ``100:99.4``; empty for a printer
            that prints true.
        units: of the lengths shown.
        font: a TrueType font of the user's own, for names with letters the usual one lacks.
        layout: where the draft's parts lie: sheets name the hide, and what has no place is left out.
        given: it goes to a person without this program: of a graded belt one set for all sizes.

    Raises:
        PlanError: a belt with a finding that stops it.
        PaperError: no such paper or belt, or a piece that has no room across the paper.
        FileProblems: a font that cannot be embedded.
    """
    sheet = read_paper(paper)
    scale = read_correction(correct, sheet) if correct else Correction()
    orders = _chosen(orders_of(drafted, units), belts)
    left_out: tuple[Finding, ...] = ()
    if layout is not None:
        orders, left_out = placed_orders(orders, layout)
        if not orders:
            raise PaperError("\n".join(f"{one.what} {one.do}" for one in left_out))
    stops = [f for order in orders for f in order.findings if f.severity is Severity.STOP]
    if stops:
        raise PlanError("\n".join(f"{stop.subject}: {stop.what} {stop.do}" for stop in stops))
    if given:
        orders = to_give(orders, units)
    own = font_of(font)
    job = one_line(drafted.name) or "belts"
    lacking = _lacking(job, orders, own)
    said = ("At the bench: " + " ".join(cautions("bench")), *((LACKING,) if lacking else ()))
    setting = _Setting(sheet, scale, whole, units, own, job, said, given)
    sheets = _lay_out(orders, setting)
    pages = tuple(_drawn(sheets, job))
    return Pattern(pdf_of(pages, f"{job}: pattern", own), _shown(sheets), left_out + lacking, pages)


def _chosen(orders: tuple[Order, ...], belts: Sequence[str]) -> tuple[Order, ...]:
    from difflib import get_close_matches

    known = dict.fromkeys(name for order in orders for name in (order.id, order.run) if name)
    for belt in belts:
        if belt not in known:
            near = get_close_matches(belt, known, n=1)
            hint = f'did you mean "{near[0]}"?' if near else f"there are {', '.join(known)}"
            raise PaperError(f'belt: found "{belt}", expected one of the job\'s; {hint}')
    return tuple(order for order in orders if not belts or order.id in belts or order.run in belts)


def _lacking(job: str, orders: Sequence[Order], font: Font) -> tuple[Finding, ...]:
    lacking = font.lacking_where(" ".join((job, *(order.id for order in orders))))
    if not lacking:
        return ()
    return (
        Finding(
            "letters-not-in-font",
            Severity.CAUTION,
            f"The sheets' font lacks {lacking}: they print without their accents, or as ?.",
            "Give a TrueType font that has them with --font FILE.ttf.",
        ),
    )


def _lay_out(orders: Sequence[Order], setting: _Setting) -> list[_Sheet]:
    """Return the sheets, lying the way that takes fewest."""
    good, refused = _tries(orders, setting)
    if good:
        return min(good, key=len)
    best = next(
        (other for other in larger(setting.paper) if _tries(orders, replace(setting, paper=other))[0]), None
    )
    do = "print it on a wider roll, --paper roll:WIDTH, or cut it from the drawing"
    if best is not None:
        asked = f"roll:{best.short:g}mm" if best.is_roll else best.name
        do = f"take {best.words}, --paper {asked}"
    raise PaperError(f"{refused}; {do}")


def _tries(orders: Sequence[Order], setting: _Setting) -> tuple[list[list[_Sheet]], str]:
    """Lay the sheets out on their long side and on their short one; say why a way is refused."""
    found, refused = [], ""
    roll = setting.paper.is_roll
    for page in _pages(setting):
        try:
            strips = _strips(orders, setting, page)
            sheets: list[_Sheet] = []
            rows = -1
            # Headings are as high as the fullest map, which is known when all strips have their sheets.
            while max(map(len, maps := _maps(sheets)), default=0) > rows:
                rows = max(map(len, maps), default=0)
                sheets = _on_roll(strips, setting, rows) if roll else _fill(strips, page, setting, rows)
            found.append(sheets)
        except PaperError as error:
            refused = str(error)
    return found, refused


def _pages(setting: _Setting, length: float = LONGEST_PAGE) -> list[PaperFrame]:
    """Return the frames of sheets that lie and that stand, or of one along a roll as long as asked.

    Args:
        setting: what all sheets share.
        length: of a roll's page, mm; one is never too short for heading and check bars.
    """
    paper, scale, sides = setting.paper, setting.correct, setting.paper.sides
    long = max(length, _SHORTEST_PAGE) if paper.is_roll else paper.long
    facts = tuple(fact for fact in (SCALE_NOTE, scale.words(paper)) if fact)
    own = setting.font, setting.job, facts
    lying = PaperFrame(long, paper.short, (scale.long, scale.short), sides[::-1], *own, given=setting.given)
    upright = PaperFrame(paper.short, long, (scale.short, scale.long), sides, *own, given=setting.given)
    return [lying] if paper.is_roll else [lying, upright]


def _on_roll(strips: Sequence[DrawnTile], setting: _Setting, rows: int) -> list[_Sheet]:
    """Return pages along a roll: the shortest one that holds all, or after the longest one the next."""
    sheets: list[_Sheet] = []
    while strips:
        least = max(strip.width for strip in strips)
        area = sum(strip.width * strip.height for strip in strips)
        length = max(least, area / setting.paper.short) + COLUMN + 2 * PRINTER_MARGIN
        while True:
            (page,) = _pages(setting, min(length, LONGEST_PAGE))
            if page.width == LONGEST_PAGE:
                filled = _pack(strips, page, setting, rows, follows=bool(sheets))
                break
            filled = _fill(strips, page, setting, rows, follows=bool(sheets)) if page.room >= least else []
            if len(filled) == 1:
                break
            length += _ROLL_STEP
        sheet = filled[0]
        laid = {id(strip) for strip, *_ in sheet.strips}
        waiting = {strip.order for strip in strips if id(strip) not in laid}
        complete = [one for one in sheet.strips if one[0].order not in waiting]
        if complete:  # what is begun goes on the next page, with the rest of its belt
            sheet.strips = complete
            laid = {id(strip) for strip, *_ in complete}
        sheets.append(sheet)
        strips = [strip for strip in strips if id(strip) not in laid]
    return sheets


def _strips(orders: Sequence[Order], setting: _Setting, page: PaperFrame) -> list[DrawnTile]:
    """Return everything there is to print as strips that are no longer than a page is wide."""
    found = []
    for order in orders:
        findings = [finding.in_units(setting.units) for finding in order.findings]
        notes = [order.facts, *(f"{f.severity.capitalize()}: {f.what} {f.do}" for f in findings)]
        for piece in order.pieces:
            holes = [
                feature.contour.bounding_box[::2]
                for feature in piece.part.features
                if feature.operation is not Operation.SCORE
            ]
            for stretch in stretches_of(piece.part, whole=setting.whole):
                tiles = tiles_of(stretch, page.room - 2 * LEAD, holes)
                for tile in tiles:
                    strip = drawn_tile(
                        order.id, piece, tile, len(tiles), page.room, setting.font, setting.units, notes
                    )
                    found.append(strip)
                    notes = []
    return found


def _fill(
    strips: Sequence[DrawnTile], page: PaperFrame, setting: _Setting, rows: int, *, follows: bool = False
) -> list[_Sheet]:
    """Fill sheets with strips, in their order, by roughly or by exactly falling height: as takes fewest.

    Args:
        strips: in the order of the draft.
        page: the frame of every sheet.
        setting: what all sheets share.
        rows: of the map that headings have room for.
        follows: whether other sheets come before these.

    Raises:
        PaperError: a strip has no room on an empty sheet.
    """
    ways = (
        strips,
        sorted(strips, key=lambda strip: -(strip.height // _ALIKE)),  # keeps the tiles of a strap together
        sorted(strips, key=lambda strip: -strip.height),
    )
    sheets = min((_pack(way, page, setting, rows, follows=follows) for way in ways), key=len)
    place = {id(strip): at for at, strip in enumerate(strips)}
    for sheet in sheets:
        sheet.strips.sort(key=lambda laid: place[id(laid[0])])
    return sheets


def _pack(
    strips: Sequence[DrawnTile], page: PaperFrame, setting: _Setting, rows: int, *, follows: bool
) -> list[_Sheet]:
    """Put each strip on the first of the last sheets that takes it."""
    free = page.bottom - page.top - page.footer_height - _BETWEEN - page.heading_height(rows)
    lines = [] if follows else page.note_lines(setting.notes)
    sheets = [_Sheet(page, lines, free - notes_height(lines) - _BETWEEN * bool(lines))]
    for strip in strips:
        if any(sheet.put(strip) for sheet in sheets[-_OPEN:]):
            continue
        sheets.append(_Sheet(page, [], free))
        if not sheets[-1].put(strip):
            need, have = (format_length(mm, setting.units) for mm in (strip.height, max(free, 0.0)))
            raise PaperError(
                f"{strip.order}: the {strip.piece.part.kind} with its labels needs {need} across the paper, "
                f"and {setting.paper.words} leaves {have} beside heading and check bars"
            )
    return sheets


def _drawn(sheets: Sequence[_Sheet], title: str) -> Iterator[PaperPage]:
    """Yield the sheets as they are drawn, mm as they measure on paper."""
    where = {_key(strip, 0): number for number, sheet in enumerate(sheets, 1) for strip, *_ in sheet.strips}
    maps = _maps(sheets)
    most = max(map(len, maps))
    for number, (sheet, rows) in enumerate(zip(sheets, maps, strict=True), 1):
        page = sheet.page
        y = page.top + page.heading_height(most) + _BETWEEN
        items = [*heading(page, rows, number, len(sheets)), *footer(page), *upright_bar(page, y)]
        if sheet.notes:
            items += notes(page, sheet.notes, y)
            y += notes_height(sheet.notes) + _BETWEEN
        for strip, x, down in sheet.strips:
            shown = strip.items(*(where.get(_key(strip, step)) for step in (-1, 1)))
            items.append(Group(tuple(shown), x=page.left + x - strip.left, y=y + down - strip.top))
        size = (page.width / page.scale[0], page.height / page.scale[1])
        canvas = Canvas(*size, title, items, paper="print-white")
        yield PaperPage(canvas, (page.width, page.height), stretch=page.scale)


def _key(strip: DrawnTile, step: int) -> tuple[str, Stretch, int]:
    """Return what is known of a strip, or of a neighbour, by itself: part, stretch and number of the tile."""
    return strip.piece.part.id, strip.tile.stretch, strip.tile.number + step


def _shown(sheets: Sequence[_Sheet]) -> tuple[SheetShown, ...]:
    return tuple(
        SheetShown(
            number,
            tuple(dict.fromkeys(strip.order for strip, *_ in sheet.strips)),
            sheet.page.width,
            sheet.page.height,
            tuple((strip.piece.part.id, strip.tile.x0, strip.tile.x1) for strip, *_ in sheet.strips),
        )
        for number, sheet in enumerate(sheets, 1)
    )


def _maps(sheets: Sequence[_Sheet]) -> list[list[MapRow]]:
    """Return for each sheet a row for every piece on it of which other sheets show more."""
    tiles: dict[str, list[tuple[float, Stretch, int]]] = {}
    titles = {}
    for number, sheet in enumerate(sheets, 1):
        for strip, *_ in sheet.strips:
            tiles.setdefault(strip.piece.part.id, []).append((strip.tile.x0, strip.tile.stretch, number))
            titles[strip.piece.part.id] = f"{strip.order}: {strip.piece.part.kind}"
    rows = {}
    for part, unsorted in tiles.items():
        found = sorted(unsorted, key=lambda tile: tile[0])
        if len({number for *_, number in found}) > 1:
            breaks = (at for at, (one, other) in enumerate(pairwise(found), 1) if one[1] != other[1])
            rows[part] = MapRow(titles[part], tuple(number for *_, number in found), tuple(breaks))
    shown = [dict.fromkeys(strip.piece.part.id for strip, *_ in sheet.strips) for sheet in sheets]
    return [[rows[part] for part in parts if part in rows] for parts in shown]
