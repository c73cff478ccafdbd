"""Our SVG pictures as PNG, in a font that comes with strapwright's own libraries."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from strapwright.files.atomic_write import MARK

DENSITY: Final = 2.0
"""Pixels of the PNG to a px of the picture: sharp on a telephone, and at 24 cm across in print."""

TALLEST: Final = 12_000.0
"""A picture higher than this is no picture any more: too large for most viewers, px."""

_HIGH: Final = 6_000.0
"""A picture of any height is made sharp up to so many pixels, and then one pixel to a px."""


def height_of(svg: str) -> float:
    """Return how high one of our SVG documents is, px.

    Example:
        >>> height_of('<svg viewBox="0 0 1000 640">')
        640.0
    """
    return float(svg.partition('viewBox="')[2].partition('"')[0].split()[3])


def png_of_any(svg: str) -> bytes:
    """Return a picture as PNG however high it is: with fewer pixels to a px where it is very high.

    One of many hides would else take seconds to make, and be too large for most viewers in the end.

    Args:
        svg: an SVG document of ours.
    """
    height = height_of(svg)
    return png_of(svg, max(min(DENSITY, _HIGH / height), min(1.0, 2 * TALLEST / height)))


def png_of(svg: str, density: float = DENSITY) -> bytes:
    """Return a picture as PNG, marked for `write_whole` after its last chunk, where no reader looks.

    Args:
        svg: an SVG document of ours.
        density: pixels to a px of the picture.
    """
    import reportlab
    import resvg_py

    fonts = Path(reportlab.__file__).with_name("fonts")
    made = resvg_py.svg_to_bytes(
        svg_string=svg,
        dpi=96,
        zoom=density,
        font_files=[str(fonts / name) for name in ("Vera.ttf", "VeraBd.ttf")],
        sans_serif_family="Bitstream Vera Sans",
    )
    return bytes(made) + MARK.encode()
