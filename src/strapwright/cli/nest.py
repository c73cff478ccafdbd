"""``strapwright nest``: lay a job's parts on hides."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    common_options,
    ends_only_option,
    hide_option,
    job_argument,
    path_option,
    remnants_option,
    search_options,
)
from strapwright.cli.terminal.report import (
    emit,
    print_findings,
    print_table,
    print_unplaced,
    remnant_rows,
    say,
    showing_progress,
    warn_of_old_remnants,
    written,
)

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.cli.terminal.options import Common
    from strapwright.job.draft import Draft
    from strapwright.nesting.layout.types import Layout


@click.command("nest", epilog="Example: strapwright nest job.toml --hide side.toml --time 20s --out out")
@job_argument
@hide_option
@ends_only_option
@search_options
@path_option("--out", "DIR", "Write the layout and its picture there.")
@path_option(
    "--from start",
    "FILE",
    "Start from this layout.json: parts in its locked list stay, and it is kept unless a better one "
    "is found.",
)
@click.option(
    "--avoid",
    multiple=True,
    metavar="ZONE",
    help='Keep a zone clear for this layout only: "x,y,size", or corners "x,y x,y x,y"; after "HIDE:" if '
    "several.",
)
@remnants_option
@path_option(
    "--picture picture_file",
    "FILE.svg|png|pdf",
    "Also write the picture there; the file's ending decides its kind.",
)
@common_options("partial catalogue as_json force")
def command(
    job: Path,
    hides: tuple[Path, ...],
    ends_only: bool,
    search: dict[str, Any],
    out: Path | None,
    start: Path | None,
    avoid: tuple[str, ...],
    remnants: Path | None,
    picture_file: Path | None,
    common: Common,
) -> None:
    """Lay the straps and keepers of JOB on hides, clear of edges and flaws.

    Straps lie along the hide's strap direction, either end first; keepers in quarter turns. What does
    not fit is listed with the reason, and the exit status is 1.
    """
    from strapwright import api
    from strapwright.cli.terminal.inputs import read_and_draft

    asked = read_and_draft(job, common, remedy="--partial lays the good ones")
    drafted = asked.draft
    if ends_only:
        drafted = api.only_ends(drafted)
    leather = api.read_hides(hides)
    kind = api.picture_kind(picture_file) if picture_file is not None else ""
    if out is not None:
        api.check_writable([out / name for name in api.LAYOUT_FILES], force=common.force)
    begun = None if start is None else api.read_start(start, drafted, leather)
    if remnants is not None:
        api.check_remnants(remnants, leather, force=common.force)
    with showing_progress(len(leather)) as progress:
        layout = api.nest(
            drafted,
            leather,
            api.clearance_for(asked.job),
            job=asked.job,
            progress=progress.nesting,
            stage=progress.stage,
            start=begun,
            avoid=avoid,
            **search,
        )
    files: dict[Path, str | bytes] = {}
    if out is not None:
        files |= {out / name: text for name, text in api.layout_files(drafted, layout).items()}
    if remnants is not None:
        files |= {remnants / name: text for name, text in api.remnant_files(layout).items()}
    if picture_file is not None:
        files[picture_file] = api.picture(drafted, layout, kind)
    api.write_whole(files, force=common.force)
    paths = list(files)
    if remnants is not None:
        warn_of_old_remnants(remnants, layout, paths)
    emit(
        lambda: _as_json(drafted, layout, paths) | asked.bad_json(),
        lambda: _report(drafted, layout, paths),
        as_json=common.as_json,
    )
    asked.fail_on_bad()
    if layout.unplaced:
        raise SystemExit(1)


def _report(drafted: Draft, layout: Layout, paths: list[Path]) -> None:
    """Print where things lie, how much leather is used, and what was noticed."""
    from strapwright.job.grading import told
    from strapwright.nesting.bound.area import bound_sentence
    from strapwright.nesting.stock.remnant import remnants_of

    rows = []
    for hide in layout.hides:
        placed = layout.placed_on(hide.name)
        rows.append(
            (
                hide.name,
                f"{hide.area / 1e6:.3f}",
                f"{len(placed)}",
                f"{layout.yield_of(hide.name):.1%}",
                f"{layout.used_height_of(hide.name):.0f}",
            )
        )
    columns = ("hide", "area m²", "parts", "yield", "used across mm")
    print_table(f"{len(layout.placed)} of {layout.asked} parts placed", columns, rows)
    say(bound_sentence(layout))
    for hide in layout.hides:
        _report_strips(layout, hide.name)
    remnants = remnants_of(layout)
    if remnants:
        print_table("what is left", ("remnant", "area m²", "how"), remnant_rows(remnants))
    print_findings((*told(drafted), *layout.findings))
    written(paths)
    print_unplaced(layout)  # last, where no long list pushes it out of sight


def _report_strips(layout: Layout, hide: str) -> None:
    """Print what a strap cutter is set to, strip by strip, for those who run straps off by hand."""
    from strapwright.nesting.layout.strap_cutter import rips_of

    columns = ("from the edge mm", "set to mm", "what", "parts")
    for one in rips_of(layout, hide):
        strips = [(f"{rip.start:.1f}", f"{rip.width:.1f}", rip.kind, rip.said) for rip in one.rips]
        print_table(f"{hide} by strap cutter, {one.begins}", columns, strips)
        for sentence in one.sentences:
            say(sentence)


def _as_json(drafted: Draft, layout: Layout, paths: list[Path]) -> dict[str, Any]:
    from strapwright.nesting.bound.area import bound_area
    from strapwright.nesting.layout.strap_cutter import rips_as_json
    from strapwright.nesting.stock.remnant import remnants_of

    return {
        "job": drafted.name,
        "placed": [placed.part.id for placed in layout.placed],
        "unplaced": [{"id": left.part.id, "reason": left.reason} for left in layout.unplaced],
        "hides": [
            {
                "name": hide.name,
                "area_mm2": hide.area,
                "yield": layout.yield_of(hide.name),
                "used_height_mm": layout.used_height_of(hide.name),
            }
            for hide in layout.hides
        ],
        "remnants": [
            {
                "name": left.hide.name,
                "parent": left.parent,
                "area_mm2": left.area,
                "edge": left.shape,
                "why": left.why,
                "polygon_mm": left.polygon.tolist(),
                "cut_mm": [line.tolist() for line in left.cut],
            }
            for left in remnants_of(layout)
        ],
        "strap_cutter": rips_as_json(layout),
        "placed_area_mm2": layout.placed_area,
        "bound_area_mm2": bound_area(layout),
        "findings": [finding.as_json() for finding in (*drafted.findings, *layout.findings)],
        "files": [str(path) for path in paths],
    }
