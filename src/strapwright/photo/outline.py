"""The outline of a hide in a photograph: told from the floor by colour, then led to the true edge.

Colours are compared as logarithms of light: shadow then only moves the sum of all three, which counts for
little, and not how they stand to one another.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import PhotoError
from strapwright.nesting.hide.outline_check import counter_clockwise
from strapwright.photo.photograph import Flat, drawn_in, flatten, light_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from strapwright.core.arrays import Bytes, Flags, Floats
    from strapwright.photo.fit import Plane


CELL: Final = 4.0
"""Side of a px of the picture the hide is first looked for in, mm."""

BEYOND: Final = 500.0
"""The hide is looked for so far beyond the outermost sheets, mm."""

_DARK: Final = 0.004
"""Light added before a logarithm is taken: what a dark pixel's noise amounts to."""

_LIGHTNESS: Final = 0.45
"""How much the lightness of a colour counts against its tint."""

_RING: Final = (8.0, 45.0)
"""Round a sheet, what lies so far beyond its paper shows what it lies on, mm."""

_FAR: Final = 5.0
"""What is so many standard deviations from the floor's colour is not the floor at first sight."""

_LEAST_AREA: Final = 0.02e6
"""Anything smaller is no hide, mm²."""

LEAST_APART: Final = 25.0
"""A sheet beside the hide lies so far from its edge at least, mm: floor is seen between the two."""

_PAPER_TINT: Final = 0.06
"""What the tints of paper differ by from sheet to sheet, at least."""

_PAPER_LIGHTER: Final = 0.12
"""By how much more a sheet may be lighter than those that are read: it lies in more light."""

_COLOURED: Final = 0.15
"""What is drawn on a sheet takes more of some colours than of others, by this share of the paper's light."""

_SPECK: Final = 40.0
"""Colour on a sheet of less area is dust, mm²."""

_STRAY_PAPER: Final = 3000.0
"""A white thing of so much area may be a sheet whose mark is hidden, mm²."""

_ACROSS: Final = 0.3
"""A sheet with so much leather round it, and so much floor, lies across the hide's edge."""

_ISLAND: Final = 0.01e6
"""Anything of so much area among the sheets that is neither floor nor hide is asked about, mm²."""

_ALIKE: Final = 0.6
"""A second thing of so much of the first one's area is a second hide."""


def tints(light: Floats) -> Floats:
    """Return colours as three numbers that shadow changes little: two of tint and one of lightness.

    Args:
        light: blue, green and red, 0 to 1, last axis.
    """
    logs = np.log(light + _DARK)
    lightness = logs.mean(-1)
    return np.stack(
        [logs[..., 2] - logs[..., 1], logs[..., 0] - logs[..., 1], _LIGHTNESS * lightness], axis=-1
    ).astype(np.float32)


def coarse_outline(
    picture: Bytes, plane: Plane, papers: Mapping[int, Floats], outermost: Sequence[int]
) -> tuple[Flat, Flags]:
    """Return the floor as it is first seen, and where on it the hide is to a few mm, (rows, columns).

    Args:
        picture: the photograph, blue, green, red.
        plane: where its points lie.
        papers: corners of each sheet's paper, (4, 2) mm, by its number.
        outermost: numbers of the outermost sheets.

    Raises:
        PhotoError: there is none, or two, or it cannot be told from the floor.
    """
    import cv2

    corners = np.concatenate(list(papers.values()))
    low, high = corners.min(0) - BEYOND, corners.max(0) + BEYOND
    small, there = _shrunk(picture, plane, corners)
    flat = flatten(small, there, (low[0], low[1], high[0], high[1]), CELL)
    seen_tints = tints(light_of(cv2.GaussianBlur(flat.picture, (0, 0), 0.8)))
    rings = {number: _ring(flat, corners) for number, corners in papers.items()}
    _check_strays(seen_tints, flat, papers, rings, plane)
    under = np.zeros(flat.seen.shape, bool)
    for number, paper in papers.items():
        inside = drawn_in(flat, _grown(paper, 4.0))
        under |= inside
        ring = rings[number] & flat.seen
        if ring.any():
            seen_tints[inside] = np.median(seen_tints[ring], axis=0)
    medians = np.array([np.median(seen_tints[rings[n] & flat.seen], axis=0) for n in outermost])
    ground = np.median(medians, axis=0)
    sample = np.concatenate([seen_tints[rings[n] & flat.seen] for n in outermost])
    spread = 1.4826 * np.median(np.abs(sample - ground), axis=0)
    near = (np.abs(sample - ground) < 4 * spread + 0.05).all(1)
    mean, covariance = sample[near].mean(0), np.cov(sample[near].T) + np.eye(3) * 1e-4
    off = seen_tints - mean
    far = np.sqrt(np.einsum("ijk,kl,ijl->ij", off, np.linalg.inv(covariance), off))
    guess = np.where(far > _FAR, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    guess[~flat.seen] = cv2.GC_BGD
    if (guess == cv2.GC_PR_FGD).sum() * CELL**2 < _LEAST_AREA:
        raise PhotoError(_NO_HIDE)
    levels = np.clip(128 + (seen_tints - mean) * 70, 0, 255).astype(np.uint8)
    cv2.setRNGSeed(0)
    cv2.grabCut(levels, guess, None, np.zeros((1, 65)), np.zeros((1, 65)), 4, cv2.GC_INIT_WITH_MASK)
    return flat, (guess == cv2.GC_PR_FGD) | (guess == cv2.GC_FGD)


def _check_strays(
    seen: Floats,
    flat: Flat,
    papers: Mapping[int, Floats],
    rings: Mapping[int, Flags],
    plane: Plane,
) -> None:
    """Refuse a photograph with paper whose mark was not read: it and the hide may hide parts of each other.

    Raises:
        PhotoError: some does.
    """
    import cv2

    known = np.zeros(flat.seen.shape, bool)
    white = []
    for paper in papers.values():
        rim = (
            drawn_in(flat, _grown(paper, -2.0)) & ~drawn_in(flat, _grown(paper, -2.0 - 2 * CELL)) & flat.seen
        )
        if rim.any():
            white.append(np.median(seen[rim], axis=0))
        known |= drawn_in(flat, _grown(paper, 12.0))
    if not white:
        return
    colour, spread = np.median(white, axis=0), np.ptp(white, axis=0) / 2 + _PAPER_TINT
    around = np.array([np.median(seen[ring & flat.seen], axis=0) for ring in rings.values() if ring.any()])
    if (np.abs(around - colour) < 3 * spread).all(1).any():
        return  # a floor, or a hide, as white as paper
    off = seen - colour
    off[..., 2] -= np.clip(off[..., 2], 0, _PAPER_LIGHTER)
    like = (np.abs(off) < spread).all(-1) & flat.seen & ~known
    like = cv2.morphologyEx(like.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    count, _, stats, centres = cv2.connectedComponentsWithStats(like)
    for n in range(1, count):
        if stats[n, cv2.CC_STAT_AREA] * CELL**2 > _STRAY_PAPER:
            raise PhotoError(
                f"something as white as the mark sheets lies in the {_where(flat, centres[n], plane)} of the "
                "picture, and no mark is read on it: take it away, or lay the sheet so that nothing hides a "
                "part of it"
            )


def check_clean(picture: Bytes, plane: Plane, papers: Mapping[int, Floats]) -> None:
    """Refuse sheets on the hide with colour drawn on them: it would hide what it stands for.

    Args:
        picture: the photograph, blue, green, red.
        plane: where the sheets lie.
        papers: corners of each sheet's paper, (4, 2) mm, by its number.

    Raises:
        PhotoError: something is.
    """
    import cv2

    for number, paper in sorted(papers.items()):
        low, high = paper.min(0), paper.max(0)
        flat = flatten(picture, plane.to_picture, (low[0], low[1], high[0], high[1]), _FINE_CELL)
        inside = drawn_in(flat, _grown(paper, -_PAPER_RIM)) & flat.seen
        if not inside.any():
            continue
        light = cv2.GaussianBlur(light_of(flat.picture), (0, 0), 1.0)
        # Three quarters of a sheet are white, so the median of each colour is the paper's.
        coloured = (np.ptp(light / np.median(light[inside], axis=0), axis=-1) > _COLOURED) & inside
        count, _, stats, _ = cv2.connectedComponentsWithStats(coloured.astype(np.uint8))
        if count > 1 and stats[1:, cv2.CC_STAT_AREA].max() * _FINE_CELL**2 > _SPECK:
            raise PhotoError(
                f"there is colour on mark sheet {number}: a ring on a sheet measures nothing; lay a clean "
                "sheet elsewhere, ring the leather, and photograph again"
            )


_FINE_CELL: Final = 1.5

_PAPER_RIM: Final = 6.0
"""So near to a paper's border the leather beside it tints it in a JPEG file, mm."""


def _where(flat: Flat, centre: Floats, plane: Plane) -> str:
    """Return in which part of the photograph something is, in words."""
    x, y = plane.to_picture(flat.points(centre[None]))[0] / (plane.width, plane.height)
    return f"{_third(y, 'upper ', 'lower ')}{_third(x, 'left', 'right') or 'middle'}"


def _third(share: float, low: str, high: str) -> str:
    return low if share < 1 / 3 else high if share > 2 / 3 else ""


def largest_piece(
    flat: Flat, leather: Flags, papers: Mapping[int, Floats], plane: Plane
) -> tuple[Floats, frozenset[int]]:
    """Return the rough outline of the hide, (N, 2) mm counter-clockwise, and the sheets that lie on it.

    Raises:
        PhotoError: there are two hides, or something else lies there, or it is not whole in the picture, or a
            sheet lies across its edge.
    """
    import cv2
    import shapely

    count, labels, stats, centres = cv2.connectedComponentsWithStats(leather.astype(np.uint8))
    areas = stats[1:, cv2.CC_STAT_AREA] * CELL**2
    if not count > 1 or areas.max() < _LEAST_AREA:
        raise PhotoError(_NO_HIDE)
    order = np.argsort(-areas) + 1
    if len(order) > 1 and areas[order[1] - 1] > _ALIKE * areas[order[0] - 1]:
        raise PhotoError("two hides are in the picture: photograph one at a time")
    hide = labels == order[0]
    border = cv2.erode(flat.seen.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=0) == 0
    if (hide & border).any():
        rows, columns = np.nonzero(hide & border)
        at = plane.to_picture(flat.points(np.column_stack([columns, rows]))).mean(0)
        room = {"left": at[0], "right": plane.width - at[0], "upper": at[1], "lower": plane.height - at[1]}
        side = min(room, key=lambda name: room[name])
        raise PhotoError(
            f"the hide is cut off at the {side} edge of the picture, or a hard shadow there is taken for it: "
            "have all of the hide and all the sheets in the picture, in even light"
        )
    # Under a sheet nothing is seen: what lies round it says what it lies on.
    shares = {number: float(hide[_ring(flat, paper)].mean()) for number, paper in papers.items()}
    for number, share in shares.items():
        if _ACROSS < share < 1 - _ACROSS:
            raise PhotoError(
                f"mark sheet {number} lies across the hide's edge: lay it wholly on the hide or wholly "
                "beside it, and photograph again"
            )
    contours, _ = cv2.findContours(hide.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    points = flat.points(max(contours, key=cv2.contourArea).reshape(-1, 2).astype(float))
    outline = shapely.Polygon(points)
    for number, paper in papers.items():
        if shares[number] < 0.5 and shapely.Polygon(paper).distance(outline) < LEAST_APART:
            raise PhotoError(
                f"mark sheet {number} lies too near to the hide's edge: lay it 5 cm or more off, and "
                "photograph again"
            )
    among = shapely.MultiPoint(np.concatenate([points, *papers.values()])).convex_hull
    for n in order[1:]:
        if areas[n - 1] < _ISLAND or (border & (labels == n)).any():
            continue
        if among.contains(shapely.Point(flat.points(centres[n][None])[0])):
            raise PhotoError(
                "something that is neither hide nor floor lies in the "
                f"{_where(flat, centres[n], plane)} of the picture, such as a foot, a scrap, a stain or a "
                "hard shadow: take it away, or lay the hide on a sheet of one colour"
            )
    return counter_clockwise(points), frozenset(n for n, share in shares.items() if share > 0.5)


_NO_HIDE: Final = (
    "found no hide among the mark sheets: its colour must differ from the floor's; lay it on a sheet of "
    "another colour, and photograph again"
)


def _shrunk(picture: Bytes, plane: Plane, corners: Floats) -> tuple[Bytes, Callable[[Floats], Floats]]:
    """Return the photograph at about CELL mm to a px, and how points of the floor go to it."""
    import cv2

    across = plane.to_picture(corners + np.array([CELL, 0.0])) - plane.to_picture(corners)
    factor = max(1, int(np.median(np.hypot(*across.T))))
    rows, columns = picture.shape[0] // factor, picture.shape[1] // factor
    cut = picture[: rows * factor, : columns * factor]
    small = cv2.resize(cut, (columns, rows), interpolation=cv2.INTER_AREA)
    return small, lambda points: (plane.to_picture(points) + 0.5) / factor - 0.5


def _grown(paper: Floats, by: float) -> Floats:
    """Return a paper's corners moved outward so that each side lies so much further out, mm."""
    across, along = (side / np.hypot(*side) for side in (paper[1] - paper[0], paper[3] - paper[0]))
    out = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    return np.asarray(paper + by * (out[:, :1] * across + out[:, 1:] * along), dtype=float)


def _ring(flat: Flat, paper: Floats) -> Flags:
    return drawn_in(flat, _grown(paper, _RING[1])) & ~drawn_in(flat, _grown(paper, _RING[0]))
