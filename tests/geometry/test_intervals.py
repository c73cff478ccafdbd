"""Runs of a contour, exact to its arcs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from tests.machine.layouts import strap

from strapwright.geometry.contour import Contour
from strapwright.geometry.intervals import between, without

OUTLINE = strap().outline


@given(begin=st.floats(0, 0.999), share=st.floats(0.001, 0.999))
@settings(max_examples=80, deadline=None)
def test_a_run_lies_on_its_contour_and_is_as_long_as_asked(begin, share):
    low = begin * OUTLINE.length
    high = low + share * OUTLINE.length
    part = between(OUTLINE, low, high)
    assert not part.closed
    assert part.length == pytest.approx(high - low, abs=1e-6)
    assert OUTLINE.distance_to(part.sample(7)).max() < 1e-9
    assert math.dist(part.starts[0], OUTLINE.point_at(low)) < 2e-6
    assert math.dist(part.ends[-1], OUTLINE.point_at(high)) < 2e-6


def test_a_run_keeps_whole_segments_bit_for_bit():
    part = between(OUTLINE, 0.1 * OUTLINE.length, 0.95 * OUTLINE.length)
    inner = {tuple(v) for v in OUTLINE.vertices.tolist()}
    assert sum(tuple(v) in inner for v in part.vertices.tolist()) >= 3


@given(
    gaps=st.lists(st.tuples(st.floats(0, 0.999), st.floats(0.001, 0.2)), min_size=1, max_size=5),
    closed=st.booleans(),
)
@settings(max_examples=120, deadline=None)
def test_what_is_left_and_what_was_taken_make_the_whole(gaps, closed):
    contour = OUTLINE if closed else Contour(OUTLINE.vertices, closed=False)
    total = contour.length
    stretches = [(a * total, (a + b) * total if closed else min(1.0, a + b) * total) for a, b in gaps]
    left = without(contour, stretches)
    where = np.linspace(0, total, 400, endpoint=False)
    points = np.array([contour.point_at(s) for s in where])
    taken = np.zeros(len(where), dtype=bool)
    near_end = np.zeros(len(where), dtype=bool)
    for low, high in stretches:
        for turn in (0, total):
            taken |= (where + turn > low) & (where + turn < high)
            near_end |= (np.abs(where + turn - low) < 1e-5) | (np.abs(where + turn - high) < 1e-5)
    on = np.zeros(len(where), dtype=bool)
    for part in left:
        on |= part.distance_to(points) < 1e-9
    assert (on | near_end == ~taken | near_end).all()


def test_without_gaps_a_contour_is_itself():
    assert without(OUTLINE, []) == (OUTLINE,)


def test_without_all_of_it_nothing_is_left():
    assert without(OUTLINE, [(0, OUTLINE.length)]) == ()
