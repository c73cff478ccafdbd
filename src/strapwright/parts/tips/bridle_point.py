"""The bridle point: a squared end, a little narrower than the strap, its corners nipped."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.core.errors import GeometryError, PartError
from strapwright.core.units import MM_PER_INCH
from strapwright.geometry.shapes import filleted
from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.tips.tip import WIDTH_HIGH, WIDTH_LOW, WIDTH_REASON

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour
    from strapwright.parts.tips.tip import Vertices

_INSET = MM_PER_INCH / 16
"""How far in from each edge the end stands: 1/16 in (common practice)."""

_SHOULDER_RADIUS = 40.0
"""Arc between edge and slope, mm, or the length where that is less: the slope is so slight that it only has
to be tangent."""


@dataclass(frozen=True)
class BridlePoint:
    """A squared end 1/16 in inside each edge, the slope as long as the strap is wide.

    Source: common practice of saddlers: in by 1/16 in, sloping back the width of the strap.

    Example:
        >>> BridlePoint(38.0).length
        38.0
    """

    width: float = dimension(WIDTH_LOW, WIDTH_HIGH, WIDTH_REASON)
    length: float = dimension(
        4.0, 300.0, "the slope runs back the width of the strap", usual=lambda tip: tip.width
    )
    corner_radius: float = dimension(
        0.5, 50.0, "the nipped corners; sharp ones curl", usual=lambda tip: tip.width / 8
    )

    def __post_init__(self) -> None:
        check_dimensions(self)
        most = (self.width - 2 * _INSET) / 2 * 0.9
        if self.corner_radius > most:
            raise PartError(
                f"corner_radius is {self.corner_radius:g} mm; a bridle point on a {self.width:g} mm strap "
                f"allows at most {most:.1f} mm"
            )
        try:
            self._run()
        except GeometryError as error:
            raise PartError(f"length is {self.length:g} mm: {error}") from error

    def _run(self) -> Contour:
        half, far, radius = self.width / 2, -2 * self.length, min(_SHOULDER_RADIUS, self.length)
        # The slope touches the shoulder's arc, which begins at -length, and runs to the end's corner.
        across = _INSET - radius
        slope = math.atan2(across, self.length) + math.asin(radius / math.hypot(self.length, across))
        shoulder = radius * math.tan(slope / 2) - self.length
        return filleted(
            [
                (far, -half),
                (shoulder, -half),
                (0.0, -half + _INSET),
                (0.0, half - _INSET),
                (shoulder, half),
                (far, half),
            ],
            [0.0, radius, self.corner_radius, self.corner_radius, radius, 0.0],
            closed=False,
        )

    @property
    def reach(self) -> float:
        """The length."""
        return self.length

    def vertices(self) -> Vertices:
        """Return shoulder arc, slope, corner, end, corner, slope, shoulder arc."""
        return [(x, y, bulge) for x, y, bulge in self._run().vertices[1:-1].tolist()]
