"""A photograph read from a file: what kind and how large it is first, then its pixels, as it was held."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import PhotoError

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.core.arrays import Bytes

MOST_BYTES: Final = 100_000_000
MOST_PIXELS: Final = 64_000_000
"""A larger photograph is refused: a hide needs 8 to 16 megapixels."""

FINER: Final = 32_000_000
"""Of a photograph of more pixels four are taken as one: it is measured as near, in a quarter of the time."""

LEAST_SIDE: Final = 1200
"""The shorter side of a photograph has so many px at least."""

_KINDS: Final = ("JPEG", "PNG", "TIFF", "WEBP")


def read_photo(path: Path) -> Bytes:
    """Return a photograph, turned as its camera was held: blue, green and red, (height, width, 3).

    Args:
        path: a JPEG, PNG, TIFF or WebP file.

    Raises:
        PhotoError: it is none, too large, too small, or broken.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        if path.stat().st_size > MOST_BYTES:
            raise PhotoError(f"{path}: is larger than {MOST_BYTES // 1_000_000} MB; save it as a JPEG")
        data = path.read_bytes()
    except OSError as error:
        raise PhotoError(f"{path}: {error.strerror or error}") from error
    try:
        Image.MAX_IMAGE_PIXELS = None  # its size is judged below
        with Image.open(io.BytesIO(data), formats=_KINDS) as header:
            width, height = header.size
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError) as error:
        raise PhotoError(
            f"{path}: is no photograph that can be read; save it as a JPEG or PNG file (HEIC too)"
        ) from error
    if width * height > MOST_PIXELS:
        raise PhotoError(
            f"{path}: has {width * height / 1e6:.0f} megapixels, {MOST_PIXELS // 1_000_000} are the most: "
            "photograph with 8 to 16 megapixels"
        )
    if min(width, height) < LEAST_SIDE:
        raise PhotoError(
            f"{path}: is {width} × {height} px, {LEAST_SIDE} px on the shorter side are the least: send the "
            "photograph as it was taken, not made smaller"
        )
    try:
        with Image.open(io.BytesIO(data), formats=_KINDS) as image:
            if width * height > FINER:
                image.draft(None, (width // 2, height // 2))  # a JPEG file is read at half its size at once
            upright = ImageOps.exif_transpose(image).convert("RGB")
    except (OSError, ValueError, SyntaxError) as error:
        raise PhotoError(f"{path}: is broken off or damaged; copy it from the camera again") from error
    if upright.width * upright.height > FINER:
        upright = upright.reduce(2)
    return np.ascontiguousarray(np.asarray(upright)[..., ::-1])
