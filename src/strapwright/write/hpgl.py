"""Files that drive a plotter: HP-GL, one pen an operation.

Source: HP 7470A plotter manual, "Scaling without SC" (a plotter unit is 0.025 mm); the instructions IN, PA,
PU, PD, AA, SP and VS as HP-GL plotters and cutters take them. The comments stand in HP-GL/2's CO, which
older plotters pass over.

Coordinates are whole plotter units, but an arc ends where its angle says, grid or no grid. So arcs are
written in pieces, each with the centre, of the grid points near the true one, that brings the pen nearest
to where it ought to come; and a line runs to a grid point that lies on it, nearly, and ends in a short arc
too flat to matter. A blade feels the hundredths of a millimetre that whole units alone would lose.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from strapwright.files.whole import MARK
from strapwright.machine.tool_runs import tool_runs
from strapwright.parts.part import Operation
from strapwright.tolerances import HPGL_CHORD, HPGL_VERTEX
from strapwright.write.gcode import OUTLINE_CHECK, corners_round, told
from strapwright.write.header import header_lines, holes_to_visit, plain_comment
from strapwright.write.hpgl_reader import pen_words, read_hpgl
from strapwright.write.machine_frame import in_machine
from strapwright.write.read_path import PlannedPath, ReadPath

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from strapwright.geometry.contour import Contour
    from strapwright.machine.cut_plan import CutPlan, CutSheet
    from strapwright.machine.profile import Machine

    Point = tuple[float, float]

UNIT: Final = 0.025
"""A plotter unit, mm."""

_PIECE: Final = math.radians(30.0)
"""An arc is written in pieces of no more than this: the shorter, the less it matters where the grid puts
its centre."""

_LEAST_CHORD: Final = math.radians(0.5)
"""Plotters take no smaller chord angle."""

_LEAST_SWEEP: Final = math.radians(0.3)
"""An arc of less is written as a line."""

_FLAT_SWEEP: Final = math.radians(0.6)
"""The sweep of an arc that stands for a line: it rises a 760th of its length."""

_LAST: Final = 1.5
"""The last of a line that is written as a flat arc, mm: at most this."""

_LAST_FEW: Final = 40
"""So many grid points along a line are looked at for the one nearest to it."""

_NOTHING: Final = 1e-3
"""A way shorter than this is none, mm."""

_SHARE: Final = 0.002
"""A chord errs by no more than this share of the radius: a blade that swivels feels the least unroundness."""

_ALONG: Final = (0, 1, -1, 2, -2, 3, -3, 4, -4)
"""How far along the line that halves an arc its centre is looked for, plotter units."""


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
            PlannedPath(pen_words(machine.pen(run.operation)), run.track, told(run))
            for run in tool_runs(sheet, machine)
        ]

    def to_text(self, sheet: CutSheet, plan: CutPlan) -> str:
        """Return a sheet as HP-GL; the same sheet gives the same text."""
        machine = plan.machine
        lines = [
            "IN;",
            *(
                f'CO "{comment}";'
                for comment in (MARK, *map(plain_comment, header_lines(sheet, plan, self.name)))
            ),
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
        """Return what places the hide, the pen up: the outline check, and a way to each hole."""
        axes = plan.machine.axes
        ways = [("-outline", OUTLINE_CHECK + "The pen is up.", corners_round(sheet, plan.machine))]
        for name, hole in holes_to_visit(sheet):
            says = f"Goes to registration hole {name} with the tool up and stays there. It cuts nothing."
            ways.append((f"-hole-{name}", says, [axes.of(*hole)]))
        made: dict[str, str] = {}
        for ending, says, places in ways:
            words = (MARK, *map(plain_comment, (*header_lines(sheet, plan, self.name), says)))
            lines = ["IN;", *(f'CO "{comment}";' for comment in words), "PA;", "PU;"]
            lines += [f"PU{x},{y};" for x, y in (_on_grid(*place) for place in places)]
            made[ending] = "\n".join([*lines, "SP0;", ""])
        return made

    def read_back(self, text: str, machine: Machine, face: float = 0.0) -> list[ReadPath]:
        """Read the runs of a text again, arcs as the chords a plotter draws.

        Raises:
            ProofError: the text is cut short or is not what strapwright writes.
        """
        del face
        through = pen_words(machine.pen(Operation.CUT))
        runs = read_hpgl(text, machine.axes)
        return [replace(run, depth=math.inf) if run.layer == through else run for run in runs]


def _velocity(machine: Machine, operation: Operation) -> str:
    velocity = machine.settings(operation).velocity
    return "" if velocity is None else f"VS{velocity:g};"


def _drawn(track: Contour) -> Iterator[str]:
    """Yield one run: there with the pen up, along with it down, and up again."""
    first: Point = tuple(track.starts[0].tolist())
    grid = _on_grid(*first)
    yield f"PU{grid[0]},{grid[1]};"
    here: Point = (grid[0] * UNIT, grid[1] * UNIT)
    if math.dist(here, first) > _NOTHING:
        words, here = _flat(here, first)
        yield words
    yield "PD;"
    rows = zip(
        *(values.tolist() for values in (track.starts, track.ends, track.centres, track.sweeps, track.radii)),
        strict=True,
    )
    for start, end, centre, sweep, radius in rows:
        for point, turn in _pieces(start, end, centre, sweep, radius):
            away = math.dist(here, point)
            if away <= _NOTHING:
                continue
            if turn:
                words, here = _arc(here, point, centre, turn)
                yield words
                continue
            if away > _LAST:
                grid = _beside_line(here, point)
                yield f"PA{grid[0]},{grid[1]};"
                here = (grid[0] * UNIT, grid[1] * UNIT)
            words, here = _flat(here, point)
            yield words
    yield "PU;"


def _pieces(
    start: Point, end: Point, centre: Point, sweep: float, radius: float
) -> Iterator[tuple[Point, float]]:
    """Yield a segment's end, or an arc's in pieces: point and sweep, 0 for a line.

    Plotters take no chord angle under half a degree, so that a wide arc is written chord by chord.
    """
    if sweep == 0.0:
        yield end, 0.0
        return
    angle = _chord_angle(radius)
    count = math.ceil(abs(sweep) / (_PIECE if angle >= _LEAST_CHORD else angle) - 1e-9)
    chord = abs(sweep) / count < _LEAST_SWEEP
    dx, dy = start[0] - centre[0], start[1] - centre[1]
    for piece in range(1, count + 1):
        point = end
        if piece < count:
            turn = sweep * piece / count
            cos, sin = math.cos(turn), math.sin(turn)
            point = (centre[0] + dx * cos - dy * sin, centre[1] + dx * sin + dy * cos)
        yield point, 0.0 if chord else sweep / count


def _beside_line(start: Point, end: Point) -> tuple[int, int]:
    """Return the grid point nearest to a line, of those shortly before its end."""
    length = math.dist(start, end)
    ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    best, grid = math.inf, (0, 0)
    for back in range(_LAST_FEW):
        s = _LAST - UNIT * back
        i, j = _on_grid(end[0] - s * ux, end[1] - s * uy)
        off = abs((i * UNIT - end[0]) * uy - (j * UNIT - end[1]) * ux)
        if off < best - 1e-9:
            best, grid = off, (i, j)
    return grid


def _flat(here: Point, there: Point) -> tuple[str, Point]:
    """Return an arc so flat that it is a line, to a point off the grid, and where it comes to."""
    length = math.dist(here, there)
    away = length / _FLAT_SWEEP
    ux, uy = (there[0] - here[0]) / length, (there[1] - here[1]) / length
    middle = ((here[0] + there[0]) / 2, (here[1] + there[1]) / 2)
    centre = (middle[0] - uy * away, middle[1] + ux * away)
    return _arc(here, there, centre, _FLAT_SWEEP)


def _arc(here: Point, there: Point, centre: Point, sweep: float) -> tuple[str, Point]:
    """Return the instruction that draws an arc from where the pen is, and where it comes to.

    The centre of an arc through both points lies on the line that halves them. Of the grid points along
    that line near the true centre the one is taken whose arc ends, and passes its middle, nearest to
    where it ought to.
    """
    ax, ay = centre[0] - (here[0] + there[0]) / 2, centre[1] - (here[1] + there[1]) / 2
    far = math.hypot(ax, ay)
    if far < UNIT:
        ax, ay, far = here[1] - there[1], there[0] - here[0], math.dist(here, there)
    ax, ay = ax / far, ay / far
    half = math.tan(sweep / 4) / 2  # from the middle of the chord to the middle of the arc, by its length
    middle = (
        (here[0] + there[0]) / 2 + (there[1] - here[1]) * half,
        (here[1] + there[1]) / 2 - (there[0] - here[0]) * half,
    )
    # From here on in plotter units.
    hx, hy, tx, ty = here[0] / UNIT, here[1] / UNIT, there[0] / UNIT, there[1] / UNIT
    mx, my, cx, cy = middle[0] / UNIT, middle[1] / UNIT, centre[0] / UNIT, centre[1] / UNIT
    best, at = math.inf, (0, 0)
    for step in _ALONG:
        i, j = round(cx + step * ax), round(cy + step * ay)
        # An arc ends, and passes its middle, at the radius it begins with and at very nearly the right angle.
        radius = math.hypot(hx - i, hy - j)
        error = max(abs(math.hypot(tx - i, ty - j) - radius), abs(math.hypot(mx - i, my - j) - radius))
        if error < best - 1e-7:
            best, at = error, (i, j)
    c = (at[0] * UNIT, at[1] * UNIT)
    turn = math.atan2(there[1] - c[1], there[0] - c[0]) - math.atan2(here[1] - c[1], here[0] - c[0])
    degrees = round(math.degrees(sweep + math.remainder(turn - sweep, 2 * math.pi)), 4)
    turn = math.radians(degrees)
    chords = max(1, math.ceil(abs(turn) / _chord_angle(math.dist(here, c)) - 1e-9))
    words = f"AA{at[0]},{at[1]},{degrees:.4f},{abs(degrees) / chords:.4f};"
    return words, _turned(here, c, turn)


def _chord_angle(radius: float) -> float:
    """Return the angle whose chord errs by no more than is allowed on an arc, radians."""
    share = min(_SHARE, HPGL_CHORD * 0.9 / radius)
    return 2 * math.acos(1.0 - share)


def _turned(point: Point, centre: Point, angle: float) -> Point:
    dx, dy = point[0] - centre[0], point[1] - centre[1]
    cos, sin = math.cos(angle), math.sin(angle)
    return centre[0] + dx * cos - dy * sin, centre[1] + dx * sin + dy * cos


def _on_grid(x: float, y: float) -> tuple[int, int]:
    return round(x / UNIT), round(y / UNIT)
