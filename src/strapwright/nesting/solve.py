"""Solve a problem: straps in rows first, then everything else in what they leave."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.nesting.shelves import laid_out, shelves_of
from strapwright.nesting.straps import Budget, search

if TYPE_CHECKING:
    from collections.abc import Callable

    from strapwright.nesting.problem import Problem, Spot


@dataclass(frozen=True)
class Solution:
    """What was found.

    Args:
        spots: where the placed pieces lie.
        bound: a value that no layout of the problem can pass.
        least_height: no layout of everything reaches less high on the ground, mm; 0 where not known.
        steps: how many steps the search took.
    """

    spots: tuple[Spot, ...]
    bound: float
    least_height: float = 0.0
    steps: int = 0


def solve(
    problem: Problem,
    *,
    time_limit: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    progress: Callable[[Solution], None] | None = None,
) -> Solution:
    """Lay pieces on grounds."""
    began = time.monotonic()
    spots: list[Spot] = []
    bound = sum(piece.value for piece in problem.pieces)
    straps = [n for n, piece in enumerate(problem.pieces) if piece.strap]
    others = [n for n, piece in enumerate(problem.pieces) if not piece.strap]
    for kind, share in ((straps, 0.95), (others, 0.05)):
        for ground in range(len(problem.grounds)):
            done = {spot.piece for spot in spots}
            left = [n for n in kind if n not in done]
            if not left:
                continue
            shelves = shelves_of(problem, ground, left, spots)
            budget = Budget(max(0.0, share * (time_limit - (time.monotonic() - began))), steps)
            for best, worth in search(shelves, budget, seed, lambda worth: False):
                pass
            spots += laid_out(shelves, *best)
    return Solution(tuple(spots), bound)
