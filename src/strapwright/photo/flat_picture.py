"""The hide of a photograph as it is seen from straight above, with nothing drawn in it: to draw over."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.photo.flatten import flatten

if TYPE_CHECKING:
    from strapwright.core.arrays import Bytes
    from strapwright.photo.measure import MeasuredHide

WIDEST: Final = 2400
"""Px on the longer side of the picture."""

_ROUND: Final = 60.0
"""What is shown round the hide, mm."""

_UNSEEN: Final = 60
"""Grey of what lies outside the photograph."""

_QUALITY: Final = 85


def flat_picture(picture: Bytes, measured: MeasuredHide) -> tuple[bytes, float, tuple[float, float]]:
    """Return the hide made flat as a JPEG, its mm to a px, and its lower left corner in the hide's frame, mm.

    Args:
        picture: the photograph, blue, green and red of 0 to 255.
        measured: what was found in it.
    """
    from PIL import Image

    low, high = measured.outline.min(0) - _ROUND, measured.outline.max(0) + _ROUND
    cell = max(measured.scale, float((high - low).max()) / WIDEST)
    flat = flatten(picture, measured.plane.to_picture, (low[0], low[1], high[0], high[1]), cell)
    shown = np.where(flat.seen[..., None], flat.picture, _UNSEEN)[..., ::-1]
    stream = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(shown, dtype=np.uint8)).save(stream, "JPEG", quality=_QUALITY)
    return stream.getvalue(), cell, (flat.left, flat.top - len(shown) * cell)
