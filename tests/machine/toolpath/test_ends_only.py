"""Long edges left to the strap cutter: only ends and holes are cut, with lines to lay the strap by."""

from __future__ import annotations

import itertools

import pytest
from tests.machine.layouts import hide, keeper, laser, layout, plate, strap

from strapwright.geometry.shapes import filleted
from strapwright.machine.planning import plan
from strapwright.machine.toolpath.long_edges import (
    BEYOND,
    CENTRE_LINE,
    EDGE_TICK,
    LAY_BY,
    STUB,
    TICK,
    TICK_PITCH,
)
from strapwright.parts.part import Operation
from strapwright.write.proof.windows import prove_windows


def by_hand(**changes):
    return laser(ends_only=True, **changes)


def test_the_machine_cuts_both_ends_and_every_hole_and_no_long_edge():
    part = strap(length=700)
    whole = plan(layout((part, 150, 100, 0)), laser(), kerf=0.2)
    made = plan(layout((part, 150, 100, 0)), by_hand(), kerf=0.2)
    [sheet] = [s for s in made.sheets if not s.lay_by]
    runs = [p.contour for p in sheet.paths if p.name == "outline"]
    assert len(runs) == 2
    straight = 700 - 19 - 4  # each long edge
    [outline] = [p.contour for p in whole.sheets[0].paths if p.name == "outline"]
    assert sum(run.length for run in runs) == pytest.approx(outline.length - 2 * (straight - 2 * STUB))
    for run in runs:
        assert outline.distance_to(run.sample()).max() < 1e-9
    inner = [p for p in sheet.paths if p.name != "outline"]
    assert len(inner) == len([p for p in whole.sheets[0].paths if p.name != "outline"])
    [found] = [f for f in made.findings if f.code == "long-edges-by-hand"]
    assert "lay-by" in found.do


@pytest.mark.parametrize("turn", [0.0, 90.0])
def test_a_strap_is_laid_on_its_centre_line_between_ticks_at_its_edges(turn):
    made = plan(layout((strap(length=500), 300, 90, turn)), by_hand(), kerf=0.2)
    assert [s.lay_by for s in made.sheets] == [True, False]
    marks = made.sheets[0].paths
    assert {p.operation for p in marks} == {Operation.SCORE}
    [centre] = [p.contour for p in marks if p.name == CENTRE_LINE]
    assert centre.length == pytest.approx(500 + 2 * BEYOND)
    along = 1 if turn else 0
    across = 1 - along
    middle = (90, 300)[along]
    assert centre.vertices[:, across] == pytest.approx([middle] * 2)
    ticks = [p.contour for p in marks if p.name == EDGE_TICK]
    assert len(ticks) >= 2 * 5
    for tick in ticks:
        assert tick.length == pytest.approx(TICK)
        off = sorted(abs(tick.vertices[:, across] - middle))
        assert off == pytest.approx([19.0, 19.0 + TICK])  # from the strap's edge outward
    above = sorted(t.vertices[0, along] for t in ticks if t.vertices[:, across].mean() > middle)
    assert max(b - a for a, b in itertools.pairwise(above)) <= TICK_PITCH + 1e-9


def test_marks_off_the_bed_are_left_out_or_shortened():
    made = plan(layout((strap(length=500), 75, 22, 0)), by_hand(), kerf=0.2)
    marks = next(s for s in made.sheets if s.lay_by).paths
    boxes = [p.contour.bounding_box for p in marks]
    assert min(b[0] for b in boxes) == pytest.approx(0.0)
    assert min(b[1] for b in boxes) == pytest.approx(0.0)


def test_keepers_are_cut_whole_and_need_no_marks():
    made = plan(layout((keeper(), 100, 100, 0)), by_hand(), kerf=0.2)
    [sheet] = made.sheets
    [outline] = [p.contour for p in sheet.paths if p.name == "outline"]
    assert outline.closed
    assert not [p for p in sheet.paths if p.name in LAY_BY]


def test_a_pointed_tip_keeps_its_flanks():
    # Flanks 20° off the strap's direction are the tip's, not a long edge.
    part = plate(outline=filleted([(0, -20), (400, -20), (455, 0), (400, 20), (0, 20)], [2] * 5))
    made = plan(layout((part, 100, 100, 0)), by_hand(), kerf=0.2)
    [sheet] = [s for s in made.sheets if not s.lay_by]
    boxes = sorted(p.contour.bounding_box for p in sheet.paths if p.name == "outline")
    assert len(boxes) == 2
    assert boxes[1][0] < 500
    assert boxes[1][2] > 550


def test_it_goes_through_windows_with_marks_for_each():
    machine = by_hand(bed=[300, 200], pass_through=True)
    lay = layout((strap(length=1300), 100, 60, 0), hides=(hide("strip", 1500, 160),))
    made = plan(lay, machine, kerf=0.2)
    assert sum(s.lay_by for s in made.sheets) >= 5
    [whole] = made.whole
    proof = prove_windows(whole, [(s, [(p.operation, p.contour) for p in s.paths]) for s in made.sheets])
    assert proof.greatest_gap_mm < 1e-6
    assert not [p for s in made.sheets for p in s.paths if p.part_id == "registration"]


def test_bridges_and_shared_edges_are_not_for_straps_already_parted():
    lay = layout((strap("a"), 200, 100, 0), (strap("b"), 200, 138.2, 0))
    machine = by_hand(share_edges=True)
    made = plan(lay, machine, kerf=0.2)
    assert not [f for f in made.findings if f.code == "edges-shared"]
