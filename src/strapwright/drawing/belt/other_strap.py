"""A strap that is no belt, drawn with its dimensions: two ends, a break, its holes; or a maker's sketch."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from strapwright.core.units import Units, format_length
from strapwright.drawing.belt.blank import fastener_words
from strapwright.drawing.belt.strap import (
    BEYOND,
    BREAK,
    GREATEST_SCALE,
    LEFT,
    RIGHT,
    View,
    draw_breaks,
    draw_cross,
    draw_feature,
    drawn_pieces,
)
from strapwright.drawing.canvas import polyline
from strapwright.drawing.dimension_lines import Along, across, dimensions, leader
from strapwright.drawing.text import Box, figure
from strapwright.parts.strap import Strap

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.drawing.dimension_lines import Board
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.parts.end import PlacedEnd
    from strapwright.parts.hole_row import HoleRow

_TIER: Final = 23.0
_FIRST_TIER: Final = 20.0
_ABOVE_HOLES: Final = 50.0
"""Room above the strap for the words of its holes, px."""

_TALLEST: Final = 420.0
"""A sketch is drawn no higher than this, px."""


def draw_goods(board: Board, strap: StrapDraft, top: float, units: Units) -> float:
    """Draw a strap's blank with its dimensions.

    Args:
        board: the drawing.
        strap: the strap.
        top: free room begins here, px.
        units: of the figures.

    Returns:
        Where free room begins below it, px.
    """
    start, low, end, high = strap.strap.outline.bounding_box
    scale, cut = _scale_and_break(strap, board.width)
    rows = max((len(end.rows) for _, end in strap.turned), default=0)
    above = _FIRST_TIER + rows * _TIER + 42.0 if strap.turned else 20.0
    upper = top + max(above, _ABOVE_HOLES if strap.strap.hole_rows else 0.0)
    view = View(scale, start, cut, upper + scale * high)
    lower, right = view.y(low), view.x(end)
    _draw(board, strap, view)
    board.solids.append(Box(LEFT, upper, right, lower))
    bottom = lower
    if isinstance(strap.strap, Strap):
        _tell_ends(board, strap.strap, view, upper, units)
        bottom = _tell_below(board, strap.strap, view, lower, units)
    width = figure(high - low, units, exact=True)
    across(
        board,
        LEFT - 26,
        upper,
        lower,
        LEFT,
        (f"strap {width}" if len(strap.ends) == 2 else f"across {width}", width),
    )
    bottom = max(bottom, lower + _FIRST_TIER) + 22
    blank = figure(strap.blank_length, units)
    dimensions(board, [Along(LEFT, right, bottom, lower, lower, (f"blank {blank}", blank))])
    return bottom + 12


def goods_notes(strap: StrapDraft, units: Units) -> list[str]:
    """Return what is to be said beside the drawing of a strap: how it is measured and put together."""
    notes = ["Grain side up: mark and cut from the grain."]
    if len(strap.ends) == 1:
        return [*notes, f"Drawn by {strap.ends[0].spec.words}, a sketch of your own."]
    first, second = (end.spec.words for end in strap.ends)
    told = f"Both ends: {first}." if first == second else f"First end: {first}; second end: {second}."
    length = format_length(strap.length, units)
    between = " to ".join("the bar's middle" if end.figures else "the tip's point" for end in strap.ends)
    notes.append(f"{told} Finished {length} long, from {between}.")
    by_end = [list(_end_notes(strap, place, units)) for place in range(2)]
    if by_end[0] == by_end[1]:
        return [*notes, *(f"Either end: {note}" for note in by_end[0])]
    for name, told_of in zip(("First end", "Second end"), by_end, strict=True):
        notes += [f"{name}: {note}" for note in told_of]
    return notes


def _end_notes(strap: StrapDraft, place: int, units: Units) -> Iterator[str]:
    """Yield what is to be said of one end; nothing of a tip."""
    got = strap.ends[place].figures
    if got is None:
        return
    if got.rows:
        names = "ABC"[: len(got.rows)]
        several = len(names) > 1
        yield (
            f"{'rows' if several else 'row'} {', '.join(names)} {'meet' if several else 'meets'} "
            f"{', '.join(f'{name}′' for name in names)} when the turn-back is folded round the bar."
        )
    if got.posts:
        sizes = ", ".join(post.words() for post in got.posts)
        yield f"fasteners, through {figure(got.posts[0].stack, units)} {units} of leather: {sizes}."
    if got.layers.fold != got.layers.strap:
        yield f"fold and turn-back are {figure(got.layers.fold, units)} {units} thick."
    sewn = next(one.end.stitching for one in strap.strap.turned if one.place == place)
    if sewn:
        first, second = sewn.runs[0][:2]
        yield (
            f"stitches {figure(abs(second - first), units)} {units} apart, "
            f"{format_length(sewn.inset, units)} from the edge, never across."
        )


def _scale_and_break(strap: StrapDraft, width: float) -> tuple[float, tuple[float, float]]:
    """Return the scale that fills the drawing, px per mm, and the break; a sketch is never broken."""
    start, low, end, high = strap.strap.outline.bounding_box
    room = width - LEFT - RIGHT
    whole = min(GREATEST_SCALE, room / (end - start))
    if not isinstance(strap.strap, Strap):
        return min(whole, _TALLEST / (high - low)), (end, end)
    middle, ends = strap.strap.span / 2, strap.strap.ends
    reach = [one.reach for one in ends]
    boxes = [feature.contour.bounding_box for feature in strap.strap.features()]
    before = max([reach[0], *(box[2] for box in boxes if box[0] + box[2] <= 2 * middle)])
    after = min([strap.strap.span - reach[1], *(box[0] for box in boxes if box[0] + box[2] > 2 * middle)])
    cut = before + BEYOND, after - BEYOND
    scale = min(GREATEST_SCALE, (room - BREAK) / (cut[0] - start + end - cut[1])) if cut[1] > cut[0] else 0.0
    # A blank so short that a break would save little is drawn whole.
    return (scale, cut) if whole < 0.75 * scale else (whole, (end, end))


def _draw(board: Board, strap: StrapDraft, view: View) -> None:
    _, low, end, high = strap.strap.outline.bounding_box
    for contour, tip in drawn_pieces(strap.strap.outline, view):
        board.add(view.path("leather cut", contour, tip=tip))
    for feature in strap.strap.features():
        draw_feature(board, feature, view)
    if not isinstance(strap.strap, Strap):
        return
    for one in strap.strap.turned:
        x = view.x(one.fold)
        board.add(polyline("fold", (x, view.y(high)), (x, view.y(low))))
        for row, y in one.end.fastener_centres:
            draw_cross(board, view.x(one.x(row)), view.y(y))
    draw_breaks(board, high, end, view)
    for row_of_holes in strap.strap.hole_rows:
        for hole_x, y in row_of_holes.centres:
            draw_cross(board, view.x(hole_x), view.y(y))


def _tell_ends(
    board: Board,
    made: Strap,
    view: View,
    upper: float,
    units: Units,
) -> None:
    """Draw each turned end's dimensions above the strap: rows, their mates and the turn-back."""
    wanted: list[Along] = []
    for one in made.turned:
        fold, end, sign = view.x(one.fold), one.end, -1 if one.place else 1
        for tier, (name, row, mate) in enumerate(zip("ABC", end.rows, end.mates, strict=False)):
            y = upper - _FIRST_TIER - tier * _TIER
            for x, text, way in (
                (row, f"{name} {figure(row, units)}", sign),
                (mate, f"{name}′ {figure(-mate, units)}", -sign),
            ):
                left, right = sorted((fold, view.x(one.x(x))))
                wanted.append(Along(left, right, y, upper, upper, (text,), way))
        highest = upper - _FIRST_TIER - len(end.rows) * _TIER
        back = figure(end.turn_back, units)
        left, right = sorted((fold, view.x(one.x(-end.turn_back))))
        words = (f"turn-back {back}", back)
        wanted.append(Along(left, right, highest, upper, upper, words, -sign))
        board.line(fold, highest - 6, fold, highest - 20)
        board.text("fold line", fold, highest - 24, anchor="middle")
    dimensions(board, wanted)


def _tell_below(
    board: Board,
    made: Strap,
    view: View,
    lower: float,
    units: Units,
) -> float:
    """Draw what stands below the strap: fold to fold, the holes, leaders; return how far down it reaches."""
    wanted: list[Along] = []
    level = lower + _FIRST_TIER + 2
    for row in made.hole_rows:
        wanted += _holes(made, row, view, lower, level, units)
    level += _TIER if made.hole_rows else 0.0
    if made.turned:
        words = "fold line to fold line" if len(made.turned) == 2 else "fold line to tip"
        span = figure(made.span, units)
        x0, x1 = view.x(0.0), view.x(made.span)
        wanted.append(Along(x0, x1, level, lower, lower, (f"{words} {span}", span)))
    dimensions(board, wanted)
    below = [level + 14 + 12 * step for step in range(18)]
    for row in made.hole_rows:
        x, y, upper = view.x(row.xs[0]), view.y(0.0), view.y(made.width / 2)
        text = f"{row.count} × " if row.count > 1 else ""
        text += f"⌀{figure(row.diameter, units, exact=True)}"
        lead = 0.6 * (24 + y - upper)
        places = [
            (x + side * (lead + 8 * dx), upper - 22 - 2 * dy, side)
            for side in (1, -1)
            for dy in range(4)
            for dx in range(24)
        ]
        leader(board, x, y, (text,), places, radius=view.scale * row.diameter / 2)
    for one in made.turned:
        _tell_turned(board, made, one, view, below, units)
    return max([level, *(box.y1 for box in board.texts if box.y0 > lower)])


def _holes(made: Strap, row: HoleRow, view: View, lower: float, level: float, units: Units) -> list[Along]:
    """Return the pitch of a row of holes, and its distance from the end it is measured from."""
    near_first = row.xs[0] < made.span - row.xs[-1]
    tip, nearest = (0.0, row.xs[0]) if near_first else (made.span, row.xs[-1])
    from_hole = view.y(-row.diameter / 2)
    left, right = sorted((view.x(tip), view.x(nearest)))
    first = figure(abs(tip - nearest), units, exact=True)
    from0, from1 = (lower, from_hole) if near_first else (from_hole, lower)
    found = [Along(left, right, level, from0, from1, (f"to tip {first}", first), 0)]
    if row.count > 1:
        step = f"{row.count - 1} × {figure(row.spacing, units, exact=True, finest=64)}"
        x0, x1 = view.x(row.xs[0]), view.x(row.xs[-1])
        found.append(Along(x0, x1, level, from_hole, from_hole, (step,), 0))
    return found


def _tell_turned(
    board: Board,
    made: Strap,
    placed: PlacedEnd,
    view: View,
    below: list[float],
    units: Units,
) -> None:
    """Draw the leaders of a turned end: its fastener holes and its rounded corners."""
    end, c = placed.end, math.sqrt(0.5)
    side = 1 if placed.place else -1
    if end.rows:
        x, y = view.x(placed.x(end.rows[-1])), view.y(end.fastener_ys[0])
        places = [
            (x + way * (18 + 6 * dx), ey, way) for way in (-side, side) for ey in below for dx in range(4)
        ]
        radius = view.scale * end.diameters[-1][0] / 2
        leader(board, x, y, fastener_words(end, units), places, radius=radius)
    r = view.scale * end.corner_radius
    x = view.x(made.front) - r * (1 - c) if placed.place else LEFT + r * (1 - c)
    y = view.y(-made.width / 2) - r * (1 - c)
    places = [(x - side * (8 + 6 * dx), ey, -side) for ey in below for dx in range(4)]
    leader(board, x, y, (f"2 × R{figure(end.corner_radius, units, exact=True)}",), places)
