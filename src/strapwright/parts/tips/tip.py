"""What every tip shape offers."""

from __future__ import annotations

import math
from typing import Final, Protocol

Vertices = list[tuple[float, float, float]]

WIDTH_LOW, WIDTH_HIGH = 8.0, 120.0
WIDTH_REASON = "narrower does not hold a hole, wider is no strap"

_SHORTEST: Final = 1e-5
"""A side or an arc of a tip shorter than this is none, mm: two curves meet there."""


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


def without_short_sides(vertices: Vertices) -> Vertices:
    """Return vertices without sides too short to be drawn: the two ends of such a side become one point.

    Example:
        >>> without_short_sides([(-4.0, -4.0, 0.4), (0.0, -1e-9, 0.1), (0.0, 1e-9, 0.4), (-4.0, 4.0, 0.0)])
        [(-4.0, -4.0, 0.4), (0.0, 0.0, 0.4), (-4.0, 4.0, 0.0)]
    """
    kept = [vertices[0]]
    for x, y, bulge in vertices[1:]:
        x0, y0, _ = kept[-1]
        if math.hypot(x - x0, y - y0) < _SHORTEST:
            kept[-1] = ((x0 + x) / 2, (y0 + y) / 2, bulge)
        else:
            kept.append((x, y, bulge))
    return kept
