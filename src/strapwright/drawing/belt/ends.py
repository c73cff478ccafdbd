"""The two end pieces of a belt, to be tried in scrap, each drawn whole with its dimensions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.drawing.belt.blank import fastener_words
from strapwright.drawing.belt.strap import LEFT, RIGHT, View, draw_cross, draw_feature
from strapwright.drawing.canvas import polyline
from strapwright.drawing.dimension_lines import Along, across, dimensions, leader
from strapwright.drawing.text import Box, figure
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.units import Units
    from strapwright.drawing.dimension_lines import Board
    from strapwright.job.strap_draft import BeltDraft
    from strapwright.parts.part import Part

_GREATEST_SCALE: Final = 4.0
_TIER: Final = 23.0
_FIRST_TIER: Final = 20.0


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
    buckle_end = x0 < 0.0
    board.text(piece.id.rpartition("/")[2], LEFT, top + 17)
    above = _FIRST_TIER + 62.0 + (len(belt.strap.buckle_end.rows) * _TIER if buckle_end else 0.0)
    view = View(scale, x0, (x1, x1), top + above + scale * high)
    upper, lower = view.y(high), view.y(low)
    board.add(view.path("leather cut", piece.outline, tip=False))
    for feature in piece.features:
        draw_feature(board, feature, view)
        circle = feature.contour.as_circle(1e-6) if feature.operation is not Operation.SCORE else None
        if circle is not None and circle[2] > 2.0:
            draw_cross(board, view.x(circle[0]), view.y(circle[1]))
    board.add(polyline("centre", (LEFT - 8, view.middle), (view.x(x1) + 8, view.middle)))
    board.solids.append(Box(LEFT, upper, view.x(x1), lower))
    dimensions(board, (_buckle_end if buckle_end else _tip_end)(board, belt, piece, view, units))
    width = figure(high - low, units, exact=True)
    across(board, LEFT - 26, upper, lower, LEFT, (f"strap {width}", width))
    bottom = max(lower, *(box.y1 for box in board.texts)) + 24
    long = figure(x1 - x0, units)
    dimensions(board, [Along(LEFT, view.x(x1), bottom, lower, lower, (f"piece {long}", long))])
    return bottom + 12


def _buckle_end(board: Board, belt: BeltDraft, piece: Part, view: View, units: Units) -> list[Along]:
    """Return rows and mates, each on a tier of its own, and the turn-back; draw fold line and leaders."""
    end, fold = belt.strap.buckle_end, view.x(0.0)
    _, low, _, high = piece.outline.bounding_box
    upper, lower = view.y(high), view.y(low)
    board.add(polyline("fold", (fold, upper), (fold, lower)))
    wanted = []
    for tier, (name, row, mate) in enumerate(zip("ABC", end.rows, end.mates, strict=False)):
        y = upper - _FIRST_TIER - tier * _TIER
        wanted.append(Along(fold, view.x(row), y, upper, upper, (f"{name} {figure(row, units)}",), 1))
        wanted.append(Along(view.x(mate), fold, y, upper, upper, (f"{name}′ {figure(-mate, units)}",), -1))
    highest = upper - _FIRST_TIER - len(end.rows) * _TIER
    back = figure(end.turn_back, units)
    wanted.append(Along(LEFT, fold, highest, upper, upper, (f"turn-back {back}", back), -1))
    board.line(fold, highest - 6, fold, highest - 20)
    board.text("fold line", fold, highest - 24, anchor="middle")
    below = [lower + 30 + 12 * step for step in range(12)]
    if end.rows:
        x, y = view.x(end.rows[-1]), view.y(end.fastener_ys[0])
        places = [(x + 18 + 6 * dx, ey, 1) for ey in below for dx in range(4)]
        radius = view.scale * end.diameters[-1][0] / 2
        leader(board, x, y, fastener_words(end, units), places, radius=radius)
    if end.slot_ys:
        size = f"{figure(end.slot_length, units, exact=True)} × {figure(end.slot_width, units, exact=True)}"
        words = f"slot {size}" if len(end.slot_ys) == 1 else f"2 slots {size}"
        x = view.x(-0.2 * end.slot_length)
        y = view.y(end.slot_ys[0] - end.slot_width / 2)
        leader(board, x, y, (words,), [(x - 6 - 6 * dx, ey, -1) for ey in below for dx in range(3)])
    return wanted


def _tip_end(board: Board, belt: BeltDraft, piece: Part, view: View, units: Units) -> list[Along]:
    """Return the last hole to the tip; draw the leader of the holes that lie on the piece."""
    holes = belt.strap.holes
    x0, low, x1, high = piece.outline.bounding_box
    there = [x for x in holes.xs if x - holes.reach / 2 > x0]
    if not there:
        return []
    upper, lower, tip = view.y(high), view.y(low), view.x(x1)
    x, y = view.x(there[-1]), view.y(holes.ys[-1])
    words = f"⌀{figure(holes.diameter, units, exact=True)}"
    if len(there) * holes.rows > 1:
        words = f"{len(there) * holes.rows} × {words}"
    lead = 0.6 * (24 + y - upper)
    places = [(x + lead + 8 * dx, upper - 22 - 2 * dy, 1) for dy in range(4) for dx in range(24)]
    leader(board, x, y, (words,), places, radius=view.scale * holes.diameter / 2)
    last = figure(belt.figures.last_to_tip, units)
    start = view.y(holes.ys[0] - holes.diameter / 2)
    level = lower + _FIRST_TIER + 2
    wanted = [Along(x, tip, level, start, lower, (f"last hole to tip {last}", f"to tip {last}", last))]
    if len(there) > 1:
        step = figure(holes.spacing, units, exact=True, finest=64)
        before = view.x(there[-2])
        wanted.append(Along(before, x, level, start, start, (step,), -1))
    return wanted
