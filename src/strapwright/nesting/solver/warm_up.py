"""Compile the search before its time begins to count: ten seconds, once on a machine."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from contextlib import contextmanager, suppress
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting import UNKEPT
from strapwright.nesting.cancellation import noting_ctrl_c

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from strapwright.core.arrays import Points
    from strapwright.nesting.problem import Piece, Problem

COMPILING = "compiling the search, once for this machine"
"""Reported while it is compiled."""

COMPILING_UNKEPT = (
    "compiling the search; it cannot be kept, since neither the installation nor your cache folder may be "
    "written to (NUMBA_CACHE_DIR can name another)"
)
"""Reported where it will be compiled again next time."""


def compile_search(pieces: Iterable[Piece], report: Callable[[str], None] | None = None) -> None:
    """Compile the search for such pieces, or load it where it has been compiled before.

    numba compiles one function at a time, whatever the threads. So a second process compiles a half of it
    into the same cache, from which it is loaded here.

    Args:
        pieces: what will be laid: straps, other pieces, or both.
        report: called with what is done, in words, only where something is indeed compiled.

    Raises:
        KeyboardInterrupt: Ctrl-C was pressed meanwhile; nothing is found yet that could be kept.
    """
    kinds = {piece.strap for piece in pieces}
    searches = [_search_straps] if True in kinds else []
    searches += [_lay_others, _exchange_others] if False in kinds else []
    with _second_process(report, wanted=False in kinds) as second, noting_ctrl_c() as interrupted:
        for search in searches:
            try:
                if search is _exchange_others:
                    second()
                search()
            except RuntimeError:  # what numba raises where its work is broken off half way
                if not interrupted():
                    raise
            if interrupted():
                raise KeyboardInterrupt


@contextmanager
def _second_process(report: Callable[[str], None] | None, *, wanted: bool) -> Iterator[Callable[[], None]]:
    """Report when numba first compiles something and when it ends, and start a second process for its share.

    Yields:
        What waits for that process. It is no loss but of time if it fails: what it did not compile is
        compiled here.
    """
    from numba.core import event

    class Listener(event.Listener):
        begun = False
        second: subprocess.Popen[bytes] | None = None

        def on_start(self, _: event.Event) -> None:
            if self.begun:
                return
            self.begun = True
            if report is not None:
                report(COMPILING_UNKEPT if UNKEPT in os.environ else COMPILING)
            if wanted:
                nowhere, this = subprocess.DEVNULL, [sys.executable, "-P", "-m", __name__]
                with suppress(OSError):
                    self.second = subprocess.Popen(this, stdin=nowhere, stdout=nowhere, stderr=nowhere)  # noqa: S603

        def on_end(self, _: event.Event) -> None:
            pass

    listener = Listener()
    try:
        with event.install_listener("numba:compile", listener):

            def finished() -> None:
                if listener.second is not None:
                    listener.second.wait()

            yield finished
    finally:
        if listener.second is not None:
            listener.second.kill()
            listener.second.wait()
    if listener.begun and report is not None:
        report("making a first layout")


@cache
def _search_straps() -> None:
    """Lay two straps of which one does not fit, in every way there is."""
    from strapwright.nesting.bound.relaxation import value_bounds
    from strapwright.nesting.problem import Ground, Problem
    from strapwright.nesting.solver.solve import solve

    straps = tuple(_piece(n, _box(length, 10.0), strap=True) for n, length in enumerate((90.0, 80.0)))
    problem = Problem(straps, (Ground(_box(100.0, 15.0)),), gap=2.0, margin=2.0)
    solve(problem, steps=6, prove=False)
    next(value_bounds(problem, 0, lambda: 0.0, lambda count: count < 1))


@cache
def _lay_others() -> None:
    """Lay tabs, some alike and one by itself, that do not all fit."""
    from strapwright.nesting.shape_search.lay_shapes import lay_shapes

    lay_shapes(_tabs(), steps=1)


@cache
def _exchange_others() -> None:
    """Exchange such tabs for others: what the second process compiles."""
    from strapwright.nesting.shape_search.lay_shapes import ExchangeSearch
    from strapwright.nesting.shape_search.nfp_cache import NfpCache

    problem = _tabs()
    cache = NfpCache(problem, 0, range(len(problem.pieces)))
    search = ExchangeSearch(cache, seed=0)
    search.begin()
    search.run(lambda tried: tried > 1)


def _tabs() -> Problem:
    from strapwright.nesting.problem import Ground, Problem

    alike = [_piece(0, _box(20.0, 10.0), strap=False)] * 9
    tabs = (_piece(1, _box(20.0, 12.0), strap=False), *alike)
    return Problem(tabs, (Ground(_box(30.0, 25.0)),), gap=2.0, margin=2.0)


def _piece(number: int, outline: Points, *, strap: bool) -> Piece:
    from strapwright.nesting.problem import Piece

    turns, area = (0.0, math.pi), float(np.prod(outline.max(axis=0)))
    return Piece(f"piece {number}", outline, turns, frozenset(), (), area, number, strap)


def _box(length: float, width: float) -> Points:
    return np.array([(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)])


if __name__ == "__main__":
    _exchange_others()
