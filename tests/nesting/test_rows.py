"""Free runs of a row against the same question asked of shapely, place by place."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from tests.nesting.workshop import keeper, side, strap

from strapwright.nesting.hide import Hide
from strapwright.nesting.rows import free_runs, leather_of, turned_points, upright, without
from strapwright.nesting.shape import blocked, shapes_of


@pytest.mark.parametrize("turn", [0.0, 11.0])
@pytest.mark.parametrize("length", [140.0, 700.0, 1180.0])
def test_free_runs_are_exactly_where_shapely_finds_the_shape_on_the_leather(
    length: float, turn: float
) -> None:
    hide = side(math.radians(turn))
    leather = leather_of(hide, 2.0)
    on_leather = shapely.buffer(leather.polygon, 1e-7)
    shapely.prepare(on_leather)
    tried = 0
    for shape in shapes_of(strap("a", length), 2.0):
        for y in np.linspace(leather.y0, leather.y1 - shape.height, 17):
            runs = free_runs(leather, shape.body, float(y))
            x = np.linspace(leather.x0 - 5, leather.x1 + 5, 301)
            places = shape.hull[None, :, :] + np.column_stack([x, np.full(301, y)])[:, None, :]
            truth = shapely.contains(on_leather, shapely.polygons(places))
            ends = np.array(runs).reshape(-1, 2)
            said = ((x[:, None] >= ends[:, 0]) & (x[:, None] <= ends[:, 1])).any(axis=1)
            assert (truth == said).all()
            for at in ends.ravel():
                assert on_leather.contains(shapely.Polygon(shape.hull + np.array([at, y])))
            tried += len(runs)
    assert tried > 10


def test_what_another_part_blocks_is_where_the_two_are_nearer_than_the_gap() -> None:
    gap = 2.0
    first, second = shapes_of(strap("a", 300.0), gap)[0], shapes_of(keeper("b"), gap)[0]
    a, b = shapely.Polygon(first.hull), shapely.Polygon(second.hull)
    for dy in np.linspace(-45, 25, 29):
        pair = blocked(first.body, second.grown, float(dy))
        for dx in np.linspace(-320, 120, 89):
            apart = shapely.distance(shapely.affinity.translate(a, dx, dy), b)
            inside = pair is not None and pair[0] < dx < pair[1]
            if apart < gap - 1e-9:
                assert inside
            elif inside:
                assert apart < gap * 1.0013  # the gap's circle is drawn as a polygon round it


def test_the_leather_keeps_its_margin_to_the_edge_and_to_every_flaw() -> None:
    for edge in (0.0, 0.5, 2.0, 25.0):
        hide = side()
        leather = leather_of(hide, edge)
        inner = shapely.boundary(leather.polygon)
        outline = shapely.Polygon(hide.outline)
        flaws = shapely.union_all([shapely.Polygon(flaw.polygon) for flaw in hide.flaws])
        assert shapely.distance(inner, outline.exterior) >= edge - 5e-5 - 1e-12
        assert shapely.distance(leather.polygon, flaws) >= edge - 5e-5 - 1e-12
        if edge:
            ample = edge * 1.002 + 0.02
            lost = outline.buffer(-ample, quad_segs=64).difference(flaws.buffer(ample, quad_segs=64))
            assert shapely.difference(lost, shapely.buffer(leather.polygon, 1e-6)).is_empty


def test_a_hide_as_wide_as_a_strap_and_its_margins_takes_it_exactly() -> None:
    hide = Hide("strip", np.array([(0, 0), (1184, 0), (1184, 42), (0, 42)]))
    leather = leather_of(hide, 2.0)
    (shape, _) = shapes_of(strap("a", 1180.0, 38.0), 2.0)
    runs = free_runs(leather, shape.body, leather.y0)
    assert len(runs) == 1
    assert runs[0][0] == pytest.approx(2.0)


def test_a_margin_that_eats_the_hide_leaves_no_leather() -> None:
    hide = Hide("strip", np.array([(0, 0), (1184, 0), (1184, 42), (0, 42)]))
    assert free_runs(leather_of(hide, 21.0), upright(1.0), 20.5) == []


def test_an_upright_line_finds_the_longest_rectangle_of_a_row() -> None:
    hide = Hide("step", np.array([(0, 0), (900, 0), (900, 50), (400, 50), (400, 100), (0, 100)]))
    leather = leather_of(hide, 0.0)
    assert free_runs(leather, upright(40.0), 5.0) == [(0.0, 900.0)]
    assert free_runs(leather, upright(40.0), 30.0) == [(0.0, 400.0)]


def test_forbidden_runs_may_touch_and_overlap() -> None:
    assert without([(0, 10), (20, 30)], [(5, 25)]) == [(0, 5), (25, 30)]
    assert without([(0, 10)], [(-5, 15)]) == []
    assert without([(0, 10)], [(0, 10)]) == [(0, 0), (10, 10)]


def test_a_keeper_turned_half_round_is_the_same_shape_and_a_strap_is_not() -> None:
    assert len(shapes_of(keeper("a"), 2.0)) == 2
    assert len(shapes_of(strap("a"), 2.0)) == 2
    assert len(turned_points(np.zeros((3, 2)), 1.0)) == 3
