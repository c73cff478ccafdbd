"""Where the holes go: on one datum, whichever way a person was measured."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings, strategies as st
from pydantic import ValidationError

from strapwright.job.catalogue.file import shipped
from strapwright.job.catalogue.leather import Leather
from strapwright.job.draft import draft_strap, size_in_short
from strapwright.job.spec.house import House
from strapwright.job.spec.size import Size
from strapwright.job.spec.strap import Belt
from strapwright.rules.leather import Tannage
from strapwright.rules.sizing import GIRTH_UNCERTAINTY

BUCKLE = {"opening": 46, "bar_diameter": 5, "frame_depth": 38, "prong_thickness": 4}
AGREE = 0.2
"""What the ways of measuring may differ by, mm."""


def drafted(size, *, thickness=3.6, buckle=BUCKLE, **keys):
    belt = Belt.model_validate({"id": "ines", "size": size, "buckle": buckle} | keys)
    leather = Leather(thickness=thickness, tannage=Tannage.VEGETABLE)
    return draft_strap(belt, leather, House(), shipped())


def steps(one):
    return {step.label: step for step in one.steps}


def test_a_worn_belt_is_measured_to_the_worn_edge_and_its_hole_is_centred_half_a_hole_nearer():
    one = drafted({"worn_to_hole": 1000})
    # B/2 + x − (r + t) = 7.147 + 1000 − (2.75 + 3.6) = 1000.797; the hole, prong 4 + 1, has half of 5
    assert one.figures.hole_in_use == pytest.approx(1000.797 - 2.5, abs=1e-3)
    assert one.as_json()["hole_in_use_mm"] == one.as_json()["middle_hole_mm"]


def test_an_oval_hole_bears_at_half_its_length():
    one = drafted({"worn_to_hole": 1000}, holes={"shape": "oval", "length": 9})
    assert one.figures.hole_in_use == pytest.approx(1000.797 - 4.5, abs=1e-3)


def test_a_girth_runs_to_the_bearing_edge():
    one = drafted({"girth": 1000})
    # R = 1000 / 2π = 159.155; T = 66, h = 2 × 3.6, of turn-back and keeper: u = 7.2 × 66 / 159.155
    # + 4 √2 / 3 × 7.2^1.5 / √159.155 = 2.986 + 2.888 = 5.874
    # edge = 7.147 + 1000 + 11.310 − (38 − 4) + 5.874 = 990.331, the centre 2.5 nearer
    assert one.figures.end.turn_back == 66.0
    assert one.figures.hole_in_use == pytest.approx(987.831, abs=2e-3)


def test_a_belt_size_runs_to_the_centre_of_the_middle_hole_whichever_is_in_use():
    for keys in ({}, {"hole_in_use": 2}, {"hole_in_use": 6}):
        one = drafted({"belt_size": "965 mm"} | keys)
        # 7.147 + 965 − 6.35
        assert one.figures.holes.middle == pytest.approx(965.797, abs=1e-3)
        assert one.strap.holes.xs[3] == pytest.approx(965.797, abs=1e-3)
        assert one.figures.hole_in_use == one.strap.holes.xs[keys.get("hole_in_use", 4) - 1]


def test_of_an_even_count_the_nearer_of_the_middle_two_is_the_middle_hole():
    one = drafted({"belt_size": 965}, holes={"count": 6})
    assert one.strap.holes.xs[2] == pytest.approx(965.797, abs=1e-3)


def test_trouser_sizes_run_to_the_centre_of_the_hole_in_use():
    # (34 + 2) in = 914.4; 7.147 + 914.4 − 6.35
    assert drafted({"trousers": 34}).figures.hole_in_use == pytest.approx(915.197, abs=1e-3)
    second = drafted({"trousers": 34, "hole_in_use": 2})
    assert second.strap.holes.xs[1] == pytest.approx(915.197, abs=1e-3)


belts = st.fixed_dictionaries(
    {
        "thickness": st.floats(2.0, 5.0),
        "buckle": st.fixed_dictionaries(
            {
                "opening": st.floats(34, 60),
                "bar_diameter": st.floats(3, 7),
                "frame_depth": st.floats(20, 60),
                "prong_thickness": st.floats(2, 5),
                "prong_width": st.floats(3, 6),
            },
            optional={"hole_seat": st.floats(12, 20)},
        ),
        "holes": st.fixed_dictionaries(
            {"count": st.integers(1, 9), "shape": st.sampled_from(["round", "oval"])},
            optional={"last_to_tip": st.floats(90, 150)},
        ),
        "keeper": st.sampled_from(["none", {"width": 20}, {"width": 20, "held": "slides"}]),
    }
)


@given(keys=belts, worn=st.floats(700, 1400))
@settings(max_examples=60, deadline=None)
def test_worn_girth_belt_size_and_the_range_of_girths_are_one_belt(keys, worn):
    one = drafted({"worn_to_hole": worn}, **keys)
    got = one.figures
    taped = drafted({"girth": got.girth_in_use}, **keys).figures
    assert taped.hole_in_use == pytest.approx(got.hole_in_use, abs=AGREE)
    # measured again with a rule: fold to the worn edge, and fold to the middle hole's centre
    outer = got.seat.fold_radius + got.seat.fold_thickness - got.end.half_turn / 2
    assert got.hole_in_use + got.holes.reach / 2 + outer == pytest.approx(worn, abs=AGREE)
    middle = one.strap.holes.xs[(len(one.strap.holes.xs) - 1) // 2]
    sold = drafted({"belt_size": middle + outer}, **keys).figures
    assert sold.hole_in_use == pytest.approx(got.hole_in_use, abs=AGREE)
    # the first and the last hole fit the ends of the range
    for girth, x in zip(got.girths, (one.strap.holes.xs[0], one.strap.holes.xs[-1]), strict=True):
        assert drafted({"girth": girth, "hole_in_use": 1}, **keys).figures.hole_in_use == pytest.approx(
            x, abs=AGREE
        )


@given(keys=belts, worn=st.floats(700, 1400))
@settings(max_examples=40, deadline=None)
def test_the_tip_reaches_past_the_bar_by_what_lies_beyond_the_bearing_edge(keys, worn):
    one = drafted({"worn_to_hole": worn}, **keys)
    got, xs = one.figures, one.strap.holes.xs
    for reach, x in zip(got.reaches, (xs[-1], xs[0]), strict=True):
        assert reach == pytest.approx(one.strap.span - (x + got.holes.reach / 2) - got.seat.hole_seat)
    if "last_to_tip" not in keys["holes"] and got.end.keeper_end:
        assert got.reaches[0] >= got.end.keeper_end + 10 - 1e-9
    told = [finding for finding in one.findings if finding.code == "tip-short"]
    assert bool(told) == bool(got.end.keeper_end and got.reaches[0] < got.end.keeper_end + 10 - 1e-9)


def test_where_the_hole_bears_is_measured_or_marked_an_estimate():
    estimated = drafted({"girth": 950})
    label = "bar to the edge of the hole that bears"
    step = steps(estimated)[f"{label}, by estimate"]
    assert (step.formula, step.numbers, step.value) == ("f = frame depth − prong thickness", "38 − 4", 34.0)
    assert (estimated.as_json()["hole_seat_mm"], estimated.as_json()["hole_seat_measured"]) == (34.0, False)
    assumed = drafted({"girth": 950}, buckle={"opening": 46, "bar_diameter": 5, "frame_depth": 38})
    step = steps(assumed)[f"{label}, by estimate"]
    assert step.numbers == "38 − 3.5 (assumed: prong_thickness is not given)"
    measured = drafted({"girth": 950}, buckle=BUCKLE | {"hole_seat": 33})
    assert steps(measured)[label].formula == "f = hole_seat, as measured"
    assert (measured.as_json()["hole_seat_mm"], measured.as_json()["hole_seat_measured"]) == (33.0, True)
    hook = drafted({"girth": 950}, buckle=BUCKLE | {"prongs": 0, "hook_depth": 30, "prong_thickness": 3.5})
    assert steps(hook)[label].formula == "f = hook_depth, as measured"


@pytest.mark.parametrize(
    ("old", "longer"),
    [
        ({"frame_depth": 46}, 8.0),  # both frames have their prong before the front bar
        ({"hole_seat": 40}, 6.0),  # 40 − (38 − 4)
        ({"thickness": 3.0}, 0.6 + 0.6 * math.pi),  # r + t is 0.6 less to take off; π (3.6 − 3.0)
        ({"bar_diameter": 4}, 0.5),
    ],
)
def test_an_old_belts_own_measures_are_taken_out(old, longer):
    plain = drafted({"worn_to_hole": 1000}).figures.hole_in_use
    other = drafted({"worn_to_hole": 1000, "old": old}).figures.hole_in_use
    assert other - plain == pytest.approx(longer)


def test_the_climb_is_shown_and_no_girth_has_it():
    one = drafted({"girth": 950})
    step = steps(one)["climb to the prong, not in the girths"]
    # by hand: x = 38 + 2.5 − 34 = 6.5, z = 2.5 + 4 = 6.5, 9.192 at 45°; R = (5 + 3.6) / 2 + 0.1 = 4.4;
    # acos(4.4 / 9.192) = 61.41°, θ = 45 − 61.41 + 90 = 73.59° = 1.2845; L = √(9.192² − 4.4²) = 8.071
    # c = 4.4 × 1.2845 + 8.071 − 6.5 = 7.223
    assert step.value == pytest.approx(7.223, abs=2e-3)
    assert one.as_json()["climb_mm"] == pytest.approx(step.value, abs=1e-4)
    assert one.figures.girth_in_use == pytest.approx(950)
    assert one.as_json()["girth_uncertainty_mm"] == GIRTH_UNCERTAINTY
    assert one.figures.climb < GIRTH_UNCERTAINTY  # stated so that it covers what is left out
    hook = BUCKLE | {"prongs": 0, "hook_depth": 30}
    assert drafted({"girth": 950}, buckle=hook).figures.climb == 0.0


def test_the_size_a_belt_is_sold_by_is_marked_on_it():
    assert size_in_short(Size(belt_size="965 mm")) == "96.5 cm"


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        (
            {"size": {"girth": 950, "belt_size": 950}},
            "found both girth and belt_size, expected exactly one of worn_to_hole, girth, belt_size and",
        ),
        ({"size": {"belt_size": 950, "old": {"thickness": 3}}}, "found without worn_to_hole"),
        (
            {"size": {"worn_to_hole": 950, "old": {"frame_depth": 30, "hole_seat": 28}}},
            "found beside hole_seat, expected just one of the two",
        ),
        (
            {"buckle": BUCKLE | {"hole_seat": 39}},
            "found hole_seat 39 mm, expected at most frame_depth, 38 mm: the strap comes up inside",
        ),
        (
            {"buckle": BUCKLE | {"frame_depth": 4, "prong_thickness": 4}},
            "found prong_thickness 4 mm, expected less than frame_depth, 4 mm",
        ),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(keys, told):
    with pytest.raises(ValidationError, match=told):
        Belt.model_validate({"id": "ines", "size": {"girth": 950}, "buckle": BUCKLE} | keys)
