"""Take a finished cut file to its machine: over a serial line, or into a watched folder."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from strapwright.errors import OutputError, ProofError, SendError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from strapwright.machine.profile import Machine
    from strapwright.write.stream import Key, Progress


def check_sendable(file: Path, machine: Machine) -> tuple[str, ...]:
    """Return the lines of a G-code file that may be sent to a machine, after looking at all of it.

    Args:
        file: written by ``cut`` for this machine and not changed since.
        machine: where it is to go.

    Raises:
        SendError: the file is not there, not ours, changed, for another machine, or not safe for it; or the
            profile says nothing of a serial line.
    """
    from strapwright.files.whole import is_ours
    from strapwright.write.gcode_reader import read_gcode
    from strapwright.write.header import plain_comment
    from strapwright.write.stream import lines_of

    if machine.serial is None:
        raise SendError(
            f"machine {machine.name!r}: its profile has no [serial]; put in baud, hold, resume and reset, "
            "or copy the file with --to"
        )
    text = _text(file)
    if file.suffix.casefold() != ".nc":
        raise SendError(f"{file}: only G-code (.nc) is sent over a serial line; copy others with --to")
    if not is_ours(file):
        raise SendError(
            f"{file}: was not written by strapwright, or was changed since; its proof no longer holds: "
            "write it again with `strapwright cut`"
        )
    comments = " ".join(line.strip("()") for line in text.splitlines() if line.startswith("("))
    if f"machine: {plain_comment(machine.name)}, bed" not in comments:
        raise SendError(
            f"{file}: was written for another machine than {machine.name!r}; write it again for this one"
        )
    try:
        read_gcode(text, machine.kind, machine.axes)
    except ProofError as error:
        raise SendError(f"{file}: is not safe for {machine.name!r}: {error}") from error
    return lines_of(text)


def send(
    file: Path,
    machine: Machine,
    port: str,
    *,
    patience: float | None = None,
    progress: Callable[[Progress], None] | None = None,
    key: Callable[[], Key | None] | None = None,
) -> int:
    """Send a G-code file to a machine over a serial line and return how many lines it took.

    The caller has made sure that a person stands at the machine and knows its hazards.

    Args:
        file: see :func:`check_sendable`.
        machine: its profile has the words of the line.
        port: the port's name, such as ``/dev/ttyUSB0`` or ``COM3``.
        patience: seconds of silence after which the line counts as lost; None reckons it from the file.
        progress: called as it goes.
        key: asked often whether the maker wants it held or stopped.

    Raises:
        SendError: the file may not be sent, the port is not there, or the sending was broken off.
    """
    import serial

    from strapwright.write.stream import Stream

    lines = check_sendable(file, machine)
    assert machine.serial is not None
    try:
        line = serial.Serial(port, machine.serial.baud, timeout=0.02, write_timeout=5.0, exclusive=True)
    except (OSError, ValueError) as error:
        raise SendError(f"port {port} cannot be opened: {_reason(error)}; {_ports()}") from error
    with line:
        Stream(line, machine.serial, lines, patience).run(progress=progress, key=key)
    return len(lines)


def copy_to(file: Path, folder: Path, *, force: bool = False) -> Path:
    """Copy a cut file into a watched folder or onto a mounted drive, whole or not at all.

    Args:
        file: written by ``cut`` and not changed since.
        folder: must be there: a drive that is not mounted is no folder.
        force: overwrite what stands there.

    Returns:
        Where the copy is.

    Raises:
        SendError: the file is not ours or was changed, or the folder is not there.
        OutputError: the folder cannot be written to, or something of the same name is in the way.
    """
    from strapwright.files.whole import is_ours, write_whole

    _text(file)
    if not is_ours(file):
        raise SendError(
            f"{file}: was not written by strapwright, or was changed since; its proof no longer holds: "
            "write it again with `strapwright cut`"
        )
    if not folder.is_dir():
        raise SendError(f"{folder}: no such folder; see that the drive is mounted, or name another")
    target = folder / file.name
    if target.exists() and target.samefile(file):
        raise OutputError(f"{target}: is the file itself; name another folder")
    write_whole({target: file.read_bytes()}, force=force)
    return target


def _text(file: Path) -> str:
    try:
        return file.read_text("utf-8")
    except (OSError, ValueError) as error:
        raise SendError(f"{file}: cannot be read: {_reason(error)}") from error


def _reason(error: Exception) -> str:
    number = getattr(error, "errno", None)
    return (os.strerror(number) if number else str(error)).casefold()


def _ports() -> str:
    """Say which ports there are."""
    from serial.tools.list_ports import comports

    found = sorted(port.device for port in comports())
    return f"ports found: {', '.join(found)}" if found else "no serial port is found here; see to its cable"
