"""What pictures of hides are made of: places on the hide, and letters that fit their part."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.drawing.canvas import Hatch, Path, Text, each_turned_over
from strapwright.drawing.text import text_width

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.core.arrays import Floats
    from strapwright.drawing.canvas import Item, Point
    from strapwright.geometry.contour import Contour
    from strapwright.nesting.layout.types import PlacedPart

WIDTH: Final = 1200.0
"""Width of a picture, px."""

EDGE: Final = 30.0
"""Kept free at its sides, px."""

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

    def points(self, points: Floats) -> list[Point]:
        """Return the places of points in the picture."""
        return [self.point(x, y) for x, y in points.tolist()]

    def contour(self, contour: Contour) -> Contour:
        """Return a contour in the picture's px, y down."""
        return self.contours([contour])[0]

    def contours(self, contours: Sequence[Contour]) -> list[Contour]:
        """Return contours in the picture's px, y down."""
        s = self.scale
        return each_turned_over(contours, s, self.left - s * self.x0, self.top + s * self.y1)


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


def part_items(placed: PlacedPart, frame: Frame) -> Iterator[Item]:
    """Yield a part where it lies, with everything made in it."""
    part = placed.part
    drawn = placed.placement.apply_to_each([part.outline, *(feature.contour for feature in part.features)])
    looks = [f"part-{part.kind} edge", *(f"feature-{feature.operation}" for feature in part.features)]
    for contour, look in zip(frame.contours(drawn), looks, strict=True):
        yield Path((contour,), look)


def patch(x: float, y: float, look: str, hatch: Hatch | None = None) -> Path:
    """Return a small rectangle for a key, its left side's middle at (x, y)."""
    corners = ((x, y - 8), (x + 26, y - 8), (x + 26, y + 8), (x, y + 8))
    return Path((corners,), look, closed=True, hatch=hatch)


def text(
    x: float,
    y: float,
    words: str,
    size: float,
    *,
    bold: bool = False,
    middle: bool = False,
    turn: float = 0.0,
    look: str = "ink",
) -> Text:
    """Return a line of text.

    Args:
        x: left end, or the middle, px.
        y: base line, or the middle, px.
        words: what is written.
        size: of the letters, px.
        bold: whether heavy.
        middle: whether (x, y) is the middle.
        turn: degrees about (x, y), clockwise.
        look: its colour.
    """
    if not middle:
        return Text(words, x, y, size, "start", bold, turn, look)
    shift = 0.36 * size  # half the height of a capital
    x, y = x - shift * math.sin(math.radians(turn)), y + shift * math.cos(math.radians(turn))
    return Text(words, x, y, size, "middle", bold, turn, look)
