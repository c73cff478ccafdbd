"""A run of sizes nested on one another: one buckle end, every size's tip and hole in use, and their table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.drawing.belt.blank import girth_figure
from strapwright.drawing.belt.strap import (
    LEFT,
    View,
    draw_breaks,
    draw_cross,
    draw_feature,
    draw_outline,
    nose_of,
    scale_and_break,
    severed,
)
from strapwright.drawing.canvas import Circle
from strapwright.drawing.dimension_lines import FIGURE_SIZE
from strapwright.drawing.text import Box, figure, text_width

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.units import Units
    from strapwright.drawing.dimension_lines import Board
    from strapwright.job.strap_draft import BeltDraft

_CLEAR: Final = 6.0
"""A label's line runs straight this far beyond the strap before it slants, px."""

_SLANT: Final = (14.0, 56.0)
"""Least and greatest height of the slanted pieces, px; more where they reach further sideways."""

_BETWEEN: Final = 7.0
_LINE: Final = 18.0
_COLUMNS: Final = ("size", "blank", "hole in use", "waist or girth")
_ENDS: Final = (62.0, 142.0, 246.0, 408.0)
"""Where the table's columns end, from its left edge, px."""

_BLOCK: Final = 458.0
_LONGEST_BLOCK: Final = 14
"""A table of more rows stands in two blocks side by side."""


def draw_run(board: Board, belts: Sequence[BeltDraft], top: float, units: Units) -> float:
    """Draw belts of one run on one another, to one scale, with a table of what differs.

    Args:
        board: the drawing.
        belts: every size of the run, two or more; all but the lengths alike.
        top: free room begins here, px.
        units: of the figures.

    Returns:
        Where free room begins below, px.
    """
    sizes = sorted(belts, key=lambda belt: belt.blank_length)
    longest = sizes[-1]
    scale, cut = scale_and_break(sizes, board.width)
    half = scale * longest.figures.width / 2
    view = View(scale, -longest.figures.end.turn_back, cut, 0.0)
    fan = _fan(board, sizes, [view.x(belt.figures.hole_in_use) for belt in sizes])
    board.text("All sizes on one another: hole in use of each size", LEFT, top + 17)
    view = View(scale, view.start, cut, top + 30 + fan.slant + 4 + fan.room + _CLEAR + half)
    upper, lower = view.middle - half, view.middle + half
    _draw_pieces(board, sizes, view)
    board.solids.append(Box(LEFT, upper, view.x(longest.strap.span), lower))

    rims = [view.y(row.ys[-1]) - scale * row.diameter / 2 for row in (belt.strap.holes for belt in sizes)]
    _draw_fan(board, fan, rims, upper, up=True)
    fan = _fan(board, sizes, [view.x(belt.strap.span) for belt in sizes])
    noses = [view.y(nose_of(belt.strap.tip)) for belt in sizes]
    bottom = _draw_fan(board, fan, noses, lower, up=False)
    board.text("tip of each size", LEFT, bottom + 17)
    return _table(board, belts, bottom + 34, units)


def _draw_pieces(board: Board, sizes: Sequence[BeltDraft], view: View) -> None:
    """Draw the longest blank, the others' tips on it, and of each its hole in use."""
    longest = sizes[-1]
    draw_outline(board, longest, view)
    for belt in sizes[:-1]:
        strap = belt.strap
        straight = strap.span - strap.tip.reach - strap.crease - 2.0  # a little before the tip
        tip = severed(strap.outline, straight, keep_left=False)
        board.add(view.path("cut", tip, tip=True))
    for feature in longest.strap.features():
        if feature.contour.bounding_box[2] <= view.cut[0]:
            draw_feature(board, feature, view)
    for belt in sizes:
        x, row = view.x(belt.figures.hole_in_use), belt.strap.holes
        for y in map(view.y, row.ys):
            board.add(Circle(x, y, view.scale * row.diameter / 2, "hole cut"))
            draw_cross(board, x, y)
    draw_breaks(board, longest.figures.width / 2, longest.strap.span, view)


@dataclass(frozen=True)
class _Fan:
    """Sizes whose labels stand beside one another, off the places on the strap they belong to.

    Args:
        labels: of the sizes.
        xs: their places on the strap, px.
        ends: the middle of each label, px.
        turned: whether they are turned.
        room: how high they are then, px.
    """

    labels: Sequence[str]
    xs: Sequence[float]
    ends: Sequence[float]
    turned: bool
    room: float

    @property
    def slant(self) -> float:
        """How high the slanted pieces of their lines are, px."""
        sideways = max(abs(end - x) for x, end in zip(self.xs, self.ends, strict=True))
        return min(max(0.4 * sideways, _SLANT[0]), _SLANT[1])


def _fan(board: Board, sizes: Sequence[BeltDraft], xs: Sequence[float]) -> _Fan:
    """Return sizes' labels spread along a line, each as near its own place as the others let it."""
    labels = [belt.run_size for belt in sizes]
    widest = max(text_width(label, FIGURE_SIZE) for label in labels)
    least, most = board.margin + widest / 2, board.width - board.margin - widest / 2
    turned = (len(xs) - 1) * (widest + _BETWEEN) > most - least
    pitch = FIGURE_SIZE + 4 if turned else widest + _BETWEEN
    return _Fan(labels, xs, spread(xs, pitch, least, most), turned, widest if turned else FIGURE_SIZE)


def spread(xs: Sequence[float], pitch: float, least: float, most: float) -> list[float]:
    """Return places at least a pitch apart and within limits, moved as little as may be in total squares.

    Args:
        xs: where each would stand, ascending.
        pitch: kept between two neighbours.
        least: lowest place allowed.
        most: highest place allowed; there must be room for all.

    Example:
        >>> spread([10.0, 11.0, 40.0], 5.0, 0.0, 100.0)
        [8.0, 13.0, 40.0]
    """
    # With i · pitch taken off, "a pitch apart" is "not descending": pool whatever descends into its mean.
    pools: list[tuple[float, int]] = []
    for index, x in enumerate(xs):
        total, count = x - index * pitch, 1
        while pools and pools[-1][0] / pools[-1][1] > total / count:
            before, among = pools.pop()
            total, count = total + before, count + among
        pools.append((total, count))
    level = [total / count for total, count in pools for _ in range(count)]
    highest = most - (len(xs) - 1) * pitch
    return [min(max(x, least), highest) + index * pitch for index, x in enumerate(level)]


def _draw_fan(board: Board, fan: _Fan, ys: Sequence[float], edge: float, *, up: bool) -> float:
    """Draw lines from places on the strap past its edge to their labels; return the far end, px."""
    way = -1 if up else 1
    near = edge + way * _CLEAR
    far = near + way * fan.slant
    for label, x, end, y in zip(fan.labels, fan.xs, fan.ends, ys, strict=True):
        board.line(x, y, x, near)
        board.line(x, near, end, far)
        if fan.turned:
            foot = far - 3 if up else far + 3 + text_width(label, FIGURE_SIZE)
            board.text(label, end + 0.27 * FIGURE_SIZE, foot, turned=True)
        else:
            board.text(label, end, far - 5 if up else far + 13, anchor="middle")
    return far + way * (4 + fan.room)


def _table(board: Board, belts: Sequence[BeltDraft], top: float, units: Units) -> float:
    """Write the table in the order the sizes were asked for; return where free room begins below it, px."""
    rows = [_row(belt, units) for belt in belts]
    half = len(rows) if len(rows) <= _LONGEST_BLOCK else (len(rows) + 1) // 2
    bottom = top
    for block in range(0, len(rows), half):
        left, y = LEFT + (_BLOCK if block else 0.0), top + _LINE
        for end, column in zip(_ENDS, _COLUMNS, strict=True):
            board.text(column, left + end, y, anchor="end", bold=True)
        board.line(left, y + 6, left + _ENDS[-1], y + 6, "rule")
        y += 6
        for row in rows[block : block + half]:
            y += _LINE
            for end, cell in zip(_ENDS, row, strict=True):
                board.text(cell, left + end, y, anchor="end")
        bottom = max(bottom, y + 10)
    return bottom


def _row(belt: BeltDraft, units: Units) -> tuple[str, ...]:
    got = belt.figures
    least, most = (girth_figure(girth, units) for girth in sorted(got.girths))
    return belt.run_size, figure(belt.blank_length, units), figure(got.hole_in_use, units), f"{least}–{most}"
