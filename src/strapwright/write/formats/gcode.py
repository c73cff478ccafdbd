"""Files that drive a machine: G-code after RS-274/NGC.

Source: NISTIR 6556, "The NIST RS274NGC Interpreter, Version 3", sections 3.5 and 3.6: G20, G21, G90, G17,
G0 to G3 with I and J, F, S, M0, M3, M5, M2, comments in parentheses.

A laser burns where M3, or the profile's word for a beam whose power follows its speed, is on with S above 0,
and M5 stands before every G0. Lines of the profile's own stand at start and end, the tool off.
A drag knife's file holds no M3 and no M4, for they would spin a router with a blade in it; it cuts where Z is
below 0.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from itertools import groupby
from typing import TYPE_CHECKING, Final

from strapwright.core.tolerances import READ_BACK
from strapwright.core.units import Units, format_length
from strapwright.files.atomic_write import MARK
from strapwright.machine.toolpath.runs import depth_of, face_of, tool_runs
from strapwright.machine.types import FIRST_CUT, REGISTRATION
from strapwright.write.formats.drive import (
    OUTLINE_CHECK,
    change_words,
    corners_round,
    decimals_of,
    in_machine,
    run_words,
    trace_drive,
    with_before,
)
from strapwright.write.formats.header import header_lines, holes_to_visit, plain_comment
from strapwright.write.readers.gcode import read_gcode
from strapwright.write.readers.path import PlannedPath, ReadPath, feed_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from strapwright.geometry.contour import Contour
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.toolpath.runs import ToolRun
    from strapwright.machine.types import CutSheet


_FLAT: Final = 1e-5
"""An arc that rises less than this over its chord is written as a line, mm."""


_LONGEST_ARC: Final = math.radians(150.0)
"""A longer arc is written in pieces: near a full turn its end says little of where it lies."""


_COMMENT: Final = 68
"""Comments longer than this are broken: controllers take lines of 80 characters at most."""


class Gcode:
    """The G-code format."""

    name = "gcode"
    suffix = ".nc"
    ending = ""
    tolerance = READ_BACK
    chord = 0.0
    drives = True

    def lacking(self, machine: Machine) -> tuple[str, ...]:
        """Return the profile's keys this format needs and the machine does not have."""
        laser = machine.kind == "laser"
        keys = [
            f"operation.{operation}.{key}"
            for key in ("speed_mm_s", "power_percent")[: 1 + laser]
            for operation in machine.operations
            if getattr(machine.settings(operation), key) is None
        ]
        keys += ["machine.max_power"] if laser and machine.max_power is None else []
        return tuple(keys)

    def planned(self, sheet: CutSheet, plan: CutPlan) -> list[PlannedPath]:
        """Return every run the text ought to hold, in order, by the words it is driven by."""
        machine = plan.machine
        return [
            PlannedPath(
                feed_words(_feed(run, machine), _power(run, machine), depth_of(run, sheet, machine)),
                run.track,
                run_words(run),
                run.changes(before),
            )
            for before, run in with_before(tool_runs(sheet, machine))
        ]

    def to_text(self, sheet: CutSheet, plan: CutPlan) -> str:
        """Return a sheet as G-code; the same sheet gives the same text."""
        machine = plan.machine
        lines = [*_head(sheet, plan), *_if_any(machine.laser.air_on)]
        lines += _comments(f"time: {plan.duration_of(sheet).total:.0f} s, estimated")
        runs = tool_runs(sheet, machine)
        if machine.kind == "drag_knife":
            lines += _comments("The blade must point along the bed's x, to the right, at the start.")
            lines += _comments(f"Z zero: {z_zero_words(sheet, machine)}")
            lines += _comments(f"face: {face_of(sheet, machine):.4f} mm above z 0")
            lines += _comments(f"Tool at the start: {runs[0].tool}") if runs[0].tool else ()
        groups = [
            (name, list(some))
            for name, some in groupby(
                zip(runs, _parts_done(runs), strict=True), lambda one: run_words(one[0])
            )
        ]
        before: ToolRun | None = None
        burnt: list[str] = []
        for number, (name, some) in enumerate(groups, 1):
            if some[0][0].changes(before):
                lines += _stop_for(some[0][0].tool, sheet, machine)
            lines += _comments(f"run {number} of {len(groups)}, {some[0][1]}: {name}")
            for run, _ in some:
                if machine.kind == "laser":
                    again = before is not None and before.track is run.track  # in another pass
                    burnt = burnt if again else list(_laser_moves(run, machine))
                    lines += burnt
                else:
                    lines += _blade_moves(run, before, sheet, machine)
                before = run
        lines += _end(sheet, machine, machine.laser.air_off)
        return "\n".join([*lines, ""])

    def beside(self, sheet: CutSheet, plan: CutPlan) -> Mapping[str, str]:
        """Return what places the hide and cuts nothing: the outline check, and a way to each hole."""
        machine = plan.machine
        laser = machine.laser
        first, *others = (_point(corner, machine) for corner in corners_round(sheet, machine))
        moves = [f"G0 {corner}" for corner in others]
        if laser.trace_power is not None:
            feed, power = trace_drive(machine)
            moves = [f"M3 S{power:.2f}", *(f"G1 {to} F{_number(feed, machine)}" for to in others)]

        def text(says: str, moves: Iterable[str], off: str | None = None) -> str:
            up = [] if machine.blade is None else [f"G0 Z{_safe(sheet, machine)}"]
            return "\n".join(
                [*_head(sheet, plan), *_comments(says), *up, *moves, *_end(sheet, machine, off), ""]
            )

        trace = [*_if_any(laser.pointer_on), f"G0 {first}", *moves]
        made = {"-outline": text(OUTLINE_CHECK + _trace_words(machine), trace, laser.pointer_off)}
        for name, hole in holes_to_visit(sheet):
            says = f"Goes to registration hole {name} with the tool off and stays there. It cuts nothing."
            made[f"-hole-{name}"] = text(says, [f"G0 {_point(machine.axes.of(*hole), machine)}"])
        return made

    def read_back(self, text: str, machine: Machine, face: float = 0.0) -> list[ReadPath]:
        """Read the runs of a text again, by a reader that knows the standard and not this writer.

        Raises:
            ProofError: the text is cut short, unsafe or not what strapwright writes.
        """
        return read_gcode(text, machine.kind, machine.axes, machine, face)


def _trace_words(machine: Machine) -> str:
    """Return what is on in an outline check, in words."""
    if machine.laser.trace_power is not None:
        return (
            f"The beam is on at {machine.laser.trace_power:g} percent of its power: eye protection, "
            "extraction, and stop at once if it marks."
        )
    return "The pointer is on, the beam off." if machine.laser.pointer_on else "The tool is off."


def _if_any(line: str | None) -> list[str]:
    return [] if line is None else [line]


def _stop_for(tool: str, sheet: CutSheet, machine: Machine) -> Iterator[str]:
    """Yield the stop at which another tool is put in: lifted, and what to do said before it."""
    yield f"G0 Z{_safe(sheet, machine)}"
    for sentence in change_words(tool):
        yield from _comments(sentence)
    yield "M0"


def _parts_done(runs: Sequence[ToolRun]) -> list[str]:
    """Return for each run how many parts are done before it, of how many."""
    last = {
        run.path.part_id: number
        for number, run in enumerate(runs)
        if run.path is not None and run.path.part_id != REGISTRATION and run.path.name != FIRST_CUT
    }
    ends = sorted(last.values())
    return [f"{bisect_left(ends, number)} of {len(ends)} parts done" for number in range(len(runs))]


def _head(sheet: CutSheet, plan: CutPlan) -> Iterator[str]:
    """Yield comments, units, plane and distances, and the tool off."""
    yield f"({MARK})"
    for line in header_lines(sheet, plan, Gcode.name):
        yield from _comments(line)
    yield "G21" if plan.machine.units == "mm" else "G20"
    yield "G17"
    yield "G90"
    yield "M5"
    yield from plan.machine.gcode.start


def _end(sheet: CutSheet, machine: Machine, off: str | None = None) -> list[str]:
    """Return the end: the tool off, what was on beside it off, the machine's own lines."""
    height = [] if machine.blade is None else [f"G0 Z{_safe(sheet, machine)}"]
    return [*height, "M5", *_if_any(off), *machine.gcode.end, "M2"]


def _comments(text: str) -> Iterator[str]:
    """Yield a text as comments of a bearable length."""
    line = ""
    for word in plain_comment(text).split():
        if line and len(line) + len(word) >= _COMMENT:
            yield f"({line})"
            line = ""
        line = f"{line} {word}".strip()
    if line:
        yield f"({line})"


def _laser_moves(run: ToolRun, machine: Machine) -> Iterator[str]:
    """Yield one run of a laser: there with the beam off, along with it on, and off again."""
    track = in_machine(run.track, machine.axes)
    start, *moves = _moves(track, machine)
    yield f"G0 {start}"
    yield f"{machine.laser.dynamic_power or 'M3'} S{_power(run, machine):.2f}"
    yield from _with_feed(moves, run, machine)
    yield "M5"


def _blade_moves(run: ToolRun, before: ToolRun | None, sheet: CutSheet, machine: Machine) -> Iterator[str]:
    """Yield one run of a drag knife: down, from above the leather or from where it stands, and along."""
    assert machine.blade is not None
    track = in_machine(run.track, machine.axes)
    start, *moves = _moves(track, machine)
    if not moves:
        return
    if not run.continues(before):
        yield f"G0 Z{_safe(sheet, machine)}"
        yield f"G0 {start}"
    height = face_of(sheet, machine) - depth_of(run, sheet, machine)
    yield f"G1 Z{_number(height, machine)} F{_number(60.0 * machine.blade.plunge_mm_s, machine)}"
    yield from _with_feed(moves, run, machine)


def _with_feed(moves: Iterable[str], run: ToolRun, machine: Machine) -> Iterator[str]:
    """Yield a run's moves, its feed behind the first."""
    feed = f" F{_number(_feed(run, machine), machine)}"
    for move in moves:
        yield move + feed
        feed = ""


def _safe(sheet: CutSheet, machine: Machine) -> str:
    """Return the height a blade travels at, above the leather's thickest place."""
    assert machine.blade is not None
    return _number(face_of(sheet, machine) + machine.blade.safe_height, machine)


def z_zero_words(sheet: CutSheet, machine: Machine, units: Units = "mm") -> str:
    """Return where a knife's z is to be set to 0, lengths in these units."""
    assert machine.blade is not None
    if sheet.lay_by:
        return "on the paper that is fixed to the bed"
    if machine.blade.z_zero == "bed":
        high = format_length(sheet.thickness, units)
        return f"on the bed, beside the leather, whose face is {high} above it"
    thick = f", {format_length(sheet.thickness, units)}" if sheet.thickness else ""
    return f"on the leather's face where it is thickest{thick}"


def _moves(track: Contour, machine: Machine) -> Iterator[str]:
    """Yield where a track begins, then its segments as G-code; one too short for the decimals has none.

    The offset from an arc's start to its centre is taken from the start as it is written.
    """
    starts, ends, centres = track.starts.tolist(), track.ends.tolist(), track.centres.tolist()
    sweeps, lengths = track.sweeps.tolist(), track.segment_lengths.tolist()
    here = _point(starts[0], machine)
    yield here
    decimals = decimals_of(machine)
    scale = machine.unit_mm
    at = [round(v / scale, decimals) for v in starts[0]]
    for start, end, centre, sweep, length in zip(starts, ends, centres, sweeps, lengths, strict=True):
        if length * abs(sweep) / 8 < _FLAT:
            there = _point(end, machine)
            if there != here:
                yield f"G1 {there}"
                here, at = there, [round(v / scale, decimals) for v in end]
            continue
        pieces = math.ceil(abs(sweep) / _LONGEST_ARC)
        word = "G3" if sweep > 0 else "G2"
        dx, dy = start[0] - centre[0], start[1] - centre[1]
        for piece in range(1, pieces + 1):
            point = end
            if piece < pieces:
                turn = sweep * piece / pieces
                cos, sin = math.cos(turn), math.sin(turn)
                point = [centre[0] + dx * cos - dy * sin, centre[1] + dx * sin + dy * cos]
            there = _point(point, machine)
            if there == here:  # written, it would be a full circle
                continue
            i, j = (c / scale - a for c, a in zip(centre, at, strict=True))
            yield f"{word} {there} I{i:.{decimals}f} J{j:.{decimals}f}"
            here, at = there, [round(v / scale, decimals) for v in point]


def _point(point: Sequence[float], machine: Machine) -> str:
    return f"X{_number(point[0], machine)} Y{_number(point[1], machine)}"


def _number(mm: float, machine: Machine) -> str:
    """Return a length, or a feed in millimetres a minute, in the machine's units."""
    return f"{mm / machine.unit_mm + 0.0:.{decimals_of(machine)}f}"


def _feed(run: ToolRun, machine: Machine) -> float:
    """Return the feed in mm a minute."""
    return 60.0 * ((run.setting or machine.settings(run.operation)).speed_mm_s or 0.0)


def _power(run: ToolRun, machine: Machine) -> float | None:
    """Return a laser's S word."""
    if machine.kind != "laser":
        return None
    drive = run.setting or machine.settings(run.operation)
    return (drive.power_percent or 0.0) / 100.0 * (machine.max_power or 0.0)
