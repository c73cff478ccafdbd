"""Remnants: cut off beyond the parts, straight or stepped for a reason, and stock again as a hide file."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from hypothesis import given, settings, strategies as st
from tests.nesting.workshop import keeper, order, side, strap

from strapwright.geometry.polygon import to_polygon
from strapwright.geometry.transform import Placement
from strapwright.nesting.hide.file import read_hide
from strapwright.nesting.hide.file_text import hide_to_toml
from strapwright.nesting.hide.types import Face, Flaw, FlawKind, Hide, ThicknessZone, round_flaw
from strapwright.nesting.layout.types import Clearance, Layout, PlacedPart
from strapwright.nesting.remnant import LEAST_AREA, remnant_to_toml, remnants_of
from strapwright.nesting.solver.nest import nest

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.usefixtures("without_height_bound")

BEND = Hide("bend", np.array([(0, 0), (1300, 0), (1300, 700), (0, 700)]), thickness=3.6)


def laid(hide: Hide, *placed: PlacedPart, gap: float = 2.0) -> Layout:
    return Layout((hide,), placed, (), Clearance(gap=gap), (), 0, 1)


def at(part, x: float, y: float, turn: float = 0.0) -> PlacedPart:
    return PlacedPart(part, "bend", Placement(turn, x, y))


def outlines(layout: Layout, hide: str) -> list[shapely.Polygon]:
    return [
        shapely.Polygon(to_polygon(one.placement.apply(one.part.outline), 1e-3, "outward"))
        for one in layout.placed_on(hide)
    ]


def test_a_rest_with_too_little_sound_leather_of_use_is_scrap_and_no_stock() -> None:
    # Above the strap, at 44 mm, the bend is cut off; what lies there is narrow, flawed, or enough.
    one = at(strap("a"), 90, 21)
    board = replace(BEND, outline=BEND.outline * [1.0, 1 / 7])  # 100 mm high
    assert [round(left.hide.area) for left in remnants_of(laid(board, one))] == [1300 * (100 - 42)]
    narrow = replace(board, outline=board.outline * [1.0, 0.7])  # a strip of 28 mm, 364 cm²
    assert remnants_of(laid(narrow, one)) == ()
    belly = np.array([(0, 42), (1300, 42), (1300, 75), (0, 75)], dtype=float)
    flawed = replace(board, flaws=(Flaw(FlawKind.LOOSE, belly),))
    assert remnants_of(laid(flawed, one)) == ()


@pytest.mark.slow
@pytest.mark.parametrize("turn", [0.0, 0.3, math.pi / 2, -2.5])
@pytest.mark.parametrize("count", [1, 4, 9])
def test_a_remnant_lies_on_its_hide_and_a_gap_away_from_every_part(turn: float, count: int) -> None:
    flat = side()
    hide = replace(
        flat,
        strap_direction=turn,
        outline=flat.outline
        @ np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]]),
        flaws=(),
    )
    layout = nest(order(count), [hide], steps=3)
    left = remnants_of(layout)
    assert left
    for one in left:
        piece = shapely.Polygon(one.polygon)
        assert piece.is_valid
        assert one.hide.area == pytest.approx(piece.area)
        assert one.hide.area >= LEAST_AREA
        assert shapely.Polygon(hide.outline).buffer(1e-5).covers(piece)
        assert min(piece.distance(part) for part in outlines(layout, hide.name)) >= 2 - 1e-4
    pieces = [shapely.Polygon(one.polygon) for one in left]
    assert shapely.union_all(pieces).area == pytest.approx(sum(piece.area for piece in pieces))


def test_straps_from_edge_to_edge_leave_a_straight_cut_above_them() -> None:
    (one,) = remnants_of(laid(BEND, at(strap("a"), 90, 21), at(strap("b"), 90, 61)))
    assert one.shape == "straight"
    assert one.why == "cut off straight along the straps: a cut in steps would keep no more"
    (line,) = one.cut
    assert line[:, 1] == pytest.approx([82.0, 82.0])  # 61 + 38 / 2 + 2 mm
    assert sorted(line[:, 0]) == [0, 1300]
    assert one.hide.outline.min(axis=0).tolist() == [0, 0]
    assert one.shift == (0, 82)


def test_a_step_that_keeps_a_tenth_more_is_made_and_told() -> None:
    short = [at(strap(f"s{n}", length=600), 90, 21 + 40 * n) for n in range(1, 12)]
    (one,) = remnants_of(laid(BEND, at(strap("long"), 90, 21), *short))
    assert one.shape == "stepped"
    assert "that keeps" in one.why
    assert "more than the best straight cut" in one.why
    (line,) = one.cut
    assert len(line) == 4
    assert {round(y) for y in line[:, 1]} == {42, 482}


def test_a_step_that_keeps_little_is_not_made_and_that_is_told() -> None:
    (one,) = remnants_of(laid(BEND, at(strap("long"), 90, 21), at(strap("short", length=600), 90, 61)))
    assert one.shape == "straight"
    assert "and a straight edge is worth that" in one.why


def test_a_cut_across_the_straps_is_taken_where_it_keeps_most() -> None:
    column = [at(strap(f"s{n}", length=400), 90, 21 + 40 * n) for n in range(17)]
    (one,) = remnants_of(laid(BEND, *column))
    assert one.shape == "straight"
    assert one.why.startswith("cut off straight across the straps")
    assert one.hide.area == pytest.approx((1300 - 412) * 700, rel=1e-3)


def test_parts_at_the_upper_edge_leave_the_remnant_below() -> None:
    (one,) = remnants_of(laid(BEND, at(strap("a"), 90, 679)))
    assert one.polygon[:, 1].min() == 0
    assert one.hide.area == pytest.approx(1300 * 658, rel=1e-3)


def test_a_hide_nothing_lies_on_and_a_hide_used_up_leave_no_remnant() -> None:
    assert remnants_of(laid(BEND)) == ()
    low = replace(BEND, outline=np.array([(0, 0), (1300, 0), (1300, 60), (0, 60)]))
    assert remnants_of(laid(low, at(strap("a"), 90, 21))) == ()


def test_a_remnant_keeps_its_flaws_its_zones_and_the_ways_of_its_hide(tmp_path: Path) -> None:
    flaws = (
        round_flaw(FlawKind.HOLE, 300, 20, 20),  # below the cut: gone
        round_flaw(FlawKind.MARK, 700, 400.3, 60),
        Flaw(FlawKind.LOOSE, np.array([(1200, 600), (1400, 600), (1400, 800), (1200, 800)])),
    )
    zone = ThicknessZone(3.1, np.array([(900, 0), (1300, 0), (1300, 700), (900, 700)]))
    parent = replace(
        BEND,
        flaws=flaws,
        thickness_zones=(zone,),
        tolerance=math.radians(2),
        strap_direction=math.radians(0.0),
        face_up=Face.FLESH,
        digest="d",
    )
    (one,) = remnants_of(laid(parent, at(strap("a"), 90, 61, 0.0)))
    hide = one.hide
    assert (hide.name, hide.parent) == ("bend r1", "bend")
    assert [flaw.kind for flaw in hide.flaws] == [FlawKind.MARK, FlawKind.LOOSE]
    assert hide.flaws[0].polygon == pytest.approx(flaws[1].polygon - one.shift, abs=1e-6)
    path = tmp_path / "bend-r1.toml"
    path.write_text(remnant_to_toml(one), encoding="utf-8")
    again = read_hide(path)
    assert np.array_equal(again.outline, hide.outline)
    assert len(again.flaws) == len(hide.flaws)
    assert hide.flaws[0].round == (700 - one.shift[0], pytest.approx(400.3 - one.shift[1]), 60)
    for new, old in zip(again.flaws, hide.flaws, strict=True):
        assert new.round == old.round
        assert new.kind is old.kind
        assert np.array_equal(new.polygon, old.polygon)
    assert again.thickness_zones[0].thickness == 3.1
    assert np.array_equal(again.thickness_zones[0].polygon, hide.thickness_zones[0].polygon)
    for key in ("name", "parent", "thickness", "face_up"):
        assert getattr(again, key) == getattr(hide, key)
    assert again.tolerance == pytest.approx(hide.tolerance, abs=1e-13)
    assert [finding.code for finding in again.findings] == ["hide-flesh-up"]


def test_a_remnant_can_be_nested_and_leaves_a_remnant_of_its_own(tmp_path: Path) -> None:
    first = nest(order(3), [side(0.3)], steps=2)
    (one, *_) = remnants_of(first)
    path = tmp_path / "r1.toml"
    path.write_text(remnant_to_toml(one), encoding="utf-8")
    again = read_hide(path)
    assert again.strap_direction == pytest.approx(0.3, abs=1e-12)
    second = nest([strap("x", length=700), keeper("x")], [again], steps=2)
    assert not second.unplaced
    (next_one, *_) = remnants_of(second)
    assert next_one.hide.name == "side 7 r1 r1"
    assert next_one.hide.parent == "side 7 r1"
    assert next_one.hide.area < one.hide.area


def test_names_with_quotes_and_letters_of_any_kind_read_back(tmp_path: Path) -> None:
    hide = replace(BEND, name='Žofie\'s "best" \\ 2', thickness=25.4 * 9 / 64, strap_direction=math.pi / 2)
    path = tmp_path / "a.toml"
    path.write_text(hide_to_toml(hide), encoding="utf-8")
    again = read_hide(path)
    assert (again.name, again.thickness) == (hide.name, hide.thickness)
    assert again.strap_direction == math.pi / 2


@st.composite
def used_hides(draw: st.DrawFn) -> Layout:
    """A star-shaped hide, its straps at any angle, with a few straps somewhere on it."""
    turn = draw(st.floats(-3.2, 3.2))
    corners = draw(st.lists(st.floats(0.6, 1.0), min_size=5, max_size=14))
    angles = np.linspace(0, 2 * np.pi, len(corners), endpoint=False)
    points = np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(corners)[:, None] * 1000
    hide = replace(BEND, outline=points, strap_direction=turn)
    c, s = math.cos(turn), math.sin(turn)
    placed = []
    for number in range(draw(st.integers(1, 5))):
        x, y = draw(st.floats(-600, 600)), draw(st.floats(-500, 500))
        part = strap(f"s{number}", draw(st.floats(200, 900)), draw(st.floats(12, 60)))
        placed.append(PlacedPart(part, "bend", Placement(turn, c * x - s * y, s * x + c * y)))
    return laid(hide, *placed, gap=draw(st.sampled_from([0.0, 2.0, 5.0])))


@pytest.mark.slow
@given(used_hides())
@settings(max_examples=30, deadline=None)
def test_no_remnant_ever_reaches_off_its_hide_or_nearer_to_a_part_than_the_gap(layout: Layout) -> None:
    hide = layout.hides[0]
    for one in remnants_of(layout):
        piece = shapely.Polygon(one.polygon)
        assert piece.is_valid
        assert piece.area >= LEAST_AREA * (1 - 1e-9)
        assert shapely.Polygon(hide.outline).buffer(1e-5).covers(piece)
        for part in outlines(layout, hide.name):
            assert piece.distance(part) >= layout.clearance.between - 1e-4
            assert piece.intersection(part).area < 1e-3
        assert one.hide.area == pytest.approx(piece.area)
        assert one.cut
        for line in one.cut:
            middles = shapely.points((line[1:] + line[:-1]) / 2)
            assert shapely.distance(piece.exterior, middles).max() < 1e-5


def test_a_gap_wider_than_the_margin_leaves_the_remnants_whole() -> None:
    bend = Hide("bend", np.array([(0, 0), (1300, 0), (1300, 700), (0, 700)]))
    layout = nest([strap("a")], [bend], Clearance(gap=9, margin=1), steps=1)
    (left,) = remnants_of(layout)
    assert left.hide.area == pytest.approx(1300 * (700 - 1 - 38 - 9))
