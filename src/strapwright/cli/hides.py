"""``strapwright hides``: what the hides in a folder can still give."""

from __future__ import annotations

import sys
from collections import Counter
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import common_options, file_path, length_option, path_option
from strapwright.cli.terminal.report import console, emit, length, print_findings, print_table, say, written

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from strapwright.cli.terminal.options import Common
    from strapwright.core.units import Units
    from strapwright.nesting.stock.folder import Stock, Stocked


@click.command("hides", epilog="Example: strapwright hides stock --strap-width 32mm --out stock.html")
@click.argument("folder", type=file_path(), metavar="FOLDER")
@length_option(
    "--strap-width",
    "Strap width for which the longest strap is found.",
    default="38 mm",
    show_default=True,
)
@length_option("--margin", "Distance kept from edges and flaws.", default="2 mm", show_default=True)
@path_option("--out", "FILE", "Write a sheet of thumbnails: .svg or .html.")
@common_options("units as_json force")
def command(
    folder: Path,
    strap_width: float,
    margin: float,
    out: Path | None,
    common: Common,
) -> None:
    """List the hides in FOLDER: area, thickness, flaws, and the longest strap each can still give.

    Hides are hide files (.toml) and drawings (.dxf, .svg). Other TOML files and drawings that a hide file
    names are passed over. A bad file is reported with its mistakes, the good ones are listed all the same,
    and the exit status is 1.
    """
    if not 0 < strap_width <= 1000:
        text = f"found {strap_width:g} mm, expected more than 0 mm, up to 1000 mm"
        raise click.BadParameter(text, param_hint="--strap-width")
    if not 0 <= margin <= 100:
        raise click.BadParameter(f"found {margin:g} mm, expected 0 to 100 mm", param_hint="--margin")
    if out is not None and out.suffix.lower() not in (".svg", ".html"):
        text = f'found "{out.suffix}", expected a file ending in .svg or .html'
        raise click.BadParameter(text, param_hint="--out")
    from strapwright import api

    if out is not None:
        api.check_writable([out], force=common.force)
    with _showing_files() as show:
        stock = api.read_stock(folder, strap_width=strap_width, margin=margin, progress=show)
    if out is not None:
        title = f"Hides in {folder.resolve().name}"
        sheet = api.sheet_html if out.suffix.lower() == ".html" else api.sheet_svg
        api.write_whole({out: sheet(stock, title=title, inches=common.units == "in")}, force=common.force)
    paths = [] if out is None else [out]
    emit(
        lambda: _as_json(stock, strap_width, paths),
        lambda: _report(stock, strap_width, common.units, paths),
        as_json=common.as_json,
    )
    for _, problems in stock.bad:
        for problem in problems:
            say(f"error: {problem}", err=True)
    if stock.bad:
        raise SystemExit(1)


@contextmanager
def _showing_files() -> Iterator[Callable[[Path], None]]:
    """Show on stderr that files are read: on a terminal which one, elsewhere once."""
    if not sys.stderr.isatty():
        seen: list[Path] = []

        def show(path: Path) -> None:
            if not seen:
                say("reading the hides …", err=True)
            seen.append(path)

        yield show
        return
    with console(stderr=True).status("reading the hides") as status:
        yield lambda path: status.update(f"reading {path.name}")


def _report(stock: Stock, strap_width: float, units: Units, paths: list[Path]) -> None:
    from strapwright.core.units import MM_PER_FOOT, format_length
    from strapwright.drawing.stock.hide_sheet import longest_text

    inches = units == "in"
    per, unit = (MM_PER_FOOT**2, "sq ft") if inches else (1e6, "m²")
    digits = 1 if inches else 3
    rows = [
        (
            one.path.name,
            one.hide.name,
            f"{one.hide.area / per:.{digits}f}",
            f"{one.usable / per:.{digits}f}",
            "–" if one.hide.thickness is None else format_length(one.hide.thickness, units),
            _flaws(one),
            longest_text(one.longest.length, inches) if one.longest else "–",
        )
        for one in stock.hides
    ]
    strap = f"{length(strap_width, units, 0)} {units}"
    count = len(stock.hides)
    title = f"{count} hide{'s' if count != 1 else ''}"
    if stock.bad:
        title += f"; {len(stock.bad)} file{'s' if len(stock.bad) != 1 else ''} not read, see below"
    columns = (
        "file", "hide", f"area {unit}", f"usable {unit}", "thick", "flaws", f"longest {strap} strap",
    )  # fmt: skip
    if rows:
        print_table(title, columns, rows)
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
