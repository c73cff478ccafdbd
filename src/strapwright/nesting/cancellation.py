"""Cancellation: Ctrl-C noted during a search, and the flag that ends compiled code and the solver."""

from __future__ import annotations

import signal
import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from types import FrameType

_AGAIN = 0.05
"""Seconds after which a solver that may have begun meanwhile is stopped again."""

_BROKEN_OFF: Final = threading.Event()
"""Set by Ctrl-C while it is deferred; one for the process, as the signal is."""


def broken_off() -> bool:
    """Whether Ctrl-C was pressed in the search that is going on; asked wherever work may end."""
    return _BROKEN_OFF.is_set()


@contextmanager
def deferring_ctrl_c() -> Iterator[None]:
    """Let Ctrl-C raise nothing, but set what `broken_off` returns: whatever is half done is finished first.

    Pressed once more it does what it did before, for who will not wait. Only the main thread receives it.
    """
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(before):
        yield
        return

    def defer(number: int, frame: FrameType | None) -> object:
        if _BROKEN_OFF.is_set():
            return before(number, frame)
        _BROKEN_OFF.set()
        return None

    _BROKEN_OFF.clear()
    signal.signal(signal.SIGINT, defer)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        _BROKEN_OFF.clear()


@contextmanager
def noting_ctrl_c() -> Iterator[Callable[[], bool]]:
    """Yield a function that says whether Ctrl-C was pressed since; Ctrl-C still does what it did before.

    Only the main thread receives it; in any other the answer is always no.
    """
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(before):
        yield lambda: False
        return
    pressed = threading.Event()

    def note(number: int, frame: FrameType | None) -> object:
        pressed.set()
        return before(number, frame)

    signal.signal(signal.SIGINT, note)
    try:
        yield pressed.is_set
    finally:
        signal.signal(signal.SIGINT, before)


class Halt:
    """A flag that is set once and ends what looks at it: compiled code, a solver, a thread.

    Example:
        >>> from threading import Thread
        >>> halt, thread = Halt(), Thread()
        >>> halt.end(thread)
        >>> bool(halt.given[0])
        True
    """

    def __init__(self) -> None:
        self.given = np.zeros(1, dtype=np.bool_)
        """Looked at by compiled code, (1,)."""
        self.solver: Any = None
        """The solver at work, if any."""

    def end(self, thread: threading.Thread) -> None:
        """Set the flag, and return once a thread has ended."""
        self.given[0] = True
        while thread.is_alive():
            if (solver := self.solver) is not None:
                solver.stop_search()
            thread.join(_AGAIN)
