"""A drawing's file as shapes: lines and arcs in millimetres, each cut, scored or punched."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.core.errors import FileProblems
from strapwright.geometry.drawings.gathered import HAND_DRAWN, LEFT_OUT, UNITS, listed
from strapwright.geometry.intersect import self_crossing

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.geometry.contour import Contour
    from strapwright.geometry.drawings.gathered import Drawn, Gathered, Wanted


@dataclass(frozen=True)
class Shape:
    """One line or closed shape of a drawing.

    Args:
        operation: cut, score or punch; empty where no layer, group or id of the whole drawing says any.
        contour: mm, y up; a closed one counter-clockwise.
        where: what to call it in a message: its element and id, or its layer, kind and handle.
    """

    operation: str
    contour: Contour
    where: str


def gathered_from(path: Path, wanted: Wanted, unit: str = "") -> Gathered:
    """Return what is found in a drawing, DXF or SVG by its suffix.

    Args:
        path: the drawing.
        wanted: what is looked for.
        unit: of :data:`UNITS`, for a DXF drawing that does not say its own.

    Raises:
        FileProblems: it cannot be read as a whole.
    """
    if path.suffix.lower() == ".dxf":
        from strapwright.geometry.drawings.dxf import shapes_in_dxf

        return shapes_in_dxf(path, wanted, UNITS.get(unit))
    from strapwright.geometry.drawings.svg import shapes_in_svg

    return shapes_in_svg(path, wanted)


def read_shapes(path: Path, unit: str = "") -> tuple[tuple[Shape, ...], str]:
    """Return the shapes of a drawing of a part or of what is made in one, and what is left out, in words.

    Where any layer, group or id says cut, score or punch, every shape's must; where none does, they have no
    operation of their own.

    Args:
        path: the drawing.
        unit: as for :func:`gathered_from`.

    Raises:
        FileProblems: it cannot be read, or holds what is not read, or a line that crosses itself.
    """
    found = gathered_from(path, HAND_DRAWN, unit)
    problems = list(found.problems)
    named = any(HAND_DRAWN.known(drawn.name) for drawn in found.shapes)
    if not found.shapes and not problems:
        left = f" (left out: {listed(found.not_shown)})" if found.not_shown else ""
        problems.append(f"{path}: found no line and no shape{left}; expected paths, lines, arcs or circles")
    shapes = []
    for drawn in found.shapes:
        try:
            shapes.append(_shape(drawn, named))
        except ValueError as error:
            problems.append(f"{path}: {drawn.where}: {error}")
    if problems:
        raise FileProblems(tuple(dict.fromkeys(problems)))
    return tuple(shapes), listed(found.not_shown)


def _shape(drawn: Drawn, named: bool) -> Shape:
    operation = HAND_DRAWN.known(drawn.name)
    if named and not operation:
        of = f'"{drawn.name}"' if drawn.name else "no named layer or group"
        raise ValueError(
            f"found it in {of}, while others say cut, score or punch; name its layer, group or id so too, or "
            f'move it to "{LEFT_OUT}"'
        )
    contour = drawn.contour
    if (at := self_crossing(contour)) is not None:
        raise ValueError(
            f"crosses or touches itself at ({at[0]:.2f}, {at[1]:.2f}) mm (y up); go round it in one sweep"
        )
    return Shape(operation, contour.counter_clockwise() if contour.closed else contour, drawn.where)
