"""The keeper strip: a band with square ends and the marks for its join."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from strapwright.errors import PartError
from strapwright.geometry.shapes import line, rectangle
from strapwright.parts.buckle_end import TICK_INSET
from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.part import Feature, Operation

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour

JoinKind = Literal["butt", "lap"]

BUTT_MARK = 4.0
"""The stitch or staple line of a butted end stands this far in from it, mm (common practice)."""


@dataclass(frozen=True)
class KeeperStrip:
    """A keeper laid flat, from x = 0 to its length, centred on y = 0.

    Args:
        length: of the strip, the lap included, mm.
        width: along the belt when worn, mm.
        join: ends that butt, or lap over each other.
        lap: how far they lap, mm; 0 for a butt join.

    Raises:
        PartError: a number out of its range.

    Example:
        >>> KeeperStrip(106.7, 20.0).outline.bounding_box
        (0.0, -10.0, 106.7, 10.0)
    """

    length: float = dimension(20.0, 600.0, "round the strap and its billet")
    width: float = dimension(5.0, 80.0, "about half the strap looks right", default=20.0)
    join: JoinKind = "butt"
    lap: float = dimension(0.0, 60.0, "enough to stitch or glue", default=0.0)

    def __post_init__(self) -> None:
        check_dimensions(self)
        if self.join == "lap" and not 5.0 <= self.lap < self.length / 2:
            raise PartError(
                f"lap is {self.lap:g} mm; allowed are 5 mm to less than half of {self.length:.1f} mm"
            )

    @property
    def outline(self) -> Contour:
        """The outline, closed and counter-clockwise."""
        return rectangle(0.0, -self.width / 2, self.length, self.width / 2)

    def features(self) -> tuple[Feature, ...]:
        """Return the join marks: where the other end comes to lie, or the stitch line of each end."""
        inner = self.width / 2 - TICK_INSET
        xs = (self.lap,) if self.join == "lap" else (BUTT_MARK, self.length - BUTT_MARK)
        return tuple(Feature("join mark", Operation.SCORE, line(x, -inner, x, inner)) for x in xs)
