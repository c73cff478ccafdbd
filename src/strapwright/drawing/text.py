"""Text on a drawing: how much room it takes, and where its lines break."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.units import Units, format_length

if TYPE_CHECKING:
    from collections.abc import Callable

_THIN: Final = frozenset(" \N{NO-BREAK SPACE}',./:;IJ\\ijl|·′’")


_SLIM: Final = frozenset("!()-[]frt")


_BROAD: Final = frozenset("#+<=>^w~×÷−")


_WIDE: Final = frozenset("%@MWm—…")


_ASCENT: Final = 0.78


_DESCENT: Final = 0.24


_BOLD: Final = 1.18
"""A bold character is at most this much wider than the width taken for the plain one."""


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
        """Tell whether the two share more than an edge."""
        return self.x0 < other.x1 and other.x0 < self.x1 and self.y0 < other.y1 and other.y0 < self.y1

    def is_crossed(self, x0: float, y0: float, x1: float, y1: float) -> bool:
        """Tell whether a straight line from one point to another runs through the box's inside."""
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
    """Return the most room a line of text takes, px.

    Each character counts as wide as the widest of its kind in DejaVu Sans, one of the broadest faces in
    use, so that another face in its place stays within.

    Args:
        text: one line.
        size: of the font, px.
        bold: whether it is set in bold.

    Example:
        >>> text_width("A 22.5", 10.0)
        34.1
    """
    em = sum(_em(character) for character in text)
    return round(em * size * (_BOLD if bold else 1.0), 3)


def _em(character: str) -> float:
    if character in _THIN:
        return 0.35
    if character in _SLIM:
        return 0.42
    if character in _BROAD:
        return 0.84
    if character in _WIDE:
        return 1.0
    if "A" <= character <= "Z" or character == "&":
        return 0.79
    return 0.64 if character.isascii() or character == "⌀" else 1.2


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
        ['to be read', 'from the right']
    """
    return broken(text, room, lambda line: text_width(line, size, bold=bold)) if text else []


def broken(text: str, room: float, width: Callable[[str], float]) -> list[str]:
    """Break text into lines as `wrapped` does, by a font's own measure of a line's width."""
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if width(longer) <= room:
            line = longer
            continue
        if line:
            lines.append(line)
        line = word
        while width(line) > room and len(line) > 1:
            fits = next(n for n in range(len(line) - 1, 0, -1) if n == 1 or width(line[:n]) <= room)
            lines.append(line[:fits])
            line = line[fits:]
    return [*lines, line]


def shortened(words: str, room: float, size: float, *, wider: float = 1.0) -> str:
    """Return words cut short with an ellipsis where they would run past the room.

    Args:
        words: one line.
        room: width to fit into, px.
        size: of the font, px.
        wider: than the plain face, for bold letters.

    Example:
        >>> shortened("to be read from the right", 80.0, 10.0)
        'to be read fr…'
    """
    kept = words
    while kept and text_width(kept if kept == words else kept + "…", size) * wider > room:
        kept = kept[:-1]
    return kept if kept == words else kept + "…"


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
    return format_length(mm if exact or units == "in" else round(mm, 1), units, finest).removesuffix(
        f" {units}"
    )
