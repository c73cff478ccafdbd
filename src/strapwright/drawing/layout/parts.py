"""What a layout's picture is made of: contours as SVG paths, hatches, and letters that fit their part."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.text import escape
from strapwright.drawing.path_data import path_data as svg_path_data
from strapwright.drawing.text import text_width
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from strapwright.nesting.layout.types import PlacedPart

PATTERNS: Final = """<defs>
<pattern id="hole" width="7" height="7" patternUnits="userSpaceOnUse"><path d="M 0 0 L 7 7 M 7 0 L 0 7" \
stroke="#D55E00" stroke-width="0.9"/></pattern>
<pattern id="mark" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">\
<path d="M 3 0 V 6" stroke="#0072B2" stroke-width="1"/></pattern>
<pattern id="loose" width="7" height="7" patternUnits="userSpaceOnUse"><circle cx="3.5" cy="3.5" r="1.1" \
fill="#56B4E9"/></pattern>
<pattern id="once" width="6" height="6" patternUnits="userSpaceOnUse"><path d="M 3 0 V 6" \
stroke="#666666" stroke-width="1"/></pattern>
</defs>"""
"""One hatch for each kind of flaw: crossed, slanted, dotted; upright for zones kept clear for one layout."""

_SMALLEST: Final = 7.5
"""Letters smaller than this are not read at 1200 px: the part gets a number instead, px."""

_LARGEST: Final = 12.0


@dataclass(frozen=True)
class Frame:
    """From a hide's millimetres, y up, to the picture's px, y down.

    Args:
        x0: the hide's least x, mm.
        y1: the hide's greatest y, mm.
        left: where x0 goes, px.
        top: where y1 goes, px.
        scale: px a millimetre.
    """

    x0: float
    y1: float
    left: float
    top: float
    scale: float

    def point(self, x: float, y: float) -> tuple[float, float]:
        """Return a point's place in the picture."""
        return self.left + (x - self.x0) * self.scale, self.top + (self.y1 - y) * self.scale

    def polygon(self, points: NDArray[np.float64]) -> str:
        """Return the path data of a polygon."""
        corners = ("{:.3f} {:.3f}".format(*self.point(float(x), float(y))) for x, y in points)
        return "M " + " L ".join(corners) + " Z"


def path_data(contour: Contour, frame: Frame) -> str:
    """Return a contour as SVG path data in the picture's px: lines as lines, arcs as arcs.

    Example:
        >>> half = Contour([(0, -1, 1), (0, 1, 0)])
        >>> path_data(half, Frame(0, 1, 0, 0, 10))
        'M0,20A10,10 0 0 0 10,10A10,10 0 0 0 0,0Z'
    """
    s = frame.scale
    moved = contour.vertices * (s, s, 1.0) + (frame.left - s * frame.x0, -frame.top - s * frame.y1, 0.0)
    return svg_path_data(Contour(moved, contour.closed))


@dataclass(frozen=True)
class Label:
    """Words in the middle of a part.

    Args:
        words: what is written.
        x: middle of the words, px.
        y: middle of the words, px.
        size: of the letters, px.
        turn: degrees, clockwise on the picture.
    """

    words: str
    x: float
    y: float
    size: float
    turn: float


def lettered(placed: PlacedPart, frame: Frame, number: str = "") -> Label | None:
    """Return a part's name, or a number, set so that it stays inside the part.

    Args:
        placed: the part.
        frame: where it is drawn.
        number: written instead of the name; letters then get as small as they must.

    Returns:
        The label, or None where the name would be too small to read.
    """
    x0, y0, x1, y1 = placed.part.outline.bounding_box
    words = number or placed.part.id
    long, across = (x1 - x0) * frame.scale, (y1 - y0) * frame.scale
    turn = -math.degrees(placed.placement.turn)
    if across > long:
        long, across, turn = across, long, turn + 90
    if number:
        turn = 0.0 if text_width(number, 1.0) * 0.7 * across < long else turn
    size = min(_LARGEST, 0.62 * across, 0.8 * long / text_width(words, 1.0))
    if number:
        size = min(size, 0.8 * across / max(text_width(words, 1.0), 0.9))
        size = min(size, 9.5)
        turn = 0.0
    elif size < _SMALLEST:
        return None
    turn = (turn + 90.0) % 180.0 - 90.0  # never upside down
    x, y = frame.point(*placed.placement.apply_to_point((x0 + x1) / 2, (y0 + y1) / 2))
    return Label(words, x, y, size, turn)


def text(
    x: float,
    y: float,
    words: str,
    size: float,
    *,
    bold: bool = False,
    middle: bool = False,
    turn: float = 0.0,
    colour: str = "#222222",
) -> str:
    """Return a line of text.

    Args:
        x: left end, or the middle, px.
        y: base line, or the middle, px.
        words: what is written.
        size: of the letters, px.
        bold: whether heavy.
        middle: whether (x, y) is the middle.
        turn: degrees about (x, y), clockwise.
        colour: of the letters.
    """
    more = ' font-weight="bold"' if bold else ""
    shift = 0.0
    if middle:
        more += ' text-anchor="middle"'
        shift = 0.36 * size  # half the height of a capital
    if abs(turn) > 1e-6:
        more += f' transform="rotate({turn:.3f} {x:.2f} {y:.2f})"'
    return (
        f'<text x="{x:.2f}" y="{y + shift:.2f}" font-size="{size:.2f}" fill="{colour}"{more}>'
        f"{escape(words)}</text>"
    )
