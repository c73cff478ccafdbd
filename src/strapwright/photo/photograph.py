"""A photograph: read from its file, its light, and what lies on the floor seen from straight above."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.core.errors import PhotoError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from strapwright.core.arrays import Bytes, Flags, Floats


MOST_BYTES: Final = 100_000_000

MOST_PIXELS: Final = 64_000_000
"""A larger photograph is refused: a hide needs 8 to 16 megapixels."""

FINER: Final = 32_000_000
"""Of a photograph of more pixels four are taken as one: it is measured as near, in a quarter of the time."""

LEAST_SIDE: Final = 1200
"""The shorter side of a photograph has so many px at least."""

_KINDS: Final = ("JPEG", "PNG", "TIFF", "WEBP")


@dataclass(frozen=True, eq=False)
class Flat:
    """A part of the floor as a picture.

    Args:
        picture: what is seen there, (rows, columns, 3), the top row the furthest up.
        seen: whether it is in the photograph, (rows, columns).
        left: x of its left edge, mm.
        top: y of its upper edge, mm.
        cell: side of a px, mm.
    """

    picture: Any
    seen: Flags
    left: float
    top: float
    cell: float

    def at(self, points: Floats) -> Floats:
        """Return where points (N, 2) mm are in it, px; the middle of its first px is 0, 0."""
        return np.column_stack(
            [(points[:, 0] - self.left) / self.cell - 0.5, (self.top - points[:, 1]) / self.cell - 0.5]
        )

    def points(self, pixels: Floats) -> Floats:
        """Return the points at px (N, 2), mm."""
        return np.column_stack(
            [self.left + (pixels[:, 0] + 0.5) * self.cell, self.top - (pixels[:, 1] + 0.5) * self.cell]
        )


def flatten(
    picture: Bytes, there: Callable[[Floats], Floats], box: tuple[float, float, float, float], cell: float
) -> Flat:
    """Return a box of the floor as it would be seen from straight above.

    Args:
        picture: the photograph.
        there: says where points of the floor, mm, are in it, px.
        box: left, low, right and high, mm.
        cell: side of a px, mm.
    """
    import cv2

    left, low, right, high = box
    columns, rows = (int(np.ceil(side / cell)) for side in (right - left, high - low))
    flat = Flat(picture, np.zeros((rows, columns), bool), left, high, cell)
    every = 8  # the way to the picture is smooth: between, straight lines err by far less than a px
    us = np.append(np.arange(0, columns - 1, every), columns - 1).astype(float)
    vs = np.append(np.arange(0, rows - 1, every), rows - 1).astype(float)
    u, v = np.meshgrid(us, vs)
    where = there(flat.points(np.column_stack([u.ravel(), v.ravel()])))
    maps = [_between(where[:, k].reshape(u.shape), us, vs, columns, rows) for k in (0, 1)]
    height, width = picture.shape[:2]
    seen = (maps[0] > 0) & (maps[0] < width - 1) & (maps[1] > 0) & (maps[1] < height - 1)
    shown = cv2.remap(picture, maps[0], maps[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return Flat(shown, seen, left, high, cell)


def _between(values: Floats, us: Floats, vs: Floats, columns: int, rows: int) -> Floats:
    every = np.arange(columns, dtype=float)
    wide = np.array([np.interp(every, us, line) for line in values])
    down = np.interp(np.arange(rows, dtype=float), vs, np.arange(len(vs)))
    low = np.minimum(down.astype(int), len(vs) - 2)
    share = (down - low)[:, None]
    return np.asarray(wide[low] * (1 - share) + wide[low + 1] * share, dtype=np.float32)


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


def light_of(grey: Bytes) -> Floats:
    """Return light, 0 to 1, of values of 0 to 255 that stand for it by IEC 61966-2-1 (sRGB)."""
    value = np.arange(256, dtype=np.float32) / 255.0
    table = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return np.asarray(table[grey])


def drawn_in(flat: Flat, polygon: Floats) -> Flags:
    """Return which px of a picture of the floor lie in a polygon, mm."""
    import cv2

    mask = np.zeros(flat.seen.shape, np.uint8)
    cv2.fillPoly(mask, [np.round(flat.at(polygon) * 16).astype(np.int32)], 1, shift=4)
    return np.asarray(mask > 0)
