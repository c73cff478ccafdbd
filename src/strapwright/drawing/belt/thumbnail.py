"""A strap in small, for lists: its outline and what is made in it, without figures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.drawing.belt.strap import LEFT, RIGHT, View, draw_strap, scale_and_break
from strapwright.drawing.canvas import Canvas, Group
from strapwright.drawing.dimension_lines import Board

if TYPE_CHECKING:
    from strapwright.job.strap_draft import StrapDraft

_WIDTH: Final = 480.0
"""Of a drawing whose margins are cut off, px."""

_AROUND: Final = 12.0
"""Left free round the strap, px."""


def thumbnail(item: StrapDraft) -> Canvas:
    """Return a drawing of a belt's or strap's blank without figures, its middle broken out.

    Args:
        item: its draft.
    """
    start, low, _, high = item.strap.outline.bounding_box
    board = Board(_WIDTH, 0.0)
    scale, cut = scale_and_break([item], _WIDTH)
    tall = scale * (high - low)
    draw_strap(board, item, View(scale, start, cut, _AROUND + scale * high))
    moved = Group(tuple(board.items), x=_AROUND - LEFT)
    width = _WIDTH - LEFT - RIGHT + 2 * _AROUND
    return Canvas(width, tall + 2 * _AROUND, item.id, (moved,), paper="none")
