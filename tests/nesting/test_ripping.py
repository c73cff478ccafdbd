"""The list for a strap cutter: every mm of the hide accounted for, from the trued edge up."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from tests.nesting.workshop import keeper, order, side, strap

from strapwright.geometry.transform import Placement
from strapwright.nesting.hide import Hide
from strapwright.nesting.layout import Clearance, Layout, Placed, layout_from_json, layout_to_json
from strapwright.nesting.nest import nest
from strapwright.nesting.ripping import rips_of, to_cut_out_first

BEND = Hide("bend", np.array([(0, 0), (1300, 0), (1300, 700), (0, 700)]), thickness=3.6)


def laid(*placed: tuple[object, float, float, float], hide: Hide = BEND) -> Layout:
    on_it = tuple(Placed(part, hide.name, Placement(turn, x, y)) for part, x, y, turn in placed)
    return Layout((hide,), on_it, (), Clearance(), (), 0, 1)


def test_strips_come_in_order_from_the_edge_with_what_is_between() -> None:
    layout = laid(
        (strap("b", width=32), 90, 100, 0),
        (strap("a"), 90, 21, 0),
        (strap("c"), 1200, 157, math.pi),
        (keeper("k"), 400, 50, 0),
    )
    found = [(rip.kind, rip.start, rip.width, rip.parts) for rip in rips_of(layout, "bend")]
    assert found == [
        ("gap", 0, 2, ()),
        ("strap", 2, 38, ("a/strap",)),
        ("waste", 40, 44, ("k/keeper",)),
        ("strap", 84, 32, ("b/strap",)),
        ("waste", 116, 22, ()),
        ("strap", 138, 38, ("c/strap",)),
        ("rest", 176, 524, ()),
    ]
    assert to_cut_out_first(layout, "bend") == ()


def test_straps_end_to_end_are_one_strip_and_share_it_with_small_parts_in_its_height() -> None:
    layout = laid(
        (strap("right", 500), 750, 21, 0), (strap("left", 500), 90, 21, 0), (keeper("k", 40), 600, 10, 0)
    )
    (_, strip, _) = rips_of(layout, "bend")
    assert (strip.kind, strip.parts) == ("strap", ("left/strap", "right/strap", "k/keeper"))


def test_straps_that_overlap_in_height_are_one_band_to_divide() -> None:
    layout = laid((strap("a", 500), 90, 21, 0), (strap("b", 500, 32), 750, 30, 0))
    (_, band, _) = rips_of(layout, "bend")
    assert (band.kind, band.start, band.width) == ("band", 2, 44)
    assert band.said == "divide at the bench: a/strap, b/strap"


def test_a_strap_that_lies_askew_is_not_called_a_strip() -> None:
    rips = rips_of(laid((strap("a"), 90, 40, 0.01), (strap("b"), 90, 100, 0)), "bend")
    band, other = (rip for rip in rips if rip.parts)
    assert (band.kind, other.kind) == ("band", "strap")
    assert band.width > 38


def test_straps_that_all_lie_askew_are_ripped_along_their_own_direction() -> None:
    rips = rips_of(laid((strap("a"), 90, 40, 0.01), (strap("b"), 89, 100, 0.01)), "bend")
    assert [(rip.kind, round(rip.width, 6)) for rip in rips if rip.parts] == [("strap", 38), ("strap", 38)]


def test_a_part_across_strips_is_cut_out_before_ripping() -> None:
    layout = laid(
        (strap("a", 500), 90, 21, 0), (strap("b", 500), 90, 61, 0), (keeper("k"), 800, 10, math.pi / 2)
    )
    assert to_cut_out_first(layout, "bend") == ("k/keeper",)


def test_a_hide_without_straps_has_no_list() -> None:
    assert rips_of(laid((keeper("k"), 10, 10, 0)), "bend") == ()
    assert rips_of(laid(), "bend") == ()


@pytest.mark.parametrize("turn", [0.0, 0.4, math.pi / 2])
def test_strips_meet_and_add_up_to_the_height_and_hold_every_strap_once(turn: float) -> None:
    matrix = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    flat = side()
    hide = replace(flat, outline=flat.outline @ matrix, flaws=(), strap_direction=turn)
    layout = nest(order(7), [hide], steps=3)
    rips = rips_of(layout, hide.name)
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
                    assert rip.width == pytest.approx(widths[part])


def test_the_list_is_in_the_layout_file_and_the_file_still_reads_back() -> None:
    parts = order(2)
    layout = nest(parts, [side()], steps=1)
    data = json.loads(json.dumps(layout_to_json(layout, "d")))
    (listed,) = data["strap_cutter"]
    assert [strip["width_mm"] for strip in listed["strips"]] == [
        rip.width for rip in rips_of(layout, "side 7")
    ]
    assert layout_from_json(data, parts, [side()], job_digest="d").placed == layout.placed
