"""A tip or a whole part of the user's own, however it was drawn, and what is checked of any."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Final

import numpy as np

from strapwright.core.errors import PartError
from strapwright.parts.part import EVERYWHERE, Feature, Operation

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.geometry.contour import Contour
    from strapwright.parts.part import Runs
    from strapwright.parts.tips.tip import Vertices

LEAST_PIECE: Final = 5.0
"""A drawn piece is at least this long each way, mm: less is dust, or was drawn in inches."""

MOST_PIECE: Final = 6000.0
"""And at most this long, mm: a strap of this trade is shorter than 6 m."""

LEAST_WEB: Final = 0.5
"""Leather that must stay between a drawn hole and the edge or the next hole, mm: less is no leather."""

CUT_OUT: Final = "cut-out"
"""Name of a drawn opening that is not round."""

_SAMPLES: Final = 16
"""Points looked at on each segment of a drawn hole."""


@dataclass(frozen=True)
class OwnTip:
    """A tip that a user has drawn for one strap width.

    Args:
        width: of the strap, mm.
        drawn: ``(x, y, bulge)`` from (−reach, −width/2) round the foremost point to (−reach, +width/2).
    """

    width: float
    drawn: tuple[tuple[float, float, float], ...]

    @property
    def reach(self) -> float:
        """From the foremost point back to where the straight edges begin, mm."""
        return -self.drawn[0][0]

    def vertices(self) -> Vertices:
        """Return the line as it was drawn."""
        return list(self.drawn)


@dataclass(frozen=True)
class OwnPart:
    """A whole part that a user has drawn: without turned ends or rows of holes, pulled on everywhere.

    Args:
        outline: closed, counter-clockwise, exactly as drawn.
        holes: closed, counter-clockwise.
        made: what else is made in it.
    """

    outline: Contour
    holes: tuple[Contour, ...]
    made: tuple[Feature, ...] = ()
    ends: ClassVar[tuple[Any, ...]] = ()
    plain: ClassVar[tuple[float, float]] = math.inf, -math.inf
    turned: ClassVar[tuple[()]] = ()
    hole_rows: ClassVar[tuple[()]] = ()
    crease: ClassVar[float] = 0.0
    marks: ClassVar[tuple[()]] = ()
    hidden: ClassVar[Runs] = ()
    loaded: ClassVar[Runs] = EVERYWHERE

    @property
    def openings(self) -> tuple[Feature, ...]:
        """What is cut or punched through it: all of its features but the scored ones."""
        return tuple(one for one in self.features() if one.operation is not Operation.SCORE)

    def features(self) -> tuple[Feature, ...]:
        """Return the holes as features, and what else is made."""
        holes = tuple(Feature(opening_name(hole), Operation.CUT, hole) for hole in self.holes)
        return holes + self.made


def opening_name(hole: Contour) -> str:
    """Return what a drawn opening is called: a hole where it is round, else a cut-out."""
    return "hole" if hole.as_circle(1e-6) else CUT_OUT


def check_size(outline: Contour, draws: str) -> None:
    """Refuse a piece too small or too large.

    Args:
        outline: of the piece.
        draws: what draws it, to begin a message.

    Raises:
        PartError: its size and what is allowed.
    """
    x0, y0, x1, y1 = outline.bounding_box
    if min(x1 - x0, y1 - y0) < LEAST_PIECE or max(x1 - x0, y1 - y0) > MOST_PIECE:
        raise PartError(
            f"{draws} a piece of {x1 - x0:.2f} × {y1 - y0:.2f} mm; allowed are {LEAST_PIECE:g} "
            f"to {MOST_PIECE:g} mm each way, drawn in millimetres"
        )


def check_holes(outline: Contour, holes: Sequence[Contour], draws: Sequence[str], web: float) -> None:
    """Refuse holes outside a piece, or with too little leather round them.

    Args:
        outline: of the piece.
        holes: closed.
        draws: what draws each of them, to begin a message.
        web: leather that must stay between a hole and the edge or the next hole, mm.

    Raises:
        PartError: the first that is wrong.
    """
    for place, (hole, draw) in enumerate(zip(holes, draws, strict=True)):
        points = hole.sample(_SAMPLES)
        x0, y0, x1, y1 = hole.bounding_box
        where = f"{draw} a hole round ({(x0 + x1) / 2:.2f}, {(y0 + y1) / 2:.2f}) mm that"
        inside = outline.contains(points)
        if not inside.any():
            raise PartError(f"{where} is outside the outline; expected one piece and holes inside it")
        if not inside.all() or gap(hole, outline) < web:
            raise PartError(f"{where} runs to the edge; expected {web:g} mm of leather round it")
        for other in holes[:place]:
            if other.contains(points).any() or hole.contains(other.starts).any() or gap(hole, other) < web:
                raise PartError(f"{where} runs into another; expected {web:g} mm of leather between them")


def gap(one: Contour, other: Contour) -> float:
    """Return how near the lines of two contours come to each other, mm; points of each are looked at."""
    forth = float(np.min(other.distance_to(one.sample(_SAMPLES))))
    return min(forth, float(np.min(one.distance_to(other.sample(_SAMPLES)))))
