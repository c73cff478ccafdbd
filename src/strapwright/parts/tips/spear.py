"""The spear tip: straight sides that run to a rounded point."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.core.errors import PartError
from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.tips.tip import WIDTH_HIGH, WIDTH_LOW, WIDTH_REASON, without_short_sides

if TYPE_CHECKING:
    from strapwright.parts.tips.tip import Vertices


@dataclass(frozen=True)
class Spear:
    """Straight sides tangent to a nose arc and to the arcs of the shoulders.

    With W the width, L the length, n the nose radius and R the shoulder radius, the nose circle has its
    centre at (−n, 0), a shoulder circle at (−L, R − W/2); a side is their outer tangent.

    Source: common practice for the shape; the sides from the tangents of two circles.

    Example:
        >>> spear = Spear(40)
        >>> spear.length, spear.shoulder_radius
        (40, 30.0)
    """

    width: float = dimension(WIDTH_LOW, WIDTH_HIGH, WIDTH_REASON)
    length: float = dimension(
        4.0,
        300.0,
        "where the shoulders begin, to the nose; shorter than W/2 is blunt",
        usual=lambda tip: tip.width,
    )
    nose_radius: float = dimension(
        0.5, 50.0, "a finer point curls and frays", usual=lambda tip: max(tip.width / 10, 0.5)
    )
    shoulder_radius: float = dimension(
        1.0, 400.0, "a sharp shoulder rubs", usual=lambda tip: tip.usual_shoulder
    )

    def __post_init__(self) -> None:
        check_dimensions(self)
        if self.nose_radius > 0.4 * self.width:
            raise PartError(
                f"nose_radius is {self.nose_radius:g} mm; a {self.width:g} mm strap allows at most "
                f"{0.4 * self.width:g} mm (take the round tip instead)"
            )
        if self.length < self.width / 2:
            raise PartError(
                f"length is {self.length:g} mm; a spear tip on a {self.width:g} mm strap needs at least "
                f"{self.width / 2:g} mm"
            )
        if self.shoulder_radius > self.most_shoulder:
            raise PartError(
                f"shoulder_radius is {self.shoulder_radius:g} mm; a spear tip {self.length:g} mm long on a "
                f"{self.width:g} mm strap allows at most {math.floor(self.most_shoulder * 10) / 10:g} mm"
            )

    @property
    def most_shoulder(self) -> float:
        """The shoulder radius that leaves no straight side, mm: there its arc meets the nose's."""
        half, along, nose = self.width / 2, self.length - self.nose_radius, self.nose_radius
        return (along**2 + half**2 - nose**2) / (self.width - 2 * nose)

    @property
    def usual_shoulder(self) -> float:
        """The usual shoulder radius, mm: 0.75 W, less where a short tip would have no straight sides left."""
        most = self.most_shoulder
        return 0.75 * min(self.width, most) if most > 0 else 0.75 * self.width

    @property
    def reach(self) -> float:
        """The length."""
        return self.length

    def vertices(self) -> Vertices:
        """Return shoulder arc, side, nose arc, side, shoulder arc."""
        half, n, r = self.width / 2, self.nose_radius, self.shoulder_radius
        along, across = self.length - n, half - r
        slope = math.atan2(across, along) + math.asin((r - n) / math.hypot(along, across))
        bulge = math.tan(slope / 4)
        side_x, side_y = -self.length + r * math.sin(slope), -half + r * (1 - math.cos(slope))
        nose_x, nose_y = -n + n * math.sin(slope), -n * math.cos(slope)
        return without_short_sides(
            [
                (-self.length, -half, bulge),
                (side_x, side_y, 0.0),
                (nose_x, nose_y, math.tan((math.pi - 2 * slope) / 4)),
                (nose_x, -nose_y, 0.0),
                (side_x, -side_y, bulge),
                (-self.length, half, 0.0),
            ]
        )
