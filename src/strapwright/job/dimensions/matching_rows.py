"""The fastener rows of a turned end and their matching holes in the turn-back, and how the rows close.

The mate of a row in the front layer is where the turn-back is punched so that the two meet once it is folded.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PartError
from strapwright.rules.fasteners import (
    clear_of_frame,
    first_row,
    iron_pitch,
    row_pitch,
    up_to_half,
)
from strapwright.rules.fold import mate
from strapwright.rules.keeper import LAPPED, rise_that_closes, way_to_close

if TYPE_CHECKING:
    from strapwright.core.calculation import Calculation
    from strapwright.job.dimensions.layers import Layers
    from strapwright.job.spec.fittings import Dee, FastenerHoles, Stitch
    from strapwright.job.spec.strap import EndSpec
    from strapwright.rules.fold import Fitting


TWO_ACROSS_FROM: Final = 30.0
"""Straps this wide and wider take two fasteners across, mm (common practice)."""

BARE_ROW_PITCH: Final = 20.0
"""Least distance of two fastener rows with no keeper between, mm (common practice)."""

STITCHED_RUN: Final = 12.0
"""Least length of a run of stitches on one side of the keeper, mm (common practice)."""

BESIDE_BAR: Final = 1.5
"""Air between a dee ring's bar and what lies on either side, mm, as beside a keeper (common practice)."""

SEAM_PARTS: Final = 4.0
"""Stitched layers begin to part this far from a keeper's edge, mm: a house rule; riveted ones at the row."""


@dataclass(frozen=True)
class Closing:
    """How a row closes beside a keeper that lies between the layers.

    Args:
        row: its name, ``"A"``; empty for a seam.
        way: strap from the row to the keeper's edge, mm.
        rise: how far each of the two layers climbs on it, half of what the keeper puts between them, mm.
        radius: of the tightest bend allowed, to the middle of a layer: the fold's own, mm.
    """

    row: str
    way: float
    rise: float
    radius: float

    @property
    def least_way(self) -> float:
        """The way it would take, mm."""
        return way_to_close(self.rise, self.radius)

    @property
    def left_open(self) -> float:
        """How far each layer stays off the middle at the row, mm; 0 where it closes."""
        return max(self.rise - rise_that_closes(self.way, self.radius), 0.0)

    @property
    def closes(self) -> bool:
        """Whether the layers come together at the row."""
        return self.left_open < 1e-9


@dataclass(frozen=True)
class Fold:
    """The fold of an end, to which its rows are fitted.

    Args:
        asked: what is asked for of the end.
        fitting: what it is folded round.
        layers: its thicknesses.
        held: where the keeper is kept.
        radius: inner radius of the fold, mm.
        neutral_axis: K, the share of the thickness that keeps its length.
        turn: the half-turn, mm.
        work: takes the calculation.
    """

    asked: EndSpec
    fitting: Fitting
    layers: Layers
    held: str
    radius: float
    neutral_axis: float
    turn: float
    work: Calculation

    @property
    def sewn(self) -> bool:
        """Whether the turn-back is stitched."""
        return self.asked.fastener == "stitched"

    @property
    def own_bend(self) -> float:
        """The radius of its own bend to the middle of the thicker layer, mm."""
        return self.radius + max(self.layers.strap, self.layers.fold) / 2


def front_rows(fold: Fold, slot_end: float, head: float, widest: tuple[float, ...]) -> tuple[float, ...]:
    """Return where the fastener rows lie in the front layer, or where its runs of stitches begin, mm.

    Args:
        fold: the end's.
        slot_end: how far the prong slot, or the half-turn, reaches from the fold line, mm.
        head: half a fastener's head, mm; 0 for a stitched end.
        widest: the larger hole of each row, mm; empty for a stitched end.

    Raises:
        PartError: rows asked for nearer than they may lie.
    """
    asked, fitting, held, turn, work = fold.asked, fold.fitting, fold.held, fold.turn, fold.work
    stitched, keeper, holes = fold.sewn, asked.keeper, asked.fastener_holes
    d = 0.0 if stitched else widest[0]
    t, bar = fold.layers.strap, fitting.bar.width
    first = work.add(
        "first stitch" if stitched else "fastener row A",
        f"{'slot' if fitting.prongs else 'B'}/2 + max(1.5 t, d) + d/2, up to 0.5 mm",
        f"{slot_end:.2f} + max(1.5 × {t:.2f}, {d:g}) + {d:g}/2",
        first_row(slot_end, t, d),
    )
    if held == "row_a" and keeper is not None:
        beside = up_to_half(slot_end + 1.5 + keeper.width / 2)
        if beside > first:
            numbers = f"{slot_end:.2f} + 1.5 + {keeper.width:g}/2"
            first = work.add("row A with the keeper under it", "slot/2 + 1.5 + keeper/2", numbers, beside)
    if fitting.rear_depth:
        half, words = head, "head/2"
        if held == "row_a" and keeper is not None and keeper.width / 2 + BESIDE_BAR > head:
            half, words = keeper.width / 2 + BESIDE_BAR, "keeper/2 + 1.5"
        rear = up_to_half(turn / 2 + fitting.rear_depth + bar + half)
        if rear > first:
            numbers = f"{turn / 2:.2f} + {fitting.rear_depth:g} + {bar:g} + {half:g}"
            formula = f"B/2 + rear depth + bar + {words}, up to 0.5 mm"
            first = work.add("row A clear of the rear loop", formula, numbers, rear)
    elif head and fitting.depth is not None:
        swung = clear_of_frame(first, turn, fitting.depth, bar, head)
        if swung > first:
            first = work.add(
                "row A clear of the swinging frame",
                "B/2 + frame depth + bar + head/2, up to 0.5 mm",
                f"{turn / 2:.2f} + {fitting.depth:g} + {bar:g} + {head:g}",
                swung,
            )
    a = turn / math.pi
    clear = up_to_half(turn / 2 + a + max(d / 2, 1.0))
    if clear > first:  # a thick bar in thin leather: nearer, the turn-back could not come down to the front
        numbers = f"{turn / 2:.2f} + {a:.2f} + {max(d / 2, 1.0):g}"
        first = work.add("row A clear of the fold's round", "B/2 + a + d/2, up to 0.5 mm", numbers, clear)
    if holes.rows == 1:
        return (first,)
    pitch, given = _pitch(fold, widest), holes.spacing_along
    if given is not None and given < pitch - 1e-9:
        raise PartError(
            f"fastener_holes.spacing_along is {given:g} mm; keeper, holes and room between the rows allow "
            f"{math.ceil(pitch * 10 - 1e-9) / 10:g} mm or more"
        )
    return first, first + (given or _room_to_close(fold, pitch))


def _pitch(fold: Fold, widest: tuple[float, ...]) -> float:
    keeper, held, work = fold.asked.keeper, fold.held, fold.work
    run, d_a, d_b = 0.0, *(widest[:2] or (0.0, 0.0))
    if fold.sewn:  # the second run begins where the first has ended, past the keeper
        run = stitch_runs((0.0,), fold.asked.stitch)[0][-1]
    if keeper is None or held == "slides":
        return max(BARE_ROW_PITCH, 4 * max(d_a, d_b), run + (run / 4 if run else 0.0))
    if held == "between":
        d = (d_a + d_b) / 2
        numbers = f"{run:.1f} + {keeper.width:g} + 3 + {d:g}" if run else f"{keeper.width:g} + 3 + {d:g}"
        return work.add("row pitch", "keeper + 3 + d", numbers, run + row_pitch(keeper.width, d))
    # clamped under one row: the other stands clear of its edge
    d = d_b if held == "row_a" else d_a
    pitch = keeper.width / 2 + 1.5 + d / 2
    numbers = f"{keeper.width:g}/2 + 1.5 + {d:g}/2"
    return max(work.add("row pitch beside the keeper", "keeper/2 + 1.5 + d/2", numbers, pitch), d_a + d_b)


def _room_to_close(fold: Fold, pitch: float) -> float:
    """Return a row pitch that lets the layers close over a usual keeper, mm: small holes may need more.

    Usual is one thickness, or a lap of thin leather; a row closes over more if the job sets the rows apart.
    """
    keeper, held = fold.asked.keeper, fold.held
    if keeper is None or held == "slides":
        return pitch
    usual = min(fold.layers.keeper_stack, max(fold.layers.keeper, 2 * LAPPED))
    way = way_to_close(usual / 2, fold.own_bend)
    needed = keeper.width + 2 * way if held == "between" else keeper.width / 2 + way
    if needed <= pitch + 1e-9:
        return pitch
    formula = f"{'keeper + 2 w' if held == 'between' else 'keeper/2 + w'}, up to 0.5 mm"
    numbers = f"w = {way:.2f} for a keeper of {usual:g}"
    return fold.work.add("raised so that the rows close", formula, numbers, up_to_half(needed))


def fastener_ys(holes: FastenerHoles, width: float) -> tuple[float, ...]:
    """Return where the fasteners of a row lie across a strap of this width, mm."""
    across = holes.across or (2 if width >= TWO_ACROSS_FROM else 1)
    half = (holes.spacing_across or width / 2) / 2
    return (0.0,) if across == 1 else (-half, half)


def stitch_runs(rows: tuple[float, ...], stitch: Stitch) -> tuple[tuple[float, ...], ...]:
    """Return the stitch holes of each run along the strap, the first at each row's place.

    Args:
        rows: where the runs begin, mm.
        stitch: with the iron.
    """
    pitch = iron_pitch(stitch.iron)
    count = math.ceil(STITCHED_RUN / pitch - 1e-9)
    return tuple(tuple(row + n * pitch for n in range(count + 1)) for row in rows)


def gaps_at(fold: Fold) -> tuple[float, ...]:
    """Return how far the layers are held open at each row: by the keeper where it lies under it."""
    rows = fold.asked.fastener_holes.rows + (fold.asked.dee is not None)
    thick = fold.layers.keeper_stack if fold.asked.keeper else 0.0
    return tuple(thick if fold.held == f"row_{name}" else 0.0 for name in "abc"[:rows])


def row_beyond_dee(
    dee: Dee, width: float, last: float, keeper_end: float, head: float, work: Calculation
) -> tuple[float, float]:
    """Return where a dee ring's bar lies and where the row beyond it begins.

    Args:
        dee: the ring.
        width: of the strap, which passes through the ring, mm.
        last: the last hole before the ring, mm.
        keeper_end: far edge of the keeper, which must not lie under the ring, mm.
        head: half a fastener's head, mm; 0 for a stitched end.
        work: takes the calculation.
    """
    if dee.width < width - 1e-9:
        raise PartError(
            f"dee.width is {dee.width:g} mm; a {width:g} mm strap passes through the ring, which allows "
            f"{width:g} mm or more"
        )
    # The heads on either side must not press on the ring's bulge, nor on each other.
    reach = BESIDE_BAR + dee.bar_diameter / 2
    middle = max(last + head, keeper_end) + reach
    beyond = work.add(
        "row beyond the dee ring",
        "last row + bar + 3 + head, or keeper end + bar + 3 + head/2",
        f"max({last:.2f} + {head:g}, {keeper_end:.2f}) + {dee.bar_diameter:g} + 3 + {head:g}",
        middle + reach + head,
    )
    return middle, beyond


def matching_rows(fold: Fold, rows: tuple[float, ...], gaps: tuple[float, ...]) -> tuple[float, ...]:
    """Return the rows' mates: where in the turn-back the holes lie that meet each row of the front, mm.

    Once clamped at row A the layers run on side by side: later rows at the same gap take its shift, and
    where a keeper holds them open further on, the turn-back goes the slant way there and back. A dee ring's
    bar on the way back lies between layers that are open anyway, and changes that by some 0.01 mm.
    """
    layers, r, k = fold.layers, fold.radius, fold.neutral_axis
    a = r + k * layers.fold
    first = fold.work.add(
        "hole A′ in the turn-back",
        "B/2 − [a (3π/2 − ψ) + √(L² + z² − a²)], a = r + K t",
        f"a = {a:.3f}, L = {rows[0] - fold.turn / 2:.2f}, z = {a - layers.clamped - gaps[0]:.3f}",
        mate(rows[0], layers.fold, r, k, gaps[0], clamped=layers.clamped),
    )
    found = [first]
    for place in range(1, len(rows)):
        pitch, opened = rows[place] - rows[place - 1], gaps[place] - gaps[place - 1]
        found.append(found[-1] - math.hypot(pitch, opened))
        fold.work.add(
            f"hole {'ABC'[place]}′ in the turn-back",
            "hole before − √(pitch² + gap²)" if opened else "hole before − pitch",
            f"{found[-2]:.2f} − " + (f"√({pitch:.2f}² + {opened:.2f}²)" if opened else f"{pitch:.2f}"),
            found[-1],
        )
    return tuple(found)


def closings_of(fold: Fold, rows: tuple[float, ...], keeper_end: float) -> tuple[Closing, ...]:
    """Return how the row before a keeper between the layers closes, and the row after it."""
    keeper, layers, work = fold.asked.keeper, fold.layers, fold.work
    if keeper is None or fold.held not in ("between", "row_a", "row_b"):
        return ()
    stack, radius = layers.keeper_stack, fold.own_bend
    rise = stack / 2
    twice = f"2 × {layers.keeper:.2f}" if layers.lapped else f"{layers.keeper:.2f}"
    work.add("keeper between the layers", "2 t_k, lapped" if layers.lapped else "t_k", twice, stack)
    numbers = f"z = {rise:.2f}, R = {radius:.2f}"
    work.add("row to keeper, at least", "2 R √(z / (4 R − z))", numbers, way_to_close(rise, radius))
    if fold.sewn:
        return (Closing("", SEAM_PARTS, rise, radius),)
    before = [(keeper_end - keeper.width - x, name) for x, name in zip(rows, "ABC", strict=False)]
    after = [(x - keeper_end, name) for x, name in zip(rows, "ABC", strict=False)]
    nearest = [min(one for one in side if one[0] > 0) for side in (before, after) if max(side)[0] > 0]
    return tuple(Closing(name, way, rise, radius) for way, name in nearest)
