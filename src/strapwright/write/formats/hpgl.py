"""Files that drive a plotter: HP-GL, one pen an operation.

Source: HP 7470A plotter manual, "Scaling without SC" (a plotter unit is 0.025 mm); the instructions IN, PA,
PU, PD, AA, SP and VS as HP-GL plotters and cutters take them. The comments stand in HP-GL/2's CO, which
older plotters pass over; NR, "not ready", takes a plotter off the line until somebody sets it going again
(HP-GL/2, from memory).

Coordinates are whole plotter units, but an arc ends where its angle says, grid or no grid. So arcs are
written in pieces, each with the centre, of the grid points near the true one, that brings the pen nearest
to where it ought to come; and a line runs to a grid point that lies on it, nearly, and ends in a short arc
too flat to matter. A blade feels the hundredths of a millimetre that whole units alone would lose.

Some plotters round where each chord of an arc ends, and begin the next arc from there. So all pieces of an
arc but the last end on grid points that lie on it, nearly; and an arc that begins off the grid, where such a
plotter stands elsewhere than another, is begun with a short straight way to a grid point on it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import PlanError
from strapwright.core.tolerances import HPGL_CHORD, HPGL_VERTEX
from strapwright.files.atomic_write import MARK
from strapwright.geometry.batch import Many
from strapwright.machine.toolpath.runs import tool_runs
from strapwright.parts.part import Operation
from strapwright.write.formats.drive import (
    OUTLINE_CHECK,
    change_words,
    corners_round,
    in_machine,
    run_words,
    with_before,
)
from strapwright.write.formats.header import header_lines, holes_to_visit, plain_comment
from strapwright.write.readers.hpgl import pen_words, read_hpgl
from strapwright.write.readers.path import PlannedPath, ReadPath

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from strapwright.core.arrays import Flags, Floats, Ints
    from strapwright.geometry.contour import Contour
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.types import CutSheet


UNIT: Final = 0.025
"""A plotter unit, mm."""

_PIECE: Final = math.radians(30.0)
"""An arc is written in pieces of no more than this: the shorter, the less it matters where the grid puts
its centre."""

_SHORT: Final = 0.35
"""But on the smallest circles a piece may be so long, mm, and twice that angle: few grid points lie there."""

_LEAST_CHORD: Final = math.radians(0.5)
"""Plotters take no smaller chord angle."""

_LEAST_SWEEP: Final = math.radians(0.3)
"""An arc of less is written as a line."""

_FLAT_SWEEP: Final = math.radians(0.6)
"""The sweep of an arc that stands for a line: it rises a 760th of its length."""

_LAST: Final = 1.5
"""The last of a line that is written as a flat arc, mm: at most this."""

_FEW: Final = 40
"""So many grid points along a line are looked at for the one nearest to it."""

_FEW_ON_ARC: Final = 24
"""So many places on an arc are looked at for the grid point nearest to it."""

_NEAR: Final = 0.006
"""A grid point that is said to be on an arc lies no further from it, mm."""

_OFF_GRID: Final = 0.004
"""Where an arc begins no further off the grid than this, it needs no chord to come onto it, mm."""

_A_LITTLE: Final = 0.3
"""A piece's end is looked for so far on either side of where it ought to be, mm."""

_LANDING: Final = 0.1
"""The way to a grid point on a line is no shorter, mm."""

_LANDED: Final = 1.0
"""The chord that an arc is begun with is no longer, mm."""

_SAGITTA: Final = 0.003
"""Nor does it err by more than this, mm."""

_MARGIN: Final = 5
"""An arc's centre is looked for so far round the true one, plotter units."""

_NOTHING: Final = 1e-3
"""A way shorter than this is none, mm."""

_SHARE: Final = 0.002
"""A chord errs by no more than this share of the radius: a blade that swivels feels the least unroundness."""

_ALONG: Final = np.array([0.0, 1.0, -1.0, 2.0, -2.0, 3.0, -3.0, 4.0, -4.0])
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
            PlannedPath(
                pen_words(machine.settings(run.operation).pen), run.track, run_words(run), run.changes(before)
            )
            for before, run in with_before(tool_runs(sheet, machine))
        ]

    def to_text(self, sheet: CutSheet, plan: CutPlan) -> str:
        """Return a sheet as HP-GL; the same sheet gives the same text.

        Raises:
            PlanError: something lies further from the machine's zero than it takes coordinates.
        """
        machine = plan.machine
        _check_reach(sheet, machine)
        lines = _head(sheet, plan)
        pen = 0
        runs = tool_runs(sheet, machine)
        drawn = _drawn([in_machine(run.track, machine.axes) for run in runs], machine.limits.hpgl_units)
        for (before, run), words in zip(with_before(runs), drawn, strict=True):
            if run.changes(before):
                lines += ["PU;", *_comments(change_words(run.tool)), "NR;"]
            settings = machine.settings(run.operation)
            if settings.pen != pen:
                pen, speed = settings.pen, settings.velocity
                lines.append(f"PU;SP{pen};" + ("" if speed is None else f"VS{speed:g};"))
            lines += words
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
            lines = [*_head(sheet, plan, says), "PU;"]
            lines += [f"PU{x:.0f},{y:.0f};" for x, y in _on_grid(np.array(places)).tolist()]
            made[ending] = "\n".join([*lines, "SP0;", ""])
        return made

    def read_back(self, text: str, machine: Machine, face: float = 0.0) -> list[ReadPath]:
        """Read the runs of a text again, arcs as the chords a plotter draws.

        Raises:
            ProofError: the text is cut short or is not what strapwright writes.
        """
        del face
        through = pen_words(machine.settings(Operation.CUT).pen)
        runs = read_hpgl(text, machine.axes, machine.limits.hpgl_units)
        return [replace(run, depth=math.inf) if run.layer == through else run for run in runs]


def _head(sheet: CutSheet, plan: CutPlan, *says: str) -> list[str]:
    """Return how a file begins: what it says of itself, and places counted from the zero."""
    return ["IN;", *_comments((MARK, *header_lines(sheet, plan, Hpgl.name), *says)), "PA;"]


def _comments(lines: Iterable[str]) -> Iterator[str]:
    return (f'CO "{plain_comment(line)}";' for line in lines)


def _check_reach(sheet: CutSheet, machine: Machine) -> None:
    """Refuse a sheet with coordinates that the plotter does not take; each part is named once."""
    units = machine.limits.hpgl_units
    most = units * UNIT
    problems: dict[str, str] = {}
    runs = tool_runs(sheet, machine)
    boxes = Many.of([in_machine(run.track, machine.axes) for run in runs]).boxes
    for run, far in zip(runs, np.abs(boxes).max(axis=1).tolist(), strict=True):
        who = run.path.part_id if run.path is not None else "the stroke that turns the blade"
        if far > most and who not in problems:
            problems[who] = (
                f"{sheet.name}: {who} reaches {far:.1f} mm from the machine's zero, {math.ceil(far / UNIT)} "
                f"plotter units; {machine.name!r} takes {units} in HP-GL, {most:.1f} mm; lay "
                "the hide nearer to the zero, or set limits.hpgl_units to what its manual says"
            )
    if problems:
        raise PlanError("\n".join(problems.values()))


def _drawn(tracks: Sequence[Contour], reach: int) -> list[list[str]]:
    """Return each run's instructions: there with the pen up, along with it down, and up again.

    Where an instruction begins hangs on where the one before it came to. So all runs are gone along
    together: the first piece of each, then the second.

    Args:
        tracks: the runs, in the machine's frame.
        reach: the furthest a coordinate may lie from 0, plotter units.
    """
    if not tracks:
        return []
    segments = Many.of(tracks)
    pieces = _pieces(segments, reach)
    begins = segments.starts[np.cumsum(segments.counts) - segments.counts]
    grid = _on_grid(begins)
    pen = _Pen(grid * UNIT, reach)
    off = np.flatnonzero(_apart(pen.at, begins) > _NOTHING)
    pen.flat(off, begins[off])
    starts = np.cumsum(pieces.counts) - pieces.counts
    for step in range(int(np.max(pieces.counts))):
        runs = np.flatnonzero(pieces.counts > step)
        piece = starts[runs] + step
        away = _apart(pen.at[runs], pieces.ends[piece])
        some = away > _NOTHING
        runs, piece, away = runs[some], piece[some], away[some]
        ends, turns, on_grid = pieces.ends[piece], pieces.turns[piece], pieces.on_grid[piece]
        turned = turns != 0.0
        pen.arc(runs[turned], ends[turned], pieces.centres[piece[turned]], turns[turned])
        strays = (_apart(pen.at[runs], ends) > _OFF_GRID) | (_apart(pen.rounded[runs], ends) > _NOTHING)
        straight = on_grid & (~turned | strays)
        pen.go(runs[straight], _on_grid(ends[straight]))
        line = ~(on_grid | turned)
        long = line & (away > 2 * _LANDING)
        pen.beside(runs[long], ends[long])
        pen.flat(runs[line], ends[line])
    return [
        [f"PU{x:.0f},{y:.0f};", *words[:first], "PD;", *words[first:], "PU;"]
        for (x, y), words, first in zip(
            grid.tolist(), pen.words(), np.isin(np.arange(len(tracks)), off).tolist(), strict=True
        )
    ]


@dataclass(frozen=True)
class _Pieces:
    """The arcs and lines that contours are drawn in, one contour's after another's.

    Attributes:
        ends: where each comes to, (N, 2) mm.
        centres: of those that are arcs, (N, 2) mm.
        turns: their sweeps, 0 where a piece is straight, (N,).
        on_grid: which end on a grid point that lies on an arc, nearly, (N,).
        counts: how many each contour has.
    """

    ends: Floats
    centres: Floats
    turns: Floats
    on_grid: Flags
    counts: Ints


def _pieces(segments: Many, reach: int) -> _Pieces:
    """Return the pieces segments are drawn in.

    Plotters take no chord angle under half a degree and no centre out of their reach, so that a wide arc is
    written chord by chord.
    """
    sweeps, radii, angle = np.abs(segments.sweeps), segments.radii, _chord_angle(segments.radii)
    arcs = sweeps > np.minimum(_LEAST_SWEEP, angle)
    wide = arcs & ((angle < _LEAST_CHORD) | ~_reaches(segments.centres, reach))
    off = _apart(_on_grid(segments.starts) * UNIT, segments.starts) > _OFF_GRID
    landing = np.minimum(_LANDED / radii, np.sqrt(8.0 * _SAGITTA / radii))
    landing[~arcs | wide | ~off | (sweeps <= 2 * landing)] = 0.0
    # Each arc has its landing, and pieces after it; those of a wide arc leave room to look for grid points.
    rest, longest = sweeps - landing, np.where(wide, 0.8 * angle, np.clip(_SHORT / radii, _PIECE, 2 * _PIECE))
    number_of = np.where(arcs, np.maximum(1.0, np.ceil(rest / longest - 0.05)), 1.0).astype(np.int64)
    lands = landing > 0.0
    counts = number_of + lands
    of = np.repeat(np.arange(len(counts)), counts)
    number = np.arange(len(of)) - np.repeat(np.cumsum(counts) - counts - ~lands, counts)
    each = rest / number_of
    # How far along its arc each ends, and how far on either side of that a grid point is looked for.
    done = np.where(number == number_of[of], sweeps[of], landing[of] + each[of] * number)
    room = np.where(wide, 0.1 * angle, np.maximum(each / 8, np.minimum(_A_LITTLE / radii, each / 4)))[of]
    first = number == 0
    room[first] = done[first] / 4
    done[first] -= room[first]
    ends, on_grid = segments.ends[of], np.zeros(len(of), dtype=np.bool_)
    inner = np.flatnonzero(number < number_of[of])
    for again in (False, True):
        if again:  # an arc that begins along the grid may have no point of it so near: a little further on
            inner = np.flatnonzero(first & ~on_grid)
            done[inner], room[inner] = 1.3 * landing[of[inner]], 0.3 * landing[of[inner]]
        mine = of[inner]
        way = np.sign(segments.sweeps[mine])
        here = segments.starts[mine] - segments.centres[mine]
        turns = np.arctan2(here[:, 1], here[:, 0]) + way * done[inner]
        ends[inner], turned, on_grid[inner] = _on_arcs(
            segments.centres[mine], radii[mine], turns, room[inner]
        )
        done[inner] += way * turned
    kept = on_grid | ~first
    ends, on_grid, first, of, done = ends[kept], on_grid[kept], first[kept], of[kept], done[kept]
    before = np.where(np.diff(of, prepend=-1) == 0, np.append(0.0, done[:-1]), 0.0)
    turns = np.where(wide[of] | first | ~arcs[of], 0.0, (done - before) * np.sign(segments.sweeps[of]))
    turns[np.abs(turns) < _LEAST_SWEEP] = 0.0
    contour_of = np.repeat(np.arange(len(segments.counts)), segments.counts)[of]
    return _Pieces(
        ends, segments.centres[of], turns, on_grid, np.bincount(contour_of, minlength=len(segments.counts))
    )


def _on_arcs(centres: Floats, radii: Floats, turns: Floats, room: Floats) -> tuple[Floats, Floats, Flags]:
    """Return a grid point on each arc, nearly, that lies about where it is wanted.

    Args:
        centres: of the arcs, (N, 2) mm.
        radii: of the arcs, (N,) mm.
        turns: where the points are wanted, (N,) radians.
        room: on either side of there, (N,) radians.

    Returns:
        The points, mm; how far each is turned on from where it was wanted; and which lie on the grid. Where
        no grid point lies near the arc it is the point wanted.
    """
    looked = turns + np.linspace(-1.0, 1.0, _FEW_ON_ARC)[:, None] * room
    rays = np.stack([np.cos(looked), np.sin(looked)], axis=-1)
    grid = _on_grid(centres + radii[:, None] * rays) * UNIT
    off = np.abs(_apart(centres, grid) - radii)
    best = _least(off, 1e-9)
    each = np.arange(len(turns))
    found = off[best, each] < _NEAR
    points = centres + radii[:, None] * np.column_stack([np.cos(turns), np.sin(turns)])
    points[found] = grid[best, each][found]
    dx, dy = (points - centres).T
    on = np.arctan2(dy, dx) - turns
    on -= 2 * np.pi * np.rint(on / (2 * np.pi))
    return points, on, found


class _Pen:
    """Where the pen is on every run, and the instructions written so far.

    Args:
        at: where it is let down, (R, 2) mm.
        reach: the furthest a coordinate may lie from 0, plotter units.
    """

    def __init__(self, at: Floats, reach: int) -> None:
        self.at = at
        self.rounded = at.copy()  # of a plotter that ends arcs on the grid
        self._reach = reach
        self._written: list[tuple[Ints, Floats]] = []

    def words(self) -> list[list[str]]:
        """Return every run's instructions in their order."""
        words: list[list[str]] = [[] for _ in self.at]
        for runs, numbers in self._written:
            if numbers.shape[1] == 2:
                for run, (x, y) in zip(runs.tolist(), numbers.tolist(), strict=True):
                    words[run].append(f"PA{x:.0f},{y:.0f};")
                continue
            for run, (x, y, sweep, chord) in zip(runs.tolist(), numbers.tolist(), strict=True):
                words[run].append(f"AA{x:.0f},{y:.0f},{sweep:.4f},{chord:.4f};")
        return words

    def go(self, runs: Ints, grid: Floats) -> None:
        """Draw lines to grid points."""
        if len(runs):
            self._written.append((runs, grid))
            self.at[runs] = self.rounded[runs] = grid * UNIT

    def beside(self, runs: Ints, ends: Floats) -> None:
        """Draw lines to the grid points nearest to them, of those shortly before their ends."""
        if not len(runs):
            return
        here = self.at[runs]
        length = _apart(here, ends)
        along = (ends - here) / length[:, None]
        before = np.minimum(_LAST, length / 2) + UNIT * np.arange(_FEW)[:, None]
        grid = _on_grid(ends - before[..., None] * along)
        off = np.abs(
            (grid[..., 0] * UNIT - ends[:, 0]) * along[:, 1]
            - (grid[..., 1] * UNIT - ends[:, 1]) * along[:, 0]
        )
        off[length - before < _LANDING] = np.inf
        self.go(runs, grid[_least(off, 1e-9), np.arange(len(runs))])

    def flat(self, runs: Ints, there: Floats) -> None:
        """Draw arcs so flat that they are lines, to points off the grid.

        In the very corner of what the plotter takes, where it reaches the centre on neither side, it goes
        straight to the grid point nearest.
        """
        here = self.at[runs]
        length = _apart(here, there)[:, None]
        left = np.column_stack([here[:, 1] - there[:, 1], there[:, 0] - here[:, 0]]) / length
        middle, away = (here + there) / 2, left * (length / _FLAT_SWEEP)
        one, other = (_reaches(middle + side, self._reach) for side in (away, -away))
        sweeps = np.where(one, _FLAT_SWEEP, -_FLAT_SWEEP)
        some = one | other
        centres = middle + np.where(one[:, None], away, -away)
        self.arc(runs[some], there[some], centres[some], sweeps[some])
        self.go(runs[~some], _on_grid(there[~some]))

    def arc(self, runs: Ints, there: Floats, centres: Floats, sweeps: Floats) -> None:
        """Draw arcs from where the pen is.

        The centre of an arc through both points lies on the line that halves them. Of the grid points along
        that line near the true centre the one is taken whose arc ends, and passes its middle, nearest to
        where it ought to.
        """
        if not len(runs):
            return
        here = self.at[runs]
        chord = there - here
        left = np.column_stack([-chord[:, 1], chord[:, 0]])
        axis = centres - (here + there) / 2
        far = np.hypot(*axis.T)
        near = far < UNIT
        axis[near], far[near] = left[near], np.hypot(*chord[near].T)
        axis /= far[:, None]
        # From the middle of the chord to the middle of the arc, by its length.
        half = (np.tan(sweeps / 4) / 2)[:, None]
        middle = (here + there) / 2 - left * half
        # In plotter units.
        grid = np.rint(centres / UNIT + _ALONG[:, None, None] * axis) + 0.0
        # An arc ends, and passes its middle, at the radius it begins with and at very nearly the right angle.
        radius, end, half_way = (_apart(place / UNIT, grid) for place in (here, there, middle))
        error = np.maximum(np.abs(end - radius), np.abs(half_way - radius))
        centre = grid[_least(error, 1e-7), np.arange(len(runs))]
        c = centre * UNIT
        (hx, hy), (tx, ty) = (here - c).T, (there - c).T
        over = np.arctan2(ty, tx) - np.arctan2(hy, hx) - sweeps
        over -= 2 * np.pi * np.rint(over / (2 * np.pi))
        degrees = np.round(np.degrees(sweeps + over), 4)
        turn = np.radians(degrees)
        chords = np.maximum(1.0, np.ceil(np.abs(turn) / _chord_angle(_apart(here, c)) - 1e-9))
        self._written.append((runs, np.column_stack([centre, degrees, np.abs(degrees) / chords])))
        self.at[runs] = _turned(here, c, turn)
        self.rounded[runs] = _on_grid(_turned(self.rounded[runs], c, turn)) * UNIT


def _reaches(centres: Floats, reach: int) -> Flags:
    """Return whether arcs may be drawn about points, or about ones near them."""
    within: Flags = np.abs(centres).max(axis=1) / UNIT <= reach - _MARGIN
    return within


def _least(errors: Floats, by: float) -> Ints:
    """Return the row of each column's least error, (N,); a later one must be less by more than ``by``."""
    best, at = errors[0].copy(), np.zeros(errors.shape[1], dtype=np.int64)
    for row in range(1, len(errors)):
        better = errors[row] < best - by
        best[better] = errors[row, better]
        at[better] = row
    return at


def _chord_angle(radii: Floats) -> Floats:
    """Return the angles whose chords err by no more than is allowed on arcs, radians."""
    share = np.minimum(_SHARE, HPGL_CHORD * 0.9 / radii)
    return 2 * np.arccos(1.0 - share)


def _turned(points: Floats, centres: Floats, angles: Floats) -> Floats:
    (dx, dy), cos, sin = (points - centres).T, np.cos(angles), np.sin(angles)
    return np.column_stack([centres[:, 0] + dx * cos - dy * sin, centres[:, 1] + dx * sin + dy * cos])


def _apart(one: Floats, other: Floats) -> Floats:
    way = other - one
    return np.hypot(way[..., 0], way[..., 1])


def _on_grid(points: Floats) -> Floats:
    return np.rint(points / UNIT) + 0.0  # no minus zero
