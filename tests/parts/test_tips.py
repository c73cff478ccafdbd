"""Every tip shape: tangent where it should be, symmetrical, and honest about what it cannot be."""

from __future__ import annotations

import math
from typing import get_args

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from strapwright.core.errors import PartError
from strapwright.geometry.contour import Contour
from strapwright.geometry.intersect import self_crossing
from strapwright.job.spec.strap_end import TIP_MEASURES, TipShape
from strapwright.parts.dimension import dimensions_of
from strapwright.parts.tips import TIPS, make_tip


def turn_at(contour: Contour, vertex: int) -> float:
    """The change of direction at a vertex of an open contour."""
    before = contour.sweeps[vertex - 1] / 2 + np.arctan2(*(contour.ends - contour.starts)[vertex - 1][::-1])
    after = -contour.sweeps[vertex] / 2 + np.arctan2(*(contour.ends - contour.starts)[vertex][::-1])
    return float((after - before + np.pi) % (2 * np.pi) - np.pi)


def drawn(tip) -> Contour:
    """The tip with a stretch of straight edge before and after it."""
    far = -tip.reach - 50.0
    return Contour(
        np.array([(far, -tip.width / 2, 0.0), *tip.vertices(), (far, tip.width / 2, 0.0)]), closed=False
    )


@pytest.mark.parametrize("name", TIPS)
@given(width=st.floats(10, 110))
@settings(max_examples=30, deadline=None)
def test_a_tip_is_tangent_all_round_and_ends_at_zero(name, width):
    contour = drawn(make_tip(name, width, {}))
    for vertex in range(1, len(contour)):
        assert turn_at(contour, vertex) == pytest.approx(0.0, abs=1e-7)
    _, y0, x1, y1 = contour.bounding_box
    assert x1 == pytest.approx(0.0, abs=1e-9)
    assert (y0, y1) == pytest.approx((-width / 2, width / 2))


@pytest.mark.parametrize("name", TIPS)
def test_a_tip_is_symmetrical_about_the_centre_line(name):
    vertices = np.array(make_tip(name, 38.0, {}).vertices())
    assert vertices[:, 0] == pytest.approx(vertices[::-1, 0], abs=1e-9)
    assert vertices[:, 1] == pytest.approx(-vertices[::-1, 1], abs=1e-9)
    assert vertices[:-1, 2] == pytest.approx(vertices[:-1, 2][::-1], abs=1e-9)


@pytest.mark.parametrize("name", TIPS)
@given(data=st.data(), width=st.floats(8, 120))
@settings(max_examples=60, deadline=None)
def test_any_dimensions_in_range_make_a_simple_tip_or_a_refusal(name, data, width):
    definition = type(make_tip(name, 38.0, {}))
    given_dims = {
        field: data.draw(st.floats(dim.low, dim.high), label=field)
        for field, dim in dimensions_of(definition).items()
        if field != "width"
    }
    try:
        tip = make_tip(name, width, given_dims)
    except PartError as error:
        assert "allow" in str(error) or "need" in str(error)  # noqa: PT017 - any refusal says what would do
        return
    contour = drawn(tip)
    assert self_crossing(contour) is None
    assert contour.bounding_box[2] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("name", [name for name, measures in TIP_MEASURES.items() if "length" in measures])
@pytest.mark.parametrize(("width", "length"), [(12.0, 9.0), (38.0, 38.0), (40.0, 30.0), (52.0, 95.0)])
def test_a_tip_is_as_long_as_it_is_said_to_be_from_the_last_full_width_to_the_foremost_point(
    name, width, length
):
    contour = drawn(make_tip(name, width, {"length": length}))
    full = [x for x, y, _ in contour.vertices.tolist() if abs(abs(y) - width / 2) < 1e-9]
    assert max(full) == pytest.approx(-length, abs=1e-9)
    # beyond it the strap is narrower at once: the first curve leaves the edge
    just_past = Contour(np.array(contour.vertices[1:3]), closed=False)
    assert just_past.sweeps[0] > 0


@pytest.mark.parametrize("name", TIPS)
def test_every_dimension_has_a_range_and_a_reason(name):
    declared = dimensions_of(type(make_tip(name, 38.0, {})))
    assert "width" in declared
    for dim in declared.values():
        assert dim.low < dim.high
        assert dim.reason
        assert dim.unit == "mm"


def test_a_job_may_name_every_tip_shape_and_no_other():
    assert set(get_args(TipShape)) == set(TIPS)
    for name, measures in TIP_MEASURES.items():
        assert set(measures) == set(dimensions_of(type(make_tip(name, 38.0, {})))) - {"width"}


@pytest.mark.parametrize(
    ("name", "given_dims", "message"),
    [
        ("ogee", {}, "tip is 'ogee'; expected one of english_point, round"),
        ("round", {"length": 40.0}, "a round tip has no such dimension; it has none"),
        ("square", {"nose_radius": 3.0}, "a square tip has no such dimension; it has corner_radius"),
        ("square", {"corner_radius": 19.5}, r"allows at most 19 mm \(take the round tip"),
        ("english_point", {"length": 15.0}, "needs more than 19 mm"),
        ("english_point", {"nose_radius": 18.0}, r"allows at most 17\.1 mm"),
        ("english_point", {"length": 400.0}, "length is 400 mm; allowed are 4 to 300 mm"),
        ("spear", {"length": 10.0}, "needs at least 19 mm"),
        ("spear", {"shoulder_radius": 399.0}, "shoulder_radius is 399 mm"),
        ("spear", {"nose_radius": math.nan}, "nose_radius is nan mm"),
        ("bridle_point", {"corner_radius": 30.0}, "allows at most"),
    ],
)
def test_a_tip_that_cannot_be_is_refused_with_what_would_be_allowed(name, given_dims, message):
    with pytest.raises(PartError, match=message):
        make_tip(name, 38.0, given_dims)


def test_a_bridle_point_is_a_sixteenth_of_an_inch_in_from_each_edge():
    # common practice of saddlers: squared end, 1/16 in in from the edge, slope back the strap's width
    end = max(make_tip("bridle_point", 38.0, {"corner_radius": 2.0}).vertices())[0]
    ys = [y for x, y, _ in make_tip("bridle_point", 38.0, {"corner_radius": 2.0}).vertices() if x == end]
    half_end = max(ys) + 2.0
    assert half_end == pytest.approx(19 - 25.4 / 16, abs=0.1)


@pytest.mark.parametrize(
    ("width", "nose_radius", "corners"),
    [(8.0, 1.0, 3), (30.0, 3.0, 3), (8.0, 3.0, 3)],
)
def test_a_spear_of_half_its_width_with_round_shoulders_is_a_half_circle(width, nose_radius, corners):
    half = width / 2
    tip = make_tip("spear", width, {"length": half, "nose_radius": nose_radius, "shoulder_radius": half})
    assert len(tip.vertices()) == corners
    assert drawn(tip).length == pytest.approx(drawn(make_tip("round", width, {})).length, abs=1e-6)


@pytest.mark.parametrize("excess", [1e-3, 1e-5, 1e-6, 3e-8])
def test_an_english_point_hardly_longer_than_half_its_width_can_be_drawn(excess):
    tip = make_tip("english_point", 38.0, {"length": 19.0 + excess, "nose_radius": 0.5})
    assert self_crossing(drawn(tip)) is None


def test_a_spear_whose_shoulders_meet_its_nose_has_no_side_between_them():
    most = (36.0**2 + 20.0**2 - 4.0**2) / (40.0 - 8.0)  # where two circles touch from inside
    tip = make_tip("spear", 40.0, {"length": 40.0, "nose_radius": 4.0, "shoulder_radius": most})
    assert len(tip.vertices()) == 4  # shoulder, nose, shoulder
    assert self_crossing(drawn(tip)) is None
