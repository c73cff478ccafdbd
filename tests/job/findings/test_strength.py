"""A belt's strength beside another's, and what is said of its leather: every finding, both ways."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given, settings, strategies as st

from strapwright.core.calculation import Calculation
from strapwright.core.findings import Severity
from strapwright.job.catalogue.file import shipped
from strapwright.job.catalogue.leather import Leather
from strapwright.job.dimensions.fit import belt_figures
from strapwright.job.dimensions.layers import layers_of
from strapwright.job.dimensions.strength_estimate import strength_of
from strapwright.job.dimensions.turned_end import end_figures
from strapwright.job.draft import draft_strap, strap_width_of
from strapwright.job.findings.strength import REMEDIES, USUAL_WEAKEST, leather_findings, strength_findings
from strapwright.job.spec.house import House
from strapwright.job.spec.strap import Belt
from strapwright.job.strap_draft import BeltDraft, DraftedEnd
from strapwright.rules.leather import Tannage
from strapwright.rules.strength import CAUTION

BUCKLE = {"opening": 46, "bar_diameter": 5, "frame_depth": 38, "prong_width": 4.5}


def worked(*, thickness=3.6, tannage="vegetable", temper=None, buckle=None, **changed):
    """A belt, its figures and its leather."""
    keys = {"id": "ines", "size": {"worn_to_hole": 1000}, "buckle": BUCKLE | (buckle or {})} | changed
    belt = Belt.model_validate(keys)
    leather = Leather(thickness=thickness, tannage=Tannage(tannage), temper=temper)
    house, work = House(), Calculation()
    width, layers = strap_width_of(belt, house, work), layers_of(belt, leather)
    end = end_figures(belt.end_specs[0], layers, width, house, shipped(), work)
    return belt, belt_figures(belt, width, end, house, work), leather


def of_belt(belt, got, leather):
    return strength_of(got.width, got.layers.strap, leather, [("", got.end)], (got.holes,), got)


def strength(**changed):
    return of_belt(*worked(**changed))


def mode(name, **changed):
    return next(one for one in strength(**changed).modes if one.name == name)


def found(**changed):
    """All findings of a belt by their code."""
    belt, got, leather = worked(**changed)
    # no strap: some of these could not be cut
    one = BeltDraft(
        spec=belt,
        quantity=1,
        leather=leather,
        house=House(),
        strap=None,
        ends=(DraftedEnd(belt.end_specs[0], got.end),),
        strength=of_belt(belt, got, leather),
        figures=got,
    )
    all_of_them = [*strength_findings(one), *leather_findings(one)]
    by_code = {finding.code: finding for finding in all_of_them}
    assert len(by_code) == len(all_of_them)
    return by_code


def test_a_work_belt_by_hand():
    # 44 × 3.6 mm, 15 to 25 N/mm²; 5.5 mm holes 25 mm apart; 4.5 mm prong in a 6 mm slot; 2 × 2 posts of
    # 3/16 in = 4.7625 mm in holes of 5.2625 mm, the rows 20 + 3 + 5.2625 mm apart; the turn-back ends
    # where figures say
    belt, got, leather = worked()
    barrel, hole = 4.7625, 5.2625
    end = got.end.turn_back + got.end.mates[-1] - hole / 2
    wanted = {
        "hole-net-section": (44 - 5.5) * 3.6,
        "hole-bearing": 4.5 * 3.6,
        "hole-tear-out": 2 * 3.6 * (25 - 5.5) * 0.5,
        "fold-legs": 2 * (44 - 6) * 3.6,
        "fastener-net-section": (44 - 2 * hole) * 3.6,
        "fastener-bearing": 2 * 4 * barrel * 3.6,
        "fastener-tear-out": 2 * 2 * 2 * 3.6 * (20 + 3 + end) * 0.5,
    }
    got_modes = {one.name: (one.low, one.high) for one in of_belt(belt, got, leather).modes}
    assert got_modes == {
        name: pytest.approx((15 * area, 25 * area), rel=1e-12) for name, area in wanted.items()
    }


def test_the_prongs_hole_governs_a_belt_that_is_drawn_well():
    one = strength()
    assert one.governing.name == USUAL_WEAKEST
    assert (one.governing.low, one.governing.high) == pytest.approx((243, 405))
    assert [m.low for m in one.modes] == sorted(m.low for m in one.modes)


def test_two_prongs_share_and_take_more_of_the_section():
    double = {"prongs": 2, "prong_spacing": 20}
    assert mode("hole-bearing", buckle=double).low == 2 * mode("hole-bearing").low
    assert mode("hole-net-section", buckle=double).low == pytest.approx(15 * (44 - 11) * 3.6)
    assert mode("fold-legs", buckle=double).low == pytest.approx(2 * 15 * (44 - 12) * 3.6)


def test_a_prong_bears_no_wider_than_its_hole():
    assert mode("hole-bearing", holes={"diameter": 4}).low == pytest.approx(15 * 4 * 3.6)


def test_a_hook_buckle_leaves_the_legs_whole():
    hook = mode("fold-legs", buckle={"prongs": 0, "hook_depth": 12})
    assert hook.low == pytest.approx(2 * 15 * 44 * 3.6)
    assert "slots" not in hook.where


def test_the_last_hole_tears_to_the_tip_and_an_oval_one_has_less_before_it():
    usual = mode("hole-tear-out")
    last = mode("hole-tear-out", size={"worn_to_hole": 1000, "hole_in_use": 7})
    oval = mode("hole-tear-out", holes={"shape": "oval", "length": 9})
    assert "into the next hole" in usual.where
    assert "to the tip" in last.where
    assert last.low == pytest.approx(15 * 0.5 * 2 * 3.6 * (110 - 2.75))
    assert oval.low == pytest.approx(15 * 0.5 * 2 * 3.6 * (25 - 9))


def test_a_skived_fold_weakens_the_bar_and_the_turn_back_only():
    posts = {"fastener_holes": {"stacks": [6.4, 6.4]}}  # the same posts in both, whatever the stack
    before = {one.name: one.low for one in strength(**posts).modes}
    after = {one.name: one.low for one in strength(fold_thickness=1.8, **posts).modes}
    for name in ("fold-legs", "fastener-bearing"):
        assert after[name] == pytest.approx(before[name] / 2)
    for name in ("hole-net-section", "hole-bearing", "hole-tear-out", "fastener-net-section"):
        assert after[name] == before[name]


def test_a_lining_stiffens_and_strengthens_the_strap_but_not_the_fold():
    plain, lined = strength(), strength(lining={"thickness": 1.2})
    assert lined.sag == pytest.approx(plain.sag * 3.6 / 4.8)
    assert lined.roll == pytest.approx(plain.roll * (3.6 / 4.8) ** 3)
    assert mode("hole-bearing", lining={"thickness": 1.2}).low == pytest.approx(243 * 4.8 / 3.6)
    assert mode("fold-legs", lining={"thickness": 1.2}).low == pytest.approx(mode("fold-legs").low)


def test_a_stitched_end_has_no_fasteners_to_fail():
    names = {one.name for one in strength(fastener="stitched").modes}
    assert names == {"hole-net-section", "hole-bearing", "hole-tear-out", "fold-legs"}


def test_the_ratios_are_those_to_a_common_belt():
    common = strength(buckle={"opening": 40})
    assert (common.sag, common.roll) == pytest.approx((1.0, 1.0))
    wide = strength()
    assert wide.sag == pytest.approx((38 / 44) ** 3)
    assert wide.roll == pytest.approx(38 / 44)


def test_the_working_shows_every_mode_with_its_numbers_and_ends_with_the_caution():
    one = strength()
    lines = one.lines()
    assert lines[0] == (
        "hole in use, pressed long by the prong: n w t × 1 σ = 1 × 4.5 × 3.60 × (15 to 25) = 243 to 405 N"
    )
    said = "it sags 0.64 times as much on edge and rolls outward 0.86 times as much"
    assert lines[-2:] == (f"compared with a 38 × 3.6 mm belt {said}", CAUTION)
    assert len(lines) == len(one.modes) + 2


@pytest.mark.parametrize(
    "changed",
    [{}, {"buckle": {"prongs": 2, "prong_spacing": 20}}, {"fold_thickness": 2}, {"tannage": "chrome"}],
)
def test_the_numbers_of_the_working_give_the_pull_when_put_into_a_calculator(changed):
    one = strength(**changed)
    for line in one.modes:
        for value, end in ((line.low, 0), (line.high, 1)):
            numbers = line.numbers
            span = numbers[numbers.rindex("(") : numbers.rindex(")") + 1]
            sum_ = numbers.replace(span, span[1:-1].split(" to ")[end]).replace("−", "-").replace("×", "*")
            assert eval(sum_) == pytest.approx(value, rel=2e-3)  # the lengths are shown to 0.01 mm


def test_json_carries_the_governing_place_and_the_caution():
    plain = json.loads(json.dumps(strength().as_json()))
    assert plain["governs"] == "hole-bearing"
    assert (plain["low_n"], plain["high_n"]) == (243.0, 405.0)
    assert plain["tensile_n_mm2"] == [15.0, 25.0]
    assert {"name": "hole-net-section", "low_n": 2079.0, "high_n": 3465.0} in plain["modes"]
    assert plain["caution"] == CAUTION
    nothing = strength(tannage="synthetic").as_json()
    assert (nothing["governs"], nothing["low_n"], nothing["tensile_n_mm2"]) == (None, None, None)
    assert nothing["modes"] == []


@settings(max_examples=40, deadline=None)
@given(t=st.floats(2, 6), more=st.floats(0, 2), opening=st.floats(30, 60))
def test_thicker_leather_never_makes_a_weaker_or_limper_belt(t, more, opening):
    belt, got, leather = worked(thickness=t, buckle={"opening": opening})
    thicker = replace(got.layers, outer=t + more, fold=t + more)
    thicker = replace(got, end=replace(got.end, layers=thicker))
    one, other = of_belt(belt, got, leather), of_belt(belt, thicker, leather)
    assert other.governing.low >= one.governing.low
    assert other.sag <= one.sag
    assert other.roll <= one.roll


# Findings


@pytest.mark.parametrize("use", ["dress", "work"])
def test_a_plain_belt_in_its_window_is_not_talked_about(use):
    assert found(use=use, thickness=3.0) == {}


WEAKEST = {
    "hole-net-section": {"buckle": {"opening": 10, "prong_width": 4.5}, "fastener_holes": {"diameter": 2}},
    "hole-tear-out": {"holes": {"spacing": 9}},
    "fold-legs": {
        "buckle": {"opening": 15, "prong_width": 4.5},
        "fold_thickness": 0.8,
        "fastener": "stitched",
    },
    "fastener-net-section": {
        "buckle": {"opening": 14, "prong_width": 4},
        "fastener_holes": {"across": 2, "diameter": 4.5, "spacing_across": 6},
    },
    "fastener-bearing": {"fastener_holes": {"rows": 1, "across": 1, "diameter": 2}},
    "fastener-tear-out": {
        "buckle": {"prong_width": 6},
        "fastener_holes": {"rows": 1, "across": 1, "diameter": 4},
    },
}


def given_short_turn_back(changed):
    """For tear-out at the fasteners: the shortest turn-back that a buckle end allows."""
    _, got, _ = worked(**changed)
    return changed | {"turn_back": -got.end.mates[-1] + 2 + 2.0}


def test_every_remedy_is_tried():
    assert {*WEAKEST, "drawn-net-section"} == {*REMEDIES}  # drawn openings are tried with their drawings


@pytest.mark.parametrize("name", WEAKEST)
@pytest.mark.parametrize("use", ["work", "load_carrying"])
def test_a_belt_that_gives_first_elsewhere_is_told_where_and_what_to_do(name, use):
    changed = WEAKEST[name]
    if name == "fastener-tear-out":
        changed = given_short_turn_back(changed)
    finding = found(use=use, **changed)["weakest-place"]
    governs = strength(use=use, **changed).governing
    assert governs.name == name
    assert governs.where in finding.what
    assert finding.do == REMEDIES[name]
    assert finding.severity is (Severity.CAUTION if use == "load_carrying" else Severity.NOTE)
    assert finding.numbers == {"low_n": governs.low, "high_n": governs.high}


def test_synthetic_stock_gets_no_strength_but_keeps_its_stiffness():
    finding = found(tannage="synthetic", use="load_carrying", buckle={"opening": 34})
    assert finding["strength-unknown"].severity is Severity.NOTE
    assert "sags-under-load" in finding
    assert "strength-estimate" not in finding
    assert "weakest-place" not in finding


def test_a_belt_that_carries_a_load_is_told_its_estimate_with_the_caution():
    finding = found(use="load_carrying")["strength-estimate"]
    assert "243 to 405 N" in finding.what
    assert finding.do == CAUTION
    assert finding.severity is Severity.NOTE
    belt, _, leather = worked(use="load_carrying")
    drafted = draft_strap(belt, leather, House(), shipped())
    assert {one.subject for one in drafted.findings if one.code == finding.code} == {"ines"}
    assert "strength-estimate" not in found(use="work")


def test_a_narrow_loaded_belt_sags_and_a_thin_one_rolls():
    narrow = found(use="load_carrying", buckle={"opening": 34}, thickness=4.4)
    assert narrow["sags-under-load"].numbers["ratio"] == pytest.approx((38 / 32) ** 3 * 3.6 / 4.4)
    assert "rolls-under-load" not in narrow
    thin = found(use="load_carrying", buckle={"opening": 46}, thickness=3.2)
    assert thin["rolls-under-load"].severity is Severity.CAUTION
    assert thin["rolls-under-load"].numbers["ratio"] == pytest.approx(38 / 44 * (3.6 / 3.2) ** 3)
    assert "sags-under-load" not in thin
    assert not {"sags-under-load", "rolls-under-load"} & set(found(use="work", buckle={"opening": 34}))
    common = found(use="load_carrying", buckle={"opening": 40})
    assert not {"sags-under-load", "rolls-under-load"} & set(common)


@pytest.mark.parametrize(
    ("use", "thickness", "code", "severity", "says", "remedy"),
    [
        ("work", 2.4, "leather-thin", "note", "2.4 mm (6 oz), thinner than the 2.8 to 4.0 mm", "dress"),
        ("work", 4.4, "leather-thick", "note", "4.4 mm (11 oz), thicker than", "load_carrying"),
        ("dress", 3.6, "leather-thick", "note", "2.0 to 3.2 mm (5 to 8 oz) usual for a dress", "work"),
        ("load_carrying", 3.0, "leather-thin", "caution", "usual for a load-carrying belt", ""),
        ("load_carrying", 5.2, "leather-thick", "note", "3.6 to 4.8 mm (9 to 12 oz)", ""),
        ("dress", 1.6, "leather-thin", "note", "1.6 mm (4 oz)", ""),
    ],
)
def test_leather_outside_its_uses_window_is_said_in_both_units(use, thickness, code, severity, says, remedy):
    finding = found(use=use, thickness=thickness)[code]
    assert finding.severity == severity
    assert says in finding.what
    assert (f'write use = "{remedy}"' in finding.do) if remedy else ("write use" not in finding.do)
    assert finding.numbers["thickness_mm"] == thickness


def test_a_collar_is_not_judged_as_a_work_belt_unless_its_use_is_given():
    collar = {"thickness": 2.4, "buckle": {"opening": 27}, "dee": {"bar_diameter": 4, "width": 25}}
    assert "leather-thin" not in found(**collar)
    assert "leather-thin" in found(**collar, use="work")


def test_a_lining_counts_into_the_window():
    assert "leather-thin" in found(thickness=2.4)
    assert "leather-thin" not in found(thickness=2.4, lining={"thickness": 1.2})


def test_soft_leather_is_called_out_for_a_loaded_belt_only():
    assert found(use="load_carrying", temper="soft")["soft-temper"].severity is Severity.CAUTION
    assert "soft-temper" not in found(use="work", temper="soft")
    for temper in ("medium", "firm", None):
        assert "soft-temper" not in found(use="load_carrying", temper=temper)


@pytest.mark.parametrize("tannage", list(Tannage))
def test_combination_tannage_is_told_before_a_laser_is_planned(tannage):
    codes = found(tannage=tannage)
    assert ("combination-tannage" in codes) is (tannage is Tannage.COMBINATION)


def test_a_thin_strap_on_a_thick_prong_is_told():
    finding = found(use="dress", thickness=2.0)["strap-thin-for-prong"]
    assert "A prong 3.5 mm thick is made for a strap of 2.3 mm (6 oz) or more" in finding.what
    assert "strap-thin-for-prong" not in found(use="dress", thickness=2.4)
    assert "strap-thin-for-prong" not in found(use="dress", thickness=2.0, buckle={"prong_thickness": 3})
    hook = {"prongs": 0, "hook_depth": 12}
    assert "strap-thin-for-prong" not in found(use="dress", thickness=2.0, buckle=hook)
