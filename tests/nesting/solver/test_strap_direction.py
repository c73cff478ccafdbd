"""Straps turned off the strap direction, all together, within what the maker allows."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.nesting.workshop import keeper, strap

from strapwright.geometry.transform import Placement
from strapwright.nesting.bound.area import bound_area
from strapwright.nesting.hide.types import Face, FirstCut, Hide
from strapwright.nesting.layout.strap_cutter import rips_of
from strapwright.nesting.layout.types import PlacedPart, direction_of
from strapwright.nesting.layout.verify import verify
from strapwright.nesting.remnant import remnants_of
from strapwright.nesting.solver.nest import nest
from strapwright.nesting.solver.strap_direction import candidate_turns

SQUARE_ENDED = np.array([(0, 0), (1200, 0), (1200, 300), (0, 300)], dtype=float)


def askew(degrees: float, **more) -> Hide:
    """A board whose edges run so far off the strap direction."""
    turn = math.radians(degrees)
    c, s = math.cos(turn), math.sin(turn)
    return Hide("board", SQUARE_ENDED @ np.array([(c, s), (-s, c)]), thickness=3.6, **more)


def parts():
    return [*(strap(f"b{n}", width=40.0) for n in range(9)), keeper("b0")]


@pytest.mark.parametrize("face", list(Face))
@pytest.mark.parametrize("strap_direction", [0.0, 0.4])
def test_straps_lie_along_an_edge_that_runs_off_the_strap_direction(face, strap_direction) -> None:
    # Seven rows of 40 mm with gaps of 2 mm fill 292 of 300 mm, along the edge alone.
    hide = askew(math.degrees(strap_direction) + 2.0, strap_direction=strap_direction, face_up=face)
    assert sum(one.part.lies_along for one in nest(parts(), [hide], steps=4).placed) < 7
    free = replace(hide, tolerance=math.radians(3.0))
    layout = nest(parts(), [free], steps=4)
    assert sum(one.part.lies_along for one in layout.placed) == 7
    assert layout.direction_of("board") == pytest.approx(strap_direction + math.radians(2.0), abs=1e-9)
    told = {found.code: found for found in layout.findings}["straps-turned"]
    assert "All straps lie 2.00° counter-clockwise of the strap direction, within the 3° allowed" in told.what
    # What is made of the layout goes by the direction the straps lie along.
    (pulled,) = rips_of(layout, "board")
    assert [rip.kind for rip in pulled.rips].count("strap") == 7
    assert layout.used_height_of("board") == pytest.approx(292.0, abs=1e-6)
    for left in remnants_of(layout):
        (cut,) = left.cut
        run = np.arctan2(*(cut[-1] - cut[0])[::-1]) - layout.direction_of("board")
        assert abs(math.remainder(float(run), math.pi / 2)) < 1e-6


def test_straps_stay_along_the_strap_direction_where_turning_wins_nothing() -> None:
    layout = nest(parts(), [askew(0.0, tolerance=math.radians(3.0))], steps=4)
    assert layout.direction_of("board") == 0.0
    told = {found.code: found for found in layout.findings}["straps-turned"]
    assert "Straps may be up to 3° off the strap direction, but keep to it" in told.what


def test_a_turned_search_claims_no_proof_that_holds_for_one_direction_only() -> None:
    turned = nest(parts(), [askew(2.0, tolerance=math.radians(1.0))], steps=4)
    better = nest(parts(), [askew(2.0, tolerance=math.radians(3.0))], steps=4)
    assert better.placed_area > turned.placed_area
    assert bound_area(turned) >= better.placed_area


def test_the_same_steps_give_the_same_layout_and_ctrl_c_or_no_time_one_that_is_sound() -> None:
    hide = askew(2.0, tolerance=math.radians(3.0))
    first, second = (nest(parts(), [hide], steps=6, seed=3) for _ in range(2))
    assert [one.placement for one in first.placed] == [one.placement for one in second.placed]
    at_once = nest(parts(), [hide], time_limit=0.0)
    assert at_once.placed
    verify(at_once)


def test_a_hide_squared_along_the_strap_direction_is_not_turned() -> None:
    hide = replace(askew(2.0), tolerance=math.radians(3.0))
    assert len(candidate_turns(hide)) > 1
    assert candidate_turns(replace(hide, first_cut=FirstCut((0, 0), (1200, 0), 10.0))) == (0.0,)
    assert candidate_turns(askew(2.0)) == (0.0,)
    # The edge that the board was turned by is among those tried.
    assert min(abs(turn - math.radians(2.0)) for turn in candidate_turns(hide)) < 1e-12


def test_straps_turned_each_its_own_way_have_no_direction_in_common() -> None:
    hide = askew(0.0, tolerance=math.radians(3.0))
    one, other = (
        PlacedPart(strap(name), "board", Placement(turn, 90, 150)) for name, turn in (("a", 0.0), ("b", 0.02))
    )
    assert direction_of(hide, [one, other]) == 0.0
    assert direction_of(hide, [other]) == pytest.approx(0.02)
    back = replace(other, placement=Placement(0.02 + math.pi, 90, 150))
    assert direction_of(hide, [other, back]) == pytest.approx(0.02)
