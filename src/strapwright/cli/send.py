"""``strapwright send``: a cut file to its machine, over a serial line or into a folder."""

from __future__ import annotations

import os
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

import click

from strapwright.cli.options import Decimal, file_path, force_option, json_option

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from strapwright.machine.profile import Machine
    from strapwright.write.stream import Key, Progress

HAZARDS: Final = {
    "laser": "fire, fumes and laser light",
    "drag_knife": "sharp blade and moving head",
}
"""What is typed to start a machine: what it can hurt with."""


@click.command(
    "send",
    epilog="Example: strapwright send out/belts.nc --machine my.toml --port /dev/ttyUSB0 --armed",
)
@click.argument("file", type=file_path())
@click.option(
    "--machine", "machine_name", required=True, metavar="NAME|FILE", help="The profile FILE was written for."
)
@click.option("--port", metavar="PORT", help="Serial port, such as /dev/ttyUSB0 or COM3.")
@click.option(
    "--armed", is_flag=True, help="Needed to start: someone stands at the machine, its stop at hand."
)
@click.option(
    "--timeout",
    type=Decimal(1.0, 3600.0),
    metavar="SECONDS",
    help="Silence after which the line counts as lost; default: its longest move and 10 s.",
)
@click.option(
    "--to", "folder", type=file_path(), metavar="FOLDER", help="Copy FILE there instead, whole or not."
)
@json_option
@force_option
def command(
    file: Path,
    machine_name: str,
    port: str | None,
    armed: bool,
    timeout: float | None,
    folder: Path | None,
    as_json: bool,
    force: bool,
) -> None:
    """Send cut FILE to a machine over a serial line, or copy it to a folder with --to.

    THE MACHINE'S OWN STOP COMES FIRST. This program's keys go through a computer and a cable, which may fail:
    reach for the red button, not for the keyboard. Stay at the machine until it stands still.

    While it runs: space holds and goes on, q stops. On an error, a lost line or silence the machine's hold
    and reset words are sent at once. Only files `cut` wrote for this machine, unchanged, are sent.
    """
    from strapwright import api

    machine = api.read_machine(machine_name)
    if (port is None) == (folder is None):
        raise click.UsageError("give either --port to send, or --to FOLDER to copy")
    if folder is not None:
        copied = api.copy_to(file, folder, force=force)
        _report({"copied": str(copied)}, f"copied: {copied}", as_json)
        return
    assert port is not None
    lines = api.check_sendable(file, machine)
    _warn(file, machine, len(lines))
    if not armed:
        raise api.SendError(
            "nothing was sent: add --armed when someone stands at the machine, its stop at hand"
        )
    _confirm(machine)
    with _keys() as key, _progress() as progress:
        api.send(file, machine, port, patience=timeout, progress=progress, key=key)
    _report(
        {"sent": str(file), "lines": len(lines)},
        f"sent: {file}, {len(lines)} lines, all answered; stay until the machine stands still",
        as_json,
    )


def _warn(file: Path, machine: Machine, count: int) -> None:
    """Tell on stderr what is about to happen and what it can do."""
    from strapwright.trade.safety import cautions

    click.echo(f"{file}: {count} lines for {machine.name}", err=True)
    for caution in ("The machine's own stop comes first; keep it within reach.", *cautions(machine.kind)):
        click.echo(f"  - {caution}", err=True)


def at_terminal() -> bool:
    """Whether a person can type here."""
    return sys.stdin is not None and sys.stdin.isatty()


def _confirm(machine: Machine) -> None:
    from strapwright import api

    wanted = HAZARDS[machine.kind]
    if not at_terminal():
        raise api.SendError("nothing was sent: the confirmation is typed by hand, at a terminal")
    typed = click.prompt(f'Type "{wanted}" to start', default="", show_default=False, err=True)
    if typed.strip().casefold() != wanted:
        raise api.SendError(f'nothing was sent: found "{typed[:40]}", expected "{wanted}"')


@contextmanager
def _keys() -> Iterator[Callable[[], Key | None]]:
    """Yield what asks, without waiting, for the key pressed last; nothing where keys cannot be read."""
    try:
        import select
        import termios
        import tty

        old = termios.tcgetattr(sys.stdin)
    except (ImportError, OSError, ValueError):  # no such terminal: Ctrl-C still stops
        yield lambda: None
        return
    except termios.error:
        yield lambda: None
        return

    def pressed() -> Key | None:
        if not select.select([sys.stdin], [], [], 0)[0]:
            return None
        char = os.read(sys.stdin.fileno(), 1)
        return "hold" if char == b" " else "stop" if char in (b"q", b"Q", b"\x1b") else None

    tty.setcbreak(sys.stdin)
    try:
        yield pressed
    finally:
        termios.tcsetattr(sys.stdin, termios.TCSADRAIN, old)


@contextmanager
def _progress() -> Iterator[Callable[[Progress], None]]:
    """Yield what shows how far it is on stderr: live on a terminal, every tenth elsewhere."""
    live = sys.stderr.isatty()
    told = -1

    def show(p: Progress) -> None:
        nonlocal told
        if p.said:
            click.echo(f"\nthe machine says: {p.said}", err=True)
        tenth = 10 * p.answered // max(p.lines, 1)
        state = "HELD, space goes on" if p.held else "space holds, q stops"
        if live:
            click.echo(f"\r{p.answered} of {p.lines} lines, {state}   ", nl=False, err=True)
        elif tenth > told:
            told = tenth
            click.echo(f"{p.answered} of {p.lines} lines", err=True)

    try:
        yield show
    finally:
        if live:
            click.echo(err=True)


def _report(data: dict[str, Any], text: str, as_json: bool) -> None:
    if as_json:
        from strapwright.cli.report import print_json

        print_json(data | {"version": 1})
    else:
        click.echo(text)
