"""How stiff a strap is, as ratios to a common belt: no leather's modulus is needed for those."""

from __future__ import annotations

from typing import Final

REFERENCE: Final = (38.0, 3.6)
"""Width and thickness of the belt that ratios refer to, mm: a usual trouser belt of 9 oz leather."""


def sag_ratio(width: float, thickness: float) -> float:
    """Return how much the strap sags on edge under a hung load, W₀³ t₀ / (W³ t).

    Under 1 it sags less than a 38 × 3.6 mm belt of the same leather.

    Args:
        width: W, mm.
        thickness: t of all layers, mm.

    Source: elementary bending: deflection goes with 1/I, and I = t W³/12 for a strap on edge.

    Example:
        >>> sag_ratio(38.0, 3.6), round(sag_ratio(44.0, 3.6), 3)
        (1.0, 0.644)
    """
    reference_width, reference_thickness = REFERENCE
    return (reference_width / width) ** 3 * (reference_thickness / thickness)


def roll_ratio(width: float, thickness: float) -> float:
    """Return how much the strap's edge rolls outward under a hung load, W₀ t₀³ / (W t³).

    Under 1 it rolls less than a 38 × 3.6 mm belt of the same leather.

    Args:
        width: W, mm.
        thickness: t of all layers, mm; layers are taken as glued and sewn, so that none slips.

    Source: elementary bending of the strap out of its flat, I = W t³/12.

    Example:
        >>> roll_ratio(38.0, 3.6), round(roll_ratio(44.0, 3.6), 3)
        (1.0, 0.864)
    """
    reference_width, reference_thickness = REFERENCE
    return (reference_width / width) * (reference_thickness / thickness) ** 3
