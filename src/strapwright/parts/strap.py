"""A strap of any kind: two ends, rows of holes and what is done along it, checked for soundness; its lining.

A belt is a strap with a buckle's turned end, a tip and a row of adjusting holes; a bag strap has two rings'.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import GeometryError, PartError
from strapwright.geometry.offset import offset
from strapwright.geometry.shapes import chain
from strapwright.geometry.transform import Placement, mirrored
from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.end import PlacedEnd, TurnedEnd
from strapwright.parts.hole_row import LEAST_WALL, check_walls, row_discs
from strapwright.parts.part import Feature, Operation
from strapwright.parts.tips.square import Square

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour
    from strapwright.parts.end import End
    from strapwright.parts.hole_row import HoleRow
    from strapwright.parts.part import Runs
    from strapwright.parts.tips.tip import Tip


CLEAR: Final = 2.0
"""Kept between two turn-backs that meet under one strap, and before a tip, mm."""


def strip_outline(rear_x: float, rear: Tip, front_x: float, front: Tip) -> Contour:
    """Return the outline between two ends of one width.

    Args:
        rear_x: x of the rear end's outermost point, mm.
        rear: its shape; it is turned round to face −x.
        front_x: x of the front end's foremost point, mm.
        front: its shape.

    Returns:
        Closed, counter-clockwise.

    Raises:
        PartError: the two ends run into each other.

    Example:
        >>> from strapwright.parts.tips.square import Square
        >>> end = Square(40.0, 5.0)
        >>> round(strip_outline(0.0, end, 100.0, end).area, 6)
        3978.539816
    """
    if front_x - front.reach < rear_x + rear.reach:
        raise PartError(
            f"the strip is {front_x - rear_x:.1f} mm long; its ends alone take "
            f"{front.reach + rear.reach:.1f} mm: a longer belt is needed"
        )
    return chain(
        [
            *((front_x + x, y, bulge) for x, y, bulge in front.vertices()),
            *((rear_x - x, -y, bulge) for x, y, bulge in rear.vertices()),
        ]
    )


@dataclass(frozen=True, kw_only=True)
class Strap:
    """A strap from its first end at x = 0 to its second end at x = span.

    An end's place is its fold line where it is turned, the foremost point of its tip where it is not. The
    second end is the first one's arrangement mirrored.

    Args:
        width: mm.
        span: from end to end, mm.
        ends: the first and the second end, each drawn as at x = 0.
        hole_rows: rows of holes between them; of a belt, one of adjusting holes.
        crease: distance of a crease line from the edge, mm; 0 for none.
        drawn: openings and ornaments of the user's own drawing, in their place.
        marks: lettering scored on the turn-back, placed clear of everything else.

    Raises:
        PartError: numbers that make no sound strap: the field, the value and what is allowed.

    Example:
        >>> from strapwright.parts.end import CutEnd
        >>> from strapwright.parts.tips.square import Square
        >>> tip = CutEnd(Square(20.0, 3.0))
        >>> Strap(width=20.0, span=300.0, ends=(tip, tip)).outline.bounding_box
        (0.0, -10.0, 300.0, 10.0)
    """

    width: float = dimension(8.0, 120.0, "narrower does not hold a hole, wider is no strap")
    span: float = dimension(20.0, 6000.0, "a strap of this trade is shorter than 6 m")
    ends: tuple[End, End]
    hole_rows: tuple[HoleRow, ...] = ()
    crease: float = dimension(0.0, 20.0, "a crease runs close to the edge", default=0.0)
    drawn: tuple[Feature, ...] = ()
    marks: tuple[Feature, ...] = ()

    def __post_init__(self) -> None:
        check_dimensions(self)
        for end in self.ends:
            end.check(self.width)
        if self.ends[0].closes:
            self._check_adjusting_holes(self.buckle_end, self.holes)
        else:
            self._check_room()
        first, second = self.ends
        discs = first.discs(self.width)
        discs += [(self.span - x, y, d, name) for x, y, d, name in second.discs(self.width)]
        for row in self.hole_rows:
            discs += row_discs(row)
        straight = (
            -math.inf if first.turned else first.reach,
            math.inf if second.turned else self.span - second.reach,
        )
        check_walls(self.outline, discs, straight)

    def _check_adjusting_holes(self, end: TurnedEnd, row: HoleRow) -> None:
        sewn = end.stitching.hole / 2 if end.stitching else 0.0
        gap = row.xs[0] - row.reach / 2 - max((end.reaches, *(x + sewn for x in end.stitches)))
        if gap < LEAST_WALL:
            raise PartError(
                f"the first adjusting hole is at {row.xs[0]:.1f} mm from the fold, into the buckle end; "
                f"allowed is {row.xs[0] - gap + LEAST_WALL:.1f} mm or more: fewer holes, or a longer belt"
            )

    def _check_room(self) -> None:
        first, second = self.ends
        least = first.reach + second.reach + CLEAR
        if self.span < least:
            raise PartError(
                f"the strap is {self.span:.1f} mm from end to end; allowed are {least:.1f} mm "
                "or more, so that what is folded back and the tips do not run into each other: a longer "
                "strap, or one row of fasteners"
            )
        low = first.reach if first.turned else 0.0
        high = self.span - (second.reach if second.turned else 0.0)
        for x in (x for row in self.hole_rows for x in (row.xs[0], row.xs[-1])):
            if not low <= x <= high:
                raise PartError(
                    f"a hole is at {x:.1f} mm, over a turned end or beyond the strap; allowed is "
                    f"{low:.1f} to {high:.1f} mm: fewer holes, a smaller spacing, or a longer strap"
                )

    @property
    def turned(self) -> tuple[PlacedEnd, ...]:
        """Its turned ends, each in its place."""
        ends = enumerate(zip(self.ends, (0.0, self.span), strict=True))
        return tuple(PlacedEnd(place, end, x) for place, (end, x) in ends if isinstance(end, TurnedEnd))

    @property
    def plain(self) -> tuple[float, float]:
        """The x from which on, and up to which, nothing is made in it but its crease, mm; none if it crosses.

        A row of holes, or a drawn opening, counts to the end it is nearer to; adjusting holes to the tip.
        """
        first, second = self.ends
        low, high = first.reach, self.span - second.reach
        for row in self.hole_rows:
            near, far = row.xs[0] - row.reach / 2, row.xs[-1] + row.reach / 2
            if first.closes or near >= self.span - far:
                high = min(high, near)
            else:
                low = max(low, far)
        for feature in self.drawn:
            near, _, far, _ = feature.contour.bounding_box
            if near >= self.span - far:
                high = min(high, near)
            else:
                low = max(low, far)
        return low, high

    @property
    def openings(self) -> tuple[Feature, ...]:
        """What is cut or punched through it of the user's own drawing."""
        return tuple(one for one in self.drawn if one.operation is not Operation.SCORE)

    @property
    def buckle_end(self) -> TurnedEnd:
        """The first of its turned ends: a belt's at the buckle."""
        return self.turned[0].end

    @property
    def holes(self) -> HoleRow:
        """The first of its rows of holes: a belt's adjusting holes."""
        return self.hole_rows[0]

    @property
    def tip(self) -> Tip:
        """The shape of its second end."""
        return self.ends[1].shape(self.width)

    @property
    def rear(self) -> float:
        """Lowest x of the blank, mm."""
        return 0.0 - self.ends[0].beyond

    @property
    def front(self) -> float:
        """Highest x of the blank, mm."""
        return self.span + self.ends[1].beyond

    @cached_property
    def outline(self) -> Contour:
        """The outline, closed and counter-clockwise."""
        first, second = (end.shape(self.width) for end in self.ends)
        return strip_outline(self.rear, first, self.front, second)

    @property
    def hidden(self) -> Runs:
        """Runs of x nobody sees when it is made up, mm: the turn-backs beyond their folds."""
        first, second = self.ends
        return (*first.hidden, *((self.span - high, self.span - low) for low, high in second.hidden))

    @property
    def loaded(self) -> Runs:
        """Runs of x that are pulled on, mm: from one end's last fastener, or its tip, to the other's.

        Where it closes into its first end, to a pitch past the last of its holes.
        """
        first, second = self.ends
        row = self.holes if first.closes else None
        return ((first.pulled_from, row.xs[-1] + row.spacing if row else self.span - second.pulled_from),)

    def features(self) -> tuple[Feature, ...]:
        """Return everything made in the strap besides its outline."""
        first, second = (end.features(self.width) for end in self.ends)
        found = first + tuple(self._at_the_far_end(one) for one in second)
        for row in self.hole_rows:
            found += row.features()
        if self.crease:
            try:
                line = offset(self.outline, -self.crease, name="the crease line")
            except GeometryError as error:
                raise PartError(f"crease is {self.crease:g} mm: {error}") from error
            found += (Feature("crease line", Operation.SCORE, line),)
        return found + self.drawn + self.marks

    def _at_the_far_end(self, feature: Feature) -> Feature:
        """Return a feature mirrored to the second end: x becomes span − x."""
        place = Placement(math.pi, self.span, 0.0)
        return Feature(feature.name, feature.operation, place.apply(mirrored(feature.contour)))


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
