"""The round tip: a half circle as wide as the strap."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.parts.dimension import check_dimensions, dimension
from strapwright.parts.tips.tip import WIDTH_HIGH, WIDTH_LOW, WIDTH_REASON

if TYPE_CHECKING:
    from strapwright.parts.tips.tip import Vertices


@dataclass(frozen=True)
class Round:
    """A half circle.

    Source: common practice.

    Example:
        >>> Round(38).reach
        19.0
    """

    width: float = dimension(WIDTH_LOW, WIDTH_HIGH, WIDTH_REASON)

    def __post_init__(self) -> None:
        check_dimensions(self)

    @property
    def reach(self) -> float:
        """Half the width."""
        return self.width / 2

    def vertices(self) -> Vertices:
        """Return two quarter turns."""
        r, quarter = self.width / 2, math.tan(math.pi / 8)
        return [(-r, -r, quarter), (0.0, 0.0, quarter), (-r, r, 0.0)]
