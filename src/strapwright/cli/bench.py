"""``strapwright bench``: the shop's folder as a page in the browser."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from strapwright.cli.terminal.options import argument, file_path, flag, option, takes
from strapwright.cli.terminal.report import say

if TYPE_CHECKING:
    from pathlib import Path


class Options:
    """Which shop is opened, and how."""

    folder: Path = argument("[FOLDER]", type=file_path(), default=".")
    port: int = option(
        "--port",
        "To answer at; default a free one.",
        type=click.IntRange(0, 65535),
        default=0,
        show_default=False,
    )
    no_browser: bool = flag("--no-browser", "Only print the address.")


@click.command("bench", epilog="Example: strapwright bench my-belts")
@takes(Options)
def command(o: Options) -> None:
    """Open the shop in FOLDER as a page in the browser: belts, leather, layout, cut files, paper.

    The page is served to this machine alone and ends with the command. What is changed there is
    written to the folder's own files, which the other commands read as well.
    """
    from strapwright.core.errors import OutputError

    try:
        from strapwright.page.serve import serve
    except ModuleNotFoundError as error:
        if error.name not in ("starlette", "uvicorn", "jinja2"):
            raise
        raise OutputError('the page needs more: pip install "strapwright[page]"') from error

    def opened(address: str) -> None:
        say(address)
        say("Open it in a browser on this machine. Ctrl-C ends it.")
        if not o.no_browser:
            click.launch(address)

    serve(o.folder, o.port, opened)
