"""The order of cutting: what lies inside first, part by part, with little travel between."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.machine.cut_plan import CutPath

Point = tuple[float, float]


def in_order(parts: Sequence[Sequence[CutPath]], start: Point = (0.0, 0.0)) -> tuple[CutPath, ...]:
    """Return all paths in the order they are cut.

    A part is scored, then punched, then its holes are cut and its outline last, so that nothing
    moves before it is done. The next part, and within a part the next path of the same kind, is the
    one that starts nearest.

    Args:
        parts: the paths of each part; its outline is the last of them.
        start: where the tool stands at first, mm.
    """
    waiting = [_within(list(paths)) for paths in parts if paths]
    starts = np.array([_start(paths[0]) for paths in waiting]).reshape(-1, 2)
    left = np.ones(len(waiting), dtype=bool)
    ordered: list[CutPath] = []
    here = start
    for _ in waiting:
        distance = np.hypot(starts[:, 0] - here[0], starts[:, 1] - here[1])
        # Rounded, so that a tie falls the same way on every machine.
        nearest = int(np.argmin(np.where(left, np.round(distance, 6), np.inf)))
        left[nearest] = False
        ordered += waiting[nearest]
        here = _end(ordered[-1])
    return tuple(ordered)


def travel_of(paths: Sequence[CutPath], start: Point = (0.0, 0.0)) -> float:
    """Return how far the tool travels without cutting, mm."""
    here, total = start, 0.0
    for path in paths:
        there = _start(path)
        total += float(np.hypot(there[0] - here[0], there[1] - here[1]))
        here = _end(path)
    return total


def _within(paths: list[CutPath]) -> list[CutPath]:
    """Order one part's paths: score, punch, inner cuts, outline."""
    outline = paths.pop()
    rank = {Operation.SCORE: 0, Operation.PUNCH: 1, Operation.CUT: 2}
    paths.sort(key=lambda path: rank[path.operation])
    ordered: list[CutPath] = []
    for _, group in groupby(paths, key=lambda path: path.operation):
        waiting = list(group)
        here = _end(ordered[-1]) if ordered else _start(outline)
        while waiting:
            nearest = min(range(len(waiting)), key=lambda k: _gap(waiting[k], here))
            ordered.append(waiting.pop(nearest))
            here = _end(ordered[-1])
    return [*ordered, outline]


def _gap(path: CutPath, here: Point) -> float:
    x, y = _start(path)
    return round((x - here[0]) ** 2 + (y - here[1]) ** 2, 6)


def _start(path: CutPath) -> Point:
    x, y = path.contour.starts[0]
    return float(x), float(y)


def _end(path: CutPath) -> Point:
    x, y = path.contour.ends[-1]
    return float(x), float(y)
