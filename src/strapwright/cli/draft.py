"""``strapwright draft``: parts, numbers and findings of a job."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    common_options,
    ends_only_option,
    flag,
    job_argument,
    path_option,
    takes,
)
from strapwright.cli.terminal.report import (
    drafting,
    emit,
    few,
    length,
    print_findings,
    print_table,
    say,
    say_lacking,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from strapwright.cli.terminal.inputs import DraftedJob
    from strapwright.cli.terminal.options import Common
    from strapwright.core.calculation import Step
    from strapwright.core.units import Units
    from strapwright.job.dimensions.turned_end import EndFigures
    from strapwright.job.draft import Draft
    from strapwright.job.strap_draft import BeltDraft, StrapDraft
    from strapwright.parts.end import TurnedEnd
    from strapwright.parts.part import Part

_CLOSED = ("hole", "slot")


class Options:
    """What is drafted, and what of it is written."""

    job: Path = job_argument
    explain: bool = flag("--explain", "Show the working of every figure, numbers put in.")
    ends_only: bool = ends_only_option
    drawing: Path | None = path_option(
        "--drawing",
        "FILE.svg|png|pdf",
        "Write a drawing of every belt: dimensions, hole table, section of the fold.",
    )
    good: Path | None = path_option("--good", "FILE.csv", "Write the good lines of a CSV job there.")
    bad: Path | None = path_option("--bad", "FILE.csv", "Write the bad lines of a CSV job there.")
    common: Common = common_options("catalogue partial as_json units force")


@click.command("draft", epilog="Example: strapwright draft job.toml --explain")
@takes(Options)
def command(o: Options) -> None:
    """Compute every belt of JOB: strap, holes, slot, turn-back, keeper, and what to watch.

    JOB is a TOML file, or a CSV file with one belt a line. Every bad line of a CSV file is reported by its
    number, and the exit status is 1.
    """
    asked, files = _read(o)
    drafted = asked.draft
    if o.ends_only:
        from strapwright.api import only_ends

        drafted = only_ends(drafted)
    if o.drawing is not None:
        from strapwright import api

        kind = api.picture_kind(o.drawing)
        files[o.drawing] = api.drawing(drafted, kind, units=o.common.units, ends_only=o.ends_only)
    _write(files, force=o.common.force)

    def report() -> None:
        _report(drafted, o)
        for what, path in (("drawing", o.drawing), ("good lines", o.good), ("bad lines", o.bad)):
            if path is not None:
                say(f"{what}: {path}")

    emit(o.common, lambda: _as_json(drafted, ends_only=o.ends_only) | asked.bad_json(), report)
    say_lacking(o.drawing, drafted.name, *(item.id for item in drafted.items))
    asked.fail_on_bad()


def _read(o: Options) -> tuple[DraftedJob, dict[Path, str | bytes]]:
    """Read and draft the job; return with it the files of its sorted lines, written now if all ends here."""
    from strapwright.cli.terminal.inputs import drafted_orders, read_and_draft
    from strapwright.core.errors import FileProblems

    sorted_to = [path for path in (o.good, o.bad) if path is not None]
    if not sorted_to:
        more = ", --good FILE and --bad FILE write each to a file of their own"
        return read_and_draft(o.job, o.common, remedy=f"--partial drafts the good ones{more}"), {}
    for path in sorted_to:
        if o.job.suffix.lower() != ".csv":
            raise click.UsageError(f"--good and --bad sort the lines of a CSV job; {o.job} is none")
        if path.resolve() == o.job.resolve():
            raise click.UsageError(f"{path} is the job itself; choose another name for its sorted lines")
    from strapwright.api import read_orders

    with drafting() as progress:
        orders = read_orders(o.job, o.common.catalogue, progress=progress)
    texts = ((o.good, orders.good_text), (o.bad, orders.bad_text))
    files: dict[Path, str | bytes] = {path: text for path, text in texts if path is not None}
    try:
        asked = drafted_orders(orders, partial=o.common.partial, remedy="--partial drafts the good ones")
    except FileProblems:
        _write(files, force=o.common.force)
        raise
    return asked, files


def _write(files: dict[Path, str | bytes], *, force: bool) -> None:
    from strapwright.files.atomic_write import write_whole

    if files:
        write_whole(files, force=force)


def _as_json(drafted: Draft, *, ends_only: bool) -> dict[str, Any]:
    from strapwright.job.end_pieces import ends_json

    return drafted.as_json() | ({"ends": ends_json(drafted.parts)} if ends_only else {})


def _report(drafted: Draft, o: Options) -> None:
    from strapwright.job.grading import findings_as_read, grouped

    units, groups = o.common.units, grouped(drafted.belts)
    places = f"{units}, places from the fold line"
    if not o.ends_only:
        alone = [_strap(group[0], units) for group in groups if len(group) == 1]
        print_table(f"{drafted.name}: straps, {places}", alone)
        for group in groups:
            if len(group) > 1:
                print_table(_run_title(group, units), [_size(belt, units) for belt in group])
    ends = [_end(group[0], units, group[0].run if len(group) > 1 else "") for group in groups]
    print_table(f"buckle ends and keepers, {places}", ends)
    _print_leather(drafted, units)
    _print_datum(drafted, units)
    if o.explain:
        for group in groups:
            shown: set[Step] = set()
            for belt in group:  # of a run's other sizes, only what differs
                fresh = [step for step in belt.steps if step not in shown]
                shown.update(fresh)
                _print_working(belt, fresh, units)
                say(_shares(belt))
        for belt in drafted.belts:
            _print_strength(belt)
    if o.ends_only:
        _print_ends(drafted.parts, units)
    _print_straps(drafted.straps, units, explain=o.explain)
    print_findings(findings_as_read(drafted), units=units)


def _print_working(item: StrapDraft, steps: Sequence[Step], units: Units) -> None:
    rows = [
        {
            "figure": step.label,
            "formula": step.formula,
            "with the numbers": step.numbers,
            f"= {units}": length(step.value, units, 2),
        }
        for step in steps
    ]
    print_table(f"working of {item.id}, numbers in mm", rows)


def _print_strength(item: StrapDraft) -> None:
    if item.strength is not None:
        say(f"strength of {item.id}, to compare designs by:")
        for line in item.strength.lines():
            say(f"  {line}")


def _print_datum(drafted: Draft, units: Units) -> None:
    """Print where the holes are measured to, and how sure that and the girths are."""
    from strapwright.core.units import format_length
    from strapwright.rules.sizing import GIRTH_UNCERTAINTY

    if not drafted.belts:
        return
    say("holes are given by their centres; worn, the edge towards the tip bears on the prong")
    said = []
    for belt in drafted.belts:
        buckle, how = belt.buckle, "as measured"
        if not buckle.seat_is_measured:
            depth = format_length(buckle.frame_depth, units)
            prong = format_length(buckle.prong_thickness, units)
            given = "" if "prong_thickness" in buckle.model_fields_set else " assumed for it"
            how = f"an estimate: frame depth {depth} less the prong, {prong}{given}; measure hole_seat"
        said.append((f"{format_length(buckle.seat, units)} from the bar ({how})", belt))
    for words, of in _together(said):
        say(f"that edge{of}: {words}")
    off = format_length(GIRTH_UNCERTAINTY, units)
    say(f"waist or girth: to ± {off}, an estimate until belts are measured on people\n")


def _shares(belt: BeltDraft) -> str:
    """Return the working of what is no length: how far the fold stretches and the posts draw."""
    from strapwright.job.dimensions.fastener_choice import draw_lines
    from strapwright.rules.fold import fold_strain

    t, r = belt.figures.layers.fold, belt.figures.end.fold_radius
    strain = f"stretch of the grain in the fold: t / (2 r + t) = {t:.2f} / (2 × {r:.2f} + {t:.2f})"
    return "\n".join([f"{strain} = {fold_strain(t, r):.0%}", *draw_lines(belt.posts), ""])


def _print_leather(drafted: Draft, units: Units) -> None:
    """Print each thickness at the edges, in ounces too, with the edge beveler that suits it."""
    from strapwright.rules.leather import side_by_side
    from strapwright.write.card.work import edge_words

    said = []
    for item in drafted.items:
        thick = side_by_side(item.thickness, "in" if units == "in" else "mm")
        said.append((f"{thick}, {edge_words([item.thickness])}", item))
    for words, of in _together(said):
        say(f"leather at the edges: {words}{of}")
    say()


def _together(said: Sequence[tuple[str, StrapDraft]]) -> Iterator[tuple[str, str]]:
    """Yield each of several words once, with what they are said of where that differs."""
    found: dict[str, dict[str, None]] = {}
    for words, item in said:
        found.setdefault(words, {})[item.run or item.id] = None
    for words, names in found.items():
        yield words, f" ({few(list(names))})" if len(found) > 1 else ""


def _strap(belt: BeltDraft, units: Units) -> dict[str, str]:
    got, holes = belt.figures, belt.strap.holes
    return {
        "belt": belt.id,
        "made": str(belt.quantity),
        "width": length(got.width, units),
        "blank": length(belt.blank_length, units),
        "hole in use": length(got.hole_in_use, units),
        "holes": _rows_of(belt),
        "⌀": length(holes.diameter, units),
        "pitch": length(holes.spacing, units, finest=64),
        "last to tip": length(got.last_to_tip, units),
        "tip": belt.tip_shape.replace("_", " "),
        "reach": _span(got.reaches, units),
        "waist or girth": _span(got.girths, units),
    }


def _rows_of(belt: BeltDraft) -> str:
    holes = belt.strap.holes
    return f"{holes.rows} × {holes.count}" if holes.rows > 1 else str(holes.count)


def _span(values: Sequence[float], units: Units) -> str:
    return f"{length(values[0], units, 0)}–{length(values[1], units, 0)}"


def _keeper(belt: BeltDraft, units: Units) -> str:
    keeper = belt.keeper
    return f"{length(keeper.length, units)} × {length(keeper.width, units)}" if keeper else "none"


def _run_title(group: Sequence[BeltDraft], units: Units) -> str:
    """Return what the sizes of a run share, over the table of what differs."""
    belt = group[0]
    got, holes = belt.figures, belt.strap.holes
    return (
        f"{belt.run}: {len(group)} sizes, {belt.run_size} to {group[-1].run_size}, {units}, hole in use from "
        f"the fold line. Of all: {length(got.width, units)} wide, {_rows_of(belt)} holes ⌀ "
        f"{length(holes.diameter, units)} at {length(holes.spacing, units, finest=64)}, "
        f"{length(got.last_to_tip, units)} from the last to the {belt.tip_shape.replace('_', ' ')} tip"
    )


def _size(belt: BeltDraft, units: Units) -> dict[str, str]:
    return {
        "size": belt.run_size,
        "belt": belt.id,
        "made": str(belt.quantity),
        "blank": length(belt.blank_length, units),
        "hole in use": length(belt.figures.hole_in_use, units),
        "waist or girth": _span(belt.figures.girths, units),
        "keeper": _keeper(belt, units),
    }


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


def _end(belt: BeltDraft, units: Units, run: str) -> dict[str, str]:
    got, end = belt.figures.end, belt.strap.buckle_end
    slots = f"{len(got.slot_ys)} × " if len(got.slot_ys) > 1 else ""
    slot = f"{slots}{length(got.slot[0], units)} × {length(got.slot[1], units)}" if got.slot_ys else "none"
    matching, posts = _fastened(got, units)
    return {
        "belt": f"{run}, all sizes" if run else belt.id,
        "turn-back": length(got.turn_back, units),
        "slot": slot,
        "matching holes": matching,
        "holes": str(len(end.fastener_centres)),
        "⌀": _diameters(end, units),
        "fasteners": posts,
        "keeper": _keeper(belt, units),
        "join": belt.keeper.join if belt.keeper else "",
    }


def _print_ends(pieces: Sequence[Part], units: Units) -> None:
    """Print the end pieces: where on the strap each lies and what is made in it."""
    rows = []
    for piece in pieces:
        x0, y0, x1, y1 = piece.outline.bounding_box
        names = Counter(feature.name for feature in piece.features if feature.name.endswith(_CLOSED))
        holes = [f"{count} {name}{'s' if count > 1 else ''}" for name, count in names.items()]
        rows.append(
            {
                "belt": piece.belt_id,
                "piece": piece.id.rpartition("/")[2],
                "long": length(x1 - x0, units),
                "wide": length(y1 - y0, units),
                "from the fold line": f"{length(x0, units)} to {length(x1, units)}",
                "in it": ", ".join(holes) or "no hole",
            }
        )
    print_table(f"ends only, to try in scrap, {units}", rows)


def _print_straps(straps: Sequence[StrapDraft], units: Units, *, explain: bool) -> None:
    """Print what was worked out of straps that are no belts; nothing where there are none."""
    rows = [line for strap in straps for line in _lines(strap, units)]
    print_table(f"other straps, {units}, rows from their own fold line", rows)
    holes = [
        {
            "strap": strap.id,
            "holes": str(row.count),
            "⌀": length(row.diameter, units),
            "pitch": length(row.spacing, units, finest=64),
            "first and last at": f"{length(row.xs[0], units)}, {length(row.xs[-1], units)}",
        }
        for strap in straps
        for row in strap.strap.hole_rows
    ]
    print_table(f"their holes, {units}, places from the first end", holes)
    for strap in straps if explain else ():
        _print_working(strap, strap.steps, units)
        _print_strength(strap)


def _lines(strap: StrapDraft, units: Units) -> Iterator[dict[str, str]]:
    """Yield a line for each end; a sketch has one."""
    about = {
        "strap": strap.id,
        "made": str(strap.quantity),
        "width": length(strap.width, units),
        "length": length(strap.length, units),
        "blank": length(strap.blank_length, units),
    }
    for one in strap.ends:
        end = one.figures
        matching, fasteners = _fastened(end, units) if end else ("", "")
        yield {
            **about,
            "ends": one.spec.words if len(strap.ends) > 1 else f"as drawn in {one.spec.words}",
            "turn-back": length(end.turn_back, units) if end else "",
            "matching holes": matching,
            "fasteners": fasteners,
        }
        about = dict.fromkeys(about, "")
