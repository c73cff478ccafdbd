"""Shapes gathered from a drawing, what every reader checks of them, and open lines joined end to end."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.tolerances import DRAWN_CURVE
from strapwright.core.units import MM_PER_INCH, beyond
from strapwright.files.read import refused
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats, Ints
    from strapwright.geometry.polygon import Side

SUFFIXES: Final = (".dxf", ".svg")
"""Endings of the drawings that are read."""

UNITS: Final = {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH}
"""What a DXF drawing's unit may be said to be, in mm, where the drawing does not say it."""

LIMIT_MB: Final = 20.0
"""Largest drawing read, MB: an outline by hand or camera takes well under one."""

_TOLD: Final = 3
"""So many of the places where too many lines meet are named."""

_LISTED: Final = 6
"""So many of the things left out are named; the rest are counted."""

LARGEST_EXTENT: Final = 10_000.0
"""A hide longer than 10 m is a slip of units, mm: the greatest whole hides reach 4 m."""

SAME: Final = 1e-6
"""Corners that follow each other nearer than this are one, mm: figures of a file differ by rounding."""

LEFT_OUT: Final = "notes"
"""The layer or group for everything that is not to be read."""

CURVE_CHORD: Final = 2e-3
"""Where curves become chords, their corners lie on the curve and they stray by at most this, mm."""

FARTHEST: Final = 1e6
"""Shapes further than this from the drawing's origin are a slip of units, mm."""

MOST_CORNERS: Final = 2_000_000
"""A drawing whose curves need more corners than this is refused: it would take the machine's memory."""


@dataclass(frozen=True)
class Wanted:
    """What is looked for in a drawing.

    Args:
        names: of the layers or groups that say what a shape is.
        instead: what to do about what bounds nothing on one of them, in words.
        exact: whether lines and arcs are kept, curves become tangent arcs, and open lines are shapes too;
            otherwise all become closed runs of chords.
        join: ends of lines and arcs that lie nearer than this are joined, mm.
    """

    names: tuple[str, ...]
    instead: str
    exact: bool = False
    join: float = 0.1

    def known(self, name: str) -> str:
        """Return which of the names a layer, group or id bears; empty for none.

        In an exact drawing a name may go on after it, for an id must be the only one: ``cut-2``, ``Score 1``.
        """
        plain = plain_name(name)
        if plain in self.names or not self.exact:
            return plain if plain in self.names else ""
        first = re.split(r"[^a-z]", plain, maxsplit=1)[0]
        return first if first in self.names else ""


HAND_DRAWN: Final = Wanted(
    ("cut", "score", "punch"), "convert it to paths, or redraw it as lines", exact=True, join=DRAWN_CURVE
)
"""What is looked for in a drawing of a part, or of what is made in one."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """One shape of a drawing, or a line of it that may be joined with others.

    Args:
        name: its layer or group, as written.
        vertices: (N, 3) as of a contour, on the shape's own edge; of a closed one the first is not repeated.
        curved: whether chords stand for curves among them.
        closed: whether it is closed.
        where: what to call it in a message: its element and id, or its layer.
    """

    name: str
    vertices: Floats
    curved: bool
    closed: bool = True
    where: str = ""

    @property
    def corners(self) -> Floats:
        """Its corners, (N, 2) mm."""
        return self.vertices[:, :2]

    @property
    def contour(self) -> Contour:
        """It as a contour."""
        return Contour(self.vertices, self.closed)

    def backwards(self) -> Floats:
        """Return the vertices of an open line the other way round."""
        bulges = np.append(-self.vertices[-2::-1, 2], 0.0)
        found: Floats = np.column_stack([self.corners[::-1], bulges])
        return found

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

    def __init__(self, source: str, wanted: Wanted) -> None:
        self.source = source
        self.wanted = wanted
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


def place(point: Floats) -> str:
    """Return a point in words."""
    x, y = (0.0 + round(float(value), 1) for value in point)
    return f"({x:g}, {y:g}) mm"


def without_repeats(points: Floats, nearer: float = SAME) -> Floats:
    """Return corners without those that the next one repeats, the first after the last; (N, 2) or (N, 3)."""
    xy = points[:, :2]
    kept: Floats = points[np.hypot(*(np.roll(xy, -1, axis=0) - xy).T) > nearer]
    return kept


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


def joined(runs: Sequence[Drawn], near: float) -> tuple[list[Drawn], list[str], list[str], list[Drawn]]:
    """Join open runs end to end into closed ones.

    Ends at the same point are joined; then each loose end with the loose end nearest to it, where that is
    near. Where more than two ends meet at a point it is not guessed which belong together.

    Args:
        runs: of one layer, closed and open.
        near: how far two ends may lie apart, mm.

    Returns:
        The closed ones; a sentence for every place where they cannot be joined; one for each that stays open;
        and those that do.
    """
    closed = [run for run in runs if run.closed]
    left = [run for run in runs if not run.closed]
    if not left:
        return closed, [], [], []
    ends = np.array([point for run in left for point in (run.corners[0], run.corners[-1])])
    mate, faults = _mates(ends, near)
    if faults:
        return closed, faults, [], left
    open_ends: list[str] = []
    still_open: list[Drawn] = []
    seen = np.zeros(len(left), dtype=bool)
    for first in [*(np.flatnonzero(mate < 0)).tolist(), *range(0, len(ends), 2)]:
        if seen[first // 2]:
            continue
        row, pieces, end = [], [], first  # the end by which a run is entered, a loose one or any on a ring
        while end >= 0 and not seen[end // 2]:
            seen[end // 2] = True
            row.append(run := left[end // 2])
            pieces.append(run.backwards() if end % 2 else run.vertices)
            end = int(mate[end ^ 1])
        points = _in_a_row(pieces)
        made = replace(row[0], vertices=points, curved=any(run.curved for run in row))
        if end < 0:
            (x0, y0), (x1, y1) = points[0, :2], points[-1, :2]
            still_open.append(made)
            open_ends.append(
                f"an open line from ({x0:.1f}, {y0:.1f}) to ({x1:.1f}, {y1:.1f}) mm, expected closed "
                f"shapes; join its ends (gaps under {near:g} mm are joined for you)"
            )
            continue
        points = without_repeats(points[:-1])
        if len(points) < 3 and not points[:, 2].any():
            faults.append(f"lines that close to nothing at {place(ends[first])}; is a line drawn twice?")
        else:
            closed.append(replace(made, vertices=points, closed=True))
    return closed, faults, open_ends, still_open


def _in_a_row(pieces: Sequence[Floats]) -> Floats:
    """Return open pieces as one, each begun where the one before it ends."""
    corners = np.vstack([pieces[0][:1, :2], *(piece[1:, :2] for piece in pieces)])
    bulges = np.concatenate([*(piece[:-1, 2] for piece in pieces), [0.0]])
    found: Floats = np.column_stack([corners, bulges])
    return found


def _mates(ends: Floats, near: float) -> tuple[Ints, list[str]]:
    """Return for each end the one it is joined with, -1 where it is loose; and where too many meet."""
    import shapely

    mate = np.full(len(ends), -1)
    points = shapely.points(ends)
    _, spot, count = np.unique(np.round(ends / SAME), axis=0, return_inverse=True, return_counts=True)
    crowded = np.flatnonzero(count > 2)
    if len(crowded):
        firsts = ", ".join(place(ends[np.flatnonzero(spot == one)[0]]) for one in crowded[:_TOLD])
        more = f" and {len(crowded) - _TOLD} places more" if len(crowded) > _TOLD else ""
        fault = (
            f"more than two ends of lines meet at {firsts}{more}; draw each shape as a closed polyline, or "
            "take out what is drawn twice"
        )
        return mate, [fault]
    order = np.argsort(spot, kind="stable")
    pairs = order[np.flatnonzero(np.diff(spot[order]) == 0)[:, None] + [0, 1]]
    mate[pairs[:, 0]], mate[pairs[:, 1]] = pairs[:, 1], pairs[:, 0]
    while True:
        loose = np.flatnonzero(mate < 0)
        if len(loose) < 2:
            return mate, []
        tree = shapely.STRtree(points[loose])
        one, other = tree.query_nearest(points[loose], max_distance=near, exclusive=True, all_matches=False)
        nearest = np.full(len(loose), -1)
        nearest[one] = other
        mutual = [k for k in one if nearest[nearest[k]] == k]
        if not mutual:
            return mate, []
        mate[loose[mutual]] = loose[nearest[mutual]]
