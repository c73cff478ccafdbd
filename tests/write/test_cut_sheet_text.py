"""The plain-text cut sheet."""

from __future__ import annotations

import re

import pytest
from tests.machine.layouts import hide, knife, laser, layout, small_layout, strap
from tests.write.plans import small_plan

from strapwright.files.atomic_write import MARK
from strapwright.machine.duration import clock
from strapwright.machine.hide_pose import Touch, touch_at
from strapwright.machine.planning import plan
from strapwright.machine.profile.tool_keys import Bridges
from strapwright.parts.part import Operation
from strapwright.rules.safety import cautions
from strapwright.write.cut_sheet_text import cut_sheet
from strapwright.write.formats.format import FORMATS


def test_it_tells_job_machine_kerf_layers_parts_and_punches():
    text = cut_sheet(small_plan("Herbst 🐎"))
    assert text.startswith("CUT SHEET\n\nJob       Herbst 🐎\nMachine   test laser, bed 1000 mm x 600 mm\n")
    assert "Kerf      0.224 mm, allowed for in the paths" in text
    assert "  score  layer 'score', #E69F00, 1 pass\n" in text
    assert (
        "Hide Marrow side\n"
        "  Sits: as drawn, the hide file's 0, 0 at x 0.00, y 0.00 mm from the front left corner\n"
        "  [ ] Focus: on the leather's face, 3.6 mm above the bed, as the machine's manual says\n" in text
    )
    assert "  3 outlines, 8 holes and slots to cut, 6 lines to score, 8 holes to punch\n" in text
    assert "    1. ada/strap\n    2. ada/keeper\n    3. bo/strap\n" in text
    assert (
        "  Punch by hand, where the machine marks the centres\n"
        "    4.5 mm  ada/strap  4 x fastener hole\n"
        "    4.5 mm  bo/strap   4 x fastener hole\n"
    ) in text


def test_it_carries_every_caution_and_the_mark():
    text = cut_sheet(small_plan())
    for caution in (*cautions("laser"), *cautions("bench")):
        assert text.count(f"  - {caution}\n") == 1
    assert text.count(MARK) == 1
    assert cautions("drag_knife")[0] not in text


def test_a_drag_knife_has_no_kerf_and_its_own_cautions():
    text = cut_sheet(plan(layout((strap(), 100, 100, 0)), knife()))
    assert "Kerf      none, the blade takes nothing away\n" in text
    assert cautions("drag_knife")[0] in text
    assert cautions("laser")[0] not in text
    assert "Job       without a name\n" in text


def test_findings_are_told_with_what_to_do():
    text = cut_sheet(plan(layout((strap(holes=0.4), 100, 100, 0)), laser(), kerf=0.5))
    assert "  caution: ada/strap: 3 × adjusting hole of 0.4 mm: " in text
    assert "Punch them by hand, 0.4 mm.\n" in text
    assert "    0.4 mm  ada/strap  3 x adjusting hole\n" in text


def test_inches_are_told_where_asked_for():
    assert "Machine   test laser, bed 39 3/8 in" in cut_sheet(small_plan(), "in")


def test_one_of_a_kind_is_told_as_one():
    text = cut_sheet(plan(layout((strap(holes=0.4), 100, 100, 0)), laser(), kerf=0.5))
    assert "  1 outline, " in text
    assert "1 outlines" not in text


def test_time_is_told_by_operation_and_what_was_assumed_for_it():
    made = small_plan()
    text = cut_sheet(made)
    [time] = made.durations
    cut = time.seconds[Operation.CUT]
    assert f"  cut    {clock(cut):>12}   {time.lengths[Operation.CUT] / 1000:.2f} m\n" in text
    assert f"  travel {clock(time.travel_seconds):>12}   {time.travel / 1000:.2f} m\n" in text
    assert f"  in all {clock(time.total):>12}   " in text
    assert (
        "  Not in the profile, so assumed: cut at 20 mm/s, punch at 20 mm/s, score at 20 mm/s, travel at "
        "100 mm/s, acceleration 500 mm/s².\n" in text
    )
    assert f"  Time about {clock(time.total)}\n" in text


def test_runs_of_an_outline_are_counted_as_such():
    bridges = Bridges(count=4, width=1.0)
    made = plan(layout((strap(length=700), 100, 100, 0)), laser().model_copy(update={"bridges": bridges}))
    assert "  4 runs of outlines, 4 holes and slots to cut" in cut_sheet(made)
    both = plan(layout((strap(), 100, 100, 0), (strap("b"), 500, 100, 0)), laser())
    assert "  2 outlines, 8 holes and slots to cut" in cut_sheet(both)


def test_the_lines_to_lay_straps_by_have_a_sheet_of_their_own():
    text = cut_sheet(plan(layout((strap(length=700), 150, 100, 0)), laser(ends_only=True)))
    assert "Hide Marrow side, lay by\n" in text
    assert "  Mark these lines on paper fixed to the bed, then lay the straps on them\n" in text
    assert "lines to score on the backing\n" in text
    assert "  2 runs of outlines, " in text


STRIP = layout((strap(length=1300), 100, 60, 0), hides=(hide("strip", 1500, 160),))
SHORT = {"bed": [300, 200], "pass_through": True}


def test_places_are_what_a_machine_shows_that_counts_from_the_back():
    # 600 mm deep, y counted from the back: a point 53.70 mm from the front is shown as 546.30.
    machine = laser(origin="back_left")
    text = cut_sheet(
        plan(
            small_layout(),
            machine,
            touches=[touch_at((0, 0), (20, 546.3), machine), touch_at((700, 0), (720.4, 546.3), machine)],
        )
    )
    said = " ".join(text.split())
    assert (
        "Places as the machine shows them: mm from the back left corner, x to the right, y to the front"
        in said
    )
    assert (
        "Sits: touched: point 0, 0 mm of the hide file at x 20, y 546.3 and point 700, 0 mm of the hide file "
        "at x 720.4, y 546.3 mm from the back left corner" in said
    )
    assert "Between the touches the file has 700.00 mm, the machine 700.40 mm, 0.40 mm more" in said
    assert "53.7" not in text


@pytest.mark.parametrize(("origin", "units"), [("back_left", "mm"), ("back_right", "in")])
def test_the_registration_holes_stand_where_the_machine_shows_them(origin, units):
    made = plan(STRIP, laser(**SHORT, origin=origin, units=units), kerf=0.2)
    text = cut_sheet(made)
    places = re.findall(r"([AB]) at x (-?[\d.]+), y (-?[\d.]+) (mm|inches) from the (\w+ \w+) corner\n", text)
    holes = [hole for sheet in made.sheets for hole in sheet.window.holes]
    assert len(places) == len(holes) == 2 * (len(made.sheets) - 1)
    inch = 25.4 if units == "in" else 1.0
    for (x, y), (_, own_x, own_y, unit, corner) in zip(holes, places, strict=True):
        assert (unit, corner) == ({"in": "inches"}.get(units, units), origin.replace("_", " "))
        # By hand: the bed is 300 by 200 mm.
        assert float(own_y) * inch == pytest.approx(200 - y, abs=0.01)
        assert float(own_x) * inch == pytest.approx(x if origin == "back_left" else 300 - x, abs=0.01)


def test_a_later_window_repeats_nothing_of_the_first():
    machine = laser(**SHORT)
    made = plan(STRIP, machine, kerf=0.2, touches=[Touch((0, 0), (15, 12)), Touch((1400, 0), (1415, 20))])
    first, *later = cut_sheet(made).split("Hide strip, window ")[1:]
    assert "touched" in first
    assert "3.6 mm above the bed" in first
    for text in later:
        assert "Lies" not in text
        assert "Between the touches" not in text
        assert "above the bed" not in text
        assert "  [ ] Focus, hold-down and flatness as before, checked again\n" in text
    for form in FORMATS.values():
        if form.name in ("svg", "dxf", "hpgl"):
            assert "touched" not in form.to_text(made.sheets[1], made)


def test_a_knife_is_told_where_z_is_zero_how_flat_the_bed_is_and_what_trails():
    made = plan(layout((strap(length=700), 100, 60, 0), hides=(hide("strip", 900, 160),)), knife(**SHORT))
    text = " ".join(cut_sheet(made).split())
    assert "[ ] Z zero: on the leather's face where it is thickest, 3.6 mm" in text
    assert "[ ] Hold-down: flat all round and between the parts" in text
    assert (
        "[ ] Flat: no place of the bed 0.3 mm lower than at z zero; no place of the leather 5 mm higher"
        in text
    )
    assert "Touch with a pin in the spindle: the blade's tip trails the position shown by 0.60 mm." in text
    assert "[ ] Z zero, hold-down and flatness as before, checked again" in text


def test_a_knife_driven_by_gcode_and_by_pens_is_told_its_depth():
    made = plan(layout((strap(), 100, 100, 0)), knife(formats=("hpgl", "gcode")))
    text = " ".join(cut_sheet(made).split())
    assert "[ ] Z zero, for G-code: on the leather's face where it is thickest, 3.6 mm" in text
    assert "[ ] Blade's depth, for plotter files: tried in scrap as they carry none" in text
    assert "Cut 3.9 mm deep" in text
    only = " ".join(cut_sheet(plan(layout((strap(), 100, 100, 0)), knife(formats=("hpgl",)))).split())
    assert "Z zero" not in only
    assert "deep" not in only


def test_straps_moved_on_are_laid_on_the_lines_marked_for_them():
    text = cut_sheet(plan(STRIP, laser(**SHORT, ends_only=True), kerf=0.2))
    _, _, first, lay_by, second, *_ = text.split("Hide strip, window ")
    assert lay_by.startswith("2 of 6, lay by\n  Mark these lines on paper")
    assert "Move" not in lay_by
    assert (
        "  1. Move the straps on by 250.00 mm to the left, onto the lines of this window's lay-by file.\n"
        in second
    )
    assert "Move" not in first
