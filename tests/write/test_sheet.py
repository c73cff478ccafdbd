"""The plain-text cut sheet."""

from __future__ import annotations

import dataclasses

from tests.machine.layouts import knife, laser, layout, strap
from tests.write.plans import small_plan

from strapwright.files.whole import MARK
from strapwright.machine.duration import clock
from strapwright.machine.plan import plan
from strapwright.machine.tool_tables import Bridges
from strapwright.parts.part import Operation
from strapwright.trade.safety import cautions
from strapwright.write.sheet import cut_sheet


def test_it_tells_job_machine_kerf_layers_parts_and_punches():
    text = cut_sheet(small_plan("Herbst 🐎"))
    assert text.startswith("CUT SHEET\n\nJob       Herbst 🐎\nMachine   test laser, bed 1000 mm x 600 mm\n")
    assert "Kerf      0.224 mm, allowed for in the paths" in text
    assert "  score  layer 'score', #E69F00, 1 pass\n" in text
    assert (
        "Hide Marrow side\n  Lies: as drawn, its coordinates are the bed's\n"
        "  3 outlines, 8 holes and slots to cut, 6 lines to score, 8 holes to punch\n" in text
    )
    assert "    1. ada/strap\n    2. ada/keeper\n    3. bo/strap\n" in text
    assert "  Punch by hand\n    4.5 mm: ada/strap 4, bo/strap 4\n" in text


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
    assert "    0.4 mm: ada/strap 3\n" in text


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
    made = plan(layout((strap(length=700), 100, 100, 0)), dataclasses.replace(laser(), bridges=bridges))
    assert "  4 runs of outlines, 4 holes and slots to cut" in cut_sheet(made)
    both = plan(layout((strap(), 100, 100, 0), (strap("b"), 500, 100, 0)), laser())
    assert "  2 outlines, 8 holes and slots to cut" in cut_sheet(both)


def test_the_lines_to_lay_straps_by_have_a_sheet_of_their_own():
    text = cut_sheet(plan(layout((strap(length=700), 150, 100, 0)), laser(ends_only=True)))
    assert "Hide Marrow side, lay by\n" in text
    assert "  Mark these lines on paper fixed to the bed, then lay the straps on them\n" in text
    assert "lines to score on the backing\n" in text
    assert "  2 runs of outlines, " in text
