"""``strapwright cut``: from a job to proven cut files."""

from __future__ import annotations

import re
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
    machine_option,
    option,
    path_option,
    remnants_option,
    search_options,
    takes,
)
from strapwright.cli.terminal.report import (
    cautions_at,
    emit,
    print_findings,
    print_pairs,
    print_unplaced,
    say,
    say_lacking,
    showing_progress,
    write_layout,
)

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.api import Cut
    from strapwright.cli.terminal.options import Common
    from strapwright.job.draft import Draft
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.nesting.layout.types import Layout

_TOUCH = re.compile(
    r"\s*(?:([ABab])|{0}\s*,\s*{0})\s*=\s*{0}\s*,\s*{0}\s*".format(r"([-+]?\d+(?:\.\d*)?|[-+]?\.\d+)")
)

Touched = tuple["tuple[float, float] | str", tuple[float, float]]
"""A point of the hide, or the name of a registration hole, and what the machine showed on it."""


def _touches(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> tuple[Touched, ...]:
    """Return each ``x,y=x,y`` and ``A=x,y``; points of the hide twice or not at all, and so the holes."""
    found: list[Touched] = []
    for value in values:
        match = _TOUCH.fullmatch(value)
        if match is None:
            text = (
                f'found "{value}", expected a point of the hide and where the machine stood there, such as '
                '"20,35=41.5,60.2", or with --window a registration hole, such as "A=41.5,60.2"'
            )
            raise click.BadParameter(text, ctx, param)
        hole, x, y, own_x, own_y = match.groups()
        found.append((hole.upper() if hole else (float(x), float(y)), (float(own_x), float(own_y))))
    holes = sorted(what for what, _ in found if isinstance(what, str))
    points = len(found) - len(holes)
    if points not in (0, 2):
        text = f"given {points} times, expected twice or not at all"
    elif holes and holes != ["A", "B"]:
        text = f"found registration holes {', '.join(holes)}, expected both A and B, once each"
    elif bool(holes) != (ctx.params.get("window") is not None):
        text = (
            "registration holes A and B are touched for one window; give --window, A and B, or none of them"
        )
    else:
        return tuple(found)
    raise click.BadParameter(text, ctx, param)


class Options:
    """What is cut of which hides by which machine, and what is written."""

    job: Path = job_argument
    hides: tuple[Path, ...] = hide_option
    machine: str = machine_option(
        "A shipped profile's name (see `strapwright machines`) or your own profile's file."
    )
    out: Path = path_option("--out", "DIR", "Folder the files go to.", required=True)
    remnants: Path | None = remnants_option
    formats: tuple[str, ...] = format_option()
    layout: Path | None = path_option("--layout", "FILE", "Cut this layout.json instead of nesting again.")
    kerf: float | None = length_option("--kerf", "Width of the cut, by hand; default as measured.")
    accept_fume_risk: bool = fume_option
    partial: bool = flag(
        "--partial",
        "Write files of what is placed even if something is not; leave out belts that a finding stops and a "
        "CSV job's bad lines. The exit status is then 1.",
    )
    picture: Path | None = path_option(
        "--picture",
        "FILE.svg|png|pdf",
        "Write a picture of the cuts there: their order, where the tool goes in, and the travel.",
    )
    ends_only: bool = ends_only_option
    long_edges_by_hand: bool = flag(
        "--long-edges-by-hand",
        "Leave the long edges to the strap cutter: cut only tips, holes and buckle ends of straps "
        "already cut to width, and write a file of lines to place them on.",
    )
    window: int | None = option(
        "--window",
        "Write only window N again, from where its two registration holes were touched, beside the "
        "files of all windows in --out.",
        type=click.IntRange(min=1),
        is_eager=True,  # --touch is checked against it
        metavar="N",
    )
    touches: tuple[Touched, ...] = option(
        "--touch",
        "Twice: a point of the hide, in mm as drawn, and the machine's own numbers with its pointer or "
        "blade on it. Says where the hide sits. With --window A=X,Y and B=X,Y for its registration holes.",
        multiple=True,
        callback=_touches,
        metavar="X,Y=X,Y",
    )
    search: dict[str, Any] = search_options
    common: Common = common_options("catalogue units as_json force")


@click.command(
    "cut", epilog="Example: strapwright cut job.toml --hide side.toml --machine wide-laser --out out"
)
@takes(Options)
def command(o: Options) -> None:
    """Draft JOB, lay it on hides, plan it for a machine, write the files and prove them.

    Each file is read back by another reader and measured against the plan. If a part does not fit,
    nothing is written unless --partial is given, and the exit status is 1.
    """
    from strapwright import api
    from strapwright.cli.terminal.inputs import read_and_draft

    force = o.common.force
    common = replace(o.common, partial=o.partial)
    asked = read_and_draft(o.job, common, remedy="--partial cuts the good ones")
    leather = api.read_hides(o.hides)
    machine = api.read_machine(o.machine)
    if o.window is not None and o.layout is None:
        raise click.UsageError(
            "--window needs --layout and the layout.json that was written with the files of all windows"
        )
    kind = api.picture_kind(o.picture) if o.picture is not None else ""
    if o.picture is not None and kind == ".svg" and o.picture.parent.resolve() == o.out.resolve():
        raise click.UsageError(
            f"--picture {o.picture}: an SVG beside cut files may be cut by mistake; take .png or .pdf, or "
            "another folder"
        )
    if o.window is None:
        api.check_writable([o.out / name for name in api.LAYOUT_FILES], force=force)
    if o.remnants is not None:
        api.check_remnants(o.remnants, leather, force=force)

    def given(drafted: Draft) -> Layout:
        assert o.layout is not None
        return api.read_layout(o.layout, drafted, leather)

    with showing_progress(len(leather)) as shown:
        made = api.cut(
            asked.job,
            leather,
            machine,
            formats=o.formats,
            layout=given if o.layout is not None else None,
            kerf=o.kerf,
            accept_fume_risk=o.accept_fume_risk,
            partial=o.partial,
            ends_only=o.ends_only,
            long_edges_by_hand=o.long_edges_by_hand,
            touches=[api.touch_at(at, own, machine) for at, own in o.touches if not isinstance(at, str)],
            window=o.window,
            holes={at: own for at, own in o.touches if isinstance(at, str)},
            drafted=asked.draft,
            units=o.common.units,
            **shown,
            **o.search,
        )
    paths: list[Path] = []
    if made.files is not None and made.plan is not None:
        api.check_windows_kept(o.out, made)
        layout = api.layout_files(made.draft, made.layout) if o.window is None else {}
        files = {o.out / name: text for name, text in {**made.files.texts, **layout}.items()}
        picture = {} if o.picture is None else {o.picture: api.cut_picture(made.plan, kind)}
        paths = write_layout(files, made.layout, o.remnants, picture, force=force)
        for old in api.left_from_earlier(o.out, made.files) if o.window is None else ():
            text = f"caution: {old} is from an earlier cut and does not belong to these; do not cut from it"
            say(text, err=True)
    emit(common, lambda: _as_json(made, paths) | asked.bad_json(), lambda: _report(made, paths))
    say_lacking(o.picture, made.draft.name, *(f"{one.hide} {one.part.belt_id}" for one in made.layout.placed))
    asked.fail_on_bad()
    if made.layout.unplaced:
        raise SystemExit(1)


def _report(made: Cut, paths: list[Path]) -> None:
    from strapwright.nesting.bound.area import bound_sentence

    layout = made.layout
    print_findings(made.findings_as_read)
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
        rows.append(("files checked to", made.files.checked_to))
        blade = made.files.blade_deviation_mm
        if blade is not None:
            rows.append(("blade strays by at most", f"{blade:.4f} mm"))
        if made.files.windows:
            gap = max(proof.greatest_gap_mm for proof in made.files.windows)
            rows.append(("windows put together", f"everything is cut, greatest gap {gap:.6f} mm"))
        rows += _time_rows(made.plan)
        rows += [("file" if i else "files", str(path)) for i, path in enumerate(paths)]
    print_pairs(made.draft.name, rows)
    if made.plan is not None:
        cautions_at(made.plan.machine.kind)
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
