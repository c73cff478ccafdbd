"""The figures that follow from the person: the hole in use, and the tip beyond the last hole."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.trade.fold import bend_radius
from strapwright.trade.sizing import (
    INCH,
    Seat,
    doubled_room,
    hole_from_girth,
    hole_from_worn,
    last_hole_to_tip,
    worn_from_trousers,
)

if TYPE_CHECKING:
    from strapwright.job.belt import Belt
    from strapwright.job.model import House
    from strapwright.job.working import Working

TIP_PAST_KEEPER: Final = 10.0
"""At the loosest hole the tip still reaches this far beyond the keeper, mm (common practice)."""


def hole_in_use(belt: Belt, seat: Seat, house: House, work: Working) -> float:
    """Return where the hole that shall fit lies, mm from the middle of the fold.

    Args:
        belt: whose size says how it was measured.
        seat: how buckle and strap lie on the body.
        house: the workshop's settings.
        work: takes the working.
    """
    size, b2, f = belt.size, seat.half_turn / 2, seat.hole_seat
    if size.girth is not None:
        u = doubled_room(size.girth, seat.turn_back, seat.doubled)
        return work.add(
            "hole in use, from the middle of the fold",
            "s = B/2 + G + π t − f + u",
            f"{b2:.2f} + {size.girth:.1f} + π × {seat.thickness:.2f} − {f:.1f} + {u:.2f}",
            hole_from_girth(size.girth, seat),
        )
    worn = size.worn_to_hole
    if worn is None:
        numbers = f"({size.trousers:g} + 2) × {INCH:g}"
        worn = work.add(
            "fold to hole, rule of thumb",
            "x = (trouser size + 2) in",
            numbers,
            worn_from_trousers(size.trousers or 0.0),
        )
    old = size.old
    r0 = t0 = f0 = None
    if old is not None:
        t0, f0 = old.thickness, old.frame_depth
        r0 = None if old.bar_diameter is None else bend_radius(old.bar_diameter, house.fold_play)
    r_used = seat.fold_radius if r0 is None else r0
    fold_used = seat.fold_thickness if t0 is None else t0
    t_used = seat.thickness if t0 is None else t0
    f_used = f if f0 is None else f0
    return work.add(
        "hole in use, from the middle of the fold",
        "s = B/2 + x − (r₀ + t₀) + (f₀ − f) + π (t − t₀)",
        f"{b2:.2f} + {worn:.1f} − ({r_used:.2f} + {fold_used:.2f}) + ({f_used:.1f} − {f:.1f}) "
        f"+ π ({seat.thickness:.2f} − {t_used:.2f}); x to the worn edge of the hole",
        hole_from_worn(worn, seat, old_thickness=t0, old_fold_radius=r0, old_hole_seat=f0),
    )


def last_to_tip(belt: Belt, seat: Seat, width: float, keeper_end: float, work: Working) -> float:
    """Return the length from the last hole to the tip: as given, or the saddlers' rule raised for the keeper.

    Args:
        belt: what is asked for.
        seat: how buckle and strap lie on the body.
        width: of the strap, mm.
        keeper_end: far edge of the keeper, mm from the fold; 0 for none.
        work: takes the working.
    """
    if belt.holes.last_to_tip is not None:
        return belt.holes.last_to_tip
    usual = last_hole_to_tip(width)
    work.add("last hole to tip", "min(max(2.5 W, 90), 115)", f"2.5 × {width:g}", usual)
    least = seat.hole_seat + keeper_end + TIP_PAST_KEEPER
    if not keeper_end or least <= usual:
        return usual
    numbers = f"{seat.hole_seat:g} + {keeper_end:.1f} + {TIP_PAST_KEEPER:g}"
    return work.add("raised so that the tip passes the keeper", "f + keeper end + 10", numbers, least)
