"""Shared edges, judged by what the beam leaves: one cut between two straps, both as wide as drawn."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely
from tests.machine.layouts import keeper, knife, laser, layout, plate, strap

from strapwright.geometry.shapes import filleted, rectangle
from strapwright.machine.planning import plan
from strapwright.nesting.layout.types import Clearance
from strapwright.parts.part import Feature, Operation

KERF = 0.24


def sharing(machine=None, **changes):
    return (machine or laser()).model_copy(update={"share_edges": True, **changes})


def stacked(count, *, kerf=KERF, width=38.0, gap=None, shift=0.0, turned=()):
    """Straps one above the other, a kerf or another gap between them."""
    pitch = width + (kerf if gap is None else gap)
    placed = [
        (
            strap(f"s{n}", width=width),
            200.0 + n * shift + (180 if n in turned else 0),
            60.0 + n * pitch,
            180.0 * (n in turned),
        )
        for n in range(count)
    ]
    return layout(*placed, clearance=Clearance(gap=2, margin=2, kerf=kerf, shared=True))


def cut_length(made):
    return sum(p.contour.length for p in made.sheets[0].paths if p.operation is Operation.CUT)


def pieces_left(made, kerf):
    """The pieces of leather the cuts leave, holes and all."""
    lines = []
    for p in made.sheets[0].paths:
        if p.operation is Operation.CUT:
            points = p.contour.sample(200)
            lines.append(shapely.LineString(np.vstack([points, points[:1]]) if p.contour.closed else points))
    gone = shapely.union_all([line.buffer(kerf / 2, quad_segs=64) for line in lines])
    return list(shapely.box(0, 0, 1000, 600).difference(gone).geoms)


@pytest.mark.parametrize("count", [2, 3, 7])
@pytest.mark.parametrize("shift", [0.0, 31.7])
def test_a_shared_line_is_cut_once_and_both_straps_keep_their_width(count, shift):
    lay = stacked(count, shift=shift)
    apart, shared = plan(lay, laser(), kerf=KERF), plan(lay, sharing(), kerf=KERF)
    [found] = [f for f in shared.findings if f.code == "edges-shared"]
    assert found.numbers["edges"] == count - 1
    saved = cut_length(apart) - cut_length(shared)
    straight = 320 - 19 - 4 - shift
    assert saved == pytest.approx((count - 1) * straight, abs=1e-6)
    assert found.numbers["saved_mm"] == pytest.approx(saved)
    left = pieces_left(shared, KERF)
    for placed in lay.placed:
        drawn = placed.placement.apply(placed.part.outline)
        inside = shapely.Point(placed.placement.x + 130, placed.placement.y + 12)
        [piece] = [one for one in left if one.contains(inside)]
        _, low, _, high = shapely.intersection(
            piece, shapely.box(inside.x - 60, 0, inside.x - 59.99, 600)
        ).bounds
        assert high - low == pytest.approx(38.0, abs=0.01)
        # Not only the width: the whole shape, holes apart, is the one drawn.
        whole = shapely.Polygon(piece.exterior)
        wanted = shapely.Polygon(drawn.sample(200))
        assert whole.symmetric_difference(wanted).area < 0.01 * drawn.length


def test_straps_turned_end_for_end_share_what_their_edges_have_in_common():
    lay = stacked(2, turned=(1,))
    shared = plan(lay, sharing(), kerf=KERF)
    assert [f.code for f in shared.findings if f.code == "edges-shared"]
    left = pieces_left(shared, KERF)
    for placed in lay.placed:
        wanted = shapely.Polygon(placed.placement.apply(placed.part.outline).sample(200))
        best = min(left, key=lambda one: shapely.Polygon(one.exterior).symmetric_difference(wanted).area)
        off = shapely.Polygon(best.exterior).symmetric_difference(wanted).area
        assert off < 0.01 * placed.part.outline.length


def test_parts_that_share_are_holed_before_any_of_them_is_cut_out():
    made = plan(stacked(3), sharing(), kerf=KERF)
    outer = [path.name == "outline" for path in made.sheets[0].paths]
    first = outer.index(True)
    assert all(outer[first:])


def test_straps_further_apart_are_each_cut_round():
    for gap in (KERF + 0.02, 2.0):
        made = plan(stacked(3, gap=gap), sharing(), kerf=KERF)
        assert not [f for f in made.findings if f.code == "edges-shared"]
        assert sum(path.name == "outline" for path in made.sheets[0].paths) == 3


def test_a_gap_out_by_less_than_half_of_what_a_width_may_be_is_still_shared():
    made = plan(stacked(2, gap=KERF + 0.004), sharing(), kerf=KERF)
    assert [f for f in made.findings if f.code == "edges-shared"]
    widths = []
    for piece in pieces_left(made, KERF):
        strip = shapely.intersection(piece, shapely.box(260, 0, 260.01, 600))
        widths += [strip.bounds[3] - strip.bounds[1]] if not strip.is_empty and piece.area < 20_000 else []
    assert len(widths) == 2
    assert widths == pytest.approx([38.0, 38.0], abs=0.01)


def test_nothing_is_shared_unless_the_profile_says_so():
    made = plan(stacked(2), laser(), kerf=KERF)
    assert not [f for f in made.findings if f.code == "edges-shared"]


def test_a_blade_parts_two_straps_that_touch_by_one_cut():
    made = plan(stacked(2, kerf=0.0), sharing(knife()))
    [found] = [f for f in made.findings if f.code == "edges-shared"]
    assert found.numbers["saved_mm"] == pytest.approx(320 - 19 - 4)


def test_straps_and_keepers_end_to_end_share_their_short_edges_too():
    side = keeper("a")
    lay = layout(
        (side, 100, 100, 0),
        (keeper("b"), 204 + KERF, 100, 0),
        clearance=Clearance(gap=2, kerf=KERF, shared=True),
    )
    made = plan(lay, sharing(), kerf=KERF)
    [found] = [f for f in made.findings if f.code == "edges-shared"]
    assert found.numbers["saved_mm"] == pytest.approx(20.0)


def test_a_strap_between_two_others_of_other_lengths_keeps_every_bit_of_its_outline():
    long, short = strap("long", length=500), strap("short", length=260)
    pitch = 38 + KERF
    lay = layout(
        (short, 260, 60, 0),
        (long, 200, 60 + pitch, 0),
        (dataclasses.replace(short, id="third/strap"), 300, 60 + 2 * pitch, 0),
        clearance=Clearance(gap=2, kerf=KERF, shared=True),
    )
    made = plan(lay, sharing(), kerf=KERF)
    runs = [p.contour for p in made.sheets[0].paths if p.name == "outline"]
    for placed in lay.placed:
        drawn = placed.placement.apply(placed.part.outline)
        points = drawn.sample(100)
        nearest = np.min([run.distance_to(points) for run in runs], axis=0)
        assert nearest == pytest.approx(np.full(len(points), KERF / 2), abs=1e-6)


def test_an_island_cut_within_a_parts_hole_is_a_part_of_its_own():
    # A frame with a slot as large as a keeper, and the keeper laid in it: neither cut runs into the other.
    window = Feature("window", Operation.CUT, rectangle(10, 10, 130, 50))
    frame = plate(window, outline=filleted([(0, 0), (140, 0), (140, 60), (0, 60)], [3] * 4))
    made = plan(layout((frame, 100, 100, 0), (keeper(), 118, 130, 0)), laser(), kerf=KERF)
    left = pieces_left(made, KERF)
    areas = sorted(round(one.area, 2) for one in left if one.area < 20_000)
    quarter = 9 - 9 * np.pi / 4
    ring = 140 * 60 - 4 * quarter - 120 * 40
    scrap = 120 * 40 - 104 * 20  # a kerf is taken from both of its edges
    assert len(areas) == 3
    assert areas[0] == pytest.approx(104 * 20, abs=0.2)
    assert areas[2] == pytest.approx(ring, abs=0.2)
    assert areas[1] == pytest.approx(scrap - KERF * (2 * 160 + 2 * 124), abs=1.0)
