"""The spear tip: straight sides that run to a rounded point."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Self

from strapwright.errors import PartError
from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.tips.tip import WIDTH_HIGH, WIDTH_LOW, WIDTH_REASON

if TYPE_CHECKING:
    from strapwright.parts.tips.tip import Vertices


@dataclass(frozen=True)
class Spear:
    """Straight sides tangent to a nose arc, their shoulders radiused.

    Source: common practice.

    Example:
        >>> round(Spear.for_width(40).reach, 2)
        46.23
    """

    width: float = dimension(WIDTH_LOW, WIDTH_HIGH, WIDTH_REASON)
    length: float = dimension(4.0, 300.0, "from the shoulders' corner; shorter than W/2 is blunt")
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
        side = self._side_length()
        if self._shoulder() > side:
            most = self.shoulder_radius * side / self._shoulder()
            raise PartError(
                f"shoulder_radius is {self.shoulder_radius:g} mm; the sides are {side:.1f} mm long "
                f"and allow at most {math.floor(most * 10) / 10:g} mm"
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
        """Return the shape for a strap width: as long as wide, nose W/10, shoulders 0.75 W unless given."""
        return cls(
            width,
            width if length is None else length,
            max(width / 10, 0.5) if nose_radius is None else nose_radius,
            0.75 * width if shoulder_radius is None else shoulder_radius,
        )

    def _slope(self) -> float:
        """Return the angle of the sides to the strap: tangent from the shoulder's corner to the nose."""
        along, half = self.length - self.nose_radius, self.width / 2
        return math.atan2(half, along) - math.asin(self.nose_radius / math.hypot(along, half))

    def _side_length(self) -> float:
        """Return the length of the sharp-shouldered side, corner to nose arc."""
        along, half = self.length - self.nose_radius, self.width / 2
        return math.sqrt(along**2 + half**2 - self.nose_radius**2)

    def _shoulder(self) -> float:
        """Return how much of edge and side the shoulder's arc takes."""
        return self.shoulder_radius * math.tan(self._slope() / 2)

    @property
    def reach(self) -> float:
        """The length and what the shoulder's arc takes of the edge."""
        return self.length + self._shoulder()

    def vertices(self) -> Vertices:
        """Return shoulder arc, side, nose arc, side, shoulder arc."""
        half, n, slope, take = self.width / 2, self.nose_radius, self._slope(), self._shoulder()
        bulge = math.tan(slope / 4)
        side_x, side_y = -self.length + take * math.cos(slope), -half + take * math.sin(slope)
        nose_x, nose_y = -n + n * math.sin(slope), -n * math.cos(slope)
        return [
            (-self.length - take, -half, bulge),
            (side_x, side_y, 0.0),
            (nose_x, nose_y, math.tan((math.pi - 2 * slope) / 4)),
            (nose_x, -nose_y, 0.0),
            (side_x, -side_y, bulge),
            (-self.length - take, half, 0.0),
        ]
