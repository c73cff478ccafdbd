"""Fasteners of the turn-back: where their rows lie, how much leather they need, how long a post is."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

POST_LENGTHS = (6.0, 6.35, 7.94, 8.0, 9.53, 10.0, 12.0, 12.7)
"""Screw-post barrel lengths usually sold, mm: 1/4, 5/16, 3/8 and 1/2 in, and metric (from memory)."""


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
    return math.ceil((slot_end + max(1.5 * thickness, diameter) + diameter / 2) * 2 - 1e-9) / 2


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
