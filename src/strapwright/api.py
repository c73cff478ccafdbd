"""The five verbs as one calls them from Python or from the command line: read, draft, nest, plan, write."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from strapwright.errors import NestError, PlanError
from strapwright.findings import Finding, Severity
from strapwright.job.draft import Draft, draft
from strapwright.job.ends import only_ends
from strapwright.job.model import Job, is_batch, read_job
from strapwright.job.orders import Orders, read_orders

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path
    from typing import Literal

    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.profile import Machine
    from strapwright.nesting.hide import Hide
    from strapwright.nesting.layout import Clearance, Layout
    from strapwright.nesting.nest import NestProgress
    from strapwright.solid.pieces import BeltModel
    from strapwright.write.cut_files import CutFiles
    from strapwright.write.pattern import Pattern

__all__ = [
    "Cut",
    "Orders",
    "check_folder",
    "clearance_for",
    "cut",
    "draft",
    "is_batch",
    "model",
    "nest",
    "only_ends",
    "pattern",
    "plan",
    "read_hide",
    "read_hides",
    "read_job",
    "read_layout",
    "read_machine",
    "read_orders",
    "schema",
    "write",
    "write_files",
]

LAYOUT_FILES: Final = ("layout.json", "layout.svg")
"""What a layout is written to."""


@dataclass(frozen=True)
class Cut:
    """Everything between a job and its cut files.

    Args:
        draft: the belts.
        layout: where their parts lie.
        plan: what the machine does; None where parts found no place and that was not allowed.
        files: the cut files with their proofs; None likewise.
        findings: those of all stages.
    """

    draft: Draft
    layout: Layout
    plan: CutPlan | None
    files: CutFiles | None
    findings: tuple[Finding, ...]


def read_hide(path: Path) -> Hide:
    """Read a hide from its TOML file, or from a DXF or SVG drawing.

    Raises:
        FileProblems: every mistake in it.
    """
    from strapwright.nesting.hide import read_hide as read

    return read(path)


def read_hides(paths: Sequence[Path]) -> tuple[Hide, ...]:
    """Read several hides; two of one name are told apart by a number.

    Raises:
        FileProblems: every mistake in the first file that has any.
    """
    from dataclasses import replace

    hides: list[Hide] = []
    for path in paths:
        hide = read_hide(path)
        taken = {other.name for other in hides}
        name, count = hide.name, 1
        while name in taken:
            count += 1
            name = f"{hide.name} {count}"
        hides.append(replace(hide, name=name))
    return tuple(hides)


def read_machine(name_or_path: str) -> Machine:
    """Read a machine profile: a shipped one by its name, or a TOML file by its path.

    Raises:
        FileProblems: every mistake in it, or an unknown name.
    """
    from strapwright.machine.profile import read_machine as read

    return read(name_or_path)


def read_layout(path: Path, drafted: Draft, hides: Sequence[Hide]) -> Layout:
    """Read a layout written by :func:`nest`'s command and check it against its job and hides.

    Raises:
        FileProblems: not a layout file.
        NestError: it was made for another job or hide, or something on it does not keep clear.
    """
    import json

    from strapwright.errors import FileProblems
    from strapwright.files.read import read_text
    from strapwright.nesting.layout import layout_from_json

    try:
        data = json.loads(read_text(path, limit_mb=50))
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise FileProblems(
            (f"{path}: {where}: not JSON, so not a layout file; nest the job again",)
        ) from error
    except (ValueError, RecursionError) as error:
        if isinstance(error, FileProblems):
            raise
        raise FileProblems((f"{path}: not a layout file: {error}; nest the job again",)) from error
    return layout_from_json(data, drafted.parts, hides, job_digest=drafted.digest, source=str(path))


def clearance_for(job: Job, kerf: float = 0.0) -> Clearance:
    """Return what the nest keeps clear: the job's gap and margin, and what the tool's kerf needs.

    Args:
        job: its ``[layout]`` table.
        kerf: of the widest cut, mm.
    """
    from strapwright.nesting.layout import Clearance

    return Clearance(gap=job.layout.gap, margin=job.layout.margin, kerf=kerf)


def nest(
    drafted: Draft,
    hides: Sequence[Hide],
    clearance: Clearance,
    *,
    time_limit: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    progress: Callable[[NestProgress], None] | None = None,
) -> Layout:
    """Lay a draft's parts on hides.

    Args:
        drafted: the draft.
        hides: in the order they are to be used up.
        clearance: see :func:`clearance_for`.
        time_limit: seconds to search at most.
        steps: layouts to try; with a number the result is the same on every machine.
        seed: of the random choices.
        progress: called now and then with how far it is.
    """
    from strapwright.nesting.nest import nest as lay

    return lay(
        drafted.parts,
        hides,
        clearance,
        time_limit=time_limit,
        steps=steps,
        seed=seed,
        progress=progress,
    )


def plan(
    layout: Layout,
    machine: Machine,
    *,
    kerf: float | None = None,
    accept_fume_risk: bool = False,
    job_name: str = "",
) -> CutPlan:
    """Plan a layout for a machine: see :func:`strapwright.machine.plan.plan`."""
    from strapwright.machine.plan import plan as make

    return make(layout, machine, kerf=kerf, accept_fume_risk=accept_fume_risk, job_name=job_name)


def write(
    planned: CutPlan, formats: Sequence[str], stem: str, *, units: Literal["mm", "in"] = "mm"
) -> CutFiles:
    """Return a plan's files as text, each read back and proven; nothing is on disk yet."""
    from strapwright.write.cut_files import write_plan

    return write_plan(planned, formats, stem, units=units)


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
    drafted: Draft | None = None,
    time_limit: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    units: Literal["mm", "in"] = "mm",
    progress: Callable[[NestProgress], None] | None = None,
    stage: Callable[[str], None] | None = None,
) -> Cut:
    """Take a job all the way to proven cut files in memory.

    Args:
        job: the job.
        hides: in the order they are to be used up.
        machine: the machine.
        formats: those wanted; none means all the machine reads.
        layout: makes the layout of the draft; None nests anew.
        kerf: width of the cut given by hand, mm; None takes the measured one.
        accept_fume_risk: the maker's word that leather of doubtful tannage may be burnt here.
        partial: make files of what is placed even if something found no place.
        ends_only: cut just the two ends of every strap, to try the buckle in scrap.
        drafted: the job's draft, where it has been made before; None drafts it.
        time_limit: seconds the nest may search.
        steps: layouts the nest may try.
        seed: of the nest's random choices.
        units: what the cut sheet tells lengths in.
        progress: called while nesting.
        stage: called with what is done after that, in words.

    Raises:
        PartError: belts that make no sound part.
        SafetyError: the fumes could hurt someone.
        PlanError: the machine cannot cut this as asked.
        NestError: the hides cannot be nested at all.
        ProofError: a file does not read back as planned.
    """
    from strapwright.machine.plan import check_parts
    from strapwright.write.cut_files import check_formats

    drafted = drafted or draft(job)
    if ends_only:
        drafted = only_ends(drafted)
    stops = [finding for finding in drafted.findings if finding.severity is Severity.STOP]
    if stops:
        raise PlanError("\n".join(f"{stop.subject}: {stop.what} {stop.do}" for stop in stops))
    check_formats(formats, machine)
    widest = check_parts(drafted.parts, machine, kerf=kerf, accept_fume_risk=accept_fume_risk)
    if layout is None:
        clearance = clearance_for(job, widest)
        laid = nest(
            drafted, hides, clearance, time_limit=time_limit, steps=steps, seed=seed, progress=progress
        )
    else:
        laid = layout(drafted)
    findings = (*drafted.findings, *laid.findings, *_gap_grown(job, laid))
    if not laid.placed:
        raise NestError("\n".join(f"{left.part.id}: {left.reason}" for left in laid.unplaced))
    if laid.unplaced and not partial:
        return Cut(drafted, laid, None, None, findings)
    if stage is not None:
        stage("planning the cuts, writing the files and reading them back")
    planned = plan(laid, machine, kerf=kerf, accept_fume_risk=accept_fume_risk, job_name=job.name)
    files = write(planned, formats or machine.formats, job.name, units=units)
    return Cut(drafted, laid, planned, files, (*findings, *planned.findings))


def _gap_grown(job: Job, layout: Layout) -> tuple[Finding, ...]:
    between = layout.clearance.between
    if between <= job.layout.gap:
        return ()
    return (
        Finding(
            "gap-grown",
            Severity.NOTE,
            f"The gap between parts was raised from {job.layout.gap:.3g} to {between:.3g} mm: "
            "the cut itself is that wide.",
            "Nothing to do; write a larger layout.gap into the job if you want more.",
            numbers={"gap_mm": between},
        ),
    )


def pattern(drafted: Draft, paper: str, **options: Any) -> Pattern:
    """Return a draft's paper pattern; options as for :func:`strapwright.write.pattern.pattern`."""
    from strapwright.write.pattern import pattern as make

    return make(drafted, paper, **options)


def model(job: Job, belt: str = "", **options: Any) -> BeltModel:
    """Model a belt in the round, by the solid modeller; see :func:`strapwright.solid.belt.model`."""
    from strapwright.solid.belt import model as make

    return make(job, belt, **options)


def schema(what: str) -> dict[str, Any]:
    """Return the JSON Schema of a file a person writes.

    Args:
        what: ``"job"``, ``"hide"`` or ``"machine"``.
    """
    if what == "job":
        from strapwright.job.model import job_schema

        return job_schema()
    if what == "hide":
        from strapwright.nesting.hide_file import hide_schema

        return hide_schema()
    from strapwright.machine.profile import machine_schema

    return machine_schema()


def layout_files(drafted: Draft, layout: Layout) -> dict[str, str]:
    """Return the layout as ``layout.json`` and its picture as ``layout.svg``, by file name."""
    import json

    from strapwright.files.whole import MARK
    from strapwright.nesting.layout import layout_to_json
    from strapwright.trade.safety import cautions
    from strapwright.write.picture import picture_svg

    data = {"mark": MARK, **layout_to_json(layout, drafted.digest)}
    picture = picture_svg(layout, title=drafted.name, cautions=cautions("bench"))
    as_text = json.dumps(data, indent=1, ensure_ascii=False) + "\n"
    return dict(zip(LAYOUT_FILES, (as_text, picture), strict=True))


def write_files(
    folder: Path, texts: Mapping[str, str], *, force: bool = False, remedy: str = ""
) -> list[Path]:
    """Write files into a folder, all or none; see :func:`strapwright.files.whole.write_whole`.

    Args:
        folder: made where it is not there yet.
        texts: content by file name.
        force: overwrite what stands there, whoever wrote it.
        remedy: what to do about a file in the way, for the message; empty names ``--force``.

    Raises:
        OutputError: something there is not strapwright's to overwrite, or the disk refuses.
    """
    from strapwright.files.whole import OVERWRITE, write_whole

    files = {folder / name: text for name, text in texts.items()}
    write_whole(files, force=force, remedy=remedy or OVERWRITE)
    return list(files)


def check_folder(folder: Path, names: Sequence[str], *, force: bool = False) -> None:
    """Refuse early a folder or files that :func:`write_files` would refuse in the end.

    Raises:
        OutputError: something there is not strapwright's to overwrite, or the folder cannot be made.
    """
    from strapwright.files.whole import check_writable

    check_writable([folder / name for name in names], force=force)


def left_from_earlier(folder: Path, files: CutFiles) -> list[Path]:
    """Return cut files of the same job that an earlier cut left in a folder: of another format or hide."""
    from strapwright.files.whole import is_ours
    from strapwright.write.format import FORMATS

    suffixes = {form.suffix for form in FORMATS.values()}
    return [
        path
        for path in sorted(folder.iterdir())
        if path.suffix in suffixes
        and path.name not in (*files.texts, *LAYOUT_FILES)
        and (path.stem == files.stem or path.stem.startswith(f"{files.stem}-"))
        and is_ours(path)
    ]
