"""``strapwright kerf``: try a leather new to a machine, and measure the width of its cut."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    MATERIALS,
    Decimal,
    common_options,
    date_option,
    divided,
    format_option,
    fume_option,
    lengths_option,
    machine_option,
    material_option,
    option,
    path_option,
    takes,
    thickness_option,
)
from strapwright.cli.terminal.report import (
    cautions_at,
    emit,
    print_findings,
    print_numbered,
    print_pairs,
    print_table,
    say,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime
    from pathlib import Path

    from strapwright.api import Coupon, Recorded
    from strapwright.cli.terminal.options import Common
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.profile.machine_keys import KerfRow
    from strapwright.machine.test_pieces.trial import Trial
    from strapwright.write.test_pieces import TrialFiles


@click.group("kerf", epilog="Example: strapwright kerf coupon --machine my-laser.toml --out coupon")
def command() -> None:
    """Try a new leather, measure the width of the cut on a test piece, record it, show what is known."""


class CouponOptions:
    """What leather and machine the piece is for."""

    machine: str = machine_option("A shipped profile's name or your own profile's file.")
    material: str = material_option("Tannage of the leather you cut it from.")
    thickness: float | None = thickness_option("Of that leather; written on the piece.")
    out: Path = path_option("--out", "DIR", "Folder for it.", default="kerf-coupon")
    formats: tuple[str, ...] = format_option()
    accept_fume_risk: bool = fume_option
    common: Common = common_options("units as_json force")


@command.command("coupon", epilog="Example: strapwright kerf coupon --machine my-laser.toml --out coupon")
@takes(CouponOptions)
def coupon(o: CouponOptions) -> None:
    """Write a test piece that needs only a calliper: comb, ladder of slots, and a cross for scale.

    It is cut on the lines themselves, nothing allowed for. The files are read back and proven as those
    of `cut`; the sheet beside them says what to measure. A drag knife's blade gets a test of its own, a
    file for each offset it may trail by.
    """
    from strapwright import api
    from strapwright.rules.leather import Tannage

    machine = api.read_machine(o.machine)
    made = api.kerf_coupon(
        machine,
        Tannage(o.material),
        o.thickness,
        formats=o.formats,
        accept_fume_risk=o.accept_fume_risk,
        units=o.common.units,
    )
    files = {o.out / name: text for name, text in made.files.texts.items()}
    api.write_whole(files, force=o.common.force)
    emit(
        o.common,
        lambda: _coupon_json(made, machine, o, [*files]),
        lambda: _report_coupon(made, machine, o, [*files]),
    )


def _coupon_json(made: Coupon, machine: Machine, o: CouponOptions, paths: list[Path]) -> dict[str, Any]:
    from strapwright.machine.test_pieces.blade_coupon import offsets_tried
    from strapwright.machine.test_pieces.coupon import LADDER, PITCH, STRIPS, cross_of

    cross = cross_of(machine)
    return {
        "machine": machine.name,
        "material": o.material,
        "thickness_mm": o.thickness,
        "strips": STRIPS,
        "pitch_mm": PITCH,
        "ladder_mm": list(LADDER),
        "cross_mm": [cross.x, cross.y],
        "kerf_mm": made.plan.kerf,
        "blade_offsets_mm": list(offsets_tried(machine)) if made.blade_test else [],
        "greatest_deviation_mm": made.files.greatest_deviation_mm,
        "findings": [finding.as_json() for finding in made.plan.findings],
        "files": [str(path) for path in paths],
    }


def _report_coupon(made: Coupon, machine: Machine, o: CouponOptions, paths: list[Path]) -> None:
    from strapwright.rules.leather import Tannage
    from strapwright.write.formats.header import kerf_words
    from strapwright.write.test_pieces import measuring_lines

    print_findings(made.plan.findings)
    rows = [
        ("leather", o.material if o.thickness is None else f"{o.material}, {o.thickness:.4g} mm"),
        ("kerf", kerf_words(made.plan)),
        ("files checked to", made.files.checked_to),
        *(("file" if k else "files", str(path)) for k, path in enumerate(paths)),
    ]
    print_pairs(f"kerf test piece for {machine.name}", rows)
    leather = Tannage(o.material), o.thickness
    print_numbered(measuring_lines(machine, *leather, o.common.units, blade_test=made.blade_test))
    cautions_at(machine.kind)


def _readings_option(name: str, text: str) -> Any:
    return lengths_option(name, text, "98,1;98,0")


class RecordOptions:
    """What was read, of which leather, and how it was cut."""

    machine: str = machine_option("Your own profile's file; the rows are added to it.")
    material: str | None = option(
        "--material", "Tannage of the leather you cut it from.", type=click.Choice(MATERIALS)
    )
    thickness: float | None = thickness_option("Of that leather, as measured.")
    strips: tuple[float, ...] = _readings_option(
        "--strips",
        "All strips of the comb pushed together; several readings with semicolons, or the option again.",
    )
    strips_y: tuple[float, ...] = _readings_option(
        "--strips-y", "Those of the comb across y; several likewise."
    )
    slots: tuple[float, ...] = _readings_option(
        "--slot", "The width scored beside the slot a strip just fits; several likewise."
    )
    holes: tuple[float, ...] = _readings_option("--hole", "Across one of the small holes; several likewise.")
    cross_x: tuple[float, ...] = _readings_option("--cross-x", "The cross along x, tick to tick.")
    cross_y: tuple[float, ...] = _readings_option("--cross-y", "The cross along y, tick to tick.")
    speed: float | None = option(
        "--speed", "As cut; default operation.cut's.", type=Decimal(0, min_open=True), metavar="MM/S"
    )
    power: float | None = option(
        "--power", "As cut; default operation.cut's.", type=Decimal(0, 100, min_open=True), metavar="PERCENT"
    )
    passes: int | None = option("--passes", "As cut; default operation.cut's.", type=click.IntRange(1, 20))
    measured: datetime | None = date_option()
    common: Common = common_options("as_json")


@command.command(
    "record",
    epilog="Example: strapwright kerf record --machine my-laser.toml --material vegetable --thickness 3.6mm "
    "--strips 98.1mm,98.0mm,98.1mm --cross-x 200.1mm --cross-y 199.9mm",
)
@takes(RecordOptions)
def record(o: RecordOptions) -> None:
    """Work out the kerf and the axes' scale from your readings, and add them to your machine file.

    Nothing that stands in the file is changed: older rows stay as history, and the newest of a leather
    counts. Comments and order stay.
    """
    from strapwright import api
    from strapwright.machine.test_pieces.kerf_record import Readings
    from strapwright.rules.leather import Tannage

    machine = api.read_machine(o.machine)
    done = api.kerf_record(
        machine,
        Readings(o.strips, o.strips_y, o.slots, o.cross_x, o.cross_y, o.holes),
        None if o.material is None else Tannage(o.material),
        o.thickness,
        speed_mm_s=o.speed,
        power_percent=o.power,
        passes=o.passes,
        day=None if o.measured is None else o.measured.date(),
    )
    emit(
        o.common, lambda: _record_json(done, o.machine), lambda: _report_record(done, machine.name, o.machine)
    )


def _record_json(done: Recorded, file: str) -> dict[str, Any]:
    found = done.measured
    return {
        "kerf_mm": found.kerf,
        "spread_mm": found.spread,
        "ladder_kerf_mm": found.ladder,
        "kerf_across_mm": found.across and list(found.across),
        "hole_kerf_mm": found.holes,
        "scale_x": found.scale_x,
        "scale_y": found.scale_y,
        "working": [
            {"label": s.label, "formula": s.formula, "numbers": s.numbers, "value": s.value}
            for s in found.steps
        ],
        "rows": [{"table": table, **row} | {"measured": str(row["measured"])} for table, row in done.rows],
        "file": file,
    }


def _report_record(done: Recorded, name: str, file: str) -> None:
    from strapwright.machine.kerf import scale_findings
    from strapwright.machine.profile.machine_keys import ScaleRow
    from strapwright.machine.test_pieces.kerf_record import readings_findings

    found = done.measured
    rows = [
        {
            "what": step.label,
            "formula": step.formula,
            "with the numbers": step.numbers,
            "comes to": f"{step.value:.5g}",
        }
        for step in found.steps
    ]
    print_table("working, mm", rows)
    for severity, words in readings_findings(found):
        say(f"{severity}: {words}")
    for table, row in done.rows:
        if table == "scale":
            print_findings(scale_findings(name, ScaleRow.model_validate(row)))
        keys = ", ".join(f"{key} {value}" for key, value in row.items())
        say(f"added to {file}: [[{table}]] {keys}")


class ShowOptions:
    """Which machine's measurements are shown."""

    machine: str = machine_option("A shipped profile's name or your own profile's file.")
    out: Path | None = path_option("--out", "FILE.svg", "Draw kerf over thickness as SVG.")
    common: Common = common_options("as_json force")


@command.command("show", epilog="Example: strapwright kerf show --machine my-laser.toml --out kerf.svg")
@takes(ShowOptions)
def show(o: ShowOptions) -> None:
    """Show every kerf and axis scale a machine file holds: which counts, which is history or too old.

    With --out it draws the kerf over the leather's thickness, its readings marked.
    """
    from strapwright import api
    from strapwright.core.errors import OutputError
    from strapwright.machine.kerf import standing

    if o.out is not None and o.out.suffix.casefold() != ".svg":
        raise OutputError(f"{o.out}: expected a name that ends in .svg")
    machine = api.read_machine(o.machine)
    drawing = None if o.out is None else api.kerf_plot(machine)
    rows = [(row, standing(row, machine)[0]) for row in machine.kerf]
    if o.out is not None and drawing is not None:
        api.write_whole({o.out: drawing}, force=o.common.force)
    emit(o.common, lambda: _show_json(machine, rows, o.out), lambda: _report_show(machine, rows, o))


def _report_show(machine: Machine, rows: Sequence[tuple[KerfRow, str]], o: ShowOptions) -> None:
    from strapwright.machine.kerf import age_of, rows_in_use, scale_findings, scale_of, settings_words

    if machine.kind == "drag_knife":
        say(f"{machine.name}: a drag knife: its blade takes no leather away, so there is no kerf.")
    elif not rows:
        say(
            f"{machine.name}: no kerf measured yet; begin with: strapwright kerf coupon "
            f"--machine {shlex.quote(o.machine)}"
        )
    else:
        ordered = sorted(rows, key=lambda one: (one[0].material, one[0].thickness, one[0].measured))
        cells = [
            {
                "material": str(row.material),
                "thick mm": f"{row.thickness:.4g}",
                "kerf mm": f"{row.width:.4g}",
                "at holes": "" if row.hole_width is None else f"{row.hole_width:.4g}",
                "spread": "" if row.spread is None else f"{row.spread:.3g}",
                "measured": f"{row.measured}",
                "days ago": f"{age_of(row)}",
                "cut at": settings_words(row),
                "state": state,
            }
            for row, state in ordered
        ]
        print_table(f"kerf of {machine.name}", cells)
        for material in dict.fromkeys(row.material for row, _ in ordered):
            used = rows_in_use(machine.kerf, material)
            low, high = used[0].thickness, used[-1].thickness
            span = f"of {low:.4g} mm alone" if len(used) == 1 else f"from {low:.4g} to {high:.4g} mm thick"
            say(f"{material}: good for leather {span}; beyond it planning stops.")
    if (scale := scale_of(machine)) is not None:
        told = ", ".join(f"{axis} {s:.5f}" for axis, s in (("x", scale.x), ("y", scale.y)) if s is not None)
        say(f"scale measured on {scale.measured}: {told}")
        print_findings(scale_findings(machine.name, scale))
    if o.out is not None:
        say(f"drawn: {o.out}")


def _show_json(machine: Machine, rows: Sequence[tuple[KerfRow, str]], out: Path | None) -> dict[str, Any]:
    from strapwright.machine.kerf import age_of

    return {
        "machine": machine.name,
        "kerf": [
            {
                "material": str(row.material),
                "thickness_mm": row.thickness,
                "kerf_mm": row.width,
                "hole_kerf_mm": row.hole_width,
                "spread_mm": row.spread,
                "measured": str(row.measured),
                "age_days": age_of(row),
                "speed_mm_s": row.speed_mm_s,
                "power_percent": row.power_percent,
                "passes": row.passes,
                "state": state,
            }
            for row, state in rows
        ],
        "kerf_max_age_days": machine.limits.kerf_max_age_days,
        "scale": [{"x": row.x, "y": row.y, "measured": str(row.measured)} for row in machine.scale],
        "file": None if out is None else str(out),
    }


def _figures(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> tuple[float, ...]:
    """Return several figures."""
    from strapwright.core.units import parse_number

    found: list[float] = []
    for one in divided(ctx, param, values, "10;20;40"):
        number = parse_number(one)
        if number is None:
            raise click.BadParameter(f'found "{one}", expected figures such as 10;20;40', ctx, param)
        found.append(number)
    return tuple(found)


class TrialOptions:
    """What leather and machine the grid is for, and what is tried."""

    machine: str = machine_option("A shipped profile's name or your own profile's file.")
    material: str = material_option("Tannage of the leather.")
    thickness: float | None = thickness_option("Of the leather, as measured; must be given.")
    speeds: tuple[float, ...] = option(
        "--speed",
        'Speeds to try, "8;12;18"; default: from half to twice operation.cut\'s.',
        multiple=True,
        callback=_figures,
        metavar="MM/S",
    )
    powers: tuple[float, ...] = option(
        "--power",
        'A laser\'s powers to try, likewise; default "40;60;80;100".',
        multiple=True,
        callback=_figures,
        metavar="PERCENT",
    )
    depths: tuple[float, ...] = lengths_option(
        "--depth",
        "A blade's depths to try in one pass, likewise; default: a quarter of the leather to right through.",
        "0,8;1,6;2,4",
    )
    passes: int | None = option(
        "--passes", "A laser's, round each square; default operation.cut's.", type=click.IntRange(1, 20)
    )
    out: Path = path_option("--out", "DIR", "Folder for it.", default="trial")
    formats: tuple[str, ...] = format_option("; G-code for a knife")
    accept_fume_risk: bool = fume_option
    common: Common = common_options("units as_json force")


@command.command(
    "trial",
    epilog='Example: strapwright kerf trial --machine my-laser.toml --thickness 3.6mm --speed "8;12;18" '
    '--power "50;70;90" --out trial',
)
@takes(TrialOptions)
def trial(o: TrialOptions) -> None:
    """Write a grid of numbered squares in a leather new to the machine, and a sheet to tick.

    A laser tries speed and power, a drag knife speed and depth. The gentlest square is cut first. G-code
    drives each square at its own figures; in other formats each has a file of its own, to be set by hand.
    """
    from strapwright import api
    from strapwright.rules.leather import Tannage

    if o.thickness is None:
        raise click.UsageError("give --thickness: as measured on the leather the grid is cut from")
    machine = api.read_machine(o.machine)
    grid = api.trial(
        machine,
        Tannage(o.material),
        o.thickness,
        speeds=o.speeds,
        powers=o.powers,
        depths=o.depths,
        passes=o.passes,
        accept_fume_risk=o.accept_fume_risk,
    )
    made = api.trial_files(grid, o.formats, o.common.units)
    files = {o.out / name: text for name, text in made.files.texts.items()}
    api.write_whole(files, force=o.common.force)
    emit(o.common, lambda: _trial_json(grid, made, o, [*files]), lambda: _report_trial(grid, made, o))


def _trial_json(grid: Trial, made: TrialFiles, o: TrialOptions, paths: list[Path]) -> dict[str, Any]:
    return {
        "machine": grid.plan.machine.name,
        "material": o.material,
        "thickness_mm": o.thickness,
        "columns": grid.columns,
        "squares": [
            {
                "number": cell.number,
                "speed_mm_s": cell.setting.speed_mm_s,
                "power_percent": cell.setting.power_percent,
                "depth_mm": cell.setting.depth,
                "passes": cell.setting.passes,
            }
            for cell in grid.cells
        ],
        "greatest_deviation_mm": made.files.greatest_deviation_mm,
        "findings": [finding.as_json() for finding in grid.plan.findings],
        "files": [str(path) for path in paths],
    }


def _report_trial(grid: Trial, made: TrialFiles, o: TrialOptions) -> None:
    from strapwright.write.test_pieces import setting_words, trial_lines

    machine = grid.plan.machine
    print_findings(grid.plan.findings)
    second = "power" if machine.kind == "laser" else "depth"
    rows = []
    for cell in grid.cells:
        speed, other = setting_words(cell, o.common.units)
        rows.append({"square": str(cell.number), "speed": speed, second: other})
    print_table(f"trial of {o.material} {o.thickness:.4g} mm on {machine.name}", rows)
    print_numbered(trial_lines(grid, one_by_one=made.one_by_one))
    cautions_at(machine.kind)
    count, sheet = len(made.files.texts), o.out / "trial-sheet.txt"
    say(f"{count} files in {o.out}, each read back and checked; {sheet} to tick")
