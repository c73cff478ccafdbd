"""Solve a problem: straps in rows first, then everything else in what they leave."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

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
        steps: how many layouts were tried.
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
    return Solution((), sum(piece.value for piece in problem.pieces))
