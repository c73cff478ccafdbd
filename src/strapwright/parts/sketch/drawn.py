"""A user's own tip or whole part, drawn with CadQuery in a Python file of theirs.

The file is run as the user's own code, with everything that code may do, in a process of its own
(`strapwright.parts.sketch.process`). The modeller is loaded only there.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from strapwright.core.errors import PartError
from strapwright.geometry.contour import Contour
from strapwright.geometry.intersect import self_crossing
from strapwright.parts.own_shape import LEAST_WEB, OwnPart, OwnTip, check_holes, check_size
from strapwright.parts.sketch.modeller import CLOSE
from strapwright.parts.sketch.process import draw


@lru_cache(maxsize=64)
def tip_from_sketch(source: str, name: str, width: float) -> OwnTip:
    """Return the tip that a file's ``sketch(width)`` draws.

    Args:
        source: the text of the file.
        name: of the file, for messages.
        width: of the strap, mm.

    Raises:
        PartError: the file's code fails, or draws no tip: one line with the file's name.
    """
    runs, _ = draw(source, name, "sketch", (width,))
    if len(runs) != 1:
        raise PartError(f"{name}: sketch() draws {len(runs)} lines or pieces; expected one tip without holes")
    run, half = runs[0], width / 2
    vertices = _opened(run, half, name) if run.closed else _upwards(run)
    box = run.bounding_box
    first, last = vertices[0], vertices[-1]
    ends_right = (
        math.isclose(first[0], last[0], abs_tol=CLOSE)
        and math.isclose(first[1], -half, abs_tol=CLOSE)
        and math.isclose(last[1], half, abs_tol=CLOSE)
        and first[0] < 0.0
    )
    if not ends_right:
        raise PartError(
            f"{name}: sketch() runs from ({first[0]:.3f}, {first[1]:.3f}) to ({last[0]:.3f}, {last[1]:.3f}) "
            f"mm; expected from (-reach, {-half:g}) to (-reach, {half:g}) for this {width:g} mm strap"
        )
    if abs(box[2]) > CLOSE:
        raise PartError(f"{name}: the foremost point of sketch() is at x = {box[2]:.3f} mm; expected x = 0")
    if box[0] < first[0] - CLOSE or max(-box[1], box[3]) > half + CLOSE:
        raise PartError(
            f"{name}: sketch() reaches from x = {box[0]:.3f} mm and {max(-box[1], box[3]):.3f} mm to the "
            f"side; expected nothing behind x = {first[0]:.3f} mm nor beyond {half:g} mm, or the tip would "
            "not pass the buckle"
        )
    level = (first[0] + last[0]) / 2
    drawn = [(level, -half, first[2]), *vertices[1:-1], (level, half, 0.0)]
    _check_simple(name, "sketch", Contour(np.array(drawn)))
    return OwnTip(width, tuple(drawn))


@lru_cache(maxsize=64)
def part_from_sketch(source: str, name: str) -> OwnPart:
    """Return the part that a file's ``part()`` draws: its outer wire exactly, its inner wires as holes.

    Args:
        source: the text of the file.
        name: of the file, for messages.

    Raises:
        PartError: the file's code fails, or draws no single flat piece: one line with the file's name.
    """
    runs, faces = draw(source, name, "part", ())
    for run in runs:
        if not run.closed:
            (x0, y0), (x1, y1) = run.starts[0], run.ends[-1]
            raise PartError(
                f"{name}: part() draws an open line from ({x0:.3f}, {y0:.3f}) to ({x1:.3f}, {y1:.3f}) mm; "
                "expected a closed one: end it with .close()"
            )
        _check_simple(name, "part", run)
    outline, *holes = sorted((run.counter_clockwise() for run in runs), key=lambda run: -run.area)
    check_size(outline, f"{name}: part() draws")
    if faces > 1:
        raise PartError(
            f"{name}: part() draws {faces} separate pieces; expected one (a hole wider than the piece cuts "
            "it in two)"
        )
    check_holes(outline, holes, [f"{name}: part() draws"] * len(holes), LEAST_WEB)
    return OwnPart(outline, tuple(holes))


def _check_simple(name: str, function: str, run: Contour) -> None:
    """Refuse a line that crosses itself."""
    if (at := self_crossing(run)) is not None:
        where = f"({at[0]:.2f}, {at[1]:.2f}) mm"
        raise PartError(f"{name}: {function}() draws a line that crosses itself at {where}")


def _upwards(run: Contour) -> list[tuple[float, float, float]]:
    """Return an open run from its lower end to its upper one."""
    if run.vertices[0, 1] > run.vertices[-1, 1]:
        run = run.reversed()
    return [(float(x), float(y), float(bulge)) for x, y, bulge in run.vertices]


def _opened(run: Contour, half: float, name: str) -> list[tuple[float, float, float]]:
    """Return a closed run without the straight line across the strap at its rear."""
    run = run.counter_clockwise()
    rear = run.bounding_box[0]
    for place in range(len(run)):
        start, end = run.starts[place], run.ends[place]
        level = abs(start[0] - rear) < CLOSE and abs(end[0] - rear) < CLOSE
        if level and not run.bulges[place] and start[1] > 0 > end[1]:
            order = [(place + 1 + k) % len(run) for k in range(len(run))]
            return [(float(x), float(y), float(bulge)) for x, y, bulge in run.vertices[order]]
    raise PartError(
        f"{name}: sketch() draws a closed shape without a straight rear edge across the strap; expected one "
        f"from ({rear:.3f}, {half:g}) to ({rear:.3f}, {-half:g}) mm, or an open line round the tip"
    )
