"""Closed shapes gathered from a drawing, and what every reader of drawings checks of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.findings import Finding, Severity
from strapwright.core.units import beyond
from strapwright.files.read import refused
from strapwright.nesting.hide.outline_check import LARGEST_EXTENT
from strapwright.nesting.hide.types import OTHER_HOLE, FlawKind

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats
    from strapwright.geometry.polygon import Side


_LISTED: Final = 6
"""So many of the things left out are named; the rest are counted."""

SHOWN: Final = ("outline", *FlawKind)
"""What layers or groups are named, as messages list it."""

NAMES: Final = (*SHOWN, OTHER_HOLE)
"""Layers of a DXF drawing, or groups of an SVG drawing, that say what a shape is."""


LEFT_OUT: Final = "notes"
"""The layer or group for everything that is neither outline nor flaw."""


JOIN: Final = 0.1
"""Ends of lines and arcs that lie nearer than this are joined, mm."""


CURVE_CHORD: Final = 2e-3
"""Curves become chords with corners on the curve that stray by at most this, mm."""


FARTHEST: Final = 1e6
"""Shapes further than this from the drawing's origin are a slip of units, mm."""


MOST_CORNERS: Final = 2_000_000
"""A drawing whose curves need more corners than this is refused: it would take the machine's memory."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """One closed shape of a drawing.

    Args:
        name: its layer or group, as written.
        corners: (N, 2) mm, on the shape's own edge, the first not repeated.
        curved: whether chords stand for curves among them.
    """

    name: str
    corners: Floats
    curved: bool

    def polygon(self, side: Side) -> Floats:
        """Return its corners, (N, 2) mm, moved inward or outward by what its chords may stray."""
        import shapely

        if not self.curved:
            return self.corners
        shape = shapely.Polygon(self.corners)
        if not shape.is_valid:
            return self.corners  # where it crosses itself it has no such side; the crossing is reported later
        given = CURVE_CHORD if side == "outward" else -CURVE_CHORD
        moved = shape.buffer(given, join_style="mitre")
        if moved.geom_type != "Polygon" or moved.is_empty:
            return self.corners
        corners: Floats = shapely.get_coordinates(moved.exterior)[:-1]
        return corners


class Gathered:
    """What a reader finds in a drawing: shapes, what it leaves out, and every mistake."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.shapes: list[Drawn] = []
        self.problems: list[str] = []
        self.not_shown: list[str] = []
        """Shapes the drawing holds but does not show, in words."""
        self.no_shapes: list[str] = []
        """What bounds nothing, outside the groups that say what a shape is, in words."""
        self._corners = 0

    def problem(self, where: str, text: str) -> None:
        """Note a mistake."""
        self.problems.append(f"{self.source}: {where}: {text}")

    def room_for(self, corners: int) -> None:
        """Count corners before they are made.

        Raises:
            FileProblems: there are so many of them that the drawing is refused.
        """
        self._corners += corners
        if self._corners > MOST_CORNERS:
            raise refused(
                self.source,
                f"its curves need more than {MOST_CORNERS:,} corners to within {CURVE_CHORD:g} mm; are the "
                "units right? (or draw it with fewer curves)",
            )

    def findings(self, subject: str) -> tuple[Finding, ...]:
        """Return a finding for what is not shown and one for what is no shape, if there is any."""
        kinds = (
            ("drawing-not-shown", Severity.CAUTION, self.not_shown, "the drawing does not show it",
             "If it is a flaw, show it in the drawing and save again."),
            ("drawing-left-out", Severity.NOTE, self.no_shapes, "it is not a closed shape",
             f'If it is a flaw, draw a closed line round it; mere notes go into "{LEFT_OUT}".'),
        )  # fmt: skip
        return tuple(
            Finding(
                code,
                severity,
                f"Left out, because {why}: {listed(words)}.",
                do,
                subject=subject,
                numbers={"left_out": float(len(words))},
            )
            for code, severity, words, why, do in kinds
            if words
        )


def plain_name(name: str) -> str:
    """Return a layer's or group's name as names are compared: without case or blanks round it."""
    return name.casefold().strip()


def check_size(points: Floats) -> None:
    """Refuse what is too large for leather before it is flattened.

    Args:
        points: whatever bounds a shape from outside, (N, 2) mm: corners, control points.

    Raises:
        ValueError: not numbers, larger than any hide, or too far from the origin.
    """
    if not np.isfinite(points).all():
        raise ValueError("it has a coordinate that is not a number, or too large for one")
    farthest = float(np.max(np.abs(points), initial=0.0))
    if farthest > FARTHEST:
        raise ValueError(
            f"it reaches {metres_beyond(farthest, FARTHEST)} m from the drawing's origin, expected at most "
            f"{FARTHEST / 1000:g} m; are the units right?"
        )
    extent = float(np.max(np.ptp(points, axis=0))) if len(points) else 0.0
    if extent > LARGEST_EXTENT:
        raise ValueError(
            f"it is {metres_beyond(extent, LARGEST_EXTENT)} m from side to side, expected at most "
            f"{LARGEST_EXTENT / 1000:g} m; are the units right?"
        )


def metres_beyond(value: float, limit: float) -> str:
    """Return a length in metres that has passed a limit, both in mm, without a row of needless digits.

    Example:
        >>> metres_beyond(10_000.4, 10_000), metres_beyond(1e12, 10_000)
        ('10.0004', '1e+09')
    """
    return f"{value / 1000:.3g}" if value > 10 * limit else beyond(value / 1000, limit / 1000, 1)


def listed(words: Sequence[str]) -> str:
    """Return things in words, equal ones counted.

    Example:
        >>> listed(["a TEXT", "a POINT", "a TEXT"])
        'a TEXT (2 times), a POINT'
    """
    counts = {word: words.count(word) for word in dict.fromkeys(words[:1000])}
    named = [word if count == 1 else f"{word} ({count} times)" for word, count in counts.items()]
    more = len(words) - sum(list(counts.values())[:_LISTED])
    return ", ".join(named[:_LISTED]) + (f" and {more} more" if more > 0 else "")
