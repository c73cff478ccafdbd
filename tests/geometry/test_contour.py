"""The contour: exact measures, walking along it, inside and outside, refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from tests.geometry.shapes_sampled import NAMED, stars, tipped_strap

from strapwright.core.errors import GeometryError
from strapwright.geometry.contour import Contour, through_points
from strapwright.geometry.shapes import chain


def test_a_circle_has_the_area_length_and_box_of_a_circle():
    circle = Contour.circle(1.0, 2.0, 10.0)
    assert circle.area == pytest.approx(math.pi * 25, rel=1e-15)
    assert circle.length == pytest.approx(math.pi * 10, rel=1e-15)
    assert circle.bounding_box == pytest.approx((-4.0, -3.0, 6.0, 7.0), abs=1e-14)
    assert circle.as_circle() == pytest.approx((1.0, 2.0, 10.0))


def test_the_area_of_a_nearly_straight_arc_loses_no_digits():
    bulge = 1e-7
    contour = Contour([(0, 0, bulge), (1000, 0, 0), (500, 1000, 0)])
    # A flat circular segment: two thirds of chord times sagitta (exact in the limit).
    assert contour.area - 500_000 == pytest.approx(2 / 3 * 1000 * (bulge * 500), rel=1e-4)


def test_the_box_of_an_arc_past_its_quadrant_includes_the_quadrant():
    arc = Contour([(1, 0, math.tan(math.pi / 4)), (-1, 0, 0)], closed=False)
    assert arc.bounding_box == pytest.approx((-1.0, 0.0, 1.0, 1.0), abs=1e-15)


def test_point_and_tangent_run_round_a_circle():
    circle = Contour.circle(0, 0, 2)
    for turn in np.linspace(0, 2 * np.pi, 13):
        assert circle.point_at(turn) == pytest.approx((math.cos(turn), math.sin(turn)), abs=1e-12)
        assert circle.tangent_at(turn) == pytest.approx((-math.sin(turn), math.cos(turn)), abs=1e-12)


def test_a_length_beyond_an_open_contour_is_refused():
    line = Contour.from_points([(0, 0), (10, 0)], closed=False)
    with pytest.raises(GeometryError, match=r"must be 0 to 10\.000 mm, got 10\.500"):
        line.point_at(10.5)


@pytest.mark.parametrize("name", NAMED)
def test_run_backwards_it_has_the_same_length_and_the_opposite_area(name: str):
    contour = NAMED[name]
    back = contour.reversed()
    assert back.length == pytest.approx(contour.length, rel=1e-14)
    assert back.area == pytest.approx(-contour.area, rel=1e-14)
    assert back.reversed() == contour


@pytest.mark.parametrize("name", NAMED)
def test_sampled_points_lie_on_the_contour(name: str):
    contour = NAMED[name]
    assert contour.distance_to(contour.sample(7)).max() < 1e-11


@given(contour=stars(), seed=st.integers(0, 10**6))
@settings(max_examples=60, deadline=None)
def test_inside_and_distance_agree_with_walking_the_contour(contour: Contour, seed: int):
    points = np.random.default_rng(seed).uniform(-60, 60, (40, 2))
    walked = contour.sample(400)
    brute = np.hypot(*(points[:, None, :] - walked[None, :, :]).transpose(2, 0, 1)).min(axis=1)
    exact = contour.distance_to(points)
    assert (exact <= brute + 1e-9).all()
    assert (brute - exact < 0.5).all()
    # Inside by the winding of the finely walked polygon, where the point is clear of the line.
    rel = walked[None, :, :] - points[:, None, :]
    angles = np.arctan2(rel[:, :, 1], rel[:, :, 0])
    steps = np.diff(np.concatenate([angles, angles[:, :1]], axis=1), axis=1)
    winding = np.round(((steps + np.pi) % (2 * np.pi) - np.pi).sum(axis=1) / (2 * np.pi))
    clear = exact > 0.5
    assert (contour.contains(points)[clear] == (winding[clear] != 0)).all()


def test_the_centre_of_a_circle_is_inside_though_it_lies_on_both_chords():
    assert Contour.circle(0, 0, 2).contains([(0, 0), (0.999, 0), (1.001, 0), (0, -0.9)]).tolist() == [
        True,
        True,
        False,
        True,
    ]


@pytest.mark.parametrize("sweep", [-3.1, -1.0, -1e-3, 1e-3, 0.5, 2.0, 3.1, 4.5, 6.0])
def test_the_bulge_through_three_points_is_the_arcs_own(sweep: float):
    points = [(5 * math.cos(a), 5 * math.sin(a)) for a in (0.3, 0.3 + 0.4 * sweep, 0.3 + sweep)]
    assert through_points(*points) == pytest.approx(math.tan(sweep / 4), rel=1e-9)


@pytest.mark.parametrize("bulge", [1e-11, 1e-9, 1e-7, 1e-5])
def test_the_distance_from_a_nearly_straight_arc_keeps_its_digits(bulge: float):
    arc = Contour([(0, 0, bulge), (3000, 0, 0)], closed=False)
    sagitta = bulge * 1500
    assert arc.distance_to([(1500, 40), (1500, -40)]) == pytest.approx([40 + sagitta, 40 - sagitta], abs=1e-9)


def test_three_points_in_line_make_a_straight_segment():
    assert through_points((0, 0), (1, 1), (3, 3)) == 0.0


def test_chain_drops_a_vertex_that_repeats_the_one_before():
    contour = chain([(0, 0, 0), (10, 0, 0.2), (10, 0, 0.5), (10, 10, 0), (0, 0, 0)])
    assert contour.vertices.tolist() == [[0, 0, 0], [10, 0, 0.5], [10, 10, 0]]


@pytest.mark.parametrize(
    ("vertices", "closed", "message"),
    [
        ([(0, 0)], True, r"shape \(N, 3\), got \(1, 2\)"),
        ([(0, 0, 0)], True, "at least 2 vertices, got 1"),
        ([(0, 0, 0), (math.nan, 1, 0), (2, 2, 0)], True, "vertex 1 of a contour is not finite"),
        ([(0, 0, 0), (1, 0, 0), (1, 0, 0)], True, "segment 1 of a contour starts and ends at"),
        ([(0, 0, 0), (1, 0, 0)], True, "encloses nothing"),
    ],
)
def test_what_is_no_contour_is_refused(vertices: list[tuple[float, ...]], closed: bool, message: str):
    with pytest.raises(GeometryError, match=message):
        Contour(vertices, closed)


def test_a_contour_cannot_be_changed():
    contour = tipped_strap()
    with pytest.raises(ValueError, match="read-only"):
        contour.vertices[0, 0] = 1.0
    assert len({contour, tipped_strap()}) == 1


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("bulge", [1.0, 0.3, -0.3])
def test_a_point_on_the_chord_of_an_arc_is_inside_where_its_neighbours_are(turn, bulge):
    # The chord of an arc is no edge: on it, as on a slot's end, a point is inside as those beside it are.
    corners = np.array([(-10.0, -4.0), (10.0, -4.0), (10.0, 4.0), (-10.0, 4.0)])
    for _ in range(turn // 90):
        corners = np.column_stack([-corners[:, 1], corners[:, 0]])
    contour = Contour(np.column_stack([corners, [0.0, bulge, 0.0, bulge]]))
    a, b = corners[1], corners[2]
    on = a + np.linspace(0.1, 0.9, 9)[:, None] * (b - a)
    for past in (-1e-9, 0.0, 1e-9):
        assert (contour.contains(on + past * (corners[1] - corners[0])) == (bulge > 0)).all()


def test_open_runs_made_together_are_what_each_is_alone():
    rng = np.random.default_rng(5)
    alone = [rng.uniform(-9, 9, (count, 3)) * (1, 1, 0.1) for count in (2, 5, 3, 2)]
    alone[1][2, 2] = 1e-13  # as good as straight
    together = Contour.each(np.vstack(alone), [2, 5, 3, 2], [False] * 4)
    assert together == [Contour(run, closed=False) for run in alone]
    assert [run.length for run in together] == [Contour(run, closed=False).length for run in alone]
    assert not any(run.vertices.flags.writeable for run in together)
    assert Contour.each(np.empty((0, 3)), [], []) == []


FIGURES = ("starts", "ends", "bulges", "is_arc", "sweeps", "radii", "centres", "segment_lengths", "length")


def test_contours_measured_together_have_the_figures_of_each_alone():
    rng = np.random.default_rng(6)
    counts, closed = [2, 5, 3, 2], [True, False, True, False]
    vertices = [rng.uniform(-9, 9, (count, 3)) for count in counts]
    vertices[1][1:3, 2] = 0.0
    together = Contour.each(np.vstack(vertices), counts, closed, measured=True)
    assert together == [Contour(*both) for both in zip(vertices, closed, strict=True)]
    for one, alone in zip(together, map(Contour, vertices, closed), strict=True):
        for name in FIGURES:
            np.testing.assert_array_equal(getattr(one, name), getattr(alone, name), err_msg=name)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ([(0, 0, 0), (0, 0, 0)], "segment 0 of a contour starts and ends"),
        ([(0, 0, 0), (np.nan, 0, 0)], "vertex 1 of a contour is not finite"),
        ([(0, 0, 0)], "at least 2 vertices, got 1"),
    ],
)
def test_a_wrong_run_among_open_runs_is_refused_as_alone(wrong, message):
    good = [(0, 0, 0), (5, 0, 0), (5, 0.1, 0)]
    with pytest.raises(GeometryError, match=message):
        Contour.each(np.array([*good, *wrong, *good]), [3, len(wrong), 3], [False] * 3)
