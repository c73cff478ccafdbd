"""Punch templates: volume, holes at size and place, lip, files."""

from __future__ import annotations

import pytest
from tests.solid.belts import KEYS, asked

from strapwright.core.errors import OutputError, PartError
from strapwright.parts.strap import strip_outline
from strapwright.parts.tips.square import Square
from strapwright.solid.modeller import cadquery, cylinder
from strapwright.solid.template import LIP, punch_template, template_bytes


@pytest.fixture(scope="module")
def drafted():
    return asked(*KEYS["two prongs, 52 mm"])


@pytest.fixture(scope="module")
def plates(drafted):
    return {end: punch_template(drafted, end) for end in ("buckle_end", "tip")}


def expected(drafted, end, plate):
    """Plate less its openings, and the lip beside it from under the strap's edge to the plate's top."""
    strap = drafted.strap
    rear, cut = Square(strap.width, strap.buckle_end.corner_radius), Square(strap.width, 0.5)
    if end == "buckle_end":
        low = -strap.buckle_end.turn_back
        outline = strip_outline(low, rear, low + plate.length, cut)
        straight = plate.length - strap.buckle_end.corner_radius - 0.5
    else:
        outline = strip_outline(strap.span - plate.length, cut, strap.span, strap.tip)
        straight = plate.length - strap.tip.reach - 0.5
    low, high = strap.span - plate.length, strap.span
    if end == "buckle_end":
        low, high = -strap.buckle_end.turn_back, plate.length - strap.buckle_end.turn_back
    holes = [
        one.contour.area
        for one in strap.features()
        if one.operation == "cut" and low < one.contour.bounding_box[0] < one.contour.bounding_box[2] < high
    ]
    assert len(holes) == len(plate.holes)
    return 4.0 * (outline.area - sum(holes)) + straight * LIP * (4.0 + plate.drop)


@pytest.mark.parametrize("end", ["buckle_end", "tip"])
def test_the_volume_is_plate_less_holes_and_lip(drafted, plates, end):
    plate = plates[end]
    assert plate.shape.isValid()
    assert plate.shape.Volume() == pytest.approx(expected(drafted, end, plate), rel=1e-6)


def test_every_hole_of_the_buckle_end_is_there_at_its_size(drafted, plates):
    end, plate = drafted.strap.buckle_end, plates["buckle_end"]
    hole = 4.7625 + 0.5  # the 1/4 in post's barrel of 3/16 in, and its play
    round_holes = {(round(x, 6), round(y, 6)) for x, y, long, _ in plate.holes if abs(long - hole) < 1e-9}
    assert round_holes == {(round(x, 6), round(y, 6)) for x, y in end.fastener_centres}
    assert sum(long == pytest.approx(end.slot_length) for _, _, long, _ in plate.holes) == 2
    for x, y in end.fastener_centres:
        inside = cylinder(hole / 2 - 0.01, (x, y, -5), (x, y, 9))
        assert not plate.shape.intersect(inside).Solids()
        around = cylinder(2.7, (x, y, 1), (x, y, 2))
        assert plate.shape.intersect(around).Volume() > 0.5 * 3.14 * (2.7**2 - (hole / 2) ** 2)


def test_the_tip_has_all_adjusting_holes_and_its_point(drafted, plates):
    plate = plates["tip"]
    assert {(round(x, 6), round(y, 6)) for x, y, _, _ in plate.holes} == {
        (round(x, 6), round(y, 6)) for x, y in drafted.strap.holes.centres
    }
    assert plate.shape.BoundingBox().xmax == pytest.approx(drafted.strap.span, abs=1e-3)


def test_the_lip_hangs_outside_the_edge_and_ends_above_the_bench(drafted, plates):
    box = plates["buckle_end"].shape.BoundingBox()
    assert box.ymin == pytest.approx(-drafted.strap.width / 2 - LIP, abs=1e-3)
    assert box.ymax == pytest.approx(drafted.strap.width / 2, abs=1e-3)
    assert box.zmin == pytest.approx(-(3.6 - 1.0), abs=1e-3)
    assert box.zmax == pytest.approx(4.0, abs=1e-3)
    leather = cadquery().Workplane("XY", origin=(0, 0, -1.8)).box(400, drafted.strap.width - 1e-3, 3.6 - 1e-3)
    assert not plates["buckle_end"].shape.intersect(leather.val()).Solids()


def test_another_thickness_may_be_had_within_reason(drafted):
    assert punch_template(drafted, "tip", thickness=6.0).shape.BoundingBox().zmax == pytest.approx(
        6.0, abs=1e-3
    )
    with pytest.raises(PartError, match=r"a template 0\.4 mm thick was asked for; allowed are 1 to 20 mm"):
        punch_template(drafted, "tip", thickness=0.4)


def test_a_template_is_written_as_step_and_stl_only(plates, tmp_path):
    path = tmp_path / "plate.step"
    path.write_bytes(template_bytes(plates["tip"], ".step"))
    read = cadquery().importers.importStep(str(path)).val()
    assert read.Volume() == pytest.approx(plates["tip"].shape.Volume(), rel=1e-6)
    assert len(template_bytes(plates["tip"], ".stl")) > 1000
    with pytest.raises(OutputError, match=r"a template is written as \.step, \.stl"):
        template_bytes(plates["tip"], ".glb")
