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
    takes,
    thickness_option,
)
from strapwright.cli.terminal.report import (
    cautions_at,
    emit,
    print_findings,
    print_numbered,
    print_pairs,
    proof_row,
)

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.api import Coupon
    from strapwright.cli.terminal.options import Common
    from strapwright.machine.profile.machine import Machine


class Options:
    """What leather and machine the piece is for."""

    machine: str = machine_option("A shipped profile's name or your own profile's file.")
    material: str = material_option("Tannage of the leather you cut it from.")
    thickness: float | None = thickness_option("Of that leather; written on the piece.")
    out: Path = path_option("--out", "DIR", "Folder for it.", default="kerf-coupon")
    formats: tuple[str, ...] = format_option()
    accept_fume_risk: bool = fume_option
    common: Common = common_options("units as_json force")


@click.command("coupon", epilog="Example: strapwright kerf coupon --machine my-laser.toml --out coupon")
@takes(Options)
def coupon(o: Options) -> None:
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
    emit(o.common, lambda: _as_json(made, machine, o, [*files]), lambda: _report(made, machine, o, [*files]))


def _as_json(made: Coupon, machine: Machine, o: Options, paths: list[Path]) -> dict[str, Any]:
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


def _report(made: Coupon, machine: Machine, o: Options, paths: list[Path]) -> None:
    from strapwright.rules.leather import Tannage
    from strapwright.write.formats.header import kerf_words
    from strapwright.write.test_pieces import measuring_lines

    print_findings(made.plan.findings)
    rows = [
        ("leather", o.material if o.thickness is None else f"{o.material}, {o.thickness:.4g} mm"),
        ("kerf", kerf_words(made.plan)),
        proof_row(made.files),
        *(("file" if k else "files", str(path)) for k, path in enumerate(paths)),
    ]
    print_pairs(f"kerf test piece for {machine.name}", rows)
    leather = Tannage(o.material), o.thickness
    print_numbered(measuring_lines(machine, *leather, o.common.units, blade_test=made.blade_test))
    cautions_at(machine.kind)
