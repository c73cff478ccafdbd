"""The font of printed sheets: embedded, and what becomes of letters it lacks.

The font that comes with reportlab has the letters of western Europe. Letters with other accents are put
together from the letter and the accent; what has no likeness at all prints as a question mark, and is told.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import FileProblems
from strapwright.core.text import one_line
from strapwright.drawing.text import broken

if TYPE_CHECKING:
    from typing import Any

FACES: Final = ("Vera.ttf", "VeraBd.ttf")
"""Files of the font that comes with reportlab: plain, and bold."""

_SHIPPED_NAME: Final = "StrapwrightSheet"

_STAND_INS: Final = {
    "′": "'", "″": '"', "⌀": "Ø", "→": ">", "←": "<", "₀": "0", "\u2009": " ", "\u202f": " ",
    "đ": "d", "Đ": "D", "ħ": "h", "Ħ": "H", "ə": "e", "ẞ": "ß",
}  # fmt: skip
"""For signs many fonts lack; a plain space or mark says the same."""

_ACCENTS: Final = {
    "\u0300": "`", "\u0301": "´", "\u0302": "ˆ", "\u0303": "˜", "\u0304": "¯", "\u0306": "˘", "\u0307": "˙",
    "\u0308": "¨", "\u030a": "˚", "\u030b": "˝", "\u030c": "ˇ", "\u0327": "¸", "\u0328": "˛",
}  # fmt: skip
_BELOW: Final = "\u0327\u0328"
_CAPITAL_RISE: Final = 0.17
"""Accents over capitals stand this much of the size higher than over small letters."""


@dataclass(frozen=True)
class Letter:
    """One letter as the font sets it.

    Args:
        base: what is drawn on the line.
        accent: what is drawn over or under it; empty for none.
        meant: what was to be written.
        below: whether the accent hangs under the letter.
    """

    base: str
    accent: str
    meant: str
    below: bool = False

    @property
    def rise(self) -> float:
        """How far the accent is raised, in sizes."""
        return _CAPITAL_RISE if self.base.isupper() and not self.below else 0.0


class SheetFont:
    """A TrueType font, registered with reportlab.

    Args:
        path: a font of the user's own; None takes the one that comes with reportlab.

    Raises:
        FileProblems: there is no such font, or it is none that can be embedded.
    """

    def __init__(self, path: Path | None = None) -> None:
        from reportlab.pdfbase import pdfmetrics
        from reportlab.pdfbase.ttfonts import TTFError, TTFont

        try:
            self.name = _SHIPPED_NAME if path is None else f"StrapwrightSheet-{path.stem}"
            self._font: Any = TTFont(self.name, FACES[0] if path is None else str(path))
        except TTFError as error:
            raise FileProblems(
                (f"{path}: cannot be embedded; expected a TrueType font, FILE.ttf, as text fonts mostly are",)
            ) from error
        pdfmetrics.registerFont(self._font)
        self._glyphs: Any = self._font.face.charToGlyph
        self._known: dict[str, list[Letter]] = {}

    def letters(self, text: str) -> list[Letter]:
        """Return a text letter by letter, each as this font can set it."""
        return [
            letter for meant in unicodedata.normalize("NFC", one_line(text)) for letter in self._letter(meant)
        ]

    def _letter(self, meant: str) -> list[Letter]:
        if meant not in self._known:
            self._known[meant] = self._found(meant)
        return self._known[meant]

    def _found(self, meant: str) -> list[Letter]:
        if self._has(meant):
            return [Letter(meant, "", meant)]
        stand_in = _STAND_INS.get(meant)
        if stand_in is not None and self._has(stand_in):
            return [Letter(stand_in, "", stand_in)]
        base, *marks = list(unicodedata.normalize("NFKD", meant))
        if len(marks) == 1 and self._has(base) and self._has(_ACCENTS.get(marks[0], "")):
            return [Letter(base, _ACCENTS[marks[0]], meant, marks[0] in _BELOW)]
        kept = [c for c in (base, *marks) if not unicodedata.combining(c)]
        if all(self._has(c) for c in kept):
            return [Letter(c, "", c) for c in kept]
        return [Letter("?", "", "?")]

    def _has(self, char: str) -> bool:
        return bool(char) and ord(char[0]) in self._glyphs

    def lacking(self, text: str) -> tuple[str, ...]:
        """Return the letters of a text that print as something else, in order, each once."""
        found: dict[str, None] = {}
        for char in unicodedata.normalize("NFC", one_line(text)):
            if char not in _STAND_INS and "".join(letter.meant for letter in self._letter(char)) != char:
                found[char] = None
        return tuple(found)

    def width(self, text: str, size: float) -> float:
        """Return how long a text is at a size, in the size's unit."""
        plain = "".join(letter.base for letter in self.letters(text))
        return float(self._font.stringWidth(plain, size))

    def base_width(self, text: str, size: float) -> float:
        """Return how long letters are that the font has."""
        return float(self._font.stringWidth(text, size))

    def wrapped(self, text: str, width: float, size: float) -> list[str]:
        """Break a text into lines no longer than a width; a word longer than that is broken too."""
        return broken(one_line(text), width, lambda line: self.width(line, size))


def bold_font() -> SheetFont:
    """Return the bold face of the font that comes with reportlab."""
    return SheetFont(Path(FACES[1]))
