"""The order to end a proof that another thread is at, heard by compiled code and by the solver."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import threading

_AGAIN = 0.05
"""Seconds after which a solver that may have begun meanwhile is told again."""


class Halt:
    """An order that is given once and holds.

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
        """Give the order, and return once a thread has heard it."""
        self.given[0] = True
        while thread.is_alive():
            if (solver := self.solver) is not None:
                solver.stop_search()
            thread.join(_AGAIN)
