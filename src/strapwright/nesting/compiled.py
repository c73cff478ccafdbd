"""Have the search compiled before its time begins to count: once on a machine that takes half a minute."""

from __future__ import annotations

import math
from contextlib import contextmanager
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.interrupt import noting_ctrl_c

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from strapwright.nesting.problem import Piece, Points

COMPILING = "compiling the search, once on this machine"
"""What is told while it is compiled."""


def compile_search(pieces: Iterable[Piece], tell: Callable[[str], None] | None = None) -> None:
    """Return once what searches for places of such pieces is compiled, or loaded where it has been before.

    Args:
        pieces: what will be laid: straps, other pieces, or both.
        tell: called with what is done, in words, only where something is indeed compiled.

    Raises:
        KeyboardInterrupt: Ctrl-C was pressed meanwhile; nothing is found yet that could be kept.
    """
    kinds = {piece.strap for piece in pieces}
    with _telling(tell), noting_ctrl_c() as interrupted:
        for strap, search in ((True, _search_straps), (False, _search_others)):
            try:
                if strap in kinds:
                    search()
            except RuntimeError:  # what numba raises where its work is broken off half way
                if not interrupted():
                    raise
            if interrupted():
                raise KeyboardInterrupt


@contextmanager
def _telling(tell: Callable[[str], None] | None) -> Iterator[None]:
    """Tell the first time that numba compiles something, and once that is over."""
    from numba.core import event

    class Listener(event.Listener):
        told = False

        def on_start(self, _: event.Event) -> None:
            if not self.told and tell is not None:
                tell(COMPILING)
            self.told = True

        def on_end(self, _: event.Event) -> None:
            pass

    listener = Listener()
    with event.install_listener("numba:compile", listener):
        yield
    if listener.told and tell is not None:
        tell("making a first layout")


@cache
def _search_straps() -> None:
    """Lay two straps of which one finds no room, in every way there is."""
    from strapwright.nesting.problem import Ground, Problem
    from strapwright.nesting.proof import most_value
    from strapwright.nesting.solve import solve

    straps = tuple(_piece(n, _box(length, 10.0), strap=True) for n, length in enumerate((90.0, 80.0)))
    problem = Problem(straps, (Ground(_box(100.0, 15.0)),), gap=2.0, margin=2.0)
    solve(problem, steps=6, prove=False)
    next(most_value(problem, 0, lambda: 0.0, lambda count: count < 1))


@cache
def _search_others() -> None:
    """Lay tabs, some alike and one by itself, that do not all find room, and try to exchange them."""
    from strapwright.nesting.around import FEW
    from strapwright.nesting.problem import Ground, Problem
    from strapwright.nesting.shapes import lay_shapes

    alike = [_piece(0, _box(20.0, 10.0), strap=False)] * (FEW + 1)
    tabs = (_piece(1, _box(20.0, 12.0), strap=False), *alike)
    lay_shapes(Problem(tabs, (Ground(_box(30.0, 25.0)),), gap=2.0, margin=2.0), steps=8)


def _piece(number: int, outline: Points, *, strap: bool) -> Piece:
    from strapwright.nesting.problem import Piece

    turns, area = (0.0, math.pi), float(np.prod(outline.max(axis=0)))
    return Piece(f"piece {number}", outline, turns, frozenset(), (), area, number, strap)


def _box(length: float, width: float) -> Points:
    return np.array([(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)])
