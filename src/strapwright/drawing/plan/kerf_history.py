"""A machine's kerfs in one leather over the days they were measured: which counts, and how they drift."""

from __future__ import annotations

import itertools
from datetime import date, timedelta
from typing import TYPE_CHECKING, Final

from strapwright.drawing.canvas import Canvas, Circle, Line, Path, Text
from strapwright.drawing.plan.kerf_plot import axis_of
from strapwright.machine.kerf import same_thickness, standing

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.drawing.canvas import Item
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.profile.machine_keys import KerfRow
    from strapwright.rules.leather import Tannage

WIDTH: Final = 560.0
HEIGHT: Final = 320.0
"""Size of the drawing, px."""

_LEFT, _RIGHT, _TOP, _BOTTOM = 56.0, 74.0, 48.0, 52.0
_STEPS: Final = (1, 2, 7, 14, 30, 61, 91, 182, 365, 730, 1826, 3652)
_MOST_TICKS: Final = 5
_LEAST_GAP: Final = 15.0
"""Between two labels, px."""


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
        return _LEFT + (day - begin).days / (end - begin).days * (WIDTH - _LEFT - _RIGHT)

    def y_of(width: float) -> float:
        return HEIGHT - _BOTTOM - (width - low) / (high - low) * (HEIGHT - _TOP - _BOTTOM)

    bottom, right = HEIGHT - _BOTTOM, WIDTH - _RIGHT
    items: list[Item] = list(_legend())
    for k in range(round((high - low) / step) + 1):
        y = y_of(low + k * step)
        items += [
            Line(_LEFT, y, right, y, "rule"),
            Text(f"{low + k * step:.4g}", _LEFT - 8, y + 4.5, 13, "end"),
        ]
    for k in range((end - begin).days // every + 1):
        day = begin + timedelta(days=k * every)
        items += [
            Line(x_of(day), bottom, x_of(day), bottom + 5, "mark"),
            Text(f"{day}", x_of(day), bottom + 20, 12, "middle"),
        ]
    items.append(Text("kerf, mm", 0.0, _TOP - 14, 13))
    items.append(Text("day it was measured", (_LEFT + right) / 2, HEIGHT - 8, 13, "middle"))
    labels = []
    for chain in _chains(rows):
        places = [(x_of(row.measured), y_of(row.width)) for row in chain]
        items += [Line(*one, *other, "thin") for one, other in itertools.pairwise(places)]
        labels.append((places[-1][1], f"{chain[-1].thickness:.4g} mm"))
    for row in rows:
        ys = [y_of(row.width + k * (row.spread or 0.0) / 2) for k in (-1, 0, 1)]
        items += _mark(x_of(row.measured), ys, standing(row, machine, today)[0])
    items += [Text(words, right + 8, y + 4.5, 13, bold=True) for y, words in _apart(labels)]
    return Canvas(WIDTH, HEIGHT, f"Kerf of {machine.name} in {tannage} leather", items, paper="none")


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


def _mark(x: float, ys: Sequence[float], state: str) -> Iterator[Item]:
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
    x = _LEFT + 60
    for state in ("in use", "replaced", "too old"):
        yield from _mark(x, (14.0, 14.0, 14.0), state)
        yield Text(state, x + 11, 18.5, 13)
        x += 92


def _apart(labels: Sequence[tuple[float, str]]) -> list[tuple[float, str]]:
    """Return labels moved apart where they would stand on one another, none below the axis."""
    placed: list[tuple[float, str]] = []
    for y, words in sorted(labels):
        placed.append((max(y, placed[-1][0] + _LEAST_GAP) if placed else y, words))
    lowest = HEIGHT - _BOTTOM
    for k in range(len(placed) - 1, -1, -1):
        y, words = placed[k]
        placed[k] = min(y, lowest), words
        lowest = placed[k][0] - _LEAST_GAP
    return placed
