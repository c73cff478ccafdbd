"""The figures that follow from the person: where the holes go, and the tip beyond the last of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.core.units import MM_PER_INCH
from strapwright.trade.fold import bend_radius
from strapwright.trade.sizing import (
    Seat,
    centre_from_belt_size,
    doubled_room,
    edge_from_girth,
    edge_from_worn,
    last_hole_to_tip,
    size_from_trousers,
    tip_past_keeper,
)

if TYPE_CHECKING:
    from strapwright.core.calculation import Calculation
    from strapwright.job.catalogue.buckle import Buckle
    from strapwright.job.spec.belt import Belt
    from strapwright.job.spec.job import House


TIP_PAST_KEEPER: Final = 10.0
"""At the loosest hole the tip still reaches this far beyond the keeper, mm (common practice)."""


def seat_of(buckle: Buckle, work: Calculation) -> float:
    """Return f, from the bar's centre to the edge of the hole in use that bears, mm.

    Args:
        buckle: measured or not.
        work: takes the working, which says what is an estimate.
    """
    label = "bar to the edge of the hole that bears"
    if buckle.seat_is_measured:
        key = "hole_seat" if buckle.hole_seat is not None else "hook_depth"
        return work.add(label, f"f = {key}, as measured", f"{buckle.seat:g}", buckle.seat)
    assumed = (
        "" if "prong_thickness" in buckle.model_fields_set else " (assumed: prong_thickness is not given)"
    )
    return work.add(
        f"{label}, by estimate",
        "f = frame depth − prong thickness",
        f"{buckle.frame_depth:g} − {buckle.prong_thickness:g}{assumed}",
        buckle.seat,
    )


def hole_centres(
    belt: Belt, buckle: Buckle, seat: Seat, length: float, spacing: float, house: House, work: Calculation
) -> tuple[float, float]:
    """Return the centres of the hole that shall fit and of the middle of the row, mm from the fold's middle.

    Args:
        belt: whose size says how it was measured.
        buckle: its buckle.
        seat: how buckle and strap lie on the body.
        length: of a hole along the strap, mm.
        spacing: from hole to hole, mm.
        house: the workshop's settings.
        work: takes the working.
    """
    size, b2 = belt.size, seat.half_turn / 2
    fold = f"({seat.fold_radius:.2f} + {seat.fold_thickness:.2f})"
    if size.belt_size is not None:
        middle = work.add(
            "centre of the middle hole, from the middle of the fold",
            "s = B/2 + x − (r + t)",
            f"{b2:.2f} + {size.belt_size:.1f} − {fold}; x to the middle hole's centre",
            centre_from_belt_size(size.belt_size, seat),
        )
        in_use = middle + (belt.hole_in_use - belt.middle_hole) * spacing
    elif size.trousers is not None:
        x = work.add(
            "fold to the hole's centre, rule of thumb",
            "x = (trouser size + 2) in",
            f"({size.trousers:g} + 2) × {MM_PER_INCH:g}",
            size_from_trousers(size.trousers),
        )
        in_use = work.add(
            "centre of the hole in use, from the middle of the fold",
            "s = B/2 + x − (r + t)",
            f"{b2:.2f} + {x:.1f} − {fold}",
            centre_from_belt_size(x, seat),
        )
    else:
        edge = _bearing_edge(belt, buckle, seat, house, work)
        in_use = work.add(
            "centre of the hole in use",
            "edge − d/2",
            f"{edge:.2f} − {length:g}/2",
            edge - length / 2,
        )
    return in_use, in_use + ((belt.holes.count + 1) / 2 - belt.hole_in_use) * spacing


def _bearing_edge(belt: Belt, buckle: Buckle, seat: Seat, house: House, work: Calculation) -> float:
    """Return where the edge of the hole in use goes that bears on the prong, mm from the fold's middle."""
    size, b2, f = belt.size, seat.half_turn / 2, seat.hole_seat
    label = "bearing edge of the hole in use, from the middle of the fold"
    if size.girth is not None:
        u = doubled_room(size.girth, seat.turn_back, seat.doubled)
        return work.add(
            label,
            "s = B/2 + G + π t − f + u",
            f"{b2:.2f} + {size.girth:.1f} + π × {seat.thickness:.2f} − {f:.2f} + {u:.2f}",
            edge_from_girth(size.girth, seat),
        )
    worn, old = size.worn_to_hole or 0.0, size.old
    r0 = t0 = f0 = None
    if old is not None:
        t0, f0 = old.thickness, old.hole_seat
        r0 = None if old.bar_diameter is None else bend_radius(old.bar_diameter, house.fold_play)
        if old.frame_depth is not None:
            f0 = buckle.seat_of_frame(old.frame_depth)
    r_used = seat.fold_radius if r0 is None else r0
    fold_used = seat.fold_thickness if t0 is None else t0
    t_used = seat.thickness if t0 is None else t0
    f_used = f if f0 is None else f0
    return work.add(
        label,
        "s = B/2 + x − (r₀ + t₀) + (f₀ − f) + π (t − t₀)",
        f"{b2:.2f} + {worn:.1f} − ({r_used:.2f} + {fold_used:.2f}) + ({f_used:.2f} − {f:.2f}) "
        f"+ π ({seat.thickness:.2f} − {t_used:.2f}); x to the worn edge of the hole",
        edge_from_worn(worn, seat, old_thickness=t0, old_fold_radius=r0, old_hole_seat=f0),
    )


def least_to_tip(seat: Seat, keeper_end: float, length: float) -> float:
    """Return the least length from the last hole to the tip that still passes the keeper, mm.

    Args:
        seat: how buckle and strap lie on the body.
        keeper_end: far edge of the keeper, mm from the fold.
        length: of a hole along the strap, mm.
    """
    return tip_past_keeper(length, seat.hole_seat, keeper_end, TIP_PAST_KEEPER)


def last_to_tip(
    belt: Belt, seat: Seat, width: float, keeper_end: float, length: float, work: Calculation
) -> float:
    """Return the length from the last hole to the tip: as given, or the saddlers' rule raised for the keeper.

    Args:
        belt: what is asked for.
        seat: how buckle and strap lie on the body.
        width: of the strap, mm.
        keeper_end: far edge of the keeper, mm from the fold; 0 for none.
        length: of a hole along the strap, mm.
        work: takes the working.
    """
    if belt.holes.last_to_tip is not None:
        return belt.holes.last_to_tip
    usual = last_hole_to_tip(width)
    work.add("last hole to tip", "min(max(2.5 W, 90), 115)", f"2.5 × {width:g}", usual)
    least = least_to_tip(seat, keeper_end, length)
    if not keeper_end or least <= usual:
        return usual
    numbers = f"{length:g}/2 + {seat.hole_seat:g} + {keeper_end:.1f} + {TIP_PAST_KEEPER:g}"
    return work.add("raised so that the tip passes the keeper", "d/2 + f + keeper end + 10", numbers, least)
