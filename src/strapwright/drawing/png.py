"""A canvas as PNG, in the font of all drawings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.drawing.svg import svg
from strapwright.drawing.text import usual_font
from strapwright.files.atomic_write import MARK

if TYPE_CHECKING:
    from strapwright.drawing.canvas import Canvas

DENSITY: Final = 2.0
"""Pixels of the PNG to a px of the picture: sharp on a telephone, and at 24 cm across in print."""

TALLEST: Final = 12_000.0
"""A picture higher than this is no picture any more: too large for most viewers, px."""

_HIGH: Final = 6_000.0
"""A picture of any height is made sharp up to so many pixels, and then one pixel to a px."""


def png_of_any(canvas: Canvas) -> bytes:
    """Return a picture as PNG however high it is: with fewer pixels to a px where it is very high.

    One of many hides would else take seconds to make, and be too large for most viewers in the end.
    """
    high = canvas.height
    return png_of(canvas, max(min(DENSITY, _HIGH / high), min(1.0, 2 * TALLEST / high)))


def png_of(canvas: Canvas, density: float = DENSITY) -> bytes:
    """Return a picture as PNG, marked for `write_whole` after its last chunk, where no reader looks.

    Args:
        canvas: the picture.
        density: pixels to a px of it.
    """
    import resvg_py

    fonts = [str(usual_font(bold=bold).path) for bold in (False, True)]
    made = resvg_py.svg_to_bytes(svg_string=svg(canvas), dpi=96, zoom=density, font_files=fonts)
    return bytes(made) + MARK.encode()
