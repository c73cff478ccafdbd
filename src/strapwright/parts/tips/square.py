"""The square tip: a straight end with radiused corners."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.core.errors import PartError
from strapwright.core.tolerances import SHORTEST_SEGMENT
from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.tips.tip import WIDTH_HIGH, WIDTH_LOW, WIDTH_REASON

if TYPE_CHECKING:
    from strapwright.parts.tips.tip import Vertices


@dataclass(frozen=True)
class Square:
    """A straight end whose corners are radiused, so that they neither catch nor curl.

    Source: common practice.

    Example:
        >>> Square(40).corner_radius
        6.0
    """

    width: float = dimension(WIDTH_LOW, WIDTH_HIGH, WIDTH_REASON)
    corner_radius: float = dimension(
        0.5, 60.0, "a sharp corner catches and curls", usual=lambda tip: 0.15 * tip.width
    )

    def __post_init__(self) -> None:
        check_dimensions(self)
        if self.corner_radius > self.width / 2:
            raise PartError(
                f"corner_radius is {self.corner_radius:g} mm; a square tip on a {self.width:g} mm strap "
                f"allows at most {self.width / 2:g} mm (take the round tip instead)"
            )

    @property
    def reach(self) -> float:
        """The corner radius."""
        return self.corner_radius

    def vertices(self) -> Vertices:
        """Return two quarter turns and the straight between them."""
        r, half, quarter = self.corner_radius, self.width / 2, math.tan(math.pi / 8)
        straight = [(0.0, half - r, quarter)] if half - r > SHORTEST_SEGMENT else []
        return [
            (-r, -half, quarter),
            (0.0, -half + r, 0.0 if straight else quarter),
            *straight,
            (-r, half, 0.0),
        ]
