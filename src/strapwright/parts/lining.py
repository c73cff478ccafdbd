"""The lining: a second layer on the flesh side, from behind the fold to the tip."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.core.errors import PartError
from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.part import Operation
from strapwright.parts.strip import strip_outline
from strapwright.parts.tips.square import Square

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour
    from strapwright.parts.part import Feature
    from strapwright.parts.strap import Strap


@dataclass(frozen=True, kw_only=True)
class Lining:
    """The lining of a strap: the strap's own shape, stopped short of the fold.

    It is laid flesh to flesh, so that it is drawn here as it is under the strap, seen from the strap's
    grain side; a strap and its tip are alike on both sides, so that either face may be cut from, unless they
    were drawn elsewhere: then the draft mirrors it.

    Args:
        strap: what it lines.
        start: x where it begins, mm: behind the prong slot, so that it does not thicken the fold.

    Raises:
        PartError: it would begin on the slot or the bar.
    """

    strap: Strap
    start: float = dimension(5.0, 120.0, "clear of the prong slot and of the fold")

    def __post_init__(self) -> None:
        check_dimensions(self)
        least = self.strap.buckle_end.slot_length / 2
        if self.start < least:
            raise PartError(f"start is {self.start:g} mm; allowed is {least:g} mm or more, behind the slot")

    @property
    def outline(self) -> Contour:
        """The outline, closed and counter-clockwise."""
        end = Square(self.strap.width, 0.5)
        return strip_outline(self.start, end, self.strap.span, self.strap.tip)

    def features(self) -> tuple[Feature, ...]:
        """Return the strap's holes that go through the lining too."""
        return tuple(
            feature
            for feature in self.strap.features()
            if feature.contour.closed
            and not (feature.operation is Operation.SCORE and feature in self.strap.drawn)
            and feature.name != "crease line"
            and feature.contour.bounding_box[0] > self.start
        )
