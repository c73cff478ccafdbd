"""A reader of G-code of our own: what a controller would do, and whether that is safe.

Source: NISTIR 6556, "The NIST RS274NGC Interpreter, Version 3": sections 3.3 (lines, words, comments), 3.5.1
to 3.5.3 (G0 to G3; in 3.5.3 an arc whose radii at its start and its end differ by more than 0.002 mm is
an error), 3.6.1 (M0), 3.6.2 (M3 to M5) and table 8 (the order in which the words of a line are carried out).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import ProofError
from strapwright.core.tolerances import CLEARANCE
from strapwright.core.units import MM_PER_INCH
from strapwright.machine.profile.tool_keys import Laser
from strapwright.write.readers.path import ReadPath, contours_of, feed_words

if TYPE_CHECKING:
    from strapwright.machine.profile.machine import Axes, Machine
    from strapwright.rules.safety import CutterKind

_COMMENT: Final = re.compile(r"\([^()]*\)")
_WORD: Final = re.compile(r"([A-Z])([+-]?(?:\d++\.?\d*+|\.\d++))")
_VALUES: Final = frozenset("XYZIJFS")
_AXES: Final = ("X", "Y", "Z")
_SET_FIRST: Final = frozenset({"G17", "G90"})
_RADII: Final = {1.0: 0.002, MM_PER_INCH: 0.0002 * MM_PER_INCH}
"""How far an arc's radii may differ, mm, by the units in force."""

_TURN: Final = 2 * math.pi
_QUARTERS: Final = tuple(
    (angle, math.cos(angle), math.sin(angle)) for angle in (0.0, 0.25 * _TURN, 0.5 * _TURN, 0.75 * _TURN)
)
"""The angles at which a circle goes furthest along an axis, and their cosine and sine."""

_HALF_A_DIGIT: Final = 0.0051
"""An S word is written with two decimals, and may so be this much over what was meant."""


def read_gcode(
    text: str, kind: CutterKind, axes: Axes, within: Machine | None = None, face: float = 0.0
) -> list[ReadPath]:
    r"""Return every run of the tool, in order, in bed mm; a run's layer is the words that drive it.

    Args:
        text: the file.
        kind: of the machine it is for.
        axes: the machine's, to turn its numbers back into the bed's.
        within: the machine whose bed, heights and power nothing may leave, travel and the middles of
            arcs included; None checks none of them.
        face: height of the leather's face above a knife's z zero, mm; a blade below it is in the leather.

    Raises:
        ProofError: something the standard does not allow, strapwright never writes, or that would hurt:
            a rapid with the beam on or the blade down, a spindle started with a blade in it, a place or
            a power the machine does not have.

    Example:
        >>> from strapwright.machine.profile.machine import Axes
        >>> read_gcode("G21 G17 G90\nM5\nG0 X0 Y0\nM3 S9\nG0 X5\n", "laser", Axes(0, 0, 1, 1))
        Traceback (most recent call last):
        ...
        strapwright.core.errors.ProofError: line 5 of the G-code travels with the beam on
    """
    reader = _Reader(kind, axes, within, face)
    for number, line in enumerate(text.splitlines(), 1):
        reader.take(line, f"line {number} of the G-code")
    return reader.done()


@dataclass(frozen=True)
class _Run:
    """A run as the machine counts: its vertices, what `ReadPath` says of it, and the line that ends it."""

    vertices: list[tuple[float, float, float]]
    layer: str
    depth: float
    after_stop: bool
    ends: str


class _Reader:
    """A controller's state: what is in force, where it stands, and the runs so far."""

    def __init__(self, kind: CutterKind, axes: Axes, within: Machine | None, face: float) -> None:
        self._kind, self._axes, self._within, self._face = kind, axes, within, face
        self._scale = 0.0
        self._modes: set[str] = set()
        self._feed = self._power = 0.0
        self._beam: bool | None = None  # None until the first M word
        self._place: dict[str, float] = {}
        self._run: list[tuple[float, float, float]] = []
        self._run_feed = self._depth = 0.0  # of the run in hand
        self._runs: list[_Run] = []
        self._ended = self._stopped = False
        laser = within.laser if within is not None else Laser()
        self._beam_words = {"M3", *([laser.dynamic_power] if within is not None else ["M4"])}
        lines = () if within is None else (*within.gcode.start, *within.gcode.end)
        beside = (laser.air_on, laser.air_off, laser.pointer_on, laser.pointer_off)
        bed = (math.inf, math.inf) if within is None else within.bed
        self._beds = (("X", axes.x_zero, axes.x_sign, bed[0]), ("Y", axes.y_zero, axes.y_sign, bed[1]))
        blade = None if within is None else within.blade
        self._heights = None if blade is None else blade.heights
        self._own = {_bare(line) for line in (*lines, *beside) if line is not None}

    def take(self, line: str, where: str) -> None:
        """Carry out one line."""
        bare = _bare(line)
        if not bare:
            return
        if bare in self._own:
            if self._beam is not False or self._ended:
                raise ProofError(f'{where}: "{line[:40]}" of the profile stands where the tool is not off')
            return
        words = _WORD.findall(bare)
        if "".join(map("".join, words)) != bare:  # something stands between words
            raise ProofError(f'{where}: found "{line[:40]}", expected words of a letter and a number')
        values: dict[str, float] = {}
        codes = []
        for letter, value in words:
            if letter in "GM":
                codes.append(letter + (value.lstrip("0") or "0"))
            else:
                values[letter] = float(value)
        if self._ended or not values.keys() <= _VALUES:
            raise ProofError(f'{where}: found "{line[:40]}" after the end or beyond what strapwright writes')
        if "F" in values:
            self._feed = values["F"] * (self._scale or 1.0)
        if "S" in values:
            if self._kind != "laser":
                raise ProofError(f"{where} sets a speed of the spindle, which has a blade in it")
            self._power = values["S"]
            most = None if self._within is None else self._within.max_power or 0.0
            if most is not None and not 0 <= self._power <= most + _HALF_A_DIGIT:
                raise ProofError(f"{where} sets power S{self._power:g}; the machine takes 0 to {most:g}")
        motion = ""
        for code in codes:
            motion = self._code(code, where) or motion
        if "X" in values or "Y" in values or "Z" in values:
            if not motion:
                raise ProofError(f"{where} names a place and no motion")
            self._move(motion, values, where)

    def done(self) -> list[ReadPath]:
        """Return the runs of a text that came to its end."""
        if not self._ended:
            raise ProofError("the G-code ends too soon: no M2 at its end; write it again")
        if self._beam:
            raise ProofError("the G-code ends with the beam on; write it again")
        if self._place.get("Z", math.inf) < self._face:
            raise ProofError("the G-code ends with the blade down; write it again")
        return self._in_bed()

    def _code(self, code: str, where: str) -> str:
        """Take a G or M word; return it if it is a motion."""
        if code in ("G0", "G1", "G2", "G3"):
            return code
        if code in ("G20", "G21"):
            if self._place:
                raise ProofError(f"{where} changes the units on the way")
            self._scale = 1.0 if code == "G21" else MM_PER_INCH
        elif code in self._beam_words:
            if self._kind != "laser":
                raise ProofError(f"{where} starts the spindle, which has a blade in it")
            if self._beam is None:
                raise ProofError(f"{where} turns the beam on before M5 has turned it off")
            self._beam = True
        elif code == "M5":
            self._beam = False
            self._finish(where)
        elif code == "M0":
            if self._beam is not False or (
                self._kind != "laser" and self._place.get("Z", -1.0) <= self._face
            ):
                raise ProofError(f"{where} stops with the tool on, or in the leather")
            self._finish(where)
            self._stopped = True
        elif code == "M2":
            self._finish(where)
            self._ended = True
        elif code not in ("G17", "G90"):
            raise ProofError(f"{where} holds {code}, which strapwright never writes")
        self._modes.add(code)
        return ""

    def _move(self, motion: str, values: dict[str, float], where: str) -> None:
        if not self._scale or not self._modes >= _SET_FIRST or self._beam is None:
            raise ProofError(f"{where} moves before units, plane, distances and M5 are set")
        before = dict(self._place)
        for axis in _AXES:
            if axis in values:
                self._place[axis] = values[axis] * self._scale
        sideways = "X" in values or "Y" in values
        sweep = 0.0
        if motion in ("G2", "G3"):
            centre, sweep = self._arc(motion, before, values, where)
            self._check_reach(_extremes(before, centre, sweep), where)
        self._check_reach([self._place], where)
        if motion == "G0":
            self._rapid(before, where, sideways=sideways)
            return
        if self._feed <= 0:
            raise ProofError(f"{where} moves without a feed")
        if not self._cutting(where, before):
            self._finish(where)
            return
        if not sideways:
            self._finish(where)  # a blade that goes deeper, or is raised, begins another run
            return
        if self._kind != "laser" and "Z" in values:
            raise ProofError(f"{where} goes along and down at once; strapwright writes none")
        if "X" not in before or "Y" not in before:
            raise ProofError(f"{where} cuts from a place that is not known")
        start, end = (before["X"], before["Y"]), (self._place["X"], self._place["Y"])
        bulge = math.tan(sweep / 4)
        if not self._run:
            self._run.append((*start, bulge))
            self._run_feed = self._feed
            self._depth = 0.0 if self._kind == "laser" else self._face - self._place["Z"]
        elif self._feed != self._run_feed:
            raise ProofError(f"{where} changes the feed on the way; strapwright never does")
        else:
            self._run[-1] = (*self._run[-1][:2], bulge)
        self._run.append((*end, 0.0))

    def _rapid(self, before: dict[str, float], where: str, *, sideways: bool) -> None:
        if self._beam:
            raise ProofError(f"{where} travels with the beam on")
        if self._kind != "laser" and sideways and before.get("Z", -math.inf) <= self._face:
            raise ProofError(f"{where} travels with the blade down, or before it was lifted")
        if self._kind != "laser" and self._place.get("Z", math.inf) <= self._face:
            raise ProofError(f"{where} drops the blade at full speed")
        self._finish(where)

    def _cutting(self, where: str, before: dict[str, float]) -> bool:
        """Whether the tool is in the leather now: the beam is on, or the blade below its face."""
        if self._kind == "laser":
            return bool(self._beam) and self._power > 0
        if "Z" not in before or "Z" not in self._place:
            raise ProofError(f"{where} moves before the blade was lifted")
        return self._place["Z"] < self._face

    def _check_reach(self, places: list[dict[str, float]], where: str) -> None:
        """Refuse a place, in the machine's millimetres, that the machine does not have."""
        if self._within is None:
            return
        for place in places:
            for axis, zero, sign, bed in self._beds:
                if axis not in place:
                    continue
                at = zero + sign * place[axis]
                if not -CLEARANCE <= at <= bed + CLEARANCE:
                    raise ProofError(
                        f"{where} goes to {at:.3f} mm along the bed's {axis.lower()}, "
                        f"which reaches from 0 to {bed:g} mm"
                    )
            if self._heights is None:
                continue
            least, most = self._heights
            at = place.get("Z", most)
            if not least - CLEARANCE <= at <= most + CLEARANCE:
                raise ProofError(
                    f"{where} goes to Z {at:.3f} mm; the blade goes from {least:g} to {most:g} mm"
                )

    def _arc(
        self, motion: str, before: dict[str, float], values: dict[str, float], where: str
    ) -> tuple[tuple[float, float], float]:
        """Return the centre of an arc given by its end and the way to its centre, and its sweep, radians."""
        if "X" not in values or "Y" not in values or not ("I" in values or "J" in values):
            raise ProofError(f"{where} is an arc without its end or its centre")
        if "X" not in before or "Y" not in before:
            raise ProofError(f"{where} is an arc from a place that is not known")
        start, end = (before["X"], before["Y"]), (self._place["X"], self._place["Y"])
        centre = (
            start[0] + values.get("I", 0.0) * self._scale,
            start[1] + values.get("J", 0.0) * self._scale,
        )
        one, other = math.dist(start, centre), math.dist(end, centre)
        if abs(one - other) > _RADII[self._scale]:
            raise ProofError(
                f"{where}: the arc's radius is {one:.4f} mm at its start and {other:.4f} mm at its end; "
                f"they may differ by {_RADII[self._scale]:.4g} mm"
            )
        turn = math.atan2(end[1] - centre[1], end[0] - centre[0]) - math.atan2(
            start[1] - centre[1], start[0] - centre[0]
        )
        if start == end:
            raise ProofError(f"{where} is an arc from a place to itself; strapwright writes none")
        return centre, turn % (2 * math.pi) if motion == "G3" else -(-turn % (2 * math.pi))

    def _finish(self, where: str) -> None:
        """Put the run that ends here away, in bed millimetres."""
        if not self._run:
            return
        power = self._power if self._kind == "laser" else None
        words = feed_words(self._run_feed, power, self._depth)
        self._runs.append(_Run(self._run, words, self._depth, self._stopped, where))
        self._run, self._stopped = [], False

    def _in_bed(self) -> list[ReadPath]:
        """Return the runs in bed millimetres."""
        if not self._runs:
            return []
        axes = self._axes
        x, y, bulge = np.array([vertex for run in self._runs for vertex in run.vertices]).T
        turn = -1.0 if axes.x_sign * axes.y_sign < 0 else 1.0
        x, y = axes.x_zero + axes.x_sign * x, axes.y_zero + axes.y_sign * y
        vertices = np.column_stack([x, y, turn * bulge])
        counts = [len(run.vertices) for run in self._runs]
        closed = [False] * len(counts)
        contours = contours_of(
            vertices, counts, closed, lambda number: f"the run before {self._runs[number].ends}"
        )
        return [
            ReadPath(run.layer, contour, run.depth, run.after_stop)
            for run, contour in zip(self._runs, contours, strict=True)
        ]


def _bare(line: str) -> str:
    """Return a line without comments and blanks, in capitals."""
    bare = _COMMENT.sub("", line) if "(" in line else line
    return bare.replace(" ", "").upper()


def _extremes(start: dict[str, float], centre: tuple[float, float], sweep: float) -> list[dict[str, float]]:
    """Return where an arc goes furthest along an axis on its way, its ends left out."""
    radius = math.hypot(start["X"] - centre[0], start["Y"] - centre[1])
    begin = math.atan2(start["Y"] - centre[1], start["X"] - centre[0])
    return [
        {"X": centre[0] + radius * cos, "Y": centre[1] + radius * sin}
        for angle, cos, sin in _QUARTERS
        if (angle - begin if sweep > 0 else begin - angle) % _TURN < abs(sweep)
    ]
