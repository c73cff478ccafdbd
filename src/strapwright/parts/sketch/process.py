"""Running a sketch in a process of its own, limited in time and memory, and keeping what it drew.

A new interpreter is started rather than this one forked: the modeller hangs in a fork, and nothing that a
sketch does to its interpreter (ends it, exhausts its memory, raises what no handler expects) is felt here.
This guards against mistakes; it is no sandbox: a sketch may do all that its user may.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import math
import os
import queue
import secrets
import signal
import subprocess
import sys
import threading
import traceback
import types
from importlib import metadata
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.core.errors import GeometryError, PartError, os_reason
from strapwright.core.text import printable
from strapwright.files.user_folders import cache_folder
from strapwright.geometry.contour import Contour
from strapwright.parts.sketch.modeller import contours_of, load_modeller

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

LOAD_SECONDS: Final = 120.0
"""Longest wait for the modeller to load, s: 3 s from memory, far more from a slow disk."""

DRAW_SECONDS: Final = 60.0
"""Longest time a sketch may then draw, s: one of lines and arcs takes well under 1 s."""

DRAW_MEMORY: Final = 1 << 30
"""Memory a sketch may take beside the modeller's own, bytes, where the system can limit it (Linux)."""

MOST_ANSWER: Final = 4_000_000
"""Longest answer read, bytes: 5000 edges take one."""

MOST_PRINTED: Final = 20_000
"""How much of what a sketch prints is shown, bytes."""

MOST_KEPT: Final = 500
"""Drawings kept on disk; the oldest go first."""

_START: Final = (
    "import sys; sys.path[:] = sys.argv[1:]; from strapwright.parts.sketch.process import main; main()"
)

Drawing = tuple[list[Contour], int]
"""The lines drawn, closed or open, and how many faces they came as."""


def draw(source: str, name: str, function: str, arguments: tuple[float, ...]) -> Drawing:
    """Return what a function of a sketch draws; the same text and arguments are run once and kept.

    Args:
        source: the text of the file.
        name: of the file, for messages.
        function: what is called.
        arguments: numbers it is called with.

    Raises:
        PartError: the sketch fails, never ends, or takes too much memory: one line with the file's name.
    """
    kept = cache_folder("sketches") / f"{_digest(source, function, arguments)}.json"
    with contextlib.suppress(OSError, ValueError):
        return _drawing(kept.read_bytes())
    answer = _ask(source, name, function, arguments)
    try:
        drawing = _drawing(answer)
    except PartError as error:
        raise PartError(f"{name}: {error}") from error
    except ValueError as error:
        raise PartError(f"{name}: {function}() gave no drawing that can be read") from error
    _keep(kept, answer)
    return drawing


def _drawing(answer: bytes) -> Drawing:
    """Return what an answer says was drawn; it may come from a file that anything wrote.

    Raises:
        PartError: it says what went wrong.
        ValueError: it is no drawing.
    """
    try:
        data = json.loads(answer)
        if "error" in data:
            raise PartError(printable(str(data["error"]))[:400])
        runs = [(np.array(run["vertices"], dtype=float), bool(run["closed"])) for run in data["runs"]]
        faces = int(data["faces"])
    except (TypeError, KeyError, RecursionError, OverflowError) as error:
        raise ValueError("no drawing") from error
    if not runs or any(v.ndim != 2 or v.shape[1] != 3 or not np.isfinite(v).all() for v, _ in runs):
        raise ValueError("no drawing")
    return [Contour(vertices, closed) for vertices, closed in runs], faces


def _digest(source: str, function: str, arguments: tuple[float, ...]) -> str:
    versions = [sys.version]
    for package in ("strapwright", "cadquery"):
        with contextlib.suppress(metadata.PackageNotFoundError):
            versions.append(metadata.version(package))
    return hashlib.sha256(json.dumps([source, function, arguments, versions]).encode()).hexdigest()


def _keep(path: Path, answer: bytes) -> None:
    """Keep an answer whole; where the disk does not allow it, it is drawn anew next time."""
    if not path.is_absolute():  # nobody's home is known
        return
    temporary = path.with_name(f"{secrets.token_hex(8)}.new")
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            temporary.write_bytes(answer)
            os.replace(temporary, path)
        finally:
            temporary.unlink(missing_ok=True)
        oldest = sorted(path.parent.iterdir(), key=lambda one: -one.stat().st_mtime)[MOST_KEPT:]
        for one in oldest:
            one.unlink(missing_ok=True)


def _ask(source: str, name: str, function: str, arguments: tuple[float, ...]) -> bytes:
    """Run a sketch's function in a process of its own and return its answer."""
    _say(f"running {printable(name)} with CadQuery; loading it takes seconds")
    request = json.dumps([source, name, function, arguments]).encode()
    with _started(name, request) as (process, lines, printed):
        try:
            answer = lines.get(timeout=LOAD_SECONDS)
            if answer == b"loaded":
                answer = lines.get(timeout=DRAW_SECONDS)
        except queue.Empty:
            raise PartError(
                f"{name}: {function}() was ended after {DRAW_SECONDS:g} s; expected a drawing within that: "
                "does it wait for something, or go round for ever?"
            ) from None
        finally:
            ended = _end(process)
            for line in printed():
                _say(f"{printable(name)}: {printable(line)}")
    if not answer:
        raise PartError(f"{name}: {function}() {ended}; expected it to return a drawing")
    if len(answer) > MOST_ANSWER:
        raise PartError(f"{name}: {function}() draws more than can be read; expected one flat piece")
    return answer


@contextlib.contextmanager
def _started(
    name: str, request: bytes
) -> Iterator[tuple[subprocess.Popen[bytes], queue.Queue[bytes], Callable[[], list[str]]]]:
    """Start the process; yield it, its lines as they come (an empty one at the end), and what it printed."""
    path = [one for one in sys.path if one]
    try:
        process = subprocess.Popen(  # noqa: S603  # this interpreter, with a program of ours
            [sys.executable, "-P", "-c", _START, *path],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            bufsize=0,  # so that closing waits for no reader
            start_new_session=True,  # Ctrl-C comes here alone, and what it starts is ended with it
        )
    except OSError as error:
        reason = os_reason(error)
        raise PartError(f"{name}: Python cannot be started to run it: {reason}") from error
    assert process.stdin is not None
    assert process.stdout is not None
    assert process.stderr is not None
    lines: queue.Queue[bytes] = queue.Queue()
    shown = bytearray()
    readers = [
        threading.Thread(target=_read_lines, args=(process.stdout, lines), daemon=True),
        threading.Thread(target=_read_all, args=(process.stderr, shown), daemon=True),
    ]

    def printed() -> list[str]:
        readers[1].join(timeout=1.0)
        text = bytes(shown).decode("utf-8", "replace")
        return [*text.splitlines(), *(["…"] if len(shown) == MOST_PRINTED else [])]

    with contextlib.ExitStack() as stack:
        for stream in (process.stdin, process.stdout, process.stderr):
            stack.callback(stream.close)
        stack.callback(_end, process)
        for reader in readers:
            reader.start()
        with contextlib.suppress(OSError):  # it ended before it had read: its answer says so
            process.stdin.write(request + b"\n")
        yield process, lines, printed


def _read_lines(stream: IO[bytes], lines: queue.Queue[bytes]) -> None:
    left = b""
    with contextlib.suppress(OSError, ValueError):
        while len(left) <= MOST_ANSWER and (chunk := stream.read(1 << 16)):
            *whole, left = (left + chunk).split(b"\n")
            for line in whole:
                lines.put(line)
    lines.put(left)


def _read_all(stream: IO[bytes], shown: bytearray) -> None:
    with contextlib.suppress(OSError, ValueError):
        while chunk := stream.read(1 << 16):
            shown.extend(chunk[: MOST_PRINTED - len(shown)])


def _end(process: subprocess.Popen[bytes]) -> str:
    """End a process and what it started, unless it has ended by itself; return how it ended, in words."""
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(timeout=0.2)
    if sys.platform != "win32":
        with contextlib.suppress(OSError):
            os.killpg(process.pid, signal.SIGKILL)
    if process.poll() is None:
        process.kill()
    status = process.wait()
    if status >= 0:
        return f"ended Python with status {status}"
    with contextlib.suppress(ValueError):
        return f"brought Python down ({signal.Signals(-status).name}): too deep a recursion?"
    return f"brought Python down (signal {-status})"


def _say(line: str) -> None:
    """Say on stderr what is run: code is never run in silence, whoever called."""
    if sys.stderr is not None:
        sys.stderr.write(f"{line}\n")


# What follows runs in the new process.


def main() -> None:
    """Answer the one request on stdin: a line once the modeller is loaded, and a line with the drawing."""
    answers = os.dup(1)
    os.dup2(2, 1)  # what a sketch prints is no answer
    source, name, function, arguments = json.loads(sys.stdin.buffer.readline())
    if hasattr(signal, "alarm"):
        signal.alarm(math.ceil(LOAD_SECONDS + DRAW_SECONDS))  # should nobody be there any more to end this

    def answer(text: str) -> None:
        data = memoryview(text.encode() + b"\n")
        while data:
            data = data[os.write(answers, data) :]

    try:
        cadquery = load_modeller("a sketch")
    except PartError as error:
        answer(json.dumps({"error": str(error)}))
        os._exit(0)
    answer("loaded")
    _limit_memory()
    answer(json.dumps(answered(cadquery, source, name, function, tuple(arguments))))
    with contextlib.suppress(BaseException):
        sys.stdout.flush()
    with contextlib.suppress(BaseException):
        sys.stderr.flush()
    os._exit(0)  # whatever threads it has left


def answered(
    cadquery: Any, source: str, name: str, function: str, arguments: tuple[float, ...]
) -> dict[str, Any]:
    """Run a sketch's function here and return its drawing, or what went wrong, as JSON has it.

    Args:
        cadquery: the modeller, loaded.
        source: the text of the file.
        name: of the file, by which its lines are known.
        function: what is called.
        arguments: numbers it is called with.
    """
    try:
        result = _defined(source, name, function)(*arguments)
    except BaseException as error:  # noqa: BLE001  # whatever a sketch raises is reported
        return {"error": _raised(name, error)}
    if result is None:
        return {"error": f"{function}() returns nothing; expected a cadquery Workplane, Sketch or Wire"}
    try:
        runs, faces = contours_of(cadquery, result)
    except (GeometryError, PartError) as error:
        return {"error": f"{function}() {error}"}
    except BaseException as error:  # noqa: BLE001  # what it returns may be of a class of its own
        return {"error": _raised(name, error)}
    return {"runs": [{"closed": r.closed, "vertices": r.vertices.tolist()} for r in runs], "faces": faces}


def _defined(source: str, name: str, function: str) -> Callable[..., object]:
    module = types.ModuleType("sketch")
    module.__file__ = name
    exec(compile(source, name, "exec"), module.__dict__)  # noqa: S102  # the user's own code, as they asked
    found = getattr(module, function, None)
    if not callable(found):
        wanted = "def sketch(width)" if function == "sketch" else "def part()"
        raise PartError(f"defines no function {function}; expected {wanted} in it")
    return found  # type: ignore[no-any-return]


def _raised(name: str, error: BaseException) -> str:
    """Return in one line what a sketch raised; an exception's text is code of the sketch's too."""
    try:
        if type(error) is PartError:
            return str(error)
        if isinstance(error, MemoryError):
            return f"needs more than {DRAW_MEMORY / 1e9:.1f} GB of memory"
        if isinstance(error, SyntaxError):
            line = f"line {error.lineno}: " if error.lineno else ""
            return f"{line}not valid Python: {_one_line(str(error.msg))}"
        own = [frame.lineno for frame in traceback.extract_tb(error.__traceback__) if frame.filename == name]
        line = f"line {own[-1]}: " if own else ""
        if isinstance(error, ModuleNotFoundError):
            return (
                f"{line}imports {error.name}, which is not installed; a sketch is one file and cannot import "
                "another beside it: put what it needs into it"
            )
        kind = type(error).__name__
    except BaseException:  # noqa: BLE001  # even its class may be code
        return "raises what cannot be put in words"
    try:
        said = _one_line(str(error))
    except BaseException:  # noqa: BLE001  # an error's text may end the process
        return f"{line}{kind}, whose own text raises another error"
    return f"{line}{kind}" + (f": {said}" if said else "")


def _one_line(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 200 else f"{line[:199]}…"


def _limit_memory() -> None:
    """Let the sketch take so much more than is taken now, where the system says how much that is."""
    if sys.platform != "linux":
        return
    import resource

    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    taken = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    most = taken + DRAW_MEMORY if hard == resource.RLIM_INFINITY else min(taken + DRAW_MEMORY, hard)
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
