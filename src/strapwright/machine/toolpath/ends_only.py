"""Long edges left to the strap cutter: the machine makes tip, holes and buckle end of a strap."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.findings import Finding, Severity
from strapwright.core.tolerances import SHORTEST_SEGMENT
from strapwright.geometry.contour import Contour
from strapwright.geometry.runs import without
from strapwright.geometry.shapes import line
from strapwright.machine.toolpath.long_edges import edge_stretches
from strapwright.machine.types import CutPath
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

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


def without_long_edges(part: Part, paths: Sequence[CutPath]) -> tuple[CutPath, ...]:
    """Return a part's paths without its long straight edges; keepers and their like stay whole.

    Args:
        part: in its own frame.
        paths: of the tool's middle, in the part's frame.
    """
    if not part.lies_along:
        return tuple(paths)
    kept: list[CutPath] = []
    for path in paths:
        if not path.is_outline:
            kept.append(path)
            continue
        edges = edge_stretches(path.contour, 0.0, STUB)
        kept += [replace(path, contour=run) for run in without(path.contour, edges)]
    return tuple(kept)


def marks_to_lay_by(part: Part, machine: Machine) -> tuple[CutPath, ...]:
    """Return the lines to be scored before a strap cut to width is laid down: its middle and its edges.

    They are scored on the bed's backing, not on the strap: its centre line, seen past both ends, and
    ticks that begin at its edges. Parts that are cut whole have none.

    Args:
        part: in its own frame.
        machine: its layer for scores.
    """
    if not part.lies_along:
        return ()
    x0, y0, x1, y1 = part.outline.bounding_box
    layer = machine.settings(Operation.SCORE).layer
    middle = (y0 + y1) / 2
    centre = line(x0 - BEYOND, middle, x1 + BEYOND, middle)
    return (
        CutPath(part.id, CENTRE_LINE, Operation.SCORE, centre, layer),
        *(
            CutPath(part.id, EDGE_TICK, Operation.SCORE, line(x, y, x, y + way * TICK), layer)
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
