"""Planning the cuts of a layout: safety checks, kerf compensation, sheets on the bed, cutting order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.core.errors import PlanError, Problems
from strapwright.core.findings import Finding, Severity
from strapwright.core.text import first_few
from strapwright.core.tolerances import CLEARANCE, COINCIDENT
from strapwright.machine.bed.bed_limits import longer_than_bed
from strapwright.machine.bed.cut_sheets import HideSheets, LaidPart, hide_sheets
from strapwright.machine.cut_plan import CutPlan
from strapwright.machine.hide_pose import hide_pose
from strapwright.machine.kerf import find_kerfs
from strapwright.machine.toolpath.bridges import bridge_findings
from strapwright.machine.toolpath.compensate import hand_findings, tool_paths
from strapwright.machine.toolpath.lead_in import has_lead_in
from strapwright.machine.toolpath.long_edges import by_hand_finding, marks_to_lay_by, without_long_edges
from strapwright.machine.toolpath.runs import is_compensated, tool_runs
from strapwright.parts.part import Operation
from strapwright.rules.safety import check_fumes

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.machine.hide_pose import HidePose, Touch
    from strapwright.machine.kerf import Kerfs
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.toolpath.compensate import LeftToHand, Memory
    from strapwright.machine.types import CutPath, CutSheet
    from strapwright.nesting.layout.types import Layout
    from strapwright.parts.part import Part
    from strapwright.rules.leather import Tannage


_NAMED = 6
"""So many parts are named in one finding; the cut sheet has them all."""


def plan(
    layout: Layout,
    machine: Machine,
    *,
    kerf: float | None = None,
    accept_fume_risk: bool = False,
    job_name: str = "",
    touches: Sequence[Touch] = (),
    memory: Memory | None = None,
) -> CutPlan:
    """Return the cut plan of a layout on a machine.

    Without touches hide coordinates are bed coordinates: the hide lies on the bed as it was drawn. A hide
    longer than the bed of a machine it can be drawn through is cut in windows.

    Args:
        layout: parts on hides.
        machine: the machine.
        kerf: width of the cut given by hand for all leathers, mm; None takes the measured one.
        accept_fume_risk: True where leather of doubtful tannage may be burnt here: your decision.
        job_name: for the files' headers.
        touches: two points of the one hide that has parts, touched on the machine; none: it lies as drawn.
        memory: tool paths that `check_parts` found of these parts.

    Raises:
        SafetyError: the fumes could hurt someone.
        PlanError: nothing placed, no kerf known, a part too thick, too tight or off the bed; every
            part concerned is named, one line each. Touches that cannot be, or of several hides.
    """
    if not layout.placed:
        raise PlanError("nothing is placed on a hide, so there is nothing to cut")
    touched = _touched(layout, touches)
    kerfs = _checked([p.part for p in layout.placed], machine, kerf, accept_fume_risk)
    machine = kerfs.machine
    _check_gap(layout, kerfs.widest)
    memory = {} if memory is None else memory
    problems = Problems()
    left: list[LeftToHand] = []
    cut: list[HideSheets] = []
    for hide in layout.hides:
        parts: list[LaidPart] = []
        for placed in layout.placed_on(hide.name):
            part = placed.part
            marks: tuple[CutPath, ...] = ()
            own = kerfs.by_leather[part.tannage, part.thickness]
            with problems.gathered():
                paths, by_hand = tool_paths(part, machine, own, memory)
                left += by_hand
                if machine.ends_only:
                    paths, marks = without_long_edges(part, paths), marks_to_lay_by(part)
                parts.append(LaidPart(placed, paths, marks, own.width))
        if parts:
            with problems.gathered():
                cut.append(hide_sheets(layout.with_avoided(hide.name), parts, machine, touched))
    problems.refuse()
    sheets = tuple(sheet for one in cut for sheet in one.sheets)
    findings = [
        *kerfs.findings,
        *fume_findings([placed.part.tannage for placed in layout.placed], machine),
        *(found for one in cut for found in one.findings),
        *hand_findings(left, machine),
    ]
    if machine.bridges is not None:
        findings += bridge_findings({k: v for one in cut for k, v in one.bridges.items()}, machine.bridges)
    if machine.ends_only:
        findings.append(by_hand_finding())
    findings += (*_blade_findings(sheets, machine), *_lead_in_findings(sheets, machine))
    return CutPlan(
        machine,
        sheets,
        tuple(kerfs.by_leather.values()),
        tuple(findings),
        job_name,
        whole=tuple(sheet for one in cut for sheet in one.whole),
    )


def _lead_in_findings(sheets: Sequence[CutSheet], machine: Machine) -> Iterator[Finding]:
    """Yield how a laser's cuts are begun where its profile asks for it, and which have no waste for that."""
    laser = machine.laser
    if not has_lead_in(machine):
        return
    said = [f"begin {laser.lead_in:g} mm out in the waste"] if laser.lead_in else []
    said += [f"go on {laser.overcut:g} mm past their start"] if laser.overcut else []
    yield Finding(
        "laser-lead-in",
        Severity.NOTE,
        f"In G-code and HP-GL closed cuts {' and '.join(said)}, outlines at the end away from the tip.",
        "DXF and SVG hold closed outlines that begin there: set the lead-in where they are read.",
        numbers={"lead_in_mm": laser.lead_in, "overcut_mm": laser.overcut},
    )
    for sheet in sheets if laser.lead_in else ():
        on_line = {
            run.path.part_id: None
            for run in tool_runs(sheet, machine)
            if run.path is not None and run.path.operation is Operation.CUT and not run.from_waste
        }
        if on_line:
            yield Finding(
                "laser-no-lead-in",
                Severity.NOTE,
                f"Some cuts of {first_few(list(on_line), _NAMED)} begin on their line: they are open, "
                "where edges are shared or bridges left, or no waste lies beside their start.",
                "Try one in scrap and look at the notch where the beam goes in.",
                sheet.name,
                {"parts": float(len(on_line))},
            )


def check_parts(
    parts: Sequence[Part],
    machine: Machine,
    *,
    kerf: float | None = None,
    accept_fume_risk: bool = False,
    memory: Memory | None = None,
) -> float:
    """Refuse parts a machine cannot make wherever they lie, before time is spent on nesting them.

    Args:
        parts: not yet placed.
        machine: the machine.
        kerf: width of the cut given by hand, mm; None takes the measured one.
        accept_fume_risk: True where leather of doubtful tannage may be burnt here: your decision.
        memory: is given the tool paths found, for `plan`.

    Returns:
        The widest cut the machine makes in these parts' leathers, mm; 0 for no parts.

    Raises:
        SafetyError: the fumes could hurt someone.
        PlanError: no kerf known, a part too thick, too tight or too long for any place on the bed.
    """
    kerfs = _checked(parts, machine, kerf, accept_fume_risk)
    memory = {} if memory is None else memory
    problems = Problems()
    for part in parts:
        with problems.gathered():
            tool_paths(part, machine, kerfs.by_leather[part.tannage, part.thickness], memory)
        problems += longer_than_bed(part, machine)
    problems.refuse()
    return kerfs.widest


def _checked(parts: Sequence[Part], machine: Machine, kerf: float | None, accept_fume_risk: bool) -> Kerfs:
    """Check fumes first, then thickness, and return the kerf in each leather."""
    check_fumes([part.tannage for part in parts], machine.kind, accept_fume_risk)
    if machine.ends_only and Operation.SCORE not in machine.operations:
        raise PlanError(
            f"{machine.name!r} does not score (operation.score.enabled), and straps whose long edges are cut "
            "by hand are laid by scored lines; let it cut them whole"
        )
    Problems(
        f"{part.id} is {said}" for part in parts if (said := too_thick(part.thickness, machine))
    ).refuse()
    return find_kerfs(((part.tannage, part.thickness) for part in parts), machine, kerf)


def _touched(layout: Layout, touches: Sequence[Touch]) -> HidePose | None:
    """Return how the one hide with parts lies; None where it was not touched."""
    if not touches:
        return None
    used = [hide.name for hide in layout.hides if layout.placed_on(hide.name)]
    if len(used) > 1:
        raise PlanError(
            f"--touch says where one hide lies, and the parts lie on {len(used)}: {', '.join(used)}; "
            "cut each hide by itself, with its own touches"
        )
    return hide_pose(touches)


def too_thick(thickness: float, machine: Machine) -> str:
    """Return what to say of leather too thick for a machine, or an empty text."""
    most = machine.max_thickness
    if most is None or thickness <= most + COINCIDENT:
        return ""
    by_blade = machine.blade is not None and machine.blade.max_thickness <= most
    who = f"the blade of {machine.name!r} goes" if by_blade else f"{machine.name!r} cuts"
    return f"{thickness:.2f} mm thick; {who} through {most:g} mm; use thinner leather or another machine"


def _check_gap(layout: Layout, kerf: float) -> None:
    """Refuse a layout whose parts lie so near each other that the cut of one eats the next."""
    clearance = layout.clearance
    between = min(clearance.between, clearance.kerf) if clearance.shared else clearance.between
    for kept, needed, where in (
        (between, kerf, "between parts"),
        (clearance.edge, kerf / 2, "at the hide's edge and flaws"),
    ):
        if kept < needed - CLEARANCE:
            raise PlanError(
                f"the layout keeps {kept:.3g} mm {where}; a kerf of {kerf:.3g} mm needs {needed:.3g} mm; "
                "nest again for this machine"
            )


def fume_findings(tannages: Sequence[Tannage], machine: Machine) -> Iterator[Finding]:
    """Yield a caution where leather of doubtful tannage is cut by laser because it was accepted."""
    doubtful = sorted({str(tannage) for tannage in tannages} - {"vegetable"})
    if machine.kind == "laser" and doubtful:
        yield Finding(
            "fume-risk-accepted",
            Severity.CAUTION,
            f"Leather of {' and '.join(doubtful)} tannage is cut by laser because you allowed it.",
            "Check extraction, the local rules and the leather's data sheet before the first cut.",
        )


def _blade_findings(sheets: Sequence[CutSheet], machine: Machine) -> Iterator[Finding]:
    """Yield a caution for each sheet on which the blade finds no waste to turn in.

    Nothing where the blade trails too little to matter, or the machine allows for it itself. A sheet whose
    spindle cannot stay on the bed is passed over: its files are refused when they are written.
    """
    for sheet in sheets if is_compensated(machine) else ():
        if sheet.leather is None:
            continue
        try:
            runs = tool_runs(sheet, machine)
        except PlanError:
            continue
        # Parts whose cut begins with the blade turning where it then goes in.
        parts = {
            run.path.part_id: None
            for before, run, after in zip((None, *runs), runs, runs[1:], strict=False)
            if run.path is not None
            and run.turns
            and (before is None or before.path is not run.path)
            and after.continues(run)
        }
        if parts:
            yield Finding(
                "blade-turns-on-line",
                Severity.CAUTION,
                f"There is no waste near {first_few(list(parts), _NAMED)} for the blade to turn in: it turns "
                "on the line of the cut itself, no deeper than a score, before it goes in.",
                "Try it in scrap first, or nest again with a wider gap and more distance from the edge.",
                sheet.name,
                {"parts": float(len(parts))},
            )
        stroke = runs[0]
        if stroke.path is not None:
            yield Finding(
                "blade-not-turned",
                Severity.CAUTION,
                "There is no space on the bed for a stroke in the waste that turns the blade before its "
                "first cut.",
                "Turn the blade by hand to point exactly along the bed's x, to the right, before the start.",
                sheet.name,
            )
        elif stroke.off_leather:
            x, y = stroke.track.starts[0]
            yield Finding(
                "stroke-off-leather",
                Severity.CAUTION,
                "The first stroke, which turns the blade along x, runs past the hide's edge: there is no "
                "room for it on the leather.",
                f"Lay scrap of the same thickness under it, at x {x:.0f}, y {y:.0f} mm, or turn the blade by "
                "hand to point exactly along x.",
                sheet.name,
            )
