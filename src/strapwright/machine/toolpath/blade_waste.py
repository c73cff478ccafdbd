"""What is said of a drag knife that finds no waste to turn its blade in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.core.errors import PlanError
from strapwright.core.findings import Finding, Severity
from strapwright.machine.toolpath.runs import is_compensated, tool_runs

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.toolpath.runs import ToolRun
    from strapwright.machine.types import CutSheet

_NAMED = 6
"""So many parts are named in one finding."""


def leather_edge_findings(sheets: Sequence[CutSheet], machine: Machine) -> list[Finding]:
    """Return a caution for each sheet on which the blade finds no waste to turn in.

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


def _turned_on_their_line(runs: Sequence[ToolRun]) -> Iterator[str]:
    """Yield the part of each cut that begins with the blade turning where it then goes in."""
    for before, run, after in zip((None, *runs), runs, runs[1:], strict=False):
        first = before is None or before.path is not run.path
        if first and run.turns and run.path is not None and after.goes_on_from(run):
            yield run.path.part_id


def _of(sheet: CutSheet, runs: Sequence[ToolRun]) -> list[Finding]:
    findings: list[Finding] = []
    parts = list(dict.fromkeys(_turned_on_their_line(runs)))
    if parts:
        named = ", ".join(parts[:_NAMED])
        more = f" and {len(parts) - _NAMED} more" if len(parts) > _NAMED else ""
        findings.append(
            Finding(
                "blade-turns-on-line",
                Severity.CAUTION,
                f"There is no waste near {named}{more} for the blade to turn in: it turns on the line of the "
                "cut itself, no deeper than a score, before it goes in.",
                "Try it in scrap first, or nest again with a wider gap and more distance from the edge.",
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
                "There is no space on the bed for a stroke in the waste that turns the blade before its "
                "first cut.",
                "Turn the blade by hand to point exactly along the bed's x, to the right, before the start.",
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
                f"y {stroke.track.starts[0][1]:.0f} mm, or turn the blade by hand to point exactly along x.",
                sheet.name,
            )
        )
    return findings
