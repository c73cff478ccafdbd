"""The sheet a drawing stands on: headings, tables, findings, legend and foot."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Final

from strapwright.core.text import one_line
from strapwright.drawing.canvas import Canvas, polyline
from strapwright.drawing.dimension_lines import FIGURE_SIZE, Board
from strapwright.drawing.text import figure, text_width, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.units import Units
    from strapwright.drawing.canvas import Anchor

_ROW: Final = 18.0
_HEAD_ROW: Final = 15.0
_BETWEEN: Final = 14.0
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


def draw_table(
    board: Board, title: str, columns: Sequence[str], rows: Sequence[Sequence[str]], left: float, top: float
) -> float:
    """Write a table; its columns are as wide as their widest cell, their heads broken to fit.

    Args:
        board: the drawing.
        title: over it.
        columns: its head.
        rows: its cells; the first column holds words, the others figures.
        left: of it, px.
        top: of it, px.

    Returns:
        Where free room begins below it, px.
    """
    y = top + 14
    board.text(title, left, y, bold=True)
    widths = _widths(columns, rows)
    heads = [
        wrapped(column, width + 0.5, FIGURE_SIZE, bold=True)
        for column, width in zip(columns, widths, strict=True)
    ]
    high = max(len(lines) for lines in heads)
    y += 6
    for place, lines in enumerate(heads):
        x, anchor = _anchor(left, widths, place)
        for number, line in enumerate(lines):
            board.text(line, x, y + _HEAD_ROW * (high - len(lines) + number + 1), anchor=anchor, bold=True)
    y += _HEAD_ROW * high + 6
    board.line(left, y, left + sum(widths) + _BETWEEN * (len(widths) - 1), y, "rule")
    for row in rows:
        y += _ROW
        for place, cell in enumerate(row):
            x, anchor = _anchor(left, widths, place)
            board.text(cell, x, y, anchor=anchor)
    return y + 10


def table_width(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> float:
    """Return how wide `draw_table` draws a table, px."""
    return sum(_widths(columns, rows)) + _BETWEEN * (len(columns) - 1)


def _widths(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> list[float]:
    """Return each column's width: no cell is broken, and of its head no word."""
    return [
        max(
            max(text_width(row[k], FIGURE_SIZE) for row in rows),
            max(text_width(word, FIGURE_SIZE, bold=True) for word in columns[k].split(" ")),
        )
        for k in range(len(columns))
    ]


def _anchor(left: float, widths: Sequence[float], place: int) -> tuple[float, Anchor]:
    x = left + sum(widths[:place]) + _BETWEEN * place
    return (x, "start") if place == 0 else (x + widths[place], "end")
