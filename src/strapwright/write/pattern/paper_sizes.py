"""Paper: the sheets a pattern is printed on, and the correction for a printer that was measured.

Sources: ISO 216 (A series, trimmed sizes); ANSI/ASME Y14.1 (letter, 8.5 × 11 in); legal, 8.5 × 14 in, is
common practice.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PaperError, UnitError
from strapwright.core.units import MM_PER_INCH, parse_length

if TYPE_CHECKING:
    from collections.abc import Iterator

PRINTER_MARGIN: Final = 8.0
"""Nothing is drawn nearer to the edge of the paper, mm: office printers leave up to 6 mm white."""

LONGEST_PAGE: Final = 5000.0
"""Longest page drawn on a roll, mm: readers of PDF take 14,400 points, 5080 mm, and no more."""

LEAST_ROLL: Final = 200.0
MOST_ROLL: Final = 1600.0

LEAST_SCALE: Final = 0.9
MOST_SCALE: Final = 1.1
"""A printer further off than this is set to fit the page, or the bar was misread."""


@dataclass(frozen=True)
class Paper:
    """A paper.

    Args:
        name: as one asks for it.
        short: its short side, or the width of a roll, mm.
        long: its long side, mm; 0 for a roll, which is as long as it is needed.
    """

    name: str
    short: float
    long: float = 0.0

    @property
    def is_roll(self) -> bool:
        """Whether it comes from a roll."""
        return not self.long

    @property
    def words(self) -> str:
        """Its name in words.

        Example:
            >>> PAPERS["a4"].words, read_paper("roll:24in").words
            ('A4', 'roll 609.6 mm wide')
        """
        if self.is_roll:
            return f"roll {self.short:g} mm wide"
        return self.name.upper() if self.name[1:].isdigit() else self.name

    @property
    def sides(self) -> tuple[str, str]:
        """The two ways along the paper, in words; the first word of each is its key in a correction.

        Printers are off by one figure across the way the paper runs and by another along it, so a check bar
        is named by the side it runs along, however the sheet is turned.

        Example:
            >>> PAPERS["a4"].sides, read_paper("roll:24in").sides
            (('short side', 'long side'), ('across the roll', 'along the roll'))
        """
        return ("across the roll", "along the roll") if self.is_roll else ("short side", "long side")


PAPERS: Final = {
    paper.name: paper
    for paper in (
        Paper("a4", 210.0, 297.0),
        Paper("letter", 8.5 * MM_PER_INCH, 11 * MM_PER_INCH),
        Paper("legal", 8.5 * MM_PER_INCH, 14 * MM_PER_INCH),
        Paper("a3", 297.0, 420.0),
    )
}
"""Sheets by name, smaller ones first."""

ACCEPTED: Final = f"{', '.join(PAPERS)}, or a roll by its width, such as roll:914mm"


def read_paper(text: str) -> Paper:
    """Read a paper as a person asks for it.

    Args:
        text: a name, in any case, or ``roll:`` and a width.

    Raises:
        PaperError: there is no such paper, or no such roll.

    Example:
        >>> read_paper("A4")
        Paper(name='a4', short=210.0, long=297.0)
        >>> read_paper("roll:914mm").short
        914.0
    """
    name = text.strip().lower()
    if name in PAPERS:
        return PAPERS[name]
    kind, colon, width = name.partition(":")
    if kind.strip() != "roll":
        raise PaperError(f'paper: found "{text}", expected {ACCEPTED}')
    if not colon:
        raise PaperError(f'paper: found "{text}", expected its width too, such as roll:914mm')
    try:
        wide = parse_length(width)
    except UnitError as error:
        raise PaperError(f"paper: roll: {error}") from error
    if not LEAST_ROLL <= wide <= MOST_ROLL:
        allowed = f"allowed are {LEAST_ROLL:g} to {MOST_ROLL:g} mm"
        raise PaperError(f"paper: a roll of {wide:g} mm; {allowed}")
    return Paper("roll", wide)


def larger(paper: Paper) -> Iterator[Paper]:
    """Yield the sheets larger than a paper, and after them the usual rolls.

    Example:
        >>> [one.words for one in larger(PAPERS["legal"])][:2]
        ['A3', 'roll 610 mm wide']
    """
    size = paper.short * (paper.long or MOST_ROLL)
    if not paper.is_roll:
        yield from (other for other in PAPERS.values() if other.short * other.long > size)
    yield from (Paper("roll", wide) for wide in (610.0, 914.0, 1067.0) if wide > paper.short)


@dataclass(frozen=True)
class Correction:
    """By how much a pattern is drawn larger, for a printer that prints smaller than it should.

    Args:
        short: along the paper's short side, or across a roll.
        long: along its long side, or along a roll.
    """

    short: float = 1.0
    long: float = 1.0

    def words(self, paper: Paper) -> str:
        """Say what was corrected, for the sheet; empty for nothing."""
        if self == Correction():
            return ""
        ways = (
            f"{scale * 100:.3f} % {side if paper.is_roll else f'along the {side}'}"
            for scale, side in zip((self.short, self.long), paper.sides, strict=True)
        )
        return f"Drawn at {' and '.join(ways)}, for a printer that was measured."


def read_correction(text: str, paper: Paper) -> Correction:
    """Read what a bar should measure and what it did.

    Args:
        text: ``asked:measured`` for both directions, or ``short=asked:measured,long=asked:measured``, each in
            mm or with a unit; of a roll ``across=…,along=…``.
        paper: it is for.

    Raises:
        PaperError: it cannot be read, or the printer is further off than a printer is.

    Example:
        >>> read_correction("100:80", PAPERS["a4"])
        Traceback (most recent call last):
        ...
        strapwright.core.errors.PaperError: correct: 100 printed as 80 is a scale of 125 %; allowed are ...
        >>> round(read_correction("short=100:99,4,long=100:99,5", PAPERS["a4"]).long, 6)
        1.005025
    """
    keys = [side.split()[0] for side in paper.sides]
    found: dict[str, float] = {}
    for term in re.split(r",(?=\s*[a-z]+\s*=)", text, flags=re.IGNORECASE):
        key, sign, ratio = term.rpartition("=")
        key = key.strip().lower() if sign else "both"
        if key not in (*keys, "both") or key in found:
            raise _unreadable(text, keys)
        found[key] = _scale(ratio, text, keys)
    if "both" in found and len(found) > 1:
        raise _unreadable(text, keys)
    both = found.get("both", 1.0)
    return Correction(*(found.get(key, both) for key in keys))


def _scale(ratio: str, text: str, keys: list[str]) -> float:
    asked, colon, measured = ratio.partition(":")
    if not colon or ":" in measured:
        raise _unreadable(text, keys)
    try:
        lengths = parse_length(asked), parse_length(measured)
    except UnitError as error:
        raise PaperError(f"correct: {error}") from error
    if min(lengths) <= 0:
        raise _unreadable(text, keys)
    scale = lengths[0] / lengths[1]
    if not LEAST_SCALE <= scale <= MOST_SCALE:
        raise PaperError(
            f"correct: {asked.strip()} printed as {measured.strip()} is a scale of {scale * 100:.4g} %; "
            f"allowed are {LEAST_SCALE * 100:g} to {MOST_SCALE * 100:g} %: print at 100 %, without fitting "
            "to the page, and measure again"
        )
    return scale


def _unreadable(text: str, keys: list[str]) -> PaperError:
    return PaperError(
        f'correct: found "{text}", expected what a bar should measure and what it did, such as 100:99.4, '
        f"or {keys[0]}=100:99.4,{keys[1]}=100:99.8 as the bars are named"
    )
