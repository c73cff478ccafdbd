"""The picture of a plan: its sheets to one scale, with the way between the paths."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest
from svgpathtools import parse_path
from tests.drawing.rendered import plan_svg
from tests.machine.layouts import hide, laser, layout, strap
from tests.write.plans import driven_knife, driven_plan, small_plan

from strapwright.drawing.plan import plan_pages, plan_picture
from strapwright.drawing.svg import svg as svg_of
from strapwright.machine.duration import moves_of
from strapwright.machine.planning import plan
from strapwright.parts.part import Operation

PATH = "{http://www.w3.org/2000/svg}path"


def test_windows_are_drawn_to_one_scale():
    lay = layout((strap(length=700), 100.0, 60.0, 0.0), hides=(hide("strip", 900, 160),))
    made = plan(lay, laser(bed=[300, 200], pass_through=True), kerf=0.2)
    paths = [path for sheet in made.sheets for path in sheet.paths]
    svg, cuts = plan_svg(made), {str(one) for one in Operation}
    of_cuts = [e for e in ET.fromstring(svg).iter(PATH) if e.get("class").partition("-")[0] in cuts]
    drawn = [e.get("d") for e in of_cuts][: len(paths)]
    boxes = [parse_path(d).bbox() for d in drawn]
    scales = [
        (box[1] - box[0]) / (path.contour.bounding_box[2] - path.contour.bounding_box[0])
        for box, path in zip(boxes, paths, strict=True)
        if path.contour.length > 30 and box[1] - box[0] > 1
    ]
    assert len(made.sheets) > 2
    assert scales == pytest.approx([scales[0]] * len(scales), rel=1e-3)


def paths_of(svg, look):
    return [e for e in ET.fromstring(svg).iter(PATH) if e.get("class") == look]


def words_of(svg):
    return [e.text for e in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


def test_the_way_between_the_paths_is_drawn():
    made = small_plan()
    drawn = plan_svg(made)
    # All ways but the first, from the bed's corner, which is not drawn here; and one in the key.
    travels = [move for move in moves_of(made.sheets[0], made.machine) if move.run is None]
    assert len(travels) == len(made.sheets[0].paths)
    assert len(paths_of(drawn, "travel")) == len(travels) - 1 + 1
    assert "travel, tool off" in words_of(drawn)


def test_every_path_has_its_entry_and_numbers_stand_in_cutting_order():
    made = small_plan()
    [sheet] = made.sheets
    svg = plan_svg(made)
    entries = paths_of(svg, "entry")
    assert len(entries) == len(sheet.paths) + 1  # and the key's
    numbers = [int(word) for word in words_of(svg) if word.isdigit()]
    assert numbers == sorted(set(numbers))
    assert set(numbers) <= set(range(1, len(sheet.paths) + 1))
    assert len(numbers) > 0.7 * len(sheet.paths)


def test_parts_are_listed_with_their_paths_and_times():
    made = small_plan()
    moves = moves_of(made.sheets[0], made.machine)
    mine = [m for m in moves if m.run is not None and m.run.path.part_id == "ada/strap"]
    begins, ends = (f"{round(t) // 60}:{round(t) % 60:02}" for t in (mine[0].begins, mine[-1].ends))
    assert f"{mine[0].number} to {mine[-1].number}  ada/strap: {begins} to {ends}" in words_of(plan_svg(made))


def test_the_frame_and_the_holes_to_lay_a_window_by_are_shown():
    lay = layout((strap(length=700), 100.0, 60.0, 0.0), hides=(hide("strip", 900, 160),))
    made = plan(lay, laser(bed=[300, 200], pass_through=True, origin="back_left", units="in"), kerf=0.2)
    words = words_of(svg_of(plan_pages(made)[1]))
    assert "The machine shows inches from the back left corner, x to the right, y to the front." in words
    assert {"hole A", "hole B", "0, 0"} <= set(words)
    assert not {"hole A", "hole B"} & set(words_of(svg_of(plan_pages(made)[0])))


def test_a_knifes_lead_ins_and_swivels_are_drawn():
    made = driven_plan(driven_knife())
    turned = [m for m in moves_of(made.sheets[0], made.machine) if m.run is not None and m.run.turns]
    svg = plan_svg(made)
    assert len(turned) > 10
    assert len(paths_of(svg, "turns")) == len(turned) + 1
    assert "the blade is turned: lead-in, swivel" in words_of(svg)


def test_operations_are_known_by_their_dashes_and_drawn_in_the_machines_own_colours():
    made = small_plan()
    drawn = plan_picture(made)
    looks = {str(one): f"{one}-{made.machine.settings(one).color[1:].lower()}" for one in Operation}
    assert len({drawn.own[name].dashes for name in looks.values()}) == 3
    for name in looks.values():
        assert drawn.own[name].stroke[1:] == name.partition("-")[2]
    assert len(paths_of(plan_svg(made), looks["cut"])) > 1  # and the key's
