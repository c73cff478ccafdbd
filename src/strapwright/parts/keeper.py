"""The keeper strip: a band with square ends and the marks for its join."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from strapwright.core.errors import PartError
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import line, rectangle
from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.end import TICK_INSET
from strapwright.parts.part import Feature, Operation

if TYPE_CHECKING:
    from strapwright.parts.part import Runs

JoinKind = Literal["butt", "lap"]
GuideKind = Literal["stitch", "staple", "none"]

BUTT_MARK = 4.0
"""The stitch or staple line of a butted end stands this far in from it, mm (common practice)."""

GUIDE_HOLE = 1.2
"""Diameter of a guide hole, mm: an awl's, or a staple's leg (common practice)."""

STAPLE = 10.0
"""Distance of a staple's legs, mm (from memory); less on a narrow keeper."""


@dataclass(frozen=True)
class KeeperStrip:
    """A keeper laid flat, from x = 0 to its length, centred on y = 0.

    Args:
        length: of the strip, the lap included, mm.
        width: along the belt when worn, mm.
        join: ends that butt, or lap over each other.
        lap: how far they lap, mm; 0 for a butt join.
        spare: left on the length to be cut at the fitting, mm.
        guides: holes to join the ends by: for stitches, for staples, or none.

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
    spare: float = dimension(0.0, 60.0, "cut off when the belt is there to try it on", default=0.0)
    guides: GuideKind = "stitch"

    def __post_init__(self) -> None:
        check_dimensions(self)
        if self.join == "lap" and not 5.0 <= self.lap < self.length / 2:
            raise PartError(
                f"lap is {self.lap:g} mm; allowed are 5 mm to less than half of {self.length:.1f} mm"
            )

    @property
    def outline(self) -> Contour:
        """The outline, closed and counter-clockwise."""
        return rectangle(0.0, -self.width / 2, self.length + self.spare, self.width / 2)

    @property
    def hidden(self) -> Runs:
        """Runs of x nobody sees: the end under a lap, or both ends where they butt behind the belt, mm."""
        if self.join == "lap":
            return ((0.0, self.lap),)
        return ((0.0, BUTT_MARK), (self.length - BUTT_MARK, self.length + self.spare))

    def features(self) -> tuple[Feature, ...]:
        """Return the join marks and the guide holes.

        A lap is marked where the other end comes to lie, spare leather where the computed length ends, a
        butt join where its ends are sewn. The guide holes of one end meet those of the other.
        """
        inner = self.width / 2 - TICK_INSET
        near = self.lap / 2 if self.join == "lap" else BUTT_MARK
        xs = [self.lap] if self.join == "lap" else [BUTT_MARK, self.length - BUTT_MARK]
        if self.spare:
            xs.append(self.length)
        found = [Feature("join mark", Operation.SCORE, line(x, -inner, x, inner)) for x in xs]
        if self.guides != "none":
            ys = self._guide_ys()
            found += [
                Feature("guide hole", Operation.CUT, Contour.circle(x, y, GUIDE_HOLE))
                for x in (near, self.length - near)
                for y in ys
            ]
        return tuple(found)

    def _guide_ys(self) -> tuple[float, ...]:
        """Return the guide holes across: three for stitches, two for the legs of a staple."""
        edge = self.width / 2 - 3.0
        if self.guides == "staple" or edge < 3.0:
            reach = min(edge, STAPLE / 2)
            return -reach, reach
        return -edge, 0.0, edge
