"""``strapwright pattern``: a paper pattern at true size, as PDF."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import common_options, job_argument, layout_options, path_option
from strapwright.cli.terminal.report import emit, length, print_findings, print_table, say

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.cli.terminal.options import Common
    from strapwright.core.units import Units
    from strapwright.job.draft import Draft
    from strapwright.write.pattern.pattern import Pattern


@click.command("pattern", epilog="Example: strapwright pattern job.toml --paper a4 --out pattern.pdf")
@job_argument
@click.option(
    "--paper",
    required=True,
    metavar="PAPER",
    help="a4, letter, legal, a3, or a roll by its width, such as roll:914mm.",
)
@path_option("--out", "FILE.pdf", "Write the pattern there.", required=True)
@click.option(
    "--ends/--whole",
    "ends",
    default=True,
    help="Print the two ends of every strap (the default), or all of it in tiles to be joined.",
)
@click.option(
    "--belt",
    "belts",
    multiple=True,
    metavar="ID",
    help="Print this belt or strap only; give it again for more. A graded belt's id prints all its sizes.",
)
@click.option(
    "--correct",
    metavar="ASKED:MEASURED",
    default="",
    help="Rescale for a printer that was measured: 100:99.4, or short=100:99.4,long=100:99.8 as the bars are "
    "named (across=, along= of a roll).",
)
@path_option("--font", "FILE.ttf", "A TrueType font of yours, for names with letters the usual one lacks.")
@layout_options
@common_options("catalogue partial as_json units force")
def command(
    job: Path,
    paper: str,
    out: Path,
    ends: bool,
    belts: tuple[str, ...],
    correct: str,
    font: Path | None,
    layout_file: Path | None,
    hides: tuple[Path, ...],
    common: Common,
) -> None:
    """Print the straps and keepers of JOB at true size: cut them out, lay them on leather, and mark.

    Every sheet carries check bars; measure them before you cut.
    """
    from strapwright import api
    from strapwright.cli.terminal.inputs import read_and_draft, read_layout

    if out.suffix.lower() != ".pdf":
        raise click.UsageError(f"{out}: a pattern is a PDF; name it {out.with_suffix('.pdf')}")
    asked = read_and_draft(job, common, remedy="--partial prints the good ones")
    made = api.pattern(
        asked.draft,
        paper,
        whole=not ends,
        belts=belts,
        correct=correct,
        units=common.units,
        font=font,
        layout=read_layout(asked.draft, layout_file, hides),
    )
    api.write_whole({out: made.pdf}, force=common.force)
    emit(
        lambda: _as_json(asked.draft, made, paper, out) | asked.bad_json(),
        lambda: _report(made, common.units, out),
        as_json=common.as_json,
    )
    asked.fail_on_bad()


def _report(made: Pattern, units: Units, out: Path) -> None:
    rows = [
        (
            str(sheet.number) if place == 0 else "",
            *part.rsplit("/", 1),
            f"{length(x0, units)} to {length(x1, units)}",
        )
        for sheet in made.sheets
        for place, (part, x0, x1) in enumerate(sheet.shown)
    ]
    number = len(made.sheets)
    count = f"{number} sheet{'s' if number > 1 else ''}"
    print_table(f"{count} at true size", ("sheet", "belt", "piece", f"along it, {units}"), rows)
    print_findings(made.findings, units=units)
    say("Print at 100 %, without fitting to the page, and measure the check bars before you cut.")
    say(f"written: {out}")


def _as_json(drafted: Draft, made: Pattern, paper: str, out: Path) -> dict[str, Any]:
    return {
        "job": drafted.name,
        "paper": paper,
        "sheets": [sheet.as_json() for sheet in made.sheets],
        "findings": [finding.as_json() for finding in made.findings],
        "files": [str(out)],
    }
