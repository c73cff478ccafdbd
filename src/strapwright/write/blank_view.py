"""The blank of a belt, drawn at true proportion: buckle end, a break, tip end, with its dimensions."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.contour import Contour
from strapwright.parts.part import Operation
from strapwright.units import format_length
from strapwright.write.dimension_lines import Along, across, dimensions, leader, number
from strapwright.write.lettering import Box
from strapwright.write.svg import path_data

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import Literal

    from strapwright.job.draft import BeltDraft
    from strapwright.parts.part import Feature
    from strapwright.write.dimension_lines import Board

LEFT: Final = 78.0
"""Where the blank begins, px: room for the strap's width at its left."""

_RIGHT: Final = 44.0
_GREATEST_SCALE: Final = 3.2
"""Px per mm; narrow straps are drawn no larger than this."""

_BREAK: Final = 34.0
"""Between the two pieces, px."""

_BEYOND: Final = 14.0
"""What is drawn of the plain strap beyond the last thing made in it, mm."""

_TIER: Final = 23.0
_FIRST_TIER: Final = 20.0
_TIP_WORDS: Final = {
    "english_point": "English point",
    "round": "round tip",
    "spear": "spear tip",
    "square": "square tip",
    "bridle_point": "bridle point",
}


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
            return LEFT + _BREAK + self.scale * (self.cut[0] - self.cut[1] - self.start)
        return LEFT - self.scale * self.start

    def x(self, mm: float) -> float:
        """Return a place along the strap, px."""
        return self.scale * mm + self.shift(tip=mm >= self.cut[1])

    def y(self, mm: float) -> float:
        """Return a place across the strap, px down."""
        return self.middle - self.scale * mm

    def path(self, contour: Contour, *, tip: bool) -> str:
        """Return a contour as SVG path data in px, arcs as arcs."""
        scale = np.array([self.scale, self.scale, 1.0])
        shift = np.array([self.shift(tip=tip), -self.middle, 0.0])
        return path_data(Contour(contour.vertices * scale + shift, contour.closed))


def figure(mm: float, units: Literal["mm", "in"], *, exact: bool = False) -> str:
    """Return a length as a bare figure, as it stands on a dimension line.

    Args:
        mm: the length.
        units: mm to a tenth; in as fractions of 64ths, or to a thousandth.
        exact: mm to a hundredth, for what was chosen rather than computed, and for what is repeated.

    Example:
        >>> figure(985.803, "mm"), figure(33.333, "mm", exact=True), figure(44.45, "in")
        ('985.8', '33.33', '1 3/4')
    """
    return format_length(mm if exact or units == "in" else round(mm, 1), units).removesuffix(f" {units}")


def draw_blank(board: Board, belt: BeltDraft, top: float, units: Literal["mm", "in"]) -> tuple[float, float]:
    """Draw a belt's blank with its dimensions.

    Args:
        board: the drawing.
        belt: the belt.
        top: free room begins here, px.
        units: of the figures.

    Returns:
        Where free room begins below it, px, and its scale, px per mm.
    """
    tiers = len(belt.figures.rows) + 1
    highest = max(_FIRST_TIER + (tiers - 1) * _TIER, 56.0)  # room for the holes' leader below it
    scale, cut = _scale_and_break(belt, board.width)
    half = scale * belt.figures.width / 2
    view = View(scale, -belt.figures.turn_back, cut, top + 42.0 + highest + half)
    _pieces(board, belt, view)
    upper, lower = view.y(belt.figures.width / 2), view.y(-belt.figures.width / 2)
    board.solids.append(Box(LEFT, upper, view.x(belt.strap.tip_end), lower))
    bottom = _dimensions(board, belt, view, upper - highest, units)
    return bottom, scale


def _scale_and_break(belt: BeltDraft, width: float) -> tuple[float, tuple[float, float]]:
    strap, end = belt.strap, belt.strap.buckle_end
    room = width - LEFT - _RIGHT
    furthest = max((*end.rows, end.slot_length / 2)) + end.fastener_diameter / 2 + _BEYOND
    tip_start = strap.tip_end - strap.tip.reach - strap.crease - 2.0
    cut = (furthest, min(strap.holes.xs[0] - strap.holes.diameter / 2 - _BEYOND, tip_start))
    drawn = cut[0] + end.turn_back + strap.tip_end - cut[1]
    scale = min(_GREATEST_SCALE, (room - _BREAK) / drawn)
    if (cut[1] - cut[0]) * scale > 1.5 * _BREAK:
        return scale, cut
    # A blank so short that a break would save nothing is drawn whole.
    return min(_GREATEST_SCALE, room / belt.blank_length), (cut[0], cut[0])


def _pieces(board: Board, belt: BeltDraft, view: View) -> None:
    strap, outline = belt.strap, belt.strap.outline
    for contour, tip in _drawn(outline, view):
        board.add(f'<path class="leather cut" d="{view.path(contour, tip=tip)}"/>')
    _fold(board, belt, view)
    for feature in strap.features():
        _draw_feature(board, feature, view)
    half = view.scale * belt.figures.width / 2 + 6
    if view.is_broken:
        for x in (view.x(view.cut[0] - 1e-6), view.x(view.cut[1])):
            board.add(
                f'<path class="thin" d="M{number(x)},{number(view.middle - half)}V{number(view.middle - 10)}'
                f'l-5,6l10,8l-5,6V{number(view.middle + half)}"/>'
            )
    last = view.x(strap.tip_end) + 8
    ends = [(LEFT - 8, last)]
    if view.is_broken:
        ends = [(LEFT - 8, view.x(view.cut[0] - 1e-6) - 8), (view.x(view.cut[1]) + 8, last)]
    for x0, x1 in ends:
        board.add(f'<path class="centre" d="M{number(x0)},{number(view.middle)}H{number(x1)}"/>')
    for x, y in (*strap.holes.centres, *strap.buckle_end.fastener_centres):
        _cross_at(board, view.x(x), view.y(y))


def _fold(board: Board, belt: BeltDraft, view: View) -> None:
    half = belt.figures.width / 2
    x, y0, y1 = view.x(0.0), view.y(half), view.y(-half)
    board.add(f'<path class="fold" d="M{number(x)},{number(y0)}V{number(y1)}"/>')


def _cross_at(board: Board, x: float, y: float) -> None:
    board.add(f'<path class="thin" d="M{number(x - 3)},{number(y)}h6M{number(x)},{number(y - 3)}v6"/>')


def _draw_feature(board: Board, feature: Feature, view: View) -> None:
    kind = "score" if feature.operation is Operation.SCORE else "hole cut"
    for contour, tip in _drawn(feature.contour, view):
        board.add(f'<path class="{kind}" d="{view.path(contour, tip=tip)}"/>')


def _drawn(contour: Contour, view: View) -> Iterable[tuple[Contour, bool]]:
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
    before, after = contour.starts[:, 0] < x, contour.ends[:, 0] < x
    (out,) = np.flatnonzero(before & ~after)
    (back,) = np.flatnonzero(~before & after)
    first, last = (back, out) if keep_left else (out, back)
    count = (last - first) % len(contour)
    between = np.roll(contour.vertices, -(first + 1), axis=0)[:count]
    y_first, y_last = (
        float(np.interp(0.0, *_by_x(contour.starts[i] - (x, 0.0), contour.ends[i] - (x, 0.0))))
        for i in (first, last)
    )
    return Contour(np.vstack([(x, y_first, 0.0), between, (x, y_last, 0.0)]), closed=False)


def _by_x(one: np.ndarray, other: np.ndarray) -> tuple[list[float], list[float]]:
    left, right = sorted((one.tolist(), other.tolist()))
    return [left[0], right[0]], [left[1], right[1]]


def _dimensions(
    board: Board, belt: BeltDraft, view: View, highest: float, units: Literal["mm", "in"]
) -> float:
    got, strap, holes = belt.figures, belt.strap, belt.strap.holes
    upper, lower = view.y(got.width / 2), view.y(-got.width / 2)
    fold, tip, x_last = view.x(0.0), view.x(strap.tip_end), view.x(holes.xs[-1])
    top_row = view.y(holes.ys[-1] + holes.diameter / 2)
    low_row = view.y(holes.ys[0] - holes.diameter / 2)

    wanted = _fastener_rows(belt, view, upper, units)
    back = figure(got.turn_back, units)
    wanted.append(Along(LEFT, fold, highest, upper, upper, (f"turn-back {back}", back), -1))
    use = figure(got.hole_in_use, units)
    wanted.append(
        Along(fold, view.x(got.hole_in_use), highest, upper, top_row, (f"fold to hole in use {use}", use))
    )

    level = lower + _FIRST_TIER + 2
    own = _tip_length(belt, units)
    if own:
        shoulder = view.x(strap.tip_end - strap.tip.reach)
        wanted.append(Along(shoulder, tip, level, lower, view.middle, own, -1))
    level = lower + _FIRST_TIER + 2 + _TIER
    last = figure(got.last_to_tip, units)
    wanted.append(
        Along(x_last, tip, level, low_row, view.middle, (f"last hole to tip {last}", f"to tip {last}", last))
    )
    if holes.count > 1:
        step = figure(holes.spacing, units, exact=True)
        over = figure(holes.spacing * (holes.count - 1), units)
        texts = (
            (f"{holes.count - 1} × {step} (= {over})", f"{holes.count - 1} × {step}")
            if holes.count > 2
            else (step,)
        )
        wanted.append(Along(view.x(holes.xs[0]), x_last, level, low_row, low_row, texts, -1))
    dimensions(board, wanted)
    board.line(fold, highest - 6, fold, highest - 20)
    board.text("fold line", fold, highest - 24, anchor="middle")

    width = figure(got.width, units, exact=True)
    across(board, LEFT - 26, upper, lower, LEFT, (f"strap {width}", width))
    for x, start in ((LEFT, lower), (tip, view.middle)):
        board.reserve(x, start, x, lower + 250)
    _leaders(board, belt, view, units)
    bottom = max(box.y1 for box in board.texts) + 22
    blank = figure(belt.blank_length, units)
    dimensions(board, [Along(LEFT, tip, bottom, lower, view.middle, (f"blank {blank}", blank))])
    return bottom + 12


def _fastener_rows(belt: BeltDraft, view: View, upper: float, units: Literal["mm", "in"]) -> list[Along]:
    """Return rows and mates, each measured from the fold on a tier of its own, mirrored about it."""
    end, fold = belt.strap.buckle_end, view.x(0.0)
    start = view.y(max(end.fastener_ys) + end.fastener_diameter / 2)
    wanted = []
    for tier, (name, row, mate) in enumerate(zip("AB", end.rows, end.mates, strict=False)):
        y = upper - _FIRST_TIER - tier * _TIER
        wanted.append(Along(fold, view.x(row), y, upper, start, (f"{name} {figure(row, units)}",), 1))
        wanted.append(Along(view.x(mate), fold, y, start, upper, (f"{name}′ {figure(-mate, units)}",), -1))
    return wanted


def _tip_length(belt: BeltDraft, units: Literal["mm", "in"]) -> tuple[str, ...]:
    """Return the words of the tip's length, which a round or square tip does not need."""
    if belt.tip_shape in ("round", "square"):
        return ()
    length = figure(belt.strap.tip.reach, units)
    words = _TIP_WORDS[belt.tip_shape]
    return f"{words} {length}", f"{words.split()[-1]} {length}", length


def _leaders(board: Board, belt: BeltDraft, view: View, units: Literal["mm", "in"]) -> None:
    strap, end, holes = belt.strap, belt.strap.buckle_end, belt.strap.holes
    upper, lower = view.y(strap.width / 2), view.y(-strap.width / 2)
    scale, c = view.scale, math.sqrt(0.5)
    below = [lower + 34 + 12 * step for step in range(12)]

    r = scale * end.corner_radius
    x, y = LEFT + r * (1 - c), lower - r * (1 - c)
    places = [(x - reach, y + reach, -1) for reach in (22, 28)]
    places += [(x + 8 + 6 * dx, ey, 1) for ey in below for dx in range(4)]
    leader(board, x, y, (f"2 × R{figure(end.corner_radius, units, exact=True)}",), places)
    if end.rows:
        d, ys = end.fastener_diameter, end.fastener_ys
        x, y = view.x(end.rows[-1]) + scale * d / 2 * c, view.y(ys[0]) + scale * d / 2 * c
        words = _holes_words(len(end.fastener_centres), d, ys[-1] - ys[0], units)
        leader(board, x, y, words, [(x + 14 + 6 * dx, ey, 1) for ey in below for dx in range(4)])
    if end.slot_ys:
        size = f"{figure(end.slot_length, units, exact=True)} × {figure(end.slot_width, units, exact=True)}"
        words = (f"slot {size}",)
        if len(end.slot_ys) == 2:
            words = (f"2 slots {size}", f"{figure(end.slot_ys[1] - end.slot_ys[0], units)} apart")
        x, y = view.x(0.0) - 0.2 * scale * end.slot_length, view.y(end.slot_ys[0] - end.slot_width / 2)
        places = [(x + side * (6 + 6 * dx), ey, side) for ey in below for dx in range(3) for side in (1, -1)]
        leader(board, x, y, words, places)
    x, y, r = view.x(holes.xs[0]), view.y(holes.ys[-1]), scale * holes.diameter / 2 * c
    lead = 0.6 * (24 + y - upper)
    leader(
        board,
        x,
        y - r,
        _holes_words(len(holes.centres), holes.diameter, holes.across if holes.rows == 2 else 0.0, units),
        [
            (x + side * (lead + 8 * dx), upper - 22 - 2 * dy, side)
            for side in (1, -1)
            for dy in range(4)
            for dx in range(8)
        ],
    )
    if belt.tip_shape in ("round", "square"):
        r = scale * strap.tip.reach
        x, y = view.x(strap.tip_end) - r * (1 - c), lower - r * (1 - c)
        words = (f"{_TIP_WORDS[belt.tip_shape]} R{figure(strap.tip.reach, units, exact=True)}",)
        places = [(x - 14 - 6 * dx, lower + 22 + 4 * dy, -1) for dy in range(3) for dx in range(8)]
        leader(board, x, y, words, places)


def _holes_words(count: int, diameter: float, apart: float, units: Literal["mm", "in"]) -> tuple[str, ...]:
    words = (
        f"{count} × ⌀{figure(diameter, units, exact=True)}"
        if count > 1
        else f"⌀{figure(diameter, units, exact=True)}"
    )
    return (words, f"{figure(apart, units)} apart") if apart else (words,)
