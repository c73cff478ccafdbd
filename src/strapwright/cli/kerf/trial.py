"""``strapwright kerf trial``: a grid of squares that shows how a leather new to a machine is cut best."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    common_options,
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
    print_table,
    say,
)

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.cli.terminal.options import Common
    from strapwright.machine.test_pieces.trial import Trial
    from strapwright.write.test_pieces import TrialFiles


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


class Options:
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


@click.command(
    "trial",
    epilog='Example: strapwright kerf trial --machine my-laser.toml --thickness 3.6mm --speed "8;12;18" '
    '--power "50;70;90" --out trial',
)
@takes(Options)
def trial(o: Options) -> None:
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
    emit(o.common, lambda: _as_json(grid, made, o, [*files]), lambda: _report(grid, made, o))


def _as_json(grid: Trial, made: TrialFiles, o: Options, paths: list[Path]) -> dict[str, Any]:
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


def _report(grid: Trial, made: TrialFiles, o: Options) -> None:
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
