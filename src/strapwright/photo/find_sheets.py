"""Mark sheets found in a photograph, their crosses to a small fraction of a pixel.

The marks are found by OpenCV; from each the sheet's four crosses are predicted, and each is then found as
the point that all edges round it run through (Förstner and Gülch 1987, as OpenCV's `cornerSubPix`), in light
rather than in the picture's own values, so that an edge lies where it is half covered.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.photo.mark_sheet import MARK, SQUARE
from strapwright.photo.photograph import light_of

if TYPE_CHECKING:
    from strapwright.core.arrays import Bytes, Floats
    from strapwright.photo.mark_sheet import SheetSize


LEAST_SQUARE: Final = 5.0
"""A cross whose black squares are smaller in the photograph cannot be found well, px."""

_SHARE: Final = 0.6
"""Of a black square's side that is looked at on each side of its cross."""

_OFF: Final = 0.35
"""A cross is believed if it is no further from where its sheet has it, in sides of a black square."""


@dataclass(frozen=True, eq=False)
class SeenSheet:
    """A mark sheet in a photograph.

    Args:
        number: that is printed on it.
        crosses: where its four crosses are, (4, 2) px; NaN for one that was not seen. The middle of the
            picture's first pixel is 0, 0.
    """

    number: int
    crosses: Floats


def find_sheets(grey: Bytes, size: SheetSize) -> tuple[SeenSheet, ...]:
    """Return the mark sheets of a photograph by number.

    Args:
        grey: the photograph, (height, width) of 0 to 255.
        size: of the sheets.
    """
    import cv2

    how = cv2.aruco.DetectorParameters()
    how.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    corners, numbers, _ = cv2.aruco.ArucoDetector(family, how).detectMarkers(grey)
    found = [
        SeenSheet(int(number) + 1, _crosses(grey, corner.reshape(4, 2).astype(float), size))
        for number, corner in zip(() if numbers is None else numbers.ravel(), corners, strict=True)
    ]
    return tuple(sorted(found, key=lambda sheet: sheet.number))


def _crosses(grey: Bytes, corners: Floats, size: SheetSize) -> Floats:
    """Return where a sheet's crosses are, px."""
    import cv2

    half = MARK / 2
    known = np.array([(-half, half), (half, half), (half, -half), (-half, -half)])
    seen = corners
    found = np.full((4, 2), np.nan)
    for _ in range(3):  # the second time from the crosses themselves, which lie further out
        to_picture, _ = cv2.findHomography(known, seen)
        if to_picture is None:
            return found
        expected = through(to_picture, size.crosses)
        found = np.array(
            [_cross(grey, to_picture, at, near) for at, near in zip(size.crosses, expected, strict=True)]
        )
        good = np.isfinite(found).all(1)
        if good.sum() < 4:
            return found
        known, seen = size.crosses, found
    return found


def _cross(grey: Bytes, to_picture: Floats, at: Floats, near: Floats) -> Floats:
    """Return a cross near where it is expected, px; NaN where there is none."""
    import cv2

    none = np.full(2, np.nan)
    arms = through(to_picture, at + SQUARE * np.array([(1.0, 0), (-1, 0), (0, 1), (0, -1)]))
    side = float(min(np.hypot(*(arms[0] - arms[1])), np.hypot(*(arms[2] - arms[3]))) / 2)
    if side < LEAST_SQUARE:
        return none
    reach = max(2, round(_SHARE * side))
    x, y = np.round(near).astype(int)
    room = 2 * reach + 4
    height, width = grey.shape
    if not (room <= x < width - room and room <= y < height - room):
        return none
    patch = light_of(grey[y - room : y + room + 1, x - room : x + room + 1])
    start = np.array([[near - (x - room, y - room)]], dtype=np.float32)
    steps = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-4)
    found = cv2.cornerSubPix(patch, start, (reach, reach), (-1, -1), steps)[0, 0] + (x - room, y - room)
    if not np.hypot(*(found - near)) < _OFF * side + 1:
        return none
    # Black and white must stand across from each other there.
    corners = through(to_picture, at + 0.5 * SQUARE * np.array([(-1.0, 1), (1, -1), (1, 1), (-1, -1)]))
    shift = found - near
    samples = [float(light_of(grey[round(v), round(u)])) for u, v in corners + shift]
    return np.asarray(found, dtype=float) if max(samples[:2]) + 0.1 < min(samples[2:]) else none


def through(homography: Floats, points: Floats) -> Floats:
    """Return where a homography takes points, (N, 2)."""
    seen = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return np.asarray(seen[:, :2] / seen[:, 2:], dtype=float)
