"""Open runs of a drawing joined end to end into closed ones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.drawings.gathered import SAME, place, without_repeats

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats, Ints


@dataclass(frozen=True, eq=False)
class Run:
    """One entity or path of a drawing.

    Args:
        vertices: (N, 3) as of a contour, mm, the first not repeated where it is closed.
        closed: whether the last is joined to the first.
        curved: whether chords stand for curves among them.
        where: what to call it in a message.
    """

    vertices: Floats
    closed: bool
    curved: bool
    where: str = ""

    @property
    def points(self) -> Floats:
        """Its points, (N, 2) mm."""
        return self.vertices[:, :2]

    def backwards(self) -> Floats:
        """Return the vertices of an open run the other way round."""
        bulges = np.append(-self.vertices[-2::-1, 2], 0.0)
        found: Floats = np.column_stack([self.points[::-1], bulges])
        return found


def joined(runs: Sequence[Run], near: float) -> tuple[list[Run], list[str], list[str], list[Run]]:
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
    ends = np.array([point for run in left for point in (run.points[0], run.points[-1])])
    mate, faults = _mates(ends, near)
    if faults:
        return closed, faults, [], left
    open_ends: list[str] = []
    still_open: list[Run] = []
    seen = np.zeros(len(left), dtype=bool)
    for first in [*(np.flatnonzero(mate < 0)).tolist(), *range(0, len(ends), 2)]:
        if seen[first // 2]:
            continue
        chain_of, end = [], first  # ends by which runs are entered, from a loose end or anywhere on a ring
        while end >= 0 and not seen[end // 2]:
            seen[end // 2] = True
            chain_of.append(end)
            end = int(mate[end ^ 1])
        pieces = [left[one // 2].backwards() if one % 2 else left[one // 2].vertices for one in chain_of]
        curved = any(left[one // 2].curved for one in chain_of)
        points = _in_a_row(pieces)
        where = left[chain_of[0] // 2].where
        if end < 0:
            (x0, y0), (x1, y1) = points[0, :2], points[-1, :2]
            still_open.append(Run(points, closed=False, curved=curved, where=where))
            open_ends.append(
                f"an open line from ({x0:.1f}, {y0:.1f}) to ({x1:.1f}, {y1:.1f}) mm, expected closed "
                f"shapes; join its ends (gaps under {near:g} mm are joined for you)"
            )
            continue
        points = without_repeats(points[:-1])
        if len(points) < 3 and not points[:, 2].any():
            faults.append(f"lines that close to nothing at {place(ends[first])}; is a line drawn twice?")
        else:
            closed.append(Run(points, closed=True, curved=curved, where=where))
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


_TOLD: Final = 3
"""So many of the places where too many lines meet are named."""
