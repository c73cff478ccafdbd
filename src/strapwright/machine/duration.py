"""How long a sheet takes: estimated from lengths, speeds, acceleration and passes, travel included."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import PlanError
from strapwright.core.tolerances import COINCIDENT
from strapwright.geometry.shapes import line
from strapwright.machine.toolpath.runs import cut_depth_on, depth_of, path_runs, tool_runs
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from strapwright.geometry.contour import Contour
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.toolpath.runs import ToolRun
    from strapwright.machine.types import CutPath, CutSheet

    Way = tuple[list[float], list[float]]

SPEED: Final = 20.0
"""Taken for an operation whose speed the profile does not give, mm/s."""

RAPID: Final = 100.0
"""Taken for travel where the profile gives no speed, mm/s."""

ACCELERATION: Final = 500.0
"""Taken where the profile gives none, mm/s²: a belt-driven gantry's, from memory."""

_SMOOTH: Final = math.radians(2.0)
"""Bends between two segments up to this are run through; at sharper ones the tool is taken to stop."""


@dataclass(frozen=True)
class Duration:
    """How long cutting takes.

    Args:
        seconds: of each operation, all its passes; a knife's first stroke is a score.
        lengths: of each operation's paths, once, mm.
        travel_seconds: between paths, from the bed's corner to the first, and back to the start of an
            open path for its next pass.
        travel: the same, mm.
        assumed: what was taken for want of a figure in the profile, in words.
    """

    seconds: Mapping[Operation, float]
    lengths: Mapping[Operation, float]
    travel_seconds: float
    travel: float
    assumed: tuple[str, ...]

    @property
    def total(self) -> float:
        """Seconds of all operations and of travel."""
        return sum(self.seconds.values()) + self.travel_seconds

    @property
    def words(self) -> str:
        """How long each operation and the travel take, in words."""
        parts = [f"{operation} {clock(seconds)}" for operation, seconds in self.seconds.items()]
        return f"{', '.join(parts)}, travel {clock(self.travel_seconds)}"


def duration_of(paths: Sequence[CutPath], machine: Machine, depth: float | None = None) -> Duration:
    """Return how long paths take in their order.

    Every path is run from standstill to standstill, gathering and losing speed evenly; corners are
    stopped at, curves taken no faster than √(a·r), so that the pull outward stays within the
    acceleration a. Nothing is added for a laser's warming up, a blade's lifting, turning and
    lead-ins, which `time_of` knows of, or laying the hide.

    Args:
        paths: in cutting order.
        machine: its speeds, passes and acceleration.
        depth: a blade goes to, mm; None for a laser, and where it is not known.

    Example:
        >>> from strapwright.machine.profile.machine import read_machine
        >>> duration_of([], read_machine("wide-laser")).total
        0.0
    """
    return _summed(paths, _stretches(path_runs(paths, machine, depth), machine), machine)


@dataclass(frozen=True)
class Move:
    """One timed move of the tool on a sheet: a run, or the travel to it with the tool off.

    Args:
        run: what it makes; None for travel.
        track: of the beam, or of the knife's spindle, bed mm; None where the tool only lifts.
        begins: since the sheet was begun, s.
        seconds: how long it takes, going in and lifting included.
        number: of the path it belongs to, from 1 in cutting order; 0 for the stroke that turns a blade at
            the start, and for the last lift.
    """

    run: ToolRun | None
    track: Contour | None
    begins: float
    seconds: float
    number: int

    @property
    def ends(self) -> float:
        """When it is done, since the sheet was begun, s."""
        return self.begins + self.seconds


def moves_of(sheet: CutSheet, machine: Machine) -> tuple[Move, ...]:
    """Return every move of the tool on a sheet in order, with its times.

    It begins at the bed's front left corner. The blade goes down, and up and down again where it is raised to
    swivel, at its plunge speed; up to its safe height at the speed of travel. Where no file says a height, as
    a plotter's does not, lifting takes no time.

    Args:
        sheet: of the plan.
        machine: its speeds, passes, acceleration and blade.

    Raises:
        PlanError: the spindle would have to leave the bed.
    """
    found: list[Move] = []
    now = 0.0
    for run, way, seconds, number in _stretches(tool_runs(sheet, machine), machine, sheet):
        track = line(*way[0], *way[1]) if way is not None else None if run is None else run.track
        found.append(Move(run, track, now, seconds, number))
        now += seconds
    return tuple(found)


def _stretches(
    runs: Iterable[ToolRun], machine: Machine, sheet: CutSheet | None = None
) -> Iterator[tuple[ToolRun | None, Way | None, float, int]]:
    """Yield each move as `moves_of` has it: its run, or travel with the tool off; seconds; path number.

    Without a sheet no lifting is counted.
    """
    blade = machine.blade
    acceleration, rapid = machine.acceleration_mm_s2 or ACCELERATION, machine.rapid_mm_s or RAPID
    lifts = sheet and blade and cut_depth_on(sheet, machine) is not None and "gcode" in machine.formats
    safe = blade.safe_height if blade is not None else 0.0
    height = safe
    here = [0.0, 0.0]
    before: ToolRun | None = None
    number, path = 0, None
    known: dict[tuple[int, float], float] = {}  # passes of a path are alike
    for run in runs:
        if run.path is not path:  # all runs of a path follow each other
            number, path = number + 1, run.path
        start = run.track.starts[0].tolist()
        if not run.continues(before):
            there = math.dist(here, start)
            lift = _straight(safe - height, rapid, acceleration) if lifts else 0.0
            way = (here, start) if there > COINCIDENT else None
            yield None, way, lift + _straight(there, rapid, acceleration), number
            height = safe
        speed = (run.setting or machine.settings(run.operation)).speed_mm_s or SPEED
        taken = known.get((id(run.track), speed))
        if taken is None:
            taken = known[id(run.track), speed] = _seconds_of(run.track, speed, acceleration)
        if lifts and sheet and blade:
            wanted = -depth_of(run, sheet, machine)
            taken += _straight(abs(height - wanted), blade.plunge_mm_s, acceleration)
            height = wanted
        yield run, None, taken, number
        here, before = run.track.ends[-1].tolist(), run
    if lifts and before is not None:
        yield None, None, _straight(safe - height, rapid, acceleration), 0


def time_of(sheet: CutSheet, machine: Machine) -> Duration:
    """Return how long a sheet takes, a drag knife's lead-ins, overcuts, swivels and lifts included.

    A machine that allows for its blade itself adds lead-ins and swivels of its own, which are not known here.

    Args:
        sheet: of the plan.
        machine: its speeds, passes, acceleration and blade.
    """
    try:
        runs = tool_runs(sheet, machine)
    except PlanError:  # the spindle would leave the bed: such a sheet is refused when it is written
        return duration_of(sheet.paths, machine, cut_depth_on(sheet, machine))
    return _summed(sheet.paths, _stretches(runs, machine, sheet), machine)


def _summed(
    paths: Sequence[CutPath],
    stretches: Iterable[tuple[ToolRun | None, Way | None, float, int]],
    machine: Machine,
) -> Duration:
    """Return how long moves take that make some paths."""
    seconds = dict.fromkeys((path.operation for path in paths), 0.0)
    assumed = _assumed(machine, seconds)
    travel = travel_seconds = 0.0
    for run, way, taken, _ in stretches:
        if run is not None:
            whose = run.operation if run.path is None else run.path.operation
            seconds[whose] = seconds.get(whose, 0.0) + taken
        else:
            travel += math.dist(*way) if way is not None else 0.0
            travel_seconds += taken
    lengths = dict.fromkeys(seconds, 0.0)
    for path in paths:
        lengths[path.operation] += path.contour.length
    return Duration(seconds, lengths, travel_seconds, travel, assumed)


def together(durations: Sequence[Duration]) -> Duration:
    """Return how long several sheets take, without what lies between them."""
    operations = dict.fromkeys(operation for one in durations for operation in one.seconds)
    seconds = {each: sum(one.seconds.get(each, 0.0) for one in durations) for each in operations}
    lengths = {each: sum(one.lengths.get(each, 0.0) for one in durations) for each in operations}
    assumed = tuple(dict.fromkeys(word for one in durations for word in one.assumed))
    travel_seconds = sum(one.travel_seconds for one in durations)
    return Duration(seconds, lengths, travel_seconds, sum(one.travel for one in durations), assumed)


def clock(seconds: float) -> str:
    """Return a time in hours, minutes and seconds, as it is said.

    Example:
        >>> clock(8.2), clock(754), clock(7300)
        ('8 s', '12 min 34 s', '2 h 1 min')
    """
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"


def _assumed(machine: Machine, used: Mapping[Operation, float]) -> tuple[str, ...]:
    """Return the figures that were assumed because the profile has none, in words."""
    assumed = [
        f"{operation} at {SPEED:g} mm/s"
        for operation in Operation
        if operation in used and machine.settings(operation).speed_mm_s is None
    ]
    if machine.rapid_mm_s is None:
        assumed.append(f"travel at {RAPID:g} mm/s")
    if machine.acceleration_mm_s2 is None:
        assumed.append(f"acceleration {ACCELERATION:g} mm/s²")
    return tuple(assumed)


def _seconds_of(contour: Contour, speed: float, acceleration: float) -> float:
    """Return how long one pass along a path takes from standstill to standstill."""
    most = np.minimum(speed, np.sqrt(acceleration * contour.radii)).tolist()
    long = contour.segment_lengths.tolist()
    chord = contour.ends - contour.starts
    heading = np.arctan2(chord[:, 1], chord[:, 0])
    half = contour.sweeps / 2
    bend = np.remainder((heading - half)[1:] - (heading + half)[:-1] + math.pi, 2 * math.pi) - math.pi
    count = len(long)
    # The greatest speed at each joint: what the segments allow, none at corners, then what can be
    # gathered from the start and lost before the end.
    joint = [0.0] * (count + 1)
    for k, sharp in enumerate((np.abs(bend) > _SMOOTH).tolist(), 1):
        joint[k] = 0.0 if sharp else min(most[k - 1], most[k])
    for k in range(count):
        joint[k + 1] = min(joint[k + 1], math.sqrt(joint[k] ** 2 + 2 * acceleration * long[k]))
    for k in range(count - 1, -1, -1):
        joint[k] = min(joint[k], math.sqrt(joint[k + 1] ** 2 + 2 * acceleration * long[k]))
    return sum(_straight(long[k], most[k], acceleration, joint[k], joint[k + 1]) for k in range(count))


def _straight(length: float, most: float, acceleration: float, begin: float = 0.0, end: float = 0.0) -> float:
    """Return the seconds for a length, from one speed to another, at most at a third."""
    peak = math.sqrt(acceleration * length + (begin**2 + end**2) / 2)
    if peak <= most:
        return (2 * peak - begin - end) / acceleration
    changing = (2 * most**2 - begin**2 - end**2) / (2 * acceleration)
    return (2 * most - begin - end) / acceleration + (length - changing) / most
