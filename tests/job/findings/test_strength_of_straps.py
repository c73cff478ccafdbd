"""The strength of straps that are no belts, and what is said of their leather."""

from __future__ import annotations

import pytest

from strapwright.core.findings import Severity
from strapwright.files.validate import validate
from strapwright.job.draft import draft
from strapwright.job.spec.job import Job
from strapwright.rules.strength import CAUTION

BAR = {"bar_diameter": 5}


def strap(thickness=3.4, tannage="vegetable", temper=None, **keys):
    leather = {"thickness": thickness, "tannage": tannage} | ({"temper": temper} if temper else {})
    table = {"id": "satchel", "width": 32, "length": 1080, "ends": [BAR, BAR]} | keys
    return draft(validate(Job, {"leather": leather, "strap": [table]}, "trial.toml")).straps[0]


def codes(one):
    return [finding.code for finding in one.findings]


def test_a_strap_between_two_rings_fails_at_its_fasteners_by_hand_reckoning():
    got = strap().strength
    assert got.governing.name == "end-1-fastener-net-section"
    # two holes for 3/16 in barrels, 4.7625 + 0.5 mm, across 32 mm of 3.4 mm leather, 15 to 25 N/mm²:
    # 32 − 2 × 5.2625 = 21.475
    assert (got.governing.low, got.governing.high) == pytest.approx((21.475 * 3.4 * 15, 21.475 * 3.4 * 25))
    by_name = {mode.name: mode for mode in got.modes}
    assert by_name["strap-net-section"].low == pytest.approx(32 * 3.4 * 15)
    assert by_name["end-2-fold-legs"].low == pytest.approx(32 * 3.4 * 15 / 0.5)
    assert len(by_name) == 1 + 2 * 4


def test_a_stitched_end_and_a_tip_leave_the_holes_the_weakest():
    one = strap(ends=[BAR, {"tip": "round"}], fastener="stitched", holes={"count": 4, "diameter": 6})
    assert one.strength.governing.name == "strap-net-section"
    assert one.strength.governing.low == pytest.approx((32 - 6) * 3.4 * 15)
    assert [mode.name for mode in one.strength.modes] == ["strap-net-section", "end-1-fold-legs"]


def test_stiffness_is_told_beside_a_belt_and_gives_no_finding():
    one = strap(use="load_carrying", thickness=3.6, width=30)
    assert one.strength.sag == pytest.approx((38 / 30) ** 3)
    assert one.strength.roll == pytest.approx(38 / 30)
    assert "sags-under-load" not in codes(one)


def test_the_leather_is_judged_only_where_the_use_is_told():
    assert codes(strap(2.0, temper="soft", fastener="rivet", ends=[{"bar_diameter": 8}] * 2)) == []
    (thin, soft, told) = strap(
        *(2.0, "vegetable", "soft"), fastener="rivet", ends=[{"bar_diameter": 8}] * 2, use="load_carrying"
    ).findings
    assert (thin.code, thin.severity) == ("leather-thin", Severity.CAUTION)
    assert "usual for a load-carrying strap" in thin.what
    assert soft.code == "soft-temper"
    assert "this strap carries a load" in soft.what
    assert told.code == "strength-estimate"
    assert told.do == CAUTION


def test_combination_tannage_is_told_of_every_strap():
    assert "combination-tannage" in codes(strap(tannage="combination"))


def test_no_strength_is_reckoned_of_synthetic_stock():
    one = strap(tannage="synthetic", use="load_carrying")
    assert one.strength.modes == ()
    assert "strength-unknown" in codes(one)
    assert one.as_json()["strength"]["governs"] is None


def test_the_json_has_the_estimate_with_its_caution():
    told = strap().as_json()["strength"]
    assert told["low_n"] == pytest.approx(1095.2, abs=0.05)  # 21.475 × 3.4 × 15 = 1095.2
    assert told["caution"] == CAUTION
