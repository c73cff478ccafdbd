"""Take a job all the way to proven cut files: draft, nest, plan, write."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from strapwright.api.layouts import LAYOUT_FILES, Aim, clearance_for, nest
from strapwright.core.errors import NestError, PlanError
from strapwright.core.findings import Finding, Severity
from strapwright.job.draft import draft
from strapwright.job.end_pieces import only_ends
from strapwright.job.grading import findings_as_read
from strapwright.machine.hide_pose import touch_at

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from strapwright.core.units import Units
    from strapwright.job.draft import Draft
    from strapwright.job.spec.job import Job
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.hide_pose import Touch
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.toolpath.compensate import Memory
    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import Layout, UnplacedPart
    from strapwright.nesting.solver.nest import NestProgress
    from strapwright.write.cut_files import CutFiles


_SEAL_AND_DAY: Final = re.compile(r"strapwright-[0-9a-f]{64}|date: \d{4}-\d\d-\d\d")
"""What differs between two files of the same cuts written on two days."""


@dataclass(frozen=True)
class Cut:
    """Everything between a job and its cut files.

    Args:
        draft: the belts.
        layout: where their parts lie.
        plan: what the machine does; None where parts do not fit and that was not allowed.
        files: the cut files with their proofs; None likewise.
        findings: those of all stages.
        before: the files of a window that is written again, as they were before its holes were touched.
    """

    draft: Draft
    layout: Layout
    plan: CutPlan | None
    files: CutFiles | None
    findings: tuple[Finding, ...]
    before: CutFiles | None = None

    @property
    def findings_as_read(self) -> tuple[Finding, ...]:
        """The findings as a person reads them: those of a graded belt's sizes once."""
        return (*findings_as_read(self.draft), *self.findings[len(self.draft.findings) :])


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
    """Plan a layout for a machine, as of today: see :func:`strapwright.machine.planning.plan`."""
    from datetime import date

    from strapwright.machine.planning import plan as make

    made = make(
        layout,
        machine,
        kerf=kerf,
        accept_fume_risk=accept_fume_risk,
        job_name=job_name,
        touches=touches,
        memory=memory,
    )
    return replace(made, day=date.today())


def cut(
    job: Job,
    hides: Sequence[Hide],
    machine: Machine,
    *,
    formats: Sequence[str] = (),
    layout: Callable[[Draft], Layout] | None = None,
    kerf: float | None = None,
    accept_fume_risk: bool = False,
    partial: bool = False,
    ends_only: bool = False,
    long_edges_by_hand: bool = False,
    touches: Sequence[Touch] = (),
    window: int | None = None,
    holes: Mapping[str, tuple[float, float]] | None = None,
    drafted: Draft | None = None,
    time_limit: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    aim: Aim = "fewest",
    units: Units = "mm",
    progress: Callable[[NestProgress], None] | None = None,
    stage: Callable[[str], None] | None = None,
) -> Cut:
    """Take a job all the way to proven cut files in memory.

    Args:
        job: the job.
        hides: in the order they are to be used up.
        machine: the machine.
        formats: those wanted; none means all the machine reads.
        layout: makes the layout of the draft; None nests again.
        kerf: width of the cut given by hand, mm; None takes the measured one.
        accept_fume_risk: True where leather of doubtful tannage may be burnt here: your decision.
        partial: make files of what is placed even if something does not fit, or a finding stops a belt,
            which is left out then.
        ends_only: cut just the two ends of every strap, to try the buckle in scrap.
        long_edges_by_hand: leave the long edges to the strap cutter, as the profile's ``ends_only`` does.
        touches: two points of the hide, touched on the machine; none: it lies as drawn.
        window: the one to write again, from where its registration holes are; None writes everything.
        holes: where they do, in the machine's own numbers, by their names.
        drafted: the job's draft, where it has been made before; None drafts it.
        time_limit: seconds the nest may search.
        steps: of the nest's search instead of a time.
        seed: of the nest's random choices.
        aim: what the nest is after: see :func:`strapwright.api.nest`.
        units: of lengths on the cut sheet.
        progress: called while nesting.
        stage: called with what is done before and after that, in words.

    Raises:
        PartError: belts that make no sound part.
        SafetyError: the fumes could hurt someone.
        PlanError: a finding stops a belt that may not be left out; the machine cannot cut this as asked.
        NestError: the hides cannot be nested at all.
        ProofError: a file does not read back as planned.
    """
    from strapwright.machine.planning import check_parts
    from strapwright.write.cut_files import check_formats, write_plan

    drafted = drafted or draft(job)
    if ends_only:
        drafted = only_ends(drafted)
    if long_edges_by_hand:
        machine = machine.model_copy(update={"ends_only": True})
    wanted, left_out = _without_stopped(drafted, partial=partial)
    check_formats(formats, machine)
    memory: Memory = {}
    widest = check_parts(wanted.parts, machine, kerf=kerf, accept_fume_risk=accept_fume_risk, memory=memory)
    if layout is None:
        clearance = clearance_for(job, widest, machine)
        laid = nest(
            wanted,
            hides,
            clearance,
            time_limit=time_limit,
            steps=steps,
            seed=seed,
            progress=progress,
            stage=stage,
            aim=aim,
            job=job,
        )
    else:
        laid = layout(drafted)
    laid = _leaving_out(laid, left_out)
    findings = (*drafted.findings, *laid.findings, *_gap_grown(job, laid))
    if not laid.placed:
        raise NestError("\n".join(f"{left.part.id}: {left.reason}" for left in laid.unplaced))
    if laid.unplaced and not partial:
        return Cut(drafted, laid, None, None, findings)
    if stage is not None:
        stage("planning the cuts, writing the files and reading them back")
    planned = plan(
        laid,
        machine,
        kerf=kerf,
        accept_fume_risk=accept_fume_risk,
        job_name=job.name,
        touches=touches,
        memory=memory,
    )
    before = (*findings_as_read(drafted), *findings[len(drafted.findings) :])
    wanted_formats = formats or machine.formats
    earlier = None
    if window is not None:
        from strapwright.machine.bed.registration import window_from_holes

        found = {name: touch_at((0, 0), own, machine).machine for name, own in (holes or {}).items()}
        touched = window_from_holes(planned, window, found)
        earlier = write_plan(planned, wanted_formats, job.name, findings=before, units=units)
        planned = touched
    files = write_plan(planned, wanted_formats, job.name, findings=before, units=units)
    return Cut(drafted, laid, planned, files, (*findings, *planned.findings), earlier)


def check_windows_kept(folder: Path, cut: Cut) -> None:
    """Refuse a window written again that does not belong to the files in a folder.

    What is in the leather already was cut from those files: the window fits to it only if the plan they were
    written from is the same, as its files, written again, show.

    Args:
        folder: where the files of all windows are.
        cut: with the window.

    Raises:
        PlanError: a file is not there, or would now be another.
    """
    if cut.before is None:
        return
    differ: list[str] = []
    for name in cut.before.proofs:
        path = folder / name
        try:
            there = path.read_bytes().decode()
        except (OSError, UnicodeDecodeError):
            raise PlanError(
                f"{path}: not there; --window writes one window again beside the files of all windows; use "
                "the same --out as for those"
            ) from None
        was, now = (_SEAL_AND_DAY.sub("", text) for text in (there, cut.before.texts[name]))
        if was != now:
            differ.append(name)
    if differ:
        raise PlanError(
            f"{folder / differ[0]}: would now be different, so the window would not fit what is already cut; "
            "give job, hide, machine, --layout, --kerf and --touch as for the first files"
        )


def _without_stopped(drafted: Draft, *, partial: bool) -> tuple[Draft, tuple[UnplacedPart, ...]]:
    """Return the draft without the parts of belts that a finding stops, and those parts with the reason.

    Raises:
        PlanError: the findings, where belts that they stop may not be left out, or nothing else is left.
    """
    from strapwright.nesting.layout.types import UnplacedPart

    stops: dict[str, str] = {}
    for found in drafted.findings:
        if found.severity is Severity.STOP:
            before = f"{stops[found.subject]} " if found.subject in stops else ""
            stops[found.subject] = f"{before}{found.what} {found.do}"
    kept = tuple(part for part in drafted.parts if part.belt_id not in stops)
    if stops and (not partial or not kept):
        lines = [f"{subject}: {why}" for subject, why in stops.items()]
        if kept:
            lines.append(
                f"nothing is cut; fix {'it' if len(stops) == 1 else 'them'}, or use --partial to cut the rest"
            )
        raise PlanError("\n".join(lines))
    left_out = tuple(
        UnplacedPart(part, f"left out: {stops[part.belt_id]}")
        for part in drafted.parts
        if part.belt_id in stops
    )
    return replace(drafted, parts=kept), left_out


def _leaving_out(laid: Layout, left_out: Sequence[UnplacedPart]) -> Layout:
    """Return a layout with some parts left unplaced."""
    if not left_out:
        return laid
    ids = {left.part.id for left in left_out}
    return replace(
        laid,
        placed=tuple(placed for placed in laid.placed if placed.part.id not in ids),
        unplaced=(*(left for left in laid.unplaced if left.part.id not in ids), *left_out),
    )


def _gap_grown(job: Job, layout: Layout) -> tuple[Finding, ...]:
    between = layout.clearance.between
    if between <= job.layout.gap:
        return ()
    clearance = layout.clearance
    why = (
        "the blade's lead-in needs it"
        if clearance.lead_in > clearance.kerf
        else "the cut itself is that wide"
    )
    return (
        Finding(
            "gap-grown",
            Severity.NOTE,
            f"The gap between parts was increased from {job.layout.gap:.3g} to {between:.3g} mm: {why}.",
            "Nothing to do; write a larger layout.gap into the job if you want more.",
            numbers={"gap_mm": between},
        ),
    )


def left_from_earlier(folder: Path, files: CutFiles) -> list[Path]:
    """Return cut files of the same job that an earlier cut left in a folder: of another format or hide."""
    from strapwright.files.atomic_write import is_ours
    from strapwright.write.formats.format import FORMATS

    suffixes = {form.suffix for form in FORMATS.values()}
    return [
        path
        for path in sorted(folder.iterdir())
        if path.suffix in suffixes
        and path.name not in (*files.texts, *LAYOUT_FILES)
        and (path.stem == files.stem or path.stem.startswith(f"{files.stem}-"))
        and is_ours(path)
    ]
