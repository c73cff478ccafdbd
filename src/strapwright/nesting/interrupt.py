"""Note that Ctrl-C was pressed, where an engine that keeps its best when it is broken off tells nobody."""

from __future__ import annotations

import signal
import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from types import FrameType


@contextmanager
def noting_ctrl_c() -> Iterator[Callable[[], bool]]:
    """Yield what answers whether Ctrl-C was pressed since; it does besides what it did before.

    Only the main thread hears of it; elsewhere the answer is always no.
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
