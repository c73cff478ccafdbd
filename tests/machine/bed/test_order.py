"""The order of cutting."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
from tests.machine.layouts import travel_of

from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import line, rectangle
from strapwright.machine.bed.order import in_order
from strapwright.machine.types import CutPath
from strapwright.parts.part import Operation


def path(part: str, name: str, operation: Operation, contour: Contour) -> CutPath:
    return CutPath(part, name, operation, contour)


def piece(part: str, x: float, y: float) -> list[CutPath]:
    return [
        path(part, "hole b", Operation.CUT, Contour.circle(x + 30, y + 10, 4)),
        path(part, "mark", Operation.PUNCH, line(x + 10, y + 5, x + 12, y + 5)),
        path(part, "hole a", Operation.CUT, Contour.circle(x + 15, y + 10, 4)),
        path(part, "fold", Operation.SCORE, line(x + 5, y + 1, x + 5, y + 19)),
        path(part, "outline", Operation.CUT, rectangle(x, y, x + 40, y + 20)),
    ]


def test_a_part_is_scored_punched_and_holed_before_its_outline():
    names = [p.name for p in in_order([piece("a", 0, 0)])]
    assert names == ["fold", "mark", "hole a", "hole b", "outline"]


def test_no_part_is_left_before_it_is_done():
    parts = [piece(f"p{n}", 50 * (n % 4), 30 * (n // 4)) for n in range(12)]
    ordered = in_order(parts)
    runs = [part for part, _ in itertools.groupby(ordered, key=lambda p: p.part_id)]
    assert sorted(runs) == sorted(f"p{n}" for n in range(12))
    assert len(ordered) == sum(len(part) for part in parts)
    assert {(p.part_id, p.name) for p in ordered} == {(p.part_id, p.name) for part in parts for p in part}


def test_the_nearest_part_comes_next():
    ordered = in_order([piece("far", 500, 0), piece("near", 0, 0), piece("middle", 200, 0)])
    runs = [part for part, _ in itertools.groupby(ordered, key=lambda p: p.part_id)]
    assert runs == ["near", "middle", "far"]


def test_travel_is_shorter_than_in_the_order_drawn():
    rng = np.random.default_rng(7)
    parts = [piece(f"p{n}", *rng.uniform(0, 2000, 2)) for n in range(40)]
    drawn = tuple(p for part in parts for p in part)
    assert travel_of(in_order(parts)) < 0.5 * travel_of(drawn)


def test_paths_keep_their_line_wherever_they_are_begun():
    parts = [piece(f"p{n}", *np.random.default_rng(n).uniform(0, 500, 2)) for n in range(9)]
    given = {(p.part_id, p.name): p.contour for part in parts for p in part}
    for one in in_order(parts):
        contour = given[one.part_id, one.name]
        assert one.contour.closed == contour.closed
        assert contour.distance_to(one.contour.sample()).max() < 1e-12
        assert one.contour.length == contour.length
        if contour.closed:
            assert one.contour.is_counter_clockwise == contour.is_counter_clockwise


def test_where_nothing_may_be_begun_elsewhere_only_the_order_changes():
    parts = [piece(f"p{n}", *np.random.default_rng(n).uniform(0, 500, 2)) for n in range(9)]
    parts = [[replace(path, fixed_start=True) for path in part if path.contour.closed] for part in parts]
    fixed = in_order(parts)
    assert {id(p) for p in fixed} == {id(p) for part in parts for p in part}
    free = [[replace(path, fixed_start=False) for path in part] for part in parts]
    assert travel_of(in_order(free)) < 0.9 * travel_of(fixed)


def test_a_run_of_an_outline_keeps_its_part_on_its_left():
    left_open = path("a", "outline", Operation.CUT, line(100, 0, 0, 0))
    hole = path("a", "hole", Operation.CUT, Contour.circle(5, 5, 2))
    assert in_order([[hole, left_open]])[-1].contour == left_open.contour


def test_parts_that_share_an_edge_are_all_holed_before_either_is_cut_out():
    both = [*piece("a", 0, 0), *piece("b", 40.2, 0)]
    names = [p.name for p in in_order([both])]
    assert names[-2:] == ["outline", "outline"]
    assert names[:4] == ["fold", "fold", "mark", "mark"]


def test_nothing_to_cut_is_no_paths():
    assert in_order([]) == ()
    assert travel_of([]) == 0.0


def test_the_same_parts_come_in_the_same_order():
    parts = [piece(f"p{n}", 50 * (n % 4), 30 * (n // 4)) for n in range(12)]
    assert in_order(parts) == in_order(parts)
