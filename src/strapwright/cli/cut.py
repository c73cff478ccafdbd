"""``strapwright cut``: from a job to proven cut files."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    common_options,
    ends_only_option,
    flag,
    format_option,
    fume_option,
    hide_option,
    job_argument,
    length_option,
    long_edges_option,
    machine_option,
    path_option,
    remnants_option,
    search_options,
    touch_options,
)
from strapwright.cli.terminal.report import (
    emit,
    print_findings,
    print_table,
    print_unplaced,
    proof_row,
    say,
    showing_progress,
    warn_of_old_remnants,
)

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.api import Cut
    from strapwright.cli.terminal.options import Common, Touched
    from strapwright.job.draft import Draft
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.nesting.layout.types import Layout


@click.command(
    "cut", epilog="Example: strapwright cut job.toml --hide side.toml --machine wide-laser --out out"
)
@job_argument
@hide_option
@machine_option("A shipped profile's name (see `strapwright machines`) or your own profile's file.")
@path_option("--out", "DIR", "Folder the files go to.", required=True)
@remnants_option
@format_option()
@path_option("--layout layout_file", "FILE", "Cut this layout.json instead of nesting again.")
@length_option("--kerf", "Width of the cut, by hand; default as measured.")
@fume_option
@flag(
    "--partial",
    "Write files of what is placed even if something is not; leave out belts that a finding stops and a "
    "CSV job's bad lines. The exit status is then 1.",
)
@path_option(
    "--picture picture_file",
    "FILE.svg|png|pdf",
    "Write a picture of the cuts there: their order, where the tool goes in, and the travel.",
)
@ends_only_option
@long_edges_option
@touch_options
@search_options
@common_options("catalogue units as_json force")
def command(
    job: Path,
    hides: tuple[Path, ...],
    machine_name: str,
    out: Path,
    remnants: Path | None,
    formats: tuple[str, ...],
    layout_file: Path | None,
    kerf: float | None,
    accept_fume_risk: bool,
    partial: bool,
    picture_file: Path | None,
    ends_only: bool,
    long_edges_by_hand: bool,
    touches: tuple[Touched, ...],
    window: int | None,
    search: dict[str, Any],
    common: Common,
) -> None:
    """Draft JOB, lay it on hides, plan it for a machine, write the files and prove them.

    Each file is read back by another reader and measured against the plan. If a part does not fit,
    nothing is written unless --partial is given, and the exit status is 1.
    """
    from strapwright import api
    from strapwright.cli.terminal.inputs import read_and_draft

    asked = read_and_draft(job, replace(common, partial=partial), remedy="--partial cuts the good ones")
    leather = api.read_hides(hides)
    machine = api.read_machine(machine_name)
    if window is not None and layout_file is None:
        raise click.UsageError(
            "--window needs --layout and the layout.json that was written with the files of all windows"
        )
    kind = api.picture_kind(picture_file) if picture_file is not None else ""
    if picture_file is not None and kind == ".svg" and picture_file.parent.resolve() == out.resolve():
        raise click.UsageError(
            f"--picture {picture_file}: an SVG beside cut files may be cut by mistake; take .png or .pdf, or "
            "another folder"
        )
    if window is None:
        api.check_writable([out / name for name in api.LAYOUT_FILES], force=common.force)
    if remnants is not None:
        api.check_remnants(remnants, leather, force=common.force)
    given = None
    if layout_file is not None:

        def given(drafted: Draft) -> Layout:
            return api.read_layout(layout_file, drafted, leather)

    with showing_progress(len(leather)) as progress:
        made = api.cut(
            asked.job,
            leather,
            machine,
            formats=formats,
            layout=given,
            kerf=kerf,
            accept_fume_risk=accept_fume_risk,
            partial=partial,
            ends_only=ends_only,
            long_edges_by_hand=long_edges_by_hand,
            touches=[api.touch_at(at, own, machine) for at, own in touches if not isinstance(at, str)],
            window=window,
            holes={at: own for at, own in touches if isinstance(at, str)},
            drafted=asked.draft,
            units=common.units,
            progress=progress.nesting,
            stage=progress.stage,
            **search,
        )
    paths: list[Path] = []
    if made.files is not None:
        api.check_windows_kept(out, made)
        texts: dict[str, str | bytes] = {**made.files.texts}
        if window is None:
            texts |= api.layout_files(made.draft, made.layout)
        files: dict[Path, str | bytes] = {out / name: text for name, text in texts.items()}
        if remnants is not None:
            files |= {remnants / name: text for name, text in api.remnant_files(made.layout).items()}
        if picture_file is not None and made.plan is not None:
            files[picture_file] = api.cut_picture(made.plan, kind)
        api.write_whole(files, force=common.force)
        paths = list(files)
        if remnants is not None:
            warn_of_old_remnants(remnants, made.layout, paths)
        for old in api.left_from_earlier(out, made.files) if window is None else ():
            text = f"caution: {old} is from an earlier cut and does not belong to these; do not cut from it"
            say(text, err=True)
    emit(
        lambda: _as_json(made, paths) | asked.bad_json(), lambda: _report(made, paths), as_json=common.as_json
    )
    asked.fail_on_bad()
    if made.layout.unplaced:
        raise SystemExit(1)


def _report(made: Cut, paths: list[Path]) -> None:
    from strapwright.nesting.bound.area import bound_sentence
    from strapwright.trade.safety import cautions

    layout = made.layout
    print_findings(made.told)
    used = ", ".join(
        f"{hide.name} {layout.yield_of(hide.name):.1%}"
        for hide in layout.hides
        if layout.placed_on(hide.name)
    )
    rows = [("parts placed / asked", f"{len(layout.placed)} / {layout.asked}"), ("hide used", used)]
    if layout.unplaced:
        rows.append(("how much more could be placed at most", bound_sentence(layout)))
    if made.plan is None or made.files is None:
        rows.append(("files", "none written; --partial writes those of what is placed"))
    else:
        from strapwright.write.formats.header import kerf_words

        rows.append(("kerf", kerf_words(made.plan)))
        rows.append(proof_row(made.files))
        blade = made.files.blade_deviation_mm
        if blade is not None:
            rows.append(("blade strays by at most", f"{blade:.4f} mm"))
        if made.files.windows:
            gap = max(proof.greatest_gap_mm for proof in made.files.windows)
            rows.append(("windows put together", f"everything is cut, greatest gap {gap:.6f} mm"))
        rows += _time_rows(made.plan)
        rows += [("file" if i else "files", str(path)) for i, path in enumerate(paths)]
    print_table(f"{made.draft.name}", ("", ""), rows)
    if made.plan is not None:
        say("At the machine: " + " ".join(cautions(made.plan.machine.kind)))
    print_unplaced(layout)  # last, where no long list pushes it out of sight


def _time_rows(plan: CutPlan) -> list[tuple[str, str]]:
    """Return how long cutting takes, and in how many windows it is done."""
    from strapwright.machine.duration import clock, together

    time = together(plan.durations)
    rows = [("time at the machine", f"about {clock(time.total)}: {time.words}")]
    if time.assumed:
        rows.append(("assumed for the time", ", ".join(time.assumed)))
    windows = [sheet for sheet in plan.sheets if sheet.window is not None]
    if windows and windows[0].window is not None and windows[0].window.touched:
        rows.append(("window", f"{windows[0].window.number}, from where its registration holes are"))
    elif windows:
        rows.append(
            ("windows", f"{len(windows)} files in their order; the cut sheet says where the hide goes")
        )
    first = plan.sheets[0].pose
    if first.touches:
        rows.append(("hide touched", first.words(plan.machine).removeprefix("touched: ")))
        rows.append(("", first.span_words(plan.machine)))
    return rows


def _time_json(plan: CutPlan) -> dict[str, Any]:
    from strapwright.machine.duration import together

    time = together(plan.durations)
    return {
        "total_s": round(time.total, 3),
        "operations_s": {str(operation): round(seconds, 3) for operation, seconds in time.seconds.items()},
        "travel_s": round(time.travel_seconds, 3),
        "lengths_mm": {str(operation): round(length, 3) for operation, length in time.lengths.items()},
        "travel_mm": round(time.travel, 3),
        "sheets": [
            {"name": sheet.name, "total_s": round(one.total, 3)}
            for sheet, one in zip(plan.sheets, plan.durations, strict=True)
        ],
        "assumed": list(time.assumed),
    }


def _window_json(plan: CutPlan) -> list[dict[str, Any]]:
    return [
        {
            "sheet": sheet.name,
            "hide": sheet.hide,
            "number": sheet.window.number,
            "of": sheet.window.count,
            "advance_mm": sheet.window.advance,
            "pins": sheet.window.pins,
            "holes_mm": [list(hole) for hole in sheet.window.holes],
        }
        for sheet in plan.sheets
        if sheet.window is not None
    ]


def _as_json(made: Cut, paths: list[Path]) -> dict[str, Any]:
    proofs = {} if made.files is None else made.files.proofs
    return {
        "job": made.draft.name,
        "asked": made.layout.asked,
        "placed": [placed.part.id for placed in made.layout.placed],
        "unplaced": [{"id": left.part.id, "reason": left.reason} for left in made.layout.unplaced],
        "hides": [
            {"name": hide.name, "yield": made.layout.yield_of(hide.name)} for hide in made.layout.hides
        ],
        "kerf_mm": None if made.plan is None else made.plan.kerf,
        "proofs": [
            {
                "file": name,
                "format": proof.format,
                "paths": proof.paths_read,
                "greatest_deviation_mm": proof.greatest_deviation_mm,
                "blade_deviation_mm": proof.blade_deviation_mm,
                "touch_miss_mm": proof.touch_miss_mm,
            }
            for name, proof in proofs.items()
        ],
        "window_proofs": [
            {
                "hide": proof.hide,
                "format": proof.format,
                "windows": proof.windows,
                "greatest_deviation_mm": proof.greatest_deviation_mm,
                "greatest_gap_mm": proof.greatest_gap_mm,
            }
            for proof in (made.files.windows if made.files is not None else ())
        ],
        "time": None if made.plan is None else _time_json(made.plan),
        "windows": [] if made.plan is None else _window_json(made.plan),
        "findings": [finding.as_json() for finding in made.findings],
        "files": [str(path) for path in paths],
    }
