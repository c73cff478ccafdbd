"""Layouts bettered window by window: always sound, never worth less than they may be."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings, strategies as st
from tests.nesting.strap_search.test_free_runs import FLAWS, HIDE, strap

from strapwright.nesting.problem import Ground, Problem
from strapwright.nesting.problem_check import faults_of
from strapwright.nesting.solver.solve import solve
from strapwright.nesting.strap_search.guide import guide_of
from strapwright.nesting.strap_search.instance import Instance, Rows, build_instance, laid_by, laid_out
from strapwright.nesting.strap_search.window_search import Windows, pushed


def belts(count: int = 14, shortest: float = 420.0) -> Problem:
    pieces = (strap(shortest + 60 * (n % 5), (38.0, 32.0, 25.0)[n % 3], n, 90.0) for n in range(count))
    alike = tuple(replace(piece, shape=n) for n, piece in enumerate(pieces))
    return Problem(alike, (Ground(HIDE, FLAWS),), 2.0, 2.0)


def in_order(shelves: Instance, seed: int) -> Rows:
    numbers = np.random.default_rng(seed)
    n = len(shelves.pieces)
    return laid_by(shelves, numbers.permutation(n), numbers.integers(0, 2, n), numbers.integers(0, 2, n))


def worth(shelves: Instance, laid: Rows) -> float:
    return float(shelves.value[laid.strap].sum())


@settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 10**6), st.sampled_from([420.0, 720.0]), st.sampled_from([0.0, 0.3]), st.booleans())
def test_every_layout_on_the_way_is_sound(seed: int, shortest: float, heat: float, guided: bool) -> None:
    problem = belts(shortest=shortest)
    shelves = build_instance(problem, 0, range(14), ())
    laid = in_order(shelves, seed)
    value = worth(shelves, laid)
    windows = Windows(shelves, guide_of(shelves) if guided else None, np.random.default_rng(seed))
    for _ in range(4):
        laid, now = windows.changed(laid, value, heat)
        assert now == pytest.approx(worth(shelves, laid))
        assert heat or now >= value - 1e-6
        value = now
        assert len(set(laid.strap.tolist())) == len(laid.strap)
        assert not faults_of(problem, laid_out(shelves, pushed(shelves, laid, up=False)))


@pytest.mark.parametrize("up", [True, False])
def test_pushed_straps_stay_sound_and_none_goes_the_other_way(up: bool) -> None:
    problem = belts()
    shelves = build_instance(problem, 0, range(14), ())
    laid = in_order(shelves, 3)
    moved = pushed(shelves, laid, up=up)
    before = dict(zip(laid.strap.tolist(), laid.row.tolist(), strict=True))
    after = dict(zip(moved.strap.tolist(), moved.row.tolist(), strict=True))
    assert before.keys() == after.keys()
    assert all(after[n] >= before[n] if up else after[n] <= before[n] for n in before)
    assert not faults_of(problem, laid_out(shelves, moved))


@pytest.mark.parametrize("guided", [True, False])
def test_windows_better_a_poor_layout(guided: bool) -> None:
    problem = belts(shortest=720.0)
    shelves = build_instance(problem, 0, range(14), ())
    laid = in_order(shelves, 1)
    value = first = worth(shelves, laid)
    guide = guide_of(shelves) if guided else None
    assert guided == (guide is not None)
    windows = Windows(shelves, guide, np.random.default_rng(0))
    for _ in range(20):
        laid, value = windows.changed(laid, value, 0.0)
    assert value > 1.02 * first


def test_a_search_by_steps_is_the_same_each_time() -> None:
    problem = belts(20, 720.0)
    first, second = (solve(problem, steps=40, seed=3) for _ in range(2))
    assert len(first.placements) < 20
    assert first.value == pytest.approx(second.value)
    assert [(s.piece, s.x, s.y) for s in first.placements] == [(s.piece, s.x, s.y) for s in second.placements]
    assert not faults_of(problem, first.placements)
