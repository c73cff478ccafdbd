"""Which characters can be lettered, what each is set as, and the letters' own drawing in single strokes.

The strokes stand on a grid, 20 units from base line to cap height. A glyph is its width, the kinds of its
left and right sides, and its strokes, divided by ``|``. A stroke is a run of points ``x,y``, joined by
straight lines; between two points ``<90`` stands for an arc that turns 90 degrees to the left on the way,
``>90`` for one to the right. x = 0 is the glyph's left side, y = 0 the base line. Sides: ``s`` a straight
stem, ``r`` a round, ``o`` open or slanting; they set the space between two letters. Upright capitals of even
stroke, bowls as half-rounds: they stay legible when small, and every bowl is a true arc.
"""

from __future__ import annotations

import unicodedata
from functools import cache
from typing import TYPE_CHECKING, Final

from strapwright.core.text import first_few, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator


CAP: Final = 20.0
"""Height of the capitals, grid units."""

BEARING: Final = {"s": 3.3, "r": 2.6, "o": 1.6}
"""Space beside a glyph by the kind of its side, grid units; between two, both are added."""

SPACE: Final = 7.0
"""Width of a blank, grid units."""

_RING: Final = "{x0},{y} <180 {x1},{y} <180 {x0},{y}"


def _dot(x: float, y: float, radius: float = 1.0) -> str:
    return _RING.format(x0=f"{x - radius:g}", x1=f"{x + radius:g}", y=f"{y:g}")


GLYPHS: Final[dict[str, tuple[float, str, str]]] = {
    "A": (16.0, "oo", "0,0 8,20 16,0 | 2.4,6 13.6,6"),
    "B": (12.4, "sr", "7,10.8 <180 7,20 0,20 0,0 7,0 <180 7,10.8 | 0,10.8 7,10.8"),
    "C": (13.6, "ro", "13.06,16.5 <150 0,13 0,7 <150 13.06,3.5"),
    "D": (14.4, "sr", "0,0 0,20 6.4,20 >90 14.4,12 14.4,8 >90 6.4,0 0,0"),
    "E": (11.0, "so", "11,20 0,20 0,0 11,0 | 0,10.6 9.4,10.6"),
    "F": (10.6, "so", "10.6,20 0,20 0,0 | 0,10.6 9,10.6"),
    "G": (14.0, "rs", "13.06,16.5 <150 0,13 0,7 <180 14,7 14,9.4 8,9.4"),
    "H": (14.0, "ss", "0,0 0,20 | 14,0 14,20 | 0,10.6 14,10.6"),
    "I": (0.0, "ss", "0,20 0,0"),
    "J": (9.0, "os", "9,20 9,4.5 >150 0.6,2.25"),
    "K": (13.0, "so", "0,20 0,0 | 12.4,20 0,7.6 | 4.4,12 13,0"),
    "L": (10.4, "so", "0,20 0,0 10.4,0"),
    "M": (17.0, "ss", "0,0 0,20 8.5,4.5 17,20 17,0"),
    "N": (14.0, "ss", "0,0 0,20 14,0 14,20"),
    "O": (15.0, "rr", "0,12.5 0,7.5 <180 15,7.5 15,12.5 <180 0,12.5"),
    "P": (12.2, "sr", "0,0 0,20 7,20 >180 7,9.6 0,9.6"),
    "Q": (15.0, "rr", "0,12.5 0,7.5 <180 15,7.5 15,12.5 <180 0,12.5 | 9.6,5.4 15,-0.8"),
    "R": (12.8, "so", "0,0 0,20 7,20 >180 7,9.6 0,9.6 | 6.6,9.6 12.8,0"),
    "S": (12.4, "rr", "11.26,17.6 <60 7.1,20 5.3,20 <180 5.3,10.4 7.2,10.4 >180 7.2,0 5.2,0 >60 0.7,2.6"),
    "T": (13.2, "oo", "0,20 13.2,20 | 6.6,20 6.6,0"),
    "U": (13.6, "ss", "0,20 0,6.8 <180 13.6,6.8 13.6,20"),
    "V": (15.0, "oo", "0,20 7.5,0 15,20"),
    "W": (21.6, "oo", "0,20 5.4,0 10.8,16 16.2,0 21.6,20"),
    "X": (14.0, "oo", "0,0 13.2,20 | 0.8,20 14,0"),
    "Y": (14.0, "oo", "0,20 7,9.6 14,20 | 7,9.6 7,0"),
    "Z": (13.0, "oo", "0.4,20 12.6,20 0,0 13,0"),
    "Æ": (20.6, "oo", "0,0 9.8,20 20,20 | 9.8,20 9.8,0 20.6,0 | 4.41,9 18.4,9"),
    "Œ": (
        21.6,
        "ro",
        "21.2,20 7.5,20 <90 0,12.5 0,7.5 <90 7.5,0 21.6,0 | 11.4,20 11.4,0 | 11.4,10.6 20,10.6",
    ),
    "Ø": (15.0, "rr", "0,12.5 0,7.5 <180 15,7.5 15,12.5 <180 0,12.5 | 1.2,-1.6 13.8,21.6"),
    "Ð": (16.8, "or", "2.4,0 2.4,20 8.8,20 >90 16.8,12 16.8,8 >90 8.8,0 2.4,0 | 0,10.6 7.6,10.6"),
    "Þ": (11.9, "sr", "0,20 0,0 | 0,15.8 6.6,15.8 >180 6.6,5.2 0,5.2"),
    "Ł": (12.6, "oo", "2.2,20 2.2,0 12.6,0 | 0,8.4 6.6,12.6"),
    "Ħ": (18.0, "oo", "2,0 2,20 | 16,0 16,20 | 2,10.6 16,10.6 | 0,15.6 18,15.6"),
    "0": (12.4, "rr", "0,13.8 0,6.2 <180 12.4,6.2 12.4,13.8 <180 0,13.8"),
    "1": (5.6, "os", "0,15.6 5.6,20 5.6,0"),
    "2": (12.0, "oo", "0.2,15.55 >211.4 10.14,9.65 0,0 12,0"),
    "3": (
        12.1,
        "rr",
        "1.13,17.65 >60 5.2,20 6.8,20 >180 6.8,10.6 4.6,10.6 | 6.8,10.6 >180 6.8,0 5.3,0 >60 0.71,2.65",
    ),
    "4": (13.0, "oo", "9.6,20 0,5.4 13,5.4 | 9.6,20 9.6,0"),
    "5": (12.2, "or", "10.8,20 1.9,20 1.07,10.35 >290 0.44,3.15"),
    "6": (12.4, "rr", "9.8,20 <70.76 0,6.2 <180 12.4,6.2 <180 0,6.2"),
    "7": (12.0, "oo", "0,20 12,20 3.8,0"),
    "8": (
        12.4,
        "rr",
        "7.1,10.6 5.3,10.6 >180 5.3,20 7.1,20 >180 7.1,10.6 | 5.3,10.6 <180 5.3,0 7.1,0 <180 7.1,10.6",
    ),
    "9": (12.4, "rr", "2.6,0 <70.76 12.4,13.8 <180 0,13.8 <180 12.4,13.8"),
    ".": (2.0, "rr", _dot(1.0, 1.0)),
    ",": (1.8, "rr", "1.8,1.8 0,-3"),
    ":": (2.0, "rr", f"{_dot(1.0, 1.0)} | {_dot(1.0, 11.0)}"),
    "·": (2.0, "rr", _dot(1.0, 10.0)),
    "!": (2.0, "ss", f"1,20 1,5.6 | {_dot(1.0, 1.0)}"),
    "?": (10.2, "rr", f"0.2,16.29 >255 5,10 5,5.6 | {_dot(5.0, 1.0)}"),
    "-": (7.0, "rr", "0,9.6 7,9.6"),
    "–": (12.0, "rr", "0,9.6 12,9.6"),
    "_": (10.0, "rr", "0,-2 10,-2"),
    "/": (9.6, "oo", "0,-2 9.6,22"),
    "+": (11.6, "rr", "0,9.6 11.6,9.6 | 5.8,3.8 5.8,15.4"),
    "×": (10.6, "rr", "0,4.3 10.6,14.9 | 0,14.9 10.6,4.3"),
    "#": (14.0, "rr", "2.6,1 5.4,19 | 8.6,1 11.4,19 | 1,13.4 14,13.4 | 0,6.6 13,6.6"),
    "&": (
        14.6,
        "ro",
        "14.6,0 3.06,13.01 >290.82 7.69,11.87 | 7.69,11.87 3.42,10.26 <219.25 9.89,2.65 13.2,8.39",
    ),
    "'": (0.0, "ss", "0,20 0,14.6"),
    "(": (4.4, "rs", "4.4,22.6 <77 4.4,-2.6"),
    ")": (4.4, "sr", "0,22.6 >77 0,-2.6"),
    "°": (5.4, "rr", _dot(2.7, 17.3, 2.7)),
}
"""Width, sides and strokes of every character that is drawn as it stands."""

ACCENTS: Final[dict[str, tuple[str, str]]] = {
    "\N{COMBINING GRAVE ACCENT}": ("above", "-2.4,26.6 1.4,22.8"),
    "\N{COMBINING ACUTE ACCENT}": ("above", "2.4,26.6 -1.4,22.8"),
    "\N{COMBINING CIRCUMFLEX ACCENT}": ("above", "-4,22.8 0,26.6 4,22.8"),
    "\N{COMBINING TILDE}": ("above", "-4.6,23.6 >80 0,24.6 <80 4.6,25.6"),
    "\N{COMBINING MACRON}": ("above", "-4.2,24.2 4.2,24.2"),
    "\N{COMBINING BREVE}": ("above", "-4,26.4 <120 4,26.4"),
    "\N{COMBINING DOT ABOVE}": ("above", _dot(0.0, 24.4)),
    "\N{COMBINING DIAERESIS}": ("above", f"{_dot(-3.2, 24.4)} | {_dot(3.2, 24.4)}"),
    "\N{COMBINING RING ABOVE}": ("above", _dot(0.0, 24.6, 2.4)),
    "\N{COMBINING DOUBLE ACUTE ACCENT}": ("above", "-0.4,26.6 -3.4,22.8 | 4.4,26.6 1.4,22.8"),
    "\N{COMBINING CARON}": ("above", "-4,26.6 0,22.8 4,26.6"),
    "\N{COMBINING COMMA BELOW}": ("below", "0.8,-2 -0.8,-5.8"),
    "\N{COMBINING CEDILLA}": ("below", "0,0 0,-1.6 >180 0,-5.6 -2.2,-5.6"),
    "\N{COMBINING OGONEK}": ("right", "0,0 <90 -2.6,-2.6 <90 0,-5.2"),
}
"""Accents by their combining character: where they stand, and their strokes about x = 0 there."""

SAME: Final = {
    "Đ": "Ð",
    "Ĳ": "IJ",
    "ẞ": "SS",
    "’": "'",
    "‘": "'",
    "ʼ": "'",
    "−": "–",
    "\N{NO-BREAK SPACE}": " ",
    "\N{NON-BREAKING HYPHEN}": "-",
}
"""Characters set as others are."""

KERNS: Final = {
    pair: -by
    for by, pairs in (
        (3.4, "AV VA AT TA AY YA LT LV LY AW WA"),
        (2.0, "LW LU LO TO YO VO WO OV OY OT FA PA TJ FJ PJ VJ YJ RT RV RY KO T. Y. V. F. P. T, Y, V, F, P,"),
    )
    for pair in pairs.split()
}
"""Pairs of letters set nearer than their sides say, grid units; an accented letter goes as its plain one."""

LEAST_HEIGHT: Final = 3.0
"""Lower capitals are not made: scored into leather they run together, mm (common practice)."""

WRITABLE: Final = (
    "A to Z and 0 to 9, European letters with one accent, Æ Œ Ø Ð Þ Ł Ħ ß, blanks and "
    + " ".join(sign for sign in GLYPHS if not sign.isalnum())
)
"""What can be written, in words; lower case is set as capitals."""

_NAMED: Final = 3
"""A message names this many unknown characters and counts the rest."""


def letters_of(text: str) -> Iterator[str]:
    """Yield each character with the accents that stand on it, composed where Unicode can."""
    cluster = ""
    for character in unicodedata.normalize("NFD", text):
        if cluster and not unicodedata.combining(character):
            yield unicodedata.normalize("NFC", cluster)
            cluster = ""
        cluster += character
    if cluster:
        yield unicodedata.normalize("NFC", cluster)


@cache
def spelled(letter: str) -> tuple[str, tuple[str, ...]] | None:
    """Return the capitals a letter is set as and the accents of the last of them, or None.

    Args:
        letter: one character with its accents.

    Example:
        >>> spelled("ß"), spelled("x"), spelled("☂")
        (('SS', ()), ('X', ()), None)
    """
    decomposed = unicodedata.normalize("NFD", letter)
    base, accents = decomposed[0], tuple(decomposed[1:])
    capitals = "".join(SAME.get(capital, capital) for capital in base.upper())
    if any(capital not in GLYPHS for capital in capitals) or any(mark not in ACCENTS for mark in accents):
        return (capitals, ()) if capitals == " " and not accents else None
    above = [ACCENTS[mark][0] == "above" for mark in accents]
    if len(set(above)) < len(above) or (accents and not capitals.isalpha()):
        return None  # two accents in one place would run into each other
    return capitals, accents


def unwritable(text: str) -> tuple[str, ...]:
    """Return the characters of a text that cannot be written, each once.

    Example:
        >>> unwritable("Ľuba Ж ☂")
        ('Ж', '☂')
    """
    return tuple(dict.fromkeys(letter for letter in letters_of(text) if spelled(letter) is None))


def cannot_be_lettered(unknown: tuple[str, ...]) -> str:
    """Return what to say of characters that cannot be written: which they are, and what can be.

    Example:
        >>> cannot_be_lettered(("☂",)).split(";")[0]
        '"☂" (umbrella) cannot be lettered'
    """
    names = [f"{quoted(letter)} ({_name(letter)})" for letter in unknown]
    return f"{first_few(names, _NAMED)} cannot be lettered; allowed are {WRITABLE}"


def _name(letter: str) -> str:
    return unicodedata.name(letter[0], f"U+{ord(letter[0]):04X}").lower()
