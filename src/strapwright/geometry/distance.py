"""How far points lie from a contour, and on which side: many points at once, exact for arcs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from strapwright.geometry.contour import Contour

    Floats = NDArray[np.float64]

_CHUNK = 2_000_000
"""Point–segment pairs worked on at once: bounds the memory of a query to about 100 MB."""


def distances(contour: Contour, points: Floats) -> Floats:
    """Return the distance of each point from the contour's line, (M,) mm.

    Args:
        contour: closed or open.
        points: (M, 2) mm.
    """
    step = max(1, _CHUNK // len(contour))
    parts = [_some_distances(contour, points[i : i + step]) for i in range(0, len(points), step)]
    return np.concatenate(parts) if parts else np.empty(0)


def _some_distances(contour: Contour, points: Floats) -> Floats:
    best = np.full(len(points), np.inf)
    lines = ~contour.is_arc
    if lines.any():
        a, d = contour.starts[lines], contour.ends[lines] - contour.starts[lines]
        rel = points[:, None, :] - a
        t = np.clip((rel * d).sum(axis=2) / (d * d).sum(axis=1), 0.0, 1.0)
        gap = rel - t[:, :, None] * d
        best = np.hypot(gap[:, :, 0], gap[:, :, 1]).min(axis=1)
    arcs = contour.is_arc
    if arcs.any():
        rel = points[:, None, :] - contour.centres[arcs]
        start = contour.starts[arcs] - contour.centres[arcs]
        sweep = contour.sweeps[arcs]
        angle = np.arctan2(rel[:, :, 1], rel[:, :, 0]) - np.arctan2(start[:, 1], start[:, 0])
        on_arc = np.mod(angle * np.sign(sweep), 2 * np.pi) <= np.abs(sweep)
        to_a = points[:, None, :] - contour.starts[arcs]
        to_b = points[:, None, :] - contour.ends[arcs]
        # |p − c| − r as a quotient of differences from the arc's start: with the centre far away
        # (arcs nearly straight) the plain difference would lose every digit.
        power = (to_a * to_a).sum(axis=2) + 2 * (to_a * start).sum(axis=2)
        radial = np.abs(power) / (np.hypot(rel[:, :, 0], rel[:, :, 1]) + contour.radii[arcs])
        ends = np.minimum(np.hypot(to_a[:, :, 0], to_a[:, :, 1]), np.hypot(to_b[:, :, 0], to_b[:, :, 1]))
        best = np.minimum(best, np.where(on_arc, radial, ends).min(axis=1))
    return best


def inside(contour: Contour, points: Floats) -> NDArray[np.bool_]:
    """Return which points lie inside a closed contour by the even–odd rule, (M,).

    A point is inside when it lies an odd number of times in the chord polygon and in the circular
    segments between chords and arcs.

    Args:
        contour: closed.
        points: (M, 2) mm.
    """
    p = points[:, None, :]
    a, b = contour.starts, contour.ends
    straddles = (a[:, 1] > p[:, :, 1]) != (b[:, 1] > p[:, :, 1])
    side = (b[:, 0] - a[:, 0]) * (p[:, :, 1] - a[:, 1]) - (p[:, :, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    # A point exactly on a line counts as a little to the right of it and, by less, above: on a chord it then
    # lies in the polygon or beyond the chord, never in both or in neither.
    up = (b[:, 1] > a[:, 1]) | ((b[:, 1] == a[:, 1]) & (b[:, 0] < a[:, 0]))
    left = (side > 0) | ((side == 0) & ~up)
    count = (straddles & (left == up)).sum(axis=1)
    arcs = contour.is_arc
    if arcs.any():
        rel = p - contour.centres[arcs]
        in_disc = np.hypot(rel[:, :, 0], rel[:, :, 1]) < contour.radii[arcs]
        beyond_chord = np.where(contour.bulges[arcs] > 0, ~left[:, arcs], left[:, arcs])
        count = count + (in_disc & beyond_chord).sum(axis=1)
    odd: NDArray[np.bool_] = (count % 2).astype(bool)
    return odd
