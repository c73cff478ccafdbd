"""What every tip shape offers."""

from __future__ import annotations

from typing import Protocol

Vertices = list[tuple[float, float, float]]

WIDTH_LOW, WIDTH_HIGH = 8.0, 120.0
WIDTH_REASON = "narrower does not hold a hole, wider is no strap"


class Tip(Protocol):
    """A tip shape of one width: the end of the strap that goes through the buckle.

    Drawn with its foremost point at x = 0 and the strap coming from x < 0.
    """

    @property
    def width(self) -> float:
        """Width of the strap, mm."""
        ...

    @property
    def reach(self) -> float:
        """Distance from the foremost point back to where the straight edges begin, mm."""
        ...

    def vertices(self) -> Vertices:
        """Return ``(x, y, bulge)`` from the lower edge round the point to the upper edge.

        The first vertex lies at (−reach, −width/2), the last at (−reach, +width/2) with bulge 0.
        """
        ...
