"""An outline led to the true edge: across it, light is read finely, and the sharpest step is followed.

Every few mm of the rough outline a line is laid across it, and the photograph read along it. On each the
colour goes over from leather to floor; shadow does so slowly, the edge at once. The way round that meets the
sharpest steps with the fewest jumps is found by dynamic programming (Amini, Weymouth and Jain 1990).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.photo.outline import tints
from strapwright.photo.photograph import light_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Bytes, Flags, Floats, Ints
    from strapwright.photo.fit import Plane

EVERY: Final = 2.0
"""Lines are laid across an outline at this distance, mm."""

FINE: Final = 0.25
"""Light is read along them at this distance, mm."""

_BLUR: Final = 0.8
"""A step is sought over about this width, mm: the gaussian's sigma its slope is taken with."""

_JUMP: Final = 0.02
"""What a jump of one `FINE` from line to line costs, squared with the jump; a sharp step is worth 1."""

_SHADOW: Final = 0.12
"""How much the floor's lightness may change by shadow, as `tints` counts it."""

_MEDIAN: Final = 9
"""Of so many neighbouring places of the edge the middle one counts."""

_LEANS: Final = 8
"""The way between logarithms may lie so many `FINE` from the edge."""

_CLOSE: Final = (8, 20)
"""From so many `FINE` to so many off the edge, leather and floor are as they are beside it."""

_PAPER_EDGE: Final = 3.0
"""So near to the edge of a paper nothing is read either, mm: its shadow, its curl."""

_ALONG: Final = 20
"""So many lines to each side show what leather and floor look like here."""

_SHARP: Final = 45.0
"""An edge that turns inward by more within twice `_ARM` has a corner, degrees: a thing may lie against it."""

_ARM: Final = 10
"""Lines to each side of a corner its two legs are read over."""

_ROUND_IT: Final = 900.0
"""What sticks out between two corners is no longer than this round its edge, mm: a shoe has about 700."""


@dataclass(frozen=True, eq=False)
class Edge:
    """An edge as it was found.

    Args:
        points: (N, 2) mm, counter-clockwise round the leather.
        clear: how sharp and high the step is at each, 1 for a perfect one.
        stray: how far each lies from a smooth way through its neighbours, mm.
    """

    points: Floats
    clear: Floats
    stray: Floats


def lead_to_edge(
    picture: Bytes, plane: Plane, outline: Floats, reach: float, papers: Sequence[Floats] = ()
) -> Edge:
    """Return where the edge really is near a rough outline.

    Args:
        picture: the photograph, blue, green, red.
        plane: where its points lie.
        outline: (N, 2) mm, counter-clockwise, its leather on the left of the way.
        reach: how far to look to either side, mm.
        papers: corners of what hides leather and floor, (4, 2) mm each.
    """
    import cv2
    from scipy.ndimage import median_filter

    points, outward = _lines(outline)
    offsets = np.arange(-reach, reach + FINE / 2, FINE)
    across = (points[:, None] + offsets[:, None] * outward[:, None]).reshape(-1, 2)
    where = plane.to_picture(across)
    maps = where.reshape(*points.shape[:1], len(offsets), 2).astype(np.float32)
    read = cv2.remap(picture, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    light = light_of(read)
    seen = tints(light).astype(np.float64)
    hidden = np.zeros(len(across), bool)
    for paper in papers:
        hidden |= _inside(across, paper)
    share = _leather_share(seen, offsets, hidden.reshape(seen.shape[:2]))
    slope = _slope(share)
    path = _sharpest_way(slope)
    row = np.arange(len(path))
    clear = slope[row, path]
    # In light itself a blurred step is steepest where it is; between logarithms it leans to the dark side.
    steep = _slope(_light_share(light, offsets, path))
    near = path[:, None] + np.arange(-_LEANS, _LEANS + 1)
    near = np.clip(near, 1, len(offsets) - 2)
    path = near[row, steep[row[:, None], near].argmax(1)]
    low, mid, high = (steep[row, path + k] for k in (-1, 0, 1))
    bend = low - 2 * mid + high
    fine = np.clip(np.where(bend < -1e-9, (low - high) / (2 * np.minimum(bend, -1e-9)), 0.0), -1, 1)
    off = offsets[path] + fine * FINE
    # What is narrow, such as a joint of the floor, falls out.
    middle = median_filter(off, _MEDIAN, mode="wrap")
    smooth = _round(middle, np.array([1, 2, 3, 2, 1]) / 9)
    stray = np.sqrt(_round((off - smooth) ** 2, np.ones(9) / 9))
    return Edge(points + smooth[:, None] * outward, clear, stray)


def sticks_out(points: Floats) -> Flags:
    """Return what of an edge sticks out between two sharp corners: leather, or a thing of its colour there.

    Args:
        points: of the edge, `EVERY` mm apart, counter-clockwise, (N, 2) mm.
    """
    from scipy.ndimage import minimum_filter1d

    count = len(points)
    before, after = points - np.roll(points, _ARM, axis=0), np.roll(points, -_ARM, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    bend = np.degrees(np.arctan2(cross, (before * after).sum(1)))
    sharpest = bend == minimum_filter1d(bend, 2 * _ARM + 1, mode="wrap")
    corners = np.flatnonzero(sharpest & (bend < -_SHARP))
    out = np.zeros(count, bool)
    for start, end in zip(corners, np.roll(corners, -1), strict=True):
        way = (start + np.arange((end - start) % count + 1)) % count
        x, y = (points[way] - points[start]).T
        across = points[end] - points[start]
        beyond = (across[1] * x - across[0] * y).sum() > 0  # on the right of the chord: outside
        if len(way) > 1 and len(way) * EVERY < _ROUND_IT and beyond:
            out[way] = True
    return out


def _lines(outline: Floats) -> tuple[Floats, Floats]:
    """Return points at equal distances along an outline, and which way is out of the leather."""
    closed = np.vstack([outline, outline[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    count = max(24, round(along[-1] / EVERY))
    at = np.arange(count) * (along[-1] / count)
    points = np.column_stack([np.interp(at, along, closed[:, k]) for k in (0, 1)])
    weights = np.exp(-0.5 * (np.arange(-9, 10) / 3.0) ** 2)
    smooth = np.column_stack([_round(points[:, k], weights / weights.sum()) for k in (0, 1)])
    ahead = np.roll(smooth, -1, axis=0) - np.roll(smooth, 1, axis=0)
    ahead /= np.hypot(*ahead.T)[:, None]
    return smooth, np.column_stack([ahead[:, 1], -ahead[:, 0]])


def _round(values: Floats, weights: Floats) -> Floats:
    """Return values round a closed outline, each averaged with its neighbours."""
    from scipy.ndimage import convolve1d

    return np.asarray(convolve1d(values, weights, axis=0, mode="wrap"))


def _inside(points: Floats, corners: Floats) -> Flags:
    """Return which points lie within a convex shape, or nearly so."""
    side = np.roll(corners, -1, axis=0) - corners
    away = points[:, None] - corners
    left = (side[:, 0] * away[..., 1] - side[:, 1] * away[..., 0]) / np.hypot(*side.T)
    return np.asarray((left > -_PAPER_EDGE).all(1) | (left < _PAPER_EDGE).all(1))


def _leather_share(seen: Floats, offsets: Floats, hidden: Flags) -> Floats:
    """Return how far each reading is from floor (0) to leather (1) in the way that tells them best apart.

    Under paper nothing is read: the share there is that of the nearest reading on the same line.
    """
    reach = offsets[-1]
    weights = np.where(hidden, 1e-6, 1.0)[..., None]
    sides = (offsets < -reach / 2, offsets > reach / 2)
    means = []
    spread = np.eye(3) * 1e-5
    spread[2, 2] += _SHADOW**2
    width = np.ones(2 * _ALONG + 1)
    for part in sides:
        own, weight = seen[:, part], weights[:, part]
        mean = _round((own * weight).sum(1), width) / _round(weight.sum(1), width)
        off = (own - mean[:, None]) * np.sqrt(weight)
        spread = spread + np.einsum("ijk,ijl->kl", off, off) / weight.sum() / 2
        means.append(mean)
    leather, floor = means
    best = (leather - floor) @ np.linalg.inv(spread)
    size = np.maximum(((leather - floor) * best).sum(1), 1e-9)
    share = ((seen - floor[:, None]) * best[:, None]).sum(-1) / size[:, None]
    if hidden.any():
        for line in np.nonzero(hidden.any(1))[0]:
            clear = np.nonzero(~hidden[line])[0]
            share[line] = np.interp(np.arange(len(offsets)), clear, share[line, clear]) if len(clear) else 0.5
    return np.asarray(share)


def _light_share(light: Floats, offsets: Floats, path: Ints) -> Floats:
    """Return how far light is from the floor's (0) to the leather's (1), as both are close to the edge."""
    near = np.arange(len(offsets)) - path[:, None]
    levels = []
    for inside in (-1, 1):
        weights = ((inside * near >= _CLOSE[0]) & (inside * near <= _CLOSE[1])).astype(float)[..., None]
        level = (light * weights).sum(1) / np.maximum(weights.sum(1), 1e-9)
        levels.append(_round(level, np.ones(9) / 9))
    leather, floor = levels
    apart = leather - floor
    size = np.maximum((apart**2).sum(1), 1e-9)
    return np.asarray(((light - floor[:, None]) * apart[:, None]).sum(-1) / size[:, None])


def _slope(share: Floats) -> Floats:
    """Return how steeply the share of leather falls outward, 1 for a step; averaged over neighbours."""
    from scipy.ndimage import gaussian_filter1d

    sigma = _BLUR / FINE
    steep = -gaussian_filter1d(np.clip(share, -0.5, 1.5), sigma, axis=1, order=1, mode="nearest")
    steep *= sigma * np.sqrt(2 * np.pi)
    return _round(steep, np.array([1, 2, 1]) / 4)


def _sharpest_way(slope: Floats) -> Ints:
    """Return for each line the place of the closed way round that is worth most."""
    laps = np.concatenate([slope, slope, slope])
    count, places = laps.shape
    widest = 6
    best = laps[0].copy()
    came = np.zeros((count, places), np.int16)
    jumps = np.arange(-widest, widest + 1)
    cost = _JUMP * jumps.astype(float) ** 2
    here = np.arange(places)
    padded = np.full(places + 2 * widest, -1e9)
    for n in range(1, count):
        padded[widest:-widest] = best
        options = np.lib.stride_tricks.sliding_window_view(padded, 2 * widest + 1) - cost
        pick = options.argmax(1)
        came[n] = here + jumps[pick]
        best = options[here, pick] + laps[n]
    path = np.empty(count, int)
    path[-1] = int(best.argmax())
    for n in range(count - 1, 0, -1):
        path[n - 1] = came[n, path[n]]
    return path[len(slope) : 2 * len(slope)]
