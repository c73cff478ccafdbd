"""A layout: which part lies where on which hide, what could not be placed and why."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from strapwright.core.errors import NestError
from strapwright.core.notebook import svg_of
from strapwright.core.units import beyond
from strapwright.geometry.contour import lazy
from strapwright.geometry.transform import turned
from strapwright.nesting.hide.types import Flaw, FlawKind

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats
    from strapwright.core.findings import Finding
    from strapwright.geometry.contour import Contour
    from strapwright.geometry.transform import Placement
    from strapwright.nesting.hide.types import Hide
    from strapwright.parts.part import Part


_SAME = 1e-7
"""Straps whose turns differ by less lie along one direction, radians."""


@dataclass(frozen=True)
class Clearance:
    """What is kept free round every part, in mm; none of it negative.

    Args:
        gap: between two finished parts; 2 mm lets a knife or a laser pass twice without leaving a
            thread of leather that tears.
        margin: to the hide's edge and to its flaws; 2 mm trims the raw edge away.
        kerf: width of the tool's cut; a gap may be no narrower, nor a margin than half of it.
        lead_in: room a drag knife wants beside a part to come to its cut; a gap may be no narrower.
        shared: whether parts may lie exactly one kerf apart instead, along a straight edge that is cut once;
            the nest lays straps so.

    Example:
        >>> Clearance(gap=0.1, margin=0, kerf=0.3).between
        0.3
    """

    gap: float = 2.0
    margin: float = 2.0
    kerf: float = 0.0
    lead_in: float = 0.0
    shared: bool = False

    def __post_init__(self) -> None:
        for name in ("gap", "margin", "kerf", "lead_in"):
            value = getattr(self, name)
            if not 0 <= value <= 1000:
                raise NestError(f"{name}: found {value:g} mm, expected 0 to 1000 mm")

    @property
    def between(self) -> float:
        """Least distance kept between the outlines of finished parts that share no edge, mm."""
        return max(self.gap, self.kerf, self.lead_in)

    @property
    def edge(self) -> float:
        """Distance kept from finished parts to the hide's edge and to flaws, mm."""
        return max(self.margin, self.kerf / 2)


@dataclass(frozen=True)
class PlacedPart:
    """One part on a hide.

    Args:
        part: the part.
        hide: the hide's name.
        placement: from the part's frame to the hide's.
    """

    part: Part
    hide: str
    placement: Placement

    @lazy
    def outline(self) -> Contour:
        """The part's outline where it lies on the hide."""
        return self.placement.apply(self.part.outline)


@dataclass(frozen=True)
class UnplacedPart:
    """One part that could not be placed, and why, in words."""

    part: Part
    reason: str


@dataclass(frozen=True, eq=False)
class AvoidedZone:
    """A zone of a hide kept clear for one layout alone; the hide file knows nothing of it.

    Args:
        hide: the hide's name.
        polygon: its outline, (N, 2) mm in the hide's frame, not repeated at the end, in either direction.
    """

    hide: str
    polygon: Floats


@dataclass(frozen=True)
class Layout:
    """Parts on hides.

    Args:
        hides: in the order they are to be used up.
        placed: in the order they were asked for.
        unplaced: in the order they were asked for.
        clearance: what was kept free.
        findings: what the nest noticed.
        seed: the random choices' seed.
        steps: of the search; where it went by steps, the same seed and steps give the same layout again.
        bound: an area the nest proved no layout of these parts on these hides can pass, mm²; None where
            the layout was read from a file.
        locked: ids of placed parts that a further nest leaves as they lie.
        worth: of the parts, where the nest sought other than area; None where it did not, or the layout was
            read from a file.
        avoided: zones kept clear for this layout alone, besides the hides' flaws.
    """

    hides: tuple[Hide, ...]
    placed: tuple[PlacedPart, ...]
    unplaced: tuple[UnplacedPart, ...]
    clearance: Clearance
    findings: tuple[Finding, ...]
    seed: int
    steps: int
    bound: float | None = None
    locked: tuple[str, ...] = ()
    worth: Worth | None = None
    avoided: tuple[AvoidedZone, ...] = ()

    def _repr_svg_(self) -> str | None:
        """Return its picture for a notebook."""
        return svg_of(self)

    def hide(self, name: str) -> Hide:
        """Return the hide of that name.

        Raises:
            NestError: there is none.
        """
        by_name = {hide.name: hide for hide in self.hides}
        if name not in by_name:
            raise NestError(f"no hide named {name}; there are: {', '.join(by_name)}")
        return by_name[name]

    def placed_on(self, name: str) -> tuple[PlacedPart, ...]:
        """Return the parts on one hide, by its name."""
        return tuple(placed for placed in self.placed if placed.hide == name)

    def avoided_on(self, name: str) -> tuple[AvoidedZone, ...]:
        """Return the zones of one hide kept clear for this layout alone, by the hide's name."""
        return tuple(zone for zone in self.avoided if zone.hide == name)

    def with_avoided(self, name: str) -> Hide:
        """Return a hide, by its name, in which what this layout keeps clear is a hole as well."""
        hide = self.hide(name)
        holes = (Flaw(FlawKind.HOLE, zone.polygon) for zone in self.avoided_on(name))
        return replace(hide, flaws=(*hide.flaws, *holes))

    def yield_of(self, *names: str) -> float:
        """Return which share of some hides' sound leather became parts: their area ÷ (hides − flaws).

        The leather a first cut took counts as its hide's.
        """
        hides = [self.hide(name) for name in names]
        sound = sum(hide.whole_area - hide.flaw_area for hide in hides)
        area = sum(placed.part.outline.area for name in names for placed in self.placed_on(name))
        return area / sound if sound > 0 else 0.0

    def direction_of(self, name: str) -> float:
        """Return the direction the straps on a hide lie along, radians.

        It is the hide's own, or theirs where all of them are turned off it by the same angle.
        """
        return direction_of(self.hide(name), self.placed_on(name))

    def used_height_of(self, name: str) -> float:
        """Return how far the parts reach across a hide, measured across the straps, mm.

        Measured from the parts' lowest point to their highest, square to the strap direction; 0 for a
        hide nothing lies on.
        """
        turn = -self.direction_of(name)
        boxes = [turned(placed.outline, turn).bounding_box for placed in self.placed_on(name)]
        return max(box[3] for box in boxes) - min(box[1] for box in boxes) if boxes else 0.0

    @property
    def asked(self) -> int:
        """How many parts were asked for."""
        return len(self.placed) + len(self.unplaced)

    @property
    def reasons(self) -> dict[str, list[str]]:
        """Why parts could not be placed, each with the ids it holds for, in the order they were asked for."""
        found: dict[str, list[str]] = {}
        for left in self.unplaced:
            found.setdefault(left.reason, []).append(left.part.id)
        return found

    @property
    def placed_area(self) -> float:
        """Area of all placed parts, mm²."""
        return sum(placed.part.outline.area for placed in self.placed)


def direction_of(hide: Hide, placed: Sequence[PlacedPart]) -> float:
    """Return the direction the straps on a hide lie along, radians.

    Args:
        hide: the hide.
        placed: what lies on it.

    Returns:
        The hide's strap direction, or that of the straps where all are turned off it by the same angle.
    """
    turns = [
        math.remainder(one.placement.turn - hide.strap_direction, math.pi)
        for one in placed
        if one.part.lies_along
    ]
    if turns and abs(turns[0]) > _SAME and max(turns) - min(turns) < _SAME:
        return hide.strap_direction + turns[0]
    return hide.strap_direction


@dataclass(frozen=True)
class Worth:
    """What parts are worth otherwise than by their area.

    Args:
        placed: of the parts that lie, in the unit the worths were given in.
        asked: of all parts asked for.
        bound: what no layout of these parts on these hides can pass.
    """

    placed: float
    asked: float
    bound: float

    @property
    def sentence(self) -> str:
        """How much better any layout could be, in one sentence."""
        share = self.placed / self.asked if self.asked else 0.0
        if self.bound <= self.placed * (1 + 1e-6):
            worth = f"{share:.1%} of the worth asked for"
            return f"{worth} is placed; no layout can place more, that is proven."
        most = self.bound / self.asked
        return (
            f"{beyond(share * 100, most * 100, 1)}% of the worth asked for is placed; at most "
            f"{beyond(most * 100, share * 100, 1)}% could be on these hides, probably less."
        )
