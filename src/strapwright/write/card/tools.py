"""The tools a bench card names: a punch for each size of hole, a beveler for the edge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.core.units import Units, format_length
from strapwright.drawing.pattern_pieces import hole_places
from strapwright.parts.own_shape import CUT_OUT
from strapwright.rules.choice import edge_beveler
from strapwright.rules.punches import snap_to_punch, snap_to_slot_punch, usual_punch

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from strapwright.drawing.pattern_pieces import HolePlace, Order
    from strapwright.rules.punches import Punch


LARGEST_BEVELER = 5
"""Edge bevelers with a greater number are seldom sold (from memory)."""


@dataclass(frozen=True)
class PunchNeed:
    """Holes of one size.

    Args:
        size: in words.
        what: what they are.
        count: how many, all copies together.
        tool: what makes them, in words.
    """

    size: str
    what: str
    count: int
    tool: str


def punches_for(order: Order, owned: Mapping[str, Punch], units: Units) -> tuple[PunchNeed, ...]:
    """Return the punches a belt or strap wants, smallest hole first.

    Args:
        order: with its pieces.
        owned: the user's own punches; where there are none, sizes alone are given.
        units: of the sizes.
    """
    found: dict[tuple[float, float, str], PunchNeed] = {}
    for piece in order.pieces:
        for place in hole_places(piece):
            what = place.what if piece.part.kind == "strap" else f"{place.what}, {piece.part.kind}"
            key = (round(place.wide, 3), round(place.long, 3), what)
            many = len(place.ys) * order.quantity
            before = found.get(key)
            tool = tool_for(place, owned, units)
            found[key] = PunchNeed(place.size(units), what, many + (before.count if before else 0), tool)
    return tuple(found[key] for key in sorted(found))


def tool_for(place: HolePlace, owned: Mapping[str, Punch], units: Units) -> str:
    """Return what makes a hole, in words: a punch of the user's own where one is near enough.

    Args:
        place: the hole.
        owned: the user's own punches.
        units: of the sizes.
    """
    if place.what == CUT_OUT:
        return "a knife, along the pattern's line"
    punches = tuple(owned.values())
    bought = f"round punch {format_length(usual_punch(place.wide), units)}"
    apart = format_length(round(place.long - place.wide, 1), units)
    if place.is_round:
        punch = snap_to_punch(place.wide, punches)
        if punch is not None:
            return f"your {punch.name}, {punch.size}"
        return "none of yours fits" if punches else bought
    punch = snap_to_slot_punch(place.long, place.wide, punches)
    if punch is not None:
        return f"your {punch.name}, {punch.size}"
    end = snap_to_punch(place.wide, punches)
    if punches and end is None:
        return "none of yours fits"
    round_one = f"your {end.name}" if end else bought
    return f"{round_one} at both ends, {apart} apart, and a knife between; or one slot punch"


def edge_words(thicknesses: Iterable[float]) -> str:
    """Return which edge beveler a belt wants, in words.

    Args:
        thicknesses: of the layers at each edge, mm.

    Example:
        >>> edge_words([3.6])
        'edge beveler no. 3'
        >>> edge_words([9.0])
        'edge beveler no. 8 or the largest you have'
        >>> edge_words([0.4])
        'no beveler: the leather is too thin'
    """
    numbers = sorted({n for n in (edge_beveler(t) for t in thicknesses) if n is not None})
    if not numbers:
        return "no beveler: the leather is too thin"
    largest = " or the largest you have" if numbers[-1] > LARGEST_BEVELER else ""
    return "edge beveler " + " and ".join(f"no. {number}" for number in numbers) + largest
