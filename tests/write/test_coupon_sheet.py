"""The sheet of the kerf's test piece."""

from __future__ import annotations

import pytest
from tests.machine.layouts import knife, laser

from strapwright.files.atomic_write import MARK
from strapwright.machine.profile.machine import machine_from, read_machine
from strapwright.machine.test_pieces.coupon import coupon
from strapwright.rules.leather import Tannage
from strapwright.rules.safety import cautions
from strapwright.write.formats.dxf import Dxf
from strapwright.write.formats.svg import Svg
from strapwright.write.test_pieces import coupon_sheet, measuring_lines

VEGETABLE = Tannage.VEGETABLE


def test_it_says_how_to_measure_and_what_to_type():
    text = coupon_sheet(coupon(laser(), VEGETABLE, 3.6), VEGETABLE, 3.6)
    assert "Leather   vegetable, 3.6 mm\n" in text
    assert "Kerf      not allowed for, the cuts run on the lines themselves\n" in text
    assert "push all 10 strips together, grain side up" in text
    assert "cut tapers" in text
    assert "drawn 200 mm along x and 200 mm along y" in text
    assert (
        "strapwright kerf record --machine laser.toml --material vegetable --thickness 3.6mm --strips "
        "LENGTH,LENGTH,LENGTH --strips-y LENGTH,LENGTH,LENGTH --hole LENGTH,LENGTH,LENGTH "
        "--slot LENGTH --cross-x LENGTH --cross-y LENGTH\n" in text
    )
    assert text.count(MARK) == 1
    for caution in cautions("laser"):
        assert f"  - {caution}\n" in text


def test_it_tells_what_the_piece_is_cut_at():
    machine = read_machine("small-laser")
    text = coupon_sheet(coupon(machine, VEGETABLE), VEGETABLE, None)
    assert "Cut at    8 mm/s, 90 % power, 3 passes: the kerf holds for these alone\n" in text
    assert "Leather   vegetable, thickness not given\n" in text
    assert "--thickness THICKNESS " in text


def test_findings_stand_on_it():
    table = {"name": "small one", "kind": "laser", "bed": [150, 170]}
    plan = coupon(machine_from({"machine": table}, "m.toml"), Tannage.CHROME, accept_fume_risk=True)
    text = coupon_sheet(plan, Tannage.CHROME, None)
    assert "  caution: Leather of chrome tannage is cut by laser because you allowed it." in text
    assert "too small for a cross of 200 mm: it is drawn 130 mm along x and 150 mm along y" in text


def test_a_blade_has_only_its_scale_to_record():
    lines = measuring_lines(knife(), VEGETABLE, 2.0)
    assert "must measure 100 mm: a blade takes nothing away" in lines[0]
    assert lines[-1] == (
        "Then: strapwright kerf record --machine knife.toml --cross-x LENGTH --cross-y LENGTH"
    )
    assert cautions("drag_knife")[0] in coupon_sheet(coupon(knife(), VEGETABLE, 2.0), VEGETABLE, 2.0)


@pytest.mark.parametrize("form", [Dxf(), Svg()])
def test_the_cut_files_themselves_say_that_nothing_is_allowed_for(form):
    plan = coupon(laser(), VEGETABLE, 3.6)
    text = form.to_text(plan.sheets[0], plan)
    assert "kerf: not allowed for, the cuts run on the lines themselves" in text
    assert cautions("laser")[0] in text
