"""Punches: which of those you own makes a hole of a given size."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable

HOUSE_TOLERANCE: Final = 0.3
"""How far a punch may be off the size wanted, mm: a house setting; leather closes and opens by as much."""

SPARE_LENGTH: Final = 2.0
"""How much longer than wanted an oval or slot punch may be, mm: a house setting."""

AWL_HOLE: Final = 2.0
"""Smaller holes than this are pricked or pierced, not punched, mm (common practice)."""

PUNCH_STEP: Final = 0.5
"""Round punches are sold in steps of this, mm (common practice)."""

PunchKind = Literal["round", "oval", "slot"]
"""The shapes of punch."""


@dataclass(frozen=True)
class Punch:
    """A punch, by the hole it makes.

    Args:
        name: what it is called.
        kind: round, oval or slot.
        length: of the hole, mm; a round one's diameter.
        width: of the hole, mm; a round one's diameter.

    Example:
        >>> Punch("no. 4", "round", 5.0, 5.0).size
        '5 mm'
        >>> Punch("bag slot", "slot", 25.0, 4.5).size
        '25 × 4.5 mm'
    """

    name: str
    kind: PunchKind
    length: float
    width: float

    @property
    def size(self) -> str:
        """Its size in words."""
        return f"{self.length:g} mm" if self.kind == "round" else f"{self.length:g} × {self.width:g} mm"


def snap_to_punch(
    diameter: float, punches: Iterable[Punch], tolerance: float = HOUSE_TOLERANCE
) -> Punch | None:
    """Return the round punch nearest to a diameter, or None where none is within the tolerance.

    Args:
        diameter: of the hole wanted, mm.
        punches: those at hand; ovals and slots among them do not count.
        tolerance: how far off the punch may be either way, mm.

    Returns:
        The nearest; of two equally near the larger, for a prong must pass.

    Source: common practice.

    Example:
        >>> have = [Punch("a", "round", 4.0, 4.0), Punch("b", "round", 5.0, 5.0)]
        >>> snap_to_punch(4.8, have).name
        'b'
        >>> snap_to_punch(4.5, have) is None
        True
    """
    near = nearest_round(diameter, punches)
    return near if near is not None and abs(near.width - diameter) <= tolerance + 1e-9 else None


def usual_punch(diameter: float) -> float:
    """Return the round punch to buy for a hole: the next size up that is sold, mm.

    Args:
        diameter: of the hole wanted, mm.

    Source: common practice.

    Example:
        >>> usual_punch(5.26), usual_punch(5.5)
        (5.5, 5.5)
    """
    return math.ceil(diameter / PUNCH_STEP - 1e-6) * PUNCH_STEP


def nearest_round(diameter: float, punches: Iterable[Punch]) -> Punch | None:
    """Return the round punch nearest to a diameter however far off, or None where there is none."""
    rounds = [punch for punch in punches if punch.kind == "round"]
    # Rounded, so that 4.0 and 5.0 are equally far from 4.5 whatever the last bit says.
    return min(rounds, key=lambda p: (round(abs(p.width - diameter), 6), -p.width, p.name), default=None)


def snap_to_slot_punch(length: float, width: float, punches: Iterable[Punch]) -> Punch | None:
    """Return the oval or slot punch that makes a long hole in one blow, or None.

    Its width must be within the tolerance; its length too, but it may be up to 2 mm longer: a longer
    slot only takes leather along the strap, a shorter one stops the prong.

    Args:
        length: of the hole wanted, overall, mm.
        width: of the hole wanted, mm.
        punches: those at hand; round ones among them do not count.

    Source: common practice.

    Example:
        >>> have = [Punch("bag slot", "slot", 25.0, 4.5)]
        >>> snap_to_slot_punch(24.0, 4.5, have).name
        'bag slot'
        >>> snap_to_slot_punch(27.0, 4.5, have) is None
        True
    """
    fitting = [
        punch
        for punch in punches
        if punch.kind != "round"
        and abs(punch.width - width) <= HOUSE_TOLERANCE + 1e-9
        and -HOUSE_TOLERANCE - 1e-9 <= punch.length - length <= SPARE_LENGTH + 1e-9
    ]
    return min(fitting, key=lambda p: (abs(p.length - length) + abs(p.width - width), p.name), default=None)
