"""Files that drive a plotter: HP-GL, one pen an operation.

Source: HP 7470A plotter manual, "Scaling without SC" (a plotter unit is 0.025 mm); the instructions IN, PA,
PU, PD, AA, SP and VS as HP-GL plotters and cutters take them. The comments stand in HP-GL/2's CO, which
older plotters pass over.

Coordinates are whole plotter units. An arc is written in pieces of a quarter turn at most; each one's centre
is that of the grid points near the true one that brings the pen nearest to where it ought to come.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from strapwright.files.whole import MARK
from strapwright.machine.tool_runs import tool_runs
from strapwright.tolerances import HPGL_CHORD, HPGL_VERTEX
from strapwright.write.gcode import told
from strapwright.write.header import header_lines, plain_comment
from strapwright.write.hpgl_reader import pen_words, read_hpgl
from strapwright.write.machine_frame import in_machine
from strapwright.write.read_path import PlannedPath, ReadPath

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from strapwright.geometry.contour import Contour
    from strapwright.machine.cut_plan import CutPlan, CutSheet
    from strapwright.machine.profile import Machine
    from strapwright.parts.part import Operation

    Point = tuple[float, float]

UNIT: Final = 0.025
"""A plotter unit, mm."""

_QUARTER: Final = math.pi / 2
_LEAST_SWEEP: Final = math.radians(2.0)
"""An arc of less is written as a chord: plotters take no chord angle much under half a degree."""

_MOST_RADIUS: Final = 500.0
"""A wider arc is written as chords: at half a degree a plotter's own would err too much, mm."""

_NEIGHBOURS: Final = range(-2, 3)


class Hpgl:
    """The HP-GL format."""

    name = "hpgl"
    suffix = ".plt"
    ending = ""
    tolerance = HPGL_VERTEX
    chord = HPGL_CHORD
    drives = True

    def lacking(self, machine: Machine) -> tuple[str, ...]:
        """Return the profile's keys this format needs and the machine does not have: none."""
        del machine
        return ()

    def planned(self, sheet: CutSheet, plan: CutPlan) -> list[PlannedPath]:
        """Return every run the text ought to hold, in order, by its pen."""
        machine = plan.machine
        return [
            PlannedPath(pen_words(machine.pen(run.operation)), run.track, told(run, machine))
            for run in tool_runs(sheet, machine)
        ]

    def to_text(self, sheet: CutSheet, plan: CutPlan) -> str:
        """Return a sheet as HP-GL; the same sheet gives the same text."""
        machine = plan.machine
        lines = [
            "IN;",
            *(f'CO "{comment}";' for comment in (MARK, *map(plain_comment, header_lines(sheet, plan)))),
        ]
        lines.append("PA;")
        pen = 0
        for run in tool_runs(sheet, machine):
            wanted = machine.pen(run.operation)
            if wanted != pen:
                lines.append(f"PU;SP{wanted};{_velocity(machine, run.operation)}")
                pen = wanted
            lines += _drawn(in_machine(run.track, machine.axes))
        return "\n".join([*lines, "PU;", "SP0;", ""])

    def beside(self, sheet: CutSheet, plan: CutPlan) -> Mapping[str, str]:
        """Return no other files."""
        del sheet, plan
        return {}

    def read_back(self, text: str, machine: Machine) -> list[ReadPath]:
        """Read the runs of a text again, arcs as the chords a plotter draws.

        Raises:
            ProofError: the text is cut short or is not what strapwright writes.
        """
        return read_hpgl(text, machine.axes)


def _velocity(machine: Machine, operation: Operation) -> str:
    velocity = machine.settings(operation).velocity
    return "" if velocity is None else f"VS{velocity:g};"


def _drawn(track: Contour) -> Iterator[str]:
    """Yield one run: there with the pen up, along with it down, and up again."""
    first = _on_grid(*track.starts[0].tolist())
    yield f"PU{first[0]},{first[1]};"
    yield "PD;"
    here: Point = (first[0] * UNIT, first[1] * UNIT)
    waiting: list[str] = []
    rows = zip(
        *(values.tolist() for values in (track.starts, track.ends, track.centres, track.sweeps, track.radii)),
        strict=True,
    )
    for start, end, centre, sweep, radius in rows:
        for kind, point, turn in _pieces(start, end, centre, sweep, radius):
            if kind == "line":
                grid = _on_grid(*point)
                there = (grid[0] * UNIT, grid[1] * UNIT)
                if math.dist(here, there) >= UNIT / 2:
                    waiting.append(f"{grid[0]},{grid[1]}")
                    here = there
                continue
            words, here = _arc(here, point, (centre[0], centre[1]), turn)
            if waiting:
                yield f"PA{','.join(waiting)};"
                waiting = []
            yield words
    if waiting:
        yield f"PA{','.join(waiting)};"
    yield "PU;"


def _pieces(
    start: Point, end: Point, centre: Point, sweep: float, radius: float
) -> Iterator[tuple[str, Point, float]]:
    """Yield a segment as lines, and arcs of a quarter turn at most: kind, end point, sweep."""
    if sweep == 0.0:
        yield "line", end, 0.0
        return
    chords = radius > _MOST_RADIUS or abs(sweep) < _LEAST_SWEEP
    longest = _chord_angle(radius) if chords else _QUARTER
    count = max(1, math.ceil(abs(sweep) / longest - 1e-9))
    dx, dy = start[0] - centre[0], start[1] - centre[1]
    for piece in range(1, count + 1):
        point = end
        if piece < count:
            turn = sweep * piece / count
            cos, sin = math.cos(turn), math.sin(turn)
            point = (centre[0] + dx * cos - dy * sin, centre[1] + dx * sin + dy * cos)
        yield "line" if chords else "arc", point, sweep / count


def _arc(here: Point, there: Point, centre: Point, sweep: float) -> tuple[str, Point]:
    """Return the instruction that draws an arc from where the pen is, and where it comes to.

    Of the grid points about the true centre the one is taken whose arc ends, and passes its middle,
    nearest to where it ought to.
    """
    near = _on_grid(*centre)
    dx, dy = there[0] - centre[0], there[1] - centre[1]
    cos, sin = math.cos(-sweep / 2), math.sin(-sweep / 2)
    middle = (centre[0] + dx * cos - dy * sin, centre[1] + dx * sin + dy * cos)
    best: tuple[float, str, Point] | None = None
    for i in _NEIGHBOURS:
        for j in _NEIGHBOURS:
            grid = near[0] + i, near[1] + j
            c = grid[0] * UNIT, grid[1] * UNIT
            turn = math.atan2(there[1] - c[1], there[0] - c[0]) - math.atan2(here[1] - c[1], here[0] - c[0])
            turn = round(math.degrees(sweep + math.remainder(turn - sweep, 2 * math.pi)), 4)
            end = _turned(here, c, math.radians(turn))
            half = _turned(here, c, math.radians(turn / 2))
            error = max(math.dist(end, there), math.dist(half, middle))
            if best is None or error < best[0] - 1e-12:
                radius = math.dist(here, c)
                chords = max(1, math.ceil(math.radians(abs(turn)) / _chord_angle(radius) - 1e-9))
                words = f"AA{grid[0]},{grid[1]},{turn:.4f},{abs(turn) / chords:.4f};"
                best = (error, words, end)
    assert best is not None
    return best[1], best[2]


def _chord_angle(radius: float) -> float:
    """Return the angle whose chord errs by no more than is allowed on an arc, radians."""
    share = min(1.0, HPGL_CHORD * 0.99 / radius)
    return 2 * math.acos(1.0 - share)


def _turned(point: Point, centre: Point, angle: float) -> Point:
    dx, dy = point[0] - centre[0], point[1] - centre[1]
    cos, sin = math.cos(angle), math.sin(angle)
    return centre[0] + dx * cos - dy * sin, centre[1] + dx * sin + dy * cos


def _on_grid(x: float, y: float) -> tuple[int, int]:
    return round(x / UNIT), round(y / UNIT)
