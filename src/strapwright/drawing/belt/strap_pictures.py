"""A strap without figures: in small for lists, and step by step as it is on the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

from strapwright.drawing.belt.strap import (
    LEFT,
    RIGHT,
    View,
    draw_breaks,
    draw_cross,
    draw_feature,
    draw_strap,
    drawn_pieces,
    scale_and_break,
)
from strapwright.drawing.canvas import Canvas, Group, Line, Path, Text, polygon, polyline
from strapwright.drawing.dimension_lines import Board
from strapwright.geometry.contour import Contour
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from strapwright.drawing.canvas import Item
    from strapwright.job.strap_draft import BeltDraft, StrapDraft
    from strapwright.parts.keeper import KeeperStrip


WIDTH: Final = 480.0
"""Of every picture, px, its margins cut off."""

_AROUND: Final = 12.0

_WORDS: Final = 20.0
"""Room for the ends' names under a strap, px."""

Made = Literal["no", "marked", "made"]


def stage(
    belt: BeltDraft,
    *,
    cut: bool = False,
    holes: Made = "no",
    slots: Made = "no",
    lines: bool = False,
    names: tuple[str, str] = ("", ""),
) -> Canvas:
    """Return a picture of a belt's strap at one step of the work, its middle broken out.

    Args:
        belt: its draft.
        cut: whether tip and corners are cut; else it is a blank with square ends.
        holes: whether they are punched, marked or neither.
        slots: the same of the slots.
        lines: whether crease and stitch lines are drawn in.
        names: of the buckle end and of the tip, written under them.
    """
    outline = belt.strap.outline
    start, low, end, high = outline.bounding_box
    board = Board(WIDTH, 0.0)
    scale, broken = scale_and_break([belt], WIDTH)
    view = View(scale, start, broken, _AROUND + scale * high)
    if not cut:
        outline = Contour.from_points([(start, low), (end, low), (end, high), (start, high)])
    for contour, tip in drawn_pieces(outline, view):
        board.add(view.path("leather cut", contour, tip=tip))
    if holes != "no":
        for one in belt.strap.turned:
            x = view.x(one.fold)
            board.add(polyline("fold", (x, view.y(high)), (x, view.y(low))))
    for feature in belt.strap.features():
        x0, y0, x1, y1 = feature.contour.bounding_box
        made = slots if feature.name == "prong slot" else holes
        if feature.operation is Operation.SCORE:
            if lines:
                draw_feature(board, feature, view)
        elif made == "made":
            draw_feature(board, feature, view)
        elif made == "marked":
            ends = (x0 + (y1 - y0) / 2, x1 - (y1 - y0) / 2) if x1 - x0 > y1 - y0 else ((x0 + x1) / 2,)
            for x in ends:
                draw_cross(board, view.x(x), view.y((y0 + y1) / 2))
    draw_breaks(board, belt.width / 2, end, view)
    below = 2 * _AROUND + scale * (high - low)
    if any(names):
        board.add(Text(names[0], LEFT, below + 10.0, 15.0))
        board.add(Text(names[1], view.x(end), below + 10.0, 15.0, "end"))
    return _without_margins(board, below + (_WORDS if any(names) else 0.0), belt.id)


def keeper_picture(keeper: KeeperStrip) -> Canvas:
    """Return a picture of a keeper's strip, flat, with its join marks and guide holes."""
    x0, low, x1, high = keeper.outline.bounding_box
    scale = min(2.4, (WIDTH - LEFT - RIGHT) / (x1 - x0))
    board = Board(WIDTH, 0.0)
    view = View(scale, x0, (x1, x1), _AROUND + scale * high)
    board.add(view.path("leather cut", keeper.outline, tip=False))
    for feature in keeper.features():
        draw_feature(board, feature, view)
    return _without_margins(board, 2 * _AROUND + scale * (high - low), "keeper")


def straight_edge() -> Canvas:
    """Return a picture of a hide's uneven edge with a rule along the line it is cut on."""
    uneven = [(12.0, 34.0), (70.0, 22.0), (130.0, 36.0), (200.0, 20.0), (262.0, 32.0), (320.0, 18.0)]
    items: tuple[Item, ...] = (
        polygon("sample", *uneven, (360.0, 30.0), (360.0, 110.0), (12.0, 110.0)),
        polygon("sample-metal", (24.0, 52.0), (348.0, 52.0), (348.0, 74.0), (24.0, 74.0)),
        *(Line(24.0 + 12.0 * k, 52.0, 24.0 + 12.0 * k, 58.0, "thin") for k in range(1, 27)),
        Line(12.0, 50.0, 360.0, 50.0, "cut"),
    )
    return Canvas(372.0, 120.0, "straight edge", items, paper="none")


def bevelled_edge(belt: BeltDraft) -> Canvas:
    """Return a picture of a strap cut across: its edges as cut, and with their corners taken off."""
    wide, thick = 150.0, 150.0 * belt.thickness / belt.width
    corner = 0.3 * thick

    def section(x: float, off: float) -> Path:
        top, low = 24.0, 24.0 + 2 * thick
        return polygon(
            "leather cut",
            (x + off, top), (x + wide - off, top), (x + wide, top + off), (x + wide, low - off),
            (x + wide - off, low), (x + off, low), (x, low - off), (x, top + off),
        )  # fmt: skip

    middle = 24.0 + thick
    arrow = polygon("head", (194.0, middle), (182.0, middle - 5.0), (182.0, middle + 5.0))
    items = (section(12.0, 0.0), Line(170.0, middle, 186.0, middle, "mark"), arrow, section(202.0, corner))
    return Canvas(364.0, 48.0 + 2 * thick, "bevelled edge", items, paper="none")


def thumbnail(item: StrapDraft) -> Canvas:
    """Return a drawing of a belt's or strap's blank without figures, its middle broken out.

    Args:
        item: its draft.
    """
    start, low, _, high = item.strap.outline.bounding_box
    board = Board(WIDTH, 0.0)
    scale, cut = scale_and_break([item], WIDTH)
    draw_strap(board, item, View(scale, start, cut, _AROUND + scale * high))
    return _without_margins(board, scale * (high - low) + 2 * _AROUND, item.id)


def _without_margins(board: Board, height: float, title: str) -> Canvas:
    """Return what is on a board, its margins cut off."""
    moved = Group(tuple(board.items), x=_AROUND - LEFT)
    return Canvas(WIDTH - LEFT - RIGHT + 2 * _AROUND, height, title, (moved,), paper="none")
