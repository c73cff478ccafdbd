"""``strapwright card``: the bench card of a job, its materials and price, and its as-made record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    common_options,
    flag,
    font_option,
    fume_option,
    job_argument,
    layout_options,
    length_option,
    minutes_of,
    option,
    paper_option,
    path_option,
    takes,
)
from strapwright.cli.terminal.report import emit, print_findings, print_table, say, written

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.api import BenchCard
    from strapwright.cli.terminal.options import Common, LayoutGiven
    from strapwright.core.units import Units
    from strapwright.job.bill import Bill
    from strapwright.write.card.blocks import Paper


class Options:
    """What a card is made of and how."""

    job: Path = job_argument
    outs: tuple[Path, ...] = path_option(
        "--out", "FILE.html|FILE.pdf", "Write the card there; give it again for both kinds.", multiple=True
    )
    bom: Path | None = path_option("--bom", "FILE.csv", "Write the bill of materials there.")
    brief: bool = flag(
        "--brief",
        "Half a page a belt for whoever knows the work: figures and holes, no drawing, no order of work.",
    )
    font: Path | None = font_option(
        "A TrueType font of yours for the PDF, for names with letters the usual one lacks."
    )
    paper: Paper = paper_option("What the card is printed on.")
    record: Path | None = path_option(
        "--record",
        "FOLDER",
        "Keep card, job, catalogue and all that was used as a new as-made record in this folder.",
    )
    given: LayoutGiven = layout_options
    strips: Path | None = path_option(
        "--strips", "FILE", "The strips.json that nest --strips wrote: the bill has its true waste."
    )
    machine: str | None = option(
        "--machine",
        "What cuts, named on the card with its cautions; default work by hand.",
        metavar="NAME|FILE",
    )
    machine_minutes: float | None = option(
        "--machine-minutes",
        "How long the machine runs for the whole job, such as 12min; default calculated from the cut "
        "plan where --layout and --machine are given.",
        callback=minutes_of,
        metavar="TIME",
    )
    kerf: float | None = length_option("--kerf", "Width of the cut for that plan; default as measured.")
    accept_fume_risk: bool = fume_option
    common: Common = common_options("catalogue partial units as_json force")


@click.command("card", epilog="Example: strapwright card job.toml --out card.html --bom bill.csv")
@takes(Options)
def command(o: Options) -> None:
    """Make the card that goes to the bench with JOB: what to cut, holes, punches, screws, order of work.

    The bill says of every line from what numbers it came; what has no price says so. Prices and rates
    stand in the job's [price] table and in the catalogue.
    """
    from strapwright import api
    from strapwright.cli.terminal.inputs import read_and_draft

    _check_names(o)
    asked = read_and_draft(o.job, o.common, remedy="--partial makes the card of the good ones")
    machine = api.read_machine(o.machine) if o.machine else None
    layout = o.given.read(asked.draft)
    if layout is not None and machine is not None and o.machine_minutes is None:
        say("planning the cuts, for the machine's time …", err=True)
    made = api.card(
        asked.job,
        drafted=asked.draft,
        layout=layout,
        wastes=None if o.strips is None else api.read_strip_wastes(o.strips, asked.draft),
        machine=machine,
        machine_minutes=o.machine_minutes,
        kerf=o.kerf,
        accept_fume_risk=o.accept_fume_risk,
        units=o.common.units,
        brief=o.brief,
        font=o.font,
        paper=o.paper,
    )
    has_pdf = o.record is not None or any(out.suffix.lower() == ".pdf" for out in o.outs)
    files = {out: made.pdf() if out.suffix.lower() == ".pdf" else made.html() for out in o.outs}
    files |= {} if o.bom is None else {o.bom: made.bill.csv()}
    paths = list(files)
    if o.record is None:
        api.write_whole(files, unmarked=[] if o.bom is None else [o.bom], force=o.common.force)
    else:
        kept = api.keep_record(
            *(o.record, o.job, asked.job, made),
            catalogue=o.common.catalogue,
            layout=o.given.layout,
            hides=o.given.hides,
            machine=o.machine or "",
            beside=files,
            force=o.common.force,
        )
        paths.append(kept)
    emit(o.common, lambda: _as_json(made, paths), lambda: _report(made, paths, o.common.units))
    if has_pdf and made.lacking:
        say(
            f"caution: the font of the PDF lacks {made.lacking_where}; they print without accents, or as ?. "
            "Give --font FILE.ttf with a TrueType font that has them.",
            err=True,
        )
    asked.fail_on_bad()


def _check_names(o: Options) -> None:
    if o.strips is not None and o.given.layout is not None:
        raise click.UsageError("--strips and --layout exclude each other: parts come from strips or hides")
    for out in o.outs:
        if out.suffix.lower() not in (".html", ".pdf"):
            raise click.UsageError(
                f"{out}: a card is HTML or PDF; name it {out.with_suffix('.html')} or .pdf"
            )
    if o.bom is not None and o.bom.suffix.lower() != ".csv":
        raise click.UsageError(f"{o.bom}: the bill is CSV; name it {o.bom.with_suffix('.csv')}")
    if o.bom is not None and o.bom.resolve() == o.job.resolve():
        raise click.UsageError(f"{o.bom} is the job itself; choose another name for the bill")


def _report(made: BenchCard, paths: list[Path], units: Units) -> None:
    bill = made.bill
    rows = [_row(bill, order) for order in bill.orders]
    rows.append(dict.fromkeys(rows[0], "") | {"belt": "all", "total": bill.total_words(bill.lines)})
    currency = f", {bill.currency}" if bill.currency else ""
    print_table(f"{made.draft.name}: materials and price{currency}", rows)
    for order, asked in bill.asked.items():
        cost = bill.total_words(bill.of(order))
        say(f"{order}: asked {bill.words(asked)}, calculated {cost}")
    missing = dict.fromkeys(line.source for line in bill.unpriced)
    for source in missing:
        say(f"not in the sum: {source}")
    print_findings(made.draft.findings, units=units)
    written(paths)


def _row(bill: Bill, order: str) -> dict[str, str]:
    """Return a belt's sums by kind; a dash where no line of that kind has a price."""
    from strapwright.job.bill import KINDS, total_of

    cells = {"belt": order or "the whole job"}
    for kind in KINDS:
        lines = bill.of(order, kind)
        priced = [line for line in lines if line.sum is not None]
        least = "≥ " if len(priced) < len(lines) else ""
        cells[kind] = f"{least}{total_of(priced):.2f}" if priced else "–" if lines else ""
        if kind == "bench":
            hours = sum(line.quantity for line in lines)
            cells["hours"] = f"{hours:.2f}" if hours else ""
    return {**cells, "total": bill.total_words(bill.of(order))}


def _as_json(made: BenchCard, paths: list[Path]) -> dict[str, Any]:
    return {
        "job": made.draft.name,
        "sheets": [sheet.title for sheet in made.card.sheets],
        "bill": made.bill.as_json(),
        "letters_not_in_font": list(made.lacking),
        "findings": [finding.as_json() for finding in made.draft.findings],
        "files": [str(path) for path in paths],
    }
