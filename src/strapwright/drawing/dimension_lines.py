"""Dimension lines, extension lines and leaders, and where their figures find room.

Source: ISO 129-1 (Presentation of dimensions and tolerances, general principles) and ISO 128-2 (Basic
conventions for lines), from memory: thin lines, filled arrowheads, figures above the dimension line and
readable from below or from the right, extension lines a little clear of the part.
"""

from __future__ import annotations

import math
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from strapwright.drawing.canvas import Line, Text, polygon
from strapwright.drawing.text import Box, text_box, text_width

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from strapwright.drawing.canvas import Anchor, Item

FIGURE_SIZE: Final = 13.0
"""Size of the figures, px."""

_HEAD: Final = 9.0
_HEAD_HALF: Final = 1.7
_EXTENSION_GAP: Final = 3.0
_EXTENSION_BEYOND: Final = 3.0
_ABOVE: Final = 5.0
"""The figures' base line stands this far above the dimension line."""
_BESIDE: Final = 5.0
_CLEAR: Final = 1.9
"""Between text and what it stands beside, px."""

Segment = tuple[float, float, float, float]


@dataclass(frozen=True)
class Along:
    """A dimension along the strap, px.

    Args:
        x0: its left end.
        x1: its right end.
        y: of the dimension line.
        from0: where the left extension line begins.
        from1: where the right one begins.
        texts: figures, the wordiest first; the first that finds room is taken.
        outward: which way figures go that find no room between: -1 left, 1 right, 0 either.
        figure: its name, as `Text` has it.
    """

    x0: float
    x1: float
    y: float
    from0: float
    from1: float
    texts: tuple[str, ...]
    outward: int = 0
    figure: str = ""


class Board:
    """A drawing in the making: what is on it, and the room that text and lines already take.

    Args:
        width: of the drawing, px.
        margin: that text keeps from its left and right edge, px.
    """

    def __init__(self, width: float, margin: float) -> None:
        self.width, self.margin = width, margin
        self.items: list[Item] = []
        self.texts: list[Box] = []
        self.solids: list[Box] = []
        self.lines: list[Segment] = []

    @contextmanager
    def reserved(self, lines: Sequence[Segment]) -> Iterator[None]:
        """Keep text clear, meanwhile, of straight lines that are drawn later."""
        drawn = len(self.lines)
        self.lines += lines
        yield
        del self.lines[drawn : drawn + len(lines)]

    def add(self, item: Item) -> None:
        """Draw what takes no room."""
        self.items.append(item)

    def line(self, x0: float, y0: float, x1: float, y1: float, kind: str = "thin") -> None:
        """Draw a straight line that text keeps clear of."""
        self.lines.append((x0, y0, x1, y1))
        self.add(Line(x0, y0, x1, y1, kind))

    def text(
        self,
        text: str,
        x: float,
        y: float,
        *,
        size: float = FIGURE_SIZE,
        anchor: Anchor = "start",
        bold: bool = False,
        turned: bool = False,
        figure: str = "",
    ) -> None:
        """Write a line of text: ``x`` and ``y`` of its anchor on the base line."""
        self.texts.append(text_box(text, x, y, size, anchor=anchor, bold=bold, turned=turned))
        self.add(Text(text, x, y, size, anchor, bold, -90.0 if turned else 0.0, figure=figure))

    def is_free(self, box: Box) -> bool:
        """Whether text may stand there: on the drawing, and on or close beside no text, part or line."""
        box = replace(box, x0=box.x0 - _CLEAR, x1=box.x1 + _CLEAR)
        return (
            box.x0 >= self.margin
            and box.x1 <= self.width - self.margin
            and not any(box.meets(other) for other in (*self.texts, *self.solids))
            and not any(box.is_crossed(*line) for line in self.lines)
        )

    def is_clear(self, line: Segment, *, of_lines: bool) -> bool:
        """Whether a line would run through no text, and, if asked, across no other line."""
        return not any(box.is_crossed(*line) for box in self.texts) and not (
            of_lines and any(_cross(line, other) for other in self.lines)
        )


def dimensions(board: Board, wanted: Sequence[Along]) -> None:
    """Draw dimensions along the strap: every line first, so that figures can keep clear of all of them."""
    reach: dict[tuple[float, float, bool], float] = {}
    for dim in wanted:
        for x, start in ((dim.x0, dim.from0), (dim.x1, dim.from1)):
            up = dim.y < start
            key = (x, start, up)
            ends = dim.y - _EXTENSION_BEYOND if up else dim.y + _EXTENSION_BEYOND
            reach[key] = (min if up else max)(reach.get(key, ends), ends)
    for (x, start, up), end in reach.items():
        board.line(x, start - _EXTENSION_GAP if up else start + _EXTENSION_GAP, x, end)
    for dim in wanted:
        _arrows(board, dim.x0, dim.y, dim.x1, dim.y)
    for dim in wanted:
        _figures_along(board, dim)


def _arrows(board: Board, x0: float, y0: float, x1: float, y1: float) -> None:
    """Draw a dimension line to the right or down with its arrowheads."""
    board.line(x0, y0, x1, y1)
    back, on = (math.pi, 0.0) if y0 == y1 else (-math.pi / 2, math.pi / 2)
    if (
        math.dist((x0, y0), (x1, y1)) < 2 * _HEAD + 4
    ):  # too short for arrowheads: they stand outside and point inwards
        dx, dy = (2 * _HEAD, 0.0) if y0 == y1 else (0.0, 2 * _HEAD)
        board.line(x0 - dx, y0 - dy, x0, y0)
        board.line(x1, y1, x1 + dx, y1 + dy)
        back, on = on, back
    head(board, x0, y0, back)
    head(board, x1, y1, on)


def _figures_along(board: Board, dim: Along) -> None:
    y = dim.y - _ABOVE
    for text, x in _places_along(dim):
        if board.is_free(text_box(text, x, y, FIGURE_SIZE)):
            break
    else:
        text = dim.texts[-1]
        x = (dim.x0 + dim.x1 - text_width(text, FIGURE_SIZE)) / 2
    end = x + text_width(text, FIGURE_SIZE)
    if x >= dim.x1:
        board.line(dim.x1, dim.y, end, dim.y)
    elif end <= dim.x0:
        board.line(x, dim.y, dim.x0, dim.y)
    board.text(text, x, y, figure=dim.figure)


def _places_along(dim: Along) -> Iterator[tuple[str, float]]:
    for text in dim.texts:
        spare = dim.x1 - dim.x0 - text_width(text, FIGURE_SIZE) - 4
        if spare >= 0:
            for share in (0.5, 0.3, 0.7, 0.1, 0.9, 0.0, 1.0):
                yield text, dim.x0 + 2 + share * spare
    for text in dim.texts:
        for step in range(60):
            if dim.outward >= 0:
                yield text, dim.x1 + _BESIDE + 4 * step
            if dim.outward <= 0:
                yield text, dim.x0 - _BESIDE - text_width(text, FIGURE_SIZE) - 4 * step


def across(
    board: Board, x: float, y0: float, y1: float, from_x: float, texts: tuple[str, ...], figure: str = ""
) -> None:
    """Draw a dimension across the strap, left of it, its figures turned to be read from the right.

    Args:
        board: the drawing.
        x: of the dimension line.
        y0: its upper end.
        y1: its lower end.
        from_x: where the extension lines begin, right of the line.
        texts: figures, the wordiest first; the first that fits between the ends is taken, else the last,
            beyond one of them.
        figure: its name, as `Text` has it.
    """
    for y in (y0, y1):
        board.line(from_x - _EXTENSION_GAP, y, x - _EXTENSION_BEYOND, y)
    _arrows(board, x, y0, x, y1)
    fitting = [text for text in texts if text_width(text, FIGURE_SIZE) <= y1 - y0]
    if fitting:
        board.text(fitting[0], x - _ABOVE, (y0 + y1) / 2, anchor="middle", turned=True, figure=figure)
        return
    reach = _BESIDE + text_width(texts[-1], FIGURE_SIZE)
    above = text_box(texts[-1], x - _ABOVE, y0 - _BESIDE, FIGURE_SIZE, turned=True)
    if board.is_free(above):
        board.line(x, y0, x, y0 - reach)
        board.text(texts[-1], x - _ABOVE, y0 - _BESIDE, turned=True, figure=figure)
    else:
        board.line(x, y1, x, y1 + reach)
        board.text(texts[-1], x - _ABOVE, y1 + reach, turned=True, figure=figure)


def leader(
    board: Board,
    x: float,
    y: float,
    texts: tuple[str, ...],
    elbows: Iterable[tuple[float, float, int]],
    *,
    radius: float = 0.0,
    figure: str = "",
) -> None:
    """Draw a leader: an arrow on the part, a slanted line, and text on a short level line.

    Args:
        board: the drawing.
        x: of the arrow's point, or of the centre of a hole.
        y: of the same.
        texts: lines, the first written above the level line, the others below it.
        elbows: where slanted and level line may meet and which way the text runs, -1 left or 1 right;
            the first that finds room, crossing no other line if that can be had, is taken.
        radius: of the hole, px, at whose rim the arrow ends; 0 for a point.
        figure: name of what its lines give, as `Text` has it.
    """
    room = max(text_width(text, FIGURE_SIZE) for text in texts) + 4
    places = list(elbows)
    ex, ey, side = places[-1]
    for of_lines in (True, False):
        for ex, ey, side in places:
            level = (ex, ey, ex + side * room, ey)
            boxes = [text_box(text, *at, FIGURE_SIZE) for text, at in _on_level(texts, ex, ey, side)]
            if (
                all(board.is_free(box) and not box.is_crossed(x, y, ex, ey) for box in boxes)
                and board.is_clear(level, of_lines=of_lines)
                and board.is_clear((x, y, ex, ey), of_lines=of_lines)
            ):
                break
        else:
            continue
        break
    share = radius / math.dist((x, y), (ex, ey))
    x, y = x + share * (ex - x), y + share * (ey - y)
    board.line(x, y, ex, ey)
    board.line(ex, ey, ex + side * room, ey)
    head(board, x, y, math.atan2(y - ey, x - ex))
    for text, (tx, ty) in _on_level(texts, ex, ey, side):
        board.text(text, tx, ty, figure=figure)


def _on_level(texts: tuple[str, ...], x: float, y: float, side: int) -> list[tuple[str, tuple[float, float]]]:
    placed = []
    for index, text in enumerate(texts):
        left = x + 4 if side > 0 else x - 4 - text_width(text, FIGURE_SIZE)
        below = y + FIGURE_SIZE * (1 + 1.25 * (index - 1))
        placed.append((text, (left, below if index else y - _ABOVE + 1)))
    return placed


def head(board: Board, x: float, y: float, angle: float) -> None:
    """Draw a filled arrowhead with its point at a place, pointing along an angle (y down), radians."""
    c, s = math.cos(angle), math.sin(angle)
    corners = [
        (x - _HEAD * c - side * _HEAD_HALF * s, y - _HEAD * s + side * _HEAD_HALF * c) for side in (-1, 1)
    ]
    board.add(polygon("head", (x, y), *corners))


def _cross(one: Segment, other: Segment) -> bool:
    ax, ay, bx, by = one
    cx, cy, dx, dy = other
    if (
        max(ax, bx) < min(cx, dx)
        or max(cx, dx) < min(ax, bx)
        or max(ay, by) < min(cy, dy)
        or max(cy, dy) < min(ay, by)
    ):
        return False

    def side(px: float, py: float, qx: float, qy: float, rx: float, ry: float) -> float:
        return (qx - px) * (ry - py) - (qy - py) * (rx - px)

    return (
        side(ax, ay, bx, by, cx, cy) * side(ax, ay, bx, by, dx, dy) < 0
        and side(cx, cy, dx, dy, ax, ay) * side(cx, cy, dx, dy, bx, by) < 0
    )
