"""The sheets laid round a hide to be photographed: one large mark, four crosses, check bars, words.

A sheet's own frame: the centre of its mark, x to the right and y up as it is read, in mm. The mark is one of
AprilTag's family 36h11 (Olson 2011; Wang and Olson 2016): it says which sheet this is and which way up. The
four crosses are where two black squares touch at a corner: where that is does not change with how far light
spills over the edges of black, so they alone are measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.drawing.canvas import Canvas, Line, Path, Text
from strapwright.drawing.pdf import PaperPage, pdf_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.core.arrays import Floats
    from strapwright.drawing.canvas import Item

MARK: Final = 150.0
"""Side of the black square, mm."""

SQUARE: Final = 14.0
"""Side of each of the black squares that make a cross, mm."""

CELLS: Final = 8
"""Of a mark's side: six of its code and a black one at either end."""

LEAST_SHEETS: Final = 8
MOST_SHEETS: Final = 40


@dataclass(frozen=True)
class SheetSize:
    """A size of paper that mark sheets are printed on.

    Args:
        paper: width and height, mm.
        across: from cross to cross, mm; also the lying check bar.
        along: the same upright.
    """

    paper: tuple[float, float]
    across: float
    along: float

    @property
    def crosses(self) -> Floats:
        """The four crosses, counter-clockwise from the lower left, (4, 2) mm."""
        x, y = self.across / 2, self.along / 2
        return np.array([(-x, -y), (x, -y), (x, y), (-x, y)])


SIZES: Final = {
    "a4": SheetSize((210.0, 297.0), 160.0, 240.0),
    "letter": SheetSize((215.9, 279.4), 160.0, 220.0),
}
"""Sizes of sheets by name of the paper (ISO 216; ANSI Y14.1)."""


def mark_bits(number: int) -> Floats:
    """Return a mark's cells as it is read, from the top row down: 1 for white, 0 for black, (8, 8).

    Args:
        number: of the mark, from 0.
    """
    import cv2

    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    return np.asarray(cv2.aruco.generateImageMarker(family, number, CELLS), dtype=float) / 255.0


def mark_sheets(size: SheetSize, count: int = LEAST_SHEETS) -> bytes:
    """Return mark sheets as a PDF, one a page.

    Args:
        size: of the paper.
        count: of the sheets.

    Example:
        >>> mark_sheets(SIZES["a4"])[:5]
        b'%PDF-'
    """
    pages = [
        PaperPage(Canvas(*size.paper, f"mark sheet {n}", tuple(_sheet(size, n, count))), size.paper)
        for n in range(1, count + 1)
    ]
    return pdf_of(pages, "strapwright mark sheets")


def _sheet(size: SheetSize, number: int, count: int) -> Iterator[Item]:
    """Draw a sheet, y down; the mark's own number is one less than what people read."""
    x, y = size.paper[0] / 2, size.paper[1] / 2
    cell = MARK / CELLS
    left, top = x - MARK / 2, y - MARK / 2
    runs = tuple(
        _square(left + column * cell, top + row * cell, cell)
        for row, line in enumerate(mark_bits(number - 1))
        for column, white in enumerate(line)
        if not white
    )
    yield Path(runs, "print-solid", closed=True)
    for dx, dy in size.crosses:
        at, below = x + dx, y - dy
        yield Path(
            (_square(at - SQUARE, below - SQUARE, SQUARE), _square(at, below, SQUARE)),
            "print-solid",
            closed=True,
        )
    inner = size.across / 2 - SQUARE - 4
    high = y - size.along / 2

    def words(text: str, row: float, size: float, bold: bool = False) -> Text:
        return Text(text, x, row, size, "middle", bold, look="print-words")

    yield words(f"{number}", high + 4.5, 14, bold=True)
    yield words(f"mark sheet {number} of {count}", high + 11, 3.4)
    for row, text in enumerate(
        (
            "Print at 100 % (actual size), one side, on plain white paper. Do not cut it.",
            "Lay the sheets flat, this side up, on every side of the hide, 5 cm or more off its edge,",
            "turned as you like, and two or three on it. Nothing may lie over them.",
        )
    ):
        yield words(text, high + 20 + row * 4.2, 3.0)
    low = y + size.along / 2
    yield words(
        "Check the printer: from cross to cross, where two black squares touch, measure", low - 22, 3.0
    )
    yield words(
        f"{size.across:g} mm across the sheet and {size.along:g} mm along it. If it is not so, say what you "
        "measured:",
        low - 17.8,
        3.0,
    )
    yield words(f"--correct short={size.across:g}:…,long={size.along:g}:…", low - 13.6, 3.0)
    yield Line(x - inner, low, x + inner, low, "print-bar")
    yield words(f"{size.across:g} mm from cross to cross", low - 1.5, 3.0)


def _square(x: float, y: float, side: float) -> list[tuple[float, float]]:
    return [(x, y), (x + side, y), (x + side, y + side), (x, y + side)]
