"""Orders made with the bound as a guide: what they promise lies, and they fill what they can."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.nesting.test_proof import bar
from tests.nesting.test_rowtable import FLAWS, HIDE, strap

from strapwright.nesting.beam import _sift
from strapwright.nesting.check import faults_of
from strapwright.nesting.guide import guided_order
from strapwright.nesting.problem import Ground, Problem
from strapwright.nesting.shelves import laid_out, shelves_of
from strapwright.nesting.solve import solve


def belts() -> Problem:
    pieces = (strap(720.0 + 60 * (n % 5), (38.0, 32.0, 25.0)[n % 3], n, 90.0) for n in range(14))
    return Problem(
        tuple(replace(piece, shape=n) for n, piece in enumerate(pieces)), (Ground(HIDE, FLAWS),), 2.0, 2.0
    )


def test_an_order_names_every_strap_once_and_lays_a_sound_layout() -> None:
    problem = belts()
    shelves = shelves_of(problem, 0, range(14), ())
    made = guided_order(problem, shelves, 0.0, 5, None)
    assert made is not None
    assert sorted(made[0].tolist()) == list(range(14))
    spots = laid_out(shelves, *made)
    assert spots
    assert not faults_of(problem, spots)


def test_the_same_seed_makes_the_same_order() -> None:
    problem = belts()
    shelves = shelves_of(problem, 0, range(14), ())
    first, second = (guided_order(problem, shelves, 0.0, 5, None) for _ in range(2))
    assert first is not None
    assert second is not None
    assert first.tolist() == second.tolist()


def test_two_narrow_straps_are_chosen_before_a_wide_one_that_leaves_no_room() -> None:
    """By hand: 64 mm take the two of 30 mm at a pitch of 32, 18,000 mm² in all, or one of 50, 15,000."""
    board = np.array([(0, 0), (310, 0), (310, 62), (0, 62)], float)
    problem = Problem((bar(0, 300.0, 50.0), bar(1, 300.0, 30.0), bar(2, 300.0, 30.0)), (Ground(board),), 2.0)
    shelves = shelves_of(problem, 0, range(3), ())
    made = guided_order(problem, shelves, 15_000.0, 0, None)
    assert made is not None
    assert sorted(spot.piece for spot in laid_out(shelves, *made)) == [1, 2]


def test_straps_that_may_lie_three_abreast_have_no_guide() -> None:
    problem = Problem(tuple(bar(n, 90.0, 30.0) for n in range(4)), (Ground(HIDE),), 2.0)
    assert guided_order(problem, shelves_of(problem, 0, range(4), ()), 0.0, 0, None) is None


def test_a_heap_keeps_the_best() -> None:
    score, number, held = np.empty(4), np.empty(4, np.int64), 0
    for what, worth in enumerate((5.0, 1.0, 9.0, 3.0, 7.0, 8.0)):
        if held < 4 or worth > score[0]:
            held = _sift(score, number, held, worth, what, 4)
    assert sorted(score.tolist()) == [5.0, 7.0, 8.0, 9.0]
    assert sorted(number.tolist()) == [0, 2, 4, 5]


def test_a_search_of_many_steps_begins_from_the_guide_and_is_the_same_each_time() -> None:
    problem = belts()
    first, second = (solve(problem, steps=210, seed=3) for _ in range(2))
    assert first.value == pytest.approx(second.value)
    assert [(s.piece, s.x, s.y) for s in first.spots] == [(s.piece, s.x, s.y) for s in second.spots]
    assert not faults_of(problem, first.spots)
