"""What a part is: an outline and its features, each with the operation that makes it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour
    from strapwright.trade.leather import Tannage


Runs = tuple[tuple[float, float], ...]
"""Runs of x along a part, each from its lesser to its greater end, mm."""


class Operation(StrEnum):
    """How a feature is made: cut through, punched by hand at a centre mark, or scored on the grain."""

    CUT = "cut"
    PUNCH = "punch"
    SCORE = "score"


class PartKind(StrEnum):
    """The kinds of part there are."""

    STRAP = "strap"
    LINING = "lining"
    KEEPER = "keeper"

    @property
    def lies_along(self) -> bool:
        """Whether it must lie along the hide's strap direction, since its load does."""
        return self is not PartKind.KEEPER


@dataclass(frozen=True)
class Feature:
    """One thing made in a part besides its outline.

    Args:
        name: what it is, in trade words: ``"adjusting hole"``, ``"prong slot"``, ``"fold line"``.
        operation: cut, punch or score.
        contour: its shape in the part's frame, mm. Closed for ``cut`` and ``punch``, counter-clockwise
            (it bounds the hole); open or closed for ``score``.
    """

    name: str
    operation: Operation
    contour: Contour


@dataclass(frozen=True)
class Part:
    """One piece of leather to be cut.

    The frame is the one geometry's: x along the strap, 0 at the fold line, + towards the tip;
    y = 0 the centre line; grain side up; millimetres.

    Args:
        id: unique within a draft, made of the belt's id and the piece: ``"ines/strap"``.
        belt_id: the belt it belongs to.
        kind: strap, lining or keeper.
        outline: closed, counter-clockwise, simple.
        features: everything made in it.
        thickness: of its leather, mm.
        tannage: of its leather.
        hidden: runs of x that nobody sees when it is made up, mm; an ugly mark may lie there.
        loaded: runs of x that are pulled on when it is worn, mm; stretchy leather may not lie there.
    """

    id: str
    belt_id: str
    kind: PartKind
    outline: Contour
    features: tuple[Feature, ...]
    thickness: float
    tannage: Tannage
    hidden: Runs = ()
    loaded: Runs = ((-math.inf, math.inf),)
