"""The least that openings leave across a strap, against sums by hand and against many sections."""

from __future__ import annotations

import math

import numpy as np
import pytest

from strapwright.geometry.across import first_ahead, narrowest
from strapwright.geometry.contour import Contour
from strapwright.geometry.intersect import Segment, meet, segments_of

PLATE = Contour.from_points([(0, -19), (100, -19), (100, 19), (0, 19)])


def test_two_circles_that_overlap_along_take_most_between_their_centres():
    circles = [Contour.circle(50, -8, 10), Contour.circle(54, 8, 10)]
    at = narrowest(PLATE, circles, [(45, 59)])
    # at x = 52 each is 2 √(5² − 2²) wide; at either centre 10 + 2 √(5² − 4²) = 16
    assert (at.x, at.width, at.taken) == pytest.approx((52.0, 38.0, 4 * math.sqrt(21)), abs=1e-6)
    assert at.left == pytest.approx(38 - 4 * math.sqrt(21))


@pytest.mark.parametrize(("diameter", "x", "taken"), [(9.0, 10.0, 11.0), (7.0, None, 10.0)])
def test_an_opening_bitten_from_both_sides_is_widest_at_its_ends_or_beside_another(diameter, x, taken):
    # 20 × 10 mm, both long sides bitten 4 mm deep: 2 mm wide in the middle
    bite = -4 / 10
    waist = Contour([(10, -5, bite), (30, -5, 0), (30, 5, bite), (10, 5, 0)])
    at = narrowest(PLATE, [waist, Contour.circle(20, 12, diameter)], [(0, 100)])
    assert at.taken == pytest.approx(taken, abs=1e-6)
    assert at.x == pytest.approx(20.0, abs=1e-3) if x else min(abs(at.x - 10), abs(at.x - 30)) < 1e-6


def test_only_what_lies_in_the_runs_counts_and_a_narrow_tip_does():
    openings = [Contour.circle(20, 0, 12), Contour.circle(60, 0, 6)]
    assert narrowest(PLATE, openings, [(50, 70)]).taken == pytest.approx(6.0)
    assert narrowest(PLATE, openings, [(0, 10), (55, 65)]).taken == pytest.approx(6.0)
    assert narrowest(PLATE, openings, [(120, 130)]) is None
    assert narrowest(PLATE, openings, []) is None
    point = Contour.from_points([(0, -19), (60, -19), (98, 0), (60, 19), (0, 19)])  # 1 mm less for each mm
    at = narrowest(point, [Contour.from_points([(70, -2), (80, -2), (80, 2), (70, 2)])], [(70, 80)])
    assert (at.x, at.width, at.taken) == pytest.approx((80.0, 18.0, 4.0))


@pytest.mark.parametrize("seed", range(4))
def test_no_section_leaves_less_and_some_leaves_as_little(seed):
    rng = np.random.default_rng(seed)
    openings = []
    for y in (-11.0, 0.0, 11.0):
        angles = np.sort((np.arange(7) + rng.uniform(-0.3, 0.3, 7)) * 2 * np.pi / 7)
        radii = rng.uniform(2, 4, 7)
        x = 50 + rng.uniform(-3, 3) + radii * np.cos(angles)
        bulges = rng.uniform(-0.15, 0.3, 7)
        openings.append(Contour(np.column_stack([x, y + radii * np.sin(angles), bulges])))
    openings[1] = openings[1].reversed()
    low = min(one.bounding_box[0] for one in openings)
    high = max(one.bounding_box[2] for one in openings)
    vertices = np.concatenate([one.vertices[:, 0] for one in openings])
    places = np.concatenate([np.linspace(low, high, 1500), vertices - 1e-7, vertices + 1e-7])
    found = narrowest(PLATE, openings, [(low, high)])
    assert found.left <= min(filter(None, (section(openings, x) for x in places))) + 1e-5
    beside = [section(openings, found.x + off) for off in (-1e-9, 1e-9)]  # an edge may begin at it
    assert any(left == pytest.approx(found.left, abs=1e-3) for left in beside)


def section(openings, x):
    """What a straight cut at x leaves; None where it meets a corner."""
    left, cut = 38.0, Segment((x, -40.0), (x, 40.0))
    for one in openings:
        ys = sorted(y for part in segments_of(one) for _, y in meet(cut, part, 0.0))
        if len(ys) % 2:
            return None
        left -= sum(ys[1::2]) - sum(ys[::2])
    return left


def test_the_nearest_line_ahead_is_a_notch_an_arc_or_where_it_leaves_the_band():
    notched = Contour.from_points([(0, -19), (100, -19), (85, 0), (100, 19), (0, 19)])
    assert first_ahead([notched], 20, -2.5, 2.5) == pytest.approx(85.0)
    pointed = Contour.from_points([(0, -19), (60, -19), (100, 0), (60, 19), (0, 19)])
    assert first_ahead([pointed], 20, -2.5, 2.5) == pytest.approx(100 - 40 * 2.5 / 19)
    above = Contour.circle(50, 6, 10)  # 1 mm above the line; 1.5 mm into the band
    assert first_ahead([above], 20, -2.5, 2.5) == pytest.approx(50 - math.sqrt(5**2 - 3.5**2))
    assert first_ahead([above], 20, -0.5, 0.5) == math.inf
    assert first_ahead([above], 60, -2.5, 2.5) == math.inf
