"""Text on a drawing: the one font that measures and sets it, how much room it takes, where its lines break.

The font is DejaVu Sans, cut down and renamed by `tools/make_fonts.py`; its licence is beside it. What
`text_width` measures is what PDF and PNG show. A browser without it takes the next of `FAMILY`, hardly wider.
"""

from __future__ import annotations

import json
import unicodedata
from dataclasses import dataclass, field
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import FileProblems
from strapwright.core.text import one_line
from strapwright.core.units import Units, format_length

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

FAMILY: Final = "Strapwright Sans,DejaVu Sans,Verdana,sans-serif"
"""Fonts of SVG and HTML, the first that the reader's machine has."""

LACKING: Final = "Some letters of the names are not in this font; they stand without accents, or as ?."
"""On a sheet itself, which cannot show them."""

FONTS: Final = Path(__file__).with_name("fonts")

_ASCENT: Final = 0.78


_DESCENT: Final = 0.24


@dataclass(frozen=True)
class Font:
    """A font, with how wide its letters are.

    Args:
        name: of it in a PDF.
        path: of its TrueType file.
        advances: of each of its letters, in sizes.
        spare: the font of letters it lacks.
    """

    name: str
    path: Path
    advances: Mapping[str, float]
    spare: Font | None = None
    _widths: dict[str, float] = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_widths", _Widths(self))

    def __hash__(self) -> int:
        return hash(self.path)

    def width(self, text: str, size: float) -> float:
        """Return how long a text is at a size, in the size's unit."""
        return size * sum(map(self._widths.__getitem__, unicodedata.normalize("NFC", text)))

    def runs(self, text: str) -> Iterator[tuple[Font, str]]:
        """Yield a text in runs of one font each: this one, or the spare one for what it lacks."""
        letters = map(self._letter, unicodedata.normalize("NFC", text))
        for font, run in groupby(letters, key=lambda letter: letter[0]):
            yield font, "".join(sign for _, sign in run)

    def lacking(self, text: str) -> tuple[str, ...]:
        """Return the letters of a text that print as something else, in order, each once."""
        letters = dict.fromkeys(unicodedata.normalize("NFC", one_line(text)))
        return tuple(letter for letter in letters if self._letter(letter)[1] != letter)

    def lacking_where(self, text: str) -> str:
        """Return the letters it lacks and the words they stand in, for a message; empty for none.

        Example:
            >>> usual_font().lacking_where("belt for 岡田, black")
            '岡 田 in 岡田'
        """
        letters = self.lacking(text)
        words = unicodedata.normalize("NFC", one_line(text)).split()
        found = dict.fromkeys(word.strip(".,:;()") for word in words if not set(letters).isdisjoint(word))
        return f"{' '.join(letters)} in {', '.join(found)}" if letters else ""

    def _letter(self, letter: str) -> tuple[Font, str]:
        """Return how a letter is set: itself, without its marks where no font has it with them, or as ?."""
        if letter in self.advances:
            return self, letter
        plain = "".join(c for c in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(c))
        return next(
            (font, sign)
            for sign in (letter, plain, "?")
            for font in ((self, self.spare) if self.spare else (self,))
            if sign and all(c in font.advances for c in sign)
        )

    def shortened(self, text: str, room: float, size: float) -> str:
        """Return a text cut short with an ellipsis where it would run past the room."""
        kept = text
        while kept and self.width(kept if kept == text else kept + "…", size) > room:
            kept = kept[:-1]
        return kept if kept == text else kept + "…"

    def wrapped(self, text: str, room: float, size: float) -> list[str]:
        """Break text into lines that fit, at plain blanks; a word wider than the room is broken too."""
        lines: list[str] = []
        line = ""
        for word in text.split(" "):
            longer = f"{line} {word}" if line else word
            if self.width(longer, size) <= room:
                line = longer
                continue
            if line:
                lines.append(line)
            line = word
            while self.width(line, size) > room and len(line) > 1:
                fits = next(
                    n for n in range(len(line) - 1, 0, -1) if n == 1 or self.width(line[:n], size) <= room
                )
                lines.append(line[:fits])
                line = line[fits:]
        return [*lines, line]


class _Widths(dict[str, float]):
    """How wide letters are in the font that sets them, in sizes."""

    def __init__(self, font: Font) -> None:
        self.font = font

    def __missing__(self, letter: str) -> float:
        font, sign = self.font._letter(letter)
        self[letter] = sum(font.advances[c] for c in sign)
        return self[letter]


@cache
def usual_font(*, bold: bool = False) -> Font:
    """Return the font of all drawings, cards and patterns."""
    name = f"StrapwrightSans-{'Bold' if bold else 'Regular'}"
    units: dict[str, int] = json.loads((FONTS / "advances.json").read_text("utf-8"))[name]
    return Font(name, FONTS / f"{name}.ttf", {letter: width / 2048 for letter, width in units.items()})


@cache
def font_of(path: Path | None) -> Font:
    """Return a font of the user's own, the usual one setting what it lacks.

    Args:
        path: of its TrueType file; None takes the usual one.

    Raises:
        FileProblems: there is no such font, or it is none that can be embedded.
    """
    if path is None:
        return usual_font()
    from reportlab.pdfbase.ttfonts import TTFError, TTFontFile

    try:
        found = TTFontFile(str(path))
    except TTFError as error:
        raise FileProblems(
            (f"{path}: cannot be embedded; expected a TrueType font, FILE.ttf, as text fonts mostly are",)
        ) from error
    advances = {chr(code): found.charWidths[code] / 1000 for code in found.charToGlyph}
    return Font(str(path), path, advances, usual_font())


@dataclass(frozen=True)
class Box:
    """A rectangle on the drawing, px, y down.

    Args:
        x0: left.
        y0: top.
        x1: right.
        y1: bottom.
    """

    x0: float
    y0: float
    x1: float
    y1: float

    def meets(self, other: Box) -> bool:
        """Whether the two share more than an edge."""
        return self.x0 < other.x1 and other.x0 < self.x1 and self.y0 < other.y1 and other.y0 < self.y1

    def is_crossed(self, x0: float, y0: float, x1: float, y1: float) -> bool:
        """Whether a straight line from one point to another runs through the box's inside."""
        if (
            max(x0, x1) <= self.x0
            or self.x1 <= min(x0, x1)
            or max(y0, y1) <= self.y0
            or self.y1 <= min(y0, y1)
        ):
            return False
        enters, leaves = 0.0, 1.0
        for start, end, low, high in ((x0, x1, self.x0, self.x1), (y0, y1, self.y0, self.y1)):
            if abs(end - start) < 1e-9:
                if not low < start < high:
                    return False
                continue
            near, far = sorted(((low - start) / (end - start), (high - start) / (end - start)))
            enters, leaves = max(enters, near), min(leaves, far)
        return enters < leaves


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return how wide a line of text is, px.

    Args:
        text: one line.
        size: of the font, px.
        bold: whether it is set in bold.

    Example:
        >>> round(text_width("A 22.5", 10.0), 3)
        32.285
    """
    return usual_font(bold=bold).width(text, size)


def text_box(
    text: str,
    x: float,
    y: float,
    size: float,
    *,
    anchor: str = "start",
    bold: bool = False,
    turned: bool = False,
) -> Box:
    """Return the room of a line of text.

    Args:
        text: one line.
        x: of its anchor, px.
        y: of its base line, px.
        size: of the font, px.
        anchor: ``start``, ``middle`` or ``end``.
        bold: whether it is set in bold.
        turned: whether it is turned a quarter to the left about its anchor, to be read from the right.
    """
    width = text_width(text, size, bold=bold)
    before = {"start": 0.0, "middle": width / 2, "end": width}[anchor]
    if turned:
        return Box(x - _ASCENT * size, y - width + before, x + _DESCENT * size, y + before)
    return Box(x - before, y - _ASCENT * size, x - before + width, y + _DESCENT * size)


def wrapped(text: str, room: float, size: float, *, bold: bool = False) -> list[str]:
    """Break text into lines that fit, at plain blanks; a word wider than the room is broken too.

    Args:
        text: words with single blanks between; no-break spaces hold.
        room: width to fit into, px.
        size: of the font, px.
        bold: whether it is set in bold.

    Example:
        >>> wrapped("to be read from the right", 80.0, 10.0)
        ['to be read from', 'the right']
    """
    return usual_font(bold=bold).wrapped(text, room, size) if text else []


def shortened(words: str, room: float, size: float, *, bold: bool = False) -> str:
    """Return words cut short with an ellipsis where they would run past the room.

    Args:
        words: one line.
        room: width to fit into, px.
        size: of the font, px.
        bold: whether it is set in bold.

    Example:
        >>> shortened("to be read from the right", 80.0, 10.0)
        'to be read fro…'
    """
    return usual_font(bold=bold).shortened(words, room, size)


def figure(mm: float, units: Units, *, exact: bool = False, finest: int = 32) -> str:
    """Return a length as a bare figure, as it stands on a dimension line.

    Args:
        mm: the length.
        units: mm to a tenth, inches as fractions.
        exact: for what was chosen rather than computed, and for what is repeated: mm to a hundredth.
        finest: smallest part of an inch; finer for what is repeated, so that its multiple comes out right.

    Example:
        >>> figure(985.803, "mm"), figure(33.333, "mm", exact=True)
        ('985.8', '33.33')
        >>> figure(985.803, "in"), figure(44.45, "in", exact=True)
        ('38 13/16', '1 3/4')
    """
    told = format_length(mm if exact or units == "in" else round(mm, 1), units, finest)
    return told.removesuffix(f" {units}")


def length_by_width(long: float, wide: float, units: Units) -> str:
    """Return two lengths that were chosen, with their unit.

    Example:
        >>> length_by_width(29.0, 6.0, "mm")
        '29 × 6 mm'
    """
    return f"{figure(long, units, exact=True)} × {format_length(wide, units)}"
