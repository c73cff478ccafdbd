"""Leather round holes: every round hole, and both ends of every oval one, keeps its wall to the outline."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import PartError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from strapwright.geometry.contour import Contour
    from strapwright.parts.hole_row import HoleRow

LEAST_WALL: Final = 2.0
"""Leather that must stay beside a slot or a small hole, mm; beside a larger hole as much as its radius.
Less tears while it is made (common practice asks for more: see the findings of a draft)."""

Disc = tuple[float, float, float, str]
"""A round hole, or the round end of an oval one: x, y, diameter, mm, and what it is called."""


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
