"""``strapwright nest --strips``: assign a job's parts to strap blanks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

import click

from strapwright.cli.terminal.report import (
    emit,
    few,
    length,
    print_findings,
    print_table,
    say,
    say_lacking,
    showing,
    written,
)

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from strapwright.cli.terminal.options import Common
    from strapwright.core.units import Units
    from strapwright.job.draft import Draft
    from strapwright.nesting.strips.types import StripPlan


class StripOptions(Protocol):
    """What of a nest's options concerns strips: see `strapwright.cli.nest`."""

    job: Path
    hides: tuple[Path, ...]
    strips: tuple[Path, ...]
    square: float | None
    keep: float | None
    ends_only: bool
    search: dict[str, Any]
    out: Path | None
    start: Path | None
    avoid: tuple[str, ...]
    remnants: Path | None
    picture: Path | None
    common: Common


def nest_on_strips(o: StripOptions) -> None:
    """Assign the parts of a job to strips, print the marks to pull, and write what is asked for."""
    from strapwright import api
    from strapwright.cli.terminal.inputs import read_and_draft
    from strapwright.job.spec.job import house_units

    _check(o)
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
        lambda: _as_json(drafted, plan, files) | asked.bad_json(),
        lambda: _report(drafted, plan, files, units),
    )
    say_lacking(o.picture, drafted.name, *(f"{cut.name} {cut.parts[0].part.belt_id}" for cut in plan.cut))
    asked.fail_on_bad()
    if plan.unplaced:
        raise SystemExit(1)


def _check(o: StripOptions) -> None:
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


def _report(drafted: Draft, plan: StripPlan, files: Mapping[Path, Any], units: Units) -> None:
    from strapwright.core.text import printable
    from strapwright.job.grading import findings_as_read
    from strapwright.nesting.strips.left import leftovers, uncut, waste_of
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


def _as_json(drafted: Draft, plan: StripPlan, files: Mapping[Path, Any]) -> dict[str, Any]:
    from strapwright.nesting.strips.plan_file import plan_to_json

    return {
        "job": drafted.name,
        **plan_to_json(plan, drafted.digest),
        "findings": [finding.as_json() for finding in drafted.findings],
        "files": [str(path) for path in files],
    }
