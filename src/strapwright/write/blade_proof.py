"""The proof of a drag knife's file: a simulated blade driven by it must cut the plan's own contours."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.errors import ProofError
from strapwright.geometry.many import Many, greatest_of_each
from strapwright.machine.cut_plan import OUTLINE
from strapwright.machine.tool_runs import START_HEADING, passes_of
from strapwright.parts.part import Operation
from strapwright.tolerances import BLADE
from strapwright.units import beyond
from strapwright.write.follower import follow_each

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from strapwright.geometry.contour import Contour
    from strapwright.machine.cut_plan import CutPath, CutSheet
    from strapwright.machine.profile import Machine
    from strapwright.write.follower import Trace

    Floats = NDArray[np.float64]

_POINTED: Final = math.radians(60.0)
"""A blade pointed by hand at the start may be so far off, radians, where a stroke in the waste turns it."""

_STILL: Final = 1e-5
"""A blade that comes no further than this from one point to the next stands still, mm."""

_CLOSELY: Final = 1.0
"""Points of a lead-in looked at lie no further apart than this, mm."""

_TANGENT: Final = 1.0
"""A lead-in that has come near its contour touches it within this, mm."""


def blade_deviation(
    tracks: Sequence[Contour],
    sheet: CutSheet,
    machine: Machine,
    format: str,  # noqa: A002 - the files' word
) -> float:
    """Drive a simulated blade along the tracks of a file and return how far it lies from the contours.

    Args:
        tracks: every run of the spindle in the file, in order, bed mm; one more than the sheet's paths and
            passes where the first is the stroke that turns the blade.
        sheet: its paths are what the blade ought to cut.
        machine: its blade and its passes.
        format: of the file, for messages.

    Returns:
        The furthest from its contour any point of the blade's way lies beyond the lead-in, or any point of
        a contour from that way, mm.

    Raises:
        ProofError: the blade leaves a contour, or a lead-in cuts into a part.
    """
    assert machine.blade is not None
    offset = machine.blade.offset
    paths = [path for path in sheet.paths for _ in range(passes_of(machine, path.operation))]
    strokes = len(tracks) - len(paths)
    outlines = sheet.outlines
    boxes = np.array([outline.bounding_box for outline in outlines]).reshape(-1, 4)
    heading = START_HEADING + (_POINTED if strokes else 0.0)
    if not tracks:
        return 0.0
    traces = follow_each(tracks, heading, offset)
    for trace in traces[:strokes]:
        _check_waste(_closely(trace.points), outlines, boxes, format, "the stroke that turns the blade")
    traces = traces[strokes:]
    contours = Many.of([path.contour for path in paths])
    counts = np.array([len(trace.points) for trace in traces])
    away = contours.distances(np.vstack([trace.points for trace in traces]), counts)
    ways = np.split(away, np.cumsum(counts)[:-1])
    entries = [_entry(one) for one in ways]
    furthest = [
        float(np.max(one[_touch(one, trace.points, entry) :]))
        for one, trace, entry in zip(ways, traces, entries, strict=True)
    ]
    worst = np.maximum(furthest, _missed(contours, traces, entries))
    off = np.flatnonzero(~(worst <= BLADE))
    if len(off):
        index = int(off[0])
        what = f"{paths[index].name} of {paths[index].part_id}"
        raise ProofError(
            f"{format}: a simulated blade lies {beyond(worst[index], BLADE)} mm off {what}, more than "
            f"{BLADE:g} mm; "
            "do not cut from this file, write it again"
        )
    for path, trace, one, entry in zip(paths, traces, ways, entries, strict=True):
        lead = _lead(trace.points[: entry + 1], one[: entry + 1], path)
        if len(lead):
            _check_lead_in(lead, path, outlines, boxes, format, f"{path.name} of {path.part_id}")
    return float(worst.max(initial=0.0))


def _entry(away: Floats) -> int:
    """Return where the blade comes near its contour for good: the lead-in lies before.

    A lead-in that goes round more than once may touch the contour before it stays on it. What is cut after
    this point must be the whole contour, so nothing can hide in what lies before.
    """
    off = np.flatnonzero(away > BLADE)
    return min(int(off[-1]) + 1, len(away) - 1) if len(off) else 0


def _touch(away: Floats, points: Floats, entry: int) -> int:
    """Return where a lead-in meets the contour: nearest to it within a millimetre of coming near."""
    if entry == 0:
        return 0
    steps = np.hypot(*np.diff(points[entry:], axis=0).T)
    within = int(np.searchsorted(np.cumsum(steps), _TANGENT)) + 1
    return entry + int(np.argmin(away[entry : entry + within]))


def _missed(contours: Many, traces: Sequence[Trace], entries: Sequence[int]) -> Floats:
    """Return how far the furthest point of each contour lies from the blade's way, mm."""
    points, counts = contours.sample()
    pieces = [_pieces(trace, entry) for trace, entry in zip(traces, entries, strict=True)]
    some = np.array([len(starts) for starts, _, _ in pieces])
    starts, ends, bulges = (np.concatenate(parts) for parts in zip(*pieces, strict=True))
    way = Many(starts, ends, bulges, some, np.zeros(len(some), dtype=bool))
    missed = greatest_of_each(way.distances(points, counts), counts)
    firsts = np.cumsum(counts) - counts
    for index in np.flatnonzero(some == 0).tolist():  # a blade that stands where it went in
        wanted = points[firsts[index] : firsts[index] + counts[index]]
        missed[index] = np.hypot(*(wanted - traces[index].points[-1]).T).max()
    return missed


def _pieces(trace: Trace, entry: int) -> tuple[Floats, Floats, Floats]:
    """Return the arcs of the blade's way from a point on: starts, ends and bulges.

    Points that stand still, while the blade swivels, make none.
    """
    points, headings = trace.points[entry:], trace.headings[entry:]
    steps = np.diff(points, axis=0)
    moved = steps[:, 0] ** 2 + steps[:, 1] ** 2 > _STILL**2
    turns = np.remainder(np.diff(headings)[moved] + np.pi, 2 * np.pi) - np.pi
    return points[:-1][moved], points[1:][moved], np.tan(turns / 4)


def _lead(points: Floats, away: Floats, path: CutPath) -> Floats:
    """Return the points of a lead-in that lie off its contour."""
    close = _closely(points)
    if close is not points:
        away = path.contour.distance_to(close)
    return close[away > BLADE]


def _closely(points: Floats) -> Floats:
    """Return points with more put between them, so that no two lie further apart than a millimetre."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    if not len(steps) or steps.max() <= _CLOSELY:
        return points
    reach = np.concatenate([[0.0], np.cumsum(steps)])
    more = np.concatenate([reach, np.arange(0.0, reach[-1], _CLOSELY)])
    more.sort()
    return np.column_stack([np.interp(more, reach, points[:, k]) for k in (0, 1)])


def _check_lead_in(
    lead: Floats,
    path: CutPath,
    outlines: Sequence[Contour],
    boxes: Floats,
    format: str,  # noqa: A002
    what: str,
) -> None:
    """Refuse a lead-in outside the waste: inside a hole, outside every part otherwise."""
    if path.operation is Operation.CUT and path.contour.closed and path.name != OUTLINE:
        if not path.contour.contains(lead).all():
            raise ProofError(f"{format}: the lead-in of {what} leaves the hole; do not cut from this file")
        return
    _check_waste(lead, outlines, boxes, format, f"the lead-in of {what}")


def _check_waste(
    points: Floats,
    outlines: Sequence[Contour],
    boxes: Floats,
    format: str,  # noqa: A002
    what: str,
) -> None:
    low, high = points.min(axis=0), points.max(axis=0)
    near = (boxes[:, :2] <= high).all(axis=1) & (boxes[:, 2:] >= low).all(axis=1)
    for index in np.flatnonzero(near).tolist():
        inside = outlines[index].contains(points)
        if inside.any() and np.max(outlines[index].distance_to(points[inside])) > BLADE:
            raise ProofError(f"{format}: {what} cuts into a part; do not cut from this file, write it again")
