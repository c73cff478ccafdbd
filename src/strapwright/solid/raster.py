"""Triangles to pixels, nearest first: a picture drawn without a display, a graphics card or its library.

The modeller brings a graphics library of its own, but that ends the whole process on a machine that has
neither a display nor Mesa's off-screen drivers; a picture is not worth that.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.core.arrays import Flags, Floats, Ints


BATCH: Final = 2_000_000
"""About how many pixels are filled at a time: what fits into memory comfortably."""


@dataclass(frozen=True)
class Screen:
    """What is seen at each pixel, row by row from the top.

    Args:
        depth: distance from the eye, infinite where nothing is, (H, W).
        normal: of the nearest face, towards the eye, in its axes: right, up, towards it, (H, W, 3).
        owner: which piece it belongs to, −1 for none, (H, W).
    """

    depth: Floats
    normal: Floats
    owner: Ints

    @classmethod
    def empty(cls, width: int, height: int) -> Screen:
        """Return a screen on which nothing is seen."""
        return cls(
            np.full((height, width), np.inf),
            np.zeros((height, width, 3)),
            np.full((height, width), -1, dtype=np.int64),
        )

    def draw(self, corners: Floats, normals: Floats, owner: int) -> None:
        """Draw triangles; what lies before them stays.

        Args:
            corners: x from the left and y from the top in pixels, and distance from the eye, (N, 3, 3).
            normals: at each corner, in the eye's axes, (N, 3, 3).
            owner: the piece they belong to.
        """
        depth, normal = self.depth.reshape(-1), self.normal.reshape(-1, 3)
        whose = self.owner.reshape(-1)
        height, width = self.depth.shape
        for some in _batches(corners):
            index, xs, ys = _filled(corners[some], width, height)
            if not len(index):
                continue
            shares = _shares(corners[some], index, xs, ys)
            z = (shares * corners[some][index, :, 2]).sum(axis=1)
            pixel = ys * width + xs
            np.minimum.at(depth, pixel, z)
            seen = z == depth[pixel]
            mixed = (shares[seen, :, None] * normals[some][index[seen]]).sum(axis=1)
            mixed *= np.where(mixed[:, 2:] < 0, -1.0, 1.0)
            normal[pixel[seen]] = mixed / np.maximum(np.linalg.norm(mixed, axis=1, keepdims=True), 1e-12)
            whose[pixel[seen]] = owner

    def edges(self, jump: float, bend: float) -> Flags:
        """Return the pixels at which a line belongs: where pieces, depths or faces part.

        Args:
            jump: least step in distance that is an edge.
            bend: least angle between two faces that is one, rad.
        """
        found = np.zeros(self.depth.shape, dtype=np.bool_)
        depth = np.where(np.isfinite(self.depth), self.depth, 1e9)
        for here, there in (
            ((slice(None), slice(0, -1)), (slice(None), slice(1, None))),
            ((slice(0, -1), slice(None)), (slice(1, None), slice(None))),
        ):
            a, b = self.normal[here], self.normal[there]
            solid = (self.owner[here] >= 0) | (self.owner[there] >= 0)
            # A face seen edge on falls away steeply without a step: the more it is turned, the more goes.
            steep = np.maximum(np.minimum(a[..., 2], b[..., 2]), 0.05)
            step = np.abs(depth[here] - depth[there]) > jump / steep
            turned = (a * b).sum(axis=-1) < np.cos(bend)
            part = solid & ((self.owner[here] != self.owner[there]) | step | turned)
            nearer = depth[here] <= depth[there]
            found[here] |= part & nearer
            found[there] |= part & ~nearer
        return found


def _batches(corners: Floats) -> Iterator[slice]:
    """Yield runs of triangles that fill about as many pixels each."""
    spans = np.ptp(corners[:, :, :2], axis=1) + 2.0
    total = np.cumsum(spans[:, 0] * spans[:, 1])
    start = 0
    while start < len(corners):
        before = total[start - 1] if start else 0.0
        stop = max(int(np.searchsorted(total, before + BATCH)), start + 1)
        yield slice(start, stop)
        start = stop


def _filled(corners: Floats, width: int, height: int) -> tuple[Ints, Ints, Ints]:
    """Return for every pixel whose centre a triangle covers: the triangle, x and y."""
    x, y = corners[:, :, 0], corners[:, :, 1]
    top = np.clip(np.ceil(y.min(axis=1) - 0.5), 0, height).astype(np.int64)
    end = np.clip(np.ceil(y.max(axis=1) - 0.5), 0, height).astype(np.int64)
    index, ys = _spread(top, np.maximum(end - top, 0))
    centre = ys + 0.5
    low, high = np.full(len(index), np.inf), np.full(len(index), -np.inf)
    for a, b in ((0, 1), (1, 2), (2, 0)):
        ya, yb = y[index, a], y[index, b]
        crossed = (ya <= centre) != (yb <= centre)
        at = x[index, a] + (centre - ya) / np.where(crossed, yb - ya, 1.0) * (x[index, b] - x[index, a])
        low = np.where(crossed, np.minimum(low, at), low)
        high = np.where(crossed, np.maximum(high, at), high)
    left = np.clip(np.ceil(np.minimum(low, 1e9) - 0.5), 0, width).astype(np.int64)
    right = np.clip(np.ceil(np.maximum(high, -1e9) - 0.5), 0, width).astype(np.int64)
    rows, xs = _spread(left, np.maximum(right - left, 0))
    return index[rows], xs, ys[rows]


def _spread(start: Ints, count: Ints) -> tuple[Ints, Ints]:
    """Return runs of whole numbers end to end: which run each belongs to, and the number."""
    run = np.repeat(np.arange(len(start)), count)
    first = np.repeat(np.cumsum(count) - count, count)
    return run, np.arange(len(run)) - first + start[run]


def _shares(corners: Floats, index: Ints, xs: Ints, ys: Ints) -> Floats:
    """Return how much of each corner there is at each pixel, (M, 3)."""
    a, b, c = (corners[:, k, :2] for k in range(3))
    whole = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    whole = np.where(whole == 0, 1.0, whole)[index]
    at = np.column_stack([xs + 0.5, ys + 0.5]) - a[index]
    u, v = (b - a)[index], (c - a)[index]
    second = (at[:, 0] * v[:, 1] - v[:, 0] * at[:, 1]) / whole
    third = (u[:, 0] * at[:, 1] - at[:, 0] * u[:, 1]) / whole
    # A triangle seen edge on gives wild shares; held to the corners they stay on it.
    second, third = np.clip(second, 0.0, 1.0), np.clip(third, 0.0, 1.0)
    return np.column_stack([1.0 - second - third, second, third])
