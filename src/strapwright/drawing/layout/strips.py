"""The picture of a strip plan: every strip cut into, its parts and flaws to scale, and the marks to pull."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.text import counted
from strapwright.core.units import format_length
from strapwright.drawing.canvas import Canvas, Line, polygon
from strapwright.drawing.layout.elements import EDGE, WIDTH, Frame, lettered, part_items, text
from strapwright.drawing.layout.flaws import flaw_items, flaw_key
from strapwright.drawing.text import figure, shortened, text_width
from strapwright.geometry.transform import Placement
from strapwright.nesting.layout.types import PlacedPart
from strapwright.nesting.strips.leftovers import leftovers
from strapwright.nesting.strips.pull_list import strip_title

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.core.arrays import Floats
    from strapwright.core.units import Units
    from strapwright.drawing.canvas import Item
    from strapwright.nesting.strips.types import CutStrip, OnStrip, StripPlan

_INNER: Final = WIDTH - 2 * EDGE
_MARK: Final = 9.0
"""Size of the figures at marks, px."""

_ROWS: Final = 2
"""Figures stand on so many rows below each other."""


def strip_picture(plan: StripPlan, *, title: str, units: Units = "mm") -> Canvas:
    """Draw a plan, strip below strip, all to one scale, with figures from each square end.

    Args:
        plan: the plan.
        title: what stands at the head, such as the job's name.
        units: of the figures.
    """
    said = f"{plan.placed} of {plan.asked} parts on {counted(len(plan.cut), 'strip')}."
    items: list[Item] = [text(EDGE, 46, title, 22, bold=True), text(EDGE, 68, said, 13)]
    y = 78.0
    scale = _INNER / max((cut.strip.length for cut in plan.cut), default=1.0)
    for cut in plan.cut:
        items.append(text(EDGE, y + 20, shortened(strip_title(plan, cut, units), _INNER, 13), 13, bold=True))
        y += 30
        items += _strip(plan, cut, scale, y, units)
        y += cut.strip.width * scale + 13 * _ROWS + 6
    kinds = {str(flaw.kind) for cut in plan.cut for flaw in cut.strip.flaws}
    key, _, y = flaw_key(kinds, EDGE, y + 14)
    items += key
    return Canvas(WIDTH, round(y + 24), title, items, paper="sheet")


def _strip(plan: StripPlan, cut: CutStrip, scale: float, top: float, units: Units) -> Iterator[Item]:
    strip, square = cut.strip, plan.rules.square
    h = strip.width / 2
    frame = Frame(-square, h, EDGE, top, scale)
    far = strip.length - square

    def box(start: float, end: float) -> Floats:
        return np.array([(start, -h), (end, -h), (end, h), (start, h)])

    yield polygon("hide", *frame.points(box(-square, far)))
    for flaw in plan.rules.flaws(strip):
        yield from flaw_items(str(flaw.kind), [frame.points(box(flaw.start, flaw.end))])
    for x in (0.0, far - square) if square else ():
        yield Line(*frame.point(x, -h), *frame.point(x, h), "first-cut")
    for left in leftovers(plan):
        if left.of == cut:
            words = f"{left.strip.id}, {format_length(left.strip.length, units)}"
            x, y = frame.point((max(left.start, 0.0) + left.end) / 2, 0.0)
            size = min(11.0, 0.6 * strip.width * scale)
            room = (left.end - left.start) * scale
            if size >= 6:
                yield text(x, y, shortened(words, room, size), size, middle=True, look="quiet")
    for one in cut.parts:
        placed = PlacedPart(one.part, strip.id, _placement(one, h))
        yield from part_items(placed, frame)
        if (label := lettered(placed, frame)) is not None:
            yield text(label.x, label.y, label.words, label.size, middle=True, turn=label.turn)
    yield from _marks(cut, frame, top + strip.width * scale, units)


def _placement(one: OnStrip, half: float) -> Placement:
    """Return where a part lies on its strip: along its lower edge, whose middle is y = 0."""
    x0, y0, x1, y1 = one.part.outline.bounding_box
    if one.turned:
        return Placement(math.pi, one.start + x1, y1 - half)
    return Placement(0.0, one.start - x0, -half - y0)


def _marks(cut: CutStrip, frame: Frame, bottom: float, units: Units) -> Iterator[Item]:
    """Yield the figures under a strip, on rows below each other where they would run into one another."""
    reached = [-math.inf] * _ROWS
    for mm in sorted({round(mm, 3) for one in cut.parts for mm in (one.start, one.end)}):
        x, _ = frame.point(mm, 0.0)
        words = figure(round(mm, 1), units)
        half = text_width(words, _MARK) / 2
        row = next((n for n, end in enumerate(reached) if x - half > end + 3), _ROWS - 1)
        reached[row] = x + half
        yield Line(x, bottom, x, bottom + 4, "scale")
        yield text(max(x, EDGE), bottom + 11 + 13 * row, words, _MARK, middle=True)
