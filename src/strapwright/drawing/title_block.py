"""The paper a drawing stands on: its style, light and dark, headings, findings, legend and foot."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Final

from strapwright.core.text import one_line
from strapwright.drawing.canvas import Canvas, polyline
from strapwright.drawing.dimension_lines import Board
from strapwright.drawing.text import figure, text_width, wrapped

if TYPE_CHECKING:
    from strapwright.core.units import Units

WIDTH: Final = 1000.0
MARGIN: Final = 36.0
TEXT: Final = 13.0
LINE: Final = 19.0
TITLE: Final = 19.0


def new_board() -> Board:
    """Return an empty drawing."""
    return Board(WIDTH, MARGIN / 4)


def document(board: Board, height: float, title: str) -> Canvas:
    """Return a finished drawing.

    Args:
        board: the drawing.
        height: of it, px.
        title: what it is of.
    """
    return Canvas(WIDTH, math.ceil(height), f"{one_line(title) or 'belts'}: drawing", board.items)


def job_title(board: Board, name: str) -> float:
    """Write the job's name at the head of a drawing; return where free room begins below, px."""
    y = 18.0
    for line in wrapped(one_line(name) or "belts", WIDTH - 2 * MARGIN, TITLE + 4, bold=True):
        y += 26
        board.text(line, MARGIN, y, size=TITLE + 4, bold=True)
    return y


def heading(board: Board, name: str, facts: str, y: float) -> float:
    """Write what is drawn below; return where free room begins, px."""
    board.line(MARGIN, y, WIDTH - MARGIN, y, "rule")
    y += 30
    lines = wrapped(one_line(name), WIDTH - 2 * MARGIN, TITLE, bold=True)
    for line in lines[:-1]:
        board.text(line, MARGIN, y, size=TITLE, bold=True)
        y += 24
    board.text(lines[-1], MARGIN, y, size=TITLE, bold=True)
    x = MARGIN + text_width(lines[-1], TITLE, bold=True) + 18
    if x + text_width(facts, TEXT + 1) > WIDTH - MARGIN:
        x, y = MARGIN, y + 24
    board.text(facts, x, y, size=TEXT + 1)
    return y


def with_unit(mm: float, units: Units) -> str:
    """Return a length as on a dimension line, with its unit."""
    return f"{figure(mm, units)} {units}"


def tied(text: str) -> str:
    """Return text on one line, its figures tied to their units and to a ± before them."""
    return re.sub(r"(?<=±) (?=\d)|(?<=\d) (?=(?:mm|in)\b)", "\N{NO-BREAK SPACE}", one_line(text))


def finding(board: Board, severity: str, text: str, y: float) -> float:
    """Write one finding; return where free room begins below, px."""
    label = f"{severity}:"
    indent = text_width("caution: ", TEXT, bold=True)
    y += 14
    board.text(label, MARGIN, y, size=TEXT, bold=True)
    for line in wrapped(tied(text), WIDTH - 2 * MARGIN - indent, TEXT):
        board.text(line, MARGIN + indent, y, size=TEXT)
        y += LINE
    return y - 12


def foot(board: Board, y: float, units: Units) -> float:
    """Draw legend and reading note; return the drawing's height, px."""
    board.line(MARGIN, y, WIDTH - MARGIN, y, "rule")
    y += 24
    x = MARGIN
    for kind, word in (("cut", "cut"), ("score", "score"), ("fold", "fold line"), ("centre", "centre line")):
        board.add(polyline(kind, (x, y - 4), (x + 44, y - 4)))
        board.text(word, x + 52, y, size=TEXT)
        x += 52 + text_width(word, TEXT) + 26
    unit = "millimetres" if units == "mm" else "inches"
    y += LINE + 6
    board.text(
        f"Figures are {unit}. Work to the figures; do not measure the picture.", MARGIN, y, size=TEXT - 1
    )
    return y + LINE + 2
