"""Why a part found no place, in words a maker can act on."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from strapwright.nesting.fill import STEP, Filling
from strapwright.nesting.rows import free_runs, upright, without
from strapwright.nesting.shape import blocked
from strapwright.nesting.verify import THICKNESS_AGREES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.fill import Lot, Rows, Spot
    from strapwright.nesting.hide import Hide
    from strapwright.parts.part import Part

_SCAN = 200
"""Free rows are measured every so many grid steps (2 mm)."""


@dataclass
class Reasons:
    """Finds the reasons of one finished layout; free rows are measured once for each width.

    Args:
        rows: what is known of hides and shapes.
        hides: all hides.
        spots: where the placed parts lie.
    """

    rows: Rows
    hides: Sequence[Hide]
    spots: Sequence[Spot]
    _measured: dict[tuple[int, float, bool], float] = field(default_factory=dict)

    def of(self, part: Part, lot: Lot) -> str:
        """Return why a part of a lot is not placed."""
        if not lot.hides:
            found = ", ".join(f"{hide.name} {hide.thickness:g} mm" for hide in self.hides)
            return (
                f"wants leather of {round(part.thickness, 2):g} mm, within {THICKNESS_AGREES:g} mm; "
                f"the hides are: {found}; take another hide, or change the job's thickness"
            )
        x0, y0, x1, y1 = part.outline.bounding_box
        width, length = sorted((x1 - x0, y1 - y0))
        fits_alone = any(
            Filling(self.rows, hide).lowest(turn) is not None for hide in lot.hides for turn in lot.turns
        )
        longest = max(self._longest(hide, width, fits_alone) for hide in lot.hides)
        needs = f"needs {_up(length)} mm by {_up(width)} mm"
        free = f"longest free is {math.floor(longest + 1e-6)} mm" if longest > 0 else "none is that wide"
        if not fits_alone:
            return f"no row long enough: {needs}, {free}"
        if longest < length:
            return f"no room left: {needs}, {free}"
        return f"no room left: {needs}, and no free place was found for it"

    def _longest(self, hide: int, width: float, beside_parts: bool) -> float:
        """Return the longest strip of a width that is free on a hide, mm."""
        key = (hide, round(width, 6), beside_parts)
        if key not in self._measured:
            on_it = [spot for spot in self.spots if beside_parts and spot.hide == hide]
            self._measured[key] = _longest(self.rows, hide, width, on_it)
        return self._measured[key]


def _up(value: float) -> str:
    return f"{math.ceil(value * 10 - 0.01) / 10:g}"


def _longest(rows: Rows, hide: int, width: float, on_it: Sequence[Spot]) -> float:
    """Return the longest strip of a width free beside parts on a hide, mm; 0 where there is none."""
    leather, line = rows.leathers[hide], upright(width)
    last = math.floor((leather.height - width) / STEP + 1e-6)
    if last < 0:
        return 0.0
    grown = {spot.shape: rows.shapes[spot.shape].grown for spot in on_it}
    known: dict[tuple[int, int], tuple[float, float] | None] = {}
    longest = 0.0
    for row in sorted({*range(0, last + 1, _SCAN), last}):
        runs = free_runs(leather, line, leather.y0 + row * STEP)
        if not runs or max(b - a for a, b in runs) <= longest:
            continue
        forbidden = []
        for spot in on_it:
            rise = (row - spot.row) * STEP
            if not -width < rise - grown[spot.shape].y[0] or rise > grown[spot.shape].y[-1]:
                continue
            key = (spot.shape, row - spot.row)
            if key not in known:
                known[key] = blocked(line, grown[spot.shape], rise)
            pair = known[key]
            if pair is not None:
                forbidden.append((spot.x + pair[0], spot.x + pair[1]))
        longest = max([longest, *(b - a for a, b in without(runs, forbidden))])
    return longest
