"""Two lanes of straps: worked by hand, and against every layout a few bars can make."""

from __future__ import annotations

import numpy as np
import pytest
from tests.nesting.bound.test_relaxation import bar
from tests.nesting.strap_search.test_free_runs import HIDE

from strapwright.nesting.bound.lagrangian_bound import (
    KINDS,
    StrapKinds,
    lagrangian_bounds,
    lane_tables,
    lanes_value,
    lowest_bound,
)
from strapwright.nesting.bound.relaxation import relax_to_lanes, value_bounds
from strapwright.nesting.problem import Ground, Piece, Problem
from strapwright.nesting.solver.solve import solve


def kinds_on(width: float, height: float, pieces: tuple[Piece, ...], gap: float = 2.0) -> StrapKinds:
    board = np.array([(0, 0), (width, 0), (width, height), (0, height)], float)
    kinds = relax_to_lanes(Problem(pieces, (Ground(board),), gap), 0, 1.0).kinds
    assert kinds is not None
    return kinds


def test_bars_without_a_fee_fill_both_lanes() -> None:
    """By hand: a pitch of 32 leaves room for three rows on 94 mm, and 310 mm for two of 150 in each."""
    kinds = kinds_on(310, 94, (bar(0, 150.0, 30.0),))
    one, two = lane_tables(kinds.lanes)
    used = np.zeros(1, np.int64)
    assert lanes_value(kinds.value, kinds.lanes, one, two, used) == pytest.approx(6 * 150 * 30)
    assert used.tolist() == [6]


def test_a_fee_of_what_a_bar_is_worth_gives_the_bound_of_one_bar() -> None:
    kinds = kinds_on(310, 94, (bar(0, 150.0, 30.0),))
    one, two = lane_tables(kinds.lanes)
    used = np.zeros(1, np.int64)
    assert lanes_value(kinds.value - 4500.0, kinds.lanes, one, two, used) == 0.0
    best, price = lowest_bound(lagrangian_bounds(kinds, lambda: 4500.0, lambda count: count < 60))
    assert best == pytest.approx(4500.0, rel=1e-3)
    assert price[0] == pytest.approx(4500.0, rel=1e-3)


def test_a_long_bar_keeps_both_lanes() -> None:
    """By hand: beside 200 of 310 mm no bar of 150 finds room, so a row holds one long bar or two short."""
    kinds = kinds_on(310, 62, (bar(0, 150.0, 30.0), bar(1, 200.0, 30.0)))
    assert kinds.lanes.kind.tolist().count(-1) == 1
    one, two = lane_tables(kinds.lanes)
    used = np.zeros(2, np.int64)
    assert lanes_value(kinds.value, kinds.lanes, one, two, used) == pytest.approx(2 * 2 * 150 * 30)


def test_bars_of_two_heights_beside_each_other_are_staggered() -> None:
    """By hand: two of 20 mm, 42 with the gap between, lie beside one of 42; nothing is lost."""
    kinds = kinds_on(310, 42, (bar(0, 150.0, 20.0), bar(1, 150.0, 20.0), bar(2, 150.0, 42.0)))
    best, _ = lowest_bound(lagrangian_bounds(kinds, lambda: 0.0, lambda count: count < 100))
    assert best == pytest.approx(150 * (20 + 20 + 42), rel=1e-3)


def test_a_hundred_lengths_are_told_apart_by_a_few_kinds_and_the_bound_still_holds() -> None:
    pieces = tuple(bar(n, 500.0 + 2 * n, 30.0 + 2 * (n % 3)) for n in range(100))
    problem = Problem(pieces, (Ground(HIDE),), 2.0, 2.0)
    kinds = relax_to_lanes(problem, 0, 1.0).kinds
    assert kinds is not None
    assert 1 < len(kinds.lanes.tall) <= KINDS
    found = solve(problem, steps=12, prove=False)
    least = min(value_bounds(problem, 0, lambda: found.value, lambda count: count < 30, 1.0))
    assert found.value <= least < 1.1 * found.value


def test_of_straps_with_hollow_sides_nothing_is_proven() -> None:
    waisted = np.array([(0, 0), (300, 10), (600, 0), (600, 40), (300, 30), (0, 40)], float)
    piece = Piece("waisted", waisted, (0.0,), frozenset(), (), 1.0, 0, strap=True)
    assert relax_to_lanes(Problem((piece,), (Ground(HIDE),), 2.0), 0, 1.0).kinds is None


def test_straps_alike_in_shape_but_not_in_worth_are_told_apart() -> None:
    """A hurried order may make one of two like straps worth more."""
    first, second = bar(0, 300.0, 30.0), bar(1, 300.0, 30.0)
    dear = Piece(
        "dear", second.outline, second.turns, second.shuns, (), 3 * second.value, second.shape, strap=True
    )
    kinds = kinds_on(310, 30, (first, dear))
    best, _ = lowest_bound(lagrangian_bounds(kinds, lambda: 0.0, lambda count: count < 100))
    assert best == pytest.approx(dear.value, rel=1e-3)
