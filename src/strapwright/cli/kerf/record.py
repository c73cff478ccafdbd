"""``strapwright kerf record``: from a calliper's readings to a row in the machine file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    MATERIALS,
    Decimal,
    common_options,
    date_option,
    lengths_option,
    machine_option,
    option,
    takes,
    thickness_option,
)
from strapwright.cli.terminal.report import emit, print_findings, print_table, say

if TYPE_CHECKING:
    from datetime import datetime

    from strapwright.api import Recorded
    from strapwright.cli.terminal.options import Common


def _readings_option(name: str, text: str) -> Any:
    return lengths_option(name, text, "98,1;98,0")


class Options:
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


@click.command(
    "record",
    epilog="Example: strapwright kerf record --machine my-laser.toml --material vegetable --thickness 3.6mm "
    "--strips 98.1mm,98.0mm,98.1mm --cross-x 200.1mm --cross-y 199.9mm",
)
@takes(Options)
def record(o: Options) -> None:
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
    emit(o.common, lambda: _as_json(done, o.machine), lambda: _report(done, machine.name, o.machine))


def _as_json(done: Recorded, file: str) -> dict[str, Any]:
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


def _report(done: Recorded, name: str, file: str) -> None:
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
