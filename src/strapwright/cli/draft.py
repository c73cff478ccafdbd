"""``strapwright draft``: parts, numbers and findings of a job."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from strapwright.cli.options import (
    _path,
    catalogue_option,
    force_option,
    job_argument,
    json_option,
    units_option,
)

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.job.draft import BeltDraft, Draft


@click.command("draft", epilog="Example: strapwright draft job.toml --explain")
@job_argument
@catalogue_option
@click.option("--explain", is_flag=True, help="Show the working of every figure, numbers put in.")
@click.option("--drawing", type=_path(), metavar="FILE.svg", help="Write a drawing of every belt.")
@json_option
@units_option
@force_option
def command(
    job: Path,
    catalogue: Path | None,
    explain: bool,
    drawing: Path | None,
    as_json: bool,
    units: str,
    force: bool,
) -> None:
    """Compute every belt of JOB: strap, holes, slot, turn-back, keeper, and what to watch.

    JOB is a TOML file, or a CSV file with one belt a line.
    """
    from strapwright.api import draft, read_job

    drafted = draft(read_job(job, catalogue))
    if drawing is not None:
        from strapwright.api import write_files
        from strapwright.write.drawing import drawing_svg

        write_files(
            drawing.parent,
            {drawing.name: drawing_svg(drafted, units="in" if units == "in" else "mm")},
            force=force,
        )
    if as_json:
        import json

        click.echo(json.dumps(drafted.as_json(), ensure_ascii=False, indent=1))
        return
    _report(drafted, units, explain=explain)
    if drawing is not None:
        click.echo(f"drawing: {drawing}")


def _report(drafted: Draft, units: str, *, explain: bool) -> None:
    from strapwright.cli.report import length, print_findings, print_table
    from strapwright.trade.safety import cautions

    places = f"{units}, places from the fold line"
    print_table(f"{drafted.name}: straps, {places}", _STRAP, [_strap(b, units) for b in drafted.belts])
    print_table(f"buckle ends and keepers, {places}", _END, [_end(b, units) for b in drafted.belts])
    if explain:
        for belt in drafted.belts:
            steps = [
                (step.label, step.formula, step.numbers, length(step.value, units, 2))
                for step in belt.figures.steps
            ]
            columns = ("figure", "formula", "with the numbers", f"= {units}")
            print_table(f"working of {belt.id}, numbers in mm", columns, steps)
    print_findings(drafted.findings)
    click.echo("At the bench: " + " ".join(cautions("bench")))


_STRAP = (
    "belt",
    "made",
    "width",
    "blank",
    "hole in use",
    "holes",
    "⌀",
    "pitch",
    "last to tip",
    "tip",
    "girths",
)
_END = ("belt", "turn-back", "slot", "rows and mates", "holes", "⌀", "fasteners", "keeper", "join")


def _strap(belt: BeltDraft, units: str) -> list[str]:
    from strapwright.cli.report import length

    got, holes = belt.figures, belt.strap.holes
    return [
        belt.id,
        str(belt.quantity),
        length(got.width, units),
        length(belt.blank_length, units),
        length(got.hole_in_use, units),
        f"{holes.rows} × {holes.count}" if holes.rows > 1 else str(holes.count),
        length(holes.diameter, units),
        length(holes.spacing, units),
        length(got.last_to_tip, units),
        belt.tip_shape.replace("_", " "),
        f"{length(got.girths[0], units, 0)}–{length(got.girths[1], units, 0)}",
    ]


def _end(belt: BeltDraft, units: str) -> list[str]:
    from strapwright.cli.report import length

    got, end = belt.figures, belt.strap.buckle_end
    slots = f"{len(got.end.slot_ys)} × " if len(got.end.slot_ys) > 1 else ""
    rows = [
        f"{name} {length(x, units)}, {length(mate, units, 2)}"
        for name, x, mate in zip("AB", end.rows, end.mates, strict=False)
    ]
    posts = [post.words("in" if units == "in" else "mm") for post in belt.posts]
    keeper = belt.keeper
    return [
        belt.id,
        length(got.end.turn_back, units),
        f"{slots}{length(got.end.slot[0], units)} × {length(got.end.slot[1], units)}"
        if got.end.slot_ys
        else "none",
        "\n".join(rows) or "stitched",
        str(len(end.fastener_centres)),
        length(end.fastener_diameter, units) if end.rows else "",
        "\n".join(posts) or "none",
        f"{length(keeper.length, units)} × {length(keeper.width, units)}" if keeper else "none",
        keeper.join if keeper else "",
    ]
