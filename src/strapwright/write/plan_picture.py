"""A picture of a plan for the screen: every path of the tool on its bed, and the way between them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final
from xml.sax.saxutils import escape

from strapwright.files.whole import MARK
from strapwright.parts.part import Operation
from strapwright.write.header import one_line
from strapwright.write.picture_parts import Frame, path_data, text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.machine.cut_plan import CutPlan, CutSheet

WIDTH: Final = 1000.0
"""Width of the picture, px."""

_EDGE: Final = 24.0
_TALLEST: Final = 900.0
_DASHES: Final = {Operation.CUT: "", Operation.SCORE: "5 2", Operation.PUNCH: "1.5 1.5"}
_TRAVEL: Final = "#8A8A8A"


def plan_svg(plan: CutPlan, *, travel: bool = True) -> str:
    """Draw a plan as far as its paths reach, every sheet below the one before, all to one scale.

    Args:
        plan: what to draw.
        travel: whether the way between the paths is drawn.

    Returns:
        An SVG document 1000 px wide: each operation in its own colour and dash, the travel in thin grey.
    """
    lines: list[str] = []
    boxes = [_box(sheet) for sheet in plan.sheets]
    wide = max((x1 - x0 for x0, _, x1, _ in boxes), default=1.0)
    high = max((y1 - y0 for _, y0, _, y1 in boxes), default=1.0)
    scale = min((WIDTH - 2 * _EDGE) / max(wide, 1.0), _TALLEST / max(high, 1.0))
    y = 12.0
    for sheet in plan.sheets:
        y += 22
        told = f"{sheet.name}: {len(sheet.paths)} paths, {one_line(plan.machine.name)}"
        lines.append(text(_EDGE, y, told, 15, bold=True))
        y = _draw(lines, sheet, plan, scale, y + 12, travel=travel)
    y += 14
    x = _EDGE
    for operation in Operation:
        colour = plan.machine.settings(operation).color
        lines.append(_line(f"M {x:g} {y:g} h 40", colour, _DASHES[operation]))
        lines.append(text(x + 48, y + 4, str(operation), 12))
        x += 120
    if travel:
        lines.append(_line(f"M {x:g} {y:g} h 40", _TRAVEL, "", 0.6))
        lines.append(text(x + 48, y + 4, "travel without cutting", 12))
    height = y + 18
    return "\n".join(
        [
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:g}" height="{height:.0f}" '
                f'viewBox="0 0 {WIDTH:g} {height:.0f}" font-family="DejaVu Sans, sans-serif">'
            ),
            f"<!-- {MARK} -->",
            f"<title>{escape(one_line(plan.job_name) or 'plan')}</title>",
            '<rect width="100%" height="100%" fill="#FFFFFF"/>',
            *lines,
            "</svg>",
            "",
        ]
    )


def _box(sheet: CutSheet) -> tuple[float, float, float, float]:
    boxes = [path.contour.bounding_box for path in sheet.paths]
    x0, y0 = min(box[0] for box in boxes), min(box[1] for box in boxes)
    return x0, y0, max(box[2] for box in boxes), max(box[3] for box in boxes)


def _draw(
    lines: list[str], sheet: CutSheet, plan: CutPlan, scale: float, top: float, *, travel: bool
) -> float:
    """Draw one sheet; return where free room begins below, px."""
    x0, y0, _, y1 = _box(sheet)
    frame = Frame(x0, y1, _EDGE, top, scale)
    if travel:
        lines += _travel(sheet, frame)
    for path in sheet.paths:
        colour = plan.machine.settings(path.operation).color
        lines.append(_line(path_data(path.contour, frame), colour, _DASHES[path.operation]))
    return top + scale * (y1 - y0) + 10


def _travel(sheet: CutSheet, frame: Frame) -> Iterator[str]:
    for before, after in zip(sheet.paths, sheet.paths[1:], strict=False):
        (xa, ya), (xb, yb) = before.contour.ends[-1], after.contour.starts[0]
        px, py = frame.point(float(xa), float(ya))
        qx, qy = frame.point(float(xb), float(yb))
        yield _line(f"M {px:.2f} {py:.2f} L {qx:.2f} {qy:.2f}", _TRAVEL, "", 0.6)


def _line(data: str, colour: str, dash: str, width: float = 1.2) -> str:
    more = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{data}" fill="none" stroke="{colour}" stroke-width="{width:g}"{more}/>'
