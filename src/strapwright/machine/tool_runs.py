"""What the tool does, run by run: the plan's paths as a machine is driven along them.

A laser, and a knife whose machine allows for its blade, run along the plan's paths as they are. Any other
drag knife's spindle runs where its tip follows them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.errors import PlanError
from strapwright.geometry.shapes import line
from strapwright.machine.blade import joined, opened, spindle_track, turn_between
from strapwright.machine.cut_plan import OUTLINE
from strapwright.machine.lead_in import (
    Approach,
    Shape,
    Waste,
    approach,
    lead_in_circle,
    lead_in_length,
)
from strapwright.parts.part import Operation
from strapwright.tolerances import CLEARANCE

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.geometry.contour import Contour
    from strapwright.machine.cut_plan import CutPath, CutSheet
    from strapwright.machine.profile import Machine
    from strapwright.machine.tool_tables import Blade

START_HEADING: Final = 0.0
"""Which way a blade is to point before it is started: along the bed's x, radians."""

LEAST_OFFSET: Final = 0.01
"""A blade that trails less than this needs no allowance, mm."""

_BESIDE: Final = 0.5
"""The orienting stroke stays so far from every part, beside what the blade may swing, mm."""


@dataclass(frozen=True)
class ToolRun:
    """One run of the tool, from where it goes in to where it comes out.

    Args:
        path: of the plan, that it makes; None for the stroke that turns a knife's blade at the start.
        track: of the beam, or of the knife's spindle, bed mm.
        swivels: for each segment of the track, whether the blade turns on the spot there, raised.
        passes_done: how often the path has been gone along before.
        lead_in: how long the tip's way to the path is, mm.
        off_leather: whether that way, or the stroke, may run past the hide's edge.
    """

    path: CutPath | None
    track: Contour
    swivels: tuple[bool, ...]
    passes_done: int = 0
    lead_in: float = 0.0
    off_leather: bool = False

    @property
    def operation(self) -> Operation:
        """What it does; the first stroke is a shallow score."""
        return Operation.SCORE if self.path is None else self.path.operation


def is_compensated(machine: Machine) -> bool:
    """Whether the spindle's tracks differ from the paths: a drag knife that does not do so itself."""
    blade = machine.blade
    return blade is not None and blade.mode == "exact" and blade.offset >= LEAST_OFFSET


def passes_of(machine: Machine, operation: Operation) -> int:
    """Return how often a path is gone along: as the profile says, and never deeper than it allows.

    Example:
        >>> from strapwright.machine.profile import read_machine
        >>> passes_of(read_machine("drag-knife"), Operation.SCORE)
        1
    """
    asked = machine.settings(operation).passes
    blade = machine.blade
    if operation is not Operation.CUT or blade is None or not blade.cut_depth or not blade.depth_per_pass:
        return asked
    return max(asked, math.ceil(blade.cut_depth / blade.depth_per_pass - 1e-9))


def depth_of(run: ToolRun, machine: Machine) -> float:
    """Return how deep a blade goes on a run, mm; 0 for a laser."""
    blade = machine.blade
    if blade is None:
        return 0.0
    if run.operation is not Operation.CUT:
        return blade.score_depth
    return (blade.cut_depth or 0.0) * (run.passes_done + 1) / passes_of(machine, run.operation)


def tool_runs(sheet: CutSheet, machine: Machine) -> tuple[ToolRun, ...]:
    """Return everything the tool does on a sheet, in order, each pass a run of its own.

    Args:
        sheet: the plan's, its paths in cutting order.
        machine: says passes and blade.

    Raises:
        PlanError: the spindle would have to leave the bed.
    """
    passes = tuple(passes_of(machine, operation) for operation in Operation)
    if not is_compensated(machine):
        return _plain_runs(sheet, passes)
    assert machine.blade is not None
    return _blade_runs(sheet, machine.blade, passes)


def _plain_runs(sheet: CutSheet, passes: tuple[int, ...]) -> tuple[ToolRun, ...]:
    often = dict(zip(Operation, passes, strict=True))
    return tuple(
        ToolRun(path, path.contour, (False,) * len(path.contour), done)
        for path in sheet.paths
        for done in range(often[path.operation])
    )


@lru_cache(maxsize=16)  # the plan's findings and two formats, each written and proven, ask for the same
def _blade_runs(sheet: CutSheet, blade: Blade, passes: tuple[int, ...]) -> tuple[ToolRun, ...]:
    often = dict(zip(Operation, passes, strict=True))
    outlines = sheet.outlines
    waste = Waste(outlines, (sheet.width, sheet.height), sheet.leather)
    runs: list[ToolRun] = []
    heading = START_HEADING
    memory: dict[tuple[bytes, bool], Shape] = {}
    for stroke, off in _orienting(sheet, blade, outlines, waste):
        track = spindle_track(stroke, heading, blade.offset, blade.swivel_angle)
        runs.append(ToolRun(None, track.contour, track.swivels, off_leather=off))
        heading = track.heading
    for path in sheet.paths:
        for done in range(often[path.operation]):
            made = _tip_path(path, blade, heading, waste, memory)
            track = spindle_track(made.tip, heading, blade.offset, blade.swivel_angle)
            runs.append(ToolRun(path, track.contour, track.swivels, done, made.lead_in, made.off_leather))
            heading = track.heading
    _check_on_bed(runs, sheet, blade.offset)
    return tuple(runs)


def _tip_path(
    path: CutPath,
    blade: Blade,
    heading: float,
    waste: Waste,
    memory: dict[tuple[bytes, bool], Shape],
) -> Approach:
    """Return the tip's way along a path, and how much of it is lead-in."""
    contour = path.contour
    if path.operation is Operation.CUT and contour.closed:
        outer = path.name == OUTLINE
        return approach(
            contour,
            inner=not outer,
            blade=blade,
            heading=heading,
            waste=waste if outer else None,
            memory=memory,
        )
    if path.operation is Operation.CUT:
        return _open_cut(contour, blade, waste)
    if contour.closed:
        return Approach(opened(contour, 0, 0.0), 0.0)
    # A score has no waste to come from: the blade goes in at its end and turns there.
    there, back = (round(abs(turn_between(heading, angle)), 6) for angle in _angles(contour))
    return Approach(contour if there <= back else contour.reversed(), 0.0)


def _open_cut(contour: Contour, blade: Blade, waste: Waste) -> Approach:
    """Return the tip's way along a part of an outline, which runs with its part on the left.

    Its lead-in lies on the right; where there is no room for one the blade goes in at its start.
    """
    x, y = contour.starts[0].tolist()
    cos, sin = contour.tangent_at(0.0)
    past: float | None = None
    for share in (1.0, 0.5, 0.25):
        radius = share * blade.offset
        centre = np.array([(x + radius * sin, y - radius * cos)])
        clear = contour.distance_to(centre)[0] >= radius - CLEARANCE
        if clear and waste.room(centre, radius + 1.0)[0] > radius and waste.on_bed(centre, 2 * radius)[0]:
            if waste.on_leather(centre, radius)[0]:
                return _led_into(contour, radius, blade)
            past = past or radius
    if past is not None:
        return replace(_led_into(contour, past, blade), off_leather=True)
    return Approach(contour, 0.0)


def _led_into(contour: Contour, radius: float, blade: Blade) -> Approach:
    length = lead_in_length(blade)
    return Approach(joined([lead_in_circle(contour, radius, length, left=False), contour]), length)


def _angles(contour: Contour) -> tuple[float, float]:
    """Return the heading in which an open path begins, and the one in which it begins the other way round."""
    chords = contour.ends[[0, -1]] - contour.starts[[0, -1]]
    first, last = np.arctan2(chords[:, 1], chords[:, 0]).tolist()
    return first - float(contour.sweeps[0]) / 2, last + float(contour.sweeps[-1]) / 2 + math.pi


def _orienting(
    sheet: CutSheet, blade: Blade, outlines: Sequence[Contour], waste: Waste
) -> Iterator[tuple[Contour, bool]]:
    """Yield the stroke in the waste that turns the blade along x, as near the first path as one finds room.

    On the leather if there is room, else past its edge: whether it is so is told beside it. Nothing where
    there is no room at all: the blade must then be pointed along x by hand, exactly.
    """
    length = lead_in_length(blade)
    beside = _BESIDE + 1.5 * blade.offset  # a blade a right angle off swings its tip by e √2
    start = sheet.paths[0].contour.starts[0]
    spots: list[tuple[float, float]] = []
    for outline in outlines:
        x0, y0, x1, y1 = outline.bounding_box
        for y in (y0 - beside, y1 + beside):
            spots += [(x, y) for x in np.linspace(x0, x1 - length, 9).tolist()]
        for x in (x0 - beside - length - blade.offset, x1 + beside + blade.offset):
            spots += [(x, y) for y in np.linspace(y0, y1, 9).tolist()]
    spots.sort(key=lambda spot: (round(math.dist(spot, start), 3), spot))
    along = np.linspace(-blade.offset, length + blade.offset, 17)
    past: tuple[float, float] | None = None
    for x, y in spots:
        points = np.column_stack([x + along, np.full(len(along), y)])
        reach = beside - 1e-6
        if waste.on_bed(points, beside).all() and (waste.room(points, reach) >= reach).all():
            if waste.on_leather(points, _BESIDE).all():
                yield line(x, y, x + length, y), False
                return
            past = past or (x, y)
    if past is not None:
        x, y = past
        yield line(x, y, x + length, y), True


def _check_on_bed(runs: Sequence[ToolRun], sheet: CutSheet, offset: float) -> None:
    """Refuse a sheet whose spindle would have to leave the bed; each part is named once."""
    problems: dict[str, None] = {}
    near = {
        path.part_id for path in sheet.paths if _past(path.contour.bounding_box, sheet) > -offset - CLEARANCE
    }
    for run in runs:
        if run.path is None or run.path.part_id not in near:
            continue  # the spindle is never further from its path than the offset
        past = _past(run.track.bounding_box, sheet)
        if past > CLEARANCE:
            problems[
                f"{run.path.part_id}: the spindle runs ahead of the blade and would leave the bed of "
                f"{sheet.width:g} × {sheet.height:g} mm by {past:.2f} mm; move the hide further onto the bed"
            ] = None
    if problems:
        raise PlanError("\n".join(problems))


def _past(box: tuple[float, float, float, float], sheet: CutSheet) -> float:
    """Return how far a box reaches past the bed, mm; below 0 where it lies on it."""
    return max(-box[0], -box[1], box[2] - sheet.width, box[3] - sheet.height)
