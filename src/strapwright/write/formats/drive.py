"""What files that drive a machine share: its numbers, the outline check, runs and tool changes in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.batch import Many
from strapwright.geometry.contour import Contour
from strapwright.machine.toolpath.runs import tool_runs
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.machine.profile.machine import Axes, Machine
    from strapwright.machine.toolpath.runs import ToolRun
    from strapwright.machine.types import CutSheet

OUTLINE_CHECK: Final = "Outline check: travels round the job, to place the hide. It cuts nothing. "
"""What a file that goes round the job says of itself."""

_DECIMALS: Final = {"mm": 4, "in": 6}


def decimals_of(machine: Machine) -> int:
    """Return how many decimals a length has in a machine's G-code.

    Example:
        >>> from strapwright.machine.profile.machine import read_machine
        >>> decimals_of(read_machine("wide-laser"))
        4
    """
    return _DECIMALS[machine.units]


def in_machine(contour: Contour, axes: Axes) -> Contour:
    """Return a contour in the machine's own millimetres.

    Where one axis counts the other way the picture is mirrored, and arcs turn the other way.

    Example:
        >>> from strapwright.machine.profile.machine import Axes
        >>> quarter = Contour([(10, 0, 0.5), (0, 10, 0)], closed=False)
        >>> in_machine(quarter, Axes(100.0, 0.0, -1, 1)).vertices.tolist()
        [[90.0, 0.0, -0.5], [100.0, 10.0, 0.0]]
    """
    if (axes.x_zero, axes.y_zero, axes.x_sign, axes.y_sign) == (0.0, 0.0, 1, 1):
        return contour
    v = contour.vertices
    turn = -1.0 if axes.mirrored else 1.0
    x, y = axes.x_sign * (v[:, 0] - axes.x_zero), axes.y_sign * (v[:, 1] - axes.y_zero)
    return Contour(np.column_stack([x, y, turn * v[:, 2]]), contour.closed)


def corners_round(sheet: CutSheet, machine: Machine) -> list[tuple[float, float]]:
    """Return the corners of the box round all a tool does, the first again last, as the machine counts."""
    boxes = Many.of([run.track for run in tool_runs(sheet, machine)]).boxes
    (x0, y0), (x1, y1) = boxes[:, :2].min(axis=0).tolist(), boxes[:, 2:].max(axis=0).tolist()
    return [machine.axes.of(*corner) for corner in ((x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0))]


def trace_drive(machine: Machine) -> tuple[float, float]:
    """Return the feed in mm a minute and the S word of an outline check; S 0 where its beam is off."""
    percent = machine.laser.trace_power or 0.0
    score, cut = machine.settings(Operation.SCORE), machine.settings(Operation.CUT)
    feed = 60.0 * (score.speed_mm_s or cut.speed_mm_s or 0.0)
    return feed, percent / 100.0 * (machine.max_power or 0.0)


def change_words(tool: str) -> tuple[str, ...]:
    """Return what is done where the machine stops for another tool."""
    return (
        f"Stop. Put in: {tool}",
        "Set its Z zero as before, point it along the bed's x, to the right, then let the machine go on.",
    )


def with_before(runs: Sequence[ToolRun]) -> Iterator[tuple[ToolRun | None, ToolRun]]:
    """Yield each run with the one before it, None for the first."""
    return zip((None, *runs), runs, strict=False)


def run_words(run: ToolRun) -> str:
    """Return what a run makes, in words."""
    if run.path is None:
        return "stroke in the waste that turns the blade along x"
    which = f", pass {run.passes_done + 1} of {run.passes}" if run.passes > 1 else ""
    return f"{run.path.operation}, {run.path.name} of {run.path.part_id}{which}"
