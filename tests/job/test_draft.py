"""The draft: a belt comes out right, and what makes none is refused by belt and field."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings, strategies as st
from pydantic import ValidationError

from strapwright.core.errors import PartError
from strapwright.core.findings import Severity
from strapwright.geometry.intersect import self_crossing
from strapwright.geometry.lettering import lettering
from strapwright.job.catalogue.file import shipped
from strapwright.job.catalogue.leather import Leather
from strapwright.job.draft import draft, draft_strap, marks_of
from strapwright.job.spec.house import House
from strapwright.job.spec.job import read_job
from strapwright.job.spec.strap import Belt
from strapwright.parts.part import Operation
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from pathlib import Path

BUCKLE = {"opening": 46, "bar_diameter": 5, "frame_depth": 38}
VEGETABLE = Leather(thickness=3.6, tannage=Tannage.VEGETABLE)


def belt(**changed):
    keys = {"id": "ines", "size": {"worn_to_hole": 1000}, "buckle": BUCKLE} | changed
    return Belt.model_validate(keys)


def drafted(**changed):
    thickness = changed.pop("thickness", 3.6)
    one = belt(**changed)
    leather = Leather(thickness=thickness, tannage=Tannage.VEGETABLE)
    return draft_strap(one, leather, House(), shipped())


def codes(one):
    return {finding.code for finding in one.findings}


def test_the_numbers_of_a_work_belt_follow_from_each_other():
    one = drafted()
    got = one.figures
    # by hand: B = π (2.75 + 1.8) = 14.294; slot 14.294 + 2 √(6² − 2.75²) + 2 = 26.96, up to 27
    assert got.width == 44.0
    assert got.end.half_turn == pytest.approx(math.pi * 4.55)
    assert got.end.slot == (27.0, 5.5)
    # stack 7.2: the 1/4 in post, whose barrel of 3/16 in = 4.7625 wants a hole of 5.2625
    assert [post.holes for post in one.posts] == [(5.2625, 5.2625)] * 2
    # row A: 13.5 + max(5.4, 5.2625) + 2.631 = 21.53, up to 22; row B a keeper, 3 mm and a hole further
    assert got.end.rows == pytest.approx((22.0, 22.0 + 20 + 3 + 5.2625))
    # edge B/2 + x − (r + t) = 7.147 + 1000 − 6.35 = 1000.797; the hole, prong 4 + 1, is centred 2.5 nearer
    assert got.holes.middle == pytest.approx(998.297, abs=1e-3)
    # by the mate formula: a = 4.55, z = 4.55 − 3.6 = 0.95, L = 22 − 7.147 = 14.853; √(L² + z² − a²) = 14.170,
    # ψ = acos(4.55 / 14.883) − atan(0.95 / 14.853) = 1.2601 − 0.0639 = 1.1962, so that row A meets
    # 7.147 − [4.55 (4.7124 − 1.1962) + 14.170] = −23.022 and row B −51.284; a margin of 2.5 × 5.2625 = 13.156
    # makes 64.44, up to 65
    assert got.end.mates == pytest.approx((-23.022, -51.284), abs=2e-3)
    assert got.end.turn_back == 65.0
    assert one.blank_length == pytest.approx(65 + 998.297 + 75 + 110, abs=1e-3)
    # keeper: 2 (45 + 8.7) + 2 π 0.5 3.6
    assert got.keeper_length == pytest.approx(2 * 53.7 + math.pi * 3.6)


def test_worn_and_girth_give_the_same_belt_where_they_mean_the_same():
    worn = drafted(size={"worn_to_hole": 1000})
    taped = drafted(size={"girth": worn.figures.girth_in_use})
    assert taped.figures.holes.middle == pytest.approx(worn.figures.holes.middle, abs=1e-9)


def test_the_hole_in_use_may_be_another_than_the_middle_one():
    third = drafted(size={"worn_to_hole": 1000, "hole_in_use": 3})
    assert third.strap.holes.xs[2] == pytest.approx(third.figures.hole_in_use)
    assert third.figures.holes.middle == pytest.approx(third.figures.hole_in_use + 25.0)


def test_a_double_prong_gets_two_slots_and_two_rows_of_holes():
    one = drafted(buckle=BUCKLE | {"prongs": 2, "prong_spacing": 20})
    assert one.figures.end.slot_ys == (-10.0, 10.0)
    assert len(one.strap.holes.centres) == 14
    assert {y for _, y in one.strap.holes.centres} == {-10.0, 10.0}


def test_a_hook_buckle_needs_no_slot():
    one = drafted(buckle=BUCKLE | {"prongs": 0, "hook_depth": 12})
    assert one.as_json()["slot_mm"] == [0.0, 0.0]
    assert not [f for f in one.strap.features() if f.name == "prong slot"]
    assert one.figures.seat.hole_seat == 12.0


def test_a_centre_bars_rear_loop_serves_as_keeper_and_pushes_the_rows_out():
    one = drafted(buckle=BUCKLE | {"bar": "centre", "rear_depth": 25})
    assert one.keeper is None
    assert one.figures.end.rows[0] == math.ceil(2 * (one.figures.end.half_turn / 2 + 25 + 5 + 5)) / 2
    assert "rear-loop-keeper" in codes(one)
    asked = drafted(buckle=BUCKLE | {"bar": "centre", "rear_depth": 25}, keeper={"width": 15})
    assert asked.keeper is not None


def test_a_keeper_held_at_row_a_lies_beyond_a_centre_bars_rear_loop():
    one = drafted(buckle=BUCKLE | {"bar": "centre", "rear_depth": 25}, keeper={"width": 20, "held": "row_a"})
    loop = one.figures.end.half_turn / 2 + 25 + 5
    assert one.figures.end.rows[0] - 20 / 2 >= loop + 1.5


@pytest.mark.parametrize("keeper", [{"held": "row_b"}, {"held": "row_a", "join": "lap", "thickness": 2.0}])
def test_a_keeper_that_parts_the_layers_steeply_is_told(keeper):
    (told,) = (found for found in drafted(keeper=keeper).findings if found.code == "keeper-opens-rows")
    gap = told.numbers["gap_mm"]
    assert gap == pytest.approx(2 * 2.0 if "join" in keeper else 3.6)
    # level over half the keeper, then down over what is left to the other row: 1.5 mm and half a hole for
    # the 3/16 in barrel of the 1/4 in post
    pitch = 10 + 1.5 + (4.7625 + 0.5) / 2
    further = 10 + math.hypot(pitch - 10, gap) - math.hypot(pitch, gap)
    assert told.numbers["further_mm"] == pytest.approx(further)
    assert "keeper-opens-rows" not in codes(drafted(keeper={"held": "row_b", "thickness": 1.0}))


def test_one_row_of_fasteners_lets_the_keeper_slide_round_three_thicknesses():
    held, slides = drafted(), drafted(fastener_holes={"rows": 1})
    assert "keeper-slides" in codes(slides)
    assert slides.figures.keeper_length == pytest.approx(held.figures.keeper_length + 2 * 3.6)


def test_a_flat_bar_takes_half_its_perimeter():
    flat = {"opening": 46, "bar_section": [6, 3], "frame_depth": 38}
    assert drafted(buckle=flat).figures.end.half_turn == pytest.approx(9 + math.pi * 1.8)


def test_a_stitched_end_has_stitch_holes_and_no_fasteners():
    one = drafted(fastener="stitched")
    assert one.strap.buckle_end.fastener_centres == ()
    assert one.posts == ()
    holes = [f for f in one.strap.features() if f.name == "stitch hole"]
    assert holes
    # the iron's pitch, 27.07 / 8, and the keeper between the two runs
    first, second = one.figures.end.stitches
    assert first[1] - first[0] == pytest.approx(27.07 / 8)
    assert second[0] - first[-1] == pytest.approx(20 + 3)


@pytest.mark.parametrize("held", ["row_a", "row_b"])
def test_a_stitched_end_has_no_row_to_hold_a_keeper_at(held):
    with pytest.raises(
        PartError, match=f"keeper.held is {held}; a stitched end .* allows between and slides"
    ):
        drafted(fastener="stitched", keeper={"held": held})


def test_the_tip_is_lengthened_until_it_passes_the_keeper():
    # row A 22 + 2.631 + 1.5 + 20 puts the keeper's end at 46.131; half a hole 2.5, f 70 − 3.5, 46.131 and 10
    # are more than the saddlers' 2.5 W
    one = drafted(buckle={"opening": 46, "bar_diameter": 5, "frame_depth": 70})
    assert one.figures.last_to_tip == pytest.approx(2.5 + 66.5 + 46.131 + 10, abs=1e-3)
    short = drafted(holes={"last_to_tip": 60})
    assert "tip-short" in codes(short)


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"buckle": {"for_strap": 38, "bar_diameter": 2.5, "frame_depth": 30}}, "fold-strain"),
        ({"buckle": {"for_strap": 14, "bar_diameter": 5, "frame_depth": 30}}, "slot-wall"),
        ({"turn_back": 58}, "turn-back-short"),
        ({"size": {"trousers": 36}}, "trouser-size"),
        ({"thickness": 1.6}, "no-post"),
    ],
)
def test_every_finding_is_reached_and_says_what_to_do(changed, code):
    (found,) = (finding for finding in drafted(**changed).findings if finding.code == code)
    assert found.what.endswith(".")
    assert found.do.endswith(".")
    assert found.subject == "ines"


@pytest.mark.parametrize("past", [0.0004, 0.004, 0.04])
def test_a_stretch_just_past_the_limit_is_told_from_it(past):
    one = belt(buckle={"for_strap": 38, "bar_diameter": 2.5, "frame_depth": 30})
    strain = 3.6 / (2 * 1.5 + 3.6)
    house = House(strain_caution=round(strain - past, 5))
    found = draft_strap(one, VEGETABLE, house, shipped()).findings
    (what,) = (finding.what for finding in found if finding.code == "fold-strain")
    stretch, limit = (float(text) for text in re.findall(r"([\d.]+)%", what))
    assert stretch > limit


def test_a_tail_just_past_the_limit_is_told_from_it():
    one = belt()
    longest = draft_strap(one, VEGETABLE, House(), shipped()).figures.reaches[1] - 0.01
    house = House(longest_tail=f"{longest:.2f} mm")
    found = draft_strap(one, VEGETABLE, house, shipped()).findings
    (what,) = (finding.what for finding in found if finding.code == "tail-long")
    reach, limit = (float(text) for text in re.findall(r"([\d.]+) mm", what))
    assert reach > limit


def test_a_plain_work_belt_has_no_findings():
    assert drafted().findings == ()


def test_a_trouser_size_far_from_its_usual_girth_is_a_caution():
    near = drafted(size={"trousers": 36}).findings
    assert [f.severity for f in near if f.code == "trouser-size"] == [Severity.NOTE]
    deep = {"opening": 46, "bar_diameter": 5, "frame_depth": 90}
    far = drafted(size={"trousers": 36}, buckle=deep).findings
    assert [f.severity for f in far if f.code == "trouser-size"] == [Severity.CAUTION]


def test_marks_are_scored_on_the_turn_back_and_a_finding_says_where_they_do_not_fit():
    one = drafted(marks={"size": True, "number": True, "height": "4 mm"})
    marks = [feature for feature in one.strap.features() if feature.name == "mark"]
    strokes = [line for text in ("ines", "100 cm") for line in lettering(text, 4.0)]
    assert [len(mark.contour) for mark in marks] == [len(stroke) for stroke in strokes]
    assert all(feature.operation is Operation.SCORE for feature in marks)
    assert max(feature.contour.bounding_box[2] for feature in marks) < -one.figures.end.half_turn / 2
    assert one.findings == ()
    assert drafted().strap.marks == ()
    full = drafted(marks={"text": "Row & Daughter", "size": True, "height": 12})
    assert codes(full) == {"mark-smaller"}
    slim = drafted(
        buckle={"for_strap": 16, "bar_diameter": 5, "frame_depth": 30, "prong_width": 3},
        marks={"text": "Row and Daughter Saddler", "size": True},
    )
    told = [finding for finding in slim.findings if finding.code == "mark-no-room"]
    assert len(told) == 1
    assert told[0].what.startswith('The maker\'s mark "Row and Daughter Saddler" does not fit on')
    assert told[0].severity is Severity.CAUTION


@pytest.mark.parametrize(
    ("size", "text"),
    [
        ({"trousers": 34}, "34"),
        ({"trousers": 34.5}, "34.5"),
        ({"girth": "96 cm"}, "96 cm"),
        ({"worn_to_hole": "40 in"}, "101.6 cm"),
    ],
)
def test_the_size_is_marked_in_short(size, text):
    assert marks_of(belt(size=size, marks={"size": True})) == (("size", text),)


@pytest.mark.parametrize(
    ("marks", "told"),
    [
        ({}, "found none of text, size and number, expected at least one of them"),
        ({"size": False}, "found none of text, size and number"),
        ({"text": "  "}, r'found "  ", expected up to 24 characters'),
        ({"text": "Ж"}, r'"Ж" \(cyrillic capital letter zhe\) cannot be lettered; allowed are A to Z'),
        ({"text": "x" * 25}, "at most 24 characters"),
        ({"number": True}, r'found true with the id "№ 7"; "№" \(numero sign\) cannot be lettered'),
        ({"size": True, "height": 2}, "expected 3 mm to 12 mm"),
        ({"size": "yes"}, "valid boolean"),
    ],
)
def test_marks_that_cannot_be_made_are_refused_when_the_job_is_read(marks, told):
    with pytest.raises(ValidationError, match=told):
        belt(id="№ 7", marks=marks)
    assert belt(marks={"size": "TRUE"}).marks.size is True  # as a spreadsheet writes it


def test_belts_that_cannot_be_are_refused_together_by_id(tmp_path: Path):
    path = tmp_path / "job.toml"
    path.write_text(
        """
        [leather]
        thickness = "3.6 mm"
        tannage = "vegetable"
        [[belt]]
        id = "short"
        size = { girth = 210 }
        holes = { count = 15 }
        buckle = { opening = 46, bar_diameter = 5, frame_depth = 38 }
        [[belt]]
        id = "good"
        size = { girth = 900 }
        buckle = { opening = 46, bar_diameter = 5, frame_depth = 38 }
        [[belt]]
        id = "fat"
        size = { girth = 900 }
        buckle = { opening = 12, bar_diameter = 5, frame_depth = 38, prong_width = 6 }
        """
    )
    with pytest.raises(PartError) as caught:
        draft(read_job(path))
    short, fat = str(caught.value).splitlines()
    assert short.startswith('belt "short": the first adjusting hole is at')
    assert fat.startswith(
        'belt "fat": slot_width is 7.5 mm, which leaves 1.2 mm at the side of a 10 mm strap'
    )


def test_copies_have_ids_of_their_own_and_share_their_contours(tmp_path: Path):
    path = tmp_path / "job.toml"
    path.write_text(
        """
        [leather]
        thickness = "3.6 mm"
        tannage = "vegetable"
        [[belt]]
        id = "crew"
        quantity = 3
        size = { girth = 900 }
        buckle = { opening = 46, bar_diameter = 5, frame_depth = 38 }
        """
    )
    parts = draft(read_job(path)).parts
    assert [part.id for part in parts] == [
        "crew/strap-1",
        "crew/keeper-1",
        "crew/strap-2",
        "crew/keeper-2",
        "crew/strap-3",
        "crew/keeper-3",
    ]
    assert parts[0].outline is parts[2].outline


@given(
    opening=st.floats(24, 62),
    bar=st.floats(3, 7),
    depth=st.floats(15, 60),
    thickness=st.floats(2, 5),
    girth=st.floats(600, 1400),
    prongs=st.integers(1, 2),
    tip=st.sampled_from(["english_point", "round", "spear", "square", "bridle_point"]),
)
@settings(max_examples=120, deadline=None)
def test_every_belt_of_the_trade_is_sound(opening, bar, depth, thickness, girth, prongs, tip):
    buckle = {"opening": opening, "bar_diameter": bar, "frame_depth": depth, "prongs": prongs}
    if prongs == 2:
        buckle["prong_spacing"] = opening * 0.45
    one_belt = belt(buckle=buckle, size={"girth": girth}, tip=tip)
    leather = Leather(thickness=thickness, tannage=Tannage.VEGETABLE)
    try:
        one = draft_strap(one_belt, leather, House(), shipped())
    except PartError:
        assert opening < 40  # only slim straps run out of room
        return
    outline = one.strap.outline
    assert self_crossing(outline) is None
    assert outline.bounding_box[0] == pytest.approx(-one.figures.end.turn_back)
    assert outline.bounding_box[2] - outline.bounding_box[0] == pytest.approx(one.blank_length)
    for feature in one.strap.features():
        if feature.operation is Operation.CUT:
            assert outline.contains(feature.contour.sample(4)).all()
    low, high = one.figures.girths
    assert low < girth < high


@given(
    girth=st.floats(600, 1300),
    more=st.floats(0, 100),
    thickness=st.floats(2, 4.5),
    thicker=st.floats(0, 0.5),
)
@settings(max_examples=60, deadline=None)
def test_a_wider_girth_never_shortens_the_blank_nor_thicker_leather_keeper_and_fold(
    girth, more, thickness, thicker
):
    one = drafted(size={"girth": girth}, thickness=thickness)
    wider = drafted(size={"girth": girth + more}, thickness=thickness)
    stout = drafted(size={"girth": girth}, thickness=thickness + thicker)
    assert wider.blank_length >= one.blank_length - 1e-9
    assert stout.figures.keeper_length >= one.figures.keeper_length
    assert stout.figures.end.half_turn >= one.figures.end.half_turn


def test_the_json_of_a_belt_has_every_promised_key():
    got = drafted().as_json()
    promised = (
        "id strap_width_mm blank_length_mm half_turn_mm middle_hole_mm hole_centres_mm hole_diameter_mm "
        "slot_mm fastener_centres_mm fastener_diameter_mm turn_back_mm tip_mm keeper_length_mm "
        "keeper_width_mm posts findings"
    )
    assert set(promised.split()) <= set(got)
    assert {"row", "stack_mm", "length_mm"} <= set(got["posts"][0])
    x_last = max(x for x, _ in got["hole_centres_mm"])
    assert x_last + got["tip_mm"] == pytest.approx(got["blank_length_mm"] - got["turn_back_mm"], abs=1e-3)
