"""Layouts of the beam search are sound; its guide is exact where only what it knows of counts."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings, strategies as st
from tests.nesting.strap_search.test_window_search import belts, worth
from tests.nesting.test_short_search import GAP, MARGIN, WIDTH, box

from strapwright.nesting.problem import Ground, Piece, Problem
from strapwright.nesting.problem_check import faults_of
from strapwright.nesting.solver.solve import solve
from strapwright.nesting.strap_search.beam import beam
from strapwright.nesting.strap_search.guide import fill, guide_of
from strapwright.nesting.strap_search.instance import build_instance, laid_out
from strapwright.nesting.strap_search.window_search import pushed


@settings(max_examples=10, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 10**6), st.sampled_from([720.0, 900.0]))
def test_every_beam_lays_what_fits(seed: int, shortest: float) -> None:
    problem = belts(20, shortest)
    shelves = build_instance(problem, 0, range(20), ())
    guide = guide_of(shelves)
    assert guide is not None
    numbers = np.random.default_rng(seed)
    for width in (1, 4, 20):
        *going, laid = beam(shelves, guide, numbers, width)
        assert laid is not None
        assert not any(going)
        assert worth(shelves, laid) > 0
        assert len(set(laid.strap.tolist())) == len(laid.strap)
        assert not faults_of(problem, laid_out(shelves, pushed(shelves, laid, up=False)))


def alike(lengths: tuple[float, ...], each: int, rows: int) -> Problem:
    """Return straps 38 mm wide, so many of each length, and a board of so many rows of them."""
    pieces = tuple(
        Piece(f"s{k}.{n}", box(size, 38.0), (0.0, math.pi), frozenset(), (), size * 38.0, k, True)
        for k, size in enumerate(lengths)
        for n in range(each)
    )
    height = rows * 38.0 + (rows - 1) * GAP + 2 * MARGIN
    return Problem(pieces, (Ground(box(WIDTH, height)),), GAP, MARGIN)


@pytest.mark.parametrize(("lengths", "beside"), [((690.0,), 2 * 690.0), ((800.0, 590.0), 1390.0)])
def test_the_guide_promises_what_two_lanes_hold(lengths: tuple[float, ...], beside: float) -> None:
    problem = alike(lengths, 12, 6)
    shelves = build_instance(problem, 0, range(len(problem.pieces)), ())
    guide = guide_of(shelves)
    assert guide is not None
    gain = np.zeros(len(guide.tall))
    gain[guide.kind] = shelves.value
    fill(gain, guide.starts, guide.tall, guide.beside, guide.one, guide.two)
    assert guide.one[0] == pytest.approx(6 * beside * 38.0)


def test_straps_three_abreast_have_no_guide_but_are_laid() -> None:
    problem = alike((464.0,), 21, 6)
    shelves = build_instance(problem, 0, range(len(problem.pieces)), ())
    assert guide_of(shelves) is None
    assert len(solve(problem, steps=20, prove=False).placements) == 18
