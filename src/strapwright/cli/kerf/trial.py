"""``strapwright kerf trial``: a grid of squares that shows how a leather new to a machine is cut best."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.kerf.record import divided
from strapwright.cli.terminal.options import (
    common_options,
    format_option,
    fume_option,
    machine_option,
    material_option,
    path_option,
    thickness_option,
    to_mm,
)
from strapwright.cli.terminal.report import emit, print_findings, print_table, say

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.api import TrialFiles
    from strapwright.cli.terminal.options import Common
    from strapwright.core.units import Units
    from strapwright.machine.profile.machine import Machine


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


def _depths(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> tuple[float, ...]:
    """Return the mm of several depths."""
    lengths = (to_mm(ctx, param, one) for one in divided(ctx, param, values, "0,8;1,6;2,4"))
    return tuple(length for length in lengths if length is not None)


@click.command(
    "trial",
    epilog='Example: strapwright kerf trial --machine my-laser.toml --thickness 3.6mm --speed "8;12;18" '
    '--power "50;70;90" --out trial',
)
@machine_option("A shipped profile's name or your own profile's file.")
@material_option("Tannage of the leather.")
@thickness_option("Of the leather, as measured; must be given.")
@click.option(
    "--speed",
    "speeds",
    multiple=True,
    callback=_figures,
    metavar="MM/S",
    help='Speeds to try, "8;12;18"; default: from half to twice operation.cut\'s.',
)
@click.option(
    "--power",
    "powers",
    multiple=True,
    callback=_figures,
    metavar="PERCENT",
    help='A laser\'s powers to try, likewise; default "40;60;80;100".',
)
@click.option(
    "--depth",
    "depths",
    multiple=True,
    callback=_depths,
    metavar="LENGTH",
    help="A blade's depths to try in one pass, likewise; default: a quarter of the leather to right through.",
)
@click.option(
    "--passes", type=click.IntRange(1, 20), help="A laser's, round each square; default operation.cut's."
)
@path_option("--out", "DIR", "Folder for it.", default="trial", show_default=True)
@format_option("; G-code for a knife")
@fume_option
@common_options("units as_json force")
def trial(
    machine_name: str,
    material: str,
    thickness: float | None,
    speeds: tuple[float, ...],
    powers: tuple[float, ...],
    depths: tuple[float, ...],
    passes: int | None,
    out: Path,
    formats: tuple[str, ...],
    accept_fume_risk: bool,
    common: Common,
) -> None:
    """Write a grid of numbered squares in a leather new to the machine, and a sheet to tick.

    A laser tries speed and power, a drag knife speed and depth. The gentlest square is cut first. G-code
    drives each square at its own figures; in other formats each has a file of its own, to be set by hand.
    """
    from strapwright import api
    from strapwright.trade.leather import Tannage

    if thickness is None:
        raise click.UsageError("give --thickness: as measured on the leather the grid is cut from")
    machine, tannage = api.read_machine(machine_name), Tannage(material)
    made = api.kerf_trial(
        machine,
        tannage,
        thickness,
        speeds=speeds,
        powers=powers,
        depths=depths,
        passes=passes,
        formats=formats,
        accept_fume_risk=accept_fume_risk,
        units=common.units,
    )
    files = {out / name: text for name, text in made.files.texts.items()}
    api.write_whole(files, force=common.force)
    emit(
        lambda: _as_json(made, machine, material, thickness, [*files]),
        lambda: _report(made, machine, f"{material} {thickness:.4g} mm", out, len(files), common.units),
        as_json=common.as_json,
    )


def _as_json(
    made: TrialFiles, machine: Machine, material: str, thickness: float, paths: list[Path]
) -> dict[str, Any]:
    return {
        "machine": machine.name,
        "material": material,
        "thickness_mm": thickness,
        "columns": made.trial.columns,
        "squares": [
            {
                "number": cell.number,
                "speed_mm_s": cell.setting.speed_mm_s,
                "power_percent": cell.setting.power_percent,
                "depth_mm": cell.setting.depth,
                "passes": cell.setting.passes,
            }
            for cell in made.trial.cells
        ],
        "greatest_deviation_mm": made.files.greatest_deviation_mm,
        "findings": [finding.as_json() for finding in made.trial.plan.findings],
        "files": [str(path) for path in paths],
    }


def _report(made: TrialFiles, machine: Machine, leather: str, out: Path, count: int, units: Units) -> None:
    from strapwright.trade.safety import cautions
    from strapwright.write.test_piece_sheet import setting_words, trial_lines

    print_findings(made.trial.plan.findings)
    rows = [(str(cell.number), *setting_words(cell, units)) for cell in made.trial.cells]
    second = "power" if machine.kind == "laser" else "depth"
    print_table(f"trial of {leather} on {machine.name}", ("square", "speed", second), rows)
    for number, line in enumerate(trial_lines(made.trial, one_by_one=made.one_by_one), 1):
        say(f"{number}. {line}")
    say("At the machine: " + " ".join(cautions(machine.kind)))
    say(f"{count} files in {out}, each read back and checked; {out / 'trial-sheet.txt'} to tick")
