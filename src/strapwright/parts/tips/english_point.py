"""The English point: two long curves that meet in a small rounded nose."""

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
class EnglishPoint:
    """Two arcs tangent to the edges, joined by a nose arc tangent to both.

    With W the width, L the length and n the nose radius, the side arcs' radius R puts the nose circle
    inside them: (L − n)² + (R − W/2)² = (R − n)², so R = ((L − n)² + W²/4 − n²) / (W − 2 n).

    Source: common practice for the shape; the arcs from the two tangencies.

    Example:
        >>> point = EnglishPoint(38.0)
        >>> point.length, point.nose_radius
        (38.0, 3.0)
    """

    width: float = dimension(WIDTH_LOW, WIDTH_HIGH, WIDTH_REASON)
    length: float = dimension(
        4.0, 300.0, "one strap width looks right; shorter than half is blunt", usual=lambda tip: tip.width
    )
    nose_radius: float = dimension(
        0.5, 50.0, "a finer point curls and frays", usual=lambda tip: min(3.0, tip.width / 8)
    )

    def __post_init__(self) -> None:
        check_dimensions(self)
        if self.length < self.width / 2 * (1 + 1e-9):
            raise PartError(
                f"length is {self.length:g} mm; an English point on a {self.width:g} mm strap needs "
                f"more than {self.width / 2:g} mm (take the round tip instead)"
            )
        if self.nose_radius > 0.45 * self.width:
            raise PartError(
                f"nose_radius is {self.nose_radius:g} mm; a {self.width:g} mm strap allows at most "
                f"{0.45 * self.width:g} mm (take the round tip instead)"
            )

    @property
    def reach(self) -> float:
        """The length."""
        return self.length

    def vertices(self) -> Vertices:
        """Return side arc, nose arc, side arc."""
        half, n, span = self.width / 2, self.nose_radius, self.length - self.nose_radius
        side = (span**2 + half**2 - n**2) / (self.width - 2 * n)
        # The side arc ends where its radius runs through the nose's centre.
        turn = math.atan2(span, side - half)
        x, y = -n + n * math.sin(turn), -n * math.cos(turn)
        bulge = math.tan(turn / 4)
        return without_short_sides(
            [
                (-self.length, -half, bulge),
                (x, y, math.tan((math.pi - 2 * turn) / 4)),
                (x, -y, bulge),
                (-self.length, half, 0.0),
            ]
        )
