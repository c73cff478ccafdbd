"""``strapwright model``: a belt in the round, and punch templates."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from pathlib import Path  # noqa: TC003 - click hands paths over
from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import (
    catalogue_option,
    file_path,
    force_option,
    job_argument,
    json_option,
    partial_option,
    to_mm,
)
from strapwright.cli.terminal.report import say

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from strapwright.solid.pieces import BeltModel
    from strapwright.solid.template import Template


def _written_as(*suffixes: str) -> Callable[[click.Context, click.Parameter, Path | None], Path | None]:
    """Return a check that a file's name ends in one of several suffixes."""

    def checked(ctx: click.Context, param: click.Parameter, path: Path | None) -> Path | None:
        if path is not None and path.suffix not in suffixes:
            text = f"found {path}, expected a name that ends in {', '.join(suffixes)}"
            raise click.BadParameter(text, ctx, param)
        return path

    return checked


@click.command("model", epilog="Example: strapwright model job.toml --belt ines --out ines.glb")
@job_argument
@click.option("--belt", default="", metavar="ID", help="Which belt; needed where JOB has several.")
@click.option(
    "--out",
    type=file_path(),
    callback=_written_as(".step", ".glb", ".stl", ".png"),
    metavar="FILE",
    help="belt.step (named parts, mm), belt.glb (for viewers), belt.stl (one mesh) or belt.png (a picture).",
)
@click.option("--worn", is_flag=True, help="Closed as worn, the tip through the keeper; else it lies flat.")
@click.option(
    "--template",
    type=file_path(),
    callback=_written_as(".step", ".stl"),
    metavar="FILE",
    help="Write a punch template, .step or .stl: a plate with the holes and a lip for the strap's edge.",
)
@click.option(
    "--template-of",
    type=click.Choice(["buckle_end", "tip"]),
    default="buckle_end",
    show_default=True,
    help="Which end the template is for.",
)
@click.option(
    "--template-thickness",
    callback=to_mm,
    default="4 mm",
    show_default=True,
    metavar="LENGTH",
    help="Of its plate, 1 to 20 mm.",
)
@catalogue_option
@partial_option
@json_option
@force_option
def command(
    job: Path,
    belt: str,
    out: Path | None,
    worn: bool,
    template: Path | None,
    template_of: str,
    template_thickness: float,
    catalogue: Path | None,
    partial: bool,
    as_json: bool,
    force: bool,
) -> None:
    """Model a belt of JOB in the round: strap folded about its buckle, keeper, posts, and what touches.

    Loading the solid modeller takes some seconds.
    """
    if out is None and template is None:
        raise click.UsageError("say what to write: --out FILE for the belt, --template FILE for a template")
    from strapwright import api
    from strapwright.cli.terminal.csv_jobs import read_asked
    from strapwright.files.atomic_write import check_writable, write_whole
    from strapwright.solid.belt import belt_of
    from strapwright.solid.save import model_bytes

    written = [path for path in (out, template) if path is not None]
    check_writable(written, force=force)
    asked = read_asked(job, catalogue, partial=partial, remedy="--partial goes on with the good ones")
    one = belt_of(asked.draft, belt)
    files: dict[Path, str | bytes] = {}
    made, plate = None, None
    with _showing_stages() as stage:
        if out is not None:
            made = api.model(asked.job, one.id, worn=worn, drafted=asked.draft, stage=stage)
            stage(f"drawing {out.name}" if out.suffix == ".png" else f"writing {out.name}")
            files[out] = model_bytes(made, out.suffix)
        if template is not None:
            from strapwright.solid.template import punch_template, template_bytes

            stage("making the template")
            end: Any = template_of
            plate = punch_template(one, end, thickness=template_thickness)
            files[template] = template_bytes(plate, template.suffix)
    write_whole(files, force=force)
    if as_json:
        _print_json(made, plate)
    else:
        _report(made, out, plate, template)
    asked.tell_bad()


@contextmanager
def _showing_stages() -> Iterator[Callable[[str], None]]:
    """Show on stderr what is being done: live on a terminal, a line a stage elsewhere."""
    if not sys.stderr.isatty():
        yield lambda text: say(f"{text} …", err=True)
        return
    from strapwright.cli.terminal.report import console

    with console(stderr=True).status("reading the job") as status:
        yield status.update


def _print_json(made: BeltModel | None, plate: Template | None) -> None:
    from strapwright.cli.terminal.report import print_json

    data = made.as_json() if made else {}
    print_json(data | ({"template": plate.as_json()} if plate else {}))


def _report(made: BeltModel | None, out: Path | None, plate: Template | None, template: Path | None) -> None:
    from strapwright.cli.terminal.report import print_findings

    if made is not None:
        pieces = ", ".join(f"{piece.name} {piece.volume / 1000:.1f} cm³" for piece in made.pieces)
        say(f"{made.id} in the round, {'closed as worn' if made.worn else 'laid flat'}: {pieces}")
        if made.holes_miss:
            say(f"The holes of front and turn-back meet within {made.holes_miss:.2f} mm.")
        print_findings(made.findings)
        say(f"model: {out}")
    if plate is not None:
        end = plate.end.replace("_", " ")
        say(
            f"template of the {end}: {template}, {plate.length:.1f} mm long, {len(plate.holes)} openings, "
            f"its lip {plate.drop:.1f} mm deep"
        )
