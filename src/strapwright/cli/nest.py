"""``strapwright nest``: lay a job's parts on hides, or assign them to strap blanks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    common_options,
    ends_only_option,
    hide_or_strips_option,
    job_argument,
    length_option,
    nest_search_options,
    option,
    path_option,
    remnants_option,
    strips_option,
    takes,
)
from strapwright.cli.terminal.report import (
    emit,
    few,
    length,
    print_findings,
    print_table,
    print_unplaced,
    say,
    say_lacking,
    showing,
    showing_progress,
    write_layout,
    written,
)

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from strapwright.cli.terminal.options import Common
    from strapwright.core.units import Units
    from strapwright.job.draft import Draft
    from strapwright.nesting.layout.types import Layout
    from strapwright.nesting.strips.types import StripPlan


class Options:
    """What is laid on which hides, how long is searched, and what is written."""

    job: Path = job_argument
    hides: tuple[Path, ...] = hide_or_strips_option
    strips: tuple[Path, ...] = strips_option
    square: float | None = length_option(
        "--square", "Of strips: what is cut off each raw end to square it; default 5 mm."
    )
    keep: float | None = length_option(
        "--keep", "Of strips: the shortest length that goes back to the shelf; default 300 mm."
    )
    ends_only: bool = ends_only_option
    search: dict[str, Any] = nest_search_options
    out: Path | None = path_option("--out", "DIR", "Write the layout and its picture there.")
    start: Path | None = path_option(
        "--from",
        "FILE",
        "Start from this layout.json: parts in its locked list stay, and it is kept unless a better one "
        "is found.",
    )
    avoid: tuple[str, ...] = option(
        "--avoid",
        'Keep a zone clear for this layout only: "x,y,size", or corners "x,y x,y x,y"; after "HIDE:" '
        "if several.",
        multiple=True,
        metavar="ZONE",
    )
    remnants: Path | None = remnants_option
    picture: Path | None = path_option(
        "--picture", "FILE.svg|png|pdf", "Also write the picture there; the file's ending decides its kind."
    )
    common: Common = common_options("partial catalogue as_json force")


@click.command("nest", epilog="Example: strapwright nest job.toml --hide side.toml --time 20s --out out")
@takes(Options)
def command(o: Options) -> None:
    """Lay the straps and keepers of JOB on hides, clear of edges and flaws, or assign them to strips.

    Straps lie along the hide's strap direction, either end first; keepers in quarter turns. What does
    not fit is listed with the reason, and the exit status is 1.
    """
    if o.strips:
        nest_on_strips(o)
        return
    _check_of_hides(o)
    from strapwright import api
    from strapwright.cli.terminal.inputs import read_and_draft

    asked = read_and_draft(o.job, o.common, remedy="--partial lays the good ones")
    drafted = api.only_ends(asked.draft) if o.ends_only else asked.draft
    leather = api.read_hides(o.hides)
    kind = api.picture_kind(o.picture) if o.picture is not None else ""
    if o.out is not None:
        api.check_writable([o.out / name for name in api.LAYOUT_FILES], force=o.common.force)
    begun = None if o.start is None else api.read_start(o.start, drafted, leather)
    if o.remnants is not None:
        api.check_remnants(o.remnants, leather, force=o.common.force)
    with showing_progress(len(leather)) as shown:
        layout = api.nest(
            drafted,
            leather,
            api.clearance_for(asked.job),
            job=asked.job,
            start=begun,
            avoid=o.avoid,
            **shown,
            **o.search,
        )
    files: dict[Path, str | bytes] = {}
    if o.out is not None:
        files |= {o.out / name: text for name, text in api.layout_files(drafted, layout).items()}
    picture = {} if o.picture is None else {o.picture: api.picture(drafted, layout, kind)}
    paths = write_layout(files, layout, o.remnants, picture, force=o.common.force)
    emit(
        o.common,
        lambda: _as_json(drafted, layout, paths) | asked.bad_json(),
        lambda: _report(drafted, layout, paths),
    )
    say_lacking(o.picture, drafted.name, *(f"{one.hide} {one.part.belt_id}" for one in layout.placed))
    asked.fail_on_bad()
    if layout.unplaced:
        raise SystemExit(1)


def _check_of_hides(o: Options) -> None:
    if not o.hides:
        raise click.UsageError("Missing option '--hide', or '--strips': what the parts are cut from.")
    for name, given in (("--square", o.square), ("--keep", o.keep)):
        if given is not None:
            raise click.UsageError(f"{name} is of strips: give --strips FILE, or leave it out")
    if o.search["aim"] == "stock":
        raise click.UsageError("--aim stock is of strips: give --strips FILE, or take another aim")


def _report(drafted: Draft, layout: Layout, paths: list[Path]) -> None:
    """Print where things lie, how much leather is used, and what was noticed."""
    from strapwright.job.grading import findings_as_read
    from strapwright.nesting.bound.area import bound_sentence
    from strapwright.nesting.remnant import remnants_of

    rows = [
        {
            "hide": hide.name,
            "area m²": f"{hide.area / 1e6:.3f}",
            "parts": f"{len(layout.placed_on(hide.name))}",
            "yield": f"{layout.yield_of(hide.name):.1%}",
            "used across mm": f"{layout.used_height_of(hide.name):.0f}",
        }
        for hide in layout.hides
    ]
    print_table(f"{len(layout.placed)} of {layout.asked} parts placed", rows)
    say(bound_sentence(layout))
    for hide in layout.hides:
        _report_strap_cutter(layout, hide.name)
    left = [
        {"remnant": one.hide.name, "area m²": f"{one.hide.area / 1e6:.3f}", "how": one.why}
        for one in remnants_of(layout)
    ]
    if left:
        print_table("what is left", left)
    print_findings((*findings_as_read(drafted), *layout.findings))
    written(paths)
    print_unplaced(layout)  # last, where no long list pushes it out of sight


def _report_strap_cutter(layout: Layout, hide: str) -> None:
    """Print what a strap cutter is set to, strip by strip, for those who run straps off by hand."""
    from strapwright.nesting.layout.strap_cutter import rips_of

    for one in rips_of(layout, hide):
        strips = [
            {
                "from the edge mm": f"{rip.start:.1f}",
                "set to mm": f"{rip.width:.1f}",
                "what": rip.kind,
                "parts": rip.said,
            }
            for rip in one.rips
        ]
        print_table(f"{hide} by strap cutter, {one.begins}", strips)
        for sentence in one.sentences:
            say(sentence)


def _as_json(drafted: Draft, layout: Layout, paths: list[Path]) -> dict[str, Any]:
    from strapwright.nesting.bound.area import bound_area
    from strapwright.nesting.layout.strap_cutter import rips_as_json
    from strapwright.nesting.remnant import remnants_of

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
                "parent": left.hide.parent,
                "area_mm2": left.hide.area,
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


def nest_on_strips(o: Options) -> None:
    """Assign the parts of a job to strips, print the marks to pull, and write what is asked for."""
    from strapwright import api
    from strapwright.cli.terminal.inputs import read_and_draft
    from strapwright.job.spec.job import house_units

    _check_of_strips(o)
    asked = read_and_draft(o.job, o.common, remedy="--partial lays the good ones")
    drafted = api.only_ends(asked.draft) if o.ends_only else asked.draft
    units = house_units(o.job)
    strips = api.read_strips(o.strips)
    kind = api.picture_kind(o.picture) if o.picture is not None else ""
    early = [] if o.out is None else [o.out / name for name in api.STRIP_FILES]
    if o.remnants is not None:
        early += [o.remnants / name for name in api.left_names(strips)]
    api.check_writable(early, force=o.common.force)
    layout = asked.job.layout
    rules = api.StripRules(
        layout.gap,
        layout.margin,
        5.0 if o.square is None else o.square,
        300.0 if o.keep is None else o.keep,
    )
    count = sum(strip.quantity for strip in strips)
    what = f"assigning {len(drafted.parts)} parts to {count} strip{'' if count == 1 else 's'}"
    with showing("reading the parts") as show:
        show(what)
        plan = api.nest_strips(
            drafted.parts, strips, rules, progress=lambda words: show(what, f"{what}: {words}"), **o.search
        )
    files: dict[Path, str | bytes] = {}
    if o.out is not None:
        files |= {o.out / name: text for name, text in api.strip_files(drafted, plan, units).items()}
    if o.remnants is not None:
        files |= {o.remnants / name: text for name, text in api.left_files(plan).items()}
    if o.picture is not None:
        files[o.picture] = api.strip_picture(drafted, plan, kind, units)
    api.write_whole(files, force=o.common.force)
    emit(
        o.common,
        lambda: _strips_json(drafted, plan, files) | asked.bad_json(),
        lambda: _strips_report(drafted, plan, files, units),
    )
    say_lacking(o.picture, drafted.name, *(f"{cut.name} {cut.parts[0].part.belt_id}" for cut in plan.cut))
    asked.fail_on_bad()
    if plan.unplaced:
        raise SystemExit(1)


def _check_of_strips(o: Options) -> None:
    from strapwright.nesting.strips.types import AIMS

    if o.hides:
        raise click.UsageError("--hide and --strips exclude each other: give hides or strips")
    for name, given in (("--from", o.start), ("--avoid", o.avoid)):
        if given:
            raise click.UsageError(f"{name} is of hides; leave it out with --strips")
    if o.search["aim"] not in AIMS:
        raise click.UsageError(f"--aim {o.search['aim']} is of hides; with --strips give {', '.join(AIMS)}")
    for name, length_given, most in (("--square", o.square, 500.0), ("--keep", o.keep, 10_000.0)):
        if length_given is not None and not 0 <= length_given <= most:
            text = f"found {length_given:g} mm, expected 0 to {most:g} mm"
            raise click.BadParameter(text, param_hint=name)


def _strips_report(drafted: Draft, plan: StripPlan, files: Mapping[Path, Any], units: Units) -> None:
    from strapwright.core.text import printable
    from strapwright.job.grading import findings_as_read
    from strapwright.nesting.strips.leftovers import leftovers, uncut, waste_of
    from strapwright.nesting.strips.pull_list import mark_rows, strip_title

    for cut in plan.cut:
        say(strip_title(plan, cut, units))
        print_table("", mark_rows(plan, cut, units))
    strips = f"{len(plan.cut)} strip{'' if len(plan.cut) == 1 else 's'}"
    say(f"{plan.placed} of {plan.asked} parts on {strips}. {plan.sentence}")
    if plan.cut:
        say(f"waste: {waste_of(plan):.1%} of the leather used up")
    back = [
        *((strip.id, strip.length, strip.quantity, "not cut into") for strip in uncut(plan)),
        *((one.strip.id, one.strip.length, 1, f"left of {one.of.name}") for one in leftovers(plan)),
    ]
    rows = [
        {"strip": id_, f"length {units}": length(mm, units), "how many": f"{many}", "why": why}
        for id_, mm, many, why in back
    ]
    print_table("back to the shelf", rows)
    print_findings(findings_as_read(drafted), units=units)
    written(files)
    reasons: dict[str, list[str]] = {}
    for part, reason in plan.unplaced:
        reasons.setdefault(reason, []).append(part.id)
    for reason, ids in reasons.items():
        say(f"not placed: {few(ids)}: {printable(reason)}", err=True)


def _strips_json(drafted: Draft, plan: StripPlan, files: Mapping[Path, Any]) -> dict[str, Any]:
    from strapwright.nesting.strips.plan_file import plan_to_json

    return {
        "job": drafted.name,
        **plan_to_json(plan, drafted.digest),
        "findings": [finding.as_json() for finding in drafted.findings],
        "files": [str(path) for path in files],
    }
