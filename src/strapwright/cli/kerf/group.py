"""``strapwright kerf``: a test piece to measure the width of the cut on, and what was measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from strapwright.cli.kerf.record import record
from strapwright.cli.kerf.show import show
from strapwright.cli.kerf.trial import trial
from strapwright.cli.terminal.options import (
    MATERIALS,
    file_path,
    force_option,
    json_option,
    machine_option,
    thickness_option,
    units_option,
)
from strapwright.cli.terminal.report import say

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.core.units import Units

_EXAMPLES = """Example: strapwright kerf coupon --machine my-laser.toml --out coupon"""


@click.group("kerf", epilog=_EXAMPLES)
def command() -> None:
    """Try a new leather, measure the width of the cut on a test piece, record it, show what is known."""


@command.command("coupon", epilog=_EXAMPLES)
@machine_option("A shipped profile's name or your own profile's file.")
@click.option(
    "--material",
    type=click.Choice(MATERIALS),
    default="vegetable",
    show_default=True,
    help="Tannage of the leather you cut it from.",
)
@thickness_option("Of that leather; written on the piece.")
@click.option(
    "--out", type=file_path(), default="kerf-coupon", show_default=True, metavar="DIR", help="Folder for it."
)
@click.option(
    "--format",
    "formats",
    multiple=True,
    metavar="NAME",
    help="Format to write; give it again for more. Default: all the machine reads.",
)
@click.option(
    "--accept-fume-risk",
    is_flag=True,
    help="Laser only: you have checked extraction, local rules and the leather's data sheet.",
)
@units_option
@json_option
@force_option
def coupon(
    machine_name: str,
    material: str,
    thickness: float | None,
    out: Path,
    formats: tuple[str, ...],
    accept_fume_risk: bool,
    units: Units,
    as_json: bool,
    force: bool,
) -> None:
    """Write a test piece that needs only a calliper: comb, ladder of slots, and a cross for scale.

    It is cut on the lines themselves, nothing allowed for. The files are read back and proven as those
    of `cut`; the sheet beside them says what to measure. A drag knife's blade gets a test of its own, a
    file for each offset it may trail by.
    """
    from strapwright import api
    from strapwright.trade.leather import Tannage
    from strapwright.trade.safety import cautions
    from strapwright.write.coupon_sheet import measuring_lines

    machine, tannage = api.read_machine(machine_name), Tannage(material)
    made = api.kerf_coupon(
        machine, tannage, thickness, formats=formats, accept_fume_risk=accept_fume_risk, units=units
    )
    files = {out / name: text for name, text in made.files.texts.items()}
    api.write_whole(files, force=force)
    written = list(files)
    if as_json:
        from strapwright.cli.terminal.report import print_json
        from strapwright.machine.test_pieces.blade_coupon import offsets_tried
        from strapwright.machine.test_pieces.coupon import LADDER, PITCH, STRIPS, cross_of

        cross = cross_of(machine)
        print_json(
            {
                "machine": machine.name,
                "material": material,
                "thickness_mm": thickness,
                "strips": STRIPS,
                "pitch_mm": PITCH,
                "ladder_mm": list(LADDER),
                "cross_mm": [cross.x, cross.y],
                "kerf_mm": made.plan.kerf,
                "blade_offsets_mm": list(offsets_tried(machine)) if made.blade_test else [],
                "greatest_deviation_mm": made.files.greatest_deviation_mm,
                "findings": [finding.as_json() for finding in made.plan.findings],
                "files": [str(path) for path in written],
                "version": 1,
            }
        )
        return
    from strapwright.cli.terminal.report import print_findings, print_table
    from strapwright.write.formats.header import kerf_words

    print_findings(made.plan.findings)
    leather = material if thickness is None else f"{material}, {thickness:.4g} mm"
    deviation = made.files.greatest_deviation_mm
    rows = [
        ("leather", leather),
        ("kerf", kerf_words(made.plan)),
        ("files checked to", f"{deviation:.6f} mm" if deviation >= 1e-6 else "under 0.000001 mm"),
        *(("file" if k else "files", str(path)) for k, path in enumerate(written)),
    ]
    print_table(f"kerf test piece for {machine.name}", ("", ""), rows)
    lines = measuring_lines(machine, tannage, thickness, units, blade_test=made.blade_test)
    for number, line in enumerate(lines, 1):
        say(f"{number}. {line}")
    say("At the machine: " + " ".join(cautions(machine.kind)))


command.add_command(record)
command.add_command(show)
command.add_command(trial)
