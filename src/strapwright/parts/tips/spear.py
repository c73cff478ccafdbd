"""The spear tip: straight sides that run to a rounded point."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Self

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
        >>> spear = Spear.for_width(40)
        >>> spear.length, spear.shoulder_radius
        (40, 30.0)
    """

    width: float = dimension(WIDTH_LOW, WIDTH_HIGH, WIDTH_REASON)
    length: float = dimension(4.0, 300.0, "where the shoulders begin, to the nose; shorter than W/2 is blunt")
    nose_radius: float = dimension(0.5, 50.0, "a finer point curls and frays")
    shoulder_radius: float = dimension(1.0, 400.0, "a sharp shoulder rubs", default=30.0)

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
        if self.shoulder_radius > self._most_shoulder():
            raise PartError(
                f"shoulder_radius is {self.shoulder_radius:g} mm; a spear tip {self.length:g} mm long on a "
                f"{self.width:g} mm strap allows at most {math.floor(self._most_shoulder() * 10) / 10:g} mm"
            )

    @classmethod
    def for_width(
        cls,
        width: float,
        *,
        length: float | None = None,
        nose_radius: float | None = None,
        shoulder_radius: float | None = None,
    ) -> Self:
        """Return the shape for a strap width: as long as wide, nose W/10, shoulders 0.75 W unless given.

        A short tip has smaller shoulders, so that straight sides are left between them and the nose.
        """
        long = width if length is None else length
        nose = max(width / 10, 0.5) if nose_radius is None else nose_radius
        if shoulder_radius is None:
            most = _most_shoulder(width, long, nose)
            shoulder_radius = 0.75 * min(width, most) if most > 0 else 0.75 * width
        return cls(width, long, nose, shoulder_radius)

    def _most_shoulder(self) -> float:
        """Return the shoulder radius that leaves no straight side."""
        return _most_shoulder(self.width, self.length, self.nose_radius)

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


def _most_shoulder(width: float, length: float, nose_radius: float) -> float:
    """Return the radius at which a shoulder's arc meets the nose's: an English point's side."""
    half, along = width / 2, length - nose_radius
    return (along**2 + half**2 - nose_radius**2) / (width - 2 * nose_radius)
