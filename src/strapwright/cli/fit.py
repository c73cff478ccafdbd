"""``strapwright fit``: finished belts written down beside their draft, and what to change for the next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.inputs import read_and_draft
from strapwright.cli.terminal.options import (
    argument,
    common_options,
    date_option,
    file_path,
    flag,
    job_argument,
    length_option,
    option,
    path_option,
    takes,
    to_mm,
)
from strapwright.cli.terminal.report import emit, print_table, say, say_lacking

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime
    from pathlib import Path

    from strapwright.cli.terminal.options import Common
    from strapwright.job.fit_record import BuckleFit, FitRow


@click.group("fit", epilog="Example: strapwright fit show")
def command() -> None:
    """Write down what finished belts measure, and see what to change so that the next ones fit."""


def _at(ctx: click.Context, param: click.Parameter, value: str, example: str) -> tuple[str, float]:
    """Return what a measure was taken at, and its mm, of words such as ``4 = 98.2 cm``."""
    place, sign, length = value.partition("=")
    if not (sign and place.strip() and length.strip()):
        raise click.BadParameter(f'found "{value}", expected such as "{example}"', ctx, param)
    mm = to_mm(ctx, param, length.strip())
    assert mm is not None
    return place.strip(), mm


def _girths(
    ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
) -> tuple[tuple[int, float], ...]:
    """Return holes and girths."""
    found = []
    for value in values:
        hole, mm = _at(ctx, param, value, "4 = 98.2 cm")
        if not (hole.isascii() and hole.isdigit() and len(hole) < 4):
            text = f'found "{value}", expected a hole, counted from the buckle: "4 = 98.2 cm"'
            raise click.BadParameter(text, ctx, param)
        found.append((int(hole), mm))
    return tuple(found)


def _gaps(
    ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
) -> tuple[tuple[str, float], ...]:
    """Return rows of posts and gaps."""
    found = (_at(ctx, param, value, "A = 0.5 mm") for value in values)
    return tuple((row.upper(), mm) for row, mm in found)


def _records_option() -> Any:
    text = "Where finished belts are written down; default records/fit.toml of the shop."
    return path_option("--records", "FILE.toml", text)


class RecordOptions:
    """Which finished belt, and what was measured on it."""

    job: Path = job_argument
    belt: str = option("--belt", "Id of the belt, as in the job.", required=True, metavar="ID")
    girths: tuple[tuple[int, float], ...] = option(
        "--girth",
        'Hole, counted from the buckle, and the girth it fits: "4 = 98.2 cm"; the option again for more.',
        multiple=True,
        callback=_girths,
        metavar="HOLE=LENGTH",
    )
    slot: float | None = length_option("--slot", "Length of the prong slot.")
    post_gaps: tuple[tuple[str, float], ...] = option(
        "--post-gap",
        'Row, A nearest the buckle, and the gap between front and turn-back there: "A = 0.5 mm".',
        multiple=True,
        callback=_gaps,
        metavar="ROW=LENGTH",
    )
    number: int = option("--number", "Which of several belts alike.", type=click.IntRange(1, 1000), default=1)
    remade: bool = flag("--remade", "It is a new belt, made since the job or its catalogue changed.")
    measured: datetime | None = date_option()
    records: Path | None = _records_option()
    common: Common = common_options("catalogue partial as_json")


@command.command(
    "record", epilog='Example: strapwright fit record job.toml --belt ines --girth "4 = 98.2 cm"'
)
@takes(RecordOptions)
def record(o: RecordOptions) -> None:
    """Write down what a finished belt of JOB measures, beside what was drafted for it.

    A girth is taped as it was for the job: close the belt at the hole and tape round its inside, or tape the
    person it sits snug on. Rows are added to what was written down before; none is changed.
    """
    from strapwright import api

    asked = read_and_draft(o.job, o.common, remedy="--partial goes on with the good ones")
    path = o.records or api.fit_file(o.job)
    finished = api.Finished(
        girths=o.girths,
        slot=o.slot,
        post_gaps=o.post_gaps,
        number=o.number,
        day=None if o.measured is None else o.measured.date(),
        remade=o.remade,
    )
    rows = api.record_fit(path, asked.draft, o.belt, finished)
    emit(
        o.common,
        lambda: {"file": str(path), "rows": [_row_json(row) for row in rows]} | asked.bad_json(),
        lambda: _report_recorded(rows, path),
    )
    asked.fail_on_bad()


def _report_recorded(rows: Sequence[FitRow], path: Path) -> None:
    from strapwright.job.fit_record import MOST_MISS, TAPE

    print_table(f"{rows[0].belt}, mm", [_measure(row) for row in rows])
    girths = [row for row in rows if row.what.startswith("girth")]
    if girths and max(abs(row.miss) for row in girths) >= MOST_MISS / 4:
        say("caution: that is near half a hole spacing: count the holes again, from the buckle.", err=True)
    elif girths and max(abs(row.miss) for row in girths) <= TAPE:
        say(f"no girth is off by more than a tape's ± {TAPE:g} mm")
    say(f"added to {path}")


class ShowOptions:
    """Whose finished belts are shown."""

    job: Path = argument("[SHOP|JOB]", type=file_path(), default=".")
    records: Path | None = _records_option()
    picture: Path | None = path_option("--picture", "FILE.svg|png|pdf", "Draw the misses, buckle by buckle.")
    common: Common = common_options("as_json force")


@command.command("show", epilog="Example: strapwright fit show . --picture misses.svg")
@takes(ShowOptions)
def show(o: ShowOptions) -> None:
    """Show how far finished belts are off their drafts, and which setting would remove it.

    SHOP is the shop's folder, by default this one; a job in it will do. From three belts of one buckle on the
    mean miss is given, with how sure it is. Nothing is changed: write the setting yourself.
    """
    from strapwright import api

    kind = None if o.picture is None else api.picture_kind(o.picture)
    path = o.records or api.fit_file(o.job / "job.toml" if o.job.is_dir() else o.job)
    file = api.read_fit(path)
    fits = api.fits_of(file)
    if o.picture is not None and kind is not None:
        api.write_whole({o.picture: api.fit_picture(fits, kind)}, force=o.common.force)
    rows = file.rows
    emit(o.common, lambda: _as_json(rows, fits, path, o.picture), lambda: _report(rows, fits, path, o))
    say_lacking(o.picture, *(fit.drafted_with.buckle for fit in fits))


def _report(rows: Sequence[FitRow], fits: Sequence[BuckleFit], path: Path, o: ShowOptions) -> None:
    from strapwright.job.fit_record import UNTOLD, fit_words

    if not rows:
        say(f'{path}: no belt yet; begin with: strapwright fit record JOB --belt ID --girth "4 = 98.2 cm"')
    about = [
        {
            "buckle": row.buckle,
            "belt": f"{row.belt} {row.number}" if row.number > 1 else row.belt,
            "leather": f"{row.leather} {row.thickness:.4g}",
            "date": str(row.measured),
            **_measure(row),
        }
        for row in rows
    ]
    print_table("finished belts, mm", about)
    for fit in fits:
        say(f"{fit.drafted_with.buckle}: {fit_words(fit)}")
    if any(fit.advice for fit in fits):
        say(UNTOLD)
    if o.picture is not None:
        say(f"drawn: {o.picture}")


def _measure(row: FitRow) -> dict[str, str]:
    return {
        "measured": row.what,
        "drafted": f"{row.drafted:.1f}",
        "finished": f"{row.finished:.1f}",
        "miss": f"{row.miss:+.1f}".replace("-", "−"),
    }


def _row_json(row: FitRow) -> dict[str, Any]:
    lengths = ("thickness", "hole_seat", "hole_seat_most", "girth_allowance", "drafted", "finished")
    plain = row.model_dump(mode="json")
    named = {f"{key}_mm" if key in lengths else key: value for key, value in plain.items()}
    return {"what": row.what, **named, "miss_mm": round(row.miss, 3)}


def _as_json(
    rows: Sequence[FitRow], fits: Sequence[BuckleFit], path: Path, picture: Path | None
) -> dict[str, Any]:
    from strapwright.job.fit_record import TAPE, fit_words

    return {
        "records": str(path),
        "rows": [_row_json(row) for row in rows],
        "buckles": [
            {
                "buckle": fit.drafted_with.buckle,
                "hole_seat_mm": fit.drafted_with.hole_seat,
                "girth_allowance_mm": fit.drafted_with.girth_allowance,
                "thicknesses_mm": list(fit.thicknesses),
                "belts": len(fit.belts),
                "misses_mm": [round(belt.miss, 3) for belt in fit.belts],
                "mean_mm": fit.mean and round(fit.mean.value, 3),
                "uncertainty_95_mm": fit.mean and round(fit.mean.half, 3),
                "verdict": fit.verdict,
                "setting": fit.advice and fit.advice.setting,
                "value_mm": fit.advice and fit.advice.value,
                "words": fit_words(fit),
            }
            for fit in fits
        ],
        "tape_mm": TAPE,
        "file": None if picture is None else str(picture),
    }
