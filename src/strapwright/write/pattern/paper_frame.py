"""What stands on every pattern sheet beside the pieces: heading, map, check bars, kinds of line, cautions.

Sheets are drawn on a canvas in millimetres as they measure on paper, y down.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

from strapwright.core.units import MM_PER_INCH
from strapwright.drawing.canvas import Line, Text, polygon
from strapwright.write.pattern.paper_sizes import PRINTER_MARGIN

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from strapwright.drawing.canvas import Anchor, Item
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
_KINDS: Final = {
    "print-cut": "cut, on the middle of the line",
    "print-hole": "hole, its centre at the cross",
    "print-centre": "centre line",
    "print-fold": "fold line: mark it at the edges",
    "print-stitch": "stitch line",
    "print-score": "crease line, join mark",
    "print-trim": "cut the sheet, or join it, here",
}
_LEGEND_COLUMN: Final = 56.0
_LEGEND_ROW: Final = 3.7
_BAR_WORDS: Final = 34.0
"""Width beside the 4 in bar for what the bars are called, mm."""
_BARS: Final = 15.0
"""Height of the two lying bars with their figures, mm."""


def words(text: str, x: float, y: float, size: float, anchor: Anchor = "start") -> Text:
    """Return a line of text in black."""
    return Text(text, x, y, size, anchor, look="print-words")


@dataclass(frozen=True)
class PaperFrame:
    """The frame of a sheet, in mm as they measure on paper.

    Args:
        width: of the paper.
        height: of the paper.
        scale: by how much it is drawn larger in x and in y.
        sides: the side of the paper along which the lying bars run, and the upright one, in words.
        font: of all text.
        title: of its heading.
        facts: below it.
        given: whether it goes to a person without this program.
    """

    width: float
    height: float
    scale: tuple[float, float]
    sides: tuple[str, str]
    font: Font
    title: str
    facts: tuple[str, ...]
    given: bool = False

    @property
    def left(self) -> float:
        """Left end of what is drawn."""
        return PRINTER_MARGIN / self.scale[0]

    @property
    def right(self) -> float:
        """Right end of what is drawn."""
        return (self.width - PRINTER_MARGIN) / self.scale[0]

    @property
    def top(self) -> float:
        """Upper end of what is drawn."""
        return PRINTER_MARGIN / self.scale[1]

    @property
    def bottom(self) -> float:
        """Lower end of what is drawn."""
        return (self.height - PRINTER_MARGIN) / self.scale[1]

    @property
    def room(self) -> float:
        """Width for the pieces, beside the upright bar."""
        return self.right - self.left - COLUMN

    @cached_property
    def heading(self) -> list[tuple[str, float]]:
        """The lines of the heading with their sizes, broken to leave the map its place."""
        room = self.right - self.left - _MAP_WIDTH - 4.0
        texts = [(self.title, _TITLE), *((fact, _TEXT) for fact in self.facts)]
        return [(line, size) for text, size in texts for line in self.font.wrapped(text, room, size)]

    def heading_height(self, rows: int) -> float:
        """Return how high the heading is with a map of so many rows, mm."""
        words_high = sum(1.4 * size for _, size in self.heading)
        return max(words_high, 1.4 * _TITLE + 1.0 + rows * _MAP_ROW) + 2.0

    @cached_property
    def measure_note(self) -> list[str]:
        """What to do with the check bars."""
        lying, upright = (side.split()[0] for side in self.sides)
        again = f"with --correct {lying}=100:MEASURED,{upright}=100:MEASURED"
        if self.given:
            again = "at 100 % (actual size), or on another printer."
        return self.font.wrapped(
            "Before you cut, measure all three bars with a steel rule. Where one is off, do not use this "
            f"sheet: print again {again}",
            self.right - self.left,
            _TEXT,
        )

    @property
    def legend_rows(self) -> int:
        """How many kinds of line stand one below the other."""
        columns = (self.right - self.left - 4 * MM_PER_INCH - _BAR_WORDS) // _LEGEND_COLUMN
        return -(-len(_KINDS) // max(1, int(columns)))

    @property
    def footer_height(self) -> float:
        """How high check bars and kinds of line are together, mm."""
        return max(_BARS, self.legend_rows * _LEGEND_ROW) + len(self.measure_note) * 1.35 * _TEXT + 2.5

    def note_lines(self, notes: Iterable[str]) -> list[tuple[str, float]]:
        """Return notes broken to the width for the pieces, each line with how far it is set in."""
        return [
            (line, 2.4 * (place > 0))
            for note in notes
            for place, line in enumerate(self.font.wrapped(note, self.room - 3.0, _TEXT))
        ]


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


def heading(page: PaperFrame, rows: Iterable[MapRow], number: int, count: int) -> Iterator[Item]:
    """Yield the heading of a sheet: what it shows, which of how many it is, and the map."""
    y, font = page.top, page.font
    for line, size in page.heading:
        y += 1.4 * size
        yield words(line, page.left, y - 0.35 * size, size)
    x, y = page.right - _MAP_WIDTH, page.top + 1.05 * _TITLE
    yield words(f"sheet {number} of {count}", x, y, _TITLE)
    # A title leaves the boxes their place; the strip it is of bears it in full.
    titles = {row: font.shortened(row.title, _MAP_TITLE, _SMALL) for row in rows}
    begin = x + max((font.width(title, _SMALL) for title in titles.values()), default=0.0) + 2.0
    y = page.top + 1.4 * _TITLE + 1.0
    for row, title in titles.items():
        y += _MAP_ROW
        yield words(title, x, y - 1.1, _SMALL)
        yield from _boxes(font, row, begin, page.right, y, number)


def _boxes(font: Font, row: MapRow, x: float, right: float, y: float, here: int) -> Iterator[Item]:
    gap = 2.4
    box = min(_BOX, (right - x - gap * len(row.breaks)) / len(row.sheets))
    for place, number in enumerate(row.sheets):
        if place in row.breaks:
            for lean in (0.3, 0.9):
                yield Line(x + lean, y - 0.3, x + lean + 0.8, y - 3.3, "print-bar")
            x += gap
        black, white = ("print-black", "print-white") if number == here else ("print-fine", "print-words")
        yield polygon(black, (x, y), (x + box, y), (x + box, y - 3.6), (x, y - 3.6))
        if font.width(str(number), _SMALL) + 0.8 <= box:
            yield Text(str(number), x + box / 2, y - 0.95, _SMALL, "middle", look=white)
        x += box


def footer(page: PaperFrame) -> Iterator[Item]:
    """Yield the lying check bars, what to do with them, and the kinds of line."""
    y = page.bottom - page.footer_height + 2.5
    yield Line(page.left, y - 1.6, page.right, y - 1.6, "print-bar")
    for line in page.measure_note:
        y += 1.35 * _TEXT
        yield words(line, page.left, y - 0.8, _TEXT)
    bar = 4 * MM_PER_INCH
    yield from _bar(page.left, page.bottom - 0.5, bar, 8, 2, f"4 in, {page.sides[0]}")
    yield from _bar(page.left, page.bottom - 7.5, 100.0, 10, 5, f"100 mm, {page.sides[0]}")
    for place, (look, meaning) in enumerate(_KINDS.items()):
        x = page.left + bar + _BAR_WORDS + (place // page.legend_rows) * _LEGEND_COLUMN
        y = page.bottom - (page.legend_rows - 1 - place % page.legend_rows) * _LEGEND_ROW
        yield Line(x, y - 1.2, x + 12.5, y - 1.2, look)
        yield words(meaning, x + 14.0, y - 0.4, _SMALL)


def _bar(x: float, y: float, length: float, parts: int, long: int, meaning: str) -> Iterator[Item]:
    yield Line(x, y, x + length, y, "print-bar")
    for at, tick in _ticks(length, parts, long):
        yield Line(x + at, y, x + at, y - tick, "print-bar")
    yield words(meaning, x + length + 1.5, y, _SMALL)


def _ticks(length: float, parts: int, long: int) -> Iterator[tuple[float, float]]:
    """Yield where along a check bar its ticks stand, and how long each is."""
    for k in range(parts + 1):
        yield length * k / parts, 4.0 if k in (0, parts) else 2.6 if k % long == 0 else 1.6


def upright_bar(page: PaperFrame, high: float) -> Iterator[Item]:
    """Yield the upright check bar in its column: 100 mm, or 50 mm where there is no room for that."""
    low = page.bottom - page.footer_height
    length = 100.0 if low - high >= 112.0 else 50.0
    x, y = page.right - 0.5, low - 1.0
    yield Line(x, y, x, y - length, "print-bar")
    for at, tick in _ticks(length, int(length / 10), 5):
        yield Line(x - tick, y - at, x, y - at, "print-bar")
    for above, word in zip((2, 1, 0), (f"{length:g} mm,", *page.sides[1].split(maxsplit=1)), strict=True):
        yield words(word, page.right, y - length - 1.4 - above * 1.3 * _SMALL, _SMALL, "end")


def notes_height(lines: Sequence[tuple[str, float]]) -> float:
    """Return how high notes are, mm."""
    return len(lines) * 1.35 * _TEXT


def notes(page: PaperFrame, lines: Iterable[tuple[str, float]], y: float) -> Iterator[Item]:
    """Yield notes downward from a height."""
    for line, inset in lines:
        y += 1.35 * _TEXT
        yield words(line, page.left + inset, y - 0.8, _TEXT)
