from __future__ import annotations

import math
import random
import time
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from tests.nesting.outlines import QUARTERS, problems

from strapwright.core.errors import NestError
from strapwright.nesting.problem import Area, Ground, Piece, PiecePlacement, Problem, Zone
from strapwright.nesting.problem_check import faults_of
from strapwright.nesting.shape_search.lay_shapes import lay_shapes

SQUARE = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=float)
VOID = frozenset({"hole"})


def tabs(count: int, width: float = 40, height: float = 18, turns=(0.0, math.pi / 2)) -> tuple[Piece, ...]:
    outline = SQUARE * (width, height)
    return tuple(Piece(f"tab {n}", outline, turns, VOID, value=width * height) for n in range(count))


def mixed(seed: int, kinds: int = 8) -> Problem:
    """Far more pieces than a ground holds, of several outlines."""
    rng = random.Random(seed)
    pieces = []
    for shape in range(kinds):
        count = rng.randint(3, 9)
        angles = [(k + rng.uniform(0.2, 0.8)) * 2 * math.pi / count for k in range(count)]
        size = rng.uniform(60, 160)
        outline = np.array([(math.cos(a) * size, math.sin(a) * size * rng.uniform(0.5, 1)) for a in angles])
        value = float(shapely.Polygon(outline).area)
        pieces += [
            Piece(f"{shape}-{copy}", outline, QUARTERS, VOID, value=value, shape=shape) for copy in range(3)
        ]
    ground = Ground(np.array([[0, 0], [700, 30], [760, 400], [400, 480], [20, 430]], dtype=float))
    return Problem(tuple(pieces), (ground,))


def worth(problem: Problem, placements: list[PiecePlacement]) -> float:
    return sum(problem.pieces[placed.piece].value for placed in placements)


@settings(deadline=None, max_examples=25, suppress_health_check=list(HealthCheck))
@given(problems())
def test_no_layout_overlaps_leaves_the_ground_or_covers_what_its_pieces_shun(problem):
    for placements in (lay_shapes(problem, steps=1), lay_shapes(problem, steps=12)):
        assert faults_of(problem, placements) == []
        assert len({placed.piece for placed in placements}) == len(placements) <= len(problem.pieces)


@settings(deadline=None, max_examples=20, suppress_health_check=list(HealthCheck))
@given(problems(grounds=1))
def test_pieces_are_laid_around_those_that_lie_already(problem):
    some = [n for n in range(len(problem.pieces)) if n % 2]
    first = lay_shapes(problem, steps=1, todo=some)
    second = lay_shapes(problem, steps=3, placements=first, todo=range(len(problem.pieces)))
    assert faults_of(problem, [*first, *second]) == []
    assert not {placed.piece for placed in first} & {placed.piece for placed in second}


def test_locked_spots_stay_and_are_laid_around():
    pieces = tabs(9)
    locked = (PiecePlacement(4, 0, math.pi / 2, 60.0, 20.0),)
    problem = Problem(pieces, (Ground(SQUARE * (150, 90)),), gap=2.0, margin=1.0, locked=locked)
    for placements in (lay_shapes(problem, steps=1), lay_shapes(problem, steps=4)):
        assert 4 not in {placed.piece for placed in placements}
        assert len(placements) >= 6
        assert faults_of(problem, [*locked, *placements]) == []


def test_everything_is_laid_where_it_fits_exactly():
    problem = Problem(tabs(12, 50, 25), (Ground(SQUARE * (150, 100)),))
    placements = lay_shapes(problem, steps=1)
    assert len(placements) == 12
    assert faults_of(problem, placements) == []


def test_exchanges_better_the_bottom_left_layout():
    gains = []
    for seed in range(2):
        problem = mixed(seed)
        before, after = (
            worth(problem, lay_shapes(problem, steps=1)),
            lay_shapes(problem, steps=40, seed=seed),
        )
        assert faults_of(problem, after) == []
        gains.append(worth(problem, after) / before)
    assert min(gains) >= 1
    assert max(gains) > 1.01


def test_one_seed_and_number_of_steps_give_one_layout():
    problem = mixed(5)
    assert lay_shapes(problem, steps=40, seed=3) == lay_shapes(problem, steps=40, seed=3)


def test_a_thousand_equal_parts_are_laid_in_seconds():
    ground = Ground(SQUARE * (1000, 900), (Zone(SQUARE * (80, 60) + 300),))
    problem = Problem(tabs(1000), (ground,), gap=1.0, margin=2.0)
    placements = lay_shapes(problem, steps=1)
    assert len(placements) > 900
    assert faults_of(problem, placements) == []


def test_two_hundred_different_parts_are_laid_in_seconds():
    pieces = tuple(
        Piece(f"tab {n}", SQUARE * (60 + n / 4, 12 + n % 41 / 2), QUARTERS, VOID, value=100.0 + n, shape=n)
        for n in range(200)
    )
    problem = Problem(pieces, (Ground(SQUARE * (900, 700)),), gap=2.0, margin=3.0)
    lay_shapes(replace(problem, pieces=pieces[:2]), steps=1)
    began = time.process_time()
    placements = lay_shapes(problem, steps=1)
    assert time.process_time() - began < 5
    assert len(placements) == 200
    assert faults_of(problem, placements) == []


@pytest.mark.parametrize("seed", range(3))
def test_pieces_lie_the_same_whether_or_not_low_places_are_passed_over(monkeypatch, seed):
    problem = replace(mixed(seed), gap=2.0, margin=1.0)
    passed_over = lay_shapes(problem, steps=1)
    monkeypatch.setattr("strapwright.nesting.shape_search.bottom_left._EASE", math.inf)
    assert len(passed_over) > 3
    assert lay_shapes(problem, steps=1) == passed_over


def test_the_search_ends_within_its_time_and_tells_how_it_goes():
    heard = []
    problem = mixed(1)
    lay_shapes(problem, steps=1)
    began = time.monotonic()
    placements = lay_shapes(problem, time_limit=0.5, progress=heard.append)
    assert time.monotonic() - began < 3.5
    assert [told.value for told in heard] == sorted(told.value for told in heard)
    assert heard[-1].value == pytest.approx(worth(problem, placements))


def test_stopping_by_hand_keeps_the_best_so_far():
    def tired(told):
        if told.tried:
            raise KeyboardInterrupt

    problem = mixed(2)
    placements = lay_shapes(problem, steps=40, progress=tired)
    assert worth(problem, placements) >= worth(problem, lay_shapes(problem, steps=1))
    assert faults_of(problem, placements) == []


def test_a_piece_goes_only_to_grounds_it_may_lie_on():
    pieces = tuple(
        Piece(f"tab {n}", SQUARE * 40, (0.0,), VOID, value=1600.0, grounds=(1,) if n < 2 else None)
        for n in range(5)
    )
    problem = Problem(pieces, (Ground(SQUARE * 90), Ground(SQUARE * 90)))
    placements = lay_shapes(problem, steps=2)
    assert len(placements) == 5
    assert {placed.ground for placed in placements if placed.piece < 2} == {1}


def test_only_the_hidden_end_of_a_piece_lies_on_a_mark():
    strip, shown = SQUARE * (100, 20), SQUARE * (70, 20)
    piece = Piece("strip", strip, (0.0, math.pi), VOID, (Area(shown, frozenset({"mark"})),), 2000.0)
    ground = Ground(SQUARE * (100, 20), (Zone(SQUARE * (25, 20), "mark"),))
    problem = Problem((piece,), (ground,))
    (placed,) = lay_shapes(problem, steps=1)
    assert placed.turn == pytest.approx(math.pi)
    assert faults_of(problem, [placed]) == []


@pytest.mark.parametrize(
    "zone",
    [SQUARE * 5000 - 100, np.array([[-9, -9], [900, 900], [900, -9], [-9, 900]], dtype=float) * 10],
    ids=["covering all", "crossing itself and covering much"],
)
def test_zones_that_leave_no_room_leave_pieces_out(zone):
    problem = Problem(tabs(20), (Ground(SQUARE * 100, (Zone(zone),)),))
    placements = lay_shapes(problem, steps=2)
    assert faults_of(problem, placements) == []
    assert len(placements) < 8


def test_a_zone_outside_the_ground_does_no_harm():
    problem = Problem(tabs(3), (Ground(SQUARE * 100, (Zone(SQUARE * 50 + 400),)),))
    assert len(lay_shapes(problem, steps=2)) == 3


def test_value_and_not_area_decides_what_is_left_out():
    dear = tuple(Piece(f"dear {n}", SQUARE * 30, (0.0,), VOID, value=50.0) for n in range(4))
    cheap = tuple(Piece(f"cheap {n}", SQUARE * 60, (0.0,), VOID, value=1.0, shape=1) for n in range(2))
    problem = Problem(cheap + dear, (Ground(SQUARE * 65),))
    placements = lay_shapes(problem, steps=4)
    assert {problem.pieces[placed.piece].id.split()[0] for placed in placements} == {"dear"}
    assert len(placements) == 4


def test_pieces_without_a_value_are_laid_all_the_same():
    pieces = tuple(Piece(f"tab {n}", SQUARE * 30, (0.0,), VOID) for n in range(6))
    assert len(lay_shapes(Problem(pieces, (Ground(SQUARE * 65),)), steps=4)) == 4


def test_the_search_ends_early_where_everything_lies_or_nothing_can():
    began = time.monotonic()
    lay_shapes(Problem(tabs(3), (Ground(SQUARE * 100),)), time_limit=60)
    lay_shapes(Problem(tabs(3, 400, 300), (Ground(SQUARE * 100),)), time_limit=60)
    assert time.monotonic() - began < 20


def test_pieces_larger_than_the_ground_are_left_out():
    assert lay_shapes(Problem(tabs(3, 400, 300), (Ground(SQUARE * 100),)), steps=2) == []


def test_a_ground_of_twenty_thousand_corners_is_simplified_inward():
    angles = np.linspace(0, 2 * np.pi, 20_000, endpoint=False)
    ripple = 600 + 0.3 * np.sin(900 * angles)
    boundary = np.column_stack([np.cos(angles), np.sin(angles)]) * ripple[:, None]
    problem = Problem(tabs(40, 120, 60), (Ground(boundary),))
    placements = lay_shapes(problem, steps=1)
    assert len(placements) == 40
    assert faults_of(problem, placements) == []


def test_an_outline_that_crosses_itself_is_refused_by_name():
    bow = np.array([[0, 0], [10, 10], [10, 0], [0, 10]], dtype=float)
    good = Ground(SQUARE * 100)
    with pytest.raises(NestError, match=r"bow tie: its outline crosses itself near \(5, 5\) mm; draw it as"):
        lay_shapes(Problem((Piece("bow tie", bow, (0.0,), VOID),), (good,)), steps=1)
    with pytest.raises(NestError, match="ground 1: its outline crosses itself"):
        lay_shapes(Problem(tabs(1, 1, 1), (Ground(bow),)), steps=1)


def test_no_time_is_refused():
    with pytest.raises(NestError, match="the time must be more than 0 s, got 0 s"):
        lay_shapes(mixed(0), time_limit=0.0)
