"""The first cut of a raw hide as a path: straight, before anything else, its kerf in what is cut off."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from strapwright.core.findings import Finding, Severity
from strapwright.geometry.shapes import line
from strapwright.machine.sheet.bed import off_bed
from strapwright.machine.types import FIRST_CUT, CutPath
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from strapwright.machine.hide_pose import HidePose
    from strapwright.machine.profile.machine import Machine
    from strapwright.nesting.hide.types import Hide


def first_cut(
    hide: Hide, lie: HidePose, machine: Machine, kerf: float, *, in_windows: bool
) -> tuple[tuple[CutPath, ...], list[Finding]]:
    """Return the path that squares a hide's raw edge, or a caution where it is left to the maker.

    The leather that stays lies to the left of the path, and half the kerf is taken from the right.

    Args:
        hide: the hide.
        lie: how it lies on the bed.
        machine: the machine.
        kerf: width of the cut, mm.
        in_windows: whether the hide is drawn through: an edge to measure from is not pieced together.

    Returns:
        One path on the bed, with a caution if a blade cuts it, or no path and why; nothing for a hide
        without a first cut.
    """
    cut = hide.first_cut
    if cut is None:
        return (), []
    (ax, ay), (bx, by) = cut.start, cut.end
    length = math.hypot(bx - ax, by - ay)
    right_x, right_y = (by - ay) / length * kerf / 2, (ax - bx) / length * kerf / 2
    layer = machine.settings(Operation.CUT).layer
    drawn = line(ax + right_x, ay + right_y, bx + right_x, by + right_y)
    path = CutPath(hide.name, FIRST_CUT, Operation.CUT, lie.placement.apply(drawn), layer)
    if machine.ends_only:
        why = f"{machine.name!r} leaves long edges to the bench"
    elif in_windows:
        why = "an edge to measure from is not pieced together out of windows"
    elif off_bed([path], machine):
        why = f"it is {length:.0f} mm long and leaves the bed of {machine.name!r}"
    else:
        return (path,), _from_the_edge(hide, path) if machine.kind == "drag_knife" else []
    return (), [
        Finding(
            "first-cut-by-hand",
            Severity.CAUTION,
            f"The first cut, which squares the raw edge, is not in the files: {why}.",
            "Cut it by hand along a straightedge before the hide goes on the bed: everything is placed "
            "from it.",
            hide.name,
        )
    ]


def _from_the_edge(hide: Hide, path: CutPath) -> list[Finding]:
    """Return what to do where a blade comes to the leather at its edge, and may fold it."""
    x, y = path.contour.starts[0].tolist()
    return [
        Finding(
            "first-cut-from-edge",
            Severity.CAUTION,
            f"The blade begins the first cut at the hide's edge, at x {x:.0f}, y {y:.0f} mm on the bed, "
            "where it may fold the leather.",
            "Tape the hide's edge down there and lay a strip of scrap against it.",
            hide.name,
        )
    ]
