"""Common line cutting: where two straps lie one kerf apart, one cut separates them both."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.tolerances import COMMON_EDGE, SAME_LINE
from strapwright.geometry.intervals import without

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.core.arrays import Floats
    from strapwright.geometry.contour import Contour
    from strapwright.geometry.intervals import Interval
    from strapwright.machine.types import CutPath


@dataclass(frozen=True)
class Shared:
    """Parts whose common edges are cut once.

    Args:
        pieces: the paths of each part, or of several that share edges: those are done together.
        saved: by how much the cuts are shorter, mm.
        edges: how many edges are shared.
    """

    pieces: tuple[tuple[CutPath, ...], ...]
    saved: float
    edges: int


def share_edges(parts: Sequence[Sequence[CutPath]]) -> Shared:
    """Return parts with each common straight edge cut once, by the first of the two it belongs to.

    Both paths run half a kerf outside their part, so edges one kerf apart lie in one line: the cut takes
    half of its width from the side of each, and both parts keep their size. The second part's outline
    leaves as open runs.

    Args:
        parts: the compensated paths of each part, its closed outline among them, on the bed.
    """
    outlines = [next(path for path in paths if path.is_outline) for paths in parts]
    boxes = np.array([outline.contour.bounding_box for outline in outlines]).reshape(-1, 4)
    gaps: dict[int, list[Interval]] = {}
    together = list(range(len(parts)))
    edges = 0
    for one, other in _neighbours(boxes):
        found = list(_common(outlines[one].contour, outlines[other].contour))
        if found:
            gaps.setdefault(other, []).extend(found)
            edges += len(found)
            low, high = sorted((together[one], together[other]))
            together = [low if group == high else group for group in together]
    saved = 0.0
    groups: dict[int, list[CutPath]] = {}
    for number, paths in enumerate(parts):
        outline = outlines[number]
        runs = without(outline.contour, gaps.get(number, []))
        saved += outline.contour.length - sum(run.length for run in runs)
        inner = [path for path in paths if path is not outline]
        outer = [replace(outline, contour=run) for run in runs]
        groups.setdefault(together[number], []).extend([*inner, *outer])
    return Shared(tuple(tuple(group) for group in groups.values()), saved, edges)


def _neighbours(boxes: Floats) -> Iterator[tuple[int, int]]:
    """Yield the numbers of parts whose boxes touch, the smaller first."""
    for one in range(len(boxes)):
        rest = boxes[one + 1 :]
        touch = (
            (rest[:, 0] <= boxes[one, 2] + SAME_LINE)
            & (rest[:, 2] >= boxes[one, 0] - SAME_LINE)
            & (rest[:, 1] <= boxes[one, 3] + SAME_LINE)
            & (rest[:, 3] >= boxes[one, 1] - SAME_LINE)
        )
        yield from ((one, one + 1 + int(k)) for k in np.flatnonzero(touch))


def _common(one: Contour, other: Contour) -> Iterator[Interval]:
    """Yield the stretches of the other contour that lie on straight edges of the first."""
    long = np.flatnonzero(~one.is_arc & (one.segment_lengths >= COMMON_EDGE))
    for index in np.flatnonzero(~other.is_arc & (other.segment_lengths >= COMMON_EDGE)):
        begin = other.starts[index]
        way = (other.ends[index] - begin) / other.segment_lengths[index]
        from_here = one.starts[long] - begin, one.ends[long] - begin
        beside = [np.abs(rel[:, 0] * way[1] - rel[:, 1] * way[0]) for rel in from_here]
        first, last = (rel @ way for rel in from_here)
        # Outlines run counter-clockwise: edges of two parts side by side run against each other.
        low = np.maximum(last, 0.0)
        high = np.minimum(first, other.segment_lengths[index])
        good = (np.maximum(*beside) <= SAME_LINE) & (high - low >= COMMON_EDGE)
        for k in np.flatnonzero(good):
            yield float(other.reach[index] + low[k]), float(other.reach[index] + high[k])
