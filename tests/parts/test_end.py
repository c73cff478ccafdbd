"""A strap between two ends: every pair of them is sound, or refused with what is allowed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from strapwright.core.errors import PartError
from strapwright.geometry.intersect import self_crossing
from strapwright.parts.end import CutEnd, Stitching, TurnedEnd
from strapwright.parts.hole_row import HoleRow
from strapwright.parts.part import Operation
from strapwright.parts.strap import Strap
from strapwright.parts.tips import TIPS, make_tip


def turned(rows=(15.0, 35.0), *, ys=(0.0,), corner=4.0, stitching=None) -> TurnedEnd:
    mates = tuple(-row - 1.9 for row in rows)
    return TurnedEnd(
        turn_back=(max(rows) if rows else 37.0) + 15.0,
        slot_length=0.0,
        slot_width=0.0,
        slot_ys=(),
        rows=rows,
        mates=mates,
        diameters=((5.0, 5.0),) * len(rows),
        fastener_ys=ys,
        corner_radius=corner,
        stitching=stitching,
    )


SEWN = Stitching(runs=((12.0, 15.4, 18.8, 22.2),), shift=-1.5)


def refused(error: PartError) -> None:
    text = str(error)
    assert "\n" not in text
    assert " is " in text or " lies " in text or " runs " in text
    assert "allow" in text or "need" in text


@given(
    width=st.floats(10, 60),
    span=st.floats(60, 900),
    first=st.sampled_from(["turned", "sewn", *TIPS]),
    second=st.sampled_from(["turned", "sewn", *TIPS]),
    count=st.integers(0, 6),
    at=st.floats(20, 400),
)
@settings(max_examples=300, deadline=None)
def test_every_pair_of_ends_is_sound_or_refused(width, span, first, second, count, at):
    def end(kind):
        if kind == "turned":
            return turned(ys=(-width / 4, width / 4))
        return turned((), stitching=SEWN) if kind == "sewn" else CutEnd(make_tip(kind, width, {}))

    try:
        made = Strap(
            width=width,
            span=span,
            ends=(end(first), end(second)),
            hole_rows=(HoleRow(at + 12.5 * count, count),) if count else (),
        )
    except PartError as error:
        refused(error)
        return
    outline = made.outline
    assert outline.is_counter_clockwise
    assert self_crossing(outline) is None
    assert outline.bounding_box == pytest.approx((made.rear, -width / 2, made.front, width / 2))
    for feature in made.features():
        assert outline.contains(feature.contour.sample(6)).all()
        if feature.operation is Operation.CUT:
            assert feature.contour.is_counter_clockwise


def test_the_second_end_is_the_first_ones_mirror_image():
    left = turned((15.0, 35.0), ys=(-3.0, 8.0))
    made = Strap(width=40.0, span=500.0, ends=(left, left))
    features = made.features()
    half = len(features) // 2
    for one, other in zip(features[:half], features[half:], strict=True):
        assert (one.name, one.operation) == (other.name, other.operation)
        x0, y0, x1, y1 = one.contour.bounding_box
        assert other.contour.bounding_box == pytest.approx((500 - x1, y0, 500 - x0, y1))
        if one.contour.closed:
            assert other.contour.area == pytest.approx(one.contour.area)
    # a stitch line runs from its fold line into the strap, as at the first end
    holes = {(round(f.contour.bounding_box[0] + 2.5, 6)) for f in features if f.name == "fastener hole"}
    assert holes == {15.0, 35.0, -16.9, -36.9, 485.0, 465.0, 516.9, 536.9}


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"width": 4.0}, "width is 4 mm; allowed are 8 to 120 mm"),
        ({"span": 7000.0}, "span is 7000 mm; allowed are 20 to 6000 mm"),
        ({"span": 90.0}, r"the strap is 90\.0 mm from end to end; allowed are 102\.0 mm or more"),
        ({"ends": (turned(corner=30.0),) * 2}, "corner_radius is 30 mm; a 40 mm strap allows at most 20 mm"),
        ({"ends": (turned(ys=(18.0,)),) * 2}, "fastener hole of 5 mm at .* runs to the edge; allowed is"),
        (
            {"hole_rows": (HoleRow(60.0, 3),)},
            r"a hole is at 35\.0 mm, over a turned end .* 50\.0 to 450\.0 mm",
        ),
    ],
)
def test_what_makes_no_strap_is_refused_with_what_is_allowed(changed, message):
    numbers = {"width": 40.0, "span": 500.0, "ends": (turned(), turned())}
    with pytest.raises(PartError, match=message):
        Strap(**(numbers | changed))


def test_a_hole_too_near_a_tip_runs_into_it():
    tips = (CutEnd(make_tip("square", 30.0, {})), CutEnd(make_tip("round", 30.0, {})))
    with pytest.raises(PartError, match=r"adjusting hole of 5 mm at .* runs into the tip"):
        Strap(width=30.0, span=300.0, ends=tips, hole_rows=(HoleRow(297.0, 1),))


def test_two_lines_of_stitches_need_room_between_them():
    end = turned((), stitching=SEWN)
    with pytest.raises(PartError, match=r"stitch\.inset is 4 mm; a 10 mm strap allows at most 3 mm"):
        Strap(width=10.0, span=300.0, ends=(end, end))


def test_stitches_of_both_ends_lie_along_both_edges():
    end = turned((), stitching=SEWN)
    made = Strap(width=30.0, span=300.0, ends=(end, end))
    centres = np.array(
        [np.array(f.contour.as_circle()[:2]) for f in made.features() if f.name == "stitch hole"]
    )
    assert len(centres) == 2 * 2 * 2 * 4
    assert sorted(set(np.round(centres[:, 1], 9))) == [-11.0, 11.0]
    assert np.sort(centres[:, 0]) == pytest.approx(np.sort(300.0 - centres[:, 0]))
