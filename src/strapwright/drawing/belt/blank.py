"""The blank of a belt with its dimensions: buckle end, a break, tip end."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from strapwright.core.units import Units, format_length
from strapwright.drawing.belt.strap import LEFT, View, draw_strap, scale_and_break
from strapwright.drawing.dimension_lines import Along, across, dimensions, leader
from strapwright.drawing.text import Box, figure
from strapwright.trade.sizing import GIRTH_UNCERTAINTY

if TYPE_CHECKING:
    from strapwright.drawing.dimension_lines import Board
    from strapwright.job.strap_draft import BeltDraft
    from strapwright.parts.end import TurnedEnd


_TIER: Final = 23.0


_FIRST_TIER: Final = 20.0


_BLUNT: Final = ("square", "bridle_point")
"""Tips that end in a straight edge across the strap."""


TIP_WORDS: Final = {
    "english_point": "English point",
    "round": "round tip",
    "spear": "spear tip",
    "square": "square tip",
    "bridle_point": "bridle point",
    "sketch": "own tip",
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


def draw_blank(board: Board, belt: BeltDraft, top: float, units: Units) -> tuple[float, float]:
    """Draw a belt's blank with its dimensions.

    Args:
        board: the drawing.
        belt: the belt.
        top: free room begins here, px.
        units: of the figures.

    Returns:
        Where free room begins below it, px, and its scale, px per mm.
    """
    tiers = len(belt.figures.end.rows) + 1
    highest = max(_FIRST_TIER + (tiers - 1) * _TIER, 56.0)  # room for the holes' leader below it
    scale, cut = scale_and_break([belt], board.width)
    half = scale * belt.figures.width / 2
    view = View(scale, -belt.figures.end.turn_back, cut, top + 42.0 + highest + half)
    draw_strap(board, belt, view)
    upper, lower = view.y(belt.figures.width / 2), view.y(-belt.figures.width / 2)
    board.solids.append(Box(LEFT, upper, view.x(belt.strap.span), lower))
    bottom = _dimensions(board, belt, view, upper - highest, units)
    return bottom, scale


def _dimensions(board: Board, belt: BeltDraft, view: View, highest: float, units: Units) -> float:
    got, strap, holes = belt.figures, belt.strap, belt.strap.holes
    upper, lower = view.y(got.width / 2), view.y(-got.width / 2)
    fold, tip, x_last = view.x(0.0), view.x(strap.span), view.x(holes.xs[-1])
    top_row = view.y(holes.ys[-1] + holes.diameter / 2)
    low_row = view.y(holes.ys[0] - holes.diameter / 2)

    wanted = _fastener_rows(belt, view, upper, units)
    back = figure(got.end.turn_back, units)
    wanted.append(Along(LEFT, fold, highest, upper, upper, (f"turn-back {back}", back), -1))
    use = figure(got.hole_in_use, units)
    wanted.append(
        Along(fold, view.x(got.hole_in_use), highest, upper, top_row, (f"fold to hole in use {use}", use))
    )

    level = lower + _FIRST_TIER + 2
    nose = lower if belt.tip_shape in _BLUNT else view.middle
    own = _tip_length(belt, units)
    if own:
        shoulder = view.x(strap.span - strap.tip.reach)
        wanted.append(Along(shoulder, tip, level, lower, nose, own, -1))
    level = lower + _FIRST_TIER + 2 + _TIER
    last = figure(got.last_to_tip, units)
    wanted.append(
        Along(x_last, tip, level, low_row, nose, (f"last hole to tip {last}", f"to tip {last}", last))
    )
    if holes.count > 1:
        step = figure(holes.spacing, units, exact=True, finest=64)
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
    # The blank's own length comes below everything else, but its extension lines pass by all of it.
    with board.reserved([(LEFT, lower, LEFT, lower + 300), (tip, nose, tip, lower + 300)]):
        _leaders(board, belt, view, units)
    bottom = max(box.y1 for box in board.texts) + 22
    blank = figure(belt.blank_length, units)
    dimensions(board, [Along(LEFT, tip, bottom, lower, nose, (f"blank {blank}", blank))])
    return bottom + 12


def _fastener_rows(belt: BeltDraft, view: View, upper: float, units: Units) -> list[Along]:
    """Return rows and mates, each measured from the fold on a tier of its own, mirrored about it."""
    end, fold = belt.strap.buckle_end, view.x(0.0)
    start = view.y(max(end.fastener_ys) + max((d / 2 for _, _, d in end.fastener_rows), default=0.0))
    wanted = []
    for tier, (name, row, mate) in enumerate(zip("ABC", end.rows, end.mates, strict=False)):
        y = upper - _FIRST_TIER - tier * _TIER
        wanted.append(Along(fold, view.x(row), y, upper, start, (f"{name} {figure(row, units)}",), 1))
        wanted.append(Along(view.x(mate), fold, y, start, upper, _mate(name, -mate, units), -1))
    return wanted


def _mate(name: str, mate: float, units: Units) -> tuple[str, ...]:
    told = figure(mate, units)
    return f"{name}′ {told}", f"{name}′{told}"


def _tip_length(belt: BeltDraft, units: Units) -> tuple[str, ...]:
    """Return the words of the tip's length, which a round or square tip does not need."""
    if belt.tip_shape in ("round", "square"):
        return ()
    length = figure(belt.strap.tip.reach, units)
    words = TIP_WORDS[belt.tip_shape]
    return f"{words} {length}", f"{words.split()[-1]} {length}", length


def _leaders(board: Board, belt: BeltDraft, view: View, units: Units) -> None:
    strap, end, holes = belt.strap, belt.strap.buckle_end, belt.strap.holes
    upper, lower = view.y(strap.width / 2), view.y(-strap.width / 2)
    scale, c = view.scale, math.sqrt(0.5)
    below = [lower + 34 + 12 * step for step in range(18)]

    if end.rows:
        ys = end.fastener_ys
        x, y, r = view.x(end.rows[-1]), view.y(ys[0]), scale * end.diameters[-1][0] / 2
        words = fastener_words(end, units)
        if len(ys) > 1:
            words = (*words, f"{figure(ys[-1] - ys[0], units)} apart")
        places = [(x + side * (18 + 6 * dx), ey, side) for side in (1, -1) for ey in below for dx in range(4)]
        leader(board, x, y, words, places, radius=r)
    if end.slot_ys:
        size = f"{figure(end.slot_length, units, exact=True)} × {figure(end.slot_width, units, exact=True)}"
        words = (f"slot {size}",)
        if len(end.slot_ys) == 2:
            words = (f"2 slots {size}", f"{figure(end.slot_ys[1] - end.slot_ys[0], units)} apart")
        x, y = view.x(0.0) - 0.2 * scale * end.slot_length, view.y(end.slot_ys[0] - end.slot_width / 2)
        places = [(x + side * (6 + 6 * dx), ey, side) for side in (1, -1) for ey in below for dx in range(3)]
        leader(board, x, y, words, places)
    r = scale * end.corner_radius
    x, y = LEFT + r * (1 - c), lower - r * (1 - c)
    places = [(x - reach, y + reach, -1) for reach in (22, 28)]
    places += [(x + 8 + 6 * dx, ey, 1) for ey in below for dx in range(4)]
    leader(board, x, y, (f"2 × R{figure(end.corner_radius, units, exact=True)}",), places)
    x, y, r = view.x(holes.xs[0]), view.y(holes.ys[-1]), scale * holes.diameter / 2
    lead = 0.6 * (24 + y - upper)
    words = _holes_words(len(holes.centres), holes.diameter, holes.across if holes.rows == 2 else 0.0, units)
    places = [
        (x + side * (lead + 8 * dx), upper - 22 - 2 * dy, side)
        for side in (1, -1)
        for dy in range(4)
        for dx in range(24)
    ]
    leader(board, x, y, words, places, radius=r)
    if belt.tip_shape in ("round", "square"):
        r = scale * strap.tip.reach
        x, y = view.x(strap.span) - r * (1 - c), upper + r * (1 - c)
        words = (f"{TIP_WORDS[belt.tip_shape]} R{figure(strap.tip.reach, units, exact=True)}",)
        places = [(x - 14 - 6 * dx, upper - 18 - 4 * dy, -1) for dy in range(4) for dx in range(24)]
        leader(board, x, y, words, places)


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


def _holes_words(count: int, diameter: float, apart: float, units: Units) -> tuple[str, ...]:
    words = f"⌀{figure(diameter, units, exact=True)}"
    if count > 1:
        words = f"{count} × {words}"
    return (words, f"{figure(apart, units)} apart") if apart else (words,)
