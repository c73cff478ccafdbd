"""The course of a strap seen from the side, without the modeller."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import LineString, Point
from tests.solid.belts import KEYS, asked, folded

from strapwright.core.errors import PartError
from strapwright.geometry.side_profile import Height, Pen, leaves_circle, rise_round, turned_round


def test_a_pen_goes_round_a_square_with_round_corners_and_comes_back():
    pen = Pen(0.0, 0.0, 0.0, 0.0)
    for _ in range(4):
        pen.line(10.0)
        pen.arc(3.0, math.pi / 2)
    assert (pen.x, pen.z) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert pen.s == pytest.approx(40 + 6 * math.pi)
    x, z = pen.course().point(5.0, 2.0)
    assert (x, z) == pytest.approx((5.0, 2.0))


def test_the_tangent_touches_the_circle_at_a_right_angle():
    for x, z in ((16.0, 1.0), (20.0, -3.9), (9.0, -8.0)):
        turn = leaves_circle(4.5, x, z)
        on = (-4.5 * math.sin(turn), 4.5 * math.cos(turn))
        assert on[0] * (x - on[0]) + on[1] * (z - on[1]) == pytest.approx(0.0, abs=1e-9)
        assert on[1] < 0


def test_a_place_within_the_fold_is_refused():
    with pytest.raises(ValueError, match=r"2\.0 mm from the bar's centre is within the fold"):
        turned_round(4.5, [(2.0, 0.0)], 40.0)


@pytest.mark.parametrize("name", KEYS)
@pytest.mark.parametrize("worn", [False, True])
def test_the_strap_keeps_its_length_however_it_lies(name, worn):
    if worn and name == "hook":
        return
    one = folded(*KEYS[name], worn=worn)
    drafted = one.drafted
    assert one.course.end == pytest.approx(drafted.strap.span)
    assert one.course.start <= -drafted.figures.end.turn_back + 1e-9
    for before, after in zip(one.course.stretches, one.course.stretches[1:], strict=False):
        assert after.start == before.end
        assert math.dist(before.point(before.end), after.point(after.start)) < 1e-9


@pytest.mark.parametrize("name", [name for name in KEYS if name != "hook"])
def test_worn_the_holes_edge_towards_the_tip_lies_on_the_prong_f_from_the_bar(name):
    one = folded(*KEYS[name], worn=True)
    buckle, got = one.drafted.buckle, one.figures
    x, z = one.course.point(got.hole_in_use + got.holes.reach / 2)
    tilt = one.closed.tilt
    along = math.sin(tilt) * z - math.cos(tilt) * x  # from the bar in the frame's own plane
    over = math.cos(tilt) * z + math.sin(tilt) * x
    assert along == pytest.approx(buckle.frame_depth - buckle.prong_thickness, abs=1e-6)
    # from over the eye straight down to over the front bar, which a flat bar is lower than
    eye = buckle.bar_diameter / 2 if buckle.bar_diameter else sum(buckle.bar_section) / math.pi
    front = (buckle.bar_diameter or buckle.bar_section[1]) / 2
    wide = buckle.bar_diameter or buckle.bar_section[0]
    down = (eye - front) * along / (buckle.frame_depth + wide - 1.0)
    assert over == pytest.approx(eye + buckle.prong_thickness - down, abs=1e-6)


def test_the_way_round_a_bar_and_up_is_the_tightest_of_all():
    radius, x, z = 4.4, 6.0, 6.0
    rise = rise_round(radius, x, z)
    ways = []
    for turn in np.arange(0.0, math.pi, 1e-3):  # so far round, and straight on; clear of the bar or not
        off = (radius * math.sin(turn), -radius * math.cos(turn))
        if LineString([off, (x, z)]).distance(Point(0, 0)) > radius - 1e-6:
            ways.append(radius * turn + math.dist(off, (x, z)))
    assert min(ways) - x == pytest.approx(rise.climb, abs=0.01)
    # by hand: 8.485 from the middle at 45°; acos(4.4 / 8.485) = 58.77°; θ = 45 − 58.77 + 90 = 76.23° = 1.3305
    # rad; L = √(8.485² − 4.4²) = 7.255; c = 4.4 × 1.3305 + 7.255 − 6 = 7.109
    assert rise.turn == pytest.approx(1.3305, abs=1e-4)
    assert rise.straight == pytest.approx(7.255, abs=1e-3)
    assert rise.climb == pytest.approx(7.109, abs=1e-3)


def test_a_point_within_the_round_is_taken_to_lie_on_it():
    rise = rise_round(5.0, 3.0, 3.0)
    assert (rise.turn, rise.straight) == pytest.approx((0.75 * math.pi, 0.0))


@pytest.mark.parametrize("name", [name for name in KEYS if name != "hook"])
def test_worn_the_free_end_lies_on_the_front_and_passes_the_keeper(name):
    one = folded(*KEYS[name], worn=True)
    keeper, t = one.figures.keeper, one.figures.layers.strap
    s = one.drafted.strap.span - one.drafted.strap.tip.reach
    assert one.course.point(s)[1] >= one.radius + t
    if keeper is not None:
        assert one.course.point(one.course.end)[0] > one.keeper_x + keeper.width + 5.0


def test_the_round_belt_and_the_hook_say_why_they_are_not_drawn_closed():
    with pytest.raises(PartError, match="too short to be drawn closed"):
        folded(
            3.6, {"size": {"girth": 300}, "holes": {"count": 1}} | KEYS["single prong, keeper"][1], worn=True
        )
    with pytest.raises(PartError, match="a belt with a hook buckle is only drawn flat"):
        folded(*KEYS["hook"], worn=True)


def test_a_height_is_straight_between_its_knots_and_level_beyond():
    face = Height((0.0, 10.0, 20.0), (1.0, 3.0, 0.0))
    assert [face(s) for s in (-5.0, 5.0, 15.0, 99.0)] == [1.0, 2.0, 1.5, 0.0]


def test_the_rows_meet_where_the_draft_put_them():
    for name in ("single prong, keeper", "two prongs, 52 mm", "collar with a dee"):
        one = folded(*KEYS[name])
        assert len(one.mates) == len(asked(*KEYS[name]).strap.buckle_end.rows)
        for _, front, back in one.mates:
            assert one.course.point(back)[0] == pytest.approx(one.course.point(front)[0], abs=0.05)
