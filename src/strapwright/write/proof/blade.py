"""The proof of a drag knife's file: a simulated blade driven by it must cut the plan's own contours."""

from __future__ import annotations

import math
from itertools import groupby
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import ProofError
from strapwright.core.tolerances import BLADE, READ_BACK
from strapwright.core.units import beyond
from strapwright.geometry.batch import Many, greatest_of_each
from strapwright.machine.toolpath.runs import START_HEADING, tool_runs
from strapwright.parts.part import Operation
from strapwright.write.proof.blade_simulation import follow_each

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.profile.tool_keys import Blade
    from strapwright.machine.types import CutPath, CutSheet
    from strapwright.write.proof.blade_simulation import Trace
    from strapwright.write.readers.path import ReadPath


_POINTED: Final = math.radians(60.0)
"""A blade pointed by hand at the start may be so far off, radians, where a stroke in the waste turns it."""

_STILL: Final = 1e-5
"""A blade that comes no further than this from one point to the next stands still, mm."""

_CLOSELY: Final = 1.0
"""Points of a lead-in looked at lie no further apart than this, mm."""

_SLACK: Final = math.radians(5.0)
"""So much further than a curve of the least radius may a blade turn in the leather, radians: whole plotter
units, chords and joints all but smooth jog it to and fro."""


def blade_deviation(read: Sequence[ReadPath], sheet: CutSheet, machine: Machine, name: str) -> float:
    """Return how far a simulated blade, driven along the runs of a file, lies from the contours, mm.

    Where it is deeper than a score it must be on its contour, and turn no tighter than its least radius.
    Where it is no deeper, on the way to a cut, it must be in the waste or on its contour.

    Args:
        read: every run of the spindle in the file with its depth, in order, bed mm, as many as the plan has.
        sheet: its paths are what the blade ought to cut.
        machine: its blade and its passes.
        name: of the file's format, for messages.

    Returns:
        The furthest from its contour any point of the blade's way lies while it cuts, or any point of a
        contour from that way, on any of its passes, mm.

    Raises:
        ProofError: the blade leaves a contour, turns too tightly, or cuts into a part on its way there.
    """
    assert machine.blade is not None
    blade = machine.blade
    if not read:
        return 0.0
    runs = tool_runs(sheet, machine)
    traces: list[Trace] = []
    for _, one_tool in groupby(zip(read, runs, strict=True), lambda both: both[1].tool):
        some = list(one_tool)
        heading = START_HEADING + (_POINTED if some[0][1].path is None else 0.0)
        traces += follow_each([one.contour for one, _ in some], heading, blade.offset)
    parts = _Parts(sheet, name)
    going: dict[tuple[int, int], list[Trace]] = {}
    paths: dict[int, CutPath] = {}
    deep: list[tuple[str, Trace]] = []
    for one, run, trace in zip(read, runs, traces, strict=True):
        if run.path is None:
            parts.check_waste(_closely(trace.points), "the stroke that turns the blade")
            continue
        if run.path.operation is Operation.CUT:
            below = sheet.thickness - sheet.thickness_under(one.contour)
            if one.depth <= below + blade.score_depth + READ_BACK:
                parts.check_lead_in(_closely(trace.points), run.path)
                continue
            deep.append((f"{run.path.name} of {run.path.part_id}", trace))
        paths[id(run.path)] = run.path
        going.setdefault((id(run.path), run.passes_done), []).append(trace)
    _check_turns(deep, blade, name)
    done = [paths[path] for path, _ in going]
    worst = _off(done, list(going.values()))
    off = np.flatnonzero(~(worst <= BLADE))
    if len(off):
        index = int(off[0])
        raise ProofError(
            f"{name}: a simulated blade is {beyond(worst[index], BLADE)} mm off {done[index].name} of "
            f"{done[index].part_id}, more than {BLADE:g} mm; do not cut from this file, write it again"
        )
    return float(np.max(worst, initial=0.0))


def check_lead_ins(read: Sequence[ReadPath], sheet: CutSheet, machine: Machine, name: str) -> None:
    """Refuse a laser's file whose beam cuts into a part on its way to a cut.

    Args:
        read: every run of the beam in the file, in order, bed mm, as many as the plan has.
        sheet: its paths are what the beam ought to cut.
        machine: its passes.
        name: of the file's format, for messages.

    Raises:
        ProofError: a run leaves its contour, and is not in the waste there.
    """
    parts = _Parts(sheet, name)
    for one, run in zip(read, tool_runs(sheet, machine), strict=True):
        if run.from_waste and run.path is not None:
            parts.check_lead_in(one.contour.sample(24), run.path)


def _off(paths: Sequence[CutPath], ways: Sequence[Sequence[Trace]]) -> Floats:
    """Return how far the blade's way on each pass and its contour lie apart at most, either way, mm."""
    contours = Many.of([path.contour for path in paths])
    counts = np.array(_sizes(ways))
    points = np.vstack([trace.points for way in ways for trace in way])
    strayed = greatest_of_each(contours.distances(points, counts), counts)
    # A cut that stays on its contour and is shorter leaves a stretch between the points looked at.
    _, lengths = _steps([trace for way in ways for trace in way])
    gone = np.add.reduceat(np.append(lengths, 0.0), np.cumsum(counts) - counts)
    cut = np.array([path.operation is Operation.CUT for path in paths])
    short = np.where(cut, [path.contour.length for path in paths] - gone, 0.0)
    return np.maximum(np.maximum(strayed, short / 2), _missed(contours, ways))


def _sizes(ways: Sequence[Sequence[Trace]]) -> list[int]:
    """Return how many points each way has."""
    return [sum(len(trace.points) for trace in way) for way in ways]


def _steps(traces: Sequence[Trace]) -> tuple[Floats, Floats]:
    """Return how far the blade turns from each point to the next, radians, and its tip goes, mm.

    The tip goes along an arc. From the end of one trace to the beginning of the next both are 0.
    """
    headings = np.concatenate([trace.headings for trace in traces])
    points = np.concatenate([trace.points for trace in traces])
    turns: Floats = np.abs(np.remainder(np.diff(headings) + np.pi, 2 * np.pi) - np.pi)
    lengths: Floats = np.hypot(*np.diff(points, axis=0).T) / np.sinc(turns / (2 * np.pi))
    between = np.cumsum([len(trace.points) for trace in traces])[:-1] - 1
    turns[between] = lengths[between] = 0.0
    return turns, lengths


def _check_turns(deep: Sequence[tuple[str, Trace]], blade: Blade, name: str) -> None:
    """Refuse a stretch on which the blade, in the leather, turns further than a curve of its least radius."""
    least = blade.least_radius - BLADE
    if least <= 0.0 or not deep:
        return
    turns, lengths = _steps([trace for _, trace in deep])
    ends = np.cumsum([len(trace.points) for _, trace in deep])
    gains = turns - lengths / least
    gains[ends[:-1] - 1] = -turns.sum()  # what is gained on one trace counts for nothing on the next
    ahead = np.concatenate([[0.0], np.cumsum(gains)])
    excess = ahead - np.minimum.accumulate(ahead)
    worst = int(np.argmax(excess))
    if excess[worst] > blade.swivel_angle + _SLACK:
        what = deep[int(np.searchsorted(ends, worst, side="right"))][0]
        raise ProofError(
            f"{name}: on {what} the blade turns {math.degrees(excess[worst]):.0f}° further at depth than "
            f"along a curve of {blade.least_radius:g} mm, its least radius; do not cut from this file"
        )


def _missed(contours: Many, ways: Sequence[Sequence[Trace]]) -> Floats:
    """Return how far the furthest point of each contour lies from the blade's way, mm."""
    points, counts = contours.sample()
    traces = [trace for way in ways for trace in way]
    at, headings = (np.concatenate([getattr(trace, of) for trace in traces]) for of in ("points", "headings"))
    # The blade's way goes along arcs; points that stand still, while the blade swivels, make none.
    moves = np.append((np.diff(at, axis=0) ** 2).sum(axis=1) > _STILL**2, False)
    moves[np.cumsum([len(trace.points) for trace in traces]) - 1] = False
    some = np.add.reduceat(moves, np.cumsum([0, *_sizes(ways)[:-1]]), dtype=np.int64)
    before = np.flatnonzero(moves)
    turns = np.remainder(headings[before + 1] - headings[before] + np.pi, 2 * np.pi) - np.pi
    driven = Many(at[before], at[before + 1], np.tan(turns / 4), some, np.zeros(len(some), dtype=bool))
    missed = greatest_of_each(driven.distances(points, counts), counts)
    firsts = np.cumsum(counts) - counts
    for index in np.flatnonzero(some == 0).tolist():  # a blade that stands where it went in
        wanted = points[firsts[index] : firsts[index] + counts[index]]
        missed[index] = np.hypot(*(wanted - ways[index][-1].points[-1]).T).max()
    return missed


def _closely(points: Floats) -> Floats:
    """Return points with more put between them, so that no two lie further apart than a millimetre."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    if not len(steps) or steps.max() <= _CLOSELY:
        return points
    reach = np.concatenate([[0.0], np.cumsum(steps)])
    more = np.concatenate([reach, np.arange(0.0, reach[-1], _CLOSELY)])
    more.sort()
    return np.column_stack([np.interp(more, reach, points[:, k]) for k in (0, 1)])


class _Parts:
    """The parts of a sheet, which no tool may run into on its way to a cut.

    Args:
        sheet: the cuts.
        name: of the file's format, for messages.
    """

    def __init__(self, sheet: CutSheet, name: str) -> None:
        self._outlines, self._name = sheet.outlines, name
        self._boxes = np.array([outline.bounding_box for outline in self._outlines]).reshape(-1, 4)

    def check_lead_in(self, lead: Floats, path: CutPath) -> None:
        """Refuse a lead-in that is neither in the waste nor on its contour."""
        lead = lead[path.contour.distance_to(lead) > BLADE]
        if not len(lead):
            return
        if path.contour.closed and not path.is_outline and path.contour.contains(lead).all():
            return
        self.check_waste(lead, f"the lead-in of {path.name} of {path.part_id}")

    def check_waste(self, points: Floats, what: str) -> None:
        """Refuse points that lie in a part."""
        low, high = points.min(axis=0), points.max(axis=0)
        near = (self._boxes[:, :2] <= high).all(axis=1) & (self._boxes[:, 2:] >= low).all(axis=1)
        for index in np.flatnonzero(near).tolist():
            outline = self._outlines[index]
            inside = outline.contains(points)
            if inside.any() and np.max(outline.distance_to(points[inside])) > BLADE:
                ending = "cuts into a part; do not cut from this file, write it again"
                raise ProofError(f"{self._name}: {what} {ending}")
