"""A simulated controller on a pseudo-terminal, for the tests of sending: it answers lines, and misbehaves."""

from __future__ import annotations

import os
import pty
import threading
import time
import tty
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator


@dataclass
class Controller:
    """What it has taken, and when it fails.

    Args:
        delay: seconds before each answer.
        error_at: number of the line it refuses.
        silent_at: number of the line from which on it says nothing.
        garbage_at: number of the line it answers with noise.
        hang_up_at: number of the line at which the line is cut.
        extra_at: number of the line it answers twice.
        chatter: what it says before every answer.
        mute: whether it says nothing from the start.
    """

    delay: float = 0.0
    error_at: int = 0
    silent_at: int = 0
    garbage_at: int = 0
    hang_up_at: int = 0
    extra_at: int = 0
    chatter: str = ""
    mute: bool = False
    lines: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    most: int = 0
    port: str = ""

    def serve(self, master: int, stop: threading.Event) -> None:
        """Take bytes until the line is closed: the words at once, whole lines in their turn."""
        waiting = b""
        held = False
        due = time.monotonic()
        while not stop.is_set():
            with suppress(BlockingIOError):
                try:
                    data = os.read(master, 4096)
                except BlockingIOError:
                    data = b""
                except OSError:
                    return
                for char in data:
                    if chr(char) in "!~\x18":
                        self.words.append({"!": "hold", "~": "resume", "\x18": "reset"}[chr(char)])
                        held = {"!": True, "~": False}.get(chr(char), held)
                    else:
                        waiting += bytes([char])
                self.most = max(self.most, len(waiting))
            if b"\n" not in waiting or held or self.mute or time.monotonic() < due:
                time.sleep(0.001)
                continue
            line, waiting = waiting.split(b"\n", 1)
            due = time.monotonic() + self.delay
            if not line:
                os.write(master, b"ok\r\n")
                continue
            self.lines.append(line.decode())
            number = len(self.lines)
            if self.silent_at and number >= self.silent_at:
                self.mute = True
                continue
            if number == self.hang_up_at:
                os.close(master)
                return
            answer = f"{self.chatter}\r\n" if self.chatter else ""
            answer += "error: 9\r\n" if number == self.error_at else "ok\r\n"
            answer += "ok\r\nok\r\n" * 9 if number == self.extra_at else ""
            os.write(master, b"\xff\xfe\x00\x80\n" if number == self.garbage_at else answer.encode())


@contextmanager
def controller(**faults: object) -> Iterator[Controller]:
    """Run a controller on a pseudo-terminal; its port is open for the test's own program."""
    master, slave = pty.openpty()
    tty.setraw(slave)
    os.set_blocking(master, False)
    made = Controller(**faults)
    made.port = os.ttyname(slave)
    stop = threading.Event()
    thread = threading.Thread(target=made.serve, args=(master, stop), daemon=True)
    thread.start()
    if made.hang_up_at:
        os.close(slave)  # so that the line is gone when the other end is
    try:
        yield made
    finally:
        stop.set()
        thread.join(5)
        for end in (master, slave):
            with suppress(OSError):
                os.close(end)
