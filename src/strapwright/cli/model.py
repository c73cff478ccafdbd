"""``strapwright model``: a belt in the round, and punch templates."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from strapwright.cli.terminal.options import (
    common_options,
    flag,
    job_argument,
    length_option,
    option,
    path_option,
    takes,
)
from strapwright.cli.terminal.report import emit, print_findings, say, showing

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path
    from typing import Literal

    from strapwright.cli.terminal.options import Common
    from strapwright.solid.model import BeltModel
    from strapwright.solid.template import Template


def _written_as(*suffixes: str) -> Callable[[click.Context, click.Parameter, Path | None], Path | None]:
    """Return a check that a file's name ends in one of several suffixes."""

    def checked(ctx: click.Context, param: click.Parameter, path: Path | None) -> Path | None:
        if path is not None and path.suffix not in suffixes:
            text = f"found {path}, expected a name that ends in {', '.join(suffixes)}"
            raise click.BadParameter(text, ctx, param)
        return path

    return checked


class Options:
    """Which belt is modelled, and what is written."""

    job: Path = job_argument
    belt: str = option("--belt", "Which belt; needed where JOB has several.", default="", metavar="ID")
    out: Path | None = path_option(
        "--out",
        "FILE",
        "belt.step (named parts, mm), belt.glb (for viewers), belt.stl (one mesh) or belt.png (a picture).",
        callback=_written_as(".step", ".glb", ".stl", ".png"),
    )
    worn: bool = flag("--worn", "Closed as worn, the tip through the keeper; else it lies flat.")
    template: Path | None = path_option(
        "--template",
        "FILE",
        "Write a punch template, .step or .stl: a plate with the holes and a lip for the strap's edge.",
        callback=_written_as(".step", ".stl"),
    )
    template_of: Literal["buckle_end", "tip"] = option(
        "--template-of",
        "Which end the template is for.",
        type=click.Choice(["buckle_end", "tip"]),
        default="buckle_end",
    )
    template_thickness: float = length_option(
        "--template-thickness", "Of its plate, 1 to 20 mm.", default="4 mm"
    )
    common: Common = common_options("catalogue partial as_json force")


@click.command("model", epilog="Example: strapwright model job.toml --belt ines --out ines.glb")
@takes(Options)
def command(o: Options) -> None:
    """Model a belt of JOB in the round: strap folded about its buckle, keeper, posts, and what touches.

    Loading the solid modeller takes some seconds.
    """
    if o.out is None and o.template is None:
        raise click.UsageError("say what to write: --out FILE for the belt, --template FILE for a template")
    from strapwright import api
    from strapwright.cli.terminal.inputs import read_and_draft
    from strapwright.solid.model import belt_of
    from strapwright.solid.save import model_bytes

    api.check_writable([path for path in (o.out, o.template) if path is not None], force=o.common.force)
    asked = read_and_draft(o.job, o.common, remedy="--partial goes on with the good ones")
    one = belt_of(asked.draft, o.belt)
    files: dict[Path, str | bytes] = {}
    made, plate = None, None
    with showing("reading the job") as show:
        if o.out is not None:
            made = api.model(asked.job, one.id, worn=o.worn, drafted=asked.draft, stage=show)
            show(f"{'drawing' if o.out.suffix == '.png' else 'writing'} {o.out.name}")
            files[o.out] = model_bytes(made, o.out.suffix)
        if o.template is not None:
            from strapwright.solid.template import punch_template, template_bytes

            show("making the template")
            plate = punch_template(one, o.template_of, thickness=o.template_thickness)
            files[o.template] = template_bytes(plate, o.template.suffix)
    api.write_whole(files, force=o.common.force)
    emit(
        o.common,
        lambda: (made.as_json() if made else {}) | ({"template": plate.as_json()} if plate else {}),
        lambda: _report(made, plate, o),
    )
    asked.fail_on_bad()


def _report(made: BeltModel | None, plate: Template | None, o: Options) -> None:
    if made is not None:
        pieces = ", ".join(f"{piece.name} {piece.volume / 1000:.1f} cm³" for piece in made.pieces)
        say(f"{made.id} in the round, {'closed as worn' if made.worn else 'laid flat'}: {pieces}")
        if made.holes_miss:
            say(f"The holes of front and turn-back meet within {made.holes_miss:.2f} mm.")
        print_findings(made.findings)
        say(f"model: {o.out}")
    if plate is not None:
        end = plate.end.replace("_", " ")
        say(
            f"template of the {end}: {o.template}, {plate.length:.1f} mm long, {len(plate.holes)} openings, "
            f"its lip {plate.drop:.1f} mm deep"
        )
