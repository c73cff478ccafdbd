"""``strapwright send``: a cut file to its machine, over a serial line or into a folder."""

from __future__ import annotations

import os
import sys
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Final

import click

from strapwright.cli.terminal.options import (
    Decimal,
    argument,
    common_options,
    file_path,
    flag,
    machine_option,
    option,
    path_option,
    takes,
)
from strapwright.cli.terminal.report import emit, say

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from strapwright.cli.terminal.options import Common
    from strapwright.machine.profile.machine import Machine
    from strapwright.send.stream import Key, SendProgress

HAZARDS: Final = {"laser": "fire, fumes and laser light", "drag_knife": "sharp blade and moving head"}
"""What is typed to start a machine: what it can hurt with."""

OWN_SWITCH: Final = "only its own switch stops it"
"""What is typed besides where the profile has no word that ends a run with the tool off."""

BEYOND: Final = (
    "A program that is killed, a computer that sleeps or fails and a cable that is pulled send no stop: the "
    "tool may stay on, and only the machine's own switch stops it."
)

_ANSWERS: Final = {"error": "a refused line", "alarm": "an alarm"}


class Options:
    """What is sent or copied to where."""

    file: Path = argument(type=file_path())
    machine: str = machine_option("The profile FILE was written for.")
    port: str | None = option("--port", "Serial port, such as /dev/ttyUSB0 or COM3.", metavar="PORT")
    armed: bool = flag("--armed", "Needed to start: someone stands at the machine, its stop at hand.")
    timeout: float | None = option(
        "--timeout",
        "After so long a silence the connection counts as lost; default its longest move plus 10 s.",
        type=Decimal(1.0, 3600.0),
        metavar="SECONDS",
    )
    folder: Path | None = path_option(
        "--to", "FOLDER", "Copy FILE to this folder or drive instead; a copy is whole or not made."
    )
    common: Common = common_options("as_json force")


@click.command(
    "send", epilog="Example: strapwright send out/belts.nc --machine my.toml --port /dev/ttyUSB0 --armed"
)
@takes(Options)
def command(o: Options) -> None:
    """Send cut FILE to a machine over a serial line, or copy it to a folder with --to.

    THE MACHINE'S OWN STOP COMES FIRST. This program's keys go through a computer and a cable, which may fail:
    reach for the red button, not for the keyboard. Stay at the machine until it stands still.

    While it runs: space holds and goes on, q stops; Ctrl-C, Ctrl-Z and a closed window stop it too. On an
    alarm, an error, a lost line or silence the machine's hold and reset words are sent at once. Only files
    `cut` wrote for this machine, unchanged, are sent or copied.
    """
    from strapwright import api

    machine = api.read_machine(o.machine)
    if (o.port is None) == (o.folder is None):
        raise click.UsageError("give either --port to send, or --to FOLDER to copy")
    checked = api.check_sendable(o.file, machine, copy=o.folder is not None)
    for caution in checked.cautions:
        say(f"caution: {o.file}: {caution}", err=True)
    if o.folder is not None:
        copied = api.copy_to(o.file, o.folder, machine, force=o.common.force)
        emit(o.common, lambda: {"copied": str(copied)}, lambda: say(f"copied: {copied}"))
        return
    assert o.port is not None
    _warn(o.file, machine, len(checked.lines))
    if not o.armed:
        raise api.SendError(
            "nothing was sent: add --armed when someone stands at the machine, its stop at hand"
        )
    _confirm(machine)
    with _keys() as key, _progress(machine) as progress:
        lines = api.send(o.file, machine, o.port, patience=o.timeout, progress=progress, key=key)
    emit(
        o.common,
        lambda: {"sent": str(o.file), "lines": lines},
        lambda: say(f"sent: {o.file}, {lines} lines, all answered; stay until the machine has stopped"),
    )


def _warn(file: Path, machine: Machine, count: int) -> None:
    """Print on stderr what is about to happen and what it can do."""
    from strapwright.rules.safety import cautions

    assert machine.serial is not None
    say(f"{file}: {count} lines for {machine.name}", err=True)
    told = ["The machine's own stop comes first; keep it within reach.", *cautions(machine.kind), BEYOND]
    missing = [key for key in ("error", "alarm") if getattr(machine.serial, key) is None]
    if missing:
        told.append(
            f"The profile does not say what {' or '.join(_ANSWERS[key] for key in missing)} looks like "
            f"(serial.{', serial.'.join(missing)}): it will not be noticed here."
        )
    for caution in told:
        say(f"  - {caution}", err=True)


def at_terminal() -> bool:
    """Whether a person can type here."""
    return sys.stdin is not None and sys.stdin.isatty()


def _confirm(machine: Machine) -> None:
    """Ask for what can hurt at the machine to be typed and, where so, that nothing sent can stop it."""
    from strapwright import api

    if not at_terminal():
        raise api.SendError("nothing was sent: type the confirmation by hand, at a terminal")
    wanted = [(HAZARDS[machine.kind], "to start")]
    if machine.serial is not None and machine.serial.reset is None:
        say(
            "The profile names no word (serial.reset) that ends a run with the tool off. On a fault, and "
            "when you stop it here, the machine runs on as far as it has lines, and its tool may stay on.",
            err=True,
        )
        wanted.insert(0, (OWN_SWITCH, "if its switch is within your reach"))
    for words, why in wanted:
        typed = click.prompt(f'Type "{words}" {why}', default="", show_default=False, err=True)
        if typed.strip().casefold() != words:
            raise api.SendError(f'nothing was sent: found "{_shown(typed)}", expected "{words}"')


def _shown(typed: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in typed[:40])


@contextmanager
def _keys() -> Iterator[Callable[[], Key | None]]:
    """Yield a function that returns the key pressed last without waiting; None where keys cannot be read."""
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

    tty.setcbreak(sys.stdin, termios.TCSANOW)
    try:
        yield pressed
    finally:
        with suppress(termios.error):  # the window may be gone
            termios.tcsetattr(sys.stdin, termios.TCSANOW, old)


@contextmanager
def _progress(machine: Machine) -> Iterator[Callable[[SendProgress], None]]:
    """Yield a function that shows progress on stderr: live on a terminal, every tenth elsewhere.

    A thread of its own writes: a terminal that takes nothing must not keep lines from the machine.
    """
    from queue import Full, Queue
    from threading import Thread

    news: Queue[SendProgress | None] = Queue(maxsize=200)

    def show(p: SendProgress) -> None:
        with suppress(Full):  # what cannot be shown now is shown with the next
            news.put_nowait(p)

    shower = Thread(target=_show_all, args=(news.get, machine))
    shower.start()
    try:
        yield show
    finally:
        news.put(None)
        shower.join()


def _show_all(next_one: Callable[[], SendProgress | None], machine: Machine) -> None:
    live = sys.stderr.isatty()
    serial = machine.serial
    pausing = serial is not None and serial.hold is not None and serial.resume is not None
    keys = "space holds, q stops" if pausing else "q stops"
    told = -1
    with suppress(OSError, ValueError):  # a window that is gone shows nothing
        while (p := next_one()) is not None:
            if p.said:
                say(f"{chr(10) if live else ''}the machine says: {p.said}", err=True)
            tenth = 10 * p.answered // max(p.lines, 1)
            if live:
                state = "HELD, space goes on" if p.held else keys
                click.echo(f"\r{_so_far(p)}, {state}   ", nl=False, err=True)
            elif tenth > told:
                told = tenth
                say(_so_far(p), err=True)
        if live:
            say(err=True)


def _so_far(p: SendProgress) -> str:
    """Say how far it is in parts and minutes; by lines where a file has no parts.

    Example:
        >>> from strapwright.send.stream import SendProgress
        >>> _so_far(SendProgress(90, 400, 2, 8, 250.0, 724.0))
        '2 of 8 parts, about 4 of 12 min'
    """
    share = f"{p.parts} of {p.all_parts} parts" if p.all_parts else f"{p.answered} of {p.lines} lines"
    return f"{share}, about {p.seconds / 60:.0f} of {max(p.all_seconds / 60, 1):.0f} min"
