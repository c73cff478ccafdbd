"""The two end pieces of a belt, to be tried in scrap, each drawn whole with its dimensions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.drawing.belt.blank import (
    FIRST_TIER,
    TIER,
    end_dimensions,
    fastener_leader,
    hole_leader,
    holes_words,
    slot_leader,
)
from strapwright.drawing.belt.strap import LEFT, RIGHT, View, draw_cross, draw_feature
from strapwright.drawing.canvas import polyline
from strapwright.drawing.dimension_lines import Along, across, dimensions
from strapwright.drawing.text import Box, figure
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.core.units import Units
    from strapwright.drawing.dimension_lines import Board
    from strapwright.job.strap_draft import BeltDraft
    from strapwright.parts.part import Part

_GREATEST_SCALE: Final = 4.0


def draw_ends(board: Board, belt: BeltDraft, pieces: Sequence[Part], top: float, units: Units) -> float:
    """Draw a belt's end pieces one below the other.

    Args:
        board: the drawing.
        belt: the belt.
        pieces: its buckle end and its tip end.
        top: free room begins here, px.
        units: of the figures.

    Returns:
        Where free room begins below them, px.
    """
    for piece in pieces:
        top = _piece(board, belt, piece, top, units)
    return top


def _piece(board: Board, belt: BeltDraft, piece: Part, top: float, units: Units) -> float:
    x0, low, x1, high = piece.outline.bounding_box
    scale = min(_GREATEST_SCALE, (board.width - LEFT - RIGHT) / (x1 - x0))
    turned = [one for one in belt.strap.turned if x0 < one.fold]
    board.text(piece.id.rpartition("/")[2], LEFT, top + 17)
    above = FIRST_TIER + sum(len(one.end.rows) * TIER for one in turned)
    view = View(scale, x0, (x1, x1), top + above + 62.0 + scale * high)
    upper, lower = view.y(high), view.y(low)
    board.add(view.path("leather cut", piece.outline, tip=False))
    for feature in piece.features:
        draw_feature(board, feature, view)
        circle = feature.contour.as_circle(1e-6) if feature.operation is not Operation.SCORE else None
        if circle is not None and circle[2] > 2.0:
            draw_cross(board, view.x(circle[0]), view.y(circle[1]))
    board.add(polyline("centre", (LEFT - 8, view.middle), (view.x(x1) + 8, view.middle)))
    board.solids.append(Box(LEFT, upper, view.x(x1), lower))
    wanted: list[Along] = []
    for one in turned:
        fold, below = view.x(one.fold), [lower + 30 + 12 * step for step in range(12)]
        board.add(polyline("fold", (fold, upper), (fold, lower)))
        wanted += end_dimensions(board, one, view, upper, upper - above, units)
        with board.reserved([(view.x(x1), lower, view.x(x1), lower + 300)]):  # the piece's own dimension
            fastener_leader(board, one, view, below, units, brief=True)
            slot_leader(board, one, view, below, units, brief=True)
    if not turned:
        wanted += _tip_end(board, belt, piece, view, units)
    dimensions(board, wanted)
    width = figure(high - low, units, exact=True)
    across(board, LEFT - 26, upper, lower, LEFT, (f"strap {width}", width))
    bottom = max(lower, *(box.y1 for box in board.texts)) + 24
    long = figure(x1 - x0, units)
    dimensions(board, [Along(LEFT, view.x(x1), bottom, lower, lower, (f"piece {long}", long))])
    return bottom + 12


def _tip_end(board: Board, belt: BeltDraft, piece: Part, view: View, units: Units) -> Iterator[Along]:
    """Yield the last hole to the tip and the pitch; draw the leader of the holes that lie on the piece."""
    holes = belt.strap.holes
    x0, low, x1, high = piece.outline.bounding_box
    there = [x for x in holes.xs if x - holes.reach / 2 > x0]
    if not there:
        return
    words = (holes_words(len(there) * holes.rows, holes.diameter, units),)
    hole_leader(board, view, there[-1], holes, view.y(high), words, sides=(1,))
    last = figure(belt.figures.last_to_tip, units)
    x, start, level = (
        view.x(there[-1]),
        view.y(holes.ys[0] - holes.diameter / 2),
        view.y(low) + FIRST_TIER + 2,
    )
    yield Along(
        x, view.x(x1), level, start, view.y(low), (f"last hole to tip {last}", f"to tip {last}", last)
    )
    if len(there) > 1:
        step = figure(holes.spacing, units, exact=True, finest=64)
        yield Along(view.x(there[-2]), x, level, start, start, (step,), -1)
