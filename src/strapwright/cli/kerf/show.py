"""``strapwright kerf show``: what was measured, as a table and as a drawing."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import common_options, machine_option, path_option, takes
from strapwright.cli.terminal.report import emit, print_findings, print_table, say

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from strapwright.cli.terminal.options import Common
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.profile.machine_keys import KerfRow


class Options:
    """Which machine's measurements are shown."""

    machine: str = machine_option("A shipped profile's name or your own profile's file.")
    out: Path | None = path_option("--out", "FILE.svg", "Draw kerf over thickness as SVG.")
    common: Common = common_options("as_json force")


@click.command("show", epilog="Example: strapwright kerf show --machine my-laser.toml --out kerf.svg")
@takes(Options)
def show(o: Options) -> None:
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
    emit(o.common, lambda: _as_json(machine, rows, o.out), lambda: _report(machine, rows, o))


def _report(machine: Machine, rows: Sequence[tuple[KerfRow, str]], o: Options) -> None:
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


def _as_json(machine: Machine, rows: Sequence[tuple[KerfRow, str]], out: Path | None) -> dict[str, Any]:
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
