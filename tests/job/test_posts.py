"""Fasteners by row: what is chosen, and what a maker is told of it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from strapwright.findings import Severity
from strapwright.job.belt import Belt
from strapwright.job.catalogue import shipped
from strapwright.job.draft import draft_belt
from strapwright.job.hardware import ScrewPost
from strapwright.job.leather import Leather
from strapwright.job.model import House
from strapwright.trade.leather import Tannage


def drafted(thickness=3.6, catalogue=None, **keys):
    belt = Belt.model_validate(
        {
            "id": "one",
            "size": {"girth": 950},
            "buckle": {"opening": 46, "bar_diameter": 5, "frame_depth": 38},
        }
        | keys
    )
    leather = Leather(thickness=thickness, tannage=Tannage.VEGETABLE)
    return draft_belt(belt, belt.buckle, leather, House(), catalogue or shipped())


def found(one, code):
    return [finding for finding in one.findings if finding.code == code]


def test_a_post_as_long_as_its_stack_will_work_loose():
    one = drafted(fastener_holes={"stacks": ["6.4 mm", "6.4 mm"]})
    (told,) = found(one, "post-loose")  # rows alike are told together
    assert told.what == (
        "The 6.35 mm post at rows A and B draws 6.40 mm of leather by 1%, less than 2%: it will work loose."
    )


def test_a_post_far_shorter_than_its_stack_may_not_close_and_the_washer_is_told():
    one = drafted(fastener_holes={"stacks": ["7.2 mm", "7.9 mm"]})
    (told,) = found(one, "post-short")
    assert told.severity is Severity.CAUTION
    assert told.what == (
        "The 6.35 mm post at row B draws 7.90 mm of leather by 20%, more than 15%: it may not close."
    )
    # 7.94 / 0.95 − 7.9
    assert told.do == "Skive the turn-back thinner, or take the 7.94 mm post with a washer of 0.5 mm."


def test_a_measured_stack_overrides_the_computed_one():
    one = drafted(fastener_holes={"stacks": ["8.2 mm"]})
    assert [post.stack for post in one.posts] == pytest.approx([8.2, 7.2])
    assert len(found(one, "posts-differ")) == 1
    assert [post.length for post in one.posts] == [8.0, 6.35]


def test_a_skived_turn_back_thins_the_stack():
    one = drafted(fold_thickness=2.4)
    assert [post.stack for post in one.posts] == pytest.approx([6.0, 6.0])


def test_a_rivet_is_chosen_by_the_stack_it_holds():
    one = drafted(fastener="rivet")
    rivets = shipped().rivets
    assert all(rivets[post.name].holds(post.stack) for post in one.posts)
    assert not found(one, "no-post")


def test_a_large_head_is_kept_clear_of_the_frame_as_it_swings():
    own = replace(
        shipped(),
        screw_posts={
            "big": ScrewPost(length="1/4 in", barrel_diameter="5 mm", head_diameter="16 mm", name="big")
        },
    )
    frame = {"opening": 46, "bar_diameter": 5, "frame_depth": 20}
    usual, big = drafted(buckle=frame), drafted(buckle=frame, catalogue=own)
    behind = [one.figures.end.rows[0] - one.figures.end.half_turn / 2 for one in (usual, big)]
    assert behind[0] + 5 <= 20  # a usual head lies in the frame's window
    assert behind[1] - 8 >= 20 + 5  # a head of 16 mm does not, and goes beyond the front bar
    assert big.figures.end.head_radius == 8.0


def test_no_post_for_a_stack_stops_the_cut_files():
    (told,) = found(drafted(thickness=1.6), "no-post")
    assert told.severity is Severity.STOP
    assert told.what.startswith("The stack at rows A and B is 3.2 mm, less than the shortest screw post")


def test_a_long_free_end_is_called_out():
    one = drafted(holes={"count": 11, "spacing": 30})
    (told,) = found(one, "tail-long")
    # 110 − 38 + 10 · 30
    assert told.numbers["reach_mm"] == pytest.approx(372)


def test_holes_may_be_a_strap_width_apart():
    one = drafted(holes={"spacing": "strap_width", "count": 5})
    xs = one.strap.holes.xs
    assert xs[1] - xs[0] == pytest.approx(44.0)


def test_a_skived_fold_is_taken_through_every_figure():
    whole, skived = drafted(), drafted(fold_thickness=2.4)
    assert skived.figures.end.half_turn < whole.figures.end.half_turn
    assert skived.figures.end.slot[0] <= whole.figures.end.slot[0]
    # r + K t is smaller, so that the turn-back strays less from the mirror image
    assert abs(skived.figures.end.shift) < abs(whole.figures.end.shift)
    assert skived.figures.seat.doubled < whole.figures.seat.doubled
    assert skived.figures.hole_in_use < whole.figures.hole_in_use


def test_a_lining_is_carried_through_the_body_but_not_the_fold():
    plain, lined = drafted(), drafted(lining={"thickness": 1.2})
    assert lined.figures.end.half_turn == plain.figures.end.half_turn
    assert lined.figures.layers.strap == pytest.approx(4.8)
    assert [post.stack for post in lined.posts] == pytest.approx([8.4, 8.4])
    # held keeper: front and billet are both lined
    assert lined.figures.keeper_length == pytest.approx(plain.figures.keeper_length + 4 * 1.2)
    assert lined.lining is not None
    assert lined.lining.start > lined.figures.end.slot[0] / 2
