"""What is told of a drag knife that has to start its cuts past the hide's edge."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.errors import PlanError
from strapwright.findings import Finding, Severity
from strapwright.machine.cut_plan import FIRST_CUT
from strapwright.machine.tool_runs import is_compensated, tool_runs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.machine.cut_plan import CutSheet
    from strapwright.machine.profile import Machine
    from strapwright.machine.tool_runs import ToolRun

_NAMED = 6
"""So many parts are named in one finding."""


def leather_edge_findings(sheets: Sequence[CutSheet], machine: Machine) -> list[Finding]:
    """Return a caution for each sheet on which a lead-in or the first stroke finds no room on the leather.

    Nothing where the blade trails too little to matter, or the machine allows for it itself. A sheet whose
    spindle cannot stay on the bed is passed over: its files are refused when they are written.

    Args:
        sheets: of the plan.
        machine: says the blade.
    """
    if not is_compensated(machine):
        return []
    findings: list[Finding] = []
    for sheet in sheets:
        if sheet.leather is None:
            continue
        try:
            runs = tool_runs(sheet, machine)
        except PlanError:
            continue
        findings += _of(sheet, runs)
    return findings


def _of(sheet: CutSheet, runs: Sequence[ToolRun]) -> list[Finding]:
    findings: list[Finding] = []
    parts = list(
        dict.fromkeys(
            run.path.part_id
            for run in runs
            if run.off_leather and run.path is not None and run.path.name != FIRST_CUT
        )
    )
    if parts:
        named = ", ".join(parts[:_NAMED])
        more = f" and {len(parts) - _NAMED} more" if len(parts) > _NAMED else ""
        findings.append(
            Finding(
                "lead-in-off-leather",
                Severity.CAUTION,
                f"The blade comes to the outline of {named}{more} from past the hide's edge: there is no "
                "room on the leather for a lead-in beside the part.",
                "Tape the hide's edge down there and lay a strip of scrap against it, or nest again with "
                "more distance from the edge.",
                sheet.name,
                {"parts": float(len(parts))},
            )
        )
    stroke = runs[0]
    if stroke.path is not None:
        findings.append(
            Finding(
                "blade-not-turned",
                Severity.CAUTION,
                "There is no room on the bed for a stroke in the waste that turns the blade before its first "
                "cut.",
                "Point the blade exactly along the bed's x, to the right, by hand before the start.",
                sheet.name,
            )
        )
    elif stroke.off_leather:
        findings.append(
            Finding(
                "stroke-off-leather",
                Severity.CAUTION,
                "The first stroke, which turns the blade along x, runs past the hide's edge: there is no "
                "room for it on the leather.",
                f"Lay scrap of the same thickness under it, at x {stroke.track.starts[0][0]:.0f}, "
                f"y {stroke.track.starts[0][1]:.0f} mm, or point the blade along x by hand, exactly.",
                sheet.name,
            )
        )
    return findings
