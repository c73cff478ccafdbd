"""``strapwright send`` as a process of its own at a terminal of its own: what ends it ends the run first."""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import subprocess
import sys
import threading
import time
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest
from tests.cli.test_send import PROFILE
from tests.write.controller import controller
from tests.write.plans import driven_plan

from strapwright.files.atomic_write import MARK, write_whole
from strapwright.machine.profile.machine import read_machine
from strapwright.write.cut_files import write_plan

pytestmark = pytest.mark.slow

PROGRAM = """
import fcntl, os, sys, termios
from contextlib import suppress
from strapwright.cli.main import command, main
from strapwright.core.errors import StrapwrightError

def run(slave, words):
    os.setsid()
    for stream in range(3):
        os.dup2(slave, stream)
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
    sys.stdout.reconfigure(line_buffering=True)  # as at a terminal
    sys.argv = ["strapwright", *words]
    main()

with suppress(StrapwrightError):  # without --armed nothing is sent
    command.main(["send", *sys.argv[1:]], standalone_mode=False)
for line in iter(sys.stdin.readline, ""):
    words = line[:-1].split(chr(0))
    if words[0] == "ended":
        pid, status = os.waitpid(int(words[1]), os.WNOHANG)
        print(os.waitstatus_to_exitcode(status) if pid else "", flush=True)
        continue
    slave = os.open(words[0], os.O_RDWR | os.O_NOCTTY)
    child = os.fork()
    if child == 0:
        run(slave, words[1:])
    os.close(slave)
    print(child, flush=True)
"""
"""Loads the command by a run that is not armed, then forks for each that it reads; tells which have ended."""


class Forks:
    """What starts programs at terminals of their own, forked from one that has loaded the command."""

    def __init__(self, *words):
        pipe = subprocess.PIPE
        self.parent = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, *map(str, words)],
            stdin=pipe,
            stdout=pipe,
            stderr=pipe,  # what can be sought in could not become a terminal
            text=True,
        )

    def asked(self, *words):
        print(*words, sep="\0", file=self.parent.stdin, flush=True)
        return self.parent.stdout.readline().strip()

    def close(self):
        self.parent.communicate()


@pytest.fixture(scope="module")
def shed(tmp_path_factory):
    """A folder with a profile and a file cut for it."""
    folder = tmp_path_factory.mktemp("shed")
    (folder / "my.toml").write_text(PROFILE)
    files = write_plan(driven_plan(read_machine(str(folder / "my.toml"))), ["gcode"], "belts")
    write_whole({folder / name: text for name, text in files.texts.items()})
    return folder


@pytest.fixture(scope="module")
def forks(shed):
    made = Forks(shed / "belts.nc", "--machine", shed / "my.toml", "--port", "/dev/null")
    yield made
    made.close()


class Terminal:
    """A terminal with a program in it."""

    def __init__(self, forks, words):
        self.forks = forks
        self.master, slave = pty.openpty()
        self.shown = ""
        self.closing = threading.Event()
        self.process = int(forks.asked(os.ttyname(slave), *words))
        os.close(slave)
        self.watcher = threading.Thread(target=self._watch, daemon=True)
        self.watcher.start()

    def _watch(self):
        with suppress(OSError):
            while not self.closing.is_set():
                if select.select([self.master], [], [], 0.02)[0]:
                    self.shown += os.read(self.master, 4096).decode(errors="replace")

    def close(self):
        """Close the window: not while somebody reads there, for then it would be gone only afterwards."""
        if not self.closing.is_set():
            self.closing.set()
            self.watcher.join()
            os.close(self.master)

    def type(self, text):
        os.write(self.master, text.encode())

    def wait_for(self, condition, seconds=60.0):
        end = time.monotonic() + seconds
        while time.monotonic() < end and not condition():
            time.sleep(0.005)
        assert condition(), self.shown

    def written(self):
        """How many bytes it has written, to the terminal and to the line."""
        return int(re.search(r"wchar: (\d+)", Path(f"/proc/{self.process}/io").read_text())[1])

    def ended(self):
        """Its exit status, once all it said is here."""
        end, status = time.monotonic() + 60, ""
        while not status and time.monotonic() < end:
            time.sleep(0.005)
            status = self.forks.asked("ended", self.process)
        self.watcher.join(2)
        return int(status)


@contextmanager
def running(forks, shed, made):
    """A run that is under way."""
    words = ["send", shed / "belts.nc", "--machine", shed / "my.toml", "--port", made.port, "--armed"]
    terminal = Terminal(forks, words)
    try:
        terminal.wait_for(lambda: "to start" in terminal.shown)
        terminal.type("fire, fumes and laser light\n")
        terminal.wait_for(lambda: len(made.lines) > 8)
        yield terminal
    finally:
        with suppress(ProcessLookupError):
            os.kill(terminal.process, signal.SIGKILL)
        terminal.close()


def held_and_reset(terminal, made):
    """The run ends with hold and reset while the machine is busy with a long move and answers nothing."""
    taken = len(made.lines)
    assert terminal.ended() == 1
    terminal.wait_for(lambda: made.words == ["hold", "reset"])
    assert "M2" not in made.lines
    assert len(made.lines) - taken <= 1  # one may have been on its way when the move began
    assert "Traceback" not in terminal.shown


NAMES = ["SIGTERM", "SIGHUP", "SIGQUIT", "SIGTSTP", "SIGINT", "SIGTTOU", "SIGUSR1", "SIGALRM", "SIGABRT"]


@pytest.mark.parametrize("name", NAMES)
def test_a_signal_that_would_end_or_suspend_it_holds_and_resets_the_machine(forks, shed, name):
    with controller(delay=0.05) as made, running(forks, shed, made) as terminal:
        made.busy.set()
        os.kill(terminal.process, getattr(signal, name))
        held_and_reset(terminal, made)
        said = re.search(
            r"error: ended by (\w+) at line (\d+) of the file, \"(.*)\"; hold and", terminal.shown
        )
        assert said, terminal.shown
        assert said[1] == name
        assert (shed / "belts.nc").read_text().splitlines()[int(said[2]) - 1] == said[3]


@pytest.mark.parametrize(("key", "name"), [("\x03", "SIGINT"), ("\x1a", "SIGTSTP"), ("\x1c", "SIGQUIT")])
def test_a_key_that_would_end_or_suspend_it_does_so_too(forks, shed, key, name):
    with controller(delay=0.05) as made, running(forks, shed, made) as terminal:
        made.busy.set()
        terminal.type(key)
        held_and_reset(terminal, made)
        assert f"error: ended by {name} at line" in terminal.shown


def test_closing_its_window_holds_and_resets_the_machine(forks, shed):
    with controller(delay=0.05) as made, running(forks, shed, made) as terminal:
        made.busy.set()
        terminal.close()
        held_and_reset(terminal, made)


def test_many_signals_at_once_do_not_keep_it_from_resetting(forks, shed):
    with controller(delay=0.05) as made, running(forks, shed, made) as terminal:
        made.busy.set()
        for name in ("SIGTERM", "SIGHUP", "SIGINT", "SIGTSTP"):
            os.kill(terminal.process, getattr(signal, name))
        held_and_reset(terminal, made)


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGTSTP"])
def test_a_line_that_is_full_does_not_keep_hold_and_reset_back(forks, tmp_path, name):
    profile = PROFILE.replace("buffer = 128", "buffer = 65536")
    (tmp_path / "my.toml").write_text(profile)
    files = write_plan(driven_plan(read_machine(str(tmp_path / "my.toml"))), ["gcode"], "belts")
    _, rest = files.texts["belts.nc"].split("\n", 1)
    there_and_back = "G0 X120.0000 Y43.0000\nG0 X20.0000 Y43.0000\n" * 2500
    text = f"({MARK})\n{rest.replace('M2', there_and_back + 'M2')}"
    write_whole({tmp_path / "belts.nc": text})
    with controller(stall_at=9) as made, running(forks, tmp_path, made) as terminal:
        terminal.wait_for(lambda: made.stalled.is_set() and terminal.written() > 5 * 4096)
        terminal.wait_for(made.fill)  # a pseudo-terminal may hold all that the buffer lets go
        os.kill(terminal.process, getattr(signal, name))
        assert terminal.ended() == 1
        made.reading.set()
        terminal.wait_for(lambda: made.words == ["hold", "reset"])
        assert made.after_stall.endswith(b"!\x18")
        # What has arrived at a pseudo-terminal's far end, 4096 characters, nobody can take back.
        assert len(made.after_stall) <= 4096 + 2
        # The signal may come before the first answer is read.
        said = re.search(
            r"took (?:no line|line (\d+)) and may still do everything up to line (\d+)", terminal.shown
        )
        assert said, terminal.shown
        sent = "\n".join(text.splitlines()[int(said[1] or 0) : int(said[2])])
        assert len(sent) > 3 * 4096


def test_a_signal_before_the_first_line_lets_none_go(forks, shed):
    with controller(mute=True) as made:
        terminal = Terminal(
            forks, ["send", shed / "belts.nc", "--machine", shed / "my.toml", "--port", made.port, "--armed"]
        )
        terminal.wait_for(lambda: "to start" in terminal.shown)
        terminal.type("fire, fumes and laser light\n")
        terminal.wait_for(lambda: b"\n" in made.taken)
        os.kill(terminal.process, signal.SIGTERM)
        assert terminal.ended() == 1
        assert "ended by SIGTERM before the first line" in terminal.shown
        assert made.lines == []
        terminal.close()


def test_a_terminal_that_takes_nothing_does_not_starve_the_machine(forks, shed):
    with controller(delay=0.002) as made, running(forks, shed, made) as terminal:
        terminal.type("\x13")  # stop showing
        terminal.wait_for(lambda: made.lines[-1] == "M2")
        terminal.type("\x11")  # show again
        assert terminal.ended() == 0
        assert "3 of 3 parts" in terminal.shown
        assert made.words == []


def test_space_holds_and_goes_on_and_q_stops(forks, shed):
    with controller(delay=0.02) as made, running(forks, shed, made) as terminal:
        terminal.type(" ")
        terminal.wait_for(lambda: made.words == ["hold"])
        terminal.wait_for(lambda: "HELD, space goes on" in terminal.shown)
        taken = len(made.lines)
        time.sleep(0.3)
        assert len(made.lines) <= taken + 1
        terminal.type(" ")
        terminal.wait_for(lambda: len(made.lines) > taken + 5)
        assert made.words == ["hold", "resume"]
        terminal.type("q")
        assert terminal.ended() == 1
        terminal.wait_for(lambda: made.words == ["hold", "resume", "hold", "reset"], 3)
        assert "stopped at the keyboard at line" in terminal.shown
