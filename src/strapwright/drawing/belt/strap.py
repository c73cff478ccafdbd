"""A strap seen from above: outline, holes, slots and lines at true proportion, its middle broken out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.drawing.canvas import Path, cross, polyline
from strapwright.geometry.contour import Contour
from strapwright.geometry.intervals import within_x
from strapwright.parts.marks import MARK
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from strapwright.drawing.dimension_lines import Board
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.parts.part import Feature
    from strapwright.parts.tips.tip import Tip

LEFT: Final = 78.0
"""Where the blank begins, px: room for the strap's width at its left."""

RIGHT: Final = 44.0
"""Free room at its right, px."""

GREATEST_SCALE: Final = 3.2
"""Px per mm; narrow straps are drawn no larger than this."""

BREAK: Final = 34.0
"""Between the two pieces, px."""

TALLEST: Final = 420.0
"""Nothing is drawn higher than this, px: a sketch may be as wide as it is long."""

BEYOND: Final = 14.0
"""What is drawn of the plain strap beyond the last thing made in it, mm."""


@dataclass(frozen=True)
class View:
    """How places on the strap become places on the drawing.

    Args:
        scale: px per mm.
        start: x of the blank's left end, mm.
        cut: the break, from and to, mm; the same twice where the whole blank is drawn.
        middle: y of the centre line, px.
    """

    scale: float
    start: float
    cut: tuple[float, float]
    middle: float

    @property
    def is_broken(self) -> bool:
        """Whether a piece of the middle is left out."""
        return self.cut[1] > self.cut[0]

    def shift(self, *, tip: bool) -> float:
        """Return what is added to the scaled x of the buckle end's piece, or the tip's, px."""
        if tip and self.is_broken:
            return LEFT + BREAK + self.scale * (self.cut[0] - self.cut[1] - self.start)
        return LEFT - self.scale * self.start

    def x(self, mm: float) -> float:
        """Return a place along the strap, px."""
        return self.scale * mm + self.shift(tip=mm >= self.cut[1])

    def y(self, mm: float) -> float:
        """Return a place across the strap, px down."""
        return self.middle - self.scale * mm

    def path(self, look: str, contour: Contour, *, tip: bool) -> Path:
        """Return a contour as it lies on the drawing."""
        scale = np.array([self.scale, -self.scale, -1.0])
        shift = np.array([self.shift(tip=tip), self.middle, 0.0])
        return Path((Contour(contour.vertices * scale + shift, contour.closed),), look)


def scale_and_break(items: Sequence[StrapDraft], width: float) -> tuple[float, tuple[float, float]]:
    """Return the scale that fills a drawing of this width, px per mm, and the break, from and to, mm.

    Args:
        items: the belt or strap, or belts that share one buckle end and are drawn on one another.
        width: of the drawing, px.
    """
    longest = max(items, key=lambda item: item.blank_length)
    start, low, end, high = longest.strap.outline.bounding_box
    room, plain = width - LEFT - RIGHT, [item.strap.plain for item in items]
    whole = min(GREATEST_SCALE, room / (end - start), TALLEST / (high - low))
    cut = max(x for x, _ in plain) + BEYOND, min(x for _, x in plain) - BEYOND
    scale = min(GREATEST_SCALE, (room - BREAK) / (cut[0] - start + end - cut[1])) if cut[1] > cut[0] else 0.0
    # A blank so short that a break would save little is drawn whole.
    return (scale, cut) if whole < 0.75 * scale else (whole, (end, end))


def nose_of(tip: Tip) -> float:
    """Return y of a tip's foremost point, or of its lower corner where it ends in an edge across, mm."""
    return min((y for x, y, _ in tip.vertices() if x > -1e-6), default=0.0)


def draw_strap(board: Board, item: StrapDraft, view: View) -> None:
    """Draw a strap with everything made in it, its centre line and fold lines, and no figures."""
    strap = item.strap
    draw_outline(board, item, view)
    for feature in strap.features():
        draw_feature(board, feature, view)
    if strap.ends:
        draw_breaks(board, item.width / 2, strap.outline.bounding_box[2], view)
    centres = [centre for row in strap.hole_rows for centre in row.centres]
    for one in strap.turned:
        centres += [(one.x(x), y) for x, y in one.end.fastener_centres]
    for x, y in centres:
        draw_cross(board, view.x(x), view.y(y))


def draw_outline(board: Board, item: StrapDraft, view: View) -> None:
    """Draw a strap's outline and fold lines."""
    for contour, tip in drawn_pieces(item.strap.outline, view):
        board.add(view.path("leather cut", contour, tip=tip))
    _, low, _, high = item.strap.outline.bounding_box
    for one in item.strap.turned:
        x = view.x(one.fold)
        board.add(polyline("fold", (x, view.y(high)), (x, view.y(low))))


def draw_breaks(board: Board, half_width: float, end: float, view: View) -> None:
    """Draw the lines where the middle of a strap is left out, and its centre line.

    Args:
        board: the drawing.
        half_width: of the strap, mm.
        end: its highest x, mm.
        view: how it lies on the drawing.
    """
    half = view.scale * half_width + 6
    if view.is_broken:
        for x in (view.x(view.cut[0] - 1e-6), view.x(view.cut[1])):
            steps = ((0, -half), (0, -10), (-5, -4), (5, 4), (0, 10), (0, half))
            board.add(polyline("thin", *((x + dx, view.middle + dy) for dx, dy in steps)))
    last = view.x(end) + 8
    ends = [(LEFT - 8, last)]
    if view.is_broken:
        ends = [(LEFT - 8, view.x(view.cut[0] - 1e-6) - 8), (view.x(view.cut[1]) + 8, last)]
    for x0, x1 in ends:
        board.add(polyline("centre", (x0, view.middle), (x1, view.middle)))


def draw_cross(board: Board, x: float, y: float) -> None:
    """Draw the small cross that marks a centre."""
    board.add(cross("thin", x, y, 3))


def draw_feature(board: Board, feature: Feature, view: View) -> None:
    """Draw one thing made in a part, cut and scored lines each in their own style."""
    kind = "score" if feature.operation is Operation.SCORE else "hole cut"
    if feature.name == MARK:
        kind = "mark"  # lettering in dashes could not be read
    for contour, tip in drawn_pieces(feature.contour, view):
        board.add(view.path(kind, contour, tip=tip))


def drawn_pieces(contour: Contour, view: View) -> Iterable[tuple[Contour, bool]]:
    """Return what is drawn of a contour: each piece, and whether it belongs to the tip's."""
    x0, _, x1, _ = contour.bounding_box
    if not view.is_broken or x1 <= view.cut[0]:
        return [(contour, False)]
    if x0 >= view.cut[1]:
        return [(contour, True)]
    return [
        (severed(contour, view.cut[0], keep_left=True), False),
        (severed(contour, view.cut[1], keep_left=False), True),
    ]


def severed(contour: Contour, x: float, *, keep_left: bool) -> Contour:
    """Return one side of a counter-clockwise outline cut square across two straight edges, as an open run.

    Args:
        contour: closed, counter-clockwise; at ``x`` it has two edges, both straight.
        x: where it is cut, mm.
        keep_left: keep what lies before ``x``, else what lies beyond.

    Example:
        >>> box = Contour.from_points([(0, 0), (9, 0), (9, 2), (0, 2)])
        >>> severed(box, 4.0, keep_left=True).vertices[:, :2].tolist()
        [[4.0, 2.0], [0.0, 2.0], [0.0, 0.0], [4.0, 0.0]]
    """
    low, _, high, _ = contour.bounding_box
    (run,) = within_x(contour, *((low - 1.0, x) if keep_left else (x, high + 1.0)))
    return run
