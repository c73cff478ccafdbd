"""A short search comes near the best there is, where that is known by how the straps were cut."""

from __future__ import annotations

import math

import numpy as np
import pytest
from benchmarks.short_search import BEST_SEEN, short_cases

from strapwright.nesting.hide.repair import thinned
from strapwright.nesting.layout.types import Clearance
from strapwright.nesting.problem import Ground, Piece, Problem, build_problem
from strapwright.nesting.problem_check import faults_of
from strapwright.nesting.solver.solve import solve
from strapwright.nesting.strap_search.instance import build_instance
from strapwright.nesting.strap_search.search import Budget, search

GAP = MARGIN = 2.0
WIDTH = 1400.0


def box(length: float, height: float) -> np.ndarray:
    return np.array([(0.0, 0.0), (length, 0.0), (length, height), (0.0, height)])


def matched(rows: int, each: int, seed: int, spare: float) -> tuple[Problem, float]:
    """Return straps that fill so many rows of a board, so many to each, and the height of that stack."""
    chance = np.random.default_rng(seed)
    heights = chance.choice((20.0, 25.0, 32.0, 38.0), rows)
    room = WIDTH - 2 * MARGIN - GAP * (each - 1)
    lengths = np.round(chance.uniform(0.7, 1.2, (each - 1, rows)) * room / each)
    lengths = np.vstack([lengths, room - lengths.sum(axis=0)])
    sizes = [(length, height) for line in lengths for length, height in zip(line, heights, strict=True)]
    pieces = tuple(
        Piece(f"s{n}", box(*sizes[n]), (0.0, math.pi), frozenset(), (), float(np.prod(sizes[n])), n, True)
        for n in chance.permutation(len(sizes))
    )
    stack = float(heights.sum()) + GAP * (rows - 1)
    return Problem(pieces, (Ground(box(WIDTH, stack + 2 * MARGIN + spare)),), GAP, MARGIN), stack


@pytest.mark.parametrize("seed", [0, 1, 2])
@pytest.mark.parametrize(("each", "spare", "over"), [(2, 0.0, 0.003), (2, 60.0, 0.003), (3, 60.0, 0.08)])
def test_sixty_steps_come_near_the_least_leather(each: int, spare: float, over: float, seed: int) -> None:
    problem, stack = matched(10, each, seed, spare)
    found = solve(problem, steps=60, seed=seed, prove=False)
    assert not faults_of(problem, found.placements)
    assert len(found.placements) == len(problem.pieces)
    tops = [
        float(placed.apply(problem.pieces[placed.piece].outline)[:, 1].max()) for placed in found.placements
    ]
    assert stack - 1e-6 <= max(tops) - MARGIN <= stack * (1 + over)


SHORT = 0.005
"""Share of the best area seen that a hundred steps may lack, on average of the cases.

Twenty seeds, 100 to 119, lack 0.47 % (case by case 0.74, 0.28, 0.43, 0.44). One case is a matter of a whole
strap more or less (nothing or 0.85 % for the long ones), so that only the mean of all is held closely. Beams
a quarter as wide, no beams, or values spread too far lack more than this with one seed as with three.
"""


@pytest.mark.slow
def test_a_hundred_steps_come_near_the_best_seen() -> None:
    short = []
    for name, parts, hide in short_cases():
        problem = build_problem(parts, [thinned(hide)], Clearance())
        straps = [n for n, piece in enumerate(problem.pieces) if piece.strap]
        shelves = build_instance(problem, 0, straps, ())
        *_, (laid_straps, _) = search(shelves, Budget(0.0, 100), seed=100)
        short.append(1 - float(shelves.value[laid_straps.strap].sum()) / 1e6 / BEST_SEEN[name])
    assert max(short) <= 0.01
    assert np.mean(short) <= SHORT
