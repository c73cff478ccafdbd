"""What stands on every pattern sheet beside the pieces: heading, map, check bars, kinds of line, cautions."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from strapwright.core.units import MM_PER_INCH
from strapwright.drawing.pdf import BAR, CENTRE, CUT, FOLD, HOLE, SCORE, STITCH, TRIM
from strapwright.write.pattern.paper_sizes import PRINTER_MARGIN

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.drawing.pdf import PdfSheets
    from strapwright.drawing.text import Font

SCALE_NOTE: Final = (
    "Print at 100 % (actual size), with no fit to page, no scaling and no borderless printing. "
    "Grain side up. Cut on the middle of the line."
)
COLUMN: Final = 15.0
"""Width of the column at the right that holds the upright check bar, mm."""

_TITLE: Final = 4.4
_TEXT: Final = 2.8
_SMALL: Final = 2.4
_MAP_WIDTH: Final = 74.0
_MAP_ROW: Final = 4.4
_MAP_TITLE: Final = 38.0
_BOX: Final = 7.0
_KINDS: Final = (CUT, HOLE, CENTRE, FOLD, STITCH, SCORE, TRIM)
_LEGEND_COLUMN: Final = 56.0
_LEGEND_ROW: Final = 3.7
_BAR_WORDS: Final = 34.0
"""Width beside the 4 in bar for what the bars are called, mm."""
_BARS: Final = 15.0
"""Height of the two lying bars with their figures, mm."""


@dataclass(frozen=True)
class Page:
    """The frame of a sheet, in mm as they shall measure on paper.

    Args:
        width: of the paper.
        height: of the paper.
        scale: by how much it is drawn larger in x and in y.
        sides: the side of the paper along which the lying bars run, and the upright one, in words.
    """

    width: float
    height: float
    scale: tuple[float, float] = (1.0, 1.0)
    sides: tuple[str, str] = ("long side", "short side")

    @property
    def left(self) -> float:
        """Left end of what is drawn."""
        return PRINTER_MARGIN / self.scale[0]

    @property
    def right(self) -> float:
        """Right end of what is drawn."""
        return (self.width - PRINTER_MARGIN) / self.scale[0]

    @property
    def bottom(self) -> float:
        """Lower end of what is drawn."""
        return PRINTER_MARGIN / self.scale[1]

    @property
    def top(self) -> float:
        """Upper end of what is drawn."""
        return (self.height - PRINTER_MARGIN) / self.scale[1]

    @property
    def room(self) -> float:
        """Width for the pieces, beside the upright bar."""
        return self.right - self.left - COLUMN

    @property
    def measure_note(self) -> str:
        """What to do with the check bars."""
        lying, upright = (side.split()[0] for side in self.sides)
        return (
            "Before you cut, measure all three bars with a steel rule. Where one is off, do not use this "
            f"sheet: print again with --correct {lying}=100:MEASURED,{upright}=100:MEASURED"
        )


@dataclass(frozen=True)
class MapRow:
    """One row of the small map: the sheets a piece is on, in order along it.

    Args:
        title: of the piece.
        sheets: their numbers.
        breaks: after how many of them something is left out.
    """

    title: str
    sheets: tuple[int, ...]
    breaks: tuple[int, ...]


def heading_lines(font: Font, page: Page, title: str, facts: Sequence[str]) -> list[tuple[str, float]]:
    """Return the lines of a heading with their sizes, broken to leave the map its place."""
    room = page.right - page.left - _MAP_WIDTH - 4.0
    lines = [(line, _TITLE) for line in font.wrapped(title, room, _TITLE)]
    return lines + [(line, _TEXT) for text in facts for line in font.wrapped(text, room, _TEXT)]


def heading_height(lines: Sequence[tuple[str, float]], rows: int) -> float:
    """Return how high a heading with its map is, mm."""
    return max(sum(1.4 * size for _, size in lines), 1.4 * _TITLE + 1.0 + rows * _MAP_ROW) + 2.0


def draw_heading(
    sheets: PdfSheets,
    page: Page,
    lines: Sequence[tuple[str, float]],
    rows: Sequence[MapRow],
    number: int,
    count: int,
) -> None:
    """Draw the heading of a sheet: what it shows, which of how many it is, and the map."""
    y = page.top
    for line, size in lines:
        y -= 1.4 * size
        sheets.text(line, page.left, y + 0.35 * size, size)
    x = page.right - _MAP_WIDTH
    sheets.text(f"sheet {number} of {count}", x, page.top - 1.05 * _TITLE, _TITLE)
    y = page.top - 1.4 * _TITLE - 1.0
    rows = [replace(row, title=_shortened(sheets.font, row.title)) for row in rows]
    name_width = max((sheets.font.width(row.title, _SMALL) for row in rows), default=0.0) + 2.0
    for row in rows:
        _map_row(sheets, row, x, x + name_width, page.right, y - _MAP_ROW, number)
        y -= _MAP_ROW


def _shortened(font: Font, title: str) -> str:
    """Return a title that leaves the boxes their place; the strip it is of bears it in full."""
    if font.width(title, _SMALL) <= _MAP_TITLE:
        return title
    while font.width(f"{title}…", _SMALL) > _MAP_TITLE:
        title = title[:-1]
    return f"{title}…"


def _map_row(
    sheets: PdfSheets, row: MapRow, left: float, start: float, right: float, y: float, here: int
) -> None:
    sheets.text(row.title, left, y + 1.1, _SMALL)
    gap = 2.4
    box = min(_BOX, (right - start - gap * len(row.breaks)) / len(row.sheets))
    x = start
    for place, number in enumerate(row.sheets):
        if place in row.breaks:
            for lean in (0.6, 1.2):
                sheets.line(x + lean - 0.3, y + 0.3, x + lean + 0.5, y + 3.3, BAR)
            x += gap
        sheets.box(x, y, x + box, y + 3.6, filled=number == here)
        wide = sheets.font.width(str(number), _SMALL)
        if wide + 0.8 <= box:
            sheets.text(str(number), x + (box - wide) / 2, y + 0.95, _SMALL, white=number == here)
        x += box


def footer_height(font: Font, page: Page) -> float:
    """Return how high check bars and kinds of line are together, mm."""
    rows = _legend_rows(page)
    notes = len(font.wrapped(page.measure_note, page.right - page.left, _TEXT))
    return max(_BARS, rows * _LEGEND_ROW) + notes * 1.35 * _TEXT + 2.5


def _legend_rows(page: Page) -> int:
    columns = max(1, int((page.right - page.left - 4 * MM_PER_INCH - _BAR_WORDS) // _LEGEND_COLUMN))
    return -(-len(_KINDS) // columns)


def draw_footer(sheets: PdfSheets, page: Page, height: float) -> None:
    """Draw the lying check bars, what to do with them, and the kinds of line."""
    y = page.bottom + height - 2.5
    sheets.line(page.left, y + 1.6, page.right, y + 1.6, BAR)
    for line in sheets.font.wrapped(page.measure_note, page.right - page.left, _TEXT):
        y -= 1.35 * _TEXT
        sheets.text(line, page.left, y + 0.8, _TEXT)
    x, y = page.left, page.bottom + 0.5
    bar = 4 * MM_PER_INCH
    _bar(sheets, x, y, bar, 8, 2, f"4 in, {page.sides[0]}")
    _bar(sheets, x, y + 7.0, 100.0, 10, 5, f"100 mm, {page.sides[0]}")
    rows = _legend_rows(page)
    for place, style in enumerate(_KINDS):
        lx = page.left + bar + _BAR_WORDS + (place // rows) * _LEGEND_COLUMN
        ly = page.bottom + (rows - 1 - place % rows) * _LEGEND_ROW
        sheets.line(lx, ly + 1.2, lx + 12.5, ly + 1.2, style)
        sheets.text(style.words, lx + 14.0, ly + 0.4, _SMALL)


def _bar(sheets: PdfSheets, x: float, y: float, length: float, parts: int, long: int, words: str) -> None:
    sheets.line(x, y, x + length, y, BAR)
    for k in range(parts + 1):
        tick = 4.0 if k in (0, parts) else 2.6 if k % long == 0 else 1.6
        at = x + length * k / parts
        sheets.line(at, y, at, y + tick, BAR)
    sheets.text(words, x + length + 1.5, y, _SMALL)


def draw_upright_bar(sheets: PdfSheets, page: Page, low: float, high: float) -> None:
    """Draw the upright check bar in its column: 100 mm, or 50 mm where there is no room for that."""
    length = 100.0 if high - low >= 112.0 else 50.0
    x, y = page.right - 0.5, low + 1.0
    sheets.line(x, y, x, y + length, BAR)
    for k in range(int(length / 10) + 1):
        tick = 4.0 if k in (0, length / 10) else 2.6 if k % 5 == 0 else 1.6
        sheets.line(x - tick, y + 10.0 * k, x, y + 10.0 * k, BAR)
    words = (f"{length:g} mm,", *page.sides[1].split(maxsplit=1))
    for below, word in zip((2, 1, 0), words, strict=True):
        wide = sheets.font.width(word, _SMALL)
        sheets.text(word, page.right - wide, y + length + 1.4 + below * 1.3 * _SMALL, _SMALL)


def note_lines(font: Font, page: Page, notes: Sequence[str]) -> list[str]:
    """Return notes broken to the width for the pieces; what runs on is set in."""
    lines = []
    for note in notes:
        first, *rest = font.wrapped(note, page.room - 3.0, _TEXT)
        lines += [first, *(f"  {line}" for line in rest)]
    return lines


def notes_height(lines: Sequence[str]) -> float:
    """Return how high notes are, mm."""
    return len(lines) * 1.35 * _TEXT


def draw_notes(sheets: PdfSheets, page: Page, lines: Sequence[str], top: float) -> None:
    """Draw notes downward from a height."""
    y = top
    for line in lines:
        y -= 1.35 * _TEXT
        indent = len(line) - len(line.lstrip(" "))
        sheets.text(line.lstrip(" "), page.left + 1.2 * indent, y + 0.8, _TEXT)
