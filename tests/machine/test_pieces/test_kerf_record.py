"""From readings to kerf and scale: the working, and readings that cannot be."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, strategies as st
from tests.machine.layouts import knife, laser

from strapwright.core.errors import PlanError
from strapwright.machine.profile.machine_keys import ScaleRow
from strapwright.machine.test_pieces.coupon import Cross
from strapwright.machine.test_pieces.kerf_record import Readings, check_leather, measured_from
from strapwright.rules.leather import Tannage

CROSS = Cross(200.0, 200.0)


def test_the_comb_gives_its_missing_width_a_strip():
    found = measured_from(Readings(strips=(98.1,)), CROSS)
    assert found.kerf == pytest.approx(0.19)
    assert found.spread is None
    assert found.scale_x is None
    (step,) = found.steps
    assert (step.formula, step.numbers) == ("k = (n·w·s − M) / n", "(10 × 10 × 1 − 98.1) / 10")


def test_a_scale_of_four_in_a_thousand_is_four_hundredths_of_kerf():
    plain = measured_from(Readings(strips=(98.1,)), CROSS)
    scaled = measured_from(Readings(strips=(98.1,), cross_x=(200.8,)), CROSS)
    assert scaled.kerf - plain.kerf == pytest.approx(0.04)


def test_the_scale_is_taken_from_the_arm_as_it_was_drawn():
    found = measured_from(Readings(cross_x=(120.6,), cross_y=(139.3,)), Cross(120.0, 140.0))
    assert (found.scale_x, found.scale_y) == pytest.approx((1.005, 0.995))
    assert found.kerf is None


def test_the_scale_on_file_is_taken_where_the_cross_is_not_measured_again():
    on_file = {"x": ScaleRow(x=1.004, measured=date(2026, 3, 1))}
    found = measured_from(Readings(strips=(98.1,)), CROSS, on_file)
    assert found.kerf == pytest.approx(0.23)  # (10 × 10 × 1.004 − 98.1) / 10
    assert found.scale_x is None
    assert found.assumed == ()
    assert found.steps[0].formula == "[[scale]] of 2026-03-01"
    anew = measured_from(Readings(strips=(98.1,), cross_x=(200.0,)), CROSS, on_file)
    assert anew.kerf == pytest.approx(0.19)
    assert measured_from(Readings(strips=(98.1,), strips_y=(98.1,)), CROSS, on_file).assumed == ("y",)


def test_two_combs_give_their_mean_and_an_oval_beam_is_told():
    found = measured_from(Readings(strips=(98.1,), strips_y=(97.3,)), CROSS)
    assert found.kerf == pytest.approx((0.19 + 0.27) / 2)
    assert found.across == pytest.approx((0.19, 0.27))
    assert found.oval
    assert not measured_from(Readings(strips=(98.1,), strips_y=(97.9,)), CROSS).oval


def test_a_hole_has_a_kerf_of_its_own_beside_that_of_the_cut():
    found = measured_from(Readings(strips=(98.1,), holes=(5.3, 5.32)), CROSS, {}, 5.0)
    assert found.holes == pytest.approx(0.31)
    with pytest.raises(PlanError, match="--hole: its kerf stands beside that of the cut"):
        measured_from(Readings(holes=(5.3,)), CROSS, {}, 5.0)
    with pytest.raises(PlanError, match=r"--hole 4\.9 mm: expected more than 5 mm, as it is drawn, to 7 mm"):
        measured_from(Readings(strips=(98.1,), holes=(4.9,)), CROSS, {}, 5.0)
    with pytest.raises(PlanError, match="this machine's test piece has no small holes"):
        measured_from(Readings(strips=(98.1,), holes=(5.3,)), CROSS)


def test_the_ladder_gives_half_of_what_the_slot_is_narrower():
    found = measured_from(Readings(slots=(9.6,)), CROSS)
    assert found.kerf == pytest.approx(0.2)
    assert found.ladder is None


def test_where_both_were_read_the_comb_counts_and_a_difference_is_told():
    near = measured_from(Readings(strips=(98.1,), slots=(9.6,)), CROSS)
    assert near.kerf == pytest.approx(0.19)
    assert near.ladder == pytest.approx(0.2)
    assert not near.disagree
    assert measured_from(Readings(strips=(98.1,), slots=(9.3,)), CROSS).disagree


def test_several_readings_give_their_mean_and_their_spread():
    found = measured_from(Readings(strips=(98.1, 98.0, 98.3)), CROSS)
    assert found.kerf == pytest.approx((0.19 + 0.20 + 0.17) / 3)
    assert found.spread == pytest.approx(0.03)
    assert [step.label for step in found.steps][-2:] == ["kerf by the comb, mean", "spread"]


@given(st.floats(0.02, 1.9), st.floats(0.96, 1.04))
def test_a_kerf_comes_back_through_what_a_calliper_would_read(kerf, scale):
    strips = 10 * (10 * scale - kerf)
    found = measured_from(Readings(strips=(strips,), cross_x=(200 * scale,)), CROSS)
    assert found.kerf == pytest.approx(kerf, abs=1e-9)
    slot = 10 - 2 * kerf / scale
    if slot >= 6:
        assert measured_from(Readings(slots=(slot,), cross_x=(200 * scale,)), CROSS).kerf == pytest.approx(
            kerf
        )


@pytest.mark.parametrize(
    ("readings", "message"),
    [
        (Readings(), "nothing was read: give --strips, --strips-y, --slot, --hole, --cross-x or --cross-y"),
        (Readings(strips=(9.81,)), "--strips 9.81 mm: expected 80 mm to less than 100 mm, "),
        (Readings(strips=(100.0,)), "--strips 100 mm: expected 80 mm to less than 100 mm, "),
        (Readings(strips=(-98.1,)), "--strips -98.1 mm: expected 80 mm"),
        (
            Readings(strips=(100.5,), cross_x=(200.8,)),
            "--strips 100.5 mm: expected 80.4 mm to less than 100.4 mm",
        ),
        (Readings(slots=(10.0,)), "--slot 10 mm: expected 6 mm to less than 10 mm, "),
        (Readings(slots=(0.2,)), "--slot 0.2 mm: expected 6 mm"),
        (Readings(cross_x=(20.08,)), "--cross-x 20.08 mm: the arm is drawn 200 mm; expected 190 to 210 mm"),
        (Readings(cross_y=(211.0,)), "--cross-y 211 mm: the arm is drawn 200 mm; expected 190 to 210 mm"),
        (
            Readings(strips=(98.1, 95.9)),
            "--strips 98.1 mm, 95.9 mm: the kerfs they give lie 0.22 mm apart; expected 0.15 mm or less",
        ),
    ],
)
def test_a_reading_that_cannot_be_is_named_with_what_can(readings, message):
    with pytest.raises(PlanError) as caught:
        measured_from(readings, CROSS)
    assert str(caught.value).startswith(message)


def test_every_wrong_reading_is_told_at_once():
    with pytest.raises(PlanError) as caught:
        measured_from(Readings(strips=(9.81,), slots=(10.0,), cross_x=(20.0,), cross_y=(2.0,)), CROSS)
    assert [line.split()[0] for line in str(caught.value).splitlines()] == [
        "--cross-x",
        "--cross-y",
        "--strips",
        "--slot",
    ]


@pytest.mark.parametrize(
    ("tannage", "thickness", "message"),
    [
        (None, 3.0, "give --material and --thickness"),
        (Tannage.VEGETABLE, None, "give --material and --thickness"),
        (Tannage.VEGETABLE, 36.0, r"--thickness 36 mm: expected 0\.3 to 12 mm for 'test laser'"),
        (Tannage.VEGETABLE, 0.1, r"--thickness 0\.1 mm: expected 0\.3"),
    ],
)
def test_a_kerf_is_of_one_believable_leather(tannage, thickness, message):
    with pytest.raises(PlanError, match=message):
        check_leather(laser(), tannage, thickness)


def test_a_blade_has_no_kerf_to_record():
    with pytest.raises(PlanError, match=r"the blade of 'test knife' takes no leather away"):
        check_leather(knife(), Tannage.VEGETABLE, 3.0)
