"""The proof of a drag knife's file: a simulated blade driven by it must cut the plan's own contours."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.errors import ProofError
from strapwright.geometry.contour import Contour
from strapwright.machine.cut_plan import OUTLINE
from strapwright.machine.tool_runs import START_HEADING, passes_of
from strapwright.parts.part import Operation
from strapwright.tolerances import BLADE, COINCIDENT
from strapwright.write.follower import follow

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from strapwright.machine.cut_plan import CutPath, CutSheet
    from strapwright.machine.profile import Machine

    Floats = NDArray[np.float64]

_POINTED: Final = math.radians(60.0)
"""A blade pointed by hand at the start may be so far off, radians, where a stroke in the waste turns it."""

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
    for track in tracks[:strokes]:
        trace = follow(track, heading, offset)
        heading = trace.heading
        _check_waste(trace.points, outlines, boxes, format, "the stroke that turns the blade")
    worst = 0.0
    for track, path in zip(tracks[strokes:], paths, strict=True):
        trace = follow(track, heading, offset)
        heading = trace.heading
        what = f"{path.name} of {path.part_id}"
        away = path.contour.distance_to(trace.points)
        entry = _entry(away)
        furthest = float(away[_touch(away, trace.points, entry) :].max())
        missed = _missed(path.contour, trace.points[entry:])
        worst = max(worst, furthest, missed)
        if not worst <= BLADE:
            raise ProofError(
                f"{format}: a simulated blade lies {worst:.3g} mm off {what}, more than {BLADE:g} mm; "
                "do not cut from this file, write it again"
            )
        lead = trace.points[:entry][away[:entry] > BLADE]
        if len(lead):
            _check_lead_in(lead, path, outlines, boxes, format, what)
    return worst


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


def _missed(contour: Contour, points: Floats) -> float:
    """Return how far the furthest point of a contour lies from the blade's way, mm."""
    moved = np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > 10 * COINCIDENT])
    # Points that stand still, while the blade swivels, make no line.
    kept = points[moved]
    kept = kept[np.concatenate([[True], np.hypot(*np.diff(kept, axis=0).T) > 1e-5])]
    if len(kept) < 2:
        return math.inf
    way = Contour.from_points(kept, closed=False)
    return float(way.distance_to(contour.sample()).max())


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
        if inside.any() and outlines[index].distance_to(points[inside]).max() > BLADE:
            raise ProofError(f"{format}: {what} cuts into a part; do not cut from this file, write it again")
