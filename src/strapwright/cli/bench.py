"""``strapwright bench``: the shop's folder as a page in the browser."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Final

import click

from strapwright.cli.terminal.options import argument, file_path, flag, option, takes
from strapwright.cli.terminal.report import say

if TYPE_CHECKING:
    from pathlib import Path


WHO_CAN_COME_IN: Final = (
    "Whoever is in that network and has this address can see and change everything in this folder, as you\n"
    "can; only allowing a program stays with this machine. What is sent is not encrypted: use it in a\n"
    "network you trust, and give the address to nobody else. It ends with this command."
)
"""Said where another device may come in."""


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
    phone: bool = flag(
        "--phone",
        "Answer a phone or other device in the same house too, at an address with a key of its own.",
    )
    shortcut: bool = flag("--shortcut", "Put an icon on the desktop that opens this page, and end.")


@click.command("bench", epilog="Example: strapwright bench my-belts")
@takes(Options)
def command(o: Options) -> None:
    """Open the shop in FOLDER as a page in the browser: belts, leather, layout, cut files, paper.

    The page is served to this machine alone and ends with the command. What is changed there is
    written to the folder's own files, which the other commands read as well.
    """
    if o.shortcut:
        _make_shortcut(o.folder)
        return
    from strapwright.core.errors import OutputError

    try:
        from strapwright.page.serve import serve
    except ModuleNotFoundError as error:
        if error.name not in ("starlette", "uvicorn", "jinja2"):
            raise
        raise OutputError('the page needs more: pip install "strapwright[page]"') from error

    def opened(address: str, for_phone: str) -> None:
        say(address)
        say("Open it in a browser on this machine. Ctrl-C ends it.")
        if for_phone:
            _say_for_phone(for_phone)
        if not o.no_browser:
            click.launch(address)

    serve(o.folder, o.port, opened, phone=o.phone)


def _say_for_phone(address: str) -> None:
    """Print the address for a phone, to be typed or read by its camera, and who can then come in."""
    say("\nOn a phone or other device in the same network, open:")
    say(address)
    if sys.stdout.isatty():
        say(f"\n{_square_code(address)}")
    say(WHO_CAN_COME_IN)


def _square_code(text: str) -> str:
    """Return a text as a QR code of half blocks, light on dark, with the margin that readers need."""
    from reportlab.graphics.barcode.qrencoder import QRCode, QRErrorCorrectLevel

    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(text)
    code.make()
    size = code.getModuleCount()

    def light(row: int, column: int) -> bool:
        inside = 0 <= row < size and 0 <= column < size
        return not (inside and code.isDark(row, column))

    blocks = {(True, True): "█", (True, False): "▀", (False, True): "▄", (False, False): " "}
    return "\n".join(
        "".join(blocks[light(row, column), light(row + 1, column)] for column in range(-4, size + 4))
        for row in range(-4, size + 4, 2)
    )


def _make_shortcut(folder: Path) -> None:
    from pathlib import Path as Place

    from strapwright.page.shortcut import make_shortcut

    program = [sys.executable, "-m", "strapwright.cli"]
    say(f"made: {make_shortcut(folder, sys.platform, program, Place.home())}")
    if sys.platform.startswith("linux"):
        say("Some desktops ask once whether it may be started: allow it with a right click on the icon.")
