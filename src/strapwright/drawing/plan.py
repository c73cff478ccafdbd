"""A picture of a plan: the cuts in their order on the bed, where the tool goes in, and its travel."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Final

from strapwright.core.text import counted, one_line
from strapwright.drawing.canvas import Canvas, Path, cross, polygon, polyline
from strapwright.drawing.layout.elements import Frame, text
from strapwright.drawing.looks import Look
from strapwright.drawing.text import shortened, text_width
from strapwright.geometry.shapes import rectangle
from strapwright.machine.duration import clock
from strapwright.machine.types import HOLE_NAMES
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.drawing.canvas import Item
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.duration import Move
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.types import CutSheet

    _Cells = dict[tuple[int, int], list[tuple[float, float, float, float]]]

WIDTH: Final = 1000.0
"""Width of the picture, px."""

_EDGE: Final = 24.0
_TALLEST: Final = 900.0
_DASHES: Final = {Operation.CUT: (), Operation.SCORE: (5, 2), Operation.PUNCH: (1.5, 1.5)}
_NUMBER: Final = 9.0
"""Size of the paths' numbers, px."""

_WORDS: Final = 12.0
_ROW: Final = 16.0
_COLUMNS: Final = 2
_ARROW: Final = 4.0
"""Half the length of the sign where the tool goes in, px; smaller on a small path."""

_WHOLE_BED: Final = 0.85
"""The whole bed is drawn where cuts drawn by themselves would not be larger than so much of it allows."""


def plan_picture(plan: CutPlan) -> Canvas:
    """Draw a plan, every sheet below the one before, all to one scale.

    Returns:
        A canvas 1000 px wide: each operation in its own colour and dash, numbered in cutting order
        where there is room for a number; the travel in thin grey.
    """
    return _document(plan, list(zip(plan.sheets, plan.moves, strict=True)))


def plan_pages(plan: CutPlan) -> list[Canvas]:
    """Draw a plan, each sheet on a canvas of its own, all to one scale."""
    return [_document(plan, [one]) for one in zip(plan.sheets, plan.moves, strict=True)]


def _document(plan: CutPlan, sheets: Sequence[tuple[CutSheet, Sequence[Move]]]) -> Canvas:
    items: list[Item] = []
    boxes = [_box(sheet) for sheet in plan.sheets]
    wide = max((x1 - x0 for x0, _, x1, _ in boxes), default=1.0)
    high = max((y1 - y0 for _, y0, _, y1 in boxes), default=1.0)
    y = 12.0
    for sheet, moves in sheets:
        y = _draw(items, sheet, moves, plan.machine, _scale(wide, high), y)
    height = _key(items, plan, y + 14) + 18
    colours = {one: plan.machine.settings(one).color.lower() for one in Operation}
    looks = {
        _look(plan.machine, one): Look(stroke=colour, width=1.2, dashes=_DASHES[one])
        for one, colour in colours.items()
    }
    title = one_line(plan.job_name) or "plan"
    return Canvas(WIDTH, round(height), title, items, paper="sheet", own=looks)


def _look(machine: Machine, operation: Operation) -> str:
    """Return the name of an operation's look, by its colour: two machines' plans may stand in one page."""
    return f"{operation}-{machine.settings(operation).color.lower().removeprefix('#')}"


def _key(items: list[Item], plan: CutPlan, y: float) -> float:
    """Say what lines and signs mean; return where the last of it stands, px."""
    x = _EDGE
    lines = [(_look(plan.machine, one), str(one), 110) for one in Operation]
    for look, words, wide in (*lines, ("travel", "travel, tool off", 165)):
        items += [polyline(look, (x, y), (x + 40, y)), text(x + 48, y + 4, words, _WORDS)]
        x += wide
    items += [_arrow(x + 6, y, 0.0), text(x + 18, y + 4, "the tool goes in", _WORDS)]
    if plan.machine.blade is not None:
        x += 135
        items.append(polyline("turns", (x, y), (x + 40, y)))
        items.append(text(x + 48, y + 4, "the blade is turned: lead-in, swivel", _WORDS))
    told = "Numbers are the cutting order; one that would lie on another is left out."
    items.append(text(_EDGE, y + 4 + _ROW, told, _WORDS))
    return y + _ROW


def _box(sheet: CutSheet) -> tuple[float, float, float, float]:
    """Return what is drawn of a sheet: the bed, or as far as its paths reach where that makes them larger."""
    boxes = [path.contour.bounding_box for path in sheet.paths]
    x0, y0 = min(box[0] for box in boxes), min(box[1] for box in boxes)
    x1, y1 = max(box[2] for box in boxes), max(box[3] for box in boxes)
    if _scale(sheet.width, sheet.height) < _WHOLE_BED * _scale(x1 - x0, y1 - y0):
        return x0, y0, x1, y1
    return min(x0, 0.0), min(y0, 0.0), max(x1, sheet.width), max(y1, sheet.height)


def _scale(wide: float, high: float) -> float:
    """Return how many px a millimetre may be."""
    return min((WIDTH - 2 * _EDGE) / max(wide, 1.0), _TALLEST / max(high, 1.0))


def _draw(
    items: list[Item], sheet: CutSheet, moves: Sequence[Move], machine: Machine, scale: float, top: float
) -> float:
    """Draw one sheet with its head and what is cut when; return where free room begins below, px."""
    x0, y0, x1, y1 = box = _box(sheet)
    took = f", about {clock(moves[-1].ends)}" if moves else ""
    head = f"{sheet.name}: {counted(len(sheet.paths), 'path')}{took}, {one_line(machine.name)}"
    shown = f"The machine shows {machine.frame}, {machine.frame_axes}."
    items.append(text(_EDGE, top + 22, shortened(head, WIDTH - 2 * _EDGE, 15, bold=True), 15, bold=True))
    items.append(text(_EDGE, top + 36, shown, _WORDS))
    frame = Frame(x0, y1, _EDGE, top + 58, scale)
    if x1 - x0 >= sheet.width - 1e-6:
        items.append(Path((frame.contour(rectangle(0, 0, sheet.width, sheet.height)),), "bed"))
        items += _origin(machine, frame)
    items += _ways(moves, frame, box)
    for path in sheet.paths:
        items.append(Path((frame.contour(path.contour),), _look(machine, path.operation)))
    items += _entries(moves, frame)
    for name, hole in zip(HOLE_NAMES, sheet.window.holes if sheet.window else (), strict=False):
        x, y = frame.point(*hole)
        items.append(cross("pin", x, y, 6))
        items.append(text(x + 8, y - 3, f"hole {name}", _NUMBER, bold=True))
    return _parts(items, moves, top + 58 + scale * (y1 - y0) + 18)


def _origin(machine: Machine, frame: Frame) -> Iterator[Item]:
    """Yield the machine's own origin, with an arrow along each of its axes."""
    axes = machine.axes
    x, y = frame.point(axes.x_zero, axes.y_zero)
    dx, dy = 26.0 * axes.x_sign, -26.0 * axes.y_sign
    yield polyline("origin", (x + dx, y), (x, y), (x, y + dy))
    yield _arrow(x + dx, y, 0.0 if dx > 0 else math.pi)
    yield _arrow(x, y + dy, math.pi / 2 if dy > 0 else -math.pi / 2)
    inward = 1 if axes.x_zero == 0.0 else -1
    below = 1 if axes.y_zero > 0.0 else -1
    yield text(x + 18 * inward, y + 16 * below, "0, 0", _NUMBER, middle=True, bold=True)


def _ways(moves: Sequence[Move], frame: Frame, box: tuple[float, float, float, float]) -> Iterator[Item]:
    """Yield travel, and what a blade does to turn; nothing that begins off the picture."""
    for move in moves:
        if move.track is None:
            continue
        if move.run is not None:
            if move.run.turns and not move.run.passes_done:
                yield Path((frame.contour(move.track),), "turns")
            continue
        (xa, ya), (xb, yb) = move.track.starts[0].tolist(), move.track.ends[-1].tolist()
        if not (box[0] - 1 <= xa <= box[2] + 1 and box[1] - 1 <= ya <= box[3] + 1):
            continue
        (px, py), (qx, qy) = frame.point(xa, ya), frame.point(xb, yb)
        yield polyline("travel", (px, py), (qx, qy))
        if math.dist((px, py), (qx, qy)) > 30:
            yield _arrow((px + qx) / 2, (py + qy) / 2, math.atan2(qy - py, qx - px), "travel-head", 3.0)


def _entries(moves: Sequence[Move], frame: Frame) -> Iterator[Item]:
    """Yield where the tool goes in for each path, and its number where there is room for it."""
    entries: list[tuple[Move, float, float, float]] = []
    for move in moves:
        if move.run is None or move.track is None or move.number <= (entries[-1][0].number if entries else 0):
            continue
        ahead = move.track.point_at(min(0.5, move.track.length / 2))
        (x, y), (px, py) = frame.point(*move.track.starts[0].tolist()), frame.point(*ahead)
        entries.append((move, x, y, math.atan2(py - y, px - x)))
    taken: _Cells = {}  # what numbers keep clear of: a middle, half a width, half a height
    for _, x, y, _ in entries:
        taken.setdefault(_cell(x, y), []).append((x, y, 3.0, 3.0))
    for move, x, y, angle in entries:
        yield _arrow(x, y, angle, size=_arrow_size(move, frame))
        half = text_width(str(move.number), _NUMBER) / 2 + 1
        for at in _beside(move, (x, y), half, frame):
            if not any(
                abs(at[0] - u) < half + wide and abs(at[1] - v) < _NUMBER / 2 + high
                for u, v, wide, high in _near(taken, *at)
            ):
                taken.setdefault(_cell(*at), []).append((*at, half, _NUMBER / 2))
                yield text(*at, str(move.number), _NUMBER, middle=True)
                break


def _cell(x: float, y: float) -> tuple[int, int]:
    """Return the cell a point lies in; cells are wider and higher than any number."""
    return int(x // 50), int(y // 25)


def _near(taken: _Cells, x: float, y: float) -> Iterator[tuple[float, float, float, float]]:
    """Yield what stands in a point's cell and in those round it."""
    column, row = _cell(x, y)
    for i in (column - 1, column, column + 1):
        for j in (row - 1, row, row + 1):
            yield from taken.get((i, j), ())


def _arrow_size(move: Move, frame: Frame) -> float:
    """Return how large the sign of an entry is: smaller than a small hole, px."""
    if move.run is None or move.run.path is None:
        return _ARROW
    x0, y0, x1, y1 = move.run.path.contour.bounding_box
    return max(1.5, min(_ARROW, 0.3 * frame.scale * max(x1 - x0, y1 - y0)))


def _beside(
    move: Move, entry: tuple[float, float], half: float, frame: Frame
) -> Iterator[tuple[float, float]]:
    """Yield where the middle of a path's number may stand, the best first: outside it, then all round."""
    assert move.run is not None
    path = move.run.path
    ways = [(1.0, -1.0), (-1.0, -1.0), (1.0, 1.0), (-1.0, 1.0), (0.0, -1.0), (0.0, 1.0)]
    if path is not None and path.contour.closed:
        x0, y0, x1, y1 = path.contour.bounding_box
        x, y = frame.point((x0 + x1) / 2, (y0 + y1) / 2)
        ways.insert(0, (entry[0] - x, entry[1] - y))
    for dx, dy in ways:
        far = math.hypot(dx, dy) or 1.0
        yield entry[0] + dx / far * (7 + half), entry[1] + dy / far * (4 + _NUMBER / 2)


def _parts(items: list[Item], moves: Sequence[Move], y: float) -> float:
    """List what is cut when, part by part in columns; return where free room begins below, px."""
    cuts = [(m.run.path.part_id, m) for m in moves if m.run is not None and m.run.path is not None]
    parts = [(part, list(run)) for part, run in itertools.groupby(cuts, key=lambda cut: cut[0])]
    rows = [(part, run[0][1], run[-1][1]) for part, run in parts]
    room, deep = (WIDTH - 2 * _EDGE) / _COLUMNS, math.ceil(len(rows) / _COLUMNS)
    for k, (part, first, last) in enumerate(rows):
        number = f"{first.number}" if first.number == last.number else f"{first.number} to {last.number}"
        words = f"{number}  {part}: {_minutes(first.begins)} to {_minutes(last.ends)}"
        words = shortened(words, room - 12, _WORDS)
        items.append(text(_EDGE + room * (k // deep), y + _ROW * (k % deep + 0.5), words, _WORDS))
    return y + _ROW * deep + 8


def _minutes(seconds: float) -> str:
    """Return a time since the beginning as a clock shows it.

    Example:
        >>> _minutes(8.2), _minutes(754)
        ('0:08', '12:34')
    """
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02}"


def _arrow(x: float, y: float, angle: float, look: str = "entry", size: float = _ARROW) -> Item:
    """Return a filled arrowhead that points along an angle, its tip a little past (x, y), px and y down."""
    corners = ((size, 0.0), (-size, 0.7 * size), (-size, -0.7 * size))
    c, s = math.cos(angle), math.sin(angle)
    return polygon(look, *((x + c * u - s * v, y + s * u + c * v) for u, v in corners))
