"""The hide of a photograph made flat: with what was found in it, to look at before cutting, and bare."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.drawing.text import usual_font
from strapwright.files.atomic_write import MARK
from strapwright.nesting.hide.types import FlawKind
from strapwright.photo.photograph import flatten

if TYPE_CHECKING:
    from strapwright.core.arrays import Bytes, Floats
    from strapwright.photo.measure import MeasuredHide
    from strapwright.photo.photograph import Flat

WIDEST: Final = 2000
"""Px on the longer side of the picture to check."""

WIDEST_BARE: Final = 2400
"""The same of the hide alone."""

_QUALITY: Final = 85
"""Of its JPEG file."""

_UNSEEN: Final = 60
"""Grey of what lies outside the photograph."""

GRID: Final = 100.0
"""From line to line of its grid, mm."""

LIMIT: Final = "What touches the hide's edge and has its colour is taken for leather: look along the edge."
"""What no photograph shows, said in every picture."""

_ROUND: Final = 60.0
"""What is shown round hide and sheets, mm."""

_OUTLINE: Final = (0, 255, 255)
_UNSURE: Final = (255, 0, 200)
_FLAWS: Final = {FlawKind.HOLE: (255, 60, 40), FlawKind.MARK: (90, 160, 255), FlawKind.LOOSE: (255, 230, 60)}


def check_picture(picture: Bytes, measured: MeasuredHide) -> bytes:
    """Return the photograph made flat, with grid, outline, flaws and sheets: a PNG, marked for `write_whole`.

    Args:
        picture: the photograph, blue, green and red of 0 to 255.
        measured: what was found in it.
    """
    from PIL import ImageDraw, ImageFont

    around = np.concatenate([measured.outline, *measured.papers.values()])
    flat, image = _flattened(picture, measured, around, 1.0, WIDEST)
    drawing = ImageDraw.Draw(image, "RGBA")
    letters = [ImageFont.truetype(str(usual_font().path), size) for size in (15, 19)]
    _draw_grid(drawing, flat, (around.min(0) - _ROUND, around.max(0) + _ROUND), letters[0])
    for flaw in measured.flaws:
        colour = _FLAWS[flaw.kind]
        points = _px(flat, flaw.polygon)
        drawing.polygon(points, fill=(*colour, 50), outline=colour, width=2)
        _write(drawing, points[0], str(flaw.kind), colour, letters[0])
    drawing.line([*_px(flat, measured.outline), _px(flat, measured.outline[:1])[0]], fill=_OUTLINE, width=2)
    for stretch in measured.unsure:
        drawing.line(_px(flat, stretch), fill=_UNSURE, width=5)
        _write(drawing, _px(flat, stretch)[0], "unsure", _UNSURE, letters[1])
    ends = _px(flat, measured.furthest)
    drawing.line(ends, fill=(255, 255, 255, 150), width=1)
    _write(drawing, tuple(np.mean(ends, axis=0)), f"tape: {measured.tape}", (255, 255, 255), letters[0])
    for number, corners in measured.papers.items():
        points = _px(flat, corners)
        drawing.line([*points, points[0]], fill=(40, 220, 90), width=2)
        words = f"{number}: {measured.fit.strays[number]:.2f} mm"
        _write(drawing, tuple(np.mean(points, axis=0)), words, (40, 220, 90), letters[1])
    length, width = np.ptp(measured.outline, axis=0)
    facts = (
        f"{length:.0f} × {width:.0f} mm, 95 of 100 points within {measured.uncertainty:.1f} mm; "
        f"a square is {GRID:.0f} mm; sheets: by how much their crosses stray"
    )
    for row, words in enumerate((facts, LIMIT)):
        _write(drawing, (10, 8 + 26 * row), words, (255, 255, 255), letters[1])
    stream = io.BytesIO()
    image.save(stream, "PNG")
    return stream.getvalue() + MARK.encode()


def _px(flat: Flat, points: Floats) -> list[tuple[float, float]]:
    return [(x, y) for x, y in flat.at(points).tolist()]


def _draw_grid(drawing: Any, flat: Flat, box: tuple[Floats, Floats], letters: Any) -> None:
    """Draw a line each `GRID`, with what it stands for at each fifth."""
    low, high = box
    for axis in (0, 1):
        for at in np.arange(np.ceil(low[axis] / GRID), np.floor(high[axis] / GRID) + 1) * GRID:
            ends = np.array([low, high])
            ends[:, axis] = at
            fifth = round(at / GRID) % 5 == 0
            drawing.line(_px(flat, ends), fill=(255, 255, 255, 130 if fifth else 50), width=1)
            if fifth:
                x, y = _px(flat, ends)[0]
                _write(drawing, (x + 3, y - 20), f"{at:.0f}", (255, 255, 255), letters)


def _write(drawing: Any, at: Any, words: str, colour: tuple[int, int, int], letters: Any) -> None:
    drawing.text(at, words, fill=colour, font=letters, stroke_width=2, stroke_fill=(20, 20, 20))


def flat_picture(picture: Bytes, measured: MeasuredHide) -> tuple[bytes, float, tuple[float, float]]:
    """Return the hide made flat as a JPEG, its mm to a px, and its lower left corner in the hide's frame, mm.

    Args:
        picture: the photograph, blue, green and red of 0 to 255.
        measured: what was found in it.
    """
    flat, image = _flattened(picture, measured, measured.outline, measured.scale, WIDEST_BARE)
    stream = io.BytesIO()
    image.save(stream, "JPEG", quality=_QUALITY)
    return stream.getvalue(), flat.cell, (flat.left, flat.top - image.height * flat.cell)


def _flattened(
    picture: Bytes, measured: MeasuredHide, around: Floats, finest: float, widest: int
) -> tuple[Flat, Any]:
    """Return what lies round some points as it is seen from straight above, and its picture to draw on.

    Args:
        picture: the photograph.
        measured: what was found in it.
        around: the points, (N, 2) mm.
        finest: mm to a px at the least.
        widest: px on the longer side at the most.
    """
    from PIL import Image

    low, high = around.min(0) - _ROUND, around.max(0) + _ROUND
    cell = max(finest, float((high - low).max()) / widest)
    flat = flatten(picture, measured.plane.to_picture, (low[0], low[1], high[0], high[1]), cell)
    shown = np.where(flat.seen[..., None], flat.picture, _UNSEEN)[..., ::-1]
    return flat, Image.fromarray(np.ascontiguousarray(shown, dtype=np.uint8))
