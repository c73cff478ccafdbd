"""Tool runs: what the machine does along the plan's paths, pass by pass, at which depth and with which tool.

A laser, and a knife whose machine allows for its blade, run along the plan's paths as they are. Any other
drag knife's spindle runs where its tip follows them; its blade turns no deeper than a score.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import groupby, pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import PlanError, Problems
from strapwright.core.tolerances import CLEARANCE, COINCIDENT
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import line
from strapwright.machine.toolpath.lead_in import (
    Shape,
    WasteArea,
    approach,
    beam_track,
    has_lead_in,
    lead_in_length,
    open_approach,
    start_heading,
)
from strapwright.machine.toolpath.spindle_track import begun_along, opened, spindle_track, turn_between
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from strapwright.core.arrays import Floats
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.profile.tool_keys import Blade, Laser
    from strapwright.machine.toolpath.spindle_track import Track
    from strapwright.machine.types import CutPath, CutSheet, Setting

START_HEADING: Final = 0.0
"""Which way a blade is to point before it is started: along the bed's x, radians."""

LEAST_OFFSET: Final = 0.01
"""A blade that trails less than this needs no allowance, mm."""

_MAKES: Final = {Operation.CUT: "cuts", Operation.SCORE: "scores", Operation.PUNCH: "marks holes"}

_BESIDE: Final = 0.5
"""The orienting stroke stays so far from every part, beside what the blade may swing, mm."""


@dataclass(frozen=True)
class ToolRun:
    """One run of the tool at one depth, from where it goes in to where it comes out or its depth changes.

    Args:
        path: of the plan, that it makes; None for the stroke that turns a knife's blade at the start.
        track: of the beam, or of the knife's spindle, bed mm.
        turns: whether it only turns the blade for its path: in the waste, or at a corner on the spot. It is
            then no deeper than a score.
        passes_done: how often the path has been gone along before.
        passes: how often it is gone along in all.
        off_leather: whether it may run past the hide's edge, as the first stroke may.
        led: whether a beam begins it in the waste.
        tool: what must be in the machine, in words; empty where it is never changed by hand.
    """

    path: CutPath | None
    track: Contour
    turns: bool = False
    passes_done: int = 0
    passes: int = 1
    off_leather: bool = False
    from_waste: bool = False
    tool: str = ""

    @property
    def operation(self) -> Operation:
        """What it is driven as: where it only turns the blade, as a score."""
        return Operation.SCORE if self.path is None or self.turns else self.path.operation

    @property
    def setting(self) -> Setting | None:
        """How it is driven where that is not as its operation; where it only turns the blade it never is."""
        return None if self.path is None or self.turns else self.path.setting

    def changes(self, before: ToolRun | None) -> bool:
        """Whether another tool must be put in after the run before it."""
        return before is not None and before.tool != self.tool

    def continues(self, before: ToolRun | None) -> bool:
        """Whether it begins where the run before it ended, so that the tool need not be lifted between."""
        if before is None or self.changes(before):
            return False
        return math.dist(self.track.starts[0].tolist(), before.track.ends[-1].tolist()) < COINCIDENT


def is_compensated(machine: Machine) -> bool:
    """Whether the spindle's tracks differ from the paths: a drag knife that does not do so itself."""
    blade = machine.blade
    return blade is not None and blade.mode == "exact" and blade.offset >= LEAST_OFFSET


def cut_depth_on(sheet: CutSheet, machine: Machine) -> float | None:
    """Return how far below the leather's thickest face a blade goes to cut through, mm.

    It is what the profile says, or else the leather's thickness and a little into the bed; None for a laser,
    and where neither is known.
    """
    blade = machine.blade
    if blade is None:
        return None
    if blade.cut_depth is not None:
        return blade.cut_depth
    return sheet.thickness + blade.into_bed if sheet.thickness else None


def passes_of(machine: Machine, operation: Operation, depth: float | None) -> int:
    """Return how often a path is gone along: as the profile says, and never deeper than it allows.

    Args:
        machine: says both.
        operation: the path's.
        depth: of a cut through, mm; None where it is not known.

    Example:
        >>> from strapwright.machine.profile.machine import read_machine
        >>> knife = read_machine("drag-knife")
        >>> passes_of(knife, Operation.SCORE, 4.5), passes_of(knife, Operation.CUT, 4.5)
        (1, 3)
    """
    asked = machine.settings(operation).passes
    blade = machine.blade
    if operation is not Operation.CUT or blade is None or depth is None or blade.depth_per_pass is None:
        return asked
    return max(asked, math.ceil(depth / blade.depth_per_pass - 1e-9))


def depth_of(run: ToolRun, sheet: CutSheet, machine: Machine) -> float:
    """Return how far below the leather's thickest face a blade goes on a run, mm; 0 for a laser.

    Scores keep their depth below the face where they lie: where the leather is thinner they lie lower.

    Raises:
        PlanError: it is to cut through leather whose thickness is not known.
    """
    blade = machine.blade
    if blade is None:
        return 0.0
    if run.setting is not None and run.setting.depth is not None:
        return run.setting.depth
    if run.operation is Operation.CUT:
        deep = cut_depth_on(sheet, machine)
        if deep is None:
            raise PlanError(
                f"{sheet.name}: how deep to cut is not known, because the leather's thickness is not; give "
                "the thickness, or blade.cut_depth in the profile"
            )
        return deep * (run.passes_done + 1) / run.passes
    below = sheet.thickness - sheet.thickness_under(run.track)
    return below + (blade.turning_depth if run.turns else blade.score_depth)


def face_of(sheet: CutSheet, machine: Machine) -> float:
    """Return the height of the leather's thickest face above the machine's z zero, mm."""
    blade = machine.blade
    return sheet.thickness if blade is not None and blade.z_zero == "bed" else 0.0


def check_depths(where: str, thickest: float, thinnest: float, machine: Machine) -> None:
    """Refuse a blade set so shallow that it does not cut through, or so deep that it spoils the bed.

    Args:
        where: the hide, for the message.
        thickest: thickness of the leather where it is thickest, mm.
        thinnest: of the thinnest part on it, mm.
        machine: says the blade; a laser is never refused.

    Raises:
        PlanError: what is wrong, and what the figure may be.
    """
    blade = machine.blade
    if blade is None:
        return
    if thickest > blade.max_thickness + COINCIDENT:
        raise PlanError(
            f"{where} is {thickest:.2f} mm thick at its thickest; the blade of {machine.name!r} goes through "
            f"{blade.max_thickness:g} mm; cut that place off first, or use another blade or machine"
        )
    if blade.cut_depth is not None:
        least = math.ceil(100 * thickest - 1e-6) / 100  # as written below, both are accepted
        most = math.floor(100 * (thickest + blade.bed_takes) + 1e-6) / 100
        past = blade.cut_depth - thickest
        wrong = "would not be cut through" if past < 0 else f"would be cut {past:.2f} mm into the bed"
        if not -COINCIDENT <= past <= blade.bed_takes + COINCIDENT:
            raise PlanError(
                f"{where} is {thickest:.2f} mm thick at its thickest and {wrong}: blade.cut_depth of "
                f"{machine.name!r} is {blade.cut_depth:g} mm; expected {least:.2f} to {most:.2f} mm "
                f"(blade.bed_takes is {blade.bed_takes:g} mm), or no cut_depth: then it is the thickness and "
                "into_bed"
            )
    if blade.score_depth >= thinnest:
        raise PlanError(
            f"{where}: a score {blade.score_depth:g} mm deep would cut through leather of {thinnest:.2f} mm; "
            f"lower blade.score_depth of {machine.name!r}"
        )


@lru_cache(maxsize=16)  # the plan's findings and two formats, each written and proven, ask for the same
def tool_runs(sheet: CutSheet, machine: Machine) -> tuple[ToolRun, ...]:
    """Return everything the tool does on a sheet, in order, each pass a run of its own.

    Args:
        sheet: the plan's, its paths in cutting order.
        machine: says passes and blade.

    Raises:
        PlanError: the spindle would have to leave the bed.
    """
    depth = cut_depth_on(sheet, machine)
    if is_compensated(machine):
        return _blade_runs(sheet, machine, depth)
    runs = path_runs(sheet.paths, machine, depth)
    return _led_in(runs, sheet, machine.laser) if has_lead_in(machine) else runs


def path_runs(paths: Iterable[CutPath], machine: Machine, depth: float | None) -> tuple[ToolRun, ...]:
    """Return the runs along paths as they are, pass by pass.

    Args:
        paths: in cutting order.
        machine: says passes and tools.
        depth: a blade goes to, mm; None for a laser, and where it is not known.
    """
    return tuple(
        ToolRun(path, path.contour, False, done, count, tool=tool_words(machine, path.operation))
        for path in paths
        for count in (_passes(path, machine, depth),)
        for done in range(count)
    )


def _passes(path: CutPath, machine: Machine, depth: float | None) -> int:
    return path.setting.passes if path.setting else passes_of(machine, path.operation, depth)


def tool_words(machine: Machine, operation: Operation) -> str:
    """Return what must be in the machine for an operation; empty where no tool is changed by hand.

    Example:
        >>> from strapwright.machine.profile.machine import read_machine
        >>> tool_words(read_machine("drag-knife"), Operation.SCORE)
        ''
    """
    if machine.tool_change == "none":
        return ""
    return machine.settings(operation).tool or f"the tool that {_MAKES[operation]}"


def _led_in(runs: Sequence[ToolRun], sheet: CutSheet, laser: Laser) -> tuple[ToolRun, ...]:
    """Return a laser's runs, closed cuts begun in the waste and going on past their start."""
    waste = WasteArea(sheet.outlines, (sheet.width, sheet.height))
    entered = {
        id(path): beam_track(path, laser, waste)
        for path in sheet.paths
        if path.operation is Operation.CUT and path.contour.closed
    }
    return tuple(
        replace(run, track=track, from_waste=from_waste)
        for run in runs
        for track, from_waste in (entered.get(id(run.path), (run.track, False)),)
    )


def _blade_runs(sheet: CutSheet, machine: Machine, depth: float | None) -> tuple[ToolRun, ...]:
    """Return the spindle's runs, its blade turned in the waste before each cut; refuse one off the bed."""
    assert machine.blade is not None
    runs: list[ToolRun] = []
    for words, paths in groupby(sheet.paths, lambda path: tool_words(machine, path.operation)):
        counted = [(path, _passes(path, machine, depth)) for path in paths]
        # Each tool is pointed along x when it is put in, and its stroke in the waste turns it exactly so.
        runs += [replace(run, tool=words) for run in _runs_of_one_tool(sheet, counted, machine.blade)]
    # Thousands of tracks are measured together.
    vertices = [run.track.vertices for run in runs]
    tracks = Contour.each(
        np.vstack(vertices), list(map(len, vertices)), [run.track.closed for run in runs], measured=True
    )
    runs = [replace(run, track=track) for run, track in zip(runs, tracks, strict=True)]
    _check_on_bed(runs, sheet, machine.blade.offset)
    return tuple(runs)


def _runs_of_one_tool(
    sheet: CutSheet, paths: Sequence[tuple[CutPath, int]], blade: Blade
) -> Iterator[ToolRun]:
    """Yield what one blade does from when it is put in, pointed along x: each path so often."""
    outlines = sheet.outlines
    waste = WasteArea(outlines, (sheet.width, sheet.height), sheet.leather)
    heading = START_HEADING
    memory: dict[tuple[bytes, bool], Shape] = {}
    tracks: dict[tuple[int, int, float], tuple[list[tuple[Contour, bool]], float]] = {}

    def spindle(tip: Contour) -> Track:
        nonlocal heading
        track = spindle_track(tip, heading, blade.offset, blade.swivel_angle)
        heading = track.heading
        return track

    for stroke, off in _orienting(paths[0][0].contour.starts[0], blade, outlines, waste):
        yield ToolRun(None, spindle(stroke).contour, True, off_leather=off)
    for path, count in paths:
        made = None
        for done in range(count):
            if path.operation is not Operation.CUT:
                yield ToolRun(path, spindle(_scored(path.contour, heading)).contour, False, done, count)
                continue
            if made is None or not path.contour.closed:
                if path.contour.closed:
                    made = approach(path.contour, not path.is_outline, blade, heading, waste, memory)
                else:
                    made = open_approach(path.contour, heading, blade, waste, made)
                if made.lead_in is not None:
                    yield ToolRun(path, spindle(made.lead_in).contour, True, done, count)
            if made.alike is None:
                some = list(_stretches(spindle(made.cut)))
            else:
                vertices, place = made.alike  # the spindle's track of cuts alike is found once, and moved
                key = id(vertices), done, round(heading, 9)
                if key not in tracks:
                    tracks[key] = _closed_pass(Contour(vertices), done, heading, blade)
                found, heading = tracks[key]
                some = [(Contour(part.vertices + place, closed=False), turns) for part, turns in found]
            yield from (ToolRun(path, part, turns, done, count) for part, turns in some)


def _closed_pass(
    cut: Contour, done: int, heading: float, blade: Blade
) -> tuple[list[tuple[Contour, bool]], float]:
    """Return the spindle's stretches on one pass of a closed cut, and the blade's heading after it."""
    if done and blade.overcut:  # each pass goes on where the one before ended
        cut = begun_along(cut, done * blade.overcut)
    track = spindle_track(opened(cut, 0, blade.overcut), heading, blade.offset, blade.swivel_angle)
    return list(_stretches(track)), track.heading


def _stretches(track: Track) -> Iterator[tuple[Contour, bool]]:
    """Yield a track's stretches in order, and whether the blade turns on the spot there."""
    swivels = track.swivels
    begins = [k for k, swivel in enumerate(swivels) if not k or swivel != swivels[k - 1]]
    parts = [track.contour.vertices[low : high + 1] for low, high in pairwise([*begins, len(swivels)])]
    contours = Contour.each(np.vstack(parts), list(map(len, parts)), [False] * len(parts))
    yield from zip(contours, (swivels[k] for k in begins), strict=True)


def _scored(contour: Contour, heading: float) -> Contour:
    """Return the tip's way along a score, which has no waste to come from: it turns at its first end."""
    if contour.closed:
        return opened(contour, 0, 0.0)
    ways = contour, contour.reversed()
    there, back = (round(abs(turn_between(heading, start_heading(way))), 6) for way in ways)
    return ways[there > back]


def _orienting(
    start: Floats, blade: Blade, outlines: Sequence[Contour], waste: WasteArea
) -> Iterator[tuple[Contour, bool]]:
    """Yield the stroke in the waste that turns the blade along x, as near the first path as one finds room.

    On the leather if there is room, else past its edge: the second value says which. Nothing where
    there is no room at all: the blade must then be pointed along x by hand, exactly.
    """
    length = lead_in_length(blade)
    beside = _BESIDE + 1.5 * blade.offset  # a blade a right angle off swings its tip by e √2
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
    problems = Problems()
    near = {
        path.part_id for path in sheet.paths if _past(path.contour.bounding_box, sheet) > -offset - CLEARANCE
    }
    for run in runs:
        if run.path is None or run.path.part_id not in near:
            continue  # the spindle is never further from its path than the offset
        past = _past(run.track.bounding_box, sheet)
        if past > CLEARANCE:
            problems.append(
                f"{run.path.part_id}: the spindle runs ahead of the blade and would leave the bed of "
                f"{sheet.width:g} × {sheet.height:g} mm by {past:.2f} mm; move the hide further onto the bed"
            )
    problems.refuse()


def _past(box: tuple[float, float, float, float], sheet: CutSheet) -> float:
    """Return how far a box reaches past the bed, mm; below 0 where it lies on it."""
    return max(-box[0], -box[1], box[2] - sheet.width, box[3] - sheet.height)
