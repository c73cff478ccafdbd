"""Fasteners of the turn-back: where their rows lie, how much leather they need, how long a post is."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from strapwright.core.units import MM_PER_INCH, format_length

if TYPE_CHECKING:
    from collections.abc import Sequence

POST_LENGTHS = (6.0, 6.35, 7.94, 8.0, 9.53, 10.0, 12.0, 12.7)
"""Screw-post barrel lengths usually sold, mm: 1/4, 5/16, 3/8 and 1/2 in, and metric (from memory)."""


BARREL_PLAY = 0.5
"""A post's hole is this much wider than its barrel, mm: it goes in by hand (common practice)."""

MOST_PLAY = 1.0
"""In a hole wider than its barrel by more, mm, a post tips and its head digs in (common practice)."""


def barrel_hole(barrel: float) -> float:
    """Return the hole for a screw post's barrel, barrel + 0.5 mm.

    Example:
        >>> barrel_hole(6.5)
        7.0
    """
    return barrel + BARREL_PLAY


def up_to_half(place: float) -> float:
    """Return a place as a bench marks it: up to the next half millimetre.

    Example:
        >>> up_to_half(21.2), up_to_half(21.5)
        (21.5, 21.5)
    """
    return math.ceil(place * 2 - 1e-9) / 2


_SOLD_WITHIN: Final = 0.02
"""How near, in mm, a length must lie to a sixteenth of an inch to be sold by it."""


def sold_as(length: float) -> str:
    """Return a post's barrel length as it is sold, mm after inches.

    Args:
        length: mm.

    Source: posts are sold by sixteenths of an inch or by whole and half millimetres (common practice).

    Example:
        >>> sold_as(7.94), sold_as(8.0), sold_as(7.3)
        ('5/16 in (7.94 mm)', '8 mm', '7.3 mm')
    """
    sixteenths = round(length / MM_PER_INCH * 16)
    is_inch = abs(sixteenths * MM_PER_INCH / 16 - length) < _SOLD_WITHIN
    if is_inch and abs(length * 2 - round(length * 2)) > 1e-6:
        return f"{format_length(length, 'in', 16)} ({format_length(length)})"
    return format_length(length)


def first_row(slot_end: float, thickness: float, diameter: float) -> float:
    """Return where the row nearest the buckle lies, s_A = slot end + max(1.5 t, d) + d/2, up to 0.5 mm.

    Args:
        slot_end: half the slot's length, or half the half-turn where there is no slot, mm.
        thickness: t, mm.
        diameter: d of the fastener hole, mm.

    Source: a wall of one and a half thicknesses or one hole between slot and hole; common practice.

    Example:
        >>> first_row(13.5, 3.6, 5.0)
        21.5
    """
    return up_to_half(slot_end + max(1.5 * thickness, diameter) + diameter / 2)


def row_pitch(keeper_width: float, diameter: float) -> float:
    """Return the distance of two rows with a keeper held between them, keeper + 3 mm + d.

    Source: common practice: 1.5 mm of air on each side of the keeper.

    Example:
        >>> row_pitch(20.0, 5.0)
        28.0
    """
    return keeper_width + 3.0 + diameter


def end_margin(diameter: float) -> float:
    """Return the leather beyond the last row, at least 2.5 hole diameters and 12 mm.

    Source: common practice.

    Example:
        >>> end_margin(4.0), end_margin(6.0)
        (12.0, 15.0)
    """
    return max(2.5 * diameter, 12.0)


def clear_of_frame(
    first: float, half_turn: float, frame_depth: float, bar: float, head_radius: float
) -> float:
    """Return where row A must lie so that its heads are clear of the frame through its swing.

    Laid back over the strap (a swing of 180°) the frame is an open window as deep as f, then its front
    bar. A head may lie wholly inside the window or wholly beyond the bar; where row A would lie under the
    bar it moves beyond it.

    Args:
        first: where the row would lie, mm from the middle of the fold.
        half_turn: B, mm; the flat strap begins at B/2.
        frame_depth: f, bar centre to the inner face of the front bar, mm.
        bar: thickness of the front bar, mm.
        head_radius: half a fastener's head, mm.

    Source: geometry of the swing.

    Example:
        >>> clear_of_frame(21.5, 14.3, 38.0, 5.0, 5.0)
        21.5
        >>> clear_of_frame(19.5, 12.7, 16.0, 4.0, 5.0)
        31.5
    """
    behind = first - half_turn / 2
    if behind + head_radius <= frame_depth or behind - head_radius >= frame_depth + bar:
        return first
    return up_to_half(half_turn / 2 + frame_depth + bar + head_radius)


def post_length(stack: float, lengths: Sequence[float] = POST_LENGTHS) -> float | None:
    """Return the longest post that does not exceed the stack, or None where even the shortest does.

    Args:
        stack: uncompressed leather under the heads, mm.
        lengths: barrel lengths at hand, mm.

    Source: a barrel is normally shorter than what it clamps, so that the screw can draw it together
        (encyclopaedia article "Sex bolt").

    Example:
        >>> post_length(7.2), post_length(5.0)
        (6.35, None)
    """
    return max((length for length in lengths if length <= stack), default=None)


def draw(stack: float, length: float) -> float:
    """Return how far a post draws the stack together, as a share of it: (stack − length) / stack.

    Example:
        >>> round(draw(7.2, 6.35), 3)
        0.118
    """
    return (stack - length) / stack


def washer_for(stack: float, length: float, wanted_draw: float) -> float:
    """Return the washer that lets a longer post draw as far as wanted, length / (1 − draw) − stack, mm.

    Example:
        >>> round(washer_for(7.6, 7.94, 0.05), 2)
        0.76
    """
    return length / (1 - wanted_draw) - stack


def iron_pitch(number: int) -> float:
    """Return the pitch of a pricking iron by its number, 27.07 / n mm.

    Source: hand-stitching guide's table of irons (number 8: 3.4 mm), which follows the French inch.

    Example:
        >>> round(iron_pitch(8), 1)
        3.4
    """
    return 27.07 / number
