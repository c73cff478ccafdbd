"""The figures of one belt: every number that follows from buckle, person and leather, with its working."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.trade.fasteners import end_margin, first_row, row_pitch
from strapwright.trade.fold import bend_radius, flat_bar_radius, half_turn, mate, slot_length, slot_width
from strapwright.trade.keeper import keeper_length
from strapwright.trade.sizing import (
    INCH,
    Seat,
    doubled_room,
    girth_of_hole,
    hole_from_girth,
    hole_from_worn,
    last_hole_to_tip,
    strap_width,
    worn_from_trousers,
)

if TYPE_CHECKING:
    from strapwright.job.belt import Belt, Keeper, Leather
    from strapwright.job.buckle import Buckle
    from strapwright.job.model import House

HOLE_CLEARANCE: Final = 1.0
"""An adjusting hole is this much wider than the prong, mm (common practice)."""

HEAD_RADIUS: Final = 5.0
"""Half the head of a usual screw post, mm (from memory): what must clear a rear loop."""

TWO_ACROSS_FROM: Final = 30.0
"""Straps this wide and wider take two fasteners across, mm (common practice)."""

TIP_PAST_KEEPER: Final = 10.0
"""At the loosest hole the tip still reaches this far beyond the keeper, mm (common practice)."""

BARE_ROW_PITCH: Final = 20.0
"""Least distance of two fastener rows with no keeper between, mm (common practice)."""


@dataclass(frozen=True)
class Step:
    """One line of working, for the maker to check with rule and pencil.

    Args:
        label: what is worked out.
        formula: in symbols.
        numbers: the same with the numbers put in.
        value: mm.
    """

    label: str
    formula: str
    numbers: str
    value: float


@dataclass(frozen=True)
class Figures:
    """What was worked out for one belt; mm, x from the fold line towards the tip.

    Args:
        width: of the strap.
        thickness: of its leather.
        fold_radius: inner radius of the fold.
        half_turn: strap in the half-turn round the bar.
        slot: length and width of the prong slots; zeros for a hook buckle.
        slot_ys: where they lie across.
        rows: fastener rows in the front layer.
        mates: the rows in the turn-back that meet them.
        fastener_ys: fasteners across.
        turn_back: fold line to the end of the turn-back.
        seat: how buckle and strap lie on the body.
        hole_in_use: x of the hole that shall fit.
        middle_hole: x of the middle of the row.
        hole_diameter: of the adjusting holes.
        hole_ys: where their rows lie across.
        last_to_tip: last hole to the tip.
        keeper: the keeper asked for, if one is made.
        keeper_held: whether it is held between the layers.
        keeper_end: x of its far edge; of a rear loop's where that serves as keeper; 0 for none.
        keeper_length: of its strip, lap included; 0 for none.
        girths: least and greatest girth the finished belt fits.
        girth_in_use: girth at the hole in use.
        steps: the working.
    """

    width: float
    thickness: float
    fold_radius: float
    half_turn: float
    slot: tuple[float, float]
    slot_ys: tuple[float, ...]
    rows: tuple[float, ...]
    mates: tuple[float, ...]
    fastener_ys: tuple[float, ...]
    turn_back: float
    seat: Seat
    hole_in_use: float
    middle_hole: float
    hole_diameter: float
    hole_ys: tuple[float, ...]
    last_to_tip: float
    keeper: Keeper | None
    keeper_held: bool
    keeper_end: float
    keeper_length: float
    girths: tuple[float, float]
    girth_in_use: float
    steps: tuple[Step, ...]


def figures(belt: Belt, buckle: Buckle, leather: Leather, house: House) -> Figures:
    """Work out one belt.

    Args:
        belt: what is asked for.
        buckle: its buckle.
        leather: its leather.
        house: the workshop's settings.
    """
    steps: list[Step] = []
    width = _width(buckle, house, steps)
    t, k = leather.thickness, house.neutral_axis
    bar_radius, r = _radii(buckle, house)
    turn = half_turn(t, r, k)
    steps.append(Step("half-turn round the bar", "B = π (r + K t)", f"π ({r:.3f} + {k:g} × {t:.3f})", turn))

    slot = (0.0, 0.0)
    if buckle.prongs:
        p = buckle.prong_thickness
        slot = (float(slot_length(turn, bar_radius, r, p)), slot_width(buckle.prong_width))
        steps.append(
            Step(
                "prong slot, length",
                "B + 2 √((b/2 + p)² − r²) + 2, up to a whole mm",
                f"{turn:.2f} + 2 √(({bar_radius:.2f} + {p:.2f})² − {r:.2f}²) + 2",
                slot[0],
            )
        )
    ys = (0.0,) if buckle.prongs < 2 else _pair(buckle.prong_spacing or 0.0)

    keeper = _keeper(belt, buckle)
    held = keeper is not None and belt.fastener_holes.rows == 2
    t_k = 0.0 if keeper is None else keeper.thickness or t
    rows = _rows(belt, buckle, keeper, slot[0] / 2 or turn / 2, t, steps)
    # Rows clamp tight on either side of a keeper, so every row takes the first row's shift.
    mates = tuple(mate(rows[0], t, r, k) - (row - rows[0]) for row in rows)
    d = belt.fastener_holes.diameter
    steps.append(
        Step(
            "mate of row A in the turn-back",
            "B/2 − [a (3π/2 − ψ) + √(L² + z² − a²)], a = r + K t",
            f"a = {r + k * t:.3f}, L = {rows[0] - turn / 2:.2f}, z = {r + k * t - t:.3f}",
            mates[0],
        )
    )
    turn_back = belt.turn_back
    if turn_back is None:
        turn_back = float(math.ceil(-mates[-1] + end_margin(d) - 1e-9))
        steps.append(
            Step(
                "turn-back",
                "last mate + max(2.5 d, 12), up to a whole mm",
                f"{-mates[-1]:.2f} + {end_margin(d):.1f}",
                turn_back,
            )
        )
    seat = Seat(t, r, turn, buckle.seat, turn_back, t + (t_k if held else 0.0))
    in_use = _hole_in_use(belt, seat, house, steps)
    count, spacing = belt.holes.count, belt.holes.spacing
    middle = in_use + ((count + 1) / 2 - belt.hole_in_use) * spacing
    first, last = middle - (count - 1) / 2 * spacing, middle + (count - 1) / 2 * spacing
    keeper_end = _keeper_end(buckle, keeper, rows[0], d)

    return Figures(
        width=width,
        thickness=t,
        fold_radius=r,
        half_turn=turn,
        slot=slot,
        slot_ys=ys if buckle.prongs else (),
        rows=() if belt.fastener == "stitched" else rows,
        mates=() if belt.fastener == "stitched" else mates,
        fastener_ys=_fastener_ys(belt, width),
        turn_back=turn_back,
        seat=seat,
        hole_in_use=in_use,
        middle_hole=middle,
        hole_diameter=belt.holes.diameter or buckle.prong_width + HOLE_CLEARANCE,
        hole_ys=ys,
        last_to_tip=_last_to_tip(belt, seat, width, keeper_end, steps),
        keeper=keeper,
        keeper_held=held,
        keeper_end=keeper_end,
        keeper_length=_keeper_length(keeper, width, t, t_k, house, steps, held=held),
        girths=(girth_of_hole(first, seat), girth_of_hole(last, seat)),
        girth_in_use=girth_of_hole(in_use, seat),
        steps=tuple(steps),
    )


def _width(buckle: Buckle, house: House, steps: list[Step]) -> float:
    if buckle.opening is None:
        width = buckle.for_strap or 0.0
        steps.append(Step("strap width", "W = nominal width of the buckle", f"{width:g}", width))
        return width
    width = strap_width(buckle.opening, house.strap_clearance)
    numbers = f"{buckle.opening:g} − {house.strap_clearance:g}"
    steps.append(Step("strap width", "W = opening − clearance", numbers, width))
    return width


def _radii(buckle: Buckle, house: House) -> tuple[float, float]:
    """Return the bar's own radius and the inner radius of the fold; for a flat bar one serves as both."""
    if buckle.bar_section is not None:
        flat = flat_bar_radius(*buckle.bar_section)
        return flat, flat
    bar = buckle.bar_diameter or 0.0
    return bar / 2, bend_radius(bar, house.fold_play)


def _pair(distance: float) -> tuple[float, float]:
    return -distance / 2, distance / 2


def _keeper(belt: Belt, buckle: Buckle) -> Keeper | None:
    """Return the keeper to make: a centre bar's rear loop serves as one unless one is asked for."""
    if buckle.bar == "centre" and "keeper" not in belt.model_fields_set:
        return None
    return belt.keeper


def _fastener_ys(belt: Belt, width: float) -> tuple[float, ...]:
    across = belt.fastener_holes.across or (2 if width >= TWO_ACROSS_FROM else 1)
    return (0.0,) if across == 1 else _pair(belt.fastener_holes.spacing_across or width / 2)


def _rows(
    belt: Belt, buckle: Buckle, keeper: Keeper | None, slot_end: float, t: float, steps: list[Step]
) -> tuple[float, ...]:
    d = belt.fastener_holes.diameter
    first = first_row(slot_end, t, d)
    numbers = f"{slot_end:.2f} + max(1.5 × {t:.2f}, {d:g}) + {d:g}/2"
    steps.append(Step("fastener row A", "slot/2 + max(1.5 t, d) + d/2, up to 0.5 mm", numbers, first))
    if buckle.bar == "centre":
        rear = (buckle.rear_depth or 0.0) + _bar_height(buckle) + HEAD_RADIUS
        if rear > first:
            first = rear
            numbers = f"{buckle.rear_depth:g} + {_bar_height(buckle):g} + {HEAD_RADIUS:g}"
            steps.append(Step("row A clear of the rear loop", "rear depth + bar + head/2", numbers, first))
    if belt.fastener_holes.rows == 1:
        return (first,)
    pitch = max(BARE_ROW_PITCH, 4 * d) if keeper is None else row_pitch(keeper.width, d)
    if keeper is not None:
        steps.append(Step("row pitch", "keeper + 3 + d", f"{keeper.width:g} + 3 + {d:g}", pitch))
    return first, first + pitch


def _bar_height(buckle: Buckle) -> float:
    """Thickness of the frame's bars along the strap, taken as the middle bar's, mm."""
    return buckle.bar_section[0] if buckle.bar_section else buckle.bar_diameter or 0.0


def _hole_in_use(belt: Belt, seat: Seat, house: House, steps: list[Step]) -> float:
    size, b2, t, f = belt.size, seat.half_turn / 2, seat.thickness, seat.hole_seat
    if size.girth is not None:
        s = hole_from_girth(size.girth, seat)
        u = doubled_room(size.girth, seat.turn_back, seat.doubled)
        steps.append(
            Step(
                "hole in use, from the middle of the fold",
                "s = B/2 + G + π t − f + u",
                f"{b2:.2f} + {size.girth:.1f} + π × {t:.2f} − {f:.1f} + {u:.2f}",
                s,
            )
        )
        return s
    worn = size.worn_to_hole
    if worn is None:
        worn = worn_from_trousers(size.trousers or 0.0)
        numbers = f"({size.trousers:g} + 2) × {INCH:g}"
        steps.append(Step("fold to hole, rule of thumb", "x = (trouser size + 2) in", numbers, worn))
    old = size.old
    r0 = t0 = f0 = None
    if old is not None:
        t0, f0 = old.thickness, old.frame_depth
        r0 = None if old.bar_diameter is None else bend_radius(old.bar_diameter, house.fold_play)
    s = hole_from_worn(worn, seat, old_thickness=t0, old_fold_radius=r0, old_hole_seat=f0)
    r_used, t_used, f_used = (
        own if given is None else given for given, own in ((r0, seat.fold_radius), (t0, t), (f0, f))
    )
    steps.append(
        Step(
            "hole in use, from the middle of the fold",
            "s = B/2 + x − (r₀ + t₀) + (f₀ − f) + π (t − t₀)",
            f"{b2:.2f} + {worn:.1f} − ({r_used:.2f} + {t_used:.2f}) + ({f_used:.1f} − {f:.1f}) "
            f"+ π ({t:.2f} − {t_used:.2f})",
            s,
        )
    )
    return s


def _keeper_end(buckle: Buckle, keeper: Keeper | None, first_row: float, diameter: float) -> float:
    if keeper is not None:
        # Held: in the middle between the rows. Sliding: pushed up against the fasteners' far side.
        return first_row + diameter / 2 + 1.5 + keeper.width
    if buckle.bar == "centre":
        return (buckle.rear_depth or 0.0) + _bar_height(buckle)
    return 0.0


def _last_to_tip(belt: Belt, seat: Seat, width: float, keeper_end: float, steps: list[Step]) -> float:
    if belt.holes.last_to_tip is not None:
        return belt.holes.last_to_tip
    usual = last_hole_to_tip(width)
    steps.append(Step("last hole to tip", "min(max(2.5 W, 90), 115)", f"2.5 × {width:g}", usual))
    if not keeper_end:
        return usual
    least = seat.hole_seat + keeper_end + TIP_PAST_KEEPER
    if least > usual:
        numbers = f"{seat.hole_seat:g} + {keeper_end:.1f} + {TIP_PAST_KEEPER:g}"
        steps.append(Step("raised so that the tip passes the keeper", "f + keeper end + 10", numbers, least))
    return max(usual, least)


def _keeper_length(
    keeper: Keeper | None, width: float, t: float, t_k: float, house: House, steps: list[Step], *, held: bool
) -> float:
    if keeper is None:
        return 0.0
    layers = (2 if held else 3) * t
    ease_w, ease_h, k = house.keeper_ease_width, house.keeper_ease_height, house.neutral_axis
    length = keeper_length(width, layers, t_k, k, ease_w, ease_h)
    steps.append(
        Step(
            "keeper, ends butted",
            "2 (w + h) + 2 π K t_k, w = W + ease, h = layers + ease",
            f"2 ({width + ease_w:.1f} + {layers + ease_h:.2f}) + 2 π × {k:g} × {t_k:.2f}",
            length,
        )
    )
    if keeper.join == "lap":
        steps.append(
            Step("keeper, with its lap", "L + lap", f"{length:.1f} + {keeper.lap:g}", length + keeper.lap)
        )
        return length + keeper.lap
    return length
