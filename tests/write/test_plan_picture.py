"""The picture of a plan: its sheets to one scale, with or without the way between the paths."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest
from svgpathtools import parse_path
from tests.machine.layouts import hide, laser, layout, strap
from tests.write.plans import small_plan

from strapwright.machine.plan import plan
from strapwright.write.plan_picture import plan_svg

PATH = "{http://www.w3.org/2000/svg}path"


def test_windows_are_drawn_to_one_scale():
    lay = layout((strap(length=700), 100.0, 60.0, 0.0), hides=(hide("strip", 900, 160),))
    made = plan(lay, laser(bed=[300, 200], pass_through=True), kerf=0.2)
    paths = [path for sheet in made.sheets for path in sheet.paths]
    drawn = [e.get("d") for e in ET.fromstring(plan_svg(made, travel=False)).iter(PATH)][: len(paths)]
    boxes = [parse_path(d).bbox() for d in drawn]
    scales = [
        (box[1] - box[0]) / (path.contour.bounding_box[2] - path.contour.bounding_box[0])
        for box, path in zip(boxes, paths, strict=True)
        if path.contour.length > 30 and box[1] - box[0] > 1
    ]
    assert len(made.sheets) > 2
    assert scales == pytest.approx([scales[0]] * len(scales), rel=1e-3)


def test_the_way_between_the_paths_may_be_left_out():
    made = small_plan()
    with_travel, without = plan_svg(made), plan_svg(made, travel=False)
    between = len(made.sheets[0].paths) - 1
    assert with_travel.count("<path") == without.count("<path") + between + 1
    assert "travel without cutting" not in without
