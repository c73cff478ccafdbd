"""From the person to the hole: where the hole in use goes, and what girth a hole fits.

Worn, the body pulls the strap away from the tip while the prong stands still: the tip-side edge of the hole
in use bears on the prong. People measure worn belts to that edge; belts are sold by the hole's centre, half
the hole's length nearer the buckle.

Symbols, all in mm: t strap thickness; r inner radius of the fold; B half-turn round the bar; f from the
bar's centre to the bearing edge of the hole in use; s distance along the strap from the middle of the fold;
d length of an adjusting hole along the strap; G girth taped snug over the clothes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from strapwright.core.units import MM_PER_INCH

GIRTH_UNCERTAINTY = 10.0
"""How far a girth, taped or computed, may be off, mm either way (an estimate, until real belts are measured).

A tape drawn snug is good to some 5 mm (from memory). The strap's climb to the prong, which is not added,
makes the belt tighter by 5 to 8 mm; a new strap's stretch, not taken off, makes it looser by as much.
"""


@dataclass(frozen=True)
class Seat:
    """What decides how a buckle and its strap lie on the body.

    Args:
        thickness: t, of the strap round the body, mm.
        fold_thickness: t at the fold, less than t where it is skived or the lining stops, mm.
        fold_radius: r, mm.
        half_turn: B, mm.
        hole_seat: f, from the bar's centre to the bearing edge of the hole in use, mm.
        turn_back: T, from the middle of the fold to the end of the turn-back, mm.
        doubled: h, thickness of what lies under the front layer: the turn-back, and the keeper where it
            is held between, mm.
        allowance: what a belt is made longer than its girth asks, by what finished belts measured, mm.
    """

    thickness: float
    fold_thickness: float
    fold_radius: float
    half_turn: float
    hole_seat: float
    turn_back: float
    doubled: float
    allowance: float = 0.0


def strap_width(opening: float, clearance: float) -> float:
    """Return the strap that runs freely in a callipered opening, W = opening − clearance.

    Source: common practice, no published rule: an opening of 40 mm takes a 38 mm strap.

    Example:
        >>> strap_width(40.0, 2.0)
        38.0
    """
    return opening - clearance


def edge_from_worn(worn: float, seat: Seat, old: Seat) -> float:
    """Return where the bearing edge of the hole in use goes, from a belt that fits, measured fold to hole.

    s = B/2 + x − (r₀ + t₀) + (f₀ − f) + π (t − t₀), where ₀ is the old belt. The t₀ beside r₀ is that of
    the fold, whose outer end is measured from; the other two are of the straps round the body.

    Args:
        worn: x, from the outer end of the old belt's fold to the edge of the hole in use where the prong
            has worn it, mm.
        seat: of the new belt.
        old: of the old belt; the new one's in what is not known of it.

    Returns:
        s of the edge, mm from the middle of the fold.

    Source: derived from the neutral line of the strap round the body; that a belt is measured from the
        fold to the hole in use is common practice.

    Example:
        >>> seat = Seat(3.6, 3.6, 2.75, 14.294, 40.0, 80.0, 3.6)
        >>> round(edge_from_worn(1000.0, seat, seat), 3)
        1000.797
    """
    further, thinner = old.hole_seat - seat.hole_seat, seat.thickness - old.thickness
    return seat.half_turn / 2 + worn - (old.fold_radius + old.fold_thickness) + further + math.pi * thinner


def centre_from_belt_size(size: float, seat: Seat) -> float:
    """Return where a hole's centre goes that lies so far from the fold, s = B/2 + x − (r + t).

    Args:
        size: x, from the outer end of the new belt's fold to the hole's centre, mm.
        seat: of the belt; its t is that of the fold.

    Source: belts are sold by the length from the leather's end at the buckle to the middle hole, the buckle
        left out (common practice of makers and retailers).

    Example:
        >>> seat = Seat(3.6, 3.6, 2.75, 14.294, 34.5, 80.0, 3.6)
        >>> round(centre_from_belt_size(965.0, seat), 3)
        965.797
    """
    return seat.half_turn / 2 + size - (seat.fold_radius + seat.fold_thickness)


def from_outer_end(s: float, seat: Seat) -> float:
    """Return the length from the outer end of the fold to a place on the strap, x = s − B/2 + (r + t).

    Args:
        s: of the place, mm from the middle of the fold.
        seat: of the belt.

    Source: the inverse of :func:`centre_from_belt_size`, and of :func:`edge_from_worn` for a belt like the
        old one.

    Example:
        >>> seat = Seat(3.6, 3.6, 2.75, 14.294, 34.5, 80.0, 3.6)
        >>> round(from_outer_end(centre_from_belt_size(965.0, seat), seat), 9)
        965.0
    """
    return s - seat.half_turn / 2 + seat.fold_radius + seat.fold_thickness


def doubled_room(girth: float, turn_back: float, doubled: float) -> float:
    """Return the room the doubled end takes under the belt, u = h T/R + (4 √2 / 3) h^1.5 / √R, R = G/2π.

    The front layer runs further out by h over the length T, and leaves the body in a straight ramp
    where the turn-back ends.

    Args:
        girth: G, mm.
        turn_back: T, mm.
        doubled: h, mm.

    Example:
        >>> round(doubled_room(1000.0, 80.0, 3.6), 2)
        2.83
    """
    radius = girth / (2 * math.pi)
    ramp = 4 * math.sqrt(2) / 3 * doubled * math.sqrt(doubled / radius)
    return doubled * turn_back / radius + ramp


def edge_from_girth(girth: float, seat: Seat) -> float:
    """Return where the bearing edge of the hole in use goes for a girth, s = B/2 + G + π t − f + u.

    The strap's neutral axis runs t/2 outside the body, which adds π t to the girth. Its climb to the prong
    is not added: see ``GIRTH_UNCERTAINTY``. An allowance is.

    Args:
        girth: G, taped snug where the belt is worn, over the clothes, mm.
        seat: of the belt.

    Example:
        >>> seat = Seat(3.6, 3.6, 2.75, 14.294, 40.0, 80.0, 3.6)
        >>> round(edge_from_girth(1000.0, seat), 2)
        981.29
    """
    return (
        seat.half_turn / 2
        + girth
        + math.pi * seat.thickness
        - seat.hole_seat
        + doubled_room(girth, seat.turn_back, seat.doubled)
        + seat.allowance
    )


def girth_of_edge(s: float, seat: Seat) -> float:
    """Return the girth a hole fits: the inverse of :func:`edge_from_girth`.

    Args:
        s: of the hole's bearing edge, mm from the middle of the fold.
        seat: of the belt.

    Returns:
        The girth, mm; 0 for a hole so near the buckle that it closes on nothing.

    Example:
        >>> seat = Seat(3.6, 3.6, 2.75, 14.294, 40.0, 80.0, 3.6)
        >>> round(girth_of_edge(edge_from_girth(1000.0, seat), seat), 9)
        1000.0
    """
    straight = s - seat.half_turn / 2 - math.pi * seat.thickness + seat.hole_seat - seat.allowance
    girth = straight
    for _ in range(50):  # u changes little with the girth: each round gains some digits
        if girth <= 0:
            return 0.0
        better = straight - doubled_room(girth, seat.turn_back, seat.doubled)
        if abs(better - girth) < 1e-12 * straight:
            return better
        girth = better
    return girth


def size_from_trousers(size_inches: float) -> float:
    """Return the length from the fold to the hole's centre for a trouser size, x = (size + 2) in, in mm.

    Source: common practice among belt makers and retailers; a rule of thumb, not a measurement.

    Example:
        >>> size_from_trousers(34)
        914.4
    """
    return (size_inches + 2) * MM_PER_INCH


def last_hole_to_tip(width: float) -> float:
    """Return the usual length from the last hole to the tip, min(max(2.5 W, 90), 115) mm.

    Source: 2.5 strap widths is a saddlers' traditional rule; the limits are common practice.

    Example:
        >>> [last_hole_to_tip(w) for w in (20, 38, 47)]
        [90.0, 95.0, 115.0]
    """
    return min(max(2.5 * width, 90.0), 115.0)


def reach_past_bar(
    last_to_tip: float, hole_length: float, hole_seat: float, holes_left: int, spacing: float
) -> float:
    """Return how far the free end reaches past the bar, tip − d/2 − f + n · spacing.

    Args:
        last_to_tip: centre of the last hole to the tip, mm.
        hole_length: d, mm.
        hole_seat: f, mm.
        holes_left: how many holes lie beyond the one in use: 0 at the loosest.
        spacing: of the holes, mm.

    Example:
        >>> reach_past_bar(110.0, 5.0, 34.5, 0, 25.0), reach_past_bar(110.0, 5.0, 34.5, 6, 25.0)
        (73.0, 223.0)
    """
    return last_to_tip - hole_length / 2 - hole_seat + holes_left * spacing


def tip_past_keeper(hole_length: float, hole_seat: float, keeper_end: float, past: float) -> float:
    """Return the least length from last hole to tip that passes the keeper, d/2 + f + keeper end + past.

    Args:
        hole_length: d, mm.
        hole_seat: f, mm.
        keeper_end: far edge of the keeper, mm from the fold.
        past: how far the tip reaches beyond it at the loosest hole, mm.

    Example:
        >>> tip_past_keeper(5.0, 34.5, 46.0, 10.0)
        93.0
    """
    return hole_length / 2 + hole_seat + keeper_end + past
