"""``strapwright start``: a folder to begin in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from strapwright.cli.terminal.options import argument, file_path, option, takes
from strapwright.cli.terminal.report import say, written

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable
    from pathlib import Path

GOODS = ("lead", "collar", "bag-strap", "guitar-strap", "ranger-belt")
"""What `--goods` has a job for; a test holds them to the folders in starter/goods."""


class Options:
    """Where a shop or a job is begun."""

    folder: Path = argument("DIR", type=file_path())
    goods: str | None = option(
        "--goods",
        "Make DIR the folder of one job instead, for this, with comments.",
        type=click.Choice(GOODS),
    )


@click.command("start", epilog="Example: strapwright start my-belts")
@takes(Options)
def command(o: Options) -> None:
    """Make folder DIR a shop: house.toml, a catalogue, a machine, a hide and a first job, all to edit.

    With --goods, DIR becomes the folder of one job instead. Files that are there already are left alone: then
    nothing is written and the exit status is 1.
    """
    from importlib import resources

    from strapwright.api import write_whole

    starter = resources.files("strapwright") / "starter"
    if o.goods is None:
        texts = {name: text for name, text in _texts(starter).items() if not name.startswith("goods/")}
        job = "jobs/first/job.toml"
        then = (
            f"Edit them, then in {o.folder}: strapwright cut {job} --hide hides/side-7.toml "
            "--machine machines/laser.toml --out jobs/first/out"
        )
    else:
        texts = _texts(starter / "goods" / o.goods)
        then = (
            f"Read job.toml and edit it, then in {o.folder}: "
            f"strapwright draft job.toml --drawing {o.goods}.png"
        )
    files = {o.folder / name: text for name, text in sorted(texts.items())}
    write_whole(files, remedy="choose another folder, or move it away")
    written(files)
    say(then)


def _texts(source: Traversable, before: str = "") -> dict[str, str]:
    """Return the text of every file in a folder and those in it, by its path from there."""
    texts: dict[str, str] = {}
    for entry in source.iterdir():
        if entry.is_dir():
            texts |= _texts(entry, f"{before}{entry.name}/")
        else:
            texts[before + entry.name] = entry.read_text("utf-8")
    return texts
