"""A strap between two ends, each folded round a bar or cut to a tip: bag strap, camera strap, plain strap."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from strapwright.core.errors import PartError
from strapwright.geometry.transform import Placement, mirrored
from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.hole_row import Disc, check_walls, row_discs, stitch_discs
from strapwright.parts.part import Feature, Runs
from strapwright.parts.strip import strip_outline
from strapwright.parts.tips.square import Square

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour
    from strapwright.parts.buckle_end import BuckleEnd
    from strapwright.parts.hole_row import HoleRow
    from strapwright.parts.stitching import Stitching
    from strapwright.parts.tips.tip import Tip

CLEAR = 2.0
"""Kept between two turn-backs that meet under one strap, and before a tip, mm."""


@dataclass(frozen=True)
class TurnedEnd:
    """An end folded round the bar of a ring or snap hook: a buckle end without a slot.

    Drawn as every buckle end is, fold line at x = 0 and turn-back at x < 0, wherever it will lie.

    Args:
        fold: fold line, fastener holes and turn-back.
        stitching: of the turn-back, if it is stitched.
    """

    fold: BuckleEnd
    stitching: Stitching | None = None

    @property
    def last(self) -> float:
        """How far from the fold line its holes and its turn-back reach along the strap, mm."""
        stitches = self.stitching.centres_x if self.stitching else ()
        return max(*self.fold.rows, *stitches, self.fold.turn_back, 0.0)

    @property
    def pulled_from(self) -> float:
        """The x from which on it is pulled on, mm: of its turn-back's last fastener or stitch."""
        return self.fold.pulled_from(self.stitching.centres_x if self.stitching else ())

    def features(self, width: float) -> tuple[Feature, ...]:
        """Return everything made in it, for a strap of this width, mm."""
        sewn = self.stitching.features(width) if self.stitching else ()
        return self.fold.features(width) + sewn

    def discs(self, width: float) -> list[Disc]:
        """Return its holes as discs, for a strap of this width, mm."""
        found: list[Disc] = [(x, y, d, "fastener hole") for x, y, d in self.fold.fastener_holes]
        if self.stitching:
            found += stitch_discs(self.stitching.centres_x, width, self.stitching.inset, self.stitching.hole)
        return found


@dataclass(frozen=True, kw_only=True)
class PlainStrap:
    """A strap from its first end at x = 0 to its second end at x = span.

    An end's place is its fold line where it is turned, the foremost point of its tip where it is not. The
    second end is the first one's arrangement mirrored.

    Args:
        width: mm.
        span: from end to end, mm.
        ends: the first and the second end, each drawn as at x = 0: a turned end with its turn-back at
            x < 0, a tip with its foremost point there.
        holes: rows of holes between them.

    Raises:
        PartError: numbers that make no sound strap: the field, the value and what is allowed.

    Example:
        >>> from strapwright.parts.tips.square import Square
        >>> tip = Square(20.0, 3.0)
        >>> PlainStrap(width=20.0, span=300.0, ends=(tip, tip)).outline.bounding_box
        (0.0, -10.0, 300.0, 10.0)
    """

    width: float = dimension(8.0, 120.0, "narrower does not hold a hole, wider is no strap")
    span: float = dimension(20.0, 6000.0, "a strap of this trade is shorter than 6 m")
    ends: tuple[TurnedEnd | Tip, TurnedEnd | Tip]
    holes: tuple[HoleRow, ...] = ()

    def __post_init__(self) -> None:
        check_dimensions(self)
        for end in self.ends:
            if isinstance(end, TurnedEnd) and end.fold.corner_radius > self.width / 2:
                raise PartError(
                    f"corner_radius is {end.fold.corner_radius:g} mm; a {self.width:g} mm strap allows at "
                    f"most {self.width / 2:g} mm"
                )
        first, second = (end.last if isinstance(end, TurnedEnd) else end.reach for end in self.ends)
        least = first + second + CLEAR
        if self.span < least:
            raise PartError(
                f"the strap is {self.span:.1f} mm from end to end; allowed are {least:.1f} mm "
                "or more, so that what is folded back and the tips do not run into each other: a longer "
                "strap, or one row of fasteners"
            )
        self._check_holes(first, second)

    def _check_holes(self, first: float, second: float) -> None:
        discs: list[Disc] = []
        for place, end in enumerate(self.ends):
            if isinstance(end, TurnedEnd):
                turned = end.discs(self.width)
                discs += [(self.span - x, y, d, name) for x, y, d, name in turned] if place else turned
        low = first if isinstance(self.ends[0], TurnedEnd) else 0.0
        high = self.span - (second if isinstance(self.ends[1], TurnedEnd) else 0.0)
        for row in self.holes:
            for x in (row.xs[0], row.xs[-1]):
                if not low <= x <= high:
                    raise PartError(
                        f"a hole is at {x:.1f} mm, over a turned end or beyond the strap; allowed is "
                        f"{low:.1f} to {high:.1f} mm: fewer holes, a smaller spacing, or a longer strap"
                    )
            discs += row_discs(row)
        straight = (
            -math.inf if isinstance(self.ends[0], TurnedEnd) else first,
            math.inf if isinstance(self.ends[1], TurnedEnd) else self.span - second,
        )
        check_walls(self.outline, discs, straight)

    @property
    def rear(self) -> float:
        """Lowest x of the blank, mm."""
        end = self.ends[0]
        return -end.fold.turn_back if isinstance(end, TurnedEnd) else 0.0

    @property
    def front(self) -> float:
        """Highest x of the blank, mm."""
        end = self.ends[1]
        return self.span + (end.fold.turn_back if isinstance(end, TurnedEnd) else 0.0)

    @cached_property
    def outline(self) -> Contour:
        """The outline, closed and counter-clockwise."""
        shapes = [
            Square(self.width, end.fold.corner_radius) if isinstance(end, TurnedEnd) else end
            for end in self.ends
        ]
        return strip_outline(self.rear, shapes[0], self.front, shapes[1])

    @property
    def hidden(self) -> Runs:
        """Runs of x nobody sees when it is made up, mm: the turn-backs beyond their folds."""
        runs: Runs = ()
        for place, end in enumerate(self.ends):
            if isinstance(end, TurnedEnd):
                low, high = end.fold.hidden
                runs += ((self.span - high, self.span - low) if place else (low, high),)
        return runs

    @property
    def loaded(self) -> Runs:
        """Runs of x that are pulled on, mm: from one end's last fastener, or its tip, to the other's."""
        first, second = (end.pulled_from if isinstance(end, TurnedEnd) else 0.0 for end in self.ends)
        return ((first, self.span - second),)

    def features(self) -> tuple[Feature, ...]:
        """Return everything made in the strap besides its outline."""
        found: tuple[Feature, ...] = ()
        for place, end in enumerate(self.ends):
            if isinstance(end, TurnedEnd):
                made = end.features(self.width)
                found += tuple(self._at_the_far_end(one) for one in made) if place else made
        for row in self.holes:
            found += row.features()
        return found

    def _at_the_far_end(self, feature: Feature) -> Feature:
        """Return a feature mirrored to the second end: x becomes span − x."""
        place = Placement(math.pi, self.span, 0.0)
        return Feature(feature.name, feature.operation, place.apply(mirrored(feature.contour)))
