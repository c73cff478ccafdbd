"""``strapwright kerf coupon``: a test piece to measure the width of the cut on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    common_options,
    format_option,
    fume_option,
    machine_option,
    material_option,
    path_option,
    thickness_option,
)
from strapwright.cli.terminal.report import emit, print_findings, print_table, proof_row, say

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.api import Coupon
    from strapwright.cli.terminal.options import Common
    from strapwright.core.units import Units
    from strapwright.machine.profile.machine import Machine
    from strapwright.trade.leather import Tannage


@click.command("coupon", epilog="Example: strapwright kerf coupon --machine my-laser.toml --out coupon")
@machine_option("A shipped profile's name or your own profile's file.")
@material_option("Tannage of the leather you cut it from.")
@thickness_option("Of that leather; written on the piece.")
@path_option("--out", "DIR", "Folder for it.", default="kerf-coupon", show_default=True)
@format_option()
@fume_option
@common_options("units as_json force")
def coupon(
    machine_name: str,
    material: str,
    thickness: float | None,
    out: Path,
    formats: tuple[str, ...],
    accept_fume_risk: bool,
    common: Common,
) -> None:
    """Write a test piece that needs only a calliper: comb, ladder of slots, and a cross for scale.

    It is cut on the lines themselves, nothing allowed for. The files are read back and proven as those
    of `cut`; the sheet beside them says what to measure. A drag knife's blade gets a test of its own, a
    file for each offset it may trail by.
    """
    from strapwright import api
    from strapwright.trade.leather import Tannage

    machine, tannage = api.read_machine(machine_name), Tannage(material)
    made = api.kerf_coupon(
        machine, tannage, thickness, formats=formats, accept_fume_risk=accept_fume_risk, units=common.units
    )
    files = {out / name: text for name, text in made.files.texts.items()}
    api.write_whole(files, force=common.force)
    emit(
        lambda: _as_json(made, machine, tannage, thickness, [*files]),
        lambda: _report(made, machine, tannage, thickness, [*files], common.units),
        as_json=common.as_json,
    )


def _as_json(
    made: Coupon, machine: Machine, tannage: Tannage, thickness: float | None, paths: list[Path]
) -> dict[str, Any]:
    from strapwright.machine.test_pieces.blade_coupon import offsets_tried
    from strapwright.machine.test_pieces.coupon import LADDER, PITCH, STRIPS, cross_of

    cross = cross_of(machine)
    return {
        "machine": machine.name,
        "material": str(tannage),
        "thickness_mm": thickness,
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


def _report(
    made: Coupon,
    machine: Machine,
    tannage: Tannage,
    thickness: float | None,
    paths: list[Path],
    units: Units,
) -> None:
    from strapwright.trade.safety import cautions
    from strapwright.write.formats.header import kerf_words
    from strapwright.write.test_piece_sheet import measuring_lines

    print_findings(made.plan.findings)
    rows = [
        ("leather", str(tannage) if thickness is None else f"{tannage}, {thickness:.4g} mm"),
        ("kerf", kerf_words(made.plan)),
        proof_row(made.files),
        *(("file" if k else "files", str(path)) for k, path in enumerate(paths)),
    ]
    print_table(f"kerf test piece for {machine.name}", ("", ""), rows)
    lines = measuring_lines(machine, tannage, thickness, units, blade_test=made.blade_test)
    for number, line in enumerate(lines, 1):
        say(f"{number}. {line}")
    say("At the machine: " + " ".join(cautions(machine.kind)))
