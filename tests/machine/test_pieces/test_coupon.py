"""The kerf's test piece: what stands on it, and that it measures what it claims to."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest
import shapely
from shapely import affinity
from tests.machine.layouts import knife, laser

from strapwright.core.errors import PlanError, SafetyError
from strapwright.machine.profile.machine import machine_from, read_machine, shipped_profiles
from strapwright.machine.profile.machine_keys import ScaleRow
from strapwright.machine.test_pieces.coupon import (
    CROSS,
    HOLES,
    LADDER,
    PITCH,
    STRIPS,
    Cross,
    comb_across_y,
    coupon,
    cross_of,
    hole_drawn,
)
from strapwright.machine.test_pieces.kerf_record import Readings, measured_from
from strapwright.parts.part import Operation
from strapwright.rules.leather import Tannage
from strapwright.write.cut_files import write_plan
from strapwright.write.test_pieces import coupon_sheet

VEGETABLE = Tannage.VEGETABLE


def small(width: float, height: float):
    table = {"name": "small one", "kind": "laser", "bed": [width, height]}
    return machine_from({"machine": table}, "small.toml")


def paths_named(plan, start: str):
    return [path for path in plan.sheets[0].paths if path.name.startswith(start)]


def leather_left(plan, kerf: float, scale_x: float, scale_y: float):
    """A sheet of leather after the cuts, each as wide as the kerf, on axes that are out."""
    cuts = []
    for path in plan.sheets[0].paths:
        if path.operation is Operation.CUT:
            points = path.contour.sample(64 if path.contour.is_arc.any() else 1)
            ring = np.vstack([points, points[:1]]) if path.contour.closed else points
            line = affinity.scale(shapely.LineString(ring), scale_x, scale_y, origin=(0, 0))
            cuts.append(line.buffer(kerf / 2, cap_style="square", join_style="mitre"))
    return shapely.get_parts(shapely.box(-50, -50, 500, 500) - shapely.union_all(cuts))


@pytest.mark.parametrize("kerf", [0.08, 0.19, 0.33, 0.55])
@pytest.mark.parametrize("scale", [1.0, 1.004, 0.993])
def test_cut_in_leather_it_gives_back_the_kerf_it_was_cut_with(kerf, scale):
    plan = coupon(laser(), VEGETABLE, 3.6)
    pieces = [piece.bounds for piece in leather_left(plan, kerf, scale, 1.0)]
    comb = [box for box in pieces if box[3] - box[1] > 30 and box[2] - box[0] < PITCH * 1.1]
    assert len(comb) == STRIPS
    pushed_together = sum(box[2] - box[0] for box in comb)
    cross = cross_of(laser())
    read = Readings(strips=(pushed_together,), cross_x=(cross.x * scale,))
    found = measured_from(read, cross)
    assert found.kerf == pytest.approx(kerf, abs=1e-9)
    assert found.scale_x == pytest.approx(scale)
    # The slots: a hole is what the loose piece in it was, and a kerf more; a strip is let in where it fits.
    loose = sorted(
        box[2] - box[0] for box in pieces if 10 < box[3] - box[1] < 20 and box[2] - box[0] < PITCH * scale
    )
    assert len(loose) == len(LADDER)
    openings = {drawn: piece + 2 * kerf for drawn, piece in zip(sorted(LADDER), loose, strict=True)}
    strip = pushed_together / STRIPS
    just = min(drawn for drawn, opening in openings.items() if opening >= strip - 1e-9)
    by_ladder = measured_from(Readings(slots=(just,), cross_x=(cross.x * scale,)), cross).kerf
    assert kerf - 0.051 * scale <= by_ladder <= kerf + 1e-9


@pytest.mark.parametrize(("kerf", "scale"), [(0.19, 1.0), (0.33, 1.004)])
def test_the_comb_across_y_and_the_holes_give_back_the_kerf_as_well(kerf, scale):
    machine = small(600, 400)
    plan = coupon(machine, VEGETABLE, 3.6)
    pieces = leather_left(plan, kerf, 1.0, scale)
    boxes = [piece.bounds for piece in pieces]
    lying = [box for box in boxes if box[2] - box[0] > 30 and box[3] - box[1] < PITCH * 1.1]
    assert len(lying) == STRIPS
    pushed_together = sum(box[3] - box[1] for box in lying)
    on_file = {"y": ScaleRow(y=scale, measured=date(2026, 3, 1))}
    found = measured_from(Readings(strips_y=(pushed_together,)), cross_of(machine), on_file)
    assert found.kerf == pytest.approx(kerf, abs=1e-9)
    # A disc falls out of each hole; the hole is a kerf wider all round.
    discs = [box for box in boxes if 3 < box[2] - box[0] < 5.1 and 3 < box[3] - box[1] < 5.1]
    assert len(discs) == HOLES
    opened = [(box[2] - box[0] + box[3] - box[1]) / 2 + 2 * kerf for box in discs]
    read = Readings(strips_y=(pushed_together,), holes=tuple(opened))
    by_hole = measured_from(read, cross_of(machine), on_file, hole_drawn(machine)).holes
    assert by_hole == pytest.approx(kerf, abs=0.01)  # the discs are looked at as polygons


def test_a_bed_without_room_leaves_out_the_second_comb_and_the_holes_and_says_so():
    (note,) = (one for one in coupon(small(150, 160), VEGETABLE).findings if one.code == "piece-left-out")
    assert "no room for the comb across y and the small holes" in note.what
    assert comb_across_y(small(150, 160)) is None
    assert comb_across_y(small(150, 290)) is not None
    assert comb_across_y(small(600, 160)) is not None
    assert comb_across_y(knife()) is None


def test_the_comb_has_one_cut_more_than_strips_and_two_that_free_the_ends():
    plan = coupon(laser(), VEGETABLE)
    lines = paths_named(plan, "comb line")
    assert len(lines) == STRIPS + 1
    xs = [float(path.contour.starts[0][0]) for path in lines]
    assert np.diff(xs) == pytest.approx([PITCH] * STRIPS)
    ends = paths_named(plan, "comb end")
    assert [path.contour.length for path in ends] == pytest.approx([STRIPS * PITCH] * 2)


def test_it_is_cut_on_its_lines_whatever_the_machines_kerf():
    plan = coupon(laser(), VEGETABLE, 3.6)
    assert plan.kerf == 0.0
    assert plan.kerfs == ()
    widths = [
        path.contour.bounding_box[2] - path.contour.bounding_box[0] for path in paths_named(plan, "ladder")
    ]
    assert widths == pytest.approx(LADDER)


def test_the_cross_is_200_mm_from_tick_to_tick_and_only_scored():
    plan = coupon(laser(), VEGETABLE)
    for axis, name in enumerate(("cross tick x", "cross tick y")):
        first, second = paths_named(plan, name)
        assert abs(second.contour.starts[0][axis] - first.contour.starts[0][axis]) == CROSS
    assert {path.operation for path in paths_named(plan, "cross")} == {Operation.SCORE}
    assert {path.operation for path in paths_named(plan, "label")} == {Operation.SCORE}


def test_a_smaller_bed_has_a_smaller_cross_and_says_so():
    machine = small(150, 170)
    assert cross_of(machine) == Cross(130.0, 150.0)
    (note,) = (found for found in coupon(machine, VEGETABLE).findings if found.code == "cross-shortened")
    assert note.numbers == {"cross_x_mm": 130.0, "cross_y_mm": 150.0}
    assert not coupon(laser(), VEGETABLE).findings


@pytest.mark.parametrize("size", [(134, 157), (150, 160), (150, 290), (600, 160), (480, 320), (2600, 1300)])
def test_everything_lies_on_the_bed_and_no_two_things_run_into_each_other(size):
    plan = coupon(small(*size), VEGETABLE, 3.6)
    groups: dict[str, list[shapely.Geometry]] = {}
    for path in plan.sheets[0].paths:
        low_x, low_y, high_x, high_y = path.contour.bounding_box
        assert low_x >= 5
        assert low_y >= 5
        assert high_x <= size[0] - 5
        assert high_y <= size[1] - 5
        name = path.name if path.name.startswith("ladder") else path.name.split()[0]
        groups.setdefault(name, []).append(shapely.LineString(path.contour.sample(8)))
    shapes = {name: shapely.union_all(lines) for name, lines in groups.items()}
    for name, shape in shapes.items():
        for other, there in shapes.items():
            assert name == other or shape.distance(there) > 1.0, (name, other)


def test_a_bed_too_small_for_the_comb_is_refused_with_its_size():
    with pytest.raises(PlanError) as caught:
        coupon(small(133, 400), VEGETABLE)
    assert str(caught.value).startswith("the test piece needs 134 × ")
    assert "'small one' has 133 × 400 mm" in str(caught.value)


def test_scores_come_before_cuts_and_the_comb_last():
    names = [path.name.split()[0] for path in coupon(laser(), VEGETABLE).sheets[0].paths]
    assert list(dict.fromkeys(names)) == ["cross", "label", "hole", "ladder", "comb"]


def test_the_fume_gate_holds_for_a_test_piece_as_well():
    with pytest.raises(SafetyError, match="chromium"):
        coupon(laser(), Tannage.CHROME)
    accepted = coupon(laser(), Tannage.CHROME, accept_fume_risk=True)
    assert [found.code for found in accepted.findings] == ["fume-risk-accepted"]
    with pytest.raises(SafetyError, match="never cut on a laser"):
        coupon(laser(), Tannage.SYNTHETIC, accept_fume_risk=True)
    assert coupon(knife(), Tannage.CHROME, 2.0).findings == ()


def test_leather_too_thick_for_the_machine_is_refused():
    with pytest.raises(PlanError, match=r"the test piece is 4\.50 mm thick; the blade of 'test knife' goes"):
        coupon(knife(), VEGETABLE, 4.5)


def test_a_name_that_cannot_be_lettered_is_left_out():
    table = {"name": "станок", "kind": "laser", "bed": [600, 400]}
    other = machine_from({"machine": table}, "m.toml")
    plain = machine_from({"machine": table | {"name": "lathe"}}, "m.toml")
    assert len(paths_named(coupon(other, VEGETABLE), "label")) < len(
        paths_named(coupon(plain, VEGETABLE), "label")
    )


@pytest.mark.parametrize("name", shipped_profiles())
def test_every_shipped_machine_writes_it_and_it_reads_back(name):
    machine = read_machine(name)
    files = write_plan(coupon(machine, VEGETABLE, 2.0), machine.formats, "c")
    assert len(files.proofs) == len(machine.formats)
    assert math.isfinite(files.greatest_deviation_mm)


def test_a_machine_that_does_not_score_cuts_comb_and_ladder_and_the_sheet_says_which_slot_is_which():
    laser = read_machine("wide-laser")
    score = laser.operation.score.model_copy(update={"enabled": False})
    machine = laser.model_copy(update={"operation": laser.operation.model_copy(update={"score": score})})
    made = coupon(machine, Tannage.VEGETABLE, 3.6)
    assert {path.operation for path in made.sheets[0].paths} == {Operation.CUT}
    assert made.findings[-1].code == "test-piece-unscored"
    assert "no lettering and no cross" in made.findings[-1].what
    sheet = coupon_sheet(made, Tannage.VEGETABLE, 3.6)
    assert "the widest is at the front left" in sheet
    assert "--slot LENGTH\n" in sheet
    assert "Cross" not in sheet
    assert "--cross" not in sheet
