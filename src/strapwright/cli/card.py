"""``strapwright card``: the bench card of a job, its materials and price, and its as-made record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    common_options,
    flag,
    fume_option,
    job_argument,
    layout_options,
    length_option,
    minutes_of,
    path_option,
)
from strapwright.cli.terminal.report import emit, print_findings, print_table, say, written

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.api import BenchCard
    from strapwright.cli.terminal.options import Common
    from strapwright.core.units import Units
    from strapwright.job.bill.lines import Bill
    from strapwright.write.card.blocks import Paper


@click.command("card", epilog="Example: strapwright card job.toml --out card.html --bom bill.csv")
@job_argument
@path_option(
    "--out outs",
    "FILE.html|FILE.pdf",
    "Write the card there; give it again for both kinds.",
    multiple=True,
)
@path_option("--bom", "FILE.csv", "Write the bill of materials there.")
@flag(
    "--brief",
    "Half a page a belt for whoever knows the work: figures and holes, no drawing, no order of work.",
)
@path_option(
    "--font", "FILE.ttf", "A TrueType font of yours for the PDF, for names with letters the usual one lacks."
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="What the card is printed on.",
)
@path_option(
    "--record",
    "FOLDER",
    "Keep card, job, catalogue and all that was used as a new as-made record in this folder.",
)
@layout_options
@click.option(
    "--machine",
    "machine_name",
    metavar="NAME|FILE",
    help="What cuts, named on the card with its cautions; default work by hand.",
)
@click.option(
    "--machine-minutes",
    callback=minutes_of,
    metavar="TIME",
    help="How long the machine runs for the whole job, such as 12min; default calculated from the cut plan "
    "where --layout and --machine are given.",
)
@length_option("--kerf", "Width of the cut for that plan; default as measured.")
@fume_option
@common_options("catalogue partial units as_json force")
def command(
    job: Path,
    outs: tuple[Path, ...],
    bom: Path | None,
    brief: bool,
    font: Path | None,
    paper: Paper,
    record: Path | None,
    layout_file: Path | None,
    hides: tuple[Path, ...],
    machine_name: str | None,
    machine_minutes: float | None,
    kerf: float | None,
    accept_fume_risk: bool,
    common: Common,
) -> None:
    """Make the card that goes to the bench with JOB: what to cut, holes, punches, screws, order of work.

    The bill says of every line from what numbers it came; what has no price says so. Prices and rates
    stand in the job's [price] table and in the catalogue.
    """
    from strapwright import api
    from strapwright.cli.terminal.inputs import read_and_draft, read_layout

    _check_names(job, outs, bom)
    asked = read_and_draft(job, common, remedy="--partial makes the card of the good ones")
    machine = api.read_machine(machine_name) if machine_name else None
    layout = read_layout(asked.draft, layout_file, hides)
    if layout is not None and machine is not None and machine_minutes is None:
        say("planning the cuts, for the machine's time …", err=True)
    made = api.card(
        asked.job,
        drafted=asked.draft,
        layout=layout,
        machine=machine,
        machine_minutes=machine_minutes,
        kerf=kerf,
        accept_fume_risk=accept_fume_risk,
        units=common.units,
        brief=brief,
        font=font,
        paper=paper,
    )
    files: dict[Path, str | bytes] = {
        out: made.pdf() if out.suffix.lower() == ".pdf" else made.html() for out in outs
    }
    if bom is not None:
        files[bom] = made.csv()
    paths = list(files)
    if record is None:
        api.write_whole(files, unmarked=[] if bom is None else [bom], force=common.force)
    else:
        kept = api.keep_record(
            *(record, job, asked.job, made),
            catalogue=common.catalogue,
            layout=layout_file,
            hides=hides,
            machine=machine_name or "",
            beside=files,
            force=common.force,
        )
        paths.append(kept)
    emit(
        lambda: _as_json(made, paths),
        lambda: _report(made, paths, common.units),
        as_json=common.as_json,
    )
    if (record is not None or any(out.suffix.lower() == ".pdf" for out in outs)) and made.lacking:
        say(
            f"caution: the font of the PDF lacks {made.lacking_where}; they print without accents, or as ?. "
            "Give --font FILE.ttf with a TrueType font that has them.",
            err=True,
        )
    asked.fail_on_bad()


def _check_names(job: Path, outs: tuple[Path, ...], bom: Path | None) -> None:
    for out in outs:
        if out.suffix.lower() not in (".html", ".pdf"):
            raise click.UsageError(
                f"{out}: a card is HTML or PDF; name it {out.with_suffix('.html')} or .pdf"
            )
    if bom is not None and bom.suffix.lower() != ".csv":
        raise click.UsageError(f"{bom}: the bill is CSV; name it {bom.with_suffix('.csv')}")
    if bom is not None and bom.resolve() == job.resolve():
        raise click.UsageError(f"{bom} is the job itself; choose another name for the bill")


def _report(made: BenchCard, paths: list[Path], units: Units) -> None:
    bill = made.bill
    columns = ("belt", "leather", "hardware", "sundries", "bench", "hours", "machine", "margin", "total")
    rows = [_row(bill, order) for order in bill.orders]
    all_of_it = ("all", *[""] * 7, bill.total_words(bill.lines))
    currency = f", {bill.currency}" if bill.currency else ""
    print_table(f"{made.draft.name}: materials and price{currency}", columns, [*rows, all_of_it])
    for order, asked in bill.asked.items():
        cost = bill.total_words(bill.of(order))
        say(f"{order}: asked {bill.words(asked)}, calculated {cost}")
    missing = dict.fromkeys(line.source for line in bill.unpriced)
    for source in missing:
        say(f"not in the sum: {source}")
    print_findings(made.draft.findings, units=units)
    written(paths)


def _row(bill: Bill, order: str) -> list[str]:
    """Return a belt's sums by kind; a dash where no line of that kind has a price."""
    from strapwright.job.bill.lines import KINDS, total_of

    cells = {}
    for kind in KINDS:
        lines = bill.of(order, kind)
        priced = [line for line in lines if line.sum is not None]
        least = "≥ " if len(priced) < len(lines) else ""
        cells[kind] = f"{least}{total_of(priced):.2f}" if priced else "–" if lines else ""
    hours = sum(line.quantity for line in bill.of(order, "bench"))
    return [
        order or "the whole job",
        *(cells["leather"], cells["hardware"], cells["sundries"], cells["bench"]),
        f"{hours:.2f}" if hours else "",
        *(cells["machine"], cells["margin"], bill.total_words(bill.of(order))),
    ]


def _as_json(made: BenchCard, paths: list[Path]) -> dict[str, Any]:
    return {
        "job": made.draft.name,
        "sheets": [sheet.title for sheet in made.card.sheets],
        "bill": made.bill.as_json(),
        "letters_not_in_font": list(made.lacking),
        "findings": [finding.as_json() for finding in made.draft.findings],
        "files": [str(path) for path in paths],
    }
