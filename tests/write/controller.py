"""A simulated controller on a pseudo-terminal, for the tests of sending: it answers lines, and misbehaves."""

from __future__ import annotations

import os
import pty
import select
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
        alarm_at: number of the line after which it stops by itself and says so.
        twice_at: number of the line it answers twice.
        restart_at: number of the line at which it starts anew and greets.
        startup: seconds it takes to start when it is opened; what comes in meanwhile is lost.
        stall_at: number of the line from which on it reads nothing more, until `reading` is set.
        ahead: up to this line it takes one only once the next has come in too.
        other: what it says instead of ok.
    """

    delay: float = 0.0
    error_at: int = 0
    silent_at: int = 0
    garbage_at: int = 0
    hang_up_at: int = 0
    extra_at: int = 0
    chatter: str = ""
    mute: bool = False
    alarm_at: int = 0
    twice_at: int = 0
    restart_at: int = 0
    startup: float = 0.0
    stall_at: int = 0
    ahead: int = 0
    other: str = "ok"
    busy: threading.Event = field(default_factory=threading.Event)
    reading: threading.Event = field(default_factory=threading.Event)
    stalled: threading.Event = field(default_factory=threading.Event)
    after_stall: bytes = b""
    taken: bytes = b""
    lines: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    most: int = 0
    port: str = ""
    near_end: int = -1
    far_end: int = -1

    def fill(self) -> bool:
        """Put empty lines into the line until it takes no more, and return whether it does not."""
        os.set_blocking(self.near_end, False)
        with suppress(BlockingIOError):
            while select.select([], [self.near_end], [], 0)[1]:
                os.write(self.near_end, b"\n" * 256)
        return not select.select([], [self.near_end], [], 0.02)[1]

    def serve(self, master: int, stop: threading.Event) -> None:
        """Take bytes until the line is closed: the words at once, whole lines in their turn."""
        waiting = b""
        held = False
        due = time.monotonic()
        if self.startup:
            time.sleep(self.startup)
            with suppress(OSError):
                os.read(master, 4096)
            os.write(master, b"\xf8\r\nBENCH 3 is up\r\n")
        while not stop.is_set():
            if self.stall_at and len(self.lines) >= self.stall_at and not self.reading.is_set():
                self.stalled.set()
                time.sleep(0.001)
                continue
            with suppress(BlockingIOError):
                try:
                    data = os.read(master, 4096)
                    self.taken += data
                except BlockingIOError:
                    data = b""
                except OSError:
                    return
                self.after_stall += data if self.reading.is_set() else b""
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
            alone = len(self.lines) < self.ahead and waiting[:1] != b"\n" and waiting.count(b"\n") < 2
            if alone or self.busy.is_set():
                time.sleep(0.001)
                continue
            line, waiting = waiting.split(b"\n", 1)
            due = time.monotonic() + self.delay
            if not line:
                os.write(master, f"{self.other}\r\n".encode())
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
            answer += "error: 9\r\n" if number == self.error_at else f"{self.other}\r\n"
            answer += "ok\r\n" if number == self.twice_at else ""
            answer += "LIMIT 2 struck\r\n" if number == self.alarm_at else ""
            answer = "BENCH 3 is up\r\n" if number == self.restart_at else answer
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
    made.near_end, made.far_end = slave, master
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
