"""Sending G-code over a serial line: line by line, as fast as the machine answers, and stopping at once.

The plain handshake: a line goes once the one before is answered; where the profile says how many characters
the machine takes in, as many lines ahead as fit. Nothing here waits for the line to take what is sent, so
that a stop acts within a moment. On any stop what still waits is thrown away and the profile's hold and
reset words go out at once: a queued M5 would stand behind everything.
"""

from __future__ import annotations

import math
import re
import select
import signal
import threading
import time
from collections import deque
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal, Protocol

from strapwright.core.errors import SendError
from strapwright.core.units import MM_PER_INCH

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from strapwright.machine.profile.tool_keys import Serial

Key = Literal["hold", "stop"]

_ASK_EVERY: Final = 1.0
"""A machine that has not answered yet is greeted again after so long, seconds."""

_QUIET: Final = 0.5
"""A machine silent for so long has no answer left to give, seconds; twice as long where one is due."""

_LEAST_PATIENCE: Final = 10.0
"""So long beyond its longest move a machine may be silent, seconds."""

_SLOWEST_RAPID: Final = 50.0
"""No machine travels slower than this, mm/s; a number from memory, and on the patient side."""

_STOOD_STILL: Final = 5.0
"""A program that was not run for so long has slept with its computer, or was stopped, seconds."""

_URGENT: Final = 1.0
"""So long the line may take for hold and reset, seconds."""

_CHUNK: Final = 256
"""So many characters are given to the line at once."""

_COMMENT: Final = re.compile(r"\([^()]*\)")
_WORD: Final = re.compile(r"([XYZF])(-?[\d.]+)")
_DONE: Final = re.compile(r"\(run \d+ of \d+, (\d+) of (\d+) parts")
_TIME: Final = re.compile(r"^\(time: (\d+) s", re.MULTILINE)

_SIGNALS: Final = {int(one): one.name for one in signal.Signals}
_LEFT_ALONE: Final = {
    *("SIGKILL", "SIGSTOP"),  # nothing can note these
    *("SIGCHLD", "SIGCONT", "SIGPIPE", "SIGURG", "SIGWINCH"),  # these end nothing
    *("SIGBUS", "SIGFPE", "SIGILL", "SIGSEGV", "SIGSYS", "SIGTRAP"),  # after these nothing can go on
}


class Port(Protocol):
    """What a serial port must do, as pyserial's do."""

    @property
    def in_waiting(self) -> int:
        """How much has come in."""

    @property
    def out_waiting(self) -> int:
        """How much is given to it and not yet sent."""

    def fileno(self) -> int:
        """Return the handle to ask whether it takes more; raise OSError where it has none."""

    def write(self, data: bytes, /) -> int | None:
        """Take bytes, as many as it can without waiting, and return how many."""

    def read(self, size: int = 1, /) -> bytes:
        """Return what has come in, waiting a moment for it."""

    def reset_output_buffer(self) -> None:
        """Throw away what is not yet sent."""

    def set_output_flow_control(self, enable: bool = True, /) -> None:
        """Let it send, though it was asked to wait."""


@dataclass(frozen=True)
class FileLine:
    """One line of a file that is sent.

    Args:
        number: in the file, from 1.
        text: without comments and line end.
        parts: how many parts are done when it begins.
        seconds: how long the file has run when it is done, estimated.
    """

    number: int
    text: str
    parts: int = 0
    seconds: float = 0.0


@dataclass(frozen=True)
class SendProgress:
    """How far the sending is.

    Args:
        answered: lines the machine has taken.
        lines: lines there are.
        parts: parts that are done, as far as the machine has taken lines.
        all_parts: parts there are.
        seconds: how long the file has run so far, estimated.
        all_seconds: how long all of it takes, estimated.
        held: whether it is held.
        said: what the machine said beside its answers; empty for nothing.
    """

    answered: int
    lines: int
    parts: int
    all_parts: int
    seconds: float
    all_seconds: float
    held: bool = False
    said: str = ""


def lines_of(text: str) -> tuple[FileLine, ...]:
    r"""Return the lines of a G-code text that are sent: comments and empty ones are not.

    Example:
        >>> [(line.number, line.text) for line in lines_of("(two belts)\nG21\n\nG0 X1 (there)\n")]
        [(2, 'G21'), (4, 'G0 X1')]
    """
    lines: list[FileLine] = []
    done = parts = 0
    for number, line in enumerate(text.splitlines(), 1):
        if done_line := _DONE.match(line):
            done, parts = int(done_line[1]), int(done_line[2])
        if bare := _COMMENT.sub("", line).strip():
            lines.append(FileLine(number, bare, done))
    if lines:
        lines[-1] = replace(lines[-1], parts=parts)
    taken = _seconds([line.text for line in lines])
    estimated = _TIME.search(text)
    share = float(estimated[1]) / sum(taken) if estimated and sum(taken) else 1.0
    passed = 0.0
    for k, seconds in enumerate(taken):
        passed += seconds * share
        lines[k] = replace(lines[k], seconds=passed)
    return tuple(lines)


def patience_for(lines: Sequence[str]) -> float:
    """Return how long a machine may be silent before its line counts as lost, seconds.

    It answers a line when it has room for it, so that it may be silent for as long as its longest move.

    Example:
        >>> patience_for(["G21", "G0 X0 Y0", "G1 X600 F600"])
        70.0
    """
    return _LEAST_PATIENCE + max(_seconds(lines), default=0.0)


def _seconds(lines: Sequence[str]) -> list[float]:
    """Return how long each line's move takes at most, at its feed or as the slowest machine travels."""
    at = {"X": 0.0, "Y": 0.0, "Z": 0.0}
    feed, scale = 0.0, 1.0
    taken = []
    for line in lines:
        scale = MM_PER_INCH if line == "G20" else scale
        words = {letter: float(value) for letter, value in _WORD.findall(line)}
        feed = words.pop("F", feed)
        before = dict(at)
        at |= words
        speed = _SLOWEST_RAPID / scale if line.startswith("G0") else feed / 60
        way = math.dist(list(before.values()), list(at.values()))
        way *= math.pi / 2 if line.startswith(("G2", "G3")) else 1.0  # a half turn at most
        taken.append(way / speed if speed else 0.0)
    return taken


@contextmanager
def signals_noted() -> Iterator[Callable[[], str]]:
    """Note signals that would end or suspend the program, and yield a function that names the first.

    Only the main thread can ask for that; in any other they do what they did.
    """
    heard: list[str] = []

    def note(number: int, _frame: object) -> None:
        heard.append(_SIGNALS.get(number, f"signal {number}"))

    before = {}
    if threading.current_thread() is threading.main_thread():
        for number in signal.valid_signals():
            if _SIGNALS.get(number) not in _LEFT_ALONE:
                before[number] = signal.signal(number, note)
    try:
        yield lambda: heard[0] if heard else ""
    finally:
        for number, handler in before.items():
            signal.signal(number, signal.SIG_DFL if handler is None else handler)


class Stream:
    """The sending of one file to a machine.

    Args:
        port: open, its reads returning after a moment at most and its writes at once.
        serial: the machine's words, and how many characters it takes in.
        lines: to be sent.
        patience: seconds of silence after which the line counts as lost; None calculates it from the lines.
    """

    def __init__(
        self, port: Port, serial: Serial, lines: Sequence[FileLine], patience: float | None = None
    ) -> None:
        self._port, self._serial, self._lines = port, serial, lines
        self._patience = patience_for([line.text for line in lines]) if patience is None else patience
        # Before the last line an empty one is sent: by its answer every answer has found its line.
        self._todo = [*lines[:-1], replace(lines[max(len(lines) - 2, 0)], text=""), lines[-1]]
        self._sent = self._answered = 0
        self._waiting: deque[int] = deque()  # characters of each line sent and not yet answered
        self._going_out = bytearray()  # what the port has not taken yet
        self._partial = b""
        self._held = False
        self._pressed: float | None = None  # when hold or resume began to wait for the line
        self._heard = self._settled = self._awake = _clock()  # last sign of life; last answer or first line

    def run(
        self,
        *,
        progress: Callable[[SendProgress], None] | None = None,
        key: Callable[[], Key | None] | None = None,
        signalled: Callable[[], str] | None = None,
    ) -> None:
        """Send everything and return when the last line is answered.

        Args:
            progress: called after each answer, and when held or resumed; must not wait for anything.
            key: asked often for what was pressed: hold (again to go on) or stop.
            signalled: asked often for the name of a signal that came, see :func:`signals_noted`.

        Raises:
            SendError: the machine refused a line, raised an alarm, restarted, fell silent, answered more than
                it was asked, was disturbed or lost, or it was stopped here; hold and reset have been sent
                then, as far as the profile has them and the line still carries them.
        """
        longest = max(len(line.text) + 1 for line in self._lines)
        if longest > (self._serial.buffer or longest):
            raise SendError(
                f"a line of {longest} characters is longer than the machine's buffer, "
                f"{self._serial.buffer}; correct serial.buffer in the profile; nothing was sent"
            )
        self._tell = progress or (lambda _: None)
        self._key, self._signalled = key or (lambda: None), signalled or (lambda: "")
        try:
            self._greet()
            while self._answered < len(self._todo) or not self._is_quiet():
                self._fill()
                self._look()
                for answer in self._answers():
                    self._take(answer)
                self._expect_life()
        except SendError as error:
            raise SendError(f"{error}; {self._stop()}") from error.__cause__
        except BaseException:
            self._stop()
            raise

    def _greet(self) -> None:
        """Send empty lines until the machine answers, and wait until it has no answer left."""
        start = asked_at = _clock()
        asked = answered = 0
        noise = ""
        while not answered or not self._is_quiet(1 if answered >= asked else 2):
            now = _clock()
            if answered and now - start > self._serial.startup_s + _LEAST_PATIENCE:
                raise SendError(
                    "the machine keeps answering although nothing was asked; put serial.acknowledgement, "
                    "what a good answer begins with, in the profile; no line of the file was sent"
                )
            if not answered and now - start > self._serial.startup_s:
                heard = f"; all it said was {noise!r}, which a wrong baud looks like" if noise else ""
                good = self._serial.acknowledgement
                raise SendError(
                    f"the machine did not answer {'anything' if good is None else repr(good)} to an empty "
                    f"line within {self._serial.startup_s:g} s{heard}; see that it is on and that port and "
                    "baud are right; no line of the file was sent"
                )
            if not answered and (not asked or now - asked_at > _ASK_EVERY) and not self._going_out:
                self._going_out += b"\n"
                asked, asked_at = asked + 1, now
            self._look()
            for answer in self._answers():
                kind = self._kind(answer)
                if kind == "alarm":
                    raise SendError(
                        f'the machine reports an alarm, "{_legible(answer)}", before it begins; clear it at '
                        "the machine; no line of the file was sent"
                    )
                if kind == "greeting":  # what it was asked before it started is lost
                    asked = answered = 0
                elif kind in ("good", "error"):
                    answered, self._settled = answered + 1, now
                elif kind == "noise":
                    noise = _legible(answer)
                elif answer:
                    self._report(answer)

    def _look(self) -> None:
        """Look at everything that may stop or hold the run, and let out what waits to be sent."""
        now = _clock()
        asleep, self._awake = now - self._awake, now
        if name := self._signalled():
            raise SendError(f"ended by {name} {self._where()}")
        if asleep > _STOOD_STILL:
            raise SendError(f"the computer slept, or did not run this, for {asleep:.0f} s {self._where()}")
        pressed = self._key()
        if pressed == "stop":
            raise SendError(f"stopped at the keyboard {self._where()}")
        if pressed == "hold" and self._serial.hold and self._serial.resume:
            self._held = not self._held
            self._going_out += (self._serial.hold if self._held else self._serial.resume).encode("latin-1")
            self._pressed = self._heard = now
            self._report()
        self._let_out()
        if not self._going_out:
            self._pressed = None
        elif self._pressed is not None and now - self._pressed > _URGENT:
            raise SendError(f"the line did not take hold or resume {self._where()}")

    def _expect_life(self) -> None:
        """Refuse to wait longer than a machine may take for its longest move."""
        if self._held or not self._waiting:
            return  # it may be silent as long as it is held
        if _clock() - self._heard > self._patience:
            raise SendError(
                f"the machine has been silent for {self._patience:.0f} s {self._where()}; "
                "look at the machine before anything else"
            )

    def _fill(self) -> None:
        """Send lines ahead as far as the machine takes them in; the last once all others are answered."""
        while self._sent < len(self._todo) and not self._held and not self._going_out:
            if self._sent == len(self._todo) - 1 and (self._waiting or not self._is_quiet()):
                return
            data = self._todo[self._sent].text.encode("ascii") + b"\n"
            if self._waiting and sum(self._waiting) + len(data) > (self._serial.buffer or 0):
                return
            if not self._waiting:
                self._heard = _clock()
            self._going_out += data
            self._waiting.append(len(data))
            self._sent += 1
            self._let_out()

    def _kind(self, answer: str) -> str:
        """Return what the machine means: good, error, alarm, greeting, noise, or nothing of these."""
        for name in ("alarm", "greeting", "error", "acknowledgement"):
            word = getattr(self._serial, name)
            if word and answer.startswith(word):
                return "good" if name == "acknowledgement" else name
        if not answer.isprintable() or not answer.isascii():
            return "noise"
        return "good" if answer and self._serial.acknowledgement is None else ""

    def _take(self, answer: str) -> None:
        """Take one line the machine said."""
        kind, said = self._kind(answer), _legible(answer)
        if kind == "error":
            where = self._where()  # before the line, answered if not as it should be, leaves the queue
            if self._waiting:
                self._waiting.popleft()
            raise SendError(f'the machine refused {where} with "{said}"')
        if kind == "alarm":
            raise SendError(f'the machine reports an alarm, "{said}", {self._where()}')
        if kind == "greeting":
            raise SendError(f'the machine has restarted, "{said}", {self._where()}')
        if kind == "noise":  # what nobody can read means a disturbed line
            raise SendError(
                f"the connection is disturbed {self._where()}: it carried {said!r}; look at cable, plugs "
                "and baud"
            )
        if kind == "good":
            if not self._waiting:
                raise SendError(
                    f'the machine answered more lines than it was sent, with "{said}", {self._where()}, so '
                    "that it is not known which lines it took"
                )
            self._waiting.popleft()
            self._answered += 1
            self._settled = _clock()
            if self._answered != len(self._todo) - 1:  # the empty line is not the file's
                self._report()
        elif said:
            self._report(answer)

    def _report(self, said: str = "") -> None:
        """Report how far it is."""
        answered = min(self._answered, len(self._lines) - (self._answered < len(self._todo)))
        last = self._lines[-1]
        at = self._lines[answered - 1] if answered else FileLine(0, "")
        self._tell(
            SendProgress(
                answered, len(self._lines), at.parts, last.parts, at.seconds, last.seconds, self._held, said
            )
        )

    def _answers(self) -> list[str]:
        """Return the whole lines that have come in."""
        with _line_lost(self._where):
            came = self._port.read(max(1, min(self._port.in_waiting, _CHUNK)))
        if came:
            self._heard = _clock()
        *whole, self._partial = (self._partial + came).split(b"\n")
        if len(self._partial) > 1024:
            whole, self._partial = [self._partial], b""
        return [line.decode("latin-1").strip(" \r\t") for line in whole]

    def _let_out(self) -> None:
        """Give the port what it takes without waiting."""
        with _line_lost(self._where):
            while self._going_out and _takes_more(self._port):
                count = self._port.write(bytes(self._going_out[:_CHUNK]))
                del self._going_out[: _CHUNK if count is None else count]

    def _stop(self) -> str:
        """Send hold and reset at once, past whatever waits, and say what went out and what now stands."""
        said = self._send_urgent()
        if self._sent:
            least, most = self._todo[max(self._answered - 1, 0)].number, self._todo[self._sent - 1].number
            said += f"; the machine took line {least}" if self._answered else "; the machine took no line"
            said += f" and may still do everything up to line {most}" if self._waiting else ""
        return f"{said}; make sure the tool is off and has stopped before you go near"

    def _send_urgent(self) -> str:
        names = [name for name in ("hold", "reset") if getattr(self._serial, name)]
        if not names:
            return "the profile names no word that stops this machine: use its own stop NOW"
        data = b""
        for name in names:
            word = getattr(self._serial, name).encode("latin-1")
            data += b"\n" + word if word.endswith((b"\n", b"\r")) else word  # a line of its own
        for make_room in (self._port.reset_output_buffer, self._port.set_output_flow_control):
            _try(make_room)
        end = _clock() + _URGENT
        self._going_out[:] = data  # what waited here is thrown away as well
        while (self._going_out or _try(lambda: self._port.out_waiting)) and _clock() < end:
            _try(self._let_out)
            time.sleep(0.002)
        words = " and ".join(names)
        if self._going_out or _try(lambda: self._port.out_waiting) != 0:
            return f"{words} could not be sent: use the machine's own stop NOW"
        if "reset" not in names:
            return "hold was sent, but the profile names no reset word: use the machine's own stop NOW"
        return f"{words} were sent" if len(names) > 1 else f"{words} was sent"

    def _where(self) -> str:
        """Return where the sending is: the line of the file that waits for its answer."""
        if not self._sent:
            return "before the first line"
        if self._answered >= len(self._todo):
            return "after the last line"
        line = self._todo[self._answered]
        at = "at" if self._waiting and line.text else "before"
        line = line if line.text else self._todo[-1]
        return f'{at} line {line.number} of the file, "{line.text}"'

    def _is_quiet(self, times: float = 1.0) -> bool:
        """Whether the machine has answered nothing for so long that nothing is left to come."""
        return _clock() - self._settled > times * _QUIET


def _clock() -> float:
    """Return seconds that go on while the computer sleeps."""
    boot = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if boot is None else time.clock_gettime(boot)


def _takes_more(port: Port) -> bool:
    """Whether a port takes a byte without waiting."""
    try:
        number = port.fileno()
    except OSError:  # where ports are no files, one that has sent everything does
        return port.out_waiting == 0
    return bool(select.select([], [number], [], 0)[1])


def _try(action: Callable[[], object]) -> object:
    """Return what an action returns, or None if it fails: whatever it is, what comes next must be tried."""
    try:
        return action()
    except Exception:  # noqa: BLE001 - a terminal's own error is no OSError
        return None


@contextmanager
def _line_lost(where: Callable[[], str]) -> Iterator[None]:
    """Raise what names the line of the file at which the port failed; pyserial's errors are of this kind."""
    try:
        yield
    except OSError as error:
        raise SendError(f"the line was lost {where()} ({_legible(str(error))})") from error


def _legible(text: str) -> str:
    """Return at most 60 characters that any terminal shows."""
    return "".join(c if c.isascii() and c.isprintable() else "?" for c in text)[:60]
