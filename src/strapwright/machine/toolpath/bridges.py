"""Holding bridges: short gaps in an outline, so that a part stays in the hide until it is freed by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.findings import Finding, Severity
from strapwright.core.text import first_few
from strapwright.geometry.batch import Many
from strapwright.geometry.intervals import left_of, without
from strapwright.machine.toolpath.long_edges import edge_stretches

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from strapwright.geometry.contour import Contour
    from strapwright.geometry.intervals import Interval
    from strapwright.machine.profile.tool_keys import Bridges


def bridged(
    outlines: Sequence[Contour], along: float, holes: Sequence[Contour], bridges: Bridges, kerf: float = 0.0
) -> tuple[tuple[Contour, ...], int]:
    """Return an outline with gaps where bridges stand, as open runs, and how many there are.

    Bridges stand on the long straight edges, spread as evenly as the keep-out at tips, ends and holes
    lets them. The gap in the tool's path is wider than the bridge by the kerf, so that the leather left
    standing has the width asked for.

    Args:
        outlines: a part's outline, or the runs of it that are cut; paths of the tool's middle.
        along: the strap's direction, radians.
        holes: of the part, cut or punched.
        bridges: how many, how wide, and how far from tips and holes.
        kerf: width of the cut, mm.

    Example:
        >>> from strapwright.geometry.shapes import rectangle
        >>> from strapwright.machine.profile.tool_keys import Bridges
        >>> few = Bridges(count=2, width=1.0, keep_out=10.0)
        >>> runs, made = bridged([rectangle(0, 0, 300, 30)], 0.0, [], few)
        >>> made, [run.length for run in runs]
        (2, [329.0, 329.0])
    """
    gap = bridges.width + kerf
    keep_out = bridges.keep_out + gap / 2
    free: list[tuple[int, Interval]] = []
    for number, outline in enumerate(outlines):
        edges = edge_stretches(outline, along, keep_out)
        free += [(number, part) for part in clear_of(outline, edges, holes, keep_out)]
    room = sum(high - low for _, (low, high) in free)
    count = min(bridges.count, max(int(room // (2 * gap)), 1 if free else 0))
    gaps: dict[int, list[Interval]] = {}
    for place in range(count):
        wanted = room * (place + 0.5) / count
        for number, (low, high) in free:
            if wanted <= high - low:
                gaps.setdefault(number, []).append((low + wanted - gap / 2, low + wanted + gap / 2))
                break
            wanted -= high - low
    runs = [run for number, outline in enumerate(outlines) for run in without(outline, gaps.get(number, []))]
    return tuple(runs), sum(len(found) for found in gaps.values())


def bridge_findings(made: Mapping[str, int], bridges: Bridges) -> Iterator[Finding]:
    """Yield a caution for the parts that have fewer bridges than the profile asks for.

    Args:
        made: how many bridges each part has, by its id.
        bridges: what the profile asks for.
    """
    short = {part: count for part, count in made.items() if count < bridges.count}
    if short:
        yield Finding(
            "bridges-fewer",
            Severity.CAUTION,
            f"Not every outline has space for {bridges.count} bridges {bridges.keep_out:g} mm from tips, "
            f"ends and holes: {first_few([f'{part} {count}' for part, count in short.items()], 6)}.",
            "Hold these parts down yourself, or lower bridges.keep_out in the profile.",
            next(iter(short)) if len(short) == 1 else "",
            {"asked": float(bridges.count), "least": float(min(short.values()))},
        )


def clear_of(
    contour: Contour, stretches: Iterable[Interval], holes: Iterable[Contour], keep_out: float
) -> list[Interval]:
    """Return what of straight stretches lies no nearer to any hole than may be.

    Args:
        contour: what the stretches are of.
        stretches: each within one straight segment.
        holes: cut or to be punched.
        keep_out: from each hole's line, mm.
    """
    holes = list(holes)
    every = Many.of(holes).sample(16)[0] if holes else np.empty((0, 2))
    clear: list[Interval] = []
    for low, high in stretches:
        begin = np.array(contour.point_at(low))
        way = np.array(contour.tangent_at((low + high) / 2))
        rel = every - begin
        beside = np.abs(rel[:, 0] * way[1] - rel[:, 1] * way[0])
        near = beside < keep_out
        reach = np.sqrt(keep_out**2 - beside[near] ** 2)
        middle = rel[near] @ way + low
        taken = zip((middle - reach).tolist(), (middle + reach).tolist(), strict=True)
        clear += left_of((low, high), taken)
    return clear
