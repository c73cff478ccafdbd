"""One layout from one order of parts: each goes to the lowest free place of the first hide that has one.

Straps start at the hide's side of least height (the trued edge, when the hide file puts it along the
x axis) and stack away from it, so that what is left over stays in one piece on the far side.
"""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.rows import SLACK, free_runs, without
from strapwright.nesting.shape import Profile, blocked

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.rows import Leather, Run
    from strapwright.nesting.shape import Shape

STEP = 0.01
"""Heights lie on this grid, mm, so that rows met before are looked up and not computed again."""

_SCAN = 400
"""Rows are tried every so many grid steps (4 mm); a hit is then lowered by halving."""

_FINE_SCAN = 50
"""Where no row of that scan is free, rows are tried every so many grid steps (0.5 mm)."""

_FINE = 4
"""Halving stops at so many grid steps (0.04 mm)."""

_CORE = 0.15
"""A core leaves out this share of a shape's height at its top and at its bottom, where tips curve."""

_BUCKET = 6400
"""Placed parts are looked up by bands of so many grid steps (64 mm)."""

_REMEMBERED = 300_000
"""Rows kept in memory: about 100 MB."""

_REMEMBERED_PAIRS = 20_000
"""Heights kept in memory for one shape beside another."""


@dataclass(frozen=True)
class Lot:
    """Equal parts, asked several times over: one set of shapes, worked out once.

    Args:
        turns: numbers of the shapes the parts may take, by turn.
        area: of one part, mm².
        length: of one part along the strap, mm.
        height: of one part across it, mm.
        hides: numbers of the hides whose thickness agrees.
    """

    turns: tuple[int, ...]
    area: float
    length: float
    height: float
    hides: tuple[int, ...]


@dataclass(frozen=True)
class Choice:
    """How one part is to be put down.

    Args:
        lot: number of its lot.
        side: 0 the leftmost free run, 1 the rightmost, 2 the shortest that is long enough.
        first_turn: which of the lot's turns wins where two reach equally low.
    """

    lot: int
    side: int = 0
    first_turn: int = 0


@dataclass(frozen=True)
class Spot:
    """Where a part lies: hide and shape by number, x in mm and height on the grid, in the hide's frame."""

    hide: int
    shape: int
    x: float
    row: int


class Rows:
    """What has been worked out about the hides and shapes of one nest, kept from layout to layout.

    Beside each shape's own body there are cores: upright lines a little lower than a shape. A row can
    only take a shape if some run of its core's is as long as the shape is there, and shapes of one
    height share their core, so that most full rows are told without looking at the shape.

    Args:
        leathers: the free leather of each hide.
        shapes: every part in every turn.
    """

    def __init__(self, leathers: tuple[Leather, ...], shapes: tuple[Shape, ...]) -> None:
        self.leathers = leathers
        self.shapes = shapes
        self.bodies = [shape.body for shape in shapes]
        self.core_of = [self._core(shape) for shape in shapes]
        self._scans: dict[tuple[int, int], list[int]] = {}
        self._free: dict[tuple[int, int, int], list[Run]] = {}
        self._pairs: dict[tuple[int, int], dict[int, Run | None]] = {}

    def _core(self, shape: Shape) -> tuple[int, float]:
        """Return the number of a shape's core among the bodies, and the shape's length there."""
        band = np.array([_CORE, 1.0 - _CORE]) * shape.height
        left = float(np.interp(band, shape.body.y, shape.body.left).max())
        right = float(np.interp(band, shape.body.y, shape.body.right).min())
        for number in range(len(self.shapes), len(self.bodies)):
            if np.array_equal(self.bodies[number].y, band):
                return number, right - left
        self.bodies.append(Profile(band, np.zeros(2), np.zeros(2)))
        return len(self.bodies) - 1, right - left

    def free(self, hide: int, body: int, row: int) -> list[Run]:
        """Return the free runs of a body in a row of the empty hide."""
        key = (hide, body, row)
        runs = self._free.get(key)
        if runs is None:
            if len(self._free) > _REMEMBERED:
                self._free.clear()
            leather = self.leathers[hide]
            runs = free_runs(leather, self.bodies[body], leather.y0 + row * STEP)
            self._free[key] = runs
        return runs

    def scan(self, hide: int, shape: int) -> list[int]:
        """Return rows of the empty hide that may take a shape, from a scan every 4 mm.

        Where none of those takes it, the scan is made again every half millimetre.
        """
        key = (hide, shape)
        rows = self._scans.get(key)
        if rows is None:
            last = self.last_row(hide, shape)
            core, length = self.core_of[shape]
            for step in (_SCAN, _FINE_SCAN):
                tried = [*range(0, last + 1, step), last] if last >= 0 else []
                rows = [row for row in tried if _longest(self.free(hide, core, row)) >= length - SLACK]
                if any(self.free(hide, shape, row) for row in rows):
                    break
            assert rows is not None
            self._scans[key] = rows
        return rows

    def last_row(self, hide: int, shape: int) -> int:
        """Return the highest row a shape could lie in; negative where the hide is too narrow for it."""
        room = self.leathers[hide].height - self.shapes[shape].height
        return math.floor(room / STEP + 1e-6)

    def pair(self, body: int, other: int, rise: int) -> Run | None:
        """Return the x, from the other's, that a body lying ``rise`` grid steps higher may not take."""
        known = self._pairs.setdefault((body, other), {})
        if rise not in known:
            if len(known) > _REMEMBERED_PAIRS:
                known.clear()
            known[rise] = blocked(self.bodies[body], self.shapes[other].grown, rise * STEP)
        return known[rise]

    def top(self, shape: int) -> int:
        """Return how many grid steps higher another part may lie straight above a shape."""
        return math.ceil(float(self.shapes[shape].grown.y[-1]) / STEP - 1e-6)


def _longest(runs: list[Run]) -> float:
    """Return the length of the longest run; less than nothing where there is none."""
    return max((stop - start for start, stop in runs), default=-math.inf)


@dataclass
class Filling:
    """The parts put down so far on one hide.

    Args:
        rows: what is known of hides and shapes.
        hide: number of the hide.
    """

    rows: Rows
    hide: int
    spots: list[Spot] = field(default_factory=list)
    _buckets: dict[int, list[tuple[int, int, Spot]]] = field(default_factory=dict)
    _room: dict[int, dict[tuple[int, int], float]] = field(default_factory=dict)
    _untried: dict[int, list[int]] = field(default_factory=dict)
    _settled: set[tuple[int, int]] = field(default_factory=set)

    def runs(self, body: int, row: int) -> list[Run]:
        """Return where a body is free in a row, beside the parts already down."""
        runs = self.rows.free(self.hide, body, row)
        if not runs:
            return runs
        top = row + math.ceil(float(self.rows.bodies[body].y[-1]) / STEP)
        forbidden: list[Run] = []
        for bucket in range(row // _BUCKET, top // _BUCKET + 1):
            for low, high, spot in self._buckets.get(bucket, ()):
                if low < top and high > row:
                    pair = self.rows.pair(body, spot.shape, row - spot.row)
                    if pair is not None:
                        forbidden.append((spot.x + pair[0], spot.x + pair[1]))
        return without(runs, forbidden)

    def takes(self, shape: int, row: int) -> bool:
        """Return whether a row has room for a shape beside the parts already down."""
        core, length = self.rows.core_of[shape]
        known = self._room.setdefault(row // _BUCKET, {})
        room = known.get((core, row))
        if room is None:
            room = known[core, row] = _longest(self.runs(core, row))
        return room >= length - SLACK and bool(self.runs(shape, row))

    def lowest(self, shape: int) -> int | None:
        """Return the lowest row with room for a shape, or None.

        Rows once found full are not tried again: parts are only ever added.
        """
        untried = self._untried.get(shape)
        if untried is None:
            untried = self._first_rows(shape)
            self._untried[shape] = untried
        while untried:
            row = untried[0]
            if self.takes(shape, row):
                if (shape, row) not in self._settled:
                    row = self._lowered(shape, row)
                    self._settled.add((shape, row))
                    heapq.heappush(untried, row)
                return row
            heapq.heappop(untried)
        return None

    def _first_rows(self, shape: int) -> list[int]:
        last = self.rows.last_row(self.hide, shape)
        above = (spot.row + self.rows.top(spot.shape) for spot in self.spots)
        return sorted({*self.rows.scan(self.hide, shape), *(row for row in above if row <= last)})

    def _lowered(self, shape: int, row: int) -> int:
        """Return the lowest row found by halving down from a free row of the scan."""
        low, high = row - _SCAN, row
        while low >= 0 and high - low > _FINE:
            middle = (low + high) // 2
            if self.takes(shape, middle):
                high = middle
            else:
                low = middle
        return high

    def put(self, spot: Spot) -> None:
        """Put a part down."""
        self.spots.append(spot)
        grown = self.rows.shapes[spot.shape].grown
        low = spot.row + math.floor(float(grown.y[0]) / STEP)
        top = spot.row + self.rows.top(spot.shape)
        for bucket in range(low // _BUCKET, top // _BUCKET + 1):
            self._buckets.setdefault(bucket, []).append((low, top, spot))
            # What was known of room here, and for bodies that reach here from below, is out of date;
            # further down it may be, and then tells too much room, which does no harm.
            self._room.pop(bucket, None)
            self._room.pop(bucket - 1, None)
        for shape, untried in self._untried.items():
            if top <= self.rows.last_row(self.hide, shape):
                heapq.heappush(untried, top)


@dataclass(frozen=True)
class Filled:
    """One finished layout.

    Args:
        spots: where each choice's part lies, or None, in the order of the choices.
        key: the smaller the better: unplaced area, hides used, height used of the last, and how high
            the parts lie on the whole.
    """

    spots: tuple[Spot | None, ...]
    key: tuple[float, int, int, float]


def fill(rows: Rows, lots: Sequence[Lot], choices: Sequence[Choice]) -> Filled:
    """Put parts down one after another, each as low as it goes.

    Args:
        rows: what is known of hides and shapes.
        lots: the lots the choices speak of.
        choices: the parts in order.

    Returns:
        Where they lie and how good that is.
    """
    fillings = [Filling(rows, number) for number in range(len(rows.leathers))]
    full: set[tuple[int, int]] = set()
    spots: list[Spot | None] = []
    missing = spread = 0.0
    for choice in choices:
        lot = lots[choice.lot]
        spot = None
        for hide in lot.hides:
            if (hide, choice.lot) in full:
                continue
            spot = _place(fillings[hide], lot, choice)
            if spot is not None:
                break
            full.add((hide, choice.lot))
        spots.append(spot)
        if spot is None:
            missing += lot.area
        else:
            spread += lot.area * (spot.row * STEP + rows.shapes[spot.shape].height / 2)
    used = [f for f in fillings if f.spots]
    height = 0
    if used:
        height = max(s.row + round(rows.shapes[s.shape].height / STEP) for s in used[-1].spots)
    return Filled(tuple(spots), (round(missing, 6), len(used), height, round(spread, 3)))


def _place(filling: Filling, lot: Lot, choice: Choice) -> Spot | None:
    """Put one part where its upper edge comes lowest, and return the spot; None where it has no room."""
    shapes = filling.rows.shapes
    best: tuple[int, int, int, int] | None = None
    for turn, shape in enumerate(lot.turns):
        row = filling.lowest(shape)
        if row is not None:
            later = (turn - choice.first_turn) % len(lot.turns)
            reach = (row + math.ceil(shapes[shape].height / STEP), later, row, shape)
            best = reach if best is None else min(best, reach)
    if best is None:
        return None
    _, _, row, shape = best
    runs = filling.runs(shape, row)
    if choice.side == 1:
        x = runs[-1][1]
    elif choice.side == 0:
        x = runs[0][0]
    else:
        x = min(runs, key=lambda run: run[1] - run[0])[0]
    spot = Spot(filling.hide, shape, x, row)
    filling.put(spot)
    return spot
