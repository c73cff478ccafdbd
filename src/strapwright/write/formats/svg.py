"""Cut files as SVG: true size in millimetres, one named group an operation, arcs as arcs.

The view box is the bed, from 0 0 at its back left corner: SVG's y runs to the front, the bed's to the back.
Every line is solid, for a machine would cut a dash as it is drawn.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from strapwright.core.text import escape, one_line
from strapwright.drawing.svg import decimal, path_data
from strapwright.files.atomic_write import MARK
from strapwright.machine.types import CUTTING_ORDER
from strapwright.write.formats.header import Drawing, header_lines
from strapwright.write.readers.svg import read_svg

if TYPE_CHECKING:
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.types import CutSheet


class Svg(Drawing):
    """The SVG format."""

    name = "svg"
    suffix = ".svg"
    reader = staticmethod(read_svg)

    def to_text(self, sheet: CutSheet, plan: CutPlan) -> str:
        """Return a sheet as SVG text; paths of an operation stand in cutting order."""
        width, height = decimal(sheet.width), decimal(sheet.height)
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
        # Programs that go by the groups' order cut first what is drawn first.
        for operation in sorted(plan.machine.operations, key=CUTTING_ORDER.index):
            settings = plan.machine.settings(operation)
            paths = [path for path in sheet.paths if path.operation is operation]
            name = escape(re.sub(r"\s+", "-", settings.layer), quote=True)  # an id may hold no blanks
            lines.append(
                f'<g id="{name}" fill="none" stroke="{escape(settings.color, quote=True)}" '
                f'stroke-width="{decimal(plan.machine.svg_stroke)}">'
            )
            lines.append(f"<title>{escape(settings.layer)}</title>")
            lines += [f'<path d="{path_data(path.contour, sheet.height)}"/>' for path in paths]
            lines.append("</g>")
        return "\n".join([*lines, "</svg>", ""])
