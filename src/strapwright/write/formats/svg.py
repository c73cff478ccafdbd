"""Cut files as SVG: true size in millimetres, one named group an operation, arcs as arcs.

The view box is the bed, from 0 0 at its back left corner: SVG's y runs to the front, the bed's to the back.
Every line is solid, for a machine would cut a dash as it is drawn.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Final

from strapwright.core.tolerances import READ_BACK, SVG_ARC_SWEEP_DEG
from strapwright.files.atomic_write import MARK
from strapwright.parts.part import Operation
from strapwright.write.formats.drawing_format import lacks_nothing, nothing_beside
from strapwright.write.formats.header import escape, header_lines, one_line
from strapwright.write.readers.path import as_planned
from strapwright.write.readers.svg import read_svg

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.geometry.contour import Contour
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.types import CutPlan, CutSheet
    from strapwright.write.readers.path import PlannedPath, ReadPath

_ORDER: Final = (Operation.SCORE, Operation.PUNCH, Operation.CUT)
"""The groups' order: what is drawn first is cut first by programs that go by it."""

_DECIMALS: Final = 7
"""Rounding to 7 decimals moves a point by 0.00000005 mm at most."""


_FLAT: Final = 1e-5
"""An arc that rises less than this over its chord is drawn straight, mm: its radius is so great that
readers lose its centre."""


class Svg:
    """The SVG format."""

    name = "svg"
    suffix = ".svg"
    ending = ""
    tolerance = READ_BACK
    chord = 0.0
    drives = False
    lacking = staticmethod(lacks_nothing)
    beside = staticmethod(nothing_beside)

    def planned(self, sheet: CutSheet, plan: CutPlan) -> list[PlannedPath]:
        """Return the plan's paths, each once, on its layer."""
        del plan
        return as_planned(sheet.paths)

    def to_text(self, sheet: CutSheet, plan: CutPlan) -> str:
        """Return a sheet as SVG text; paths of an operation stand in cutting order."""
        width, height = _number(sheet.width), _number(sheet.height)
        lines = [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f"<!-- {MARK} -->",
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
                f'viewBox="0 0 {width} {height}">'
            ),
            f"<title>{escape(one_line(plan.job_name) or 'cut file')}</title>",
            f"<desc>{escape(chr(10).join(header_lines(sheet, plan, self.name)))}</desc>",
        ]
        for operation in sorted(plan.machine.operations, key=_ORDER.index):
            settings = plan.machine.settings(operation)
            paths = [path for path in sheet.paths if path.operation is operation]
            lines.append(
                f'<g id={_id(settings.layer)} fill="none" stroke="{escape(settings.color, quote=True)}" '
                f'stroke-width="{_number(plan.machine.svg_stroke)}">'
            )
            lines.append(f"<title>{escape(settings.layer)}</title>")
            lines += [f'<path d="{path_data(path.contour, sheet.height)}"/>' for path in paths]
            lines.append("</g>")
        return "\n".join([*lines, "</svg>", ""])

    def read_back(self, text: str, machine: Machine, face: float = 0.0) -> list[ReadPath]:
        """Read the paths of an SVG text again, without this writer's help.

        Raises:
            ProofError: the text is cut short or is not what strapwright writes.
        """
        del machine, face
        return read_svg(text)


def path_data(contour: Contour, top: float = 0.0) -> str:
    """Return a contour as the ``d`` of an SVG path, y turned, arcs of at most 120°.

    Args:
        contour: y to the back, mm.
        top: the y that is SVG's 0, mm.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> path_data(Contour([(0, 0, 0), (4, 0, 1)]))
        'M0,0L4,0A2,2 0 0 0 2,-2A2,2 0 0 0 0,0Z'
    """
    figures = (contour.starts, contour.ends, contour.centres, contour.radii, contour.sweeps)
    segments = list(zip(*(each.tolist() for each in figures), contour.segment_lengths.tolist(), strict=True))
    words = ["M" + _point(segments[0][0], top)]
    last = len(segments) - 1
    for index, (begin, finish, centre, far, sweep, length) in enumerate(segments):
        if length * abs(sweep) / 8 < _FLAT:  # the rise, nearly
            if not (contour.closed and index == last):  # Z draws a straight way home itself
                words.append("L" + _point(finish, top))
            continue
        pieces = max(1, math.ceil(abs(sweep) / math.radians(SVG_ARC_SWEEP_DEG) - 1e-9))
        x, y = begin[0] - centre[0], begin[1] - centre[1]
        radius = _number(far)
        for piece in range(1, pieces + 1):
            end = finish
            if piece < pieces:
                turn = sweep * piece / pieces
                cos, sin = math.cos(turn), math.sin(turn)
                end = [centre[0] + (x * cos - y * sin), centre[1] + (x * sin + y * cos)]
            # Turning y turns the sense of every arc: SVG's 1 is clockwise on the bed.
            words.append(f"A{radius},{radius} 0 0 {0 if sweep > 0 else 1} {_point(end, top)}")
    return "".join(words) + ("Z" if contour.closed else "")


def _id(layer: str) -> str:
    """Return a layer's name as a quoted id, which may hold no blanks."""
    name = escape(re.sub(r"\s+", "-", layer), quote=True)
    return f'"{name}"'


def _point(point: Sequence[float], top: float) -> str:
    return f"{_number(point[0])},{_number(top - point[1])}"


def _number(value: float) -> str:
    text = f"{value:.{_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
