"""``strapwright pattern``: a paper pattern at true size, as PDF."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    common_options,
    font_option,
    job_argument,
    layout_options,
    option,
    path_option,
    takes,
)
from strapwright.cli.terminal.report import emit, length, print_findings, print_table, say

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.cli.terminal.options import Common, LayoutGiven
    from strapwright.job.draft import Draft
    from strapwright.write.pattern.pattern import Pattern


class Options:
    """What is printed and on what."""

    job: Path = job_argument
    paper: str = option(
        "--paper",
        "a4, letter, legal, a3, or a roll by its width, such as roll:914mm.",
        required=True,
        metavar="PAPER",
    )
    out: Path = path_option("--out", "FILE.pdf", "Write the pattern there.", required=True)
    ends: bool = option(
        "--ends/--whole",
        "Print the two ends of every strap (the default), or all of it in tiles to be joined.",
        default=True,
    )
    belts: tuple[str, ...] = option(
        "--belt",
        "Print this belt or strap only; give it again for more. A graded belt's id prints all its sizes.",
        multiple=True,
        metavar="ID",
    )
    correct: str = option(
        "--correct",
        "Rescale for a printer that was measured: 100:99.4, or short=100:99.4,long=100:99.8 as the "
        "bars are named (across=, along= of a roll).",
        metavar="ASKED:MEASURED",
        default="",
    )
    font: Path | None = font_option("A TrueType font of yours, for names with letters the usual one lacks.")
    given: LayoutGiven = layout_options
    common: Common = common_options("catalogue partial as_json units force")


@click.command("pattern", epilog="Example: strapwright pattern job.toml --paper a4 --out pattern.pdf")
@takes(Options)
def command(o: Options) -> None:
    """Print the straps and keepers of JOB at true size: cut them out, lay them on leather, and mark.

    Every sheet carries check bars; measure them before you cut.
    """
    from strapwright import api
    from strapwright.cli.terminal.inputs import read_and_draft

    if o.out.suffix.lower() != ".pdf":
        raise click.UsageError(f"{o.out}: a pattern is a PDF; name it {o.out.with_suffix('.pdf')}")
    asked = read_and_draft(o.job, o.common, remedy="--partial prints the good ones")
    made = api.pattern(
        asked.draft,
        o.paper,
        whole=not o.ends,
        belts=o.belts,
        correct=o.correct,
        units=o.common.units,
        font=o.font,
        layout=o.given.read(asked.draft),
    )
    api.write_whole({o.out: made.pdf}, force=o.common.force)
    emit(o.common, lambda: _as_json(asked.draft, made, o) | asked.bad_json(), lambda: _report(made, o))
    asked.fail_on_bad()


def _report(made: Pattern, o: Options) -> None:
    units, number = o.common.units, len(made.sheets)
    rows = []
    for sheet in made.sheets:
        for place, (part, x0, x1) in enumerate(sheet.shown):
            belt, piece = part.rsplit("/", 1)
            row = {"sheet": "" if place else str(sheet.number), "belt": belt, "piece": piece}
            rows.append({**row, f"along it, {units}": f"{length(x0, units)} to {length(x1, units)}"})
    print_table(f"{number} sheet{'s' if number > 1 else ''} at true size", rows)
    print_findings(made.findings, units=units)
    say("Print at 100 %, without fitting to the page, and measure the check bars before you cut.")
    say(f"written: {o.out}")


def _as_json(drafted: Draft, made: Pattern, o: Options) -> dict[str, Any]:
    return {
        "job": drafted.name,
        "paper": o.paper,
        "sheets": [sheet.as_json() for sheet in made.sheets],
        "findings": [finding.as_json() for finding in made.findings],
        "files": [str(o.out)],
    }
