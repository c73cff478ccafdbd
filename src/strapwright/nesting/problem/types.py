"""The problem a nest solves, in polygons alone: pieces, grounds, what each piece shuns, and where pieces lie.

It knows nothing of belts. A part becomes a `Piece`, a hide a `Ground`; every engine takes a `Problem`
and answers with `PiecePlacement`s, and the check that nothing is wrong works on these alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from strapwright.geometry.polygon import turned

if TYPE_CHECKING:
    from strapwright.core.arrays import Points


@dataclass(frozen=True, eq=False)
class Zone:
    """A place on a ground that some areas of some pieces may not lie on.

    Args:
        polygon: its outline, (N, 2) mm.
        kind: a word that an area may shun: ``"hole"``, ``"mark"``, ``"loose"``, or any other.
    """

    polygon: Points
    kind: str = "hole"


@dataclass(frozen=True, eq=False)
class Ground:
    """A sheet that pieces may lie on.

    Args:
        boundary: its outline, counter-clockwise, (N, 2) mm.
        zones: the places on it that are not all good.
    """

    boundary: Points
    zones: tuple[Zone, ...] = ()


@dataclass(frozen=True, eq=False)
class Area:
    """A share of a piece, and the kinds of zone it may not lie on.

    Args:
        polygon: its outline in the piece's frame, (N, 2) mm, within the piece's own.
        shuns: kinds of zone.
    """

    polygon: Points
    shuns: frozenset[str]


@dataclass(frozen=True, eq=False)
class Piece:
    """Something to be laid on a ground.

    Args:
        id: its name, unlike any other's.
        outline: counter-clockwise, (N, 2) mm, flattened outward where it was round.
        turns: the turns it may take, radians from the ground's x axis.
        shuns: kinds of zone that no point of it may lie on.
        areas: further kinds shunned by some of its area only.
        value: what placing it is worth; its area unless something else is sought.
        shape: pieces of one number have the same outline, turns and areas.
        strap: whether it is long and runs one way, so that rows of such pieces fill a ground.
        grounds: numbers of the grounds it may lie on; None for all.
        assembly: a name shared by the pieces that are of use only together; empty for one by itself.
    """

    id: str
    outline: Points
    turns: tuple[float, ...]
    shuns: frozenset[str]
    areas: tuple[Area, ...] = ()
    value: float = 0.0
    shape: int = 0
    strap: bool = False
    grounds: tuple[int, ...] | None = None
    assembly: str = ""


@dataclass(frozen=True)
class PiecePlacement:
    """The placement of a piece on a ground: turned about its frame's origin, then moved.

    Args:
        piece: the piece's number.
        ground: the ground's number.
        turn: radians.
        x: of the piece's origin on the ground, mm.
        y: of the piece's origin on the ground, mm.
    """

    piece: int
    ground: int
    turn: float
    x: float
    y: float

    def apply(self, points: Points) -> Points:
        """Return points of the piece's frame where this puts them on the ground, (N, 2) mm."""
        moved: Points = turned(points, self.turn) + np.array([self.x, self.y])
        return moved


@dataclass(frozen=True, eq=False)
class Problem:
    """What is to be laid where.

    Args:
        pieces: in any order.
        grounds: in the order they are to be used up.
        gap: least distance between two pieces, mm.
        margin: least distance of a piece from a ground's edge, and of what shuns a zone from it, mm.
        locked: placements that must stay as they are.
        shared: two straps may lie exactly so far apart instead of the gap, along a straight edge; None: not.
    """

    pieces: tuple[Piece, ...]
    grounds: tuple[Ground, ...]
    gap: float = 0.0
    margin: float = 0.0
    locked: tuple[PiecePlacement, ...] = field(default=())
    shared: float | None = None

    def pieces_for(self, ground: int) -> list[Piece]:
        """Return the pieces that may lie on a ground, by its number."""
        return [piece for piece in self.pieces if piece.grounds is None or ground in piece.grounds]

    @property
    def nearest(self) -> float:
        """The least distance of two pieces in any layout, mm."""
        return self.gap if self.shared is None else min(self.gap, self.shared)
