"""Windows on a bed shorter than the strap: inside the bed, joined on straight edges, nothing left out."""

from __future__ import annotations

import dataclasses
import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings, strategies as st
from tests.machine.layouts import hide, keeper, knife, laser, layout, plate, strap

from strapwright.core.errors import PlanError
from strapwright.core.findings import Severity
from strapwright.geometry.shapes import filleted, stadium
from strapwright.geometry.transform import moved
from strapwright.machine.bed.registration import DIAMETER, WALL
from strapwright.machine.bed.windows import PAST_JOIN
from strapwright.machine.planning import check_parts, plan
from strapwright.machine.types import REGISTRATION
from strapwright.nesting.hide.types import Flaw, FlawKind, Hide
from strapwright.nesting.layout.types import AvoidedZone
from strapwright.parts.part import Feature, Operation
from strapwright.write.proof.windows import prove_windows

SHORT_BED = {"bed": [300, 200], "pass_through": True}


def strip(length=1500.0, height=160.0, **changes):
    return dataclasses.replace(hide("strip", length, height), **changes)


def long_strap(length=1300.0, x=100.0, y=60.0, turn=0.0, hides=None, **changes):
    return layout((strap(length=length, **changes), x, y, turn), hides=hides or (strip(),))


def windows_of(made):
    return [sheet for sheet in made.sheets if sheet.window is not None]


def proven(made):
    """Every hide's windows, put together by the plan's own paths."""
    return [
        prove_windows(
            whole,
            [(s, [(p.operation, p.contour) for p in s.paths]) for s in made.sheets if s.hide == whole.hide],
            tolerance=1e-6,
        )
        for whole in made.whole
    ]


@given(
    length=st.floats(320, 2400),
    bed=st.floats(100, 700),
    overlap=st.floats(10, 60),
    margin=st.floats(0, 20),
    x=st.floats(80, 300),
    width=st.floats(18, 60),
)
@settings(max_examples=25, deadline=None)
def test_every_window_lies_inside_the_bed_and_all_of_them_make_the_whole(
    length, bed, overlap, margin, x, width
):
    machine = laser(bed=[bed, 200], pass_through=True, window_overlap=overlap, window_margin=margin)
    lay = long_strap(length, x, 70, width=width, hides=(strip(x + length + 60),))
    assume(bed - 2 * margin >= 2 * overlap + 8)  # shorter windows are refused
    made = plan(lay, machine, kerf=0.2)
    for sheet in windows_of(made):
        for path in sheet.paths:
            x0, y0, x1, y1 = path.contour.bounding_box
            assert margin - 1e-4 <= x0
            assert x1 <= bed - margin + 1e-4
            assert margin - 1e-4 <= y0
            assert y1 <= 200 - margin + 1e-4
    for proof in proven(made):
        assert proof.greatest_gap_mm < 1e-6
        assert proof.greatest_deviation_mm < 1e-6


def test_joins_lie_on_long_straight_edges_and_never_near_a_tip_or_a_hole():
    made = plan(long_strap(), laser(**SHORT_BED), kerf=0.2)
    sheets = windows_of(made)
    assert [(s.window.number, s.window.count) for s in sheets] == [(n, 6) for n in range(1, 7)]
    part = strap(length=1300)
    holes = [f.contour for f in part.features if f.operation is not Operation.SCORE]
    for sheet in sheets:
        for path in sheet.paths:
            if path.part_id == REGISTRATION or path.name != "outline":
                assert (
                    path.part_id == REGISTRATION or path.contour.closed or path.operation is not Operation.CUT
                )
                continue
            back = moved(path.contour, sheet.window.shift - 100, -60)
            for x, y in (back.starts[0], back.ends[-1]):
                assert abs(y) == pytest.approx(19.1)
                assert -70 + 4 + 1 < x < 1300 - 70 - 19 - 1
                # A join parts no hole: none reaches over it along the strap.
                assert not any(one.bounding_box[0] - 1 < x < one.bounding_box[2] + 1 for one in holes)


def test_cuts_that_meet_run_past_each_other_on_the_same_line():
    made = plan(long_strap(), laser(**SHORT_BED), kerf=0.2)
    runs = [
        moved(path.contour, sheet.window.shift, 0)
        for sheet in windows_of(made)
        for path in sheet.paths
        if path.name == "outline"
    ]
    [whole] = [p.contour for p in made.whole[0].paths if p.name == "outline"]
    joins = len(windows_of(made)) - 1
    assert sum(run.length for run in runs) == pytest.approx(whole.length + 2 * joins * 2 * PAST_JOIN)


def test_the_pieces_the_beam_leaves_are_those_of_one_long_bed():
    made = plan(long_strap(holes=5.0), laser(**SHORT_BED), kerf=0.2)

    def gone(paths):
        return shapely.union_all(
            [
                shapely.LineString(
                    np.vstack([c.sample(64), c.starts[:1]]) if c.closed else c.sample(64)
                ).buffer(0.1)
                for c in paths
            ]
        )

    pieces = gone(
        moved(p.contour, s.window.shift, 0)
        for s in windows_of(made)
        for p in s.paths
        if p.operation is Operation.CUT and p.part_id != REGISTRATION
    )
    whole = gone(p.contour for p in made.whole[0].paths if p.operation is Operation.CUT)
    assert pieces.symmetric_difference(whole).area < 1e-3


def test_a_hole_is_parted_only_where_no_other_place_can_be_had():
    # A slot as long as the overlap lies just where the first window would end: the window ends sooner.
    slot = Feature("slot", Operation.CUT, stadium(255, 0, 40, 6))
    body = filleted([(0, -20), (700, -20), (700, 20), (0, 20)], [3] * 4)
    lay = layout((plate(slot, outline=body), 20, 60, 0), hides=(strip(),))
    made = plan(lay, laser(**SHORT_BED), kerf=0.2)
    slots = [p.contour for s in windows_of(made) for p in s.paths if p.name == "slot"]
    assert [one.closed for one in slots] == [True]
    # One longer than a window has to be parted, on its straight sides.
    long = Feature("slot", Operation.CUT, stadium(350, 0, 400, 6))
    made = plan(
        layout((plate(long, outline=body), 20, 60, 0), hides=(strip(),)), laser(**SHORT_BED), kerf=0.2
    )
    slots = [p.contour for s in windows_of(made) for p in s.paths if p.name == "slot"]
    assert len(slots) >= 2
    assert not any(one.closed for one in slots)
    for one in slots:
        for _, y in (one.starts[0], one.ends[-1]):
            assert abs(y - 60) == pytest.approx(3 - 0.1)
    assert proven(made)[0].greatest_gap_mm < 1e-6


def test_a_part_that_fits_one_window_is_never_parted():
    lay = layout(
        (strap(length=900), 100, 60, 0),
        *((keeper(f"k{n}"), 1000 + n * 20, 60, 0) for n in (0,)),
        hides=(strip(),),
    )
    made = plan(lay, laser(bed=[400, 200], pass_through=True), kerf=0.2)
    keepers = [
        p.contour.closed
        for s in windows_of(made)
        for p in s.paths
        if p.part_id == "k0/keeper" and p.name == "outline"
    ]
    assert keepers == [True]


def test_each_window_scores_and_holes_before_it_cuts_outlines():
    made = plan(long_strap(), laser(**SHORT_BED), kerf=0.2)
    for sheet in windows_of(made):
        ranks = [
            (0 if p.operation is Operation.SCORE else 1 if p.operation is Operation.PUNCH else 2)
            + (p.name == "outline")
            for p in sheet.paths
            if p.part_id != REGISTRATION
        ]
        assert ranks == sorted(ranks)


def test_a_window_too_short_for_a_tip_is_refused_by_name():
    machine = laser(bed=[140, 200], pass_through=True)
    wide = plate(outline=filleted([(0, -30), (400, -30), (430, 0), (400, 30), (0, 30), (-200, 0)], [1] * 6))
    with pytest.raises(PlanError) as caught:
        plan(layout((wide, 220, 60, 0), hides=(strip(),)), machine, kerf=0.2)
    assert str(caught.value).startswith(
        "odd/strap: no straight edge along the bed to join two cuts at, from x "
    )
    assert str(caught.value).endswith("lay it along the direction the hide is moved, or use a larger bed")


def test_windows_too_short_for_their_overlap_are_refused():
    for changes in ({"window_overlap": 290}, {"window_margin": 140}, {"window_overlap": 2}):
        with pytest.raises(PlanError, match="cannot be had on the bed of 'test laser'"):
            plan(long_strap(), laser(**SHORT_BED, **changes), kerf=0.2)


def test_a_machine_nothing_is_drawn_through_takes_no_windows():
    with pytest.raises(PlanError, match=r"needs 1300\.2 mm along x; the bed of 'test laser' is 300 mm"):
        plan(long_strap(), laser(bed=[300, 200]), kerf=0.2)
    with pytest.raises(PlanError, match=r"ada/strap is 1300\.0 mm long"):
        check_parts([strap(length=1300)], laser(bed=[300, 200]), kerf=0.2)
    assert check_parts([strap(length=1300)], laser(**SHORT_BED), kerf=0.2) == 0.2
    with pytest.raises(
        PlanError, match=r"ada/strap is 190\.0 mm wide; windows of 'test laser' are 180 mm wide"
    ):
        check_parts([strap(length=1300, width=190)], laser(**SHORT_BED), kerf=0.2)


def test_a_hide_wider_than_the_windows_is_refused_with_what_to_do():
    lay = layout(
        (strap("a", length=1300), 100, 60, 0),
        (strap("b", length=1300), 100, 260, 0),
        hides=(strip(height=400),),
    )
    with pytest.raises(PlanError, match="cut the hide into strips first"):
        plan(lay, laser(**SHORT_BED), kerf=0.2)


def test_a_hide_whose_straps_lie_across_is_turned_and_the_sheet_says_so():
    corners = np.array([(0.0, 0.0), (160.0, 0.0), (160.0, 1500.0), (0.0, 1500.0)])
    across = Hide("upright", corners, (), math.pi / 2, 3.6)
    lay = layout((strap(length=1300), 60, 100, 90), hides=(across,))
    made = plan(lay, laser(**SHORT_BED), kerf=0.2)
    assert {s.pose.how for s in made.sheets} == {"laid"}
    assert math.degrees(made.sheets[0].pose.placement.turn) == pytest.approx(-90)
    assert "turned 90 deg clockwise, " in made.sheets[0].pose.words(made.machine)
    assert proven(made)[0].greatest_gap_mm < 1e-6
    for sheet in made.sheets:
        boxes = [p.contour.bounding_box for p in sheet.paths]
        assert min(box[1] for box in boxes) >= 10 - 1e-4
        assert max(box[3] for box in boxes) <= 190 + 1e-4


@pytest.mark.parametrize("once", [False, True], ids=["a flaw", "kept clear for this layout"])
def test_two_holes_in_scrap_hold_the_hide_between_windows(once):
    flaw = Flaw(FlawKind.HOLE, np.array([(300.0, 100.0), (330.0, 100.0), (330.0, 158.0), (300.0, 158.0)]))
    lay = long_strap(hides=(strip(flaws=() if once else (flaw,)),))
    lay = dataclasses.replace(lay, avoided=(AvoidedZone("strip", flaw.polygon),) if once else ())
    made = plan(lay, laser(**SHORT_BED), kerf=0.2)
    sheets = windows_of(made)
    leather, spot = shapely.Polygon(lay.hides[0].outline), shapely.Polygon(flaw.polygon)
    [placed] = lay.placed
    part = shapely.Polygon(placed.placement.apply(placed.part.outline).sample(50))
    put = made.sheets[0].pose.placement
    for before, after in itertools.pairwise(sheets):
        holes = [p for p in before.paths if p.part_id == REGISTRATION]
        assert len(holes) == 2
        assert before.paths[:2] == tuple(holes)  # cut before anything can move
        found = []
        for hole in holes:
            x, y, diameter = hole.contour.as_circle()
            assert diameter == pytest.approx(DIAMETER)
            x += before.window.shift
            ring = shapely.Point(x - put.x, y - put.y).buffer(DIAMETER / 2)
            assert leather.contains(ring)
            assert shapely.distance(ring, part) >= WALL - 0.05
            assert shapely.distance(ring, spot) >= WALL - 0.05
            assert shapely.distance(ring, leather.exterior) >= WALL - 0.05
            found.append((x - after.window.shift, y))
        assert math.dist(*found) >= 40
        assert np.allclose(sorted(after.window.holes), sorted(found))
        assert all(10 <= x <= 290 and 10 <= y <= 190 for x, y in after.window.holes)
        assert after.window.advance == pytest.approx(after.window.shift - before.window.shift)


def test_no_scrap_for_registration_is_a_caution():
    lay = layout((strap(length=1300, width=40), 100, 24, 0), hides=(strip(height=48),))
    made = plan(lay, laser(**SHORT_BED), kerf=0.2)
    [found] = [f for f in made.findings if f.code == "registration-short-of-scrap"]
    assert found.severity is Severity.CAUTION
    assert found.what.startswith("There is no scrap for two registration holes after windows 1, 2, 3, 4, 5")


def test_pins_on_the_bed_set_how_far_the_hide_moves_on():
    machine = laser(**SHORT_BED, registration="bed_pins", pin_pitch=64)
    made = plan(long_strap(), machine, kerf=0.2)
    sheets = windows_of(made)
    assert [s.window.pins for s in sheets] == [0] + [3] * (len(sheets) - 1)
    assert [s.window.advance for s in sheets[1:]] == pytest.approx([192.0] * (len(sheets) - 1))
    assert not [p for s in sheets for p in s.paths if p.part_id == REGISTRATION]
    assert proven(made)[0].greatest_gap_mm < 1e-6
    with pytest.raises(PlanError, match="one pin pitch of 280 mm"):
        plan(long_strap(), laser(**SHORT_BED, registration="bed_pins", pin_pitch=280), kerf=0.2)


def test_windows_are_told_and_a_hide_that_fits_has_none():
    made = plan(long_strap(), laser(**SHORT_BED), kerf=0.2)
    [found] = [f for f in made.findings if f.code == "cut-in-windows"]
    assert found.numbers == {"windows": 6.0}
    fits = plan(long_strap(length=200, x=90), laser(**SHORT_BED), kerf=0.2)
    assert [s.window for s in fits.sheets] == [None]
    assert fits.whole == ()


def test_a_knife_knows_every_part_in_a_window_though_its_outline_is_open():
    made = plan(long_strap(), knife(bed=[300, 200], pass_through=True))
    for sheet in windows_of(made):
        [body] = sheet.outlines
        assert body.closed
        assert moved(body, sheet.window.shift, 0).area == pytest.approx(strap(length=1300).outline.area)


def test_a_hide_wider_than_the_bed_it_is_drawn_through_is_a_caution():
    made = plan(long_strap(hides=(strip(height=420),)), laser(**SHORT_BED), kerf=0.2)
    [found] = [f for f in made.findings if f.code == "hide-past-bed"]
    assert found.severity is Severity.CAUTION
    assert found.what == (
        "It is to be moved through 'test laser' and sticks out past its bed, 200 mm deep, by 220 mm at "
        "the back."
    )
    narrow = plan(long_strap(), laser(**SHORT_BED), kerf=0.2)
    assert "hide-past-bed" not in {f.code for f in narrow.findings}
