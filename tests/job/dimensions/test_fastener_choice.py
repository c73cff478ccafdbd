"""Fasteners by row: what is chosen, and what a maker is told of it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from strapwright.core.findings import Severity
from strapwright.job.catalogue.file import shipped
from strapwright.job.catalogue.hardware import ScrewPost, Snap
from strapwright.job.catalogue.leather import Leather
from strapwright.job.draft import draft_strap
from strapwright.job.findings.punches import hand_holes
from strapwright.job.spec.house import House
from strapwright.job.spec.strap import Belt, StrapTable
from strapwright.rules.leather import Tannage


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
    return draft_strap(belt, leather, House(), catalogue or shipped())


def found(one, code):
    return [finding for finding in one.findings if finding.code == code]


def test_a_post_as_long_as_its_stack_will_work_loose():
    one = drafted(fastener_holes={"stacks": ["6.4 mm", "6.4 mm"]})
    (told,) = found(one, "post-loose")  # rows alike are told together
    assert told.what == (
        "The 1/4 in (6.35 mm) post at rows A and B is only 0.1 mm shorter than the leather there, 6.40 mm, "
        "so it may work loose."
    )
    (alike,) = found(drafted(fastener_holes={"stacks": ["6.37 mm"] * 2}), "post-loose")
    assert alike.what == (
        "The 1/4 in (6.35 mm) post at rows A and B is as long as the leather is thick, so it will not clamp."
    )
    assert alike.do == "Use thread lock or a thin leather washer under the head."


def test_a_post_far_shorter_than_its_stack_may_not_close_and_the_washer_is_told():
    one = drafted(fastener_holes={"stacks": ["7.2 mm", "7.9 mm"]})
    (told,) = found(one, "post-short")
    assert told.severity is Severity.CAUTION
    assert told.what == (
        "The 1/4 in (6.35 mm) post at row B is 1.6 mm shorter than the leather there, 7.90 mm, so it may not "
        "close."
    )
    # 7.94 / 0.95 − 7.9
    assert (
        told.do
        == "Skive the turn-back thinner, or take the 5/16 in (7.94 mm) post with a leather washer of 0.5 mm."
    )


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


def with_own(**kinds):
    """The shipped catalogue, one kind replaced."""
    return replace(shipped(), **{f"{kind}s": entries for kind, entries in kinds.items()})


THICK_POST = with_own(
    screw_post={"stout": ScrewPost(length=7, barrel_diameter=6.5, head_diameter=12, name="stout")}
)
SNAP = with_own(
    snap={"strap": Snap(least_stack=6, most_stack=8, cap_diameter=15, cap_hole=5, stud_hole=4, name="strap")}
)


def cut_holes(one):
    """The diameters of the fastener holes as they are cut: x, and across."""
    circles = [f.contour.as_circle() for f in one.strap.features() if f.name == "fastener hole"]
    return sorted((round(x, 3), round(d, 6)) for x, _, d in circles)


@pytest.mark.parametrize(
    ("thickness", "keys", "catalogue", "holes"),
    [
        (3.6, {}, THICK_POST, (7.0, 7.0)),  # barrel 6.5 + 0.5
        (2.6, {"fastener": "rivet"}, None, (3.0, 3.0)),  # cap-8 holds 5.2 mm
        (3.6, {"fastener": "snap"}, SNAP, (5.0, 4.0)),  # the cap in front, the stud in the turn-back
    ],
)
def test_the_holes_come_from_the_fastener_everywhere(thickness, keys, catalogue, holes):
    one = drafted(thickness, catalogue, **keys)
    front, back = holes
    end, told = one.figures.end, one.as_json()
    assert [post.holes for post in one.posts] == [holes] * 2
    assert cut_holes(one) == sorted(
        [(round(x, 3), front) for x in end.rows for _ in end.fastener_ys]
        + [(round(x, 3), back) for x in end.mates for _ in end.fastener_ys]
    )
    assert told["fastener_diameter_mm"] == front
    assert told["fastener_diameters_mm"] == [front] * 4 + [back] * 4
    # half the slot, a wall of 1.5 t or a hole, half a hole; the other row beyond keeper, air and holes
    slot = end.slot[0] / 2
    assert end.rows[0] == math.ceil(2 * (slot + max(1.5 * thickness, front) + front / 2)) / 2
    assert end.rows[1] - end.rows[0] == pytest.approx(20 + 3 + front)
    assert end.turn_back == math.ceil(-end.mates[1] + max(2.5 * back, 12.0))
    wanted = {hole.what: (hole.width, hole.length) for hole in hand_holes(one)}
    if front == back:
        assert wanted["fastener holes"] == holes
    else:
        assert wanted["fastener holes A B"] == (front, front)
        assert wanted["fastener holes A′ B′"] == (back, back)


def test_rows_that_take_different_posts_have_each_their_own_holes():
    # 7.2 mm takes the 1/4 in post, 3/16 in = 4.7625 mm over its barrel; 8.2 mm the 8 mm post, 5 mm
    one = drafted(fastener_holes={"stacks": ["7.2 mm", "8.2 mm"]})
    assert [post.holes[0] for post in one.posts] == [5.2625, 5.5]
    assert {d for _, d in cut_holes(one)} == {5.2625, 5.5}
    # 20 + 3 and half of either hole
    assert one.figures.end.rows[1] - one.figures.end.rows[0] == pytest.approx(23 + (5.2625 + 5.5) / 2)


def test_a_hole_smaller_than_the_barrel_stops_and_one_much_wider_is_called_out():
    def told(diameter):
        one = drafted(3.6, THICK_POST, fastener_holes={"diameter": diameter})
        assert {d for _, d in cut_holes(one)} == {diameter}
        return [finding for finding in one.findings if finding.code.startswith("fastener-hole")]

    (small,), (wide,) = told(6.4), told(7.6)
    assert (small.code, small.severity) == ("fastener-hole-small", Severity.STOP)
    assert small.what == (
        "fastener_holes.diameter is 6.4 mm; screw post stout at rows A and B needs 6.5 mm, its barrel."
    )
    assert small.do == "Leave fastener_holes.diameter out: its holes are then 7 mm."
    assert (wide.code, wide.severity) == ("fastener-hole-wide", Severity.CAUTION)
    assert wide.what == (
        "fastener_holes.diameter is 7.6 mm; screw post stout at rows A and B has 1.1 mm of play in it, more "
        "than 1 mm."
    )
    assert told(6.5) == told(7.5) == []


def test_one_hole_asked_for_a_snap_has_to_take_its_cap_and_hold_its_stud():
    def told(diameter):
        one = drafted(3.6, SNAP, fastener="snap", fastener_holes={"diameter": diameter})
        return [finding.code for finding in one.findings if finding.code.startswith("fastener-hole")]

    assert told(4.5) == ["fastener-hole-small"]  # the cap wants 5
    assert told(5) == []
    assert told(5.2) == ["fastener-hole-wide"]  # the stud wants 4


def test_without_a_fastener_that_fits_the_holes_are_a_usual_posts_and_it_is_a_stop():
    one = drafted(thickness=1.6)
    assert [post.holes for post in one.posts] == [(5.5, 5.5)] * 2
    assert found(one, "no-post")


def test_a_strap_on_rings_has_its_fasteners_holes_too():
    asked = StrapTable.model_validate(
        {"id": "bag", "width": 32, "length": 900, "ends": [{"bar_diameter": 5}] * 2, "fastener": "snap"}
    )
    leather = Leather(thickness=3.6, tannage=Tannage.VEGETABLE)
    one = draft_strap(asked, leather, House(), SNAP)
    circles = [f.contour.as_circle() for f in one.strap.features() if f.name == "fastener hole"]
    assert sorted(round(d, 6) for *_, d in circles) == [4.0] * 8 + [5.0] * 8
    for end in one.as_json()["ends"]:
        assert end["fastener_diameter_mm"] == 5.0
        assert end["fastener_diameters_mm"] == [5.0] * 4 + [4.0] * 4


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
    assert told.what.startswith(
        "The stack at rows A and B is 3.2 mm, less than the shortest in the catalogue, the 4.5 mm post."
    )


def test_a_long_free_end_is_called_out():
    one = drafted(holes={"count": 11, "spacing": 30})
    (told,) = found(one, "tail-long")
    # from the bearing edge of the last hole, prong 4 + 1: 110 − 5/2 − (38 − 3.5) + 10 · 30
    assert told.numbers["reach_mm"] == pytest.approx(373)


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
