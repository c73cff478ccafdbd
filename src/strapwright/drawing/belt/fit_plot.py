"""How far finished belts' girths are off what was drafted, drawn buckle by buckle."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from strapwright.drawing.canvas import Canvas, Circle, Line, Text, polygon
from strapwright.drawing.text import shortened
from strapwright.job.fit_record import TAPE

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.drawing.canvas import Item
    from strapwright.job.fit_record import BuckleFit

WIDTH: Final = 900.0
"""Of the drawing, px."""

_LEFT, _RIGHT, _TOP, _BOTTOM, _ROW = 300.0, 40.0, 84.0, 64.0, 58.0
_LEAST_SPAN: Final = 6.0
"""The axis reaches at least so far either way, mm."""

_MOST_LINES: Final = 8
_SIZE: Final = 12.0


def fit_plot(fits: Sequence[BuckleFit]) -> Canvas:
    """Return a drawing with a line for each buckle: every belt's miss, their mean, and how sure it is.

    Belts are discs, hollow where settings were changed since; the mean is a diamond on a bar as long as its
    uncertainty. The band between dashes is what a tape may misread.

    Args:
        fits: of the buckles, at least one.
    """
    reach = [abs(belt.miss) for fit in fits for belt in fit.belts]
    reach += [abs(end) for fit in fits if fit.mean is not None for end in (fit.mean.low, fit.mean.high)]
    span = max(_LEAST_SPAN, *reach)
    step = next(step for step in (1, 2, 5, 10, 20, 50, 100, 200) if span / step <= _MOST_LINES / 2)
    most = step * math.ceil(span / step)
    height = _TOP + _ROW * len(fits) + _BOTTOM

    def at(miss: float) -> float:
        return _LEFT + (miss + most) / (2 * most) * (WIDTH - _LEFT - _RIGHT)

    title = "Finished belts: girth measured less girth drafted, mm"
    about = "disc: a belt; hollow: settings changed since; bar: mean, 95 %; dashes: a tape's misreading"
    items: list[Item] = [
        Text(title, 24, 34, 18, bold=True, look="ink"),
        Text(about, 24, 58, _SIZE, look="quiet"),
    ]
    foot = height - _BOTTOM
    for k in range(-round(most / step), round(most / step) + 1):
        x = at(k * step)
        items.append(Line(x, _TOP - 12, x, foot, "grid" if k else "scale"))
        sign = f"{k * step:+d}".replace("-", "−") if k else "0"
        items.append(Text(sign, x, foot + 20, _SIZE, "middle", look="ink"))
    items += [Line(at(end), _TOP - 12, at(end), foot, "clear") for end in (-TAPE, TAPE)]
    items += [
        Text("tighter than drafted", _LEFT, height - 18, _SIZE, look="quiet"),
        Text("looser than drafted", WIDTH - _RIGHT, height - 18, _SIZE, "end", look="quiet"),
    ]
    for place, fit in enumerate(fits):
        items += _line(fit, _TOP + _ROW * (place + 0.5), at)
    return Canvas(WIDTH, height, title, items, paper="sheet")


def _line(fit: BuckleFit, y: float, at: Callable[[float], float]) -> list[Item]:
    """Return one buckle's line: its name, its belts above and their mean below."""
    one, old = fit.drafted_with, fit.verdict == "replaced"
    seat = f"hole seat {one.hole_seat:g} mm{'' if one.hole_seat_measured else ', estimated'}"
    if one.girth_allowance:
        seat += f", allowance {one.girth_allowance:g} mm"
    look = "quiet" if old else "ink"
    out: list[Item] = [
        Text(shortened(one.buckle, _LEFT - 44, 14, bold=True), 24, y - 2, 14, bold=True, look=look),
        Text(seat, 24, y + 15, 11, look="quiet"),
    ]
    out += [Circle(at(belt.miss), y - 9, 5, "replaced" if old else "reading-vegetable") for belt in fit.belts]
    if fit.mean is not None and not old:
        x, below = at(fit.mean.value), y + 9
        low, high = at(fit.mean.low), at(fit.mean.high)
        out.append(Line(low, below, high, below, "spread-chrome"))
        out += [Line(end, below - 5, end, below + 5, "spread-chrome") for end in (low, high)]
        out.append(polygon("reading-chrome", (x - 6, below), (x, below - 6), (x + 6, below), (x, below + 6)))
    return out
