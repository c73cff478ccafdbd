"""Bounds against brute force: no layout that exists is ever worth more, or lower, than they allow."""

from __future__ import annotations

import itertools
import math
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings, strategies as st
from tests.nesting.strap_search.test_free_runs import FLAWS, HIDE, VOID, strap

from strapwright.nesting.bound.area import area_bounds
from strapwright.nesting.bound.cp_sat import height_bound, prove_value
from strapwright.nesting.bound.relaxation import lie_side_by_side, relax_to_lanes, value_bounds
from strapwright.nesting.bound.runner import Prover
from strapwright.nesting.problem import Ground, Piece, PiecePlacement, Problem, Zone
from strapwright.nesting.problem_check import faults_of
from strapwright.nesting.solver.solve import solve
from strapwright.nesting.strap_search.instance import build_instance, laid_by, laid_lowest


def bar(number: int, length: float, width: float) -> Piece:
    outline = np.array([(0, 0), (length, 0), (length, width), (0, width)], float)
    shape = int(length) * 1000 + int(width)
    return Piece(f"b{number}", outline, (0.0,), VOID, (), length * width, shape, strap=True)


def brute_force(problem: Problem) -> float:
    """The most value over every order of bars and every choice of sides, small problems only.

    Half a turn leaves a bar as it is. No order lays more than everything: there it ends.
    """
    n = len(problem.pieces)
    shelves = build_instance(problem, 0, range(n), ())
    best, most = 0.0, sum(piece.value for piece in problem.pieces)
    for order in itertools.permutations(range(n)):
        for side in itertools.product((0, 1), repeat=n):
            laid = laid_by(shelves, *(np.array(a) for a in (order, (0,) * n, side)))
            best = max(best, sum(problem.pieces[shelves.pieces[bar]].value for bar in laid.strap))
            if best >= most - 1e-9:
                return best
    return best


def bounds(problem: Problem) -> list[float]:
    return [*area_bounds(problem), *value_bounds(problem, 0, lambda: 0.0, lambda count: count < 50)]


boards = st.tuples(st.integers(300, 700), st.integers(40, 110))
bars = st.lists(st.tuples(st.integers(120, 400), st.integers(15, 40)), min_size=1, max_size=4)
flaws = st.lists(
    st.tuples(st.integers(20, 600), st.integers(0, 90), st.integers(2, 60), st.integers(2, 30)), max_size=2
)


@pytest.mark.slow
@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(boards, bars, flaws, st.sampled_from([0.0, 2.0]), st.sampled_from([0.0, 3.0]))
def test_no_layout_of_a_small_problem_passes_its_bounds(
    board: tuple[int, int],
    sizes: list[tuple[int, int]],
    places: list[tuple[int, int, int, int]],
    gap: float,
    margin: float,
) -> None:
    w, h = board
    boundary = np.array([(0, 0), (w, 0), (w, h), (0, h)], float)
    zones = tuple(
        Zone(np.array([(x, y), (x + a, y), (x + a, y + b), (x, y + b)], float)) for x, y, a, b in places
    )
    pieces = tuple(bar(n, *size) for n, size in enumerate(sizes))
    problem = Problem(pieces, (Ground(boundary, zones),), gap, margin)
    best = brute_force(problem)
    assert min(bounds(problem)) >= best - 1e-6
    relaxed = relax_to_lanes(problem, 0, 1.0)
    assert relax_to_lanes(problem, 0, 1.0, single=True).single == relaxed.single
    assert prove_value(relaxed, best, 5.0, counted=True).bound >= best - 1e-6
    everything = solve(problem, steps=2)
    assert not (relaxed.single and lie_side_by_side(problem, everything.placements, 1.0))
    if len(everything.placements) == len(pieces):
        reach = max(
            placed.y + float(np.ptp(pieces[placed.piece].outline[:, 1])) for placed in everything.placements
        )
        assert height_bound(relaxed, 5.0, counted=True) <= reach + 1e-6


def test_round_tips_and_flaws_do_not_take_a_bound_below_what_is_found() -> None:
    straps = (strap(420.0 + 90 * (n % 5), (38.0, 32.0, 25.0)[n % 3], n, 90.0) for n in range(14))
    pieces = tuple(replace(piece, shape=n) for n, piece in enumerate(straps))
    problem = Problem(pieces, (Ground(HIDE, FLAWS),), 2.0, 2.0)
    found = solve(problem, steps=60)
    assert found.value <= min(area_bounds(problem)) + 1e-6
    assert found.value <= found.bound


def test_bars_that_fill_a_board_are_proven_best() -> None:
    """By hand: three of 30 mm at a pitch of 32 fill 94 mm, and the longest are worth most."""
    board = np.array([(0, 0), (310, 0), (310, 94), (0, 94)], float)
    pieces = tuple(bar(n, 300.0 - 10 * n, 30.0) for n in range(5))
    problem = Problem(pieces, (Ground(board),), 2.0)
    wanted = 30.0 * (300 + 290 + 280)
    relaxed = relax_to_lanes(problem, 0, 1.0)
    assert prove_value(relaxed, wanted, 5.0, counted=True).bound == pytest.approx(wanted, abs=3.0)
    assert solve(problem, steps=3).value == pytest.approx(wanted)


def test_the_least_height_of_a_stack_is_the_stack() -> None:
    board = np.array([(0, 0), (310, 0), (310, 400), (0, 400)], float)
    problem = Problem(tuple(bar(n, 300.0, 30.0) for n in range(4)), (Ground(board),), 2.0, 5.0)
    height = height_bound(relax_to_lanes(problem, 0, 0.25), 5.0, counted=True)
    assert 131.0 - 1.0 <= height <= 131.0


def test_straps_that_may_lie_three_abreast_are_bounded_by_area_alone() -> None:
    problem = Problem(tuple(bar(n, 90.0, 30.0) for n in range(4)), (Ground(HIDE),), 2.0)
    relaxed = relax_to_lanes(problem, 0, 1.0)
    assert not list(value_bounds(problem, 0, lambda: 0.0, lambda count: count < 5))
    assert prove_value(relaxed, 1.0, 1.0, counted=True).bound == math.inf
    assert height_bound(relaxed, 1.0, counted=True) == 0.0


def test_of_straps_side_by_side_no_height_is_proven() -> None:
    """By hand: two bars of 150 mm share a row of 310 mm, and two of 160 do not."""
    board = np.array([(0, 0), (310, 0), (310, 94), (0, 94)], float)
    short, long = (
        Problem(tuple(bar(n, length, 30.0) for n in range(2)), (Ground(board),), 2.0)
        for length in (150.0, 160.0)
    )
    first = PiecePlacement(0, 0, 0.0, 0.0, 0.0)
    beside, above = ([first, PiecePlacement(1, 0, 0.0, x, y)] for x, y in ((152.0, 0.0), (0.0, 32.0)))
    assert lie_side_by_side(short, beside, 0.25)
    assert not lie_side_by_side(short, above, 0.25)
    assert relax_to_lanes(short, 0, 0.25, single=True).kinds is None
    assert relax_to_lanes(long, 0, 0.25, single=True).single
    prover = Prover(short, lambda _: 0.0)
    assert prover.height_bound(beside, 5.0, counted=True) == 0.0
    assert prover.height_bound(above, 5.0, counted=True) == 0.0
    assert 61.0 <= Prover(long, lambda _: 0.0).height_bound(above, 5.0, counted=True) <= 62.0


def _three_of_five() -> Problem:
    """By hand: of five bars the board takes three, and the best are those of 300, 290 and 280 mm."""
    board = np.array([(0, 0), (310, 0), (310, 94), (0, 94)], float)
    return Problem(tuple(bar(n, 260.0 + 10 * n, 30.0) for n in range(5)), (Ground(board),), 2.0)


def test_what_the_solver_finds_better_than_is_known_is_an_order_that_can_be_laid() -> None:
    problem = _three_of_five()
    relaxed = relax_to_lanes(problem, 0, 1.0)
    found = prove_value(relaxed, 1.0, 5.0, counted=True)
    shelves = build_instance(problem, 0, range(5), ())
    order = np.array(found.order)  # no two bars are alike, so the kinds are the bars
    assert sorted(found.order) == [2, 3, 4]
    laid = laid_lowest(shelves, order)
    assert sorted(laid.strap.tolist()) == [2, 3, 4]
    assert prove_value(relaxed, 30.0 * (300 + 290 + 280), 5.0, counted=True).order == ()


def test_a_search_takes_over_what_the_solver_found_better(monkeypatch) -> None:
    problem = _three_of_five()

    def lame(shelves, budget, seed):
        """A search that never gets beyond the first two bars it was given."""
        poor = laid_lowest(shelves, np.array([0, 1]))
        while budget.spent < 1:
            time.sleep(0.01)
            yield poor, float(shelves.value[poor.strap].sum())

    monkeypatch.setattr("strapwright.nesting.solver.solve.search", lame)
    found = solve(problem, time_limit=6.0)
    assert found.value == pytest.approx(30.0 * (300 + 290 + 280))
    assert faults_of(problem, found.placements) == []


def test_a_search_by_steps_of_a_board_too_low_for_any_strap_ends() -> None:
    board = np.array([(0, 0), (310, 0), (310, 20), (0, 20)], float)
    problem = Problem(tuple(bar(n, 300.0, 30.0) for n in range(2)), (Ground(board),), 2.0)
    found = solve(problem, steps=5)
    assert (found.placed, found.bound) == (0, 0.0)
