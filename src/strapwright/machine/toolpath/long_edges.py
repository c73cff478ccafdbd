"""The straight long edges of a strap: found for bridges and joins, or left to the strap cutter."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.findings import Finding, Severity
from strapwright.core.tolerances import SHORTEST_SEGMENT
from strapwright.geometry.contour import Contour
from strapwright.geometry.intervals import without
from strapwright.geometry.shapes import line
from strapwright.machine.types import CutPath
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.core.arrays import Flags
    from strapwright.geometry.intervals import Interval
    from strapwright.machine.profile.machine import Machine
    from strapwright.parts.part import Part


STUB: Final = 3.0
"""The cut round an end runs on along each long edge so far, mm: it meets the strap cutter's edge."""


BEYOND: Final = 15.0
"""The centre line runs on past both ends of the strap so far, mm, to be seen when the strap lies on it."""


TICK: Final = 6.0
"""Length of an edge tick, mm, outward from the strap's edge."""


TICK_PITCH: Final = 100.0
"""Ticks stand no further apart than this along an edge, mm."""


_FAR: Final = 1e6
"""Further than any hide reaches, mm."""


CENTRE_LINE: Final = "centre line to lay the strap on"


EDGE_TICK: Final = "edge tick to lay the strap by"


LAY_BY: Final = (CENTRE_LINE, EDGE_TICK)
"""What is scored before a strap is laid down."""


ALONG: Final = math.radians(5.0)
"""A line counts as a long edge up to this off the strap's own direction: tapered straps stay under it,
the flanks of pointed tips do not."""


def is_edge(contour: Contour, along: float) -> Flags:
    """Return which segments are straight and lie along a direction, either way, (S,).

    Args:
        contour: an outline or a run of one.
        along: the strap's direction, radians.
    """
    delta = contour.ends - contour.starts
    off = np.abs(delta[:, 1] * math.cos(along) - delta[:, 0] * math.sin(along))
    return ~contour.is_arc & (off <= math.sin(ALONG) * contour.segment_lengths)


def without_long_edges(part: Part, paths: Sequence[CutPath]) -> tuple[CutPath, ...]:
    """Return a part's paths without its long straight edges; keepers and their like stay whole.

    Args:
        part: in its own frame.
        paths: of the tool's middle, in the part's frame.
    """
    if not part.lies_along:
        return tuple(paths)
    return tuple(
        replace(path, contour=run)
        for path in paths
        for gaps in (edge_stretches(path.contour, 0.0, STUB) if path.is_outline else [],)
        for run in without(path.contour, gaps)
    )


def marks_to_lay_by(part: Part) -> tuple[CutPath, ...]:
    """Return the lines to be scored before a strap cut to width is laid down: its middle and its edges.

    They are scored on the bed's backing, not on the strap: its centre line, seen past both ends, and
    ticks that begin at its edges. Parts that are cut whole have none.

    Args:
        part: in its own frame.
    """
    if not part.lies_along:
        return ()
    x0, y0, x1, y1 = part.outline.bounding_box
    middle = (y0 + y1) / 2
    centre = line(x0 - BEYOND, middle, x1 + BEYOND, middle)
    return (
        CutPath(part.id, CENTRE_LINE, Operation.SCORE, centre),
        *(
            CutPath(part.id, EDGE_TICK, Operation.SCORE, line(x, y, x, y + way * TICK))
            for x, y, way in _ticks(part)
        ),
    )


def _ticks(part: Part) -> Iterator[tuple[float, float, int]]:
    """Yield where each tick begins, and whether it goes up (1) or down (−1)."""
    outline = part.outline.counter_clockwise()
    for low, high in edge_stretches(outline, 0.0, STUB):
        count = max(2, int(np.ceil((high - low) / TICK_PITCH)) + 1)
        for place in np.linspace(low, high, count):
            x, y = outline.point_at(float(place))
            yield x, y, -1 if outline.tangent_at((low + high) / 2)[0] > 0 else 1


def on_bed_only(marks: Sequence[CutPath], machine: Machine, *, through: bool) -> list[CutPath]:
    """Return what of straight marks lies on the bed.

    Args:
        marks: where they lie on the bed.
        machine: its bed.
        through: whether the hide is drawn through, so that only the bed's reach along y counts.
    """
    import shapely

    low, high = (-_FAR, _FAR) if through else (0.0, machine.bed[0])
    kept: list[CutPath] = []
    for mark in marks:
        inside = shapely.clip_by_rect(
            shapely.LineString(mark.contour.vertices[:, :2]), low, 0.0, high, machine.bed[1]
        )
        if inside.length > SHORTEST_SEGMENT:
            kept.append(replace(mark, contour=Contour.from_points(inside.coords, closed=False)))
    return kept


def by_hand_finding() -> Finding:
    """Return the note that the long edges are left out, and what to do first."""
    return Finding(
        "long-edges-by-hand",
        Severity.NOTE,
        "The straps' long edges are left to the strap cutter: the machine cuts only tips, buckle ends and "
        "holes.",
        "Run the file called lay-by on paper or card fixed to the bed, lay each strap, cut to width, on its "
        "centre line between its ticks, hold it down, then cut.",
    )


def edge_stretches(contour: Contour, along: float, keep_out: float = 0.0) -> list[Interval]:
    """Return the long edges as stretches of a contour's length, each shorter by what is kept out at its ends.

    Args:
        contour: an outline or a run of one.
        along: the strap's direction, radians.
        keep_out: from tips, buckle ends and the run's own ends, mm.
    """
    reach = contour.reach.tolist()
    return [
        (reach[k] + keep_out, reach[k + 1] - keep_out)
        for k in np.flatnonzero(is_edge(contour, along)).tolist()
        if reach[k + 1] - reach[k] > 2 * keep_out
    ]
