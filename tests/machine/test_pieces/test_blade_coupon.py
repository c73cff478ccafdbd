"""The test a blade's offset is measured on: the right offset's corners are sharp, the others' as told."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.write.plans import driven_knife, driven_laser

from strapwright.machine.test_pieces.blade_coupon import blade_coupons, offsets_tried
from strapwright.machine.toolpath.runs import tool_runs
from strapwright.rules.leather import Tannage
from strapwright.write.proof.blade_simulation import follow_each
from strapwright.write.test_pieces import kerf_coupon

VEGETABLE = Tannage.VEGETABLE


def reach(plan, trails: float):
    """How far past the square's corner a blade that trails so far comes on the edge that leads to it, mm."""
    runs = tool_runs(plan.sheets[0], plan.machine)
    traces = follow_each([run.track for run in runs], 0.0, trails)
    path = next(run.path for run in runs if run.path is not None and run.path.is_outline)
    contour = path.contour
    box = contour.bounding_box
    mine = [
        k
        for k, run in enumerate(runs)
        if run.path is path and not (run.turns and runs[k - 1].path is not path)
    ]
    points = np.vstack([traces[k].points for k in mine])
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    points = points[way > 1.0]
    past = np.max(
        [box[0] - points[:, 0], points[:, 0] - box[2], box[1] - points[:, 1], points[:, 1] - box[3]]
    )
    corners = contour.starts
    short = max(float(np.hypot(*(points - corner).T).min()) for corner in corners)
    return past, short


@pytest.mark.parametrize("trails", [0.35, 0.6, 1.2])
def test_the_corners_are_sharp_only_where_the_blade_trails_as_reckoned(trails):
    plans = blade_coupons(driven_knife(round(trails + 0.05, 3)), "leather")
    assert len(plans) == 5
    for plan in plans:
        reckoned = plan.machine.blade.offset
        past, short = reach(plan, trails)
        if math.isclose(reckoned, trails):
            assert past < 0.005
            assert short < 0.005
        elif reckoned < trails:
            assert short > 0.02  # cut short and round
        else:
            assert past > 0.02  # cut past


def test_no_file_cuts_through_what_another_has_cut():
    plans = blade_coupons(driven_knife(), "leather")
    outlines = [path.contour for plan in plans for path in plan.sheets[0].paths if path.is_outline]
    assert len(outlines) == 10
    for plan in plans:
        for run in tool_runs(plan.sheets[0], plan.machine):
            points = run.track.sample()
            for outline in outlines:
                inside = outline.contains(points)
                if inside.any():  # a swivel at its own corner, by no more than the blade trails
                    assert outline.distance_to(points[inside]).max() <= plan.machine.blade.offset + 1e-6
                    assert any(path.contour == outline for path in plan.sheets[0].paths)


def test_offsets_near_nothing_are_left_out():
    assert offsets_tried(driven_knife(0.12)) == (0.07, 0.12, 0.17, 0.22)


@pytest.mark.parametrize("machine", [driven_laser(), driven_knife(mode="plain")], ids=["laser", "plain"])
def test_nothing_is_written_where_no_allowance_is_made_for_a_blade(machine):
    made = kerf_coupon(machine, VEGETABLE, 3.6, formats=["gcode"])
    assert not made.blade_test
    assert not [name for name in made.files.texts if name.startswith("blade")]


@pytest.mark.parametrize("offset", [0.3, 0.6, 1.5])
def test_each_offset_has_a_file_of_its_own_proven_with_its_own_blade(offset):
    made = kerf_coupon(driven_knife(offset), VEGETABLE, 3.6, formats=["gcode", "hpgl", "dxf"])
    names = sorted(name for name in made.files.texts if name.startswith("blade"))
    assert len(names) == 10
    assert set(names) <= made.files.proofs.keys()
    assert all(0 < made.files.proofs[name].blade_deviation_mm <= 0.02 for name in names)
    sheet = made.files.texts["kerf-coupon-sheet.txt"]
    assert "Blade: cut the blade-coupon files" in sheet
    assert f"{offset + 0.1:.1f}" in sheet


def test_where_no_format_drives_the_machine_there_is_no_test():
    assert not kerf_coupon(driven_knife(), VEGETABLE, formats=["dxf"]).blade_test


def test_a_bed_too_narrow_for_it_has_the_kerfs_test_piece_alone():
    narrow = driven_knife(machine={"bed": [165, 400]})
    assert not kerf_coupon(narrow, VEGETABLE, 3.6, formats=["gcode"]).blade_test
