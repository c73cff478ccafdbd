"""Sending G-code over a serial line: line by line, as fast as the machine answers, and stopping at once.

The plain handshake: each line is answered by a word for good or a word for refused. Lines are sent ahead, so
that the machine never waits, but never more characters than it can take in. On any fault the profile's
hold and reset words go out at once, past everything that waits: a queued M5 would stand behind it.
"""

from __future__ import annotations

import contextlib
import math
import re
import time
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, Protocol

from strapwright.errors import SendError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.machine.tool_tables import Serial

Key = Literal["hold", "stop"]

_GREETING: Final = 5.0
"""So long a machine may take to answer its first, empty line, seconds."""

_LEAST_PATIENCE: Final = 10.0
"""So long beyond its longest move a machine may be silent, seconds."""

_SLOWEST_RAPID: Final = 50.0
"""No machine travels slower than this, mm/s; a number from memory, and on the patient side."""

_COMMENT: Final = re.compile(r"\([^()]*\)")
_AXIS: Final = re.compile(r"([XYZF])(-?[\d.]+)")


class Port(Protocol):
    """What a serial port must do, as pyserial's do."""

    def write(self, data: bytes, /) -> int | None:
        """Send bytes."""

    def read(self, size: int = 1, /) -> bytes:
        """Return what has come in, waiting a moment for it."""

    def flush(self) -> None:
        """Wait until everything is sent."""


@dataclass(frozen=True)
class Progress:
    """How far the sending is.

    Args:
        answered: lines the machine has taken.
        lines: lines there are.
        held: whether it is held.
        said: what the machine said beside its answers; empty for nothing.
    """

    answered: int
    lines: int
    held: bool = False
    said: str = ""


def lines_of(text: str) -> tuple[str, ...]:
    r"""Return the lines of a G-code text that are sent: comments and empty ones are not.

    Example:
        >>> lines_of("(two belts)\nG21\n\nG0 X1 (there)\n")
        ('G21', 'G0 X1')
    """
    bare = (_COMMENT.sub("", line).strip() for line in text.splitlines())
    return tuple(line for line in bare if line)


def patience_for(lines: Sequence[str]) -> float:
    """Return how long a machine may be silent before its line counts as lost, seconds.

    It answers a line when it has room for it, so that it may be silent for as long as its longest move.

    Example:
        >>> patience_for(["G21", "G0 X0 Y0", "G1 X600 F600"])
        70.0
    """
    at = {"X": 0.0, "Y": 0.0, "Z": 0.0}
    feed, longest, scale = 0.0, 0.0, 1.0
    for line in lines:
        scale = 25.4 if line == "G20" else scale
        words = {letter: float(value) for letter, value in _AXIS.findall(line)}
        feed = words.pop("F", feed)
        before = dict(at)
        at |= words
        speed = _SLOWEST_RAPID / scale if line.startswith("G0") else feed / 60
        if speed and line.startswith(("G0", "G1", "G2", "G3")):
            way = math.dist(list(before.values()), list(at.values()))
            way *= math.pi / 2 if line.startswith(("G2", "G3")) else 1.0  # a half turn at most
            longest = max(longest, way / speed)
    return _LEAST_PATIENCE + longest


class Stream:
    """One file's way to a machine.

    Args:
        port: open, its reads returning after a moment at most.
        serial: the machine's words, and how many characters it takes in.
        lines: to be sent, without line ends.
        patience: seconds of silence after which the line counts as lost; None reckons it from the lines.
    """

    def __init__(
        self, port: Port, serial: Serial, lines: Sequence[str], patience: float | None = None
    ) -> None:
        self._port, self._serial, self._lines = port, serial, lines
        self._patience = patience if patience is not None else patience_for(lines)
        self._waiting: deque[int] = deque()  # characters of each line sent and not yet answered
        self._answered = 0
        self._sent = 0
        self._partial = b""
        self._held = False

    def run(
        self,
        *,
        progress: Callable[[Progress], None] | None = None,
        key: Callable[[], Key | None] | None = None,
    ) -> None:
        """Send everything and return when the last line is answered.

        Args:
            progress: called after each answer, and when held or resumed.
            key: asked often for what the maker pressed: hold (again to go on) or stop.

        Raises:
            SendError: the machine refused a line, fell silent, was disturbed or lost, or the maker stopped
                it; hold and reset have been sent then, as far as the line still carries them.
        """
        longest = max((len(line) + 1 for line in self._lines), default=0)
        if longest > self._serial.buffer:
            raise SendError(
                f"a line of {longest} characters is longer than the machine's buffer, "
                f"{self._serial.buffer}; correct serial.buffer in the profile; nothing was sent"
            )
        tell = progress or (lambda _: None)
        try:
            self._greet(tell)
            self._send_all(tell, key or (lambda: None))
        except SendError:
            self._stop()
            raise
        except KeyboardInterrupt:
            self._stop()
            raise SendError(f"stopped at the keyboard {self._where()}; hold and reset were sent") from None
        except OSError as error:  # pyserial's errors are of this kind
            self._stop()
            raise SendError(
                f"the line was lost {self._where()} ({_plain(str(error))}); hold and reset were tried, but "
                "may not have arrived: use the machine's own stop NOW"
            ) from error

    def _greet(self, tell: Callable[[Progress], None]) -> None:
        """Send an empty line and wait for its answer, before anything moves."""
        self._port.write(b"\n")
        end = time.monotonic() + _GREETING
        while time.monotonic() < end:
            for answer in self._answers():
                if answer.startswith(self._serial.ok):
                    return
                self._other(answer, tell)
        raise SendError(
            f"the machine did not answer {self._serial.ok!r} to an empty line within {_GREETING:g} s; see "
            "that it is on and that port and baud are right; no line of the file was sent"
        )

    def _send_all(self, tell: Callable[[Progress], None], key: Callable[[], Key | None]) -> None:
        heard = time.monotonic()
        while self._answered < len(self._lines):
            self._fill()
            pressed = key()
            if pressed == "stop":
                raise SendError(f"stopped at the keyboard {self._where()}; hold and reset were sent")
            if pressed == "hold":
                self._held = not self._held
                self._write_now(self._serial.hold if self._held else self._serial.resume)
                tell(Progress(self._answered, len(self._lines), self._held))
            for answer in self._answers():
                heard = time.monotonic()
                self._take(answer, tell)
            if self._held:
                heard = time.monotonic()  # it may be silent as long as it is held
            if time.monotonic() - heard > self._patience:
                raise SendError(
                    f"the machine has been silent for {self._patience:.0f} s {self._where()}; "
                    "hold and reset were sent: look at the machine before anything else"
                )

    def _fill(self) -> None:
        """Send lines ahead as far as the machine can take them in."""
        while self._sent < len(self._lines) and not self._held:
            data = self._lines[self._sent].encode("ascii") + b"\n"
            if sum(self._waiting) + len(data) > self._serial.buffer:
                return
            self._port.write(data)
            self._waiting.append(len(data))
            self._sent += 1

    def _take(self, answer: str, tell: Callable[[Progress], None]) -> None:
        """Take one line the machine said."""
        if answer.startswith(self._serial.error):
            raise SendError(
                f'the machine refused {self._where()} with "{_plain(answer)}"; hold and reset were sent'
            )
        if answer.startswith(self._serial.ok):
            if not self._waiting:
                raise SendError(
                    f"the machine answered more lines than it was sent {self._where()}; "
                    "hold and reset were sent"
                )
            self._waiting.popleft()
            self._answered += 1
            tell(Progress(self._answered, len(self._lines), self._held))
            return
        self._other(answer, tell)

    def _other(self, answer: str, tell: Callable[[Progress], None]) -> None:
        """Pass on what is no answer; what nobody can read means a disturbed line."""
        if not answer.isprintable() or not answer.isascii():
            raise SendError(
                f"the line is disturbed {self._where()}: it carried {_plain(answer)!r}; "
                "hold and reset were sent; look at cable, plugs and baud"
            )
        if answer:
            tell(Progress(self._answered, len(self._lines), self._held, answer))

    def _answers(self) -> list[str]:
        """Return the whole lines that have come in."""
        self._partial += self._port.read(256)
        *whole, self._partial = self._partial.split(b"\n")
        if len(self._partial) > 1024:
            whole, self._partial = [self._partial], b""
        return [line.decode("latin-1").strip(" \r\t") for line in whole]

    def _where(self) -> str:
        """Say where the sending is: the line that waits for its answer."""
        if self._answered >= len(self._lines):
            return "after the last line"
        return f'at line {self._answered + 1} of {len(self._lines)}, "{self._lines[self._answered]}"'

    def _stop(self) -> None:
        """Send hold and reset at once, whatever waits; a line that is gone takes neither."""
        for word in (self._serial.hold, self._serial.reset):
            with contextlib.suppress(OSError):
                self._write_now(word)

    def _write_now(self, word: str) -> None:
        self._port.write(word.encode("latin-1"))
        self._port.flush()


def _plain(text: str) -> str:
    """Return at most 60 characters that any terminal shows."""
    return "".join(c if c.isascii() and c.isprintable() else "?" for c in text)[:60]
