"""From layout to cut plan: safe, compensated, on the bed and in order."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from strapwright.errors import PlanError
from strapwright.findings import Finding, Severity
from strapwright.machine.cut_plan import CutPath, CutPlan, CutSheet, Kerf
from strapwright.machine.order import in_order
from strapwright.machine.readings import readings
from strapwright.machine.tool_paths import punch_findings, tool_paths
from strapwright.tolerances import CLEARANCE, COINCIDENT
from strapwright.trade.safety import check_fumes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.machine.compensate import Memory
    from strapwright.machine.profile import Machine
    from strapwright.machine.readings import Readings
    from strapwright.machine.tool_paths import TooSmall
    from strapwright.nesting.layout import Layout, Placed
    from strapwright.parts.part import Part
    from strapwright.trade.leather import Tannage

__all__ = ["CutPath", "CutPlan", "CutSheet", "Kerf", "check_parts", "plan"]


def plan(
    layout: Layout,
    machine: Machine,
    *,
    kerf: float | None = None,
    accept_fume_risk: bool = False,
    job_name: str = "",
) -> CutPlan:
    """Return what a machine does to cut a layout.

    Hide coordinates are bed coordinates: the hide lies on the bed as it was drawn.

    Args:
        layout: parts on hides.
        machine: the machine.
        kerf: width of the cut given by hand for all leathers, mm; None takes the measured one.
        accept_fume_risk: the maker's word that leather of doubtful tannage may be burnt here.
        job_name: for the files' headers.

    Raises:
        SafetyError: the fumes could hurt someone.
        PlanError: nothing placed, no kerf known, a part too thick, too tight or off the bed; every
            part concerned is named, one line each.
    """
    if not layout.placed:
        raise PlanError("nothing is placed on a hide, so there is nothing to cut")
    measured = _checked([p.part for p in layout.placed], machine, kerf, accept_fume_risk)
    kerfs, machine = measured.kerfs, measured.machine
    widest = max(kerfs.values())
    _check_gap(layout, widest)
    findings = [*machine.notes, *measured.findings]
    findings += fume_findings([placed.part.tannage for placed in layout.placed], machine)
    memory: Memory = {}
    problems: list[str] = []
    small: list[TooSmall] = []
    sheets: list[CutSheet] = []
    for hide in layout.hides:
        by_part: list[list[CutPath]] = []
        for placed in layout.placed:
            if placed.hide != hide.name:
                continue
            part = placed.part
            try:
                paths, too_small = tool_paths(part, machine, kerfs[part.tannage, part.thickness], memory)
            except PlanError as error:
                problems.append(str(error))
                continue
            small += too_small
            by_part.append([_put(path, placed) for path in paths])
            problems += _off_bed(by_part[-1], machine)
        if by_part:
            findings += _hide_past_bed(hide.name, hide.outline.max(axis=0), machine)
            width, height = machine.bed
            sheets.append(CutSheet(hide.name, hide.name, width, height, in_order(by_part)))
    if problems:
        raise PlanError("\n".join(problems))
    findings += punch_findings(small, machine)
    used = tuple(Kerf(tannage, thick, width) for (tannage, thick), width in kerfs.items())
    return CutPlan(machine, tuple(sheets), widest, used, tuple(findings), job_name)


def check_parts(
    parts: Sequence[Part],
    machine: Machine,
    *,
    kerf: float | None = None,
    accept_fume_risk: bool = False,
) -> float:
    """Refuse parts a machine cannot make wherever they lie, before time is spent on nesting them.

    Args:
        parts: not yet placed.
        machine: the machine.
        kerf: width of the cut given by hand, mm; None takes the measured one.
        accept_fume_risk: the maker's word that leather of doubtful tannage may be burnt here.

    Returns:
        The widest cut the machine makes in these parts' leathers, mm; 0 for no parts.

    Raises:
        SafetyError: the fumes could hurt someone.
        PlanError: no kerf known, a part too thick, too tight or too long for any place on the bed.
    """
    kerfs = _checked(parts, machine, kerf, accept_fume_risk).kerfs
    memory: Memory = {}
    problems: list[str] = []
    for part in parts:
        try:
            tool_paths(part, machine, kerfs[part.tannage, part.thickness], memory)
        except PlanError as error:
            problems.append(str(error))
        problems += _longer_than_bed(part, machine)
    if problems:
        raise PlanError("\n".join(problems))
    return max(kerfs.values(), default=0.0)


def _checked(parts: Sequence[Part], machine: Machine, kerf: float | None, accept_fume_risk: bool) -> Readings:
    """Look at fumes first, then at thickness; return what was measured in each leather."""
    check_fumes([part.tannage for part in parts], machine.kind, accept_fume_risk)
    _check_thickness(parts, machine)
    return readings(((part.tannage, part.thickness) for part in parts), machine, kerf)


def _put(path: CutPath, placed: Placed) -> CutPath:
    """Return a path where its part lies on the bed."""
    moved = placed.placement.apply(path.contour)
    return CutPath(path.part_id, path.name, path.operation, moved, path.layer, path.diameter)


def _check_thickness(parts: Sequence[Part], machine: Machine) -> None:
    """Refuse leather too thick for the machine."""
    thick = [f"{part.id} is {said}" for part in parts if (said := too_thick(part.thickness, machine))]
    if thick:
        raise PlanError("\n".join(thick))


def too_thick(thickness: float, machine: Machine) -> str:
    """Return what to say of leather too thick for a machine, or an empty text."""
    most = machine.max_thickness
    if most is None or thickness <= most + COINCIDENT:
        return ""
    by_blade = machine.blade is not None and machine.blade.max_thickness <= most
    who = f"the blade of {machine.name!r} goes" if by_blade else f"{machine.name!r} cuts"
    return f"{thickness:.2f} mm thick; {who} through {most:g} mm; use thinner leather or another machine"


def _longer_than_bed(part: Part, machine: Machine) -> list[str]:
    """Return what to say of a part that fits the bed at no angle: it is longer than the diagonal."""
    x0, y0, x1, y1 = part.outline.bounding_box
    longest = max(x1 - x0, y1 - y0)
    width, height = machine.bed
    if longest <= math.hypot(width, height):
        return []
    bed = f"{width:g} × {height:g} mm"
    return [
        (
            f"{part.id} is {longest:.1f} mm long; the bed of {machine.name!r} is {bed}; "
            "use a machine with a larger bed"
        )
    ]


def _check_gap(layout: Layout, kerf: float) -> None:
    """Refuse a layout whose parts lie so near each other that the cut of one eats the next."""
    clearance = layout.clearance
    for kept, needed, where in (
        (clearance.between, kerf, "between parts"),
        (clearance.edge, kerf / 2, "at the hide's edge and flaws"),
    ):
        if kept < needed - CLEARANCE:
            raise PlanError(
                f"the layout keeps {kept:.3g} mm {where}; a kerf of {kerf:.3g} mm needs {needed:.3g} mm; "
                "nest again for this machine"
            )


def fume_findings(tannages: Sequence[Tannage], machine: Machine) -> list[Finding]:
    """Return a caution where the maker took the risk of fumes upon themselves."""
    doubtful = sorted({str(tannage) for tannage in tannages} - {"vegetable"})
    if machine.kind != "laser" or not doubtful:
        return []
    return [
        Finding(
            "fume-risk-accepted",
            Severity.CAUTION,
            f"Leather of {' and '.join(doubtful)} tannage is cut by laser at the maker's word.",
            "Check extraction, the local rules and the leather's data sheet before the first cut.",
        )
    ]


def _off_bed(paths: Sequence[CutPath], machine: Machine) -> list[str]:
    """Return what to say of a part whose paths leave the bed."""
    boxes = [path.contour.bounding_box for path in paths]
    low = min(box[0] for box in boxes), min(box[1] for box in boxes)
    high = max(box[2] for box in boxes), max(box[3] for box in boxes)
    said: list[str] = []
    for axis, name in enumerate("xy"):
        bed, first, last = machine.bed[axis], low[axis], high[axis]
        if first >= -CLEARANCE and last <= bed + CLEARANCE:
            continue
        if last - first > bed + CLEARANCE:
            said.append(
                f"{paths[0].part_id} needs {last - first:.1f} mm along {name}; the bed of "
                f"{machine.name!r} is {bed:g} mm along {name}; use a machine with a larger bed"
            )
        else:
            said.append(
                f"{paths[0].part_id} lies from {first:.1f} to {last:.1f} mm along {name}; the "
                f"bed of {machine.name!r} reaches from 0 to {bed:g} mm; move the hide or use a larger bed"
            )
    return said


def _hide_past_bed(name: str, corner: Sequence[float], machine: Machine) -> list[Finding]:
    """Return a note where a hide sticks out past a bed its parts fit on."""
    if all(reach <= bed + CLEARANCE for reach, bed in zip(corner, machine.bed, strict=True)):
        return []
    return [
        Finding(
            "hide-past-bed",
            Severity.NOTE,
            f"Hide {name} reaches to x {corner[0]:.0f}, y {corner[1]:.0f} mm and sticks out past "
            f"the bed of {machine.name!r}, {machine.bed[0]:g} × {machine.bed[1]:g} mm; its parts do not.",
            "See that the hide can hang over there without lifting.",
            name,
        )
    ]
