"""Lettering in single strokes: what a laser or knife scores along a line, not round an outline."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.errors import PartError
from strapwright.geometry.characters import (
    ACCENTS,
    BEARING,
    CAP,
    GLYPHS,
    KERNS,
    LEAST_HEIGHT,
    SPACE,
    cannot_be_lettered,
    letters_of,
    spelled,
    unwritable,
)
from strapwright.geometry.contour import Contour
from strapwright.geometry.transform import Placement

if TYPE_CHECKING:
    from collections.abc import Iterable

    from strapwright.core.arrays import Floats

    Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class _Glyph:
    """A letter with its accents, in grid units, its left side at x = 0."""

    sign: str
    width: float
    sides: str
    strokes: tuple[Floats, ...]

    @cached_property
    def box(self) -> Box:
        """What its strokes reach."""
        return _round(Contour(stroke, closed=False).bounding_box for stroke in self.strokes)


@lru_cache(maxsize=512)
def lettering(
    text: str, height: float, x: float = 0.0, y: float = 0.0, turn: float = 0.0
) -> tuple[Contour, ...]:
    """Return a line of text as single strokes, to be read from the grain side.

    Lower case is set as capitals, so that every letter has the full height; ß is set as SS.

    Args:
        text: one line; see `characters.WRITABLE` for what can be written.
        height: of the capitals, mm; 3 or more. Accents stand up to 0.4 of it higher, commas and
            cedillas up to 0.3 of it lower.
        x: where the first letter's left side stands, mm.
        y: of the base line, mm.
        turn: of the base line about that point, radians, positive counter-clockwise.

    Returns:
        Open contours of lines and arcs, mm, in reading order; none for blanks.

    Raises:
        PartError: a character that cannot be written, or a height below the least.

    Example:
        >>> arm, bar = lettering("F", 10.0)
        >>> arm.vertices[:, :2].tolist()
        [[5.3, 10.0], [0.0, 10.0], [0.0, 0.0]]
    """
    if not (math.isfinite(height) and height >= LEAST_HEIGHT):
        raise PartError(
            f"lettering is {height:g} mm high; allowed is {LEAST_HEIGHT:g} mm or more, to be legible in "
            "leather"
        )
    placement = Placement(turn, x, y)
    scale = np.array([height / CAP, height / CAP, 1.0])
    return tuple(
        placement.apply(Contour(_shifted(stroke, start) * scale, closed=False))
        for start, glyph in _set(text)
        for stroke in glyph.strokes
    )


def lettering_width(text: str, height: float) -> float:
    """Return the width of a line of text, from the first letter's left side to the last one's right, mm.

    Args:
        text: one line.
        height: of the capitals, mm.

    Raises:
        PartError: a character that cannot be written.

    Example:
        >>> lettering_width("H", 10.0)
        7.0
    """
    return max((start + glyph.width for start, glyph in _set(text)), default=0.0) * height / CAP


def lettering_box(text: str, height: float) -> tuple[float, float, float, float]:
    """Return what the strokes of a line of text reach, as (x_min, y_min, x_max, y_max), mm.

    Measured from the first letter's left side on the base line; zeros for blanks.

    Args:
        text: one line.
        height: of the capitals, mm.

    Raises:
        PartError: a character that cannot be written.

    Example:
        >>> lettering_box("H,", 10.0)
        (0.0, -1.5, 10.85, 10.0)
    """
    x0, y0, x1, y1 = _grid_box(text)
    scale = height / CAP
    return x0 * scale, y0 * scale, x1 * scale, y1 * scale


@lru_cache(maxsize=512)
def _grid_box(text: str) -> Box:
    boxes = [
        (start + x0, y0, start + x1, y1) for start, glyph in _set(text) for x0, y0, x1, y1 in (glyph.box,)
    ]
    return _round(boxes) if boxes else (0.0, 0.0, 0.0, 0.0)


def _round(boxes: Iterable[Box]) -> Box:
    """Return the box round boxes."""
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return min(x0), min(y0), max(x1), max(y1)


def _shifted(stroke: Floats, x: float) -> Floats:
    moved: Floats = stroke + np.array([x, 0.0, 0.0])
    return moved


@lru_cache(maxsize=512)
def _set(text: str) -> tuple[tuple[float, _Glyph], ...]:
    """Return the glyphs of a text, each with its left side's place, grid units."""
    if unknown := unwritable(text):
        raise PartError(cannot_be_lettered(unknown))
    found: list[tuple[float, _Glyph]] = []
    reach, blanks = 0.0, 0.0
    for letter in letters_of(text):
        for glyph in _glyphs(letter):
            if not glyph.sides:
                blanks += glyph.width
                continue
            if found:
                before = found[-1][1]
                kern = 0.0 if blanks else KERNS.get(before.sign + glyph.sign, 0.0)
                reach += BEARING[before.sides[1]] + BEARING[glyph.sides[0]] + kern
            found.append((reach + blanks, glyph))
            reach, blanks = reach + blanks + glyph.width, 0.0
    return tuple(found)


@cache
def _glyphs(letter: str) -> tuple[_Glyph, ...]:
    """Return what a letter is set as; it must be one that can be written."""
    capitals, accents = spelled(letter) or ("", ())
    if capitals == " ":
        return (_Glyph(" ", SPACE, "", ()),)
    drawn = [(capital, *GLYPHS[capital]) for capital in capitals]
    plain = tuple(_Glyph(sign, width, sides, _strokes(strokes)) for sign, width, sides, strokes in drawn)
    return (*plain[:-1], _accented(plain[-1], accents)) if accents else plain


def _accented(letter: _Glyph, accents: tuple[str, ...]) -> _Glyph:
    """Return a letter with accents set over, under or at the right of it; a slim one gains width."""
    placed: list[Floats] = []
    for mark in accents:
        place, drawing = ACCENTS[mark]
        x = letter.width if place == "right" else letter.width / 2
        placed += [_shifted(stroke, x) for stroke in _strokes(drawing)]
    over_left, _, over_right, _ = _round(Contour(stroke, closed=False).bounding_box for stroke in placed)
    left, right = min(0.0, over_left), max(letter.width, over_right)
    strokes = tuple(_shifted(stroke, -left) for stroke in (*letter.strokes, *placed))
    sides = ("o" if left < 0.0 else letter.sides[0]) + ("o" if right > letter.width else letter.sides[1])
    return _Glyph(letter.sign, right - left, sides, strokes)


@cache
def _strokes(drawing: str) -> tuple[Floats, ...]:
    """Return the strokes of a drawing as vertices ``(x, y, bulge)``, grid units."""
    return tuple(_stroke(run.split()) for run in drawing.split("|"))


def _stroke(tokens: list[str]) -> Floats:
    vertices: list[list[float]] = []
    for token in tokens:
        if token[0] in "<>":
            sweep = math.radians(float(token[1:]))
            vertices[-1][2] = math.tan(sweep / 4) * (1 if token[0] == "<" else -1)
        else:
            px, py = token.split(",")
            vertices.append([float(px), float(py), 0.0])
    return np.array(vertices)
