"""SVG path data as closed and open runs, read strictly: corners and chords, or lines and tangent arcs.

Source: W3C, Scalable Vector Graphics (SVG) 2, chapter 9, Paths, 9.3 (commands and grammar), and appendix
B.2.4 and B.2.5 (an arc's centre from its end points, radii too small), from memory.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.text import quoted
from strapwright.geometry.drawings.gathered import CURVE_CHORD, check_size
from strapwright.geometry.drawings.tangent_arcs import arcs_of, circle_of, is_straight

if TYPE_CHECKING:
    from collections.abc import Callable

    from strapwright.core.arrays import Floats


Cubic = tuple[float, float, float, float, float, float, float, float]
"""Start, two control points and end of a piece of a path; a line has them evenly spread."""


@dataclass(frozen=True)
class Ellipse:
    """Where cubics of a run stand for one arc of an ellipse.

    Args:
        first: place of the first of them.
        count: how many they are.
        sweep: of the arc where the ellipse is a circle of radius 1, radians, positive from x to y.
        shape: (2, 2), from that circle to the ellipse, both round the origin.
    """

    first: int
    count: int
    sweep: float
    shape: Floats


@dataclass(frozen=True)
class PathRun:
    """One run of a path.

    Args:
        cubics: its pieces, lines among them.
        ellipses: which of them stand for an arc.
    """

    cubics: list[Cubic] = field(default_factory=list)
    ellipses: list[Ellipse] = field(default_factory=list)


_NUMBER: Final = r"(?>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)"
_NUMBERS: Final = re.compile(rf"\s*(?:{_NUMBER}(?>\s*,?\s*{_NUMBER})*)?\s*")
_ONE_NUMBER: Final = re.compile(_NUMBER)
_COMMAND: Final = re.compile(r"([MZLHVCSQTA])([^MZLHVCSQTA]*)", re.IGNORECASE)
_BETWEEN: Final = r"\s*,?\s*"
_ARC: Final = re.compile(
    _BETWEEN + _BETWEEN.join(f"({one})" for one in (*[_NUMBER] * 3, "[01]", "[01]", _NUMBER, _NUMBER))
)
_TAKES: Final = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
_ARC_PIECE: Final = math.pi / 12
"""A cubic strays from an arc of 15 degrees by under 1e-8 of its radius."""


def numbers_in(text: str) -> list[float]:
    """Return the numbers of an attribute, divided by blanks or single commas, and nothing else.

    Raises:
        ValueError: there is anything but numbers in it, or one too large to be one.

    Example:
        >>> numbers_in("0, 1.5-2e1"), numbers_in(" ")
        ([0.0, 1.5, -20.0], [])
    """
    if _NUMBERS.fullmatch(text) is None:
        raise ValueError(f"found {quoted(text.strip())}, expected plain numbers")
    numbers = [float(number) for number in _ONE_NUMBER.findall(text)]
    if not all(map(math.isfinite, numbers)):
        raise ValueError(f"found {quoted(text.strip())}, in which a number is too large")
    return numbers


def runs_of(data: str) -> list[PathRun]:
    """Return every run of a path, in the path's own units, and which pieces stand for arcs.

    A run that is closed ends where it starts. A run that is only a place to start from is left out, as it
    draws nothing.

    Raises:
        ValueError: it is no path data.

    Example:
        >>> [(start, end)] = [(run.cubics[0][:2], run.cubics[-1][6:]) for run in runs_of("M1 2h3v4z")]
        >>> start, end
        ((1.0, 2.0), (1.0, 2.0))
    """
    text = data.strip()
    if text and text[0] not in "Mm":
        raise ValueError(f'its path data begins with {quoted(text[:12])}, expected "M" and numbers')
    pen = _Pen()
    for command, written in _COMMAND.findall(text):
        pen.draw(command, written)
    return [run for run in pen.runs if run.cubics]


class _Pen:
    """Follows path data from command to command."""

    def __init__(self) -> None:
        self.runs: list[PathRun] = []
        self._x = self._y = 0.0
        self._start = (0.0, 0.0)
        self._closed = True
        self._reflected = ("", 0.0, 0.0)
        """The kind of curve drawn last, and its last control point."""

    def draw(self, command: str, written: str) -> None:
        """Draw what one letter and the numbers after it say."""
        kind = command.upper()
        relative = command != kind
        try:
            numbers = _arc_numbers(written) if kind == "A" else numbers_in(written)
        except ValueError as error:
            raise ValueError(f'after "{command}" in its path data: {error}') from error
        takes = _TAKES[kind]
        if (takes and (not numbers or len(numbers) % takes)) or (not takes and numbers):
            expected = f"{takes}, or a multiple of it" if takes else "none"
            raise ValueError(
                f'after "{command}" in its path data: found {len(numbers)} numbers, expected {expected}'
            )
        if kind == "Z":
            self._line(*self._start)
            self._closed = True
            return
        for at in range(0, len(numbers), takes):
            dx, dy = (self._x, self._y) if relative else (0.0, 0.0)
            n = numbers[at : at + takes]
            if kind == "M" and at == 0:
                self._x, self._y = self._start = n[0] + dx, n[1] + dy
                self.runs.append(PathRun())
                self._closed = False
                self._reflected = ("", 0.0, 0.0)
                continue
            if self._closed:  # a run that goes on after Z starts where the last one did
                self.runs.append(PathRun())
                self._closed = False
            if kind == "A":
                rx, ry, turn, large, left, x, y = n
                self._arc(rx, ry, turn, large, left, x + dx, y + dy)
                continue
            n = [value + (dy if kind == "V" or place % 2 else dx) for place, value in enumerate(n)]
            match kind:
                case "M" | "L":
                    self._line(*n)
                case "H":
                    self._line(n[0], self._y)
                case "V":
                    self._line(self._x, n[0])
                case "C":
                    self._curve("C", *n)
                case "S":
                    self._curve("C", *self._mirrored("C"), *n)
                case "Q":
                    self._bend(*n)
                case "T":
                    self._bend(*self._mirrored("Q"), *n)

    def _arc(self, rx: float, ry: float, turn: float, large: float, left: float, x: float, y: float) -> None:
        """Draw an arc of an ellipse; one without a radius is a line, one without a length is nothing."""
        x0, y0, rx, ry = self._x, self._y, abs(rx), abs(ry)
        if (x, y) == (x0, y0) or not rx or not ry:
            self._line(x, y)
            return
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        mx, my = (x0 - x) / 2, (y0 - y) / 2
        ux, uy = (c * mx + s * my) / rx, (c * my - s * mx) / ry  # half the chord where the ellipse is round
        half = math.hypot(ux, uy)
        if half > 1:  # radii too small are made as large as they must be
            rx, ry, ux, uy, half = rx * half, ry * half, ux / half, uy / half, 1.0
        rise = math.sqrt(max(1 / (half * half) - 1, 0.0)) * (-1 if large == left else 1)
        ex, ey = rise * uy, -rise * ux
        first, last = math.atan2(uy - ey, ux - ex), math.atan2(-uy - ey, -ux - ex)
        sweep = (last - first) % (2 * math.pi) if left else -((first - last) % (2 * math.pi))
        cx = c * rx * ex - s * ry * ey + (x0 + x) / 2
        cy = s * rx * ex + c * ry * ey + (y0 + y) / 2
        count = max(1, math.ceil(abs(sweep) / _ARC_PIECE))
        step = sweep / count
        pull = 4 / 3 * math.tan(step / 4)

        def place(px: float, py: float) -> tuple[float, float]:
            return cx + c * rx * px - s * ry * py, cy + s * rx * px + c * ry * py

        shape = np.array([(c * rx, -s * ry), (s * rx, c * ry)])
        self.runs[-1].ellipses.append(Ellipse(len(self.runs[-1].cubics), count, sweep, shape))
        for k in range(count):
            a, b = first + k * step, first + (k + 1) * step
            ca, sa, cb, sb = math.cos(a), math.sin(a), math.cos(b), math.sin(b)
            one, two = place(ca - pull * sa, sa + pull * ca), place(cb + pull * sb, sb - pull * cb)
            self._curve("A", *one, *two, *(place(cb, sb) if k < count - 1 else (x, y)))

    def _line(self, x: float, y: float) -> None:
        x0, y0 = self._x, self._y
        tx, ty = (x - x0) / 3, (y - y0) / 3
        self._curve("", x0 + tx, y0 + ty, x - tx, y - ty, x, y)

    def _bend(self, qx: float, qy: float, x: float, y: float) -> None:
        x0, y0 = self._x, self._y
        a, b = (x0 + 2 * qx) / 3, (y0 + 2 * qy) / 3
        self._curve("Q", a, b, (x + 2 * qx) / 3, (y + 2 * qy) / 3, x, y)
        self._reflected = ("Q", qx, qy)

    def _curve(self, kind: str, ax: float, ay: float, bx: float, by: float, x: float, y: float) -> None:
        self.runs[-1].cubics.append((self._x, self._y, ax, ay, bx, by, x, y))
        self._x, self._y, self._reflected = x, y, (kind, bx, by)

    def _mirrored(self, kind: str) -> tuple[float, float]:
        """Return the last control point mirrored at the pen, or the pen after another kind of command."""
        last, x, y = self._reflected
        return (2 * self._x - x, 2 * self._y - y) if last == kind else (self._x, self._y)


def _arc_numbers(text: str) -> list[float]:
    """Return the numbers after A, whose flags may stand without anything between them: ``a5 5 0 01.5.5``."""
    numbers: list[float] = []
    text, at = text.strip(), 0
    while at < len(text):
        match = _ARC.match(text, at)
        if match is None:
            found = quoted(text[at : at + 40].strip())
            raise ValueError(f"found {found}, expected two radii, a turn, two flags 0 or 1, x and y")
        numbers += map(float, match.groups())
        at = match.end()
    if not all(map(math.isfinite, numbers)):
        raise ValueError(f"found {quoted(text)}, in which a number is too large")
    return numbers


def flattened(run: list[Cubic], matrix: Floats, room_for: Callable[[int], None]) -> tuple[Floats, bool]:
    """Return a run's corners in mm, and whether chords stand for curves among them.

    A cubic B strays from a chord of n equal steps by at most max|B″| / (8 n²), and |B″| is at most six times
    the greater second difference of its control points.

    Args:
        run: cubics in the path's units.
        matrix: (3, 3), from there to mm.
        room_for: called with the number of corners before they are made.

    Raises:
        ValueError: it is too large for leather, or no number.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        points = np.array(run).reshape(-1, 4, 2) @ matrix[:2, :2].T + matrix[:2, 2]
        check_size(points.reshape(-1, 2))
    second = np.abs(np.diff(points, 2, axis=1))
    bend = 6 * np.max(np.hypot(second[..., 0], second[..., 1]), axis=1)
    straight = bend < 1e-6
    steps = np.where(straight, 1, np.ceil(np.sqrt(bend / (8 * CURVE_CHORD)))).astype(int).clip(1)
    room_for(int(steps.sum()))
    owner = np.repeat(np.arange(len(steps)), steps)
    number = np.arange(len(owner)) - np.repeat(np.cumsum(steps) - steps, steps) + 1
    t = (number / steps[owner])[:, None]
    u = 1 - t
    a, b, c, d = (points[owner, k] for k in range(4))
    corners = u**3 * a + 3 * u * u * t * b + 3 * u * t * t * c + t**3 * d
    return np.vstack([points[:1, 0], corners]), not bool(straight.all())


def exact(run: PathRun, matrix: Floats, room_for: Callable[[int], None], join: float) -> tuple[Floats, bool]:
    """Return a run as vertices of lines and arcs, in mm, and whether it is closed.

    Arcs that are circular where they lie stay what they are; all other curves become tangent arcs.

    Args:
        run: in the path's units.
        matrix: (3, 3), from there to mm.
        room_for: called with the number of vertices.
        join: nearer than this its ends are one point, mm.

    Raises:
        ValueError: it is too large for leather, or no number.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        points = np.array(run.cubics).reshape(-1, 4, 2) @ matrix[:2, :2].T + matrix[:2, 2]
        check_size(points.reshape(-1, 2))
    closed = bool(np.hypot(*(points[-1, 3] - points[0, 0])) < join)
    round_at = {one.first: one for one in run.ellipses if _is_circular(matrix[:2, :2] @ one.shape)}
    if closed and not round_at:
        drawn = points[np.hypot(*(points[:, 3] - points[:, 0]).T) > 1e-9]  # Z may draw a line of no length
        if not any(is_straight(one) for one in drawn) and (circle := circle_of(drawn)):
            return np.array(circle), True
    way = math.copysign(1.0, float(np.linalg.det(matrix[:2, :2])))
    found: list[tuple[float, float, float]] = []
    at = 0
    while at < len(points):
        if (arc := round_at.get(at)) is not None:
            pieces = 1 if abs(arc.sweep) <= math.pi * (1 + 1e-12) else 2
            bulge = way * math.tan(arc.sweep / pieces / 4)
            found.append((*points[at, 0].tolist(), bulge))
            if pieces == 2:
                found.append((*_halfway(points[at : at + arc.count]), bulge))
            at += arc.count
            continue
        if is_straight(points[at]):
            found.append((*points[at, 0].tolist(), 0.0))
            at += 1
            continue
        until = at + 1
        while until < len(points) and until not in round_at and not is_straight(points[until]):
            until += 1
        curves = points[at:until]
        moving = np.abs(curves - curves[:, :1]).max(axis=(1, 2)) > 1e-9
        found += arcs_of(curves[moving])[:-1] if moving.any() else []
        at = until
    room_for(len(found))
    end = [] if closed else [(*points[-1, 3].tolist(), 0.0)]
    return np.array([*found, *end]).reshape(-1, 3), closed


def _is_circular(shape: Floats) -> bool:
    """Return whether a circle becomes one."""
    square = shape.T @ shape
    size = float(np.trace(square)) / 2
    return bool(abs(square - size * np.eye(2)).max() < 1e-9 * size)


def _halfway(cubics: Floats) -> tuple[float, float]:
    """Return the middle of an arc that cubics stand for."""
    middle = len(cubics) // 2
    if len(cubics) % 2 == 0:
        return float(cubics[middle, 0, 0]), float(cubics[middle, 0, 1])
    a, b, c, d = cubics[middle]
    x, y = (a + 3 * b + 3 * c + d) / 8
    return float(x), float(y)
