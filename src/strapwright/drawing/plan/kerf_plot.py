"""A machine's measured kerfs over the leather's thickness, drawn for a screen or a sheet of paper."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PlanError
from strapwright.drawing.canvas import Canvas, Circle, Line, Path, polygon
from strapwright.drawing.layout.elements import text
from strapwright.drawing.svg import svg
from strapwright.machine.kerf import rows_in_use
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.drawing.canvas import Item
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.profile.machine_keys import KerfRow

    Place = Callable[[float, float], tuple[float, float]]

WIDTH: Final = 900.0
HEIGHT: Final = 560.0
"""Size of the drawing, px."""

_LEFT, _RIGHT, _TOP, _BOTTOM = 80.0, 30.0, 70.0, 90.0

_MARKS: Final = {
    "chrome": ((-4.5, -4.5), (4.5, -4.5), (4.5, 4.5), (-4.5, 4.5)),
    "combination": ((0, -6), (6, 0), (0, 6), (-6, 0)),
    "synthetic": ((0, -6), (5.5, 4.5), (-5.5, 4.5)),
}
"""Corners of the marks: materials are known apart without colours; vegetable has a disc, unknown a cross."""


def kerf_plot(machine: Machine) -> str:
    """Return the drawing of a machine's measured kerfs as SVG: see `kerf_drawing`."""
    return svg(kerf_drawing(machine))


def kerf_drawing(machine: Machine) -> Canvas:
    """Return a drawing that shows every measured kerf of a machine over the leather's thickness.

    Rows that count are filled and joined by the line that is interpolated along; rows that newer ones
    replaced are hollow. A bar shows how far several readings lay apart.

    Args:
        machine: whose kerfs.

    Returns:
        A canvas of 900 × 560 px.

    Raises:
        PlanError: nothing has been measured yet.
    """
    if not machine.kerf:
        raise PlanError(f"machine {machine.name!r} has no kerf measured, so there is nothing to draw")
    rows = machine.kerf
    x_step, x_low, x_high = axis_of([row.thickness for row in rows])
    y_step, y_low, y_high = axis_of([0.0, *(row.width + (row.spread or 0.0) / 2 for row in rows)])

    def at(thickness: float, width: float) -> tuple[float, float]:
        x = _LEFT + (thickness - x_low) / (x_high - x_low) * (WIDTH - _LEFT - _RIGHT)
        y = HEIGHT - _BOTTOM - (width - y_low) / (y_high - y_low) * (HEIGHT - _TOP - _BOTTOM)
        return x, y

    title = f"Kerf of {machine.name}"
    items: list[Item] = [
        text(_LEFT, 32, title, 20, bold=True),
        text(
            _LEFT, 54, "filled: in use, joined where it is interpolated; hollow: replaced by a newer one", 12
        ),
    ]
    for k in range(round((x_high - x_low) / x_step) + 1):
        x, y = at(x_low + k * x_step, y_low)
        items.append(Line(x, y, x, _TOP, "grid"))
        items.append(text(x, y + 14, f"{x_low + k * x_step:.4g}", 12, middle=True))
    for k in range(round(y_high / y_step) + 1):
        x, y = at(x_low, k * y_step)
        items.append(Line(x, y, WIDTH - _RIGHT, y, "grid"))
        items.append(text(x - 24, y, f"{k * y_step:.4g}", 12, middle=True))
    centre = (_LEFT + WIDTH - _RIGHT) / 2
    items.append(text(centre, HEIGHT - _BOTTOM + 36, "thickness, mm", 13, middle=True))
    upright = (_TOP + HEIGHT - _BOTTOM) / 2
    items.append(text(24, upright, "kerf, mm", 13, middle=True, turn=-90))
    materials = list(dict.fromkeys(row.material for row in rows))
    for material in materials:
        items += _material(material, rows, at)
    for k, material in enumerate(materials):
        x, y = _LEFT + 165 * k, HEIGHT - 26
        items.append(Line(x, y, x + 40, y, f"kerf-{material}"))
        items.append(_mark(material, x + 20, y, f"reading-{material}"))
        items.append(text(x + 48, y + 4.5, str(material), 13))
    return Canvas(WIDTH, HEIGHT, title, items, paper="sheet")


def _material(material: Tannage, rows: Sequence[KerfRow], at: Place) -> list[Item]:
    """Return one material's line, spreads and marks."""
    used = rows_in_use(rows, material)
    out: list[Item] = [
        Line(*at(first.thickness, first.width), *at(second.thickness, second.width), f"kerf-{material}")
        for first, second in itertools.pairwise(used)
    ]
    for row in (row for row in rows if row.material == material):
        in_use = any(row is one for one in used)
        x, y = at(row.thickness, row.width)
        if row.spread:
            (_, low), (_, high) = (at(row.thickness, row.width + way * row.spread / 2) for way in (-1, 1))
            ends = ((x, low, x, high), *((x - 5, end, x + 5, end) for end in (low, high)))
            out += [Line(*one, f"spread-{material}") for one in ends]
        out.append(_mark(material, x, y, f"reading-{material}" if in_use else "replaced"))
        if in_use:
            # Kerfs rise with the thickness, so the line leaves these corners free.
            out.append(text(x - 22, y - 14, f"{row.width:.3g}", 12, middle=True))
            out.append(text(x + 10, y + 16, f"{row.measured}", 10, look="quiet"))
    return out


def axis_of(values: Sequence[float]) -> tuple[float, float, float]:
    """Return the step of an axis' lines and its ends, round numbers beyond the values.

    Example:
        >>> axis_of([2.0, 4.4])
        (0.5, 1.5, 5.0)
    """
    low, high = min(values), max(values)
    room = max(high - low, 0.2 * high)
    power = 10.0 ** math.floor(math.log10(room / 5))
    step = next(power * k for k in (1.0, 2.0, 5.0, 10.0) if power * k >= room / 5 - 1e-12)
    return step, max(0.0, step * (math.floor(low / step) - 1)), step * (math.ceil(high / step - 1e-9) + 1)


def _mark(material: Tannage, x: float, y: float, look: str) -> Item:
    """Return the mark of a material's reading."""
    if material == Tannage.VEGETABLE:
        return Circle(x, y, 5, look)
    if material == Tannage.UNKNOWN:
        ends = ((-5, 5), (5, -5)), ((-5, -5), (5, 5))
        return Path(tuple([(x + u, y + v) for u, v in run] for run in ends), look)
    return polygon(look, *((x + u, y + v) for u, v in _MARKS[material.value]))
