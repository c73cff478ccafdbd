"""A table on a drawing: figures to the right, words to the left, a rule under the head."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.drawing.dimension_lines import FIGURE_SIZE
from strapwright.drawing.text import text_width, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.drawing.canvas import Anchor
    from strapwright.drawing.dimension_lines import Board

_ROW: Final = 18.0
_HEAD_ROW: Final = 15.0
_BETWEEN: Final = 14.0


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
