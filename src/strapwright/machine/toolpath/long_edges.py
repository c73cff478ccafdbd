"""The straight long edges of a part's outline: where bridges may stand, cuts be joined, a strap cutter go."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from strapwright.geometry.contour import Contour
    from strapwright.geometry.runs import Stretch

ALONG: Final = math.radians(5.0)
"""A line counts as a long edge up to this off the strap's own direction: tapered straps stay under it,
the flanks of pointed tips do not."""


def is_edge(contour: Contour, along: float) -> NDArray[np.bool_]:
    """Return which segments are straight and lie along a direction, either way, (S,).

    Args:
        contour: an outline or a run of one.
        along: the strap's direction, radians.
    """
    delta = contour.ends - contour.starts
    off = np.abs(delta[:, 1] * math.cos(along) - delta[:, 0] * math.sin(along))
    edges: NDArray[np.bool_] = ~contour.is_arc & (off <= math.sin(ALONG) * contour.segment_lengths)
    return edges


def edge_stretches(contour: Contour, along: float, keep_out: float = 0.0) -> list[Stretch]:
    """Return the long edges as stretches of a contour's length, each shorter by what is kept out at its ends.

    Args:
        contour: an outline or a run of one.
        along: the strap's direction, radians.
        keep_out: from tips, buckle ends and the run's own ends, mm.
    """
    reach = np.concatenate(([0.0], np.cumsum(contour.segment_lengths)))
    return [
        (float(reach[k]) + keep_out, float(reach[k + 1]) - keep_out)
        for k in np.flatnonzero(is_edge(contour, along)).tolist()
        if reach[k + 1] - reach[k] > 2 * keep_out
    ]


def clear_of(
    contour: Contour, stretches: Iterable[Stretch], holes: Iterable[Contour], keep_out: float
) -> list[Stretch]:
    """Return what of straight stretches lies no nearer to any hole than may be.

    Args:
        contour: what the stretches are of.
        stretches: each within one straight segment.
        holes: cut or to be punched.
        keep_out: from each hole's line, mm.
    """
    points = [hole.sample(16) for hole in holes]
    every = np.vstack(points) if points else np.empty((0, 2))
    clear: list[Stretch] = []
    for low, high in stretches:
        begin = np.array(contour.point_at(low))
        way = np.array(contour.tangent_at((low + high) / 2))
        rel = every - begin
        beside = np.abs(rel[:, 0] * way[1] - rel[:, 1] * way[0])
        near = beside < keep_out
        reach = np.sqrt(keep_out**2 - beside[near] ** 2)
        middle = rel[near] @ way + low
        clear += _rest((low, high), sorted(zip(middle - reach, middle + reach, strict=True)))
    return clear


def _rest(stretch: Stretch, taken: list[tuple[float, float]]) -> list[Stretch]:
    here, end = stretch
    left: list[Stretch] = []
    for low, high in taken:
        if low > here:
            left.append((here, min(float(low), end)))
        here = max(here, float(high))
        if here >= end:
            return left
    return [*left, (here, end)]
