"""The paper a drawing stands on: its style, light and dark, headings, findings, legend and foot."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Final

from strapwright.core.text import escape, one_line
from strapwright.drawing.dimension_lines import Board, number
from strapwright.drawing.text import figure, text_width, wrapped
from strapwright.files.atomic_write import MARK

if TYPE_CHECKING:
    from strapwright.core.units import Units

WIDTH: Final = 1000.0
MARGIN: Final = 36.0
TEXT: Final = 13.0
LINE: Final = 19.0
TITLE: Final = 19.0

_STYLE: Final = """
.strap-drawing .paper{fill:#ffffff}
.strap-drawing .leather{fill:#f6eee2}
.strap-drawing .layer{fill:#f6eee2}
.strap-drawing .hole{fill:#ffffff}
.strap-drawing .second{fill:#dfd0b8}
.strap-drawing .cut{stroke:#009e73;stroke-width:1.8}
.strap-drawing .score{fill:none;stroke:#e69f00;stroke-width:1.8;stroke-dasharray:6 3}
.strap-drawing .mark{fill:none;stroke:#4a4a4a;stroke-width:1.2}
.strap-drawing .thin{fill:none;stroke:#4a4a4a;stroke-width:0.8}
.strap-drawing .rule{fill:none;stroke:#b4b4b4;stroke-width:0.8}
.strap-drawing .centre{fill:none;stroke:#4a4a4a;stroke-width:0.8;stroke-dasharray:14 3 2 3}
.strap-drawing .fold{fill:none;stroke:#4a4a4a;stroke-width:0.8;stroke-dasharray:10 3 2 3 2 3}
.strap-drawing .head{fill:#4a4a4a}
.strap-drawing text{fill:#1b1b1b}
@media screen and (prefers-color-scheme: dark){
.strap-drawing .paper{fill:#16181b}
.strap-drawing .leather,.strap-drawing .layer{fill:#2d2720}
.strap-drawing .hole{fill:#16181b}
.strap-drawing .second{fill:#4a3f31}
.strap-drawing .cut{stroke:#2cc79a}
.strap-drawing .score{stroke:#f0b429}
.strap-drawing .mark,.strap-drawing .thin,.strap-drawing .centre,.strap-drawing .fold{stroke:#b9bdc2}
.strap-drawing .rule{stroke:#55595e}
.strap-drawing .head{fill:#b9bdc2}
.strap-drawing text{fill:#eceef0}
}
"""


def new_board() -> Board:
    """Return an empty drawing."""
    return Board(WIDTH, MARGIN / 4)


def document(board: Board, height: float, title: str) -> str:
    """Return a drawing as an SVG document, light or dark as the reader's screen prefers.

    Args:
        board: the drawing.
        height: of it, px.
        title: what it is of.
    """
    high = math.ceil(height)
    return "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f"<!-- {MARK} -->",
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" class="strap-drawing" width="{number(WIDTH)}" '
                f'height="{high}" viewBox="0 0 {number(WIDTH)} {high}" '
                'style="max-width:100%;height:auto" font-family="DejaVu Sans, sans-serif">'
            ),
            f"<title>{escape(one_line(title) or 'belts')}: drawing</title>",
            f"<style>{_STYLE}</style>",
            f'<rect class="paper" width="{number(WIDTH)}" height="{high}"/>',
            *board.elements,
            "</svg>",
            "",
        ]
    )


def job_title(board: Board, name: str) -> float:
    """Write the job's name at the head of a drawing; return where free room begins below, px."""
    y = 18.0
    for line in wrapped(one_line(name) or "belts", WIDTH - 2 * MARGIN, TITLE + 4, bold=True):
        y += 26
        board.text(line, MARGIN, y, size=TITLE + 4, bold=True)
    return y


def heading(board: Board, name: str, facts: str, y: float) -> float:
    """Write what is drawn below; return where free room begins, px."""
    board.line(MARGIN, y, WIDTH - MARGIN, y, "rule")
    y += 30
    lines = wrapped(one_line(name), WIDTH - 2 * MARGIN, TITLE, bold=True)
    for line in lines[:-1]:
        board.text(line, MARGIN, y, size=TITLE, bold=True)
        y += 24
    board.text(lines[-1], MARGIN, y, size=TITLE, bold=True)
    x = MARGIN + text_width(lines[-1], TITLE, bold=True) + 18
    if x + text_width(facts, TEXT + 1) > WIDTH - MARGIN:
        x, y = MARGIN, y + 24
    board.text(facts, x, y, size=TEXT + 1)
    return y


def with_unit(mm: float, units: Units) -> str:
    """Return a length as on a dimension line, with its unit."""
    return f"{figure(mm, units)} {units}"


def tied(text: str) -> str:
    """Return text on one line, its figures tied to their units."""
    return re.sub(r"(?<=\d) (?=(?:mm|in)\b)", "\N{NO-BREAK SPACE}", one_line(text))


def finding(board: Board, severity: str, text: str, y: float) -> float:
    """Write one finding; return where free room begins below, px."""
    label = f"{severity}:"
    indent = text_width("caution: ", TEXT, bold=True)
    y += 14
    board.text(label, MARGIN, y, size=TEXT, bold=True)
    for line in wrapped(tied(text), WIDTH - 2 * MARGIN - indent, TEXT):
        board.text(line, MARGIN + indent, y, size=TEXT)
        y += LINE
    return y - 12


def foot(board: Board, y: float, units: Units) -> float:
    """Draw legend and reading note; return the drawing's height, px."""
    board.line(MARGIN, y, WIDTH - MARGIN, y, "rule")
    y += 24
    x = MARGIN
    for kind, word in (("cut", "cut"), ("score", "score"), ("fold", "fold line"), ("centre", "centre line")):
        board.add(f'<path class="{kind}" d="M{number(x)},{number(y - 4)}h44"/>')
        board.text(word, x + 52, y, size=TEXT)
        x += 52 + text_width(word, TEXT) + 26
    unit = "millimetres" if units == "mm" else "inches"
    y += LINE + 6
    board.text(
        f"Figures are {unit}. Work to the figures; do not measure the picture.", MARGIN, y, size=TEXT - 1
    )
    return y + LINE + 2
