"""``strapwright cut``: from a job to proven cut files."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    catalogue_option,
    ends_only_option,
    file_path,
    force_option,
    hide_option,
    job_argument,
    json_option,
    long_edges_option,
    remnants_option,
    search_options,
    to_mm,
    touch_options,
    units_option,
)
from strapwright.cli.terminal.report import say

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.api import Cut
    from strapwright.api.layouts import Aim
    from strapwright.cli.terminal.options import Touched
    from strapwright.core.units import Units
    from strapwright.job.draft import Draft
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.nesting.layout.types import Layout


@click.command(
    "cut", epilog="Example: strapwright cut job.toml --hide side.toml --machine wide-laser --out out"
)
@job_argument
@hide_option
@click.option(
    "--machine",
    "machine_name",
    required=True,
    metavar="NAME|FILE",
    help="A shipped profile's name (see `strapwright machines`) or your own profile's file.",
)
@click.option("--out", type=file_path(), required=True, metavar="DIR", help="Folder the files go to.")
@remnants_option
@click.option(
    "--format",
    "formats",
    multiple=True,
    metavar="NAME",
    help="Format to write; give it again for more. Default: all the machine reads.",
)
@click.option(
    "--layout",
    "layout_file",
    type=file_path(),
    metavar="FILE",
    help="Cut this layout.json instead of nesting again.",
)
@click.option(
    "--kerf", callback=to_mm, metavar="LENGTH", help="Width of the cut, by hand; default as measured."
)
@click.option(
    "--accept-fume-risk",
    is_flag=True,
    help="Laser only: you have checked extraction, local rules and the leather's data sheet.",
)
@click.option(
    "--partial",
    is_flag=True,
    help="Write files of what is placed even if something is not; leave out belts that a finding stops and a "
    "CSV job's bad lines. The exit status is then 1.",
)
@click.option(
    "--picture",
    "picture_file",
    type=file_path(),
    metavar="FILE.svg|png|pdf",
    help="Write a picture of the cuts there: their order, where the tool goes in, and the travel.",
)
@ends_only_option
@long_edges_option
@touch_options
@search_options
@catalogue_option
@units_option
@json_option
@force_option
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
    time_limit: float,
    seed: int,
    steps: int | None,
    aim: Aim,
    catalogue: Path | None,
    units: Units,
    as_json: bool,
    force: bool,
) -> None:
    """Draft JOB, lay it on hides, plan it for a machine, write the files and prove them.

    Each file is read back by another reader and measured against the plan. If a part finds no place,
    nothing is written unless --partial is given, and the exit status is 1.
    """
    from strapwright import api
    from strapwright.cli.terminal.csv_jobs import read_asked
    from strapwright.cli.terminal.report import showing_progress, tell_old_remnants
    from strapwright.files.atomic_write import write_whole

    asked = read_asked(job, catalogue, partial=partial, remedy="--partial cuts the good ones")
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
        api.check_writable([out / name for name in api.LAYOUT_FILES], force=force)
    if remnants is not None:
        api.check_remnants(remnants, leather, force=force)
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
            time_limit=time_limit,
            steps=steps,
            seed=seed,
            aim=aim,
            units=units,
            progress=progress.nesting,
            stage=progress.stage,
        )
    written: list[Path] = []
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
        write_whole(files, force=force)
        written = list(files)
        if remnants is not None:
            tell_old_remnants(remnants, made.layout, written)
        for old in api.left_from_earlier(out, made.files) if window is None else ():
            text = f"caution: {old} is from an earlier cut and does not belong to these; do not cut from it"
            say(text, err=True)
    if as_json:
        from strapwright.cli.terminal.report import print_json

        print_json(_as_json(made, written) | asked.bad_json())
    else:
        _report(made, written)
    asked.tell_bad()
    if made.layout.unplaced:
        raise SystemExit(1)


def _report(made: Cut, written: list[Path]) -> None:
    from strapwright.cli.terminal.report import print_findings, print_table, print_unplaced
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
        deviation = made.files.greatest_deviation_mm
        told = f"{deviation:.6f} mm" if deviation >= 1e-6 else "under 0.000001 mm"
        rows.append(("files checked to", told))
        blade = made.files.blade_deviation_mm
        if blade is not None:
            rows.append(("blade strays by at most", f"{blade:.4f} mm"))
        if made.files.windows:
            gap = max(proof.greatest_gap_mm for proof in made.files.windows)
            rows.append(("windows put together", f"everything is cut, greatest gap {gap:.6f} mm"))
        rows += _time_rows(made.plan)
        rows += [("file" if i else "files", str(path)) for i, path in enumerate(written)]
    print_table(f"{made.draft.name}", ("", ""), rows)
    if made.plan is not None:
        say("At the machine: " + " ".join(cautions(made.plan.machine.kind)))
    print_unplaced(layout)  # last, where no long list pushes it out of sight


def _time_rows(plan: CutPlan) -> list[tuple[str, str]]:
    """Return how long cutting takes, and in how many windows it is done."""
    from strapwright.machine.duration import clock, together

    time = together(plan.durations)
    parts = [f"{operation} {clock(seconds)}" for operation, seconds in time.seconds.items()]
    told = f"about {clock(time.total)}: {', '.join(parts)}, travel {clock(time.travel_seconds)}"
    rows = [("time at the machine", told)]
    if time.assumed:
        rows.append(("assumed for the time", ", ".join(time.assumed)))
    windows = [sheet for sheet in plan.sheets if sheet.window is not None]
    if windows and windows[0].window is not None and windows[0].window.touched:
        rows.append(("window", f"{windows[0].window.number}, from where its registration holes are"))
    elif windows:
        rows.append(
            ("windows", f"{len(windows)} files in their order; the cut sheet says where the hide goes")
        )
    first = plan.sheets[0].lie
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


def _as_json(made: Cut, written: list[Path]) -> dict[str, Any]:
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
        "files": [str(path) for path in written],
        "version": 1,
    }
