"""The list for a strap cutter: every mm of the hide accounted for, pull by pull."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from tests.nesting.workshop import keeper, order, side, strap

from strapwright.geometry.transform import Placement
from strapwright.nesting.hide.types import Flaw, FlawKind, Hide
from strapwright.nesting.layout.file import layout_from_json, layout_to_json
from strapwright.nesting.layout.strap_cutter import rips_of
from strapwright.nesting.layout.types import Clearance, Layout, PlacedPart
from strapwright.nesting.solver.nest import nest

pytestmark = pytest.mark.usefixtures("without_height_bound")

BEND = Hide("bend", np.array([(0, 0), (1300, 0), (1300, 700), (0, 700)]), thickness=3.6)


def laid(*placed: tuple[object, float, float, float], hide: Hide = BEND) -> Layout:
    on_it = tuple(PlacedPart(part, hide.name, Placement(turn, x, y)) for part, x, y, turn in placed)
    return Layout((hide,), on_it, (), Clearance(), (), 0, 1)


def strips(layout: Layout) -> list[tuple[object, ...]]:
    (found,) = rips_of(layout, "bend")
    return [(rip.kind, rip.start, rip.width, rip.parts) for rip in found.rips]


def test_straps_are_pulled_edge_to_edge_from_the_trued_edge_without_gaps() -> None:
    layout = laid((strap("b", width=32), 90, 58, 0), (strap("a"), 90, 21, 0), (strap("c"), 1200, 95, math.pi))
    (found,) = rips_of(layout, "bend")
    assert found.begins == "from the trued edge"
    assert strips(layout) == [
        ("strap", 0, 38, ("a/strap",)),
        ("strap", 38, 32, ("b/strap",)),
        ("strap", 70, 38, ("c/strap",)),
        ("rest", 108, 592, ()),
    ]
    assert found.drawn == 6  # the third strap's three gaps of 2 mm
    (sentence,) = found.sentences
    assert sentence == (
        "For the strap cutter the straps are edge to edge, up to 6.0 mm nearer the edge than on the picture, "
        "still clear of every flaw."
    )


def test_what_is_wider_than_a_gap_comes_off_as_waste_with_the_parts_in_it() -> None:
    layout = laid((strap("b", width=32), 90, 100, 0), (strap("a"), 90, 21, 0), (keeper("k"), 400, 50, 0))
    assert strips(layout) == [
        ("strap", 0, 38, ("a/strap",)),
        ("waste", 38, 46, ("k/keeper",)),
        ("strap", 84, 32, ("b/strap",)),
        ("rest", 116, 584, ()),
    ]


def test_a_strap_that_a_flaw_keeps_from_being_drawn_stays_where_the_layout_has_it() -> None:
    # A hole 0.5 mm high that straddles the strip between two straps, 2 mm clear of both.
    hole = Flaw(FlawKind.HOLE, np.array([(600, 42), (620, 42), (620, 42.5), (600, 42.5)]))
    hide = replace(BEND, flaws=(hole,))
    layout = replace(
        laid((strap("a"), 90, 21, 0), (strap("b"), 90, 63.5, 0), hide=hide), clearance=Clearance(gap=4.5)
    )
    (found,) = rips_of(layout, "bend")
    assert [(rip.kind, rip.start, rip.width, rip.trim) for rip in found.rips] == [
        ("strap", 0, 38, 0),
        ("waste", 38, 6.5, 0),  # 2 mm the first strap was drawn, and the gap
        ("strap", 44.5, 38, 0),
        ("rest", 82.5, 617.5, 0),
    ]
    near = replace(layout, placed=layout.placed[1:])
    (found,) = rips_of(near, "bend")
    assert [(rip.kind, rip.width) for rip in found.rips] == [("waste", 44.5), ("strap", 38), ("rest", 617.5)]


def test_a_strip_too_narrow_to_pull_comes_off_with_the_strap_which_is_then_trimmed() -> None:
    hole = Flaw(FlawKind.HOLE, np.array([(900, 30), (920, 30), (920, 39.5), (900, 39.5)]))
    layout = laid((strap("a", 500), 90, 21, 0), (strap("b"), 90, 61, 0), hide=replace(BEND, flaws=(hole,)))
    (found,) = rips_of(layout, "bend")
    assert [(rip.kind, rip.start, rip.width, rip.trim) for rip in found.rips] == [
        ("strap", 0, 38, 0),
        ("strap", 38, 42, 38),  # 4 mm nearer it would lie on the hole
        ("rest", 80, 620, 0),
    ]
    assert found.rips[1].said == "b/strap; then trim its near edge to 38.0 mm"
    assert found.drawn == 2


def test_a_raw_edge_is_cut_straight_by_hand_first_and_no_list_calls_it_trued() -> None:
    raw = np.array([(0, 40), (400, 0), (900, 30), (1300, 5), (1300, 700), (0, 700)], float)
    hide = replace(BEND, outline=raw)
    (found,) = rips_of(laid((strap("a"), 90, 65, 0), (strap("b"), 90, 105, 0), hide=hide), "bend")
    assert found.begins == "once its edge is cut straight"
    assert [(rip.kind, rip.start, rip.width) for rip in found.rips] == [
        ("first", 0, 46),
        ("strap", 46, 38),
        ("strap", 84, 38),
        ("rest", 122, 578),
    ]
    assert found.rips[0].said == "cut off straight by hand, along a straightedge"


def test_straps_end_to_end_are_one_strip_and_share_it_with_small_parts_in_its_height() -> None:
    layout = laid(
        (strap("right", 500), 750, 21, 0), (strap("left", 500), 90, 21, 0), (keeper("k", 40), 600, 10, 0)
    )
    assert strips(layout)[0] == ("strap", 0, 38, ("left/strap", "right/strap", "k/keeper"))


def test_straps_that_overlap_in_height_are_one_band_to_divide() -> None:
    layout = laid((strap("a", 500), 90, 21, 0), (strap("b", 500, 32), 750, 30, 0))
    (found,) = rips_of(layout, "bend")
    band = found.rips[0]
    assert (band.kind, band.start, band.width) == ("band", 0, 44)
    assert band.said == "cut apart at the bench: a/strap, b/strap"


def test_a_strap_that_lies_askew_is_not_called_a_strip() -> None:
    (found,) = rips_of(laid((strap("a"), 90, 40, 0.01), (strap("b"), 90, 100, 0)), "bend")
    band, other = (rip for rip in found.rips if rip.parts)
    assert (band.kind, other.kind) == ("band", "strap")
    assert band.width > 38


def test_straps_that_all_lie_askew_are_pulled_along_their_own_direction() -> None:
    (found,) = rips_of(laid((strap("a"), 90, 40, 0.01), (strap("b"), 89, 100, 0.01)), "bend")
    assert found.begins == "once its edge is cut straight"
    assert [(rip.kind, round(rip.width, 6)) for rip in found.rips if rip.parts] == [
        ("strap", 38),
        ("strap", 38),
    ]


def test_a_part_across_strips_is_cut_out_before_and_stays_out_of_the_way() -> None:
    layout = laid(
        (strap("a", 500), 90, 21, 0), (strap("b", 500), 90, 61, 0), (keeper("k"), 800, 10, math.pi / 2)
    )
    (found,) = rips_of(layout, "bend")
    assert found.cut_out_first == ("k/keeper",)
    assert found.sentences[0] == "Cut these out before you run the strap cutter: k/keeper."


def test_a_hide_without_straps_has_no_list() -> None:
    assert rips_of(laid((keeper("k"), 10, 10, 0)), "bend") == ()
    assert rips_of(laid(), "bend") == ()


@pytest.mark.parametrize("turn", [0.0, 0.4, math.pi / 2, math.pi])
def test_strips_meet_and_add_up_to_the_height_and_hold_every_strap_once(turn: float) -> None:
    matrix = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    flat = side()
    hide = replace(flat, outline=flat.outline @ matrix, flaws=(), strap_direction=turn)
    layout = nest(order(7), [hide], steps=3)
    (found,) = rips_of(layout, hide.name)
    rips = found.rips
    assert found.begins == "from the trued edge"
    assert rips[0].start == pytest.approx(0, abs=1e-9)
    for low, high in pairwise(rips):
        assert high.start == pytest.approx(low.start + low.width, abs=1e-3)
    assert rips[-1].start + rips[-1].width == pytest.approx(np.ptp(flat.outline[:, 1]))
    straps = [part for rip in rips for part in rip.parts if part.endswith("/strap")]
    assert sorted(straps) == sorted(p.part.id for p in layout.placed if p.part.lies_along)
    widths = {p.part.id: np.diff(p.part.outline.bounding_box[1::2])[0] for p in layout.placed}
    for rip in rips:
        if rip.kind == "strap":
            for part in rip.parts:
                if part.endswith("/strap"):
                    assert (rip.trim or rip.width) == pytest.approx(widths[part])


def test_the_list_is_in_the_layout_file_and_the_file_still_reads_back() -> None:
    parts = order(2)
    layout = nest(parts, [side()], steps=1)
    data = json.loads(json.dumps(layout_to_json(layout, "d")))
    (listed,) = data["strap_cutter"]
    assert [strip["width_mm"] for strip in listed["strips"]] == [
        rip.width for rip in rips_of(layout, "side 7")[0].rips
    ]
    assert layout_from_json(data, parts, [side()], job_digest="d").placed == layout.placed
