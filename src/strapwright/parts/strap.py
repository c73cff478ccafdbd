"""The strap of a belt: buckle end, adjusting holes and tip put together, and checked for soundness."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from strapwright.core.errors import GeometryError, PartError
from strapwright.geometry.offset import offset
from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.hole_row import LEAST_WALL, check_walls, row_discs, stitch_discs
from strapwright.parts.part import Feature, Operation
from strapwright.parts.strip import strip_outline
from strapwright.parts.tips.square import Square

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour
    from strapwright.parts.buckle_end import BuckleEnd
    from strapwright.parts.hole_row import HoleRow
    from strapwright.parts.part import Runs
    from strapwright.parts.stitching import Stitching
    from strapwright.parts.tips.tip import Tip


@dataclass(frozen=True, kw_only=True)
class Strap:
    """A strap, fold line at x = 0, tip at +x.

    Args:
        width: mm.
        tip_end: x of the foremost point of the tip, mm.
        tip: its shape, for this width.
        buckle_end: its numbers.
        holes: its adjusting holes.
        crease: distance of a crease line from the edge, mm; 0 for none.
        stitching: of the turn-back, if it is stitched.
        marks: lettering scored on the turn-back, placed clear of everything else.

    Raises:
        PartError: numbers that make no sound strap: the field, the value and what is allowed.
    """

    width: float = dimension(8.0, 120.0, "narrower does not hold a hole, wider is no strap")
    tip_end: float = dimension(60.0, 6000.0, "a strap of this trade is shorter than 6 m")
    tip: Tip
    buckle_end: BuckleEnd
    holes: HoleRow
    crease: float = dimension(0.0, 20.0, "a crease runs close to the edge", default=0.0)
    stitching: Stitching | None = None
    marks: tuple[Feature, ...] = ()

    def __post_init__(self) -> None:
        check_dimensions(self)
        end = self.buckle_end
        if end.corner_radius > self.width / 2:
            raise PartError(
                f"corner_radius is {end.corner_radius:g} mm; a {self.width:g} mm strap allows at most "
                f"{self.width / 2:g} mm"
            )
        self._check_slots()
        self._check_holes()

    def _check_slots(self) -> None:
        end = self.buckle_end
        for y in end.slot_ys:
            wall = self.width / 2 - abs(y) - end.slot_width / 2
            if wall < LEAST_WALL:
                most = 2 * (self.width / 2 - abs(y) - LEAST_WALL)
                raise PartError(
                    f"slot_width is {end.slot_width:g} mm, which leaves {wall:.1f} mm at the side of a "
                    f"{self.width:g} mm strap; allowed is at most {max(most, 0):.1f} mm"
                )
        if len(end.slot_ys) == 2:
            between = abs(end.slot_ys[1] - end.slot_ys[0]) - end.slot_width
            if between < LEAST_WALL:
                raise PartError(
                    f"slot_width is {end.slot_width:g} mm, which leaves {between:.1f} mm between two "
                    f"slots; allowed is {LEAST_WALL:g} mm or more between them"
                )

    def _check_holes(self) -> None:
        end, row = self.buckle_end, self.holes
        stitches = self.stitching.centres_x if self.stitching else ()
        sewn = self.stitching.hole / 2 if self.stitching else 0.0
        gap = row.xs[0] - row.reach / 2 - max((end.reaches, *(x + sewn for x in stitches)))
        if gap < LEAST_WALL:
            raise PartError(
                f"the first adjusting hole is at {row.xs[0]:.1f} mm from the fold, into the buckle end; "
                f"allowed is {row.xs[0] - gap + LEAST_WALL:.1f} mm or more: fewer holes, or a longer belt"
            )
        discs = row_discs(row)
        discs += [(x, y, d, "fastener hole") for x, y, d in end.fastener_holes]
        if self.stitching:
            discs += stitch_discs(stitches, self.width, self.stitching.inset, self.stitching.hole)
        check_walls(self.outline, discs, (-math.inf, self.tip_end - self.tip.reach))

    @cached_property
    def outline(self) -> Contour:
        """The outline, closed and counter-clockwise."""
        end = self.buckle_end
        return strip_outline(-end.turn_back, Square(self.width, end.corner_radius), self.tip_end, self.tip)

    @property
    def hidden(self) -> Runs:
        """Runs of x nobody sees on the belt: the turn-back beyond the prong slot and the fold, mm."""
        return (self.buckle_end.hidden,)

    @property
    def loaded(self) -> Runs:
        """Runs of x that are pulled on: from the turn-back's last row to a pitch past the last hole, mm."""
        stitches = self.stitching.centres_x if self.stitching else ()
        return ((self.buckle_end.pulled_from(stitches), self.holes.xs[-1] + self.holes.spacing),)

    def features(self) -> tuple[Feature, ...]:
        """Return everything made in the strap besides its outline."""
        found = self.buckle_end.features(self.width) + self.holes.features()
        if self.stitching:
            found += self.stitching.features(self.width)
        if self.crease:
            try:
                line = offset(self.outline, -self.crease, name="the crease line")
            except GeometryError as error:
                raise PartError(f"crease is {self.crease:g} mm: {error}") from error
            found += (Feature("crease line", Operation.SCORE, line),)
        return found + self.marks
