"""What a part is: an outline and its features, each with the operation that makes it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour
    from strapwright.rules.leather import Tannage


Runs = tuple[tuple[float, float], ...]
"""Runs of x along a part, each from its lesser to its greater end, mm."""

EVERYWHERE: Final[Runs] = ((-math.inf, math.inf),)
"""All of a part."""


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
        turn_step: it may lie turned off the hide's strap direction by any multiple of this, radians, a
            whole number of which make a full turn; None: quarter turns for a keeper, half turns for all
            else, since its load runs along it.
    """

    id: str
    belt_id: str
    kind: PartKind
    outline: Contour
    features: tuple[Feature, ...]
    thickness: float
    tannage: Tannage
    hidden: Runs = ()
    loaded: Runs = EVERYWHERE
    turn_step: float | None = None

    @property
    def turns(self) -> tuple[float, ...]:
        """The turns it may take off the hide's strap direction, radians, from 0 up to a full turn.

        Example:
            >>> from strapwright.geometry.contour import Contour
            >>> from strapwright.rules.leather import Tannage
            >>> tab = Contour.from_points([(0, -10), (60, -10), (60, 10), (0, 10)])
            >>> part = Part("tab/strap", "tab", PartKind.STRAP, tab, (), 3.6, Tannage.VEGETABLE)
            >>> [round(math.degrees(turn)) for turn in part.turns]
            [0, 180]
        """
        step = self.turn_step or (math.pi / 2 if self.kind is PartKind.KEEPER else math.pi)
        count = round(2 * math.pi / step)
        return tuple(n * 2 * math.pi / count for n in range(count))

    @property
    def lies_along(self) -> bool:
        """Whether it lies along the hide's strap direction, one way or the other, and no other way."""
        return len(self.turns) <= 2
