"""``strapwright model``: a belt in the round, and punch templates."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from pathlib import Path  # noqa: TC003 - click hands paths over
from typing import TYPE_CHECKING, Any

import click

from strapwright.cli.terminal.options import common_options, flag, job_argument, length_option, path_option
from strapwright.cli.terminal.report import console, emit, print_findings, say

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from strapwright.cli.terminal.options import Common
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
@path_option(
    "--out",
    "FILE",
    "belt.step (named parts, mm), belt.glb (for viewers), belt.stl (one mesh) or belt.png (a picture).",
    callback=_written_as(".step", ".glb", ".stl", ".png"),
)
@flag("--worn", "Closed as worn, the tip through the keeper; else it lies flat.")
@path_option(
    "--template",
    "FILE",
    "Write a punch template, .step or .stl: a plate with the holes and a lip for the strap's edge.",
    callback=_written_as(".step", ".stl"),
)
@click.option(
    "--template-of",
    type=click.Choice(["buckle_end", "tip"]),
    default="buckle_end",
    show_default=True,
    help="Which end the template is for.",
)
@length_option("--template-thickness", "Of its plate, 1 to 20 mm.", default="4 mm", show_default=True)
@common_options("catalogue partial as_json force")
def command(
    job: Path,
    belt: str,
    out: Path | None,
    worn: bool,
    template: Path | None,
    template_of: str,
    template_thickness: float,
    common: Common,
) -> None:
    """Model a belt of JOB in the round: strap folded about its buckle, keeper, posts, and what touches.

    Loading the solid modeller takes some seconds.
    """
    if out is None and template is None:
        raise click.UsageError("say what to write: --out FILE for the belt, --template FILE for a template")
    from strapwright import api
    from strapwright.cli.terminal.inputs import read_and_draft
    from strapwright.solid.belt import belt_of
    from strapwright.solid.save import model_bytes

    api.check_writable([path for path in (out, template) if path is not None], force=common.force)
    asked = read_and_draft(job, common, remedy="--partial goes on with the good ones")
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
    api.write_whole(files, force=common.force)
    emit(
        lambda: (made.as_json() if made else {}) | ({"template": plate.as_json()} if plate else {}),
        lambda: _report(made, out, plate, template),
        as_json=common.as_json,
    )
    asked.fail_on_bad()


@contextmanager
def _showing_stages() -> Iterator[Callable[[str], None]]:
    """Show on stderr what is being done: live on a terminal, a line a stage elsewhere."""
    if not sys.stderr.isatty():
        yield lambda text: say(f"{text} …", err=True)
        return
    with console(stderr=True).status("reading the job") as status:
        yield status.update


def _report(made: BeltModel | None, out: Path | None, plate: Template | None, template: Path | None) -> None:
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
