"""``strapwright draft``: parts, numbers and findings of a job."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import common_options, ends_only_option, flag, job_argument, path_option
from strapwright.cli.terminal.report import drafting, emit, few, length, print_findings, print_table, say

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from strapwright.cli.terminal.inputs import DraftedJob
    from strapwright.cli.terminal.options import Common
    from strapwright.core.calculation import Step
    from strapwright.core.units import Units
    from strapwright.job.dimensions.end import EndFigures
    from strapwright.job.draft import Draft
    from strapwright.job.strap_draft import BeltDraft, StrapDraft
    from strapwright.parts.end import TurnedEnd
    from strapwright.parts.part import Part

_STRAP_COLUMNS = (
    "strap",
    "made",
    "width",
    "length",
    "blank",
    "ends",
    "turn-back",
    "matching holes",
    "fasteners",
)

_HOLES = ("strap", "holes", "⌀", "pitch", "first and last at")

_COLUMNS = ("belt", "piece", "long", "wide", "from the fold line", "in it")


_CLOSED = ("hole", "slot")


@click.command("draft", epilog="Example: strapwright draft job.toml --explain")
@job_argument
@flag("--explain", "Show the working of every figure, numbers put in.")
@ends_only_option
@path_option(
    "--drawing",
    "FILE.svg|png|pdf",
    "Write a drawing of every belt: dimensions, hole table, section of the fold.",
)
@path_option("--good", "FILE.csv", "Write the good lines of a CSV job there.")
@path_option("--bad", "FILE.csv", "Write the bad lines of a CSV job there.")
@common_options("catalogue partial as_json units force")
def command(
    job: Path,
    explain: bool,
    ends_only: bool,
    drawing: Path | None,
    good: Path | None,
    bad: Path | None,
    common: Common,
) -> None:
    """Compute every belt of JOB: strap, holes, slot, turn-back, keeper, and what to watch.

    JOB is a TOML file, or a CSV file with one belt a line. Every bad line of a CSV file is reported by its
    number, and the exit status is 1.
    """
    for kept in (good, bad):
        _check_sorted(kept, job)
    asked, files = _read(job, common, good, bad)
    drafted = asked.draft
    if ends_only:
        from strapwright.api import only_ends

        drafted = only_ends(drafted)
    if drawing is not None:
        from strapwright import api

        files[drawing] = api.drawing(
            drafted, api.picture_kind(drawing), units=common.units, ends_only=ends_only
        )
    _write(files, force=common.force)

    def report() -> None:
        _report(drafted, common.units, explain=explain, ends_only=ends_only)
        for what, path in (("drawing", drawing), ("good lines", good), ("bad lines", bad)):
            if path is not None:
                say(f"{what}: {path}")

    emit(lambda: _as_json(drafted, ends_only=ends_only) | asked.bad_json(), report, as_json=common.as_json)
    asked.fail_on_bad()


def _check_sorted(kept: Path | None, job: Path) -> None:
    """Refuse to sort what has no lines, or to write what was sorted over the orders themselves."""
    if kept is None:
        return
    if job.suffix.lower() != ".csv":
        raise click.UsageError(f"--good and --bad sort the lines of a CSV job; {job} is none")
    if kept.resolve() == job.resolve():
        raise click.UsageError(f"{kept} is the job itself; choose another name for its sorted lines")


def _read(
    job: Path, common: Common, good: Path | None, bad: Path | None
) -> tuple[DraftedJob, dict[Path, str | bytes]]:
    """Read and draft the job; return with it the files of its sorted lines, written now if all ends here."""
    from strapwright.cli.terminal.inputs import drafted_orders, read_and_draft
    from strapwright.core.errors import FileProblems

    remedy = "--partial drafts the good ones, --good FILE and --bad FILE write each to a file of their own"
    if good is None and bad is None:
        return read_and_draft(job, common, remedy=remedy), {}
    from strapwright.api import read_orders

    with drafting() as progress:
        orders = read_orders(job, common.catalogue, progress=progress)
    texts = ((good, orders.good_text), (bad, orders.bad_text))
    files: dict[Path, str | bytes] = {path: text for path, text in texts if path is not None}
    try:
        return drafted_orders(orders, partial=common.partial, remedy="--partial drafts the good ones"), files
    except FileProblems:
        _write(files, force=common.force)
        raise


def _write(files: dict[Path, str | bytes], *, force: bool) -> None:
    from strapwright.files.atomic_write import write_whole

    if files:
        write_whole(files, force=force)


def _as_json(drafted: Draft, *, ends_only: bool) -> dict[str, Any]:
    from strapwright.job.ends_only import ends_json

    return drafted.as_json() | ({"ends": ends_json(drafted.parts)} if ends_only else {})


def _report(drafted: Draft, units: Units, *, explain: bool, ends_only: bool) -> None:
    from strapwright.job.grading import grouped, told

    groups = grouped(drafted.belts)
    alone = [group[0] for group in groups if len(group) == 1]
    places = f"{units}, places from the fold line"
    if alone and not ends_only:
        print_table(f"{drafted.name}: straps, {places}", _STRAP, [_strap(b, units) for b in alone])
    for group in groups:
        if len(group) > 1 and not ends_only:
            print_table(_run_title(group, units), _RUN, [_size(b, units) for b in group])
    ends = [_end(group[0], units, group[0].run if len(group) > 1 else "") for group in groups]
    if ends:
        print_table(f"buckle ends and keepers, {places}", _END, ends)
    _print_leather(drafted, units)
    _print_datum(drafted, units)
    if explain:
        for group in groups:
            shown: set[Step] = set()
            for belt in group:  # of a run's other sizes, only what differs
                fresh = [step for step in belt.steps if step not in shown]
                shown.update(fresh)
                _print_working(belt, fresh, units)
                say(_shares(belt))
        for belt in drafted.belts:
            _print_strength(belt)
    if ends_only:
        print_ends(drafted.parts, units)
    print_straps(drafted.straps, units, explain=explain)
    print_findings(told(drafted), units=units)


def _print_working(item: StrapDraft, steps: Sequence[Step], units: Units) -> None:
    rows = [(step.label, step.formula, step.numbers, length(step.value, units, 2)) for step in steps]
    columns = ("figure", "formula", "with the numbers", f"= {units}")
    print_table(f"working of {item.id}, numbers in mm", columns, rows)


def _print_strength(item: StrapDraft) -> None:
    if item.strength is not None:
        say(f"strength of {item.id}, to compare designs by:")
        for line in item.strength.lines():
            say(f"  {line}")


def _print_datum(drafted: Draft, units: Units) -> None:
    """Print where the holes are measured to, and how sure that and the girths are."""
    from strapwright.core.units import format_length
    from strapwright.trade.sizing import GIRTH_UNCERTAINTY

    if not drafted.belts:
        return
    say("holes are given by their centres; worn, the edge towards the tip bears on the prong")
    said: dict[str, dict[str, None]] = {}
    for belt in drafted.belts:
        buckle, how = belt.buckle, "as measured"
        if not buckle.seat_is_measured:
            depth = format_length(buckle.frame_depth, units)
            prong = format_length(buckle.prong_thickness, units)
            given = "" if "prong_thickness" in buckle.model_fields_set else " assumed for it"
            how = f"an estimate: frame depth {depth} less the prong, {prong}{given}; measure hole_seat"
        words = f"{format_length(buckle.seat, units)} from the bar ({how})"
        said.setdefault(words, {})[belt.run or belt.id] = None
    for words, names in said.items():
        of = f" ({few(list(names))})" if len(said) > 1 else ""
        say(f"that edge{of}: {words}")
    off = format_length(GIRTH_UNCERTAINTY, units)
    say(f"waist or girth: to ± {off}, an estimate until belts are measured on people\n")


def _shares(belt: BeltDraft) -> str:
    """Return the working of what is no length: how far the fold stretches and the posts draw."""
    from strapwright.job.dimensions.fastener_choice import draw_lines
    from strapwright.trade.fold import fold_strain

    t, r = belt.figures.layers.fold, belt.figures.end.fold_radius
    strain = f"stretch of the grain in the fold: t / (2 r + t) = {t:.2f} / (2 × {r:.2f} + {t:.2f})"
    return "\n".join([f"{strain} = {fold_strain(t, r):.0%}", *draw_lines(belt.posts), ""])


def _print_leather(drafted: Draft, units: Units) -> None:
    """Print each thickness at the edges, in ounces too, with the edge beveler that suits it."""
    from strapwright.trade.choice import side_by_side
    from strapwright.write.card.tools import edge_words

    edges = [(item.thickness, item.run or item.id) for item in drafted.items]
    told: dict[str, dict[str, None]] = {}
    for thickness, name in edges:
        told.setdefault(
            f"{side_by_side(thickness, 'in' if units == 'in' else 'mm')}, {edge_words([thickness])}", {}
        )[name] = None
    for words, names in told.items():
        of = f" ({few(list(names))})" if len(told) > 1 else ""
        say(f"leather at the edges: {words}{of}")
    say()


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
    "reach",
    "waist or girth",
)


_RUN = ("size", "belt", "made", "blank", "hole in use", "waist or girth", "keeper")


_END = ("belt", "turn-back", "slot", "matching holes", "holes", "⌀", "fasteners", "keeper", "join")


def _strap(belt: BeltDraft, units: Units) -> list[str]:
    got, holes = belt.figures, belt.strap.holes
    return [
        belt.id,
        str(belt.quantity),
        length(got.width, units),
        length(belt.blank_length, units),
        length(got.hole_in_use, units),
        f"{holes.rows} × {holes.count}" if holes.rows > 1 else str(holes.count),
        length(holes.diameter, units),
        length(holes.spacing, units, finest=64),
        length(got.last_to_tip, units),
        belt.tip_shape.replace("_", " "),
        f"{length(got.reaches[0], units, 0)}–{length(got.reaches[1], units, 0)}",
        f"{length(got.girths[0], units, 0)}–{length(got.girths[1], units, 0)}",
    ]


def _run_title(group: Sequence[BeltDraft], units: Units) -> str:
    """Return what the sizes of a run share, over the table of what differs."""
    belt = group[0]
    got, holes = belt.figures, belt.strap.holes
    row = f"{holes.rows} × {holes.count}" if holes.rows > 1 else str(holes.count)
    return (
        f"{belt.run}: {len(group)} sizes, {belt.run_size} to {group[-1].run_size}, {units}, hole in use from "
        f"the fold line. Of all: {length(got.width, units)} wide, {row} holes ⌀ "
        f"{length(holes.diameter, units)} at {length(holes.spacing, units, finest=64)}, "
        f"{length(got.last_to_tip, units)} from the last to the {belt.tip_shape.replace('_', ' ')} tip"
    )


def _size(belt: BeltDraft, units: Units) -> list[str]:
    got, keeper = belt.figures, belt.keeper
    return [
        belt.run_size,
        belt.id,
        str(belt.quantity),
        length(belt.blank_length, units),
        length(got.hole_in_use, units),
        f"{length(got.girths[0], units, 0)}–{length(got.girths[1], units, 0)}",
        f"{length(keeper.length, units)} × {length(keeper.width, units)}" if keeper else "none",
    ]


def _diameters(end: TurnedEnd, units: Units) -> str:
    """Return the fastener holes' diameter; where there are several, each with the rows that have it."""
    from strapwright.drawing.text import figure

    shown = {figure(d, units, exact=True): names for d, names in end.fastener_sizes.items()}
    return "\n".join(d if len(shown) < 2 else f"{' '.join(names)} {d}" for d, names in shown.items())


def _fastened(end: EndFigures, units: Units) -> tuple[str, str]:
    """Return the holes of front and turn-back that meet, row by row, and the fasteners they take."""
    rows = [
        f"{name} {length(x, units)}\n{name}′ {length(mate, units, 2).replace('-', '−')}"
        for name, x, mate in zip("ABC", end.rows, end.mates, strict=False)
    ]
    return "\n".join(rows) or "stitched", "\n".join(post.words() for post in end.posts) or "none"


def _end(belt: BeltDraft, units: Units, run: str) -> list[str]:
    got, end = belt.figures, belt.strap.buckle_end
    slots = f"{len(got.end.slot_ys)} × " if len(got.end.slot_ys) > 1 else ""
    matching, posts = _fastened(got.end, units)
    keeper = belt.keeper
    return [
        f"{run}, all sizes" if run else belt.id,
        length(got.end.turn_back, units),
        f"{slots}{length(got.end.slot[0], units)} × {length(got.end.slot[1], units)}"
        if got.end.slot_ys
        else "none",
        matching,
        str(len(end.fastener_centres)),
        _diameters(end, units),
        posts,
        f"{length(keeper.length, units)} × {length(keeper.width, units)}" if keeper else "none",
        keeper.join if keeper else "",
    ]


def print_ends(pieces: Sequence[Part], units: Units) -> None:
    """Print the end pieces: where on the strap each lies and what is made in it.

    Args:
        pieces: buckle end and tip end of each belt.
        units: of the figures.
    """
    rows = []
    for piece in pieces:
        x0, y0, x1, y1 = piece.outline.bounding_box
        names = Counter(feature.name for feature in piece.features if feature.name.endswith(_CLOSED))
        told = [f"{count} {name}{'s' if count > 1 else ''}" for name, count in names.items()]
        place = f"{length(x0, units)} to {length(x1, units)}"
        size = length(x1 - x0, units), length(y1 - y0, units)
        rows.append([piece.belt_id, piece.id.rpartition("/")[2], *size, place, ", ".join(told) or "no hole"])
    print_table(f"ends only, to try in scrap, {units}", _COLUMNS, rows)


def print_straps(straps: Sequence[StrapDraft], units: Units, *, explain: bool) -> None:
    """Print what was worked out of straps that are no belts; nothing where there are none.

    Args:
        straps: those drafted.
        units: of the figures.
        explain: whether the working is shown too.
    """
    if not straps:
        return
    rows = [line for strap in straps for line in _lines(strap, units)]
    print_table(f"other straps, {units}, rows from their own fold line", _STRAP_COLUMNS, rows)
    holes = [
        [
            strap.id,
            str(row.count),
            length(row.diameter, units),
            length(row.spacing, units, finest=64),
            f"{length(row.xs[0], units)}, {length(row.xs[-1], units)}",
        ]
        for strap in straps
        for row in strap.strap.hole_rows
    ]
    if holes:
        print_table(f"their holes, {units}, places from the first end", _HOLES, holes)
    if explain:
        for strap in straps:
            if strap.steps:
                _print_working(strap, strap.steps, units)
            _print_strength(strap)


def _lines(strap: StrapDraft, units: Units) -> list[list[str]]:
    """Return a line for each end; a sketch has one."""
    about = [
        strap.id,
        str(strap.quantity),
        *(length(value, units) for value in (strap.width, strap.length, strap.blank_length)),
    ]
    if len(strap.ends) == 1:
        return [[*about, f"as drawn in {strap.ends[0].spec.words}", "", "", ""]]
    lines = []
    for one in strap.ends:
        told, end = ["", "", ""], one.figures
        if end is not None:
            told = [length(end.turn_back, units), *_fastened(end, units)]
        lines.append([*about, one.spec.words, *told])
        about = [""] * len(about)
    return lines
