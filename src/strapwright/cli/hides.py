"""``strapwright hides``: what the hides in a folder can still give."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    argument,
    common_options,
    file_path,
    length_option,
    path_option,
    takes,
)
from strapwright.cli.terminal.report import emit, length, print_findings, print_table, say, showing, written

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.cli.terminal.options import Common
    from strapwright.core.units import Units
    from strapwright.nesting.stock import Stock, Stocked


class Options:
    """Which hides are listed, and for what strap."""

    folder: Path = argument("FOLDER", type=file_path())
    strap_width: float = length_option(
        "--strap-width", "Strap width for which the longest strap is found.", default="38 mm"
    )
    margin: float = length_option("--margin", "Distance kept from edges and flaws.", default="2 mm")
    out: Path | None = path_option("--out", "FILE", "Write a sheet of thumbnails: .svg or .html.")
    common: Common = common_options("units as_json force")


@click.command("hides", epilog="Example: strapwright hides stock --strap-width 32mm --out stock.html")
@takes(Options)
def command(o: Options) -> None:
    """List the hides in FOLDER: area, thickness, flaws, and the longest strap each can still give.

    Hides are hide files (.toml) and drawings (.dxf, .svg). Other TOML files and drawings that a hide file
    names are passed over. A bad file is reported with its mistakes, the good ones are listed all the same,
    and the exit status is 1.
    """
    from strapwright import api

    if not 0 < o.strap_width <= 1000:
        text = f"found {o.strap_width:g} mm, expected more than 0 mm, up to 1000 mm"
        raise click.BadParameter(text, param_hint="--strap-width")
    if not 0 <= o.margin <= 100:
        raise click.BadParameter(f"found {o.margin:g} mm, expected 0 to 100 mm", param_hint="--margin")
    if o.out is not None and o.out.suffix.lower() not in (".svg", ".html"):
        text = f'found "{o.out.suffix}", expected a file ending in .svg or .html'
        raise click.BadParameter(text, param_hint="--out")
    if o.out is not None:
        api.check_writable([o.out], force=o.common.force)
    with showing("reading the hides") as show:
        stock = api.read_stock(
            o.folder,
            strap_width=o.strap_width,
            margin=o.margin,
            progress=lambda path: show("reading the hides", f"reading {path.name}"),
        )
    paths = [] if o.out is None else [o.out]
    for out in paths:
        title = f"Hides in {o.folder.resolve().name}"
        sheet = api.sheet_html if out.suffix.lower() == ".html" else api.sheet_svg
        content = sheet(stock, title=title, inches=o.common.units == "in")
        api.write_whole({out: content}, force=o.common.force)
    emit(
        o.common,
        lambda: _as_json(stock, o.strap_width, paths),
        lambda: _report(stock, o.strap_width, o.common.units, paths),
    )
    for _, problems in stock.bad:
        for problem in problems:
            say(f"error: {problem}", err=True)
    if stock.bad:
        raise SystemExit(1)


def _report(stock: Stock, strap_width: float, units: Units, paths: list[Path]) -> None:
    from strapwright.core.units import MM_PER_FOOT, format_length
    from strapwright.drawing.layout.hide_thumbnails import longest_text

    inches = units == "in"
    per, unit = (MM_PER_FOOT**2, "sq ft") if inches else (1e6, "m²")
    digits = 1 if inches else 3
    strap = f"{length(strap_width, units, 0)} {units}"
    rows = [
        {
            "file": one.path.name,
            "hide": one.hide.name,
            f"area {unit}": f"{one.hide.area / per:.{digits}f}",
            f"usable {unit}": f"{one.usable / per:.{digits}f}",
            "thick": "–" if one.hide.thickness is None else format_length(one.hide.thickness, units),
            "flaws": _flaws(one),
            f"longest {strap} strap": longest_text(one.longest.length, inches) if one.longest else "–",
        }
        for one in stock.hides
    ]
    count = len(stock.hides)
    title = f"{count} hide{'s' if count != 1 else ''}"
    if stock.bad:
        title += f"; {len(stock.bad)} file{'s' if len(stock.bad) != 1 else ''} not read, see below"
    if rows:
        print_table(title, rows)
    else:
        say(f"{title}: a hide is a .toml file with a [hide] table, or a .dxf or .svg drawing")
    print_findings([finding for one in stock.hides for finding in one.hide.findings], units=units)
    for why in dict.fromkeys(why for _, why in stock.passed_over):
        told = ", ".join(path.name for path, other in stock.passed_over if other == why)
        say(f"skipped, {why}: {told}")
    written(paths)


def _flaws(one: Stocked) -> str:
    """Return how many flaws of each kind a hide has."""
    counts = Counter(flaw.kind for flaw in one.hide.flaws)
    return ", ".join(kind.counted(count) for kind, count in counts.items()) or "none"


def _as_json(stock: Stock, strap_width: float, paths: list[Path]) -> dict[str, Any]:
    from math import degrees

    return {
        "strap_width_mm": strap_width,
        "hides": [
            {
                "file": str(one.path),
                "name": one.hide.name,
                "parent": one.hide.parent,
                "area_mm2": one.hide.area,
                "usable_area_mm2": one.usable,
                "flaw_area_mm2": one.hide.flaw_area,
                "thickness_mm": one.hide.thickness,
                "tannage": None if one.hide.tannage is None else str(one.hide.tannage),
                "zone_thicknesses_mm": [zone.thickness for zone in one.hide.thickness_zones],
                "strap_direction_deg": degrees(one.hide.strap_direction),
                "tolerance_deg": degrees(one.hide.tolerance),
                "face_up": str(one.hide.face_up),
                "flaws": [str(flaw.kind) for flaw in one.hide.flaws],
                "longest_strap_mm": None if one.longest is None else one.longest.length,
                "findings": [finding.as_json() for finding in one.hide.findings],
            }
            for one in stock.hides
        ],
        "bad": [{"file": str(path), "problems": list(problems)} for path, problems in stock.bad],
        "passed_over": [{"file": str(path), "why": why} for path, why in stock.passed_over],
        "files": [str(path) for path in paths],
    }
