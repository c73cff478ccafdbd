"""``strapwright handout``: a design given away, as one PDF for a person who owns no software."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    common_options,
    font_option,
    job_argument,
    option,
    paper_option,
    path_option,
    takes,
)
from strapwright.cli.terminal.report import emit, print_findings, say, showing

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.api.handouts import Handout
    from strapwright.cli.terminal.options import Common
    from strapwright.write.card.blocks import Paper


class Options:
    """What is given away and on what it is printed."""

    job: Path = job_argument
    belt: str = option(
        "--belt",
        "Which belt; needed where JOB has several. A graded belt's id takes all its sizes.",
        default="",
        metavar="ID",
    )
    out: Path = path_option("--out", "FILE.pdf", "Write the handout there.", required=True)
    sizes: str = option(
        "--sizes", "A run of sizes, such as 30-46/2; default the job's own.", default="", metavar="RUN"
    )
    paper: Paper = paper_option("What it is printed on.")
    text: Path | None = path_option("--text", "FILE.toml", "A translation of its words.")
    font: Path | None = font_option("A TrueType font of yours, for letters the usual one lacks.")
    common: Common = common_options("catalogue as_json units force")


@click.command("handout", epilog="Example: strapwright handout job.toml --belt ines --out ines.pdf")
@takes(Options)
def command(o: Options) -> None:
    """Give a belt of JOB away: what to get, sizes, steps and a paper pattern, as one PDF.

    The belt is shown in the round where the solid modeller is installed, which takes some seconds.
    """
    from strapwright import api

    if o.out.suffix.lower() != ".pdf":
        raise click.UsageError(f"{o.out}: a handout is a PDF; name it {o.out.with_suffix('.pdf')}")
    api.check_writable([o.out], force=o.common.force)
    job = api.read_job(o.job, o.common.catalogue)
    with showing("reading the job") as show:
        made = api.handout(
            job,
            o.belt,
            sizes=o.sizes,
            paper=o.paper,
            text=o.text,
            units=o.common.units,
            font=o.font,
            stage=show,
        )
    api.write_whole({o.out: made.pdf}, force=o.common.force)
    emit(o.common, lambda: _as_json(made, o), lambda: _report(made, o))


def _report(made: Handout, o: Options) -> None:
    belts, sheets = made.draft.belts, len(made.pattern.sheets)
    sizes = ", ".join(belt.run_size for belt in belts) if len(belts) > 1 else "one size"
    say(f"{belts[0].run or belts[0].id}: {sizes}; pattern on {sheets} sheet{'s' if sheets > 1 else ''}")
    print_findings(made.findings, units=o.common.units)
    if made.drawn:
        say(f"The belt is drawn, not shown in the round: {made.drawn}")
    say(f"written: {o.out}")


def _as_json(made: Handout, o: Options) -> dict[str, Any]:
    return {
        "belts": [belt.as_json() for belt in made.draft.belts],
        "paper": o.paper,
        "sheets": [sheet.as_json() for sheet in made.pattern.sheets],
        "in_the_round": not made.drawn,
        "findings": [finding.as_json() for finding in made.findings],
        "files": [str(o.out)],
    }
