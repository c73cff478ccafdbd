"""Leather: how it was tanned, how thick by use, in ounces beside millimetres; edge beveler and prong."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Final, Literal

from strapwright.core.units import MM_PER_OUNCE, Units, format_length

if TYPE_CHECKING:
    from collections.abc import Mapping


class Tannage(StrEnum):
    """How the leather was tanned, which decides whether a laser may touch it.

    ``SYNTHETIC`` is stock that only looks like leather; ``UNKNOWN`` is what to write when
    no data sheet came with the hide.
    """

    VEGETABLE = "vegetable"
    CHROME = "chrome"
    COMBINATION = "combination"
    SYNTHETIC = "synthetic"
    UNKNOWN = "unknown"


Use = Literal["dress", "work", "load_carrying"]
"""What a belt is for."""

GAUGE_STEP: Final = 0.1
"""Finest step of a leather thickness gauge, mm (ASTM D4831-00, 3.1): nearer to a limit is on it."""

PRONG_TO_STRAP: Final = 1.5
"""A prong thicker than this many strap thicknesses is made for a thicker strap: a house rule."""


def ounces(thickness: float) -> float:
    """Return a thickness in leather's ounces, 1 oz = 1/64 in.

    Args:
        thickness: mm.

    Source: suppliers' conversion charts, which agree.

    Example:
        >>> round(ounces(3.6), 2)
        9.07
    """
    return thickness / MM_PER_OUNCE


def side_by_side(thickness: float, units: Units = "mm") -> str:
    """Return a thickness as a shop and a calliper say it, to 0.1 mm and to the half ounce.

    Args:
        thickness: mm.
        units: ``"in"`` says the ounces first, and the fraction of an inch.

    Source: the steps of a leather thickness gauge, 0.1 mm or 0.5 oz (ASTM D4831-00, 3.1).

    Example:
        >>> side_by_side(3.571875), side_by_side(3.0)
        ('3.6 mm (9 oz)', '3.0 mm (7.5 oz)')
        >>> side_by_side(3.6, "in")
        '9 oz (9/64 in)'
    """
    weight = f"{math.floor(2 * ounces(thickness) + 0.5) / 2:g} oz"
    return (
        f"{weight} ({format_length(thickness, 'in')})" if units == "in" else f"{thickness:.1f} mm ({weight})"
    )


@dataclass(frozen=True)
class ThicknessRange:
    """The thicknesses usual for a use.

    Args:
        least: ounces.
        most: ounces.

    Example:
        >>> print(ThicknessRange(7, 10))
        2.8 to 4.0 mm (7 to 10 oz)
    """

    least: int
    most: int

    @property
    def low(self) -> float:
        """The thinnest, mm."""
        return self.least * MM_PER_OUNCE

    @property
    def high(self) -> float:
        """The thickest, mm."""
        return self.most * MM_PER_OUNCE

    def __str__(self) -> str:
        """Return both ends in millimetres and ounces."""
        return f"{self.low:.1f} to {self.high:.1f} mm ({self.least} to {self.most} oz)"

    def side(self, thickness: float) -> Literal["thin", "within", "thick"]:
        """Return on which side of the window a thickness lies, within the step of a gauge.

        Args:
            thickness: mm.

        Example:
            >>> usual = ThicknessRange(7, 10)
            >>> usual.side(4.0), usual.side(4.1), usual.side(2.4)
            ('within', 'thick', 'thin')
        """
        if thickness < self.low - GAUGE_STEP:
            return "thin"
        return "thick" if thickness > self.high + GAUGE_STEP else "within"


USUAL_THICKNESS: Final[Mapping[Use, ThicknessRange]] = {
    "dress": ThicknessRange(5, 8),
    "work": ThicknessRange(7, 10),
    "load_carrying": ThicknessRange(9, 12),
}
"""Thickness of all layers by use: common practice. A supplier's guide calls 8 to 10 oz belt leather, 7 to
8 oz average and 11 to 12 oz heavy; the thin end for dress and for carrying a load are house settings."""


def edge_beveler(thickness: float) -> int | None:
    """Return the number of the edge beveler for a thickness: 1 for 2 to 4 oz, one more every 3 oz.

    Ounces are rounded to the nearest whole one, a half upwards.

    Args:
        thickness: of all layers at the edge, mm.

    Returns:
        The number, or None below 2 oz, where there is no edge to take off.

    Source: common practice ("How to bevel leather edges", a craft page: 1 for 2 to 4 oz, 2 for 5 to 7, 3
        from 8 up, the largest it knows). Its steps of three ounces are carried on here for thicker leather;
        makers of tools number them otherwise.

    Example:
        >>> [edge_beveler(t) for t in (0.4, 1.6, 2.4, 3.6, 4.8, 5.6, 9.0)]
        [None, 1, 2, 3, 4, 5, 8]
    """
    whole = math.floor(ounces(thickness) + 0.5)
    return None if whole < 2 else (whole - 2) // 3 + 1


def strap_for_prong(prong_thickness: float) -> float:
    """Return the thinnest strap that suits a prong, p / 1.5, mm.

    A buckle with a thick prong is made for thick leather: a thin strap sits loose on it, and its holes
    stretch.

    Args:
        prong_thickness: p, mm.

    Source: a house rule; no published one was found.

    Example:
        >>> round(strap_for_prong(3.5), 2)
        2.33
    """
    return prong_thickness / PRONG_TO_STRAP
