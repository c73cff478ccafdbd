"""Priority of keepers whose strap is placed: without its strap a keeper wastes leather."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.problem.types import PiecePlacement, Problem

_SPARE = 0.1
"""What a piece without its strap is worth, as a share: less than any that makes something whole."""

_WANTED = 2.0
"""What one whose strap lies is worth, as a share: more than the same leather in anything else."""


def keeper_priority(problem: Problem, placements: Sequence[PiecePlacement]) -> Problem:
    """Return a problem in which pieces are worth more where their strap lies, and little where it does not.

    Args:
        problem: the problem.
        placements: what lies, all its straps among them.

    Example:
        >>> import numpy as np
        >>> from strapwright.nesting.problem.types import Piece, Problem, PiecePlacement
        >>> square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], dtype=float)
        >>> strap = Piece("strap", square, (0.0,), frozenset(), value=900.0, strap=True, assembly="belt")
        >>> keeper = Piece("keeper", square, (0.0,), frozenset(), value=100.0, shape=1, assembly="belt")
        >>> both = Problem((strap, keeper, strap, keeper), ())
        >>> [p.value for p in keeper_priority(both, [PiecePlacement(0, 0, 0.0, 0.0, 0.0)]).pieces]
        [900.0, 200.0, 900.0, 10.0]
    """
    pieces = problem.pieces
    lying = {placed.piece for placed in placements}
    asked: dict[str, Counter[int]] = defaultdict(Counter)
    there: dict[str, Counter[int]] = defaultdict(Counter)
    for number, piece in enumerate(pieces):
        if piece.strap and piece.assembly:
            asked[piece.assembly][piece.shape] += 1
            there[piece.assembly][piece.shape] += number in lying
    if not asked:
        return problem
    # Of a lined belt both strap and lining are wanted: the one fewer of which lie decides.
    share = {name: min(there[name][s] / count for s, count in asked[name].items()) for name in asked}
    others = (piece for piece in pieces if not piece.strap and piece.assembly in share)
    each = Counter((piece.assembly, piece.shape) for piece in others)
    wanted = {key: round(count * share[key[0]]) for key, count in each.items()}
    for number in lying:
        key = (pieces[number].assembly, pieces[number].shape)
        if key in wanted:
            wanted[key] -= 1
    # The engines take pieces of one shape for equal in all, worth included.
    shapes: dict[tuple[int, float], int] = {}
    out = []
    for number, piece in enumerate(pieces):
        factor = 1.0
        key = (piece.assembly, piece.shape)
        if key in wanted and number not in lying:
            factor = _WANTED if wanted[key] > 0 else _SPARE
            wanted[key] -= 1
        shape = shapes.setdefault((piece.shape, factor), len(shapes))
        out.append(replace(piece, value=piece.value * factor, shape=shape))
    return replace(problem, pieces=tuple(out))
