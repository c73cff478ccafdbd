"""A machine's measured kerfs over the leather's thickness, drawn for a screen or a sheet of paper."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PlanError
from strapwright.core.text import escape
from strapwright.drawing.layout.parts import text
from strapwright.files.atomic_write import MARK
from strapwright.machine.kerf import rows_in_use

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.profile.tables import KerfRow
    from strapwright.trade.leather import Tannage

    Place = Callable[[float, float], tuple[float, float]]

WIDTH: Final = 900.0
HEIGHT: Final = 560.0
"""Size of the drawing, px."""

_LEFT, _RIGHT, _TOP, _BOTTOM = 80.0, 30.0, 70.0, 90.0

_STYLES: Final = {
    "vegetable": ("#009E73", "", "circle"),
    "chrome": ("#0072B2", "8 4", "square"),
    "combination": ("#D55E00", "2 4", "diamond"),
    "synthetic": ("#CC79A7", "10 3 2 3", "triangle"),
    "unknown": ("#666666", "5 5", "cross"),
}
"""Each material's colour, dash and mark: told apart without colour too."""

_INK: Final = "#222222"
_GREY: Final = "#888888"


def kerf_plot(machine: Machine) -> str:
    """Return an SVG document that shows every measured kerf of a machine over the leather's thickness.

    Rows that count are filled and joined by the line that is interpolated along; rows that newer ones
    replaced are hollow. A bar shows how far several readings lay apart.

    Args:
        machine: whose kerfs.

    Returns:
        An SVG document, 900 × 560 px, that holds `files.atomic_write.MARK` in a comment.

    Raises:
        PlanError: nothing has been measured yet.
    """
    if not machine.kerf:
        raise PlanError(f"machine {machine.name!r} has no kerf measured, so there is nothing to draw")
    rows = machine.kerf
    x_step, x_low, x_high = _axis([row.thickness for row in rows])
    y_step, y_low, y_high = _axis([0.0, *(row.width + (row.spread or 0.0) / 2 for row in rows)])

    def at(thickness: float, width: float) -> tuple[float, float]:
        x = _LEFT + (thickness - x_low) / (x_high - x_low) * (WIDTH - _LEFT - _RIGHT)
        y = HEIGHT - _BOTTOM - (width - y_low) / (y_high - y_low) * (HEIGHT - _TOP - _BOTTOM)
        return x, y

    title = f"Kerf of {machine.name}"
    lines = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:g}" height="{HEIGHT:g}" '
            f'viewBox="0 0 {WIDTH:g} {HEIGHT:g}" font-family="DejaVu Sans, sans-serif">'
        ),
        f"<!-- {MARK} -->",
        f"<title>{escape(title)}</title>",
        '<rect width="100%" height="100%" fill="#FFFFFF"/>',
        text(_LEFT, 32, title, 20, bold=True, colour=_INK),
        text(
            _LEFT,
            54,
            "filled: in use, joined where it is interpolated; hollow: replaced by a newer one",
            12,
            colour=_INK,
        ),
    ]
    for k in range(round((x_high - x_low) / x_step) + 1):
        x, y = at(x_low + k * x_step, y_low)
        lines.append(_line(x, y, x, _TOP))
        lines.append(text(x, y + 14, f"{x_low + k * x_step:.4g}", 12, middle=True, colour=_INK))
    for k in range(round(y_high / y_step) + 1):
        x, y = at(x_low, k * y_step)
        lines.append(_line(x, y, WIDTH - _RIGHT, y))
        lines.append(text(x - 24, y, f"{k * y_step:.4g}", 12, middle=True, colour=_INK))
    centre = (_LEFT + WIDTH - _RIGHT) / 2
    lines.append(text(centre, HEIGHT - _BOTTOM + 36, "thickness, mm", 13, middle=True, colour=_INK))
    upright = (_TOP + HEIGHT - _BOTTOM) / 2
    lines.append(text(24, upright, "kerf, mm", 13, middle=True, turn=-90, colour=_INK))
    materials = list(dict.fromkeys(row.material for row in rows))
    for material in materials:
        lines += _material(material, rows, at)
    for k, material in enumerate(materials):
        colour, dash, mark = _STYLES[material.value]
        x, y = _LEFT + 165 * k, HEIGHT - 26
        lines.append(_line(x, y, x + 40, y, colour, dash, 2.0))
        lines.append(_mark(mark, x + 20, y, colour, filled=True))
        lines.append(text(x + 48, y + 4.5, str(material), 13, colour=_INK))
    return "\n".join([*lines, "</svg>", ""])


def _material(material: Tannage, rows: Sequence[KerfRow], at: Place) -> list[str]:
    """Return one material's line, spreads and marks."""
    colour, dash, mark = _STYLES[material.value]
    used = rows_in_use(rows, material)
    out: list[str] = []
    for first, second in itertools.pairwise(used):
        out.append(
            _line(*at(first.thickness, first.width), *at(second.thickness, second.width), colour, dash, 2.0)
        )
    for row in (row for row in rows if row.material == material):
        in_use = any(row is one for one in used)
        x, y = at(row.thickness, row.width)
        if row.spread:
            (_, low), (_, high) = (at(row.thickness, row.width + way * row.spread / 2) for way in (-1, 1))
            out += [_line(x, low, x, high, colour, "", 1.4)]
            out += [_line(x - 5, end, x + 5, end, colour, "", 1.4) for end in (low, high)]
        out.append(_mark(mark, x, y, colour if in_use else _GREY, filled=in_use))
        if in_use:
            # Kerfs rise with the thickness, so the line leaves these corners free.
            out.append(text(x - 22, y - 14, f"{row.width:.3g}", 12, middle=True, colour=_INK))
            out.append(text(x + 10, y + 16, f"{row.measured}", 10, colour="#666666"))
    return out


def _axis(values: Sequence[float]) -> tuple[float, float, float]:
    """Return the step of an axis' lines and its ends, round numbers beyond the values.

    Example:
        >>> _axis([2.0, 4.4])
        (0.5, 1.5, 5.0)
    """
    low, high = min(values), max(values)
    room = max(high - low, 0.2 * high)
    power = 10.0 ** math.floor(math.log10(room / 5))
    step = next(power * k for k in (1.0, 2.0, 5.0, 10.0) if power * k >= room / 5 - 1e-12)
    return step, max(0.0, step * (math.floor(low / step) - 1)), step * (math.ceil(high / step - 1e-9) + 1)


def _line(
    x0: float, y0: float, x1: float, y1: float, colour: str = "#DDDDDD", dash: str = "", width: float = 1.0
) -> str:
    pattern = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="M {x0:.2f} {y0:.2f} L {x1:.2f} {y1:.2f}" stroke="{colour}" '
        f'stroke-width="{width:g}" fill="none"{pattern}/>'
    )


_MARKS: Final = {
    "circle": "M -5 0 A 5 5 0 0 0 5 0 A 5 5 0 0 0 -5 0 Z",
    "square": "M -4.5 -4.5 H 4.5 V 4.5 H -4.5 Z",
    "diamond": "M 0 -6 L 6 0 L 0 6 L -6 0 Z",
    "triangle": "M 0 -6 L 5.5 4.5 L -5.5 4.5 Z",
    "cross": "M -5 -5 L 5 5 M -5 5 L 5 -5",
}


def _mark(mark: str, x: float, y: float, colour: str, *, filled: bool) -> str:
    return (
        f'<path transform="translate({x:.2f} {y:.2f})" d="{_MARKS[mark]}" stroke="{colour}" stroke-width="2" '
        f'fill="{colour if filled else "#FFFFFF"}"/>'
    )
