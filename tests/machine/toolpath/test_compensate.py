"""Kerf compensation: exact, checked, cached, and refused by name where it cannot be had."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from tests.machine.layouts import strap

from strapwright.core.errors import PlanError
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import filleted, rectangle, stadium
from strapwright.geometry.transform import Placement
from strapwright.machine.toolpath import compensate as module
from strapwright.machine.toolpath.compensate import compensate


@given(
    kerf=st.floats(0.02, 1.2),
    length=st.floats(180, 1500),
    width=st.floats(12, 80),
    turn=st.floats(-math.pi, math.pi),
)
@settings(max_examples=60, deadline=None)
def test_an_outline_grows_by_half_the_kerf_exactly(kerf, length, width, turn):
    outline = Placement(turn, 300, 200).apply(strap(length=length, width=width).outline)
    path = compensate(outline, kerf, "outside", name="p")
    half = kerf / 2
    # Steiner's formula for a convex shape.
    assert path.area == pytest.approx(outline.area + outline.length * half + math.pi * half**2, rel=1e-9)
    assert np.abs(outline.distance_to(path.sample(8)) - half).max() < 1e-6


@given(kerf=st.floats(0.02, 1.2), length=st.floats(8, 40), width=st.floats(2, 7.9))
@settings(max_examples=60, deadline=None)
def test_a_slot_shrinks_by_half_the_kerf_on_every_side(kerf, length, width):
    path = compensate(stadium(0, 0, length, width), kerf, "inside", name="p")
    wanted = stadium(0, 0, length - kerf, width - kerf)
    assert path.bounding_box == pytest.approx(wanted.bounding_box, abs=1e-9)
    assert path.area == pytest.approx(wanted.area, abs=1e-7)


@pytest.mark.parametrize("reverse", [False, True])
def test_a_circle_stays_a_circle_whichever_way_it_runs(reverse):
    circle = Contour.circle(700, 300, 5)
    path = compensate(circle.reversed() if reverse else circle, 0.22, "inside", name="p")
    assert path.as_circle() == pytest.approx((700, 300, 4.78), abs=1e-9)
    assert path.is_counter_clockwise is not reverse


def test_no_kerf_leaves_the_shape_itself():
    slot = stadium(0, 0, 20, 5)
    assert compensate(slot, 0.0, "inside", name="p") is slot


def test_a_miter_keeps_an_outer_corner_sharp():
    square = rectangle(0, 0, 50, 50)
    assert compensate(square, 0.2, "outside", name="p", corner="miter").area == pytest.approx(50.2**2)
    assert compensate(square, 0.2, "outside", name="p").area == pytest.approx(50.2**2 - (4 - math.pi) * 0.01)


def test_a_shape_met_before_is_not_worked_out_again(monkeypatch):
    memory: module.Memory = {}
    first = compensate(strap("ada").outline, 0.2, "outside", name="ada", memory=memory)
    monkeypatch.setattr(module, "offset", None)
    assert compensate(strap("bo").outline, 0.2, "outside", name="bo", memory=memory) is first
    with pytest.raises(TypeError):  # another kerf is another path, which needs the offset
        compensate(strap("bo").outline, 0.3, "outside", name="bo", memory=memory)


def test_a_slot_no_wider_than_the_kerf_is_refused_by_name():
    with pytest.raises(PlanError) as caught:
        compensate(stadium(0, 0, 20, 0.5), 0.6, "inside", name="ada/strap: prong slot")
    message = str(caught.value)
    assert message.startswith("ada/strap: prong slot: a kerf of 0.6 mm is too wide for this shape (")
    assert message.endswith("); widen the shape, or use a machine with a narrower cut")
    assert "\n" not in message


def notched(width: float) -> Contour:
    """A plate with a notch of the width given, 10 mm deep, in its upper side."""
    half = width / 2
    return Contour.from_points(
        [
            (0, 0),
            (60, 0),
            (60, 40),
            (30 + half, 40),
            (30 + half, 30),
            (30 - half, 30),
            (30 - half, 40),
            (0, 40),
        ]
    )


def test_a_notch_wider_than_the_kerf_is_kept():
    path = compensate(notched(1.0), 0.4, "outside", name="p")
    assert path.distance_to([(30, 30.2)])[0] == pytest.approx(0, abs=1e-9)


def test_a_notch_the_kerf_would_close_is_refused_by_name():
    with pytest.raises(PlanError, match=r"^odd/strap: outline: .*kerf|^odd/strap: outline: a cut"):
        compensate(notched(0.3), 0.4, "outside", name="odd/strap: outline")


def test_a_path_that_lost_a_notch_is_caught_by_the_check_itself(monkeypatch):
    # An offset that forgets the notch: what the check is there for.
    plain = compensate(rectangle(0, 0, 60, 40), 0.4, "outside", name="p")
    monkeypatch.setattr(module, "offset", lambda *_, **__: plain)
    with pytest.raises(PlanError) as caught:
        compensate(notched(0.3), 0.4, "outside", name="odd/strap: outline")
    assert str(caught.value) == (
        "odd/strap: outline: a cut 0.4 mm wide closes a notch near x 30.15, y 30.00 mm and would leave "
        "9.92 mm standing; widen the notch, or use a narrower cut"
    )


SPUR = Contour.from_points(
    [(-0.2, -0.2), (60.2, -0.2), (60.2, 40.2), (29.1, 40.2), (29, 45), (28.9, 40.2), (-0.2, 40.2)]
)


@pytest.mark.parametrize(
    ("wrong", "word"),
    [
        (rectangle(-0.1, -0.2, 60.2, 40.2), "cuts into the shape"),
        (rectangle(-0.2, -0.2, 60.2, 40.3), "closes a notch near x .* would leave 0.10 mm standing"),
        (SPUR, "leaves the shape near x 29"),
        (rectangle(0.2, 0.2, 59.8, 39.8), "wrong side"),
    ],
)
def test_a_path_off_its_distance_is_caught_by_the_check(monkeypatch, wrong, word):
    monkeypatch.setattr(module, "offset", lambda *_, **__: wrong)
    with pytest.raises(PlanError, match=word):
        compensate(rectangle(0, 0, 60, 40), 0.4, "outside", name="p", corner="miter")


@pytest.mark.parametrize("turn", [45, 90, 120, 140])
def test_an_inner_corner_stays_round_and_is_taken(turn):
    # An arrow notch whose bottom turns by the angle given.
    half = math.radians(180 - turn) / 2
    reach = 12 * math.tan(half)
    contour = Contour.from_points(
        [(0, 0), (80, 0), (80, 40), (40 + reach, 40), (40, 28), (40 - reach, 40), (0, 40)]
    )
    path = compensate(contour, 0.3, "outside", name="p")
    assert path.distance_to([(40, 28)])[0] == pytest.approx(0.15 / math.sin(half), abs=1e-6)


def test_a_square_hole_keeps_its_sides():
    path = compensate(rectangle(0, 0, 6, 4), 0.2, "inside", name="p")
    assert path.area == pytest.approx(5.8 * 3.8)


def test_a_rounded_inner_corner_tighter_than_the_cut_is_refused():
    tight = filleted([(0, 0), (20, 0), (20, 20), (0, 20)], [0.1] * 4)
    with pytest.raises(PlanError, match=r"^p: "):
        compensate(tight, 0.6, "inside", name="p")
