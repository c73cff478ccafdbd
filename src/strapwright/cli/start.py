"""``strapwright start``: a folder to begin in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from strapwright.cli.options import file_path

if TYPE_CHECKING:
    from pathlib import Path


@click.command("start", epilog="Example: strapwright start my-belts")
@click.argument("folder", type=file_path(), metavar="DIR")
def command(folder: Path) -> None:
    """Make folder DIR with a job, a hide, a catalogue and a machine file to edit.

    Files that are there already are left alone: then nothing is written and the exit status is 1.
    """
    from importlib import resources

    from strapwright.api import write_files

    source = resources.files("strapwright") / "starter"
    texts = {entry.name: entry.read_text("utf-8") for entry in source.iterdir() if entry.is_file()}
    remedy = "choose another folder, or move it away"
    written = write_files(folder, dict(sorted(texts.items())), remedy=remedy)
    for path in written:
        click.echo(f"written: {path}")
    click.echo(
        f"Edit them, then: strapwright cut {folder / 'job.toml'} --hide {folder / 'hide.toml'} "
        f"--machine {folder / 'machine.toml'} --out {folder / 'out'}"
    )
