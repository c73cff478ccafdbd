"""Marks on the turn-back: clear of everything, on the turn-back, the right way round, none lost untold."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from strapwright.core.errors import PartError
from strapwright.geometry.lettering import lettering
from strapwright.parts.end import CutEnd, Stitching, TurnedEnd
from strapwright.parts.hole_row import HoleRow
from strapwright.parts.marks import MARK_CLEARANCE, Marked, place_marks
from strapwright.parts.part import Operation
from strapwright.parts.strap import Strap
from strapwright.parts.tips import make_tip

FOLD_END = 7.2
HEAD = 5.0
TEXTS = ("Row & Daughter", "ines-7", "96 cm")


def strap(width=44.0, crease=0.0, stitching=None, **changed) -> Strap:
    numbers = {
        "turn_back": 64.0,
        "slot_length": 27.0,
        "slot_width": 5.5,
        "slot_ys": (0.0,),
        "rows": () if stitching else (21.5, 49.5),
        "mates": () if stitching else (-22.6, -50.6),
        "diameters": () if stitching else ((5.0, 5.0),) * 2,
        "fastener_ys": (-width / 4, width / 4),
        "stitching": stitching,
        "closes": True,
    }
    return Strap(
        width=width,
        span=1100.0,
        ends=(TurnedEnd(**(numbers | changed)), CutEnd(make_tip("round", width, {}))),
        hole_rows=(HoleRow(930.0),),
        crease=crease,
    )


def stitched(**changed) -> Strap:
    runs = ((18.0, 21.4, 24.8, 28.2), (51.2, 54.6, 58.0))
    return strap(stitching=Stitching(runs=runs, shift=-1.0), **changed)


def placed(made: Strap, texts=TEXTS, height=5.0) -> Marked:
    return place_marks(texts, made, height=height, fold_end=FOLD_END, head_radius=HEAD)


def check_clear(made: Strap, marked: Marked) -> None:
    points = np.vstack([feature.contour.sample(12) for feature in marked.features])
    assert made.outline.contains(points).all()
    assert (points[:, 0] <= -FOLD_END - MARK_CLEARANCE + 1e-9).all()
    assert made.outline.distance_to(points).min() >= MARK_CLEARANCE - 1e-6
    for feature in made.features():
        keep = MARK_CLEARANCE
        if feature.name == "fastener hole":
            keep += HEAD - 2.5  # the heads cover the leather there
        assert feature.contour.distance_to(points).min() >= keep - 1e-6, feature.name
        if feature.contour.closed and feature.operation is Operation.CUT:
            assert not feature.contour.contains(points).any()


@pytest.mark.parametrize(
    "made",
    [
        strap(),
        strap(width=72.0),
        strap(width=38.0, crease=3.0),
        strap(width=44.0, slot_ys=(-10.0, 10.0)),
        strap(width=25.0, fastener_ys=(0.0,)),
        strap(corner_radius=16.0),
        strap(rows=(21.5,), mates=(-22.6,), diameters=((5.0, 5.0),), turn_back=36.0),
        stitched(),
        stitched(width=30.0, crease=2.0),
    ],
)
def test_marks_are_clear_of_everything_on_many_belts(made):
    marked = placed(made)
    assert marked.features
    assert {feature.name for feature in marked.features} == {"mark"}
    assert {feature.operation for feature in marked.features} == {Operation.SCORE}
    check_clear(made, marked)


@given(
    width=st.floats(16, 80),
    turn_back=st.floats(56, 120),
    corner=st.floats(0.5, 8),
    crease=st.sampled_from([0.0, 2.5]),
    two=st.booleans(),
    height=st.floats(3, 12),
    text=st.sampled_from(["Å. Öst, Saddler", "QQ", "a very long maker's mark", "J"]),
)
@settings(max_examples=60, deadline=None)
def test_marks_on_any_belt_are_clear_or_told(width, turn_back, corner, crease, two, height, text):
    made = strap(
        width=width,
        turn_back=turn_back,
        corner_radius=corner,
        crease=crease,
        fastener_ys=(-width / 4, width / 4) if two and width > 30 else (0.0,),
    )
    texts = (text, "7/3", "34")
    marked = placed(made, texts, height)
    wanted = sum(len(lettering(one, 5.0)) for i, one in enumerate(texts) if i not in marked.left_out)
    assert len(marked.features) == wanted
    if marked.features:
        assert 3.0 <= marked.height <= height
        check_clear(made, marked)


def drawn_as(text: str, marked: Marked, made_height: float) -> bool:
    """Whether the marks are this text along the strap, shifted but neither turned nor mirrored."""
    plain = lettering(text, made_height)
    shifts = {
        tuple(np.round(feature.contour.vertices[0, :2] - contour.vertices[0, :2], 6))
        for feature, contour in zip(marked.features, plain, strict=True)
    }
    same = all(
        np.allclose(feature.contour.vertices[:, 2], contour.vertices[:, 2])
        for feature, contour in zip(marked.features, plain, strict=True)
    )
    return same and len(shifts) == 1


def test_marks_read_the_right_way_round_from_the_grain_side():
    marked = placed(strap(), ("F",))
    assert marked.height == 5.0
    points = np.vstack([feature.contour.vertices[:, :2] for feature in marked.features])
    x_stem, y_foot = points.min(axis=0)
    arms = points[points[:, 0] > x_stem + 1.0]
    # grain up, tip to the right: the arms point to the tip, in the upper half
    assert len(arms) == 2
    assert (arms[:, 1] > y_foot + 2.0).all()
    assert drawn_as("F", marked, 5.0)


def test_room_enough_takes_the_height_asked_for_along_the_strap_in_the_middle():
    marked = placed(strap(), ("ROW",))
    assert marked.height == 5.0
    assert drawn_as("ROW", marked, 5.0)
    box = np.array([feature.contour.bounding_box for feature in marked.features])
    assert (box[:, 1].min() + box[:, 3].max()) / 2 == pytest.approx(0.0, abs=1e-9)


def test_little_room_shrinks_the_marks_by_half_millimetres_down_to_three():
    small = placed(strap(width=36.0), ("ROW",), 8.0)
    assert 3.0 <= small.height < 8.0
    assert (2 * small.height) % 1 == 0
    assert placed(strap(width=36.0), ("ROW",), 3.2).height in (3.0, 3.2)


def test_a_long_mark_is_broken_at_its_blanks_but_not_at_a_held_one():
    wide = strap(width=72.0)
    free = placed(wide, ("Saddler & Daughter",), 6.0)
    assert free.height == 6.0
    assert not drawn_as("Saddler & Daughter", free, 6.0)
    held = placed(wide, ("Saddler\u00a0&\u00a0Daughter",), 6.0)
    assert held.height < 6.0
    assert drawn_as("Saddler & Daughter", held, held.height)


def test_where_only_across_fits_it_is_set_across_to_be_read_upwards():
    short = strap(rows=(21.5,), mates=(-22.6,), diameters=((5.0, 5.0),), turn_back=36.0)
    marked = placed(short, ("ROWANDDAUGHTER",), 3.0)
    assert marked.features
    plain = lettering("ROWANDDAUGHTER", 3.0)
    for feature, contour in zip(marked.features, plain, strict=True):
        x, y = (contour.vertices[-1] - contour.vertices[0])[:2]
        assert (feature.contour.vertices[-1] - feature.contour.vertices[0])[:2] == pytest.approx((-y, x))


def test_what_finds_no_room_is_left_out_and_told():
    slim = strap(width=16.0, crease=3.0, fastener_ys=(0.0,))
    marked = placed(slim)
    assert marked.left_out == (0, 1)
    assert drawn_as(TEXTS[2], marked, marked.height)
    none = placed(strap(width=14.0, crease=4.5, fastener_ys=(0.0,)))
    assert none == Marked(left_out=(0, 1, 2))


def test_two_marks_never_run_into_each_other():
    made = strap(width=72.0)
    marked = placed(made, ("HHHHHHHH", "OOOOOO", "IIII"))
    straight, arcs = [], []
    for feature in marked.features:
        (arcs if feature.contour.is_arc.any() else straight).append(feature.contour)
    gap = min(o.distance_to(h.sample(12)).min() for o in arcs for h in straight)
    assert gap >= 0.45 * marked.height


def test_blank_marks_are_no_marks_and_unknown_characters_are_refused():
    assert placed(strap(), ("", "  ")) == Marked()
    assert placed(strap(), ()) == Marked()
    with pytest.raises(PartError, match="cannot be lettered"):
        placed(strap(), ("Жук",))


def test_a_strap_carries_its_marks_as_features():
    made = strap()
    marked = placed(made)
    assert dataclasses.replace(made, marks=marked.features).features() == made.features() + marked.features
