"""Take a finished cut file to its machine: over a serial line, or into a watched folder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.core.errors import OutputError, ProofError, SendError, os_reason

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from strapwright.machine.profile.machine import Machine
    from strapwright.send.stream import FileLine, Key, SendProgress


@dataclass(frozen=True)
class Sendable:
    """A cut file that may go to its machine.

    Args:
        lines: of a G-code file, as they are sent; none for other formats, which are only copied.
        cautions: where its speeds, power, passes or kerf are not the profile's, by the key.
    """

    lines: tuple[FileLine, ...]
    cautions: tuple[str, ...]


def check_sendable(file: Path, machine: Machine, *, copy: bool = False) -> Sendable:
    """Return a cut file's lines and cautions if it may go to its machine; refuse it else.

    Args:
        file: written by ``cut`` for this machine and not changed since.
        machine: where it is to go, as its profile is now.
        copy: it is to be copied, in any format the machine reads; else G-code for a serial line.

    Raises:
        SendError: the file is not there, not ours, changed, made by another profile, or leaves the machine's
            bed or power; or the profile says nothing of a serial line.
    """
    from strapwright.files.atomic_write import is_ours
    from strapwright.files.journal import settle
    from strapwright.send.stream import lines_of

    if machine.serial is None and not copy:
        raise SendError(
            f"machine {machine.name!r}: its profile has no [serial]; add baud and the machine's own "
            "words, or copy the file with --to"
        )
    settle(file.parent)
    try:
        text = file.read_text("utf-8")
    except (OSError, ValueError) as error:
        raise SendError(f"{file}: cannot be read: {os_reason(error)}") from error
    if file.suffix.casefold() != ".nc" and not copy:
        raise SendError(f"{file}: only G-code (.nc) is sent over a serial line; copy others with --to")
    if not is_ours(file):
        raise SendError(
            f"{file}: was not written by strapwright, or was changed since; its check no longer holds: "
            "write it again with `strapwright cut`"
        )
    try:
        cautions = _check_content(text, machine)
    except ProofError as error:
        raise SendError(f"{file}: is not safe for {machine.name!r}: {error}") from error
    except SendError as error:
        raise SendError("\n".join(f"{file}: {line}" for line in str(error).splitlines())) from error
    lines = () if copy else lines_of(text)
    stops = [line.number for line in lines if line.text == "M0"]
    if stops:
        raise SendError(
            f"{file}: stops for another tool in line {stops[0]}, and nothing can be sent while somebody puts "
            "it in; run the file from the machine's own store: --to FOLDER copies it there"
        )
    return Sendable(lines, cautions)


def _check_content(text: str, machine: Machine) -> tuple[str, ...]:
    """Check a file's seal against the profile, and all it does against bed and power; return the cautions."""
    from strapwright.core.tolerances import CLEARANCE
    from strapwright.write.formats.format import FORMATS
    from strapwright.write.formats.header import compare_seal, face_in, format_of

    cautions = compare_seal(text, machine)
    name = format_of(text)
    if name not in machine.formats:
        raise SendError(
            f"is {name}, and machine {machine.name!r} reads {', '.join(machine.formats)}; send one of "
            "these, or add the format to the profile's formats"
        )
    form = FORMATS[name]
    slack = form.tolerance + form.chord + CLEARANCE
    width, depth = machine.bed
    for path in form.read_back(text, machine, face_in(text)):
        x0, y0, x1, y1 = path.contour.bounding_box
        if min(x0, y0) < -slack or x1 > width + slack or y1 > depth + slack:
            raise ProofError(
                f"a path reaches from x {x0:.2f}, y {y0:.2f} to x {x1:.2f}, y {y1:.2f} mm, and the bed is "
                f"{width:g} × {depth:g} mm"
            )
    return cautions


def send(
    file: Path,
    machine: Machine,
    port: str,
    *,
    patience: float | None = None,
    progress: Callable[[SendProgress], None] | None = None,
    key: Callable[[], Key | None] | None = None,
) -> int:
    """Send a G-code file to a machine over a serial line and return how many lines it took.

    The caller has made sure that a person stands at the machine and knows its hazards. In the main thread
    every signal that would end or suspend the program ends the run instead, with hold and reset.

    Args:
        file: see :func:`check_sendable`.
        machine: its profile has the words of the line.
        port: the port's name, such as ``/dev/ttyUSB0`` or ``COM3``.
        patience: seconds of silence after which the line counts as lost; None calculates it from the file.
        progress: called as it goes; it must not wait for anything.
        key: asked often whether to hold or to stop.

    Raises:
        SendError: the file may not be sent, the port is not there, or the sending was broken off.
    """
    import serial

    from strapwright.send.stream import Stream, signals_noted

    lines = check_sendable(file, machine).lines
    assert machine.serial is not None
    with signals_noted() as signalled:
        try:
            line = serial.Serial(port, machine.serial.baud, timeout=0.02, write_timeout=0, exclusive=True)
        except (OSError, ValueError) as error:
            raise SendError(f"port {port} cannot be opened: {os_reason(error)}; {_ports()}") from error
        with line:
            stream = Stream(line, machine.serial, lines, patience)
            stream.run(progress=progress, key=key, signalled=signalled)
    return len(lines)


def copy_to(file: Path, folder: Path, machine: Machine, *, force: bool = False) -> Path:
    """Copy a cut file into a watched folder or onto a mounted drive, whole or not at all.

    Args:
        file: see :func:`check_sendable`; in any format the machine reads.
        folder: must be there: a drive that is not mounted is no folder.
        machine: that will read it, as its profile is now.
        force: overwrite what stands there.

    Returns:
        Where the copy is.

    Raises:
        SendError: the file may not go to this machine, or the folder is not there.
        OutputError: the folder cannot be written to, or something of the same name is in the way.
    """
    from strapwright.files.atomic_write import write_whole

    check_sendable(file, machine, copy=True)
    if not folder.is_dir():
        raise SendError(f"{folder}: no such folder; mount the drive, or name another folder")
    target = folder / file.name
    if target.exists() and target.samefile(file):
        raise OutputError(f"{target}: is the file itself; name another folder")
    write_whole({target: file.read_bytes()}, force=force)
    return target


def _ports() -> str:
    """Return which ports there are, in words."""
    from serial.tools.list_ports import comports

    found = sorted(port.device for port in comports())
    return f"ports found: {', '.join(found)}" if found else "no serial port was found; check the cable"
