"""Which characters can be lettered, and what each is set as."""

from __future__ import annotations

import unicodedata
from functools import cache
from typing import TYPE_CHECKING, Final

from strapwright.core.text import first_few, quoted
from strapwright.geometry.lettering.strokes import ACCENTS, GLYPHS, SAME

if TYPE_CHECKING:
    from collections.abc import Iterator

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
