"""The strap: every layout in range is sound or refused by field, value and what is allowed."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from strapwright.core.errors import PartError
from strapwright.geometry.intersect import self_crossing
from strapwright.parts.dimension import dimensions_of
from strapwright.parts.end import CutEnd, Stitching, TurnedEnd
from strapwright.parts.hole_row import HoleRow
from strapwright.parts.keeper import KeeperStrip
from strapwright.parts.part import Operation
from strapwright.parts.strap import LEAST_WALL, Lining, Strap
from strapwright.parts.tips import TIPS, make_tip


def buckle_end(**changed) -> TurnedEnd:
    numbers = {
        "turn_back": 66.0,
        "slot_length": 27.0,
        "slot_width": 5.5,
        "slot_ys": (0.0,),
        "rows": (21.5, 49.5),
        "mates": (-22.6, -50.6),
        "fastener_ys": (-9.5, 9.5),
        "diameters": ((5.0, 5.0),) * 2,
        "closes": True,
    }
    return TurnedEnd(**(numbers | changed))


def strap(**changed) -> Strap:
    width = changed.pop("width", 38.0)
    numbers = {
        "width": width,
        "span": 1100.0,
        "tip": make_tip("english_point", width, {}),
        "buckle_end": buckle_end(),
        "holes": HoleRow(930.0),
    } | changed
    ends = numbers.pop("buckle_end"), CutEnd(numbers.pop("tip"))
    return Strap(ends=ends, hole_rows=(numbers.pop("holes"),), **numbers)


@given(
    tip=st.sampled_from(sorted(TIPS)),
    width=st.floats(12, 80),
    count=st.integers(1, 11),
    spacing=st.floats(12, 40),
    diameter=st.floats(2, 9),
    rows=st.integers(1, 2),
    across=st.floats(8, 40),
    last_to_tip=st.floats(20, 130),
    middle=st.floats(200, 1200),
    corner=st.floats(0.5, 12),
    slot_width=st.floats(3, 9),
)
@settings(max_examples=100, deadline=None)
def test_every_tip_width_and_hole_layout_is_sound_or_refused(
    tip, width, count, spacing, diameter, rows, across, last_to_tip, middle, corner, slot_width
):
    try:
        holes = HoleRow(middle, count, spacing, diameter, rows, across if rows == 2 else 0.0)
        made = strap(
            width=width,
            span=holes.xs[-1] + last_to_tip,
            tip=make_tip(tip, width, {}),
            buckle_end=buckle_end(
                corner_radius=corner,
                slot_width=slot_width,
                slot_ys=holes.ys,
                fastener_ys=(-width / 4, width / 4),
            ),
            holes=holes,
        )
    except PartError as error:
        assert " is " in str(error) or " lies " in str(error) or " runs " in str(error)  # noqa: PT017
        assert "allow" in str(error) or "need" in str(error)  # noqa: PT017
        return
    outline = made.outline
    assert outline.closed
    assert outline.is_counter_clockwise
    assert self_crossing(outline) is None
    for feature in made.features():
        if feature.operation is not Operation.CUT:
            continue
        assert feature.contour.closed
        assert feature.contour.is_counter_clockwise
        points = feature.contour.sample(8)
        assert outline.contains(points).all()
        round_hole = feature.contour.as_circle()
        wall = max(LEAST_WALL, round_hole[2] / 2) if round_hole else LEAST_WALL
        assert outline.distance_to(points).min() >= wall - 1e-6


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: strap(width=4.0), "width is 4 mm; allowed are 8 to 120 mm"),
        (lambda: strap(width=-38.0), "width is -38 mm"),
        (
            lambda: strap(
                buckle_end=buckle_end(slot_width=36, slot_length=40, rows=(), mates=(), diameters=())
            ),
            "slot_width is 36 mm; allowed are 0 to 30 mm",
        ),
        (
            lambda: strap(width=12.0, buckle_end=buckle_end(slot_width=10.0, fastener_ys=(0.0,))),
            r"leaves 1\.0 mm at the side of a 12 mm strap; allowed is at most 8\.0 mm",
        ),
        (lambda: strap(span=1008.5), "adjusting hole of 5 mm at .* runs into the tip"),
        (lambda: strap(span=900.0), "adjusting hole of 5 mm at .* runs into the tip"),
        (lambda: strap(span=-5.0), "span is -5 mm; allowed are 20 to 6000 mm"),
        (
            lambda: strap(buckle_end=buckle_end(fastener_ys=(-17.0, 17.0))),
            "fastener hole of 5 mm at .* runs to the edge",
        ),
        (lambda: strap(buckle_end=buckle_end(turn_back=50.0)), "last fastener hole needs 55.1 mm or more"),
        (lambda: strap(buckle_end=buckle_end(turn_back=-50.0)), "turn_back is -50 mm; allowed are 15 to 400"),
        (lambda: strap(buckle_end=buckle_end(corner_radius=25.0)), "allows at most 19 mm"),
        (lambda: buckle_end(rows=(15.0, 49.5)), "is 15.0 mm from the fold; allowed is 18.0 mm or more"),
        (lambda: buckle_end(mates=(-22.6,)), "2 fastener rows, 1 mates and diameters of 2"),
        (
            lambda: buckle_end(diameters=((5.0, 5.0), (5.0, 17.0))),
            "a fastener hole is 17 mm; allowed is 1 to 16 mm",
        ),
        (lambda: buckle_end(slot_length=4.0), "slot_length is 4 mm; allowed is the slot's width"),
        (lambda: strap(holes=HoleRow(120.0)), "first adjusting hole is at 45.0 mm from the fold"),
        (lambda: HoleRow(930.0, 0), "count is 0; allowed are 1 to 15"),
        (lambda: HoleRow(930.0, 7, 9.0, 8.0), "allowed is a spacing of 12 mm or more"),
        (lambda: HoleRow(930.0, 7, 25.0, 5.0, 2, 5.5), "two rows need at least 7 mm"),
        (lambda: HoleRow(930.0, 7, 25.0, 5.0, 3), "rows is 3; allowed are 1, or 2"),
        (lambda: strap(crease=20.0), "crease is 20 mm: the crease line is too small"),
        (lambda: KeeperStrip(10.0), "length is 10 mm; allowed are 20 to 600"),
        (lambda: KeeperStrip(100.0, 20.0, "lap", 2.0), "lap is 2 mm; allowed are 5 mm to less than half"),
        (
            lambda: strap(
                width=44.0,
                buckle_end=buckle_end(slot_ys=(-3.5, 3.5)),
                holes=HoleRow(930.0, 7, 25.0, 5.0, 2, 7.0),
            ),
            r"leaves 1\.5 mm between two slots",
        ),
    ],
)
def test_numbers_that_make_no_sound_part_are_refused(make, message):
    with pytest.raises(PartError, match=message):
        make().features()


def test_the_fold_is_marked_at_the_edges_only_and_clear_of_the_slot():
    marks = [f.contour for f in strap().features() if f.name == "fold line"]
    assert [abs(m.length - 4.0) < 1e-12 for m in marks] == [True, True]
    assert all((m.vertices[:, 0] == 0).all() for m in marks)
    assert min(np.abs(m.vertices[:, 1]).min() for m in marks) > 5.5 / 2


def test_the_crease_runs_parallel_to_the_edge():
    made = strap(crease=3.0)
    crease = next(f.contour for f in made.features() if f.name == "crease line")
    assert made.outline.distance_to(crease.sample(8)) == pytest.approx(3.0, abs=1e-6)


def test_a_lapped_keeper_is_marked_where_its_other_end_comes_to_lie():
    lapped = KeeperStrip(121.0, 20.0, "lap", 15.0).features()
    assert [f.contour.vertices[0, 0] for f in lapped if f.operation is Operation.SCORE] == [15.0]


@pytest.mark.parametrize(("join", "lap"), [("butt", 0.0), ("lap", 15.0)])
def test_the_guide_holes_of_one_end_meet_those_of_the_other(join, lap):
    strip = KeeperStrip(121.0, 20.0, join, lap)
    holes = [f.contour.as_circle() for f in strip.features() if f.name == "guide hole"]
    near = sorted((x, y) for x, y, _ in holes if x < 60)
    far = sorted((x, y) for x, y, _ in holes if x > 60)
    # a lapped end comes to lie a lap further on: x runs on as x − (length − lap)
    moved = [(x - (121.0 - lap), y) for x, y in far] if lap else [(121.0 - x, y) for x, y in far]
    assert np.array(sorted(moved)) == pytest.approx(np.array(near))
    assert len(near) == 3
    stapled = KeeperStrip(121.0, 20.0, join, lap, guides="staple").features()
    assert [f.name for f in stapled].count("guide hole") == 4


def test_spare_leather_is_marked_where_the_computed_length_ends():
    strip = KeeperStrip(121.0, 20.0, spare=12.0)
    assert strip.outline.bounding_box[2] == 133.0
    marks = [f.contour.vertices[0, 0] for f in strip.features() if f.operation is Operation.SCORE]
    assert 121.0 in marks


def test_oval_holes_lie_along_the_strap_and_are_checked_at_both_ends():
    made = strap(holes=HoleRow(930.0, length=8.0))
    first = next(f.contour for f in made.features() if f.name == "adjusting hole")
    x0, y0, x1, y1 = first.bounding_box
    assert (x1 - x0, y1 - y0) == pytest.approx((8.0, 5.0))
    with pytest.raises(PartError, match="oval hole 5 mm wide is allowed from 5 mm"):
        HoleRow(930.0, length=4.0)
    strap(span=1013.0)
    with pytest.raises(PartError, match="runs into the tip"):
        strap(span=1013.0, holes=HoleRow(930.0, length=10.0))


def stitched(**changed) -> Strap:
    numbers = {"runs": ((18.0, 21.4, 24.8), (48.0, 51.4, 54.8)), "shift": -1.0}
    sewn = Stitching(**(numbers | changed))
    return strap(buckle_end=buckle_end(rows=(), mates=(), diameters=(), stitching=sewn))


def test_stitches_run_along_both_edges_and_meet_in_the_turn_back():
    made = stitched()
    holes = [f.contour.as_circle() for f in made.features() if f.name == "stitch hole"]
    assert len(holes) == 2 * 2 * 6
    front = sorted(x for x, y, _ in holes if x > 0 and y > 0)
    back = sorted(x for x, y, _ in holes if x < 0 and y > 0)
    assert back == pytest.approx(sorted(-1.0 - x for x in front))
    lines = [f.contour for f in made.features() if f.name == "stitch line"]
    # along the strap, never across it
    assert all(abs(contour.vertices[0, 1] - contour.vertices[1, 1]) == 0 for contour in lines)


def test_stitches_that_run_off_the_turn_back_are_refused():
    with pytest.raises(PartError, match=r"stitch hole of 1\.2 mm at .* runs to the edge"):
        stitched(runs=((18.0, 21.4, 24.8), (60.0, 63.4, 66.8)))
    with pytest.raises(PartError, match="fewer than 3 holes"):
        stitched(runs=((18.0, 21.4),))


def test_a_lining_stops_behind_the_slot_and_shares_tip_and_holes():
    made = strap()
    lining = Lining(strap=made, start=15.5)
    box = lining.outline.bounding_box
    assert (box[0], box[2]) == pytest.approx((15.5, 1100.0))
    assert [f.name for f in lining.features()].count("adjusting hole") == 7
    assert [f.name for f in lining.features()].count("fastener hole") == 4  # those of the front layer
    with pytest.raises(PartError, match=r"start is 10 mm; allowed is 13\.5 mm or more, behind the slot"):
        Lining(strap=made, start=10.0)


def test_a_strap_has_the_area_of_its_pieces():
    # rectangle, round tip, corners: a strap whose area can be written down
    made = strap(tip=make_tip("round", 38.0, {}))
    straight = (1100.0 - 19.0 + 66.0) * 38.0
    assert made.outline.area == pytest.approx(
        straight + np.pi * 19.0**2 / 2 - (4 - np.pi) * 4.0**2 / 2, rel=1e-12
    )


@pytest.mark.parametrize("definition", [Strap, TurnedEnd, HoleRow, KeeperStrip, Stitching, Lining])
def test_every_length_of_a_definition_is_a_declared_dimension(definition):
    declared = dimensions_of(definition)
    floats = {f.name for f in dataclasses.fields(definition) if f.type == "float"}
    assert floats == set(declared)
    assert all(dim.reason and dim.low < dim.high for dim in declared.values())
