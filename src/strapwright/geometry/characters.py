"""Which characters can be lettered, what each is set as, and the letters' own drawing in single strokes.

The strokes stand in ``glyphs.toml`` on a grid, 20 units from base line to cap height. A glyph is its width,
the kinds of its left and right sides, and its strokes, divided by ``|``. A stroke is a run of points
``x,y``, joined by straight lines; between two points ``<90`` stands for an arc that turns 90 degrees to the
left on the way, ``>90`` for one to the right. x = 0 is the glyph's left side, y = 0 the base line. Sides:
``s`` a straight stem, ``r`` a round, ``o`` open or slanting; they set the space between two letters. Upright
capitals of even stroke, bowls as half-rounds: they stay legible when small, and every bowl is a true arc.
"""

from __future__ import annotations

import unicodedata
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from strapwright.core.text import first_few, quoted
from strapwright.files.read import read_toml

if TYPE_CHECKING:
    from collections.abc import Iterator


CAP: Final = 20.0
"""Height of the capitals, grid units."""

BEARING: Final = {"s": 3.3, "r": 2.6, "o": 1.6}
"""Space beside a glyph by the kind of its side, grid units; between two, both are added."""

SPACE: Final = 7.0
"""Width of a blank, grid units."""

_DRAWN: Final = read_toml(Path(__file__).with_name("glyphs.toml"))

GLYPHS: Final[dict[str, tuple[float, str, str]]] = {
    sign: tuple(row) for sign, row in _DRAWN["glyphs"].items()
}
"""Width, sides and strokes of every character that is drawn as it stands."""

ACCENTS: Final[dict[str, tuple[str, str]]] = {mark: tuple(row) for mark, row in _DRAWN["accents"].items()}
"""Accents by their combining character: where they stand, and their strokes about x = 0 there."""

SAME: Final[dict[str, str]] = _DRAWN["same"]
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
