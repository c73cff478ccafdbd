"""The blank of a strap with its dimensions, or its two ends alone: fasteners, slots, holes, tip."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from strapwright.core.units import Units, format_length
from strapwright.drawing.belt.strap import (
    LEFT,
    RIGHT,
    View,
    draw_cross,
    draw_feature,
    draw_strap,
    nose_of,
    scale_and_break,
)
from strapwright.drawing.canvas import polyline
from strapwright.drawing.dimension_lines import Along, across, dimensions, leader
from strapwright.drawing.text import Box, figure
from strapwright.parts.part import Operation
from strapwright.rules.sizing import GIRTH_UNCERTAINTY

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.drawing.dimension_lines import Board
    from strapwright.job.dimensions.fit import BeltFigures
    from strapwright.job.strap_draft import BeltDraft, StrapDraft
    from strapwright.parts.end import PlacedEnd, TurnedEnd
    from strapwright.parts.hole_row import HoleRow
    from strapwright.parts.part import Part

_GREATEST_SCALE: Final = 4.0

TIER: Final = 23.0
"""From one dimension line to the next, px."""

FIRST_TIER: Final = 20.0
"""From the strap to the first of them, px."""

_HOLE_WORDS: Final = 56.0
"""Room above the strap for the words of its holes, px."""

_CORNER: Final = 1 - math.sqrt(0.5)
"""An arc's middle is this share of its radius inside the corner it rounds, along either side."""

TIP_WORDS: Final = {
    "english_point": "English point",
    "round": "round tip",
    "spear": "spear tip",
    "square": "square tip",
    "bridle_point": "bridle point",
    "sketch": "own tip",
    "drawing": "own tip",
}


def girth_figure(mm: float, units: Units) -> str:
    """Return a girth as a bare figure, no finer than a tape shows it.

    Example:
        >>> girth_figure(966.4, "mm"), girth_figure(966.4, "in")
        ('966', '38 1/16')
    """
    return f"{mm:.0f}" if units == "mm" else format_length(mm, "in").removesuffix(" in")


def girth_play(units: Units) -> str:
    """Return how sure the girths are, in words: "± 10 mm"."""
    return f"± {girth_figure(GIRTH_UNCERTAINTY, units)} {units}"


def draw_blank(board: Board, item: StrapDraft, top: float, units: Units) -> tuple[float, float]:
    """Draw the blank of a belt or other strap with its dimensions.

    Args:
        board: the drawing.
        item: the belt or strap.
        top: free room begins here, px.
        units: of the figures.

    Returns:
        Where free room begins below it, px, and its scale, px per mm.
    """
    strap, fit = item.strap, item.figures
    start, low, end, high = strap.outline.bounding_box
    scale, cut = scale_and_break([item], board.width)
    above = 0.0 if not strap.turned else FIRST_TIER + max(len(one.end.rows) for one in strap.turned) * TIER
    above = max(above, _HOLE_WORDS if strap.hole_rows else 0.0)
    upper = top + above + (42.0 if strap.turned else 20.0)
    view = View(scale, start, cut, upper + scale * high)
    lower, right = view.y(low), view.x(end)
    draw_strap(board, item, view)
    board.solids.append(Box(LEFT, upper, right, lower))

    nose = lower
    wanted = [
        dim for one in strap.turned for dim in end_dimensions(board, one, view, upper, upper - above, units)
    ]
    level = lower + FIRST_TIER + 2
    if fit is not None:
        nose = view.y(nose_of(strap.ends[1].shape(item.width)))
        wanted += _fit_dimensions(item, fit, view, (upper, upper - above), level, nose, units)
        level += TIER
    for row in strap.hole_rows:
        wanted += _hole_dimensions(item, row, view, level, nose, units)
    if strap.turned and fit is None:
        level += TIER if strap.hole_rows else 0.0
        wanted.append(_span(item, view, level, lower, units))
    dimensions(board, wanted)

    width = figure(high - low, units, exact=True)
    words = (f"{'strap' if strap.ends else 'across'} {width}", width)
    across(board, LEFT - 26, upper, lower, LEFT, words, "width")
    # The blank's own length comes below everything else, but its extension lines pass by all of it.
    with board.reserved([(LEFT, lower, LEFT, lower + 300), (right, nose, right, lower + 300)]):
        _leaders(board, item, view, units)
    bottom = max(lower + FIRST_TIER, level, *(box.y1 for box in board.texts if box.y0 > lower), 0.0) + 22
    blank = figure(item.blank_length, units)
    words = (f"blank {blank}", blank)
    dimensions(board, [Along(LEFT, right, bottom, lower, nose, words, figure="blank")])
    return bottom + 12, scale


def end_dimensions(
    board: Board, one: PlacedEnd, view: View, upper: float, highest: float, units: Units
) -> Iterator[Along]:
    """Yield a turned end's dimensions from its fold line, each row and its mate on a tier; name that line.

    Args:
        board: the drawing.
        one: the end in its place.
        view: how the strap lies on the drawing.
        upper: its upper edge, px.
        highest: where the turn-back's dimension line goes, above those of the rows, px.
        units: of the figures.
    """
    end, fold, sign = one.end, view.x(one.fold), -1 if one.place else 1
    start = view.y(max(end.fastener_ys) + max((d / 2 for _, _, d in end.fastener_rows), default=0.0))
    told: list[tuple[float, tuple[str, ...], float, float, str]] = []
    whose = end_name(one)
    for tier, (name, row, mate) in enumerate(zip("ABC", end.rows, end.mates, strict=False)):
        y, far = upper - FIRST_TIER - tier * TIER, figure(-mate, units)
        told.append((row, (f"{name} {figure(row, units)}",), y, start, f"{whose}row {name}"))
        texts = (f"{name}′ {far}", f"{name}′{far}")[: 1 + end.closes]
        told.append((mate, texts, y, start, f"{whose}row {name}′"))
    back = figure(end.turn_back, units)
    told.append((-end.turn_back, (f"turn-back {back}", back), highest, upper, f"{whose}turn-back"))
    for x, texts, y, begins, named in told:
        left, right = sorted((fold, view.x(one.x(x))))
        from0, from1 = (upper, begins) if left == fold else (begins, upper)
        yield Along(left, right, y, from0, from1, texts, sign if x > 0 else -sign, named)
    board.line(fold, highest - 6, fold, highest - 20)
    board.text("fold line", fold, highest - 24, anchor="middle")


def end_name(one: PlacedEnd) -> str:
    """Return what stands before the names of an end's figures: "end 2: "; empty for a belt's only one."""
    return "" if one.end.closes else f"end {one.place + 1}: "


def _fit_dimensions(
    item: StrapDraft,
    fit: BeltFigures,
    view: View,
    above: tuple[float, float],
    level: float,
    nose: float,
    units: Units,
) -> Iterator[Along]:
    """Yield what says how a belt fits, from the fold to its hole in use, and the length of its tip."""
    row, fold, lower = fit.holes, view.x(0.0), view.y(-fit.width / 2)
    upper, highest = above  # the strap's edge, and the dimension line furthest from it
    use = figure(fit.hole_in_use, units)
    top_row = view.y(row.ys[-1] + row.diameter / 2)
    texts = (f"fold to hole in use {use}", use)
    yield Along(fold, view.x(fit.hole_in_use), highest, upper, top_row, texts, figure="hole in use")
    shape, reach = fit.spec.tip.name, item.strap.ends[1].reach
    if shape not in ("round", "square"):  # whose radius says it all
        words, length = TIP_WORDS[shape], figure(reach, units)
        own = f"{words} {length}", f"{words.split()[-1]} {length}", length
        end = item.strap.outline.bounding_box[2]
        yield Along(view.x(end - reach), view.x(end), level, lower, nose, own, -1, "tip")


def _hole_dimensions(
    item: StrapDraft, row: HoleRow, view: View, level: float, nose: float, units: Units
) -> Iterator[Along]:
    """Yield how far a row of holes lies from the tip it is measured from, and its pitch."""
    _, low, end, _ = item.strap.outline.bounding_box
    span = end - item.strap.ends[1].beyond
    lower, holes = view.y(low), view.y(row.ys[0] - row.diameter / 2)
    near_first = not item.closes and row.xs[0] < span - row.xs[-1]
    to_tip = row.xs[0] if near_first else span - row.xs[-1]
    last = figure(item.figures.last_to_tip if item.figures else to_tip, units, exact=not item.closes)
    texts: tuple[str, ...] = (f"to tip {last}", last)
    if item.closes:
        texts = (f"last hole to tip {last}", *texts)
    if near_first:
        yield Along(view.x(0.0), view.x(row.xs[0]), level, lower, holes, texts, 0, "last to tip")
    else:
        yield Along(view.x(row.xs[-1]), view.x(span), level, holes, nose, texts, 0, "last to tip")
    if row.count > 1:
        step = figure(row.spacing, units, exact=True, finest=64)
        texts = (f"{row.count - 1} × {step}",)
        if item.closes:
            over = figure(row.spacing * (row.count - 1), units)
            texts = (f"{texts[0]} (= {over})", *texts) if row.count > 2 else (step,)
        yield Along(view.x(row.xs[0]), view.x(row.xs[-1]), level, holes, holes, texts, -item.closes, "pitch")


def _span(item: StrapDraft, view: View, level: float, lower: float, units: Units) -> Along:
    """Return the length of a strap from one fold line to the other, or to the tip."""
    length = item.strap.outline.bounding_box[2] - item.strap.ends[1].beyond
    words = "fold line to fold line" if len(item.strap.turned) == 2 else "fold line to tip"
    span = figure(length, units)
    return Along(view.x(0.0), view.x(length), level, lower, lower, (f"{words} {span}", span), figure="span")


def _leaders(board: Board, item: StrapDraft, view: View, units: Units) -> None:
    strap = item.strap
    _, low, end, high = strap.outline.bounding_box
    upper, lower = view.y(high), view.y(low)
    below = [lower + 34 + 12 * step for step in range(18)]
    words: tuple[str, ...]
    for one in strap.turned:
        fastener_leader(board, one, view, below, units, brief=not item.closes)
        slot_leader(board, one, view, below, units, brief=False)
        side, r = 1 if one.place else -1, view.scale * one.end.corner_radius
        x, y = view.x(one.x(-one.end.turn_back)) - side * r * _CORNER, lower - r * _CORNER
        places = [(x + side * reach, y + reach, side) for reach in (22, 28)]
        places += [(x - side * (8 + 6 * dx), ey, -side) for ey in below for dx in range(4)]
        words = (f"2 × R{figure(one.end.corner_radius, units, exact=True)}",)
        leader(board, x, y, words, places, figure="corner")
    for row in strap.hole_rows:
        words = (holes_words(len(row.centres), row.diameter, units),)
        if row.rows == 2:
            words = (*words, f"{figure(row.across, units)} apart")
        hole_leader(board, view, row.xs[0], row, upper, words, sides=(1, -1))
    if item.figures is not None and item.figures.spec.tip.name in ("round", "square"):
        reach = strap.ends[1].reach
        x, y = view.x(end) - view.scale * reach * _CORNER, upper + view.scale * reach * _CORNER
        words = (f"{TIP_WORDS[item.figures.spec.tip.name]} R{figure(reach, units, exact=True)}",)
        places = [(x - 14 - 6 * dx, upper - 18 - 4 * dy, -1) for dy in range(4) for dx in range(24)]
        leader(board, x, y, words, places, figure="tip")


def fastener_leader(
    board: Board, one: PlacedEnd, view: View, below: Sequence[float], units: Units, *, brief: bool
) -> None:
    """Draw the leader of a turned end's fastener holes, from the last row.

    Args:
        board: the drawing.
        one: the end in its place.
        view: how the strap lies on the drawing.
        below: where it may go, px down.
        units: of the figures.
        brief: leave out how far apart they lie across.
    """
    end, side = one.end, 1 if one.place else -1
    if not end.rows:
        return
    words, ys = fastener_words(end, units), end.fastener_ys
    if len(ys) > 1 and not brief:
        words = (*words, f"{figure(ys[-1] - ys[0], units)} apart")
    x, y = view.x(one.x(end.rows[-1])), view.y(ys[0])
    places = [(x + way * (18 + 6 * dx), ey, way) for way in (-side, side) for ey in below for dx in range(4)]
    radius = view.scale * end.diameters[-1][0] / 2
    leader(board, x, y, words, places, radius=radius, figure=f"{end_name(one)}fasteners")


def slot_leader(
    board: Board, one: PlacedEnd, view: View, below: Sequence[float], units: Units, *, brief: bool
) -> None:
    """Draw the leader of a turned end's prong slots.

    Args:
        board: the drawing.
        one: the end in its place.
        view: how the strap lies on the drawing.
        below: where it may go, px down.
        units: of the figures.
        brief: leave out how far apart they lie.
    """
    end = one.end
    if not end.slot_ys:
        return
    size = f"{figure(end.slot_length, units, exact=True)} × {figure(end.slot_width, units, exact=True)}"
    words: tuple[str, ...] = (f"slot {size}",)
    if len(end.slot_ys) == 2:
        words = (f"2 slots {size}", f"{figure(end.slot_ys[1] - end.slot_ys[0], units)} apart")[: 2 - brief]
    x = view.x(one.x(-0.2 * end.slot_length))
    y = view.y(end.slot_ys[0] - end.slot_width / 2)
    places = [(x + side * (6 + 6 * dx), ey, side) for side in (1, -1) for ey in below for dx in range(3)]
    leader(board, x, y, words, places, figure=f"{end_name(one)}slot")


def hole_leader(
    board: Board,
    view: View,
    hole: float,
    row: HoleRow,
    upper: float,
    words: tuple[str, ...],
    *,
    sides: Sequence[int],
) -> None:
    """Draw the leader of a row of holes, above the strap.

    Args:
        board: the drawing.
        view: how the strap lies on the drawing.
        hole: the x of the hole it points at, mm.
        row: the row.
        upper: the strap's upper edge, px.
        words: how many holes and of what size.
        sides: which way it may run: 1 right, -1 left.
    """
    x, y = view.x(hole), view.y(row.ys[-1])
    lead = 0.6 * (24 + y - upper)
    places = [
        (x + side * (lead + 8 * dx), upper - 22 - 2 * dy, side)
        for side in sides
        for dy in range(4)
        for dx in range(24)
    ]
    leader(board, x, y, words, places, radius=view.scale * row.diameter / 2, figure="holes")


def fastener_words(end: TurnedEnd, units: Units) -> tuple[str, ...]:
    """Return the fastener holes of an end in words: "8 × ⌀5.5", or each size with the rows that have it.

    Args:
        end: a turned end with fasteners.
        units: of the figures.
    """
    sizes, across = end.fastener_sizes, len(end.fastener_ys)
    return tuple(
        (f"{' '.join(names)}: " if len(sizes) > 1 else "")
        + f"{len(names) * across} × ⌀{figure(d, units, exact=True)}"
        for d, names in sizes.items()
    )


def holes_words(count: int, diameter: float, units: Units) -> str:
    """Return how many holes of what diameter, in words: "7 × ⌀5.5"."""
    return f"{count} × " * (count > 1) + f"⌀{figure(diameter, units, exact=True)}"


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
    last, x = figure(belt.figures.last_to_tip, units), view.x(there[-1])
    start = view.y(holes.ys[0] - holes.diameter / 2)
    level, texts = view.y(low) + FIRST_TIER + 2, (f"last hole to tip {last}", f"to tip {last}", last)
    yield Along(x, view.x(x1), level, start, view.y(low), texts)
    if len(there) > 1:
        step = figure(holes.spacing, units, exact=True, finest=64)
        yield Along(view.x(there[-2]), x, level, start, start, (step,), -1)
