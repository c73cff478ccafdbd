"""A machine's measured kerfs, drawn over the leather's thickness, and over the days they were measured."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PlanError
from strapwright.drawing.canvas import Canvas, Circle, Line, Path, Text, polygon
from strapwright.drawing.layout.elements import text
from strapwright.drawing.svg import svg
from strapwright.machine.kerf import rows_in_use, same_thickness, standing
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from strapwright.drawing.canvas import Item
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.profile.machine_keys import KerfRow

    Place = Callable[[float, float], tuple[float, float]]


@dataclass(frozen=True)
class Field:
    """Where values stand on a plot, px.

    Args:
        width: of the drawing.
        height: of the drawing.
        left: its margin there.
        right: its margin there.
        top: its margin there.
        bottom: its margin there.
    """

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float

    def at(self, across: float, up: float) -> tuple[float, float]:
        """Return the place that lies so far along either axis, in shares of it."""
        x = self.left + across * (self.width - self.left - self.right)
        y = self.height - self.bottom - up * (self.height - self.top - self.bottom)
        return x, y


THICKNESSES: Final = Field(900.0, 560.0, 80.0, 30.0, 70.0, 90.0)
"""Of the kerfs over the leather's thickness."""

DAYS: Final = Field(560.0, 320.0, 56.0, 74.0, 48.0, 52.0)
"""Of those in one leather over the days they were measured."""

_STEPS: Final = (1, 2, 7, 14, 30, 61, 91, 182, 365, 730, 1826, 3652)
_MOST_TICKS: Final = 5
_LEAST_GAP: Final = 15.0
"""Between two labels, px."""

_ABOUT: Final = "filled: in use, joined where it is interpolated; hollow: replaced by a newer one"
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
    rows, field = machine.kerf, THICKNESSES
    x_step, x_low, x_high = axis_of([row.thickness for row in rows])
    y_step, y_low, y_high = axis_of([0.0, *(row.width + (row.spread or 0.0) / 2 for row in rows)])

    def at(thickness: float, width: float) -> tuple[float, float]:
        return field.at((thickness - x_low) / (x_high - x_low), (width - y_low) / (y_high - y_low))

    title = f"Kerf of {machine.name}"
    items: list[Item] = [
        text(field.left, 32, title, 20, bold=True),
        text(field.left, 54, _ABOUT, 12),
    ]
    for k in range(round((x_high - x_low) / x_step) + 1):
        x, y = at(x_low + k * x_step, y_low)
        items.append(Line(x, y, x, field.top, "grid"))
        items.append(text(x, y + 14, f"{x_low + k * x_step:.4g}", 12, middle=True))
    for k in range(round(y_high / y_step) + 1):
        x, y = at(x_low, k * y_step)
        items.append(Line(x, y, field.width - field.right, y, "grid"))
        items.append(text(x - 24, y, f"{k * y_step:.4g}", 12, middle=True))
    centre = (field.left + field.width - field.right) / 2
    items.append(text(centre, field.height - field.bottom + 36, "thickness, mm", 13, middle=True))
    upright = (field.top + field.height - field.bottom) / 2
    items.append(text(24, upright, "kerf, mm", 13, middle=True, turn=-90))
    materials = list(dict.fromkeys(row.material for row in rows))
    for material in materials:
        items += _material(material, rows, at)
    for k, material in enumerate(materials):
        x, y = field.left + 165 * k, field.height - 26
        items.append(Line(x, y, x + 40, y, f"kerf-{material}"))
        items.append(_mark(material, x + 20, y, f"reading-{material}"))
        items.append(text(x + 48, y + 4.5, str(material), 13))
    return Canvas(field.width, field.height, title, items, paper="sheet")


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


def kerf_history(machine: Machine, tannage: Tannage, today: date | None = None) -> Canvas:
    """Return a drawing of every kerf measured in leathers of one tannage over the day it was measured.

    One that counts is filled, one that was replaced hollow, one too old to be used crossed out. Kerfs of one
    thickness are joined. A bar shows how far several readings lay apart.

    Args:
        machine: whose kerfs.
        tannage: of the leathers; one at least was measured.
        today: the day ages are counted to; None is the day this runs.

    Returns:
        A canvas of 560 × 320 px.
    """
    rows = sorted((row for row in machine.kerf if row.material == tannage), key=lambda row: row.measured)
    ends = [row.width + way * (row.spread or 0.0) / 2 for row in rows for way in (-1, 1)]
    step, low, high = axis_of(ends)
    begin, every, end = _days(rows[0].measured, rows[-1].measured)

    def x_of(day: date) -> float:
        return DAYS.at((day - begin).days / (end - begin).days, 0.0)[0]

    def y_of(width: float) -> float:
        return DAYS.at(0.0, (width - low) / (high - low))[1]

    left, bottom = DAYS.at(0.0, 0.0)
    right = DAYS.width - DAYS.right
    items: list[Item] = list(_legend())
    for k in range(round((high - low) / step) + 1):
        y = y_of(low + k * step)
        items += [
            Line(left, y, right, y, "rule"),
            Text(f"{low + k * step:.4g}", left - 8, y + 4.5, 13, "end"),
        ]
    for k in range((end - begin).days // every + 1):
        day = begin + timedelta(days=k * every)
        items += [
            Line(x_of(day), bottom, x_of(day), bottom + 5, "mark"),
            Text(f"{day}", x_of(day), bottom + 20, 12, "middle"),
        ]
    items.append(Text("kerf, mm", 0.0, DAYS.top - 14, 13))
    items.append(Text("day it was measured", (left + right) / 2, DAYS.height - 8, 13, "middle"))
    labels = []
    for chain in _chains(rows):
        places = [(x_of(row.measured), y_of(row.width)) for row in chain]
        items += [Line(*one, *other, "thin") for one, other in itertools.pairwise(places)]
        labels.append((places[-1][1], f"{chain[-1].thickness:.4g} mm"))
    for row in rows:
        ys = [y_of(row.width + k * (row.spread or 0.0) / 2) for k in (-1, 0, 1)]
        items += _day_mark(x_of(row.measured), ys, standing(row, machine, today)[0])
    items += [Text(words, right + 8, y + 4.5, 13, bold=True) for y, words in _apart(labels)]
    return Canvas(
        DAYS.width, DAYS.height, f"Kerf of {machine.name} in {tannage} leather", items, paper="none"
    )


def _days(first: date, last: date) -> tuple[date, int, date]:
    """Return the first day of the axis, the days from one tick to the next, and the last day."""
    room = max((last - first).days, 4)
    every = next((one for one in _STEPS if room <= one * (_MOST_TICKS - 2)), room)
    begin = first - timedelta(days=every)
    count = (last - begin).days // every + 1
    return begin, every, begin + timedelta(days=every * count)


def _chains(rows: Sequence[KerfRow]) -> list[list[KerfRow]]:
    """Return the rows of each thickness, oldest first."""
    chains: list[list[KerfRow]] = []
    for row in rows:
        chain = next((one for one in chains if same_thickness(one[0], row)), None)
        if chain is None:
            chains.append([row])
        else:
            chain.append(row)
    return chains


def _day_mark(x: float, ys: Sequence[float], state: str) -> Iterator[Item]:
    """Yield the mark of a measurement, and the bar between its outermost readings."""
    low, y, high = ys
    counts = state == "in use"  # what does not stands back
    if high != low:
        yield Line(x, low, x, high, "mark" if counts else "thin")
        for end in (low, high) if counts else ():
            yield Line(x - 5, end, x + 5, end, "mark")
    yield Circle(x, y, 5.5 if counts else 4.0, "counts" if counts else "gap")
    if state == "too old":
        yield Path((((x - 3, y - 3), (x + 3, y + 3)), ((x - 3, y + 3), (x + 3, y - 3))), "mark")


def _legend() -> Iterator[Item]:
    x = DAYS.left + 60
    for state in ("in use", "replaced", "too old"):
        yield from _day_mark(x, (14.0, 14.0, 14.0), state)
        yield Text(state, x + 11, 18.5, 13)
        x += 92


def _apart(labels: Sequence[tuple[float, str]]) -> list[tuple[float, str]]:
    """Return labels moved apart where they would stand on one another, none below the axis."""
    placed: list[tuple[float, str]] = []
    for y, words in sorted(labels):
        placed.append((max(y, placed[-1][0] + _LEAST_GAP) if placed else y, words))
    lowest = DAYS.height - DAYS.bottom
    for k in range(len(placed) - 1, -1, -1):
        y, words = placed[k]
        placed[k] = min(y, lowest), words
        lowest = placed[k][0] - _LEAST_GAP
    return placed
