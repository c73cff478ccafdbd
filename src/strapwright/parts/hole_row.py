"""The adjusting holes: one row on the centre line, or two side by side for a double prong."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import PartError
from strapwright.geometry.shapes import stadium
from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.part import Feature, Operation

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from strapwright.geometry.contour import Contour

LEAST_WALL: Final = 2.0
"""Leather that must stay beside a slot or a small hole, mm; beside a larger hole as much as its radius.
Less tears while it is made (common practice asks for more: see the findings of a draft)."""

Disc = tuple[float, float, float, str]
"""A round hole, or the round end of an oval one: x, y, diameter, mm, and what it is called."""

MOST_HOLES = 15


@dataclass(frozen=True)
class HoleRow:
    """Adjusting holes at even spacing.

    Args:
        middle: x of the middle of the row, mm from the fold line.
        count: of holes along the strap.
        spacing: from hole to hole along the strap, mm.
        diameter: across the strap, mm.
        rows: 1, or 2 for a double prong.
        across: distance between two rows, mm; 0 for one.
        length: along the strap, mm; more than the diameter for oval holes, 0 for round ones.

    Raises:
        PartError: a number out of its range, or holes that run into each other.

    Example:
        >>> HoleRow(1000.0, 3, 25.0, 5.0).centres
        ((975.0, 0.0), (1000.0, 0.0), (1025.0, 0.0))
    """

    middle: float = dimension(20.0, 5000.0, "a strap of this trade is shorter than 5 m")
    count: int = 7
    spacing: float = dimension(
        8.0, 80.0, "25 mm is usual; the strap tears between nearer holes", default=25.0
    )
    diameter: float = dimension(1.5, 16.0, "wide enough for the prong, no wider", default=5.0)
    rows: int = 1
    across: float = dimension(0.0, 100.0, "the distance of two prongs", default=0.0)
    length: float = dimension(0.0, 30.0, "an oval hole lets the prong go through at a slant", default=0.0)

    def __post_init__(self) -> None:
        check_dimensions(self)
        if not 1 <= self.count <= MOST_HOLES:
            raise PartError(f"count is {self.count}; allowed are 1 to {MOST_HOLES} adjusting holes")
        if self.rows not in (1, 2):
            raise PartError(f"rows is {self.rows}; allowed are 1, or 2 for a double prong")
        if 0.0 < self.length < self.diameter:
            raise PartError(
                f"length is {self.length:g} mm; an oval hole {self.diameter:g} mm wide is allowed from "
                f"{self.diameter:g} mm"
            )
        wall = self.spacing - self.reach
        if wall < self.diameter / 2:
            raise PartError(
                f"spacing is {self.spacing:g} mm with holes of {self.reach:g} mm, which leaves "
                f"{wall:g} mm between them; allowed is a spacing of "
                f"{self.reach + self.diameter / 2:g} mm or more"
            )
        if self.rows == 2 and self.across - self.diameter < 2.0:
            raise PartError(
                f"across is {self.across:g} mm with holes of {self.diameter:g} mm; two rows need at "
                f"least {self.diameter + 2:g} mm"
            )

    @property
    def reach(self) -> float:
        """Size of a hole along the strap, mm."""
        return max(self.length, self.diameter)

    @property
    def xs(self) -> tuple[float, ...]:
        """Places along the strap, nearest the buckle first, mm."""
        first = self.middle - (self.count - 1) / 2 * self.spacing
        return tuple(first + k * self.spacing for k in range(self.count))

    @property
    def ys(self) -> tuple[float, ...]:
        """Places across the strap, mm."""
        return (0.0,) if self.rows == 1 else (-self.across / 2, self.across / 2)

    @property
    def centres(self) -> tuple[tuple[float, float], ...]:
        """Centres of all holes, mm."""
        return tuple((x, y) for x in self.xs for y in self.ys)

    def features(self) -> tuple[Feature, ...]:
        """Return the holes as features."""
        return tuple(
            Feature("adjusting hole", Operation.CUT, stadium(x, y, self.reach, self.diameter))
            for x, y in self.centres
        )


def row_discs(row: HoleRow) -> list[Disc]:
    """Return a hole row as discs; an oval hole is checked at both its ends."""
    bulge = (row.reach - row.diameter) / 2
    return [
        (x + side * bulge, y, row.diameter, "adjusting hole")
        for x, y in row.centres
        for side in ((-1, 1) if bulge else (0,))
    ]


def stitch_discs(xs: Iterable[float], width: float, inset: float, hole: float) -> list[Disc]:
    """Return the stitch holes along both edges of a strap of some width as discs.

    Raises:
        PartError: the two lines of stitches run into each other.
    """
    y = width / 2 - inset
    if y < LEAST_WALL:
        raise PartError(
            f"stitch.inset is {inset:g} mm; a {width:g} mm strap allows at most "
            f"{max(width / 2 - LEAST_WALL, 0):g} mm, {2 * LEAST_WALL:g} mm between the two lines"
        )
    return [(x, side * y, hole, "stitch hole") for x in xs for side in (-1, 1)]


def check_walls(outline: Contour, discs: Sequence[Disc], straight: tuple[float, float]) -> None:
    """Refuse holes with too little leather between them and the outline.

    Args:
        outline: of the piece.
        discs: its round holes.
        straight: from where to where its edges are straight, x in mm; beyond lie its tips.

    Raises:
        PartError: the hole that is worst off: its place and the leather it needs.
    """
    if not discs:
        return
    centres = np.array([disc[:2] for disc in discs])
    radii = np.array([disc[2] for disc in discs]) / 2
    walls = outline.distance_to(centres) - radii
    walls[~outline.contains(centres)] = -math.inf
    wanted = np.maximum(radii, np.where(radii < 1.0, LEAST_WALL / 2, LEAST_WALL))
    short = walls - wanted
    worst = int(np.argmin(short))
    if short[worst] < -1e-9:
        x, y, diameter, name = discs[worst]
        where = "to the edge" if straight[0] <= x <= straight[1] else "into the tip"
        raise PartError(
            f"{name} of {diameter:g} mm at ({x:.1f}, {y:.1f}) mm runs {where}; allowed is a place "
            f"with {wanted[worst]:g} mm of leather round it"
        )
