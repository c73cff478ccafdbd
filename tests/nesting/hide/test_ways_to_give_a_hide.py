"""What else a hide file may say: its backbone, its play, face, thickness, first cut and mending."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from hypothesis import given, settings, strategies as st
from tests.nesting.workshop import keeper

from strapwright.core.errors import FileProblems, NestError
from strapwright.core.findings import Severity
from strapwright.nesting.hide.file import read_hide
from strapwright.nesting.hide.repair import MOST_CORNERS, repaired, thinned_out
from strapwright.nesting.hide.true_edge import trued
from strapwright.nesting.hide.types import Face, Flaw, FlawKind, Hide, ThicknessZone, patches
from strapwright.nesting.layout.flesh_side import grain_up, on_hide, turned_over
from strapwright.nesting.layout.types import Clearance
from strapwright.nesting.problem import build_problem

if TYPE_CHECKING:
    from pathlib import Path

SQUARE = "points = [[0, 0], [500, 0], [500, 500], [0, 500]]"
SIDES = np.array([(0.0, 0.0), (500.0, 0.0), (500.0, 500.0), (0.0, 500.0)])


def hide_of(folder: Path, keys: str, rest: str = "", outline: str = SQUARE) -> Hide:
    path = folder / "side.toml"
    path.write_text(f'[hide]\nname = "a"\n{outline}\n{keys}\n{rest}\n', encoding="utf-8")
    return read_hide(path)


def refusal(folder: Path, keys: str, rest: str = "", outline: str = SQUARE) -> str:
    with pytest.raises(FileProblems) as caught:
        hide_of(folder, keys, rest, outline)
    (line,) = caught.value.problems
    return line.replace(f"{folder}/", "")


@pytest.mark.parametrize(
    ("keys", "degrees"),
    [
        ("", 0),
        ('strap_direction = "along"', 0),
        ('strap_direction = "across"', -90),
        ('strap_direction = "across"\nbackbone = 90', 0),
        ('strap_direction = "along"\nbackbone = "30 deg"', 30),
        ('strap_direction = "across"\nbackbone = 30', -60),
        ('strap_direction = "45 deg"\nbackbone = 30', 45),
        ("strap_direction = -45", -45),
    ],
)
def test_straps_lie_along_or_across_the_backbone_or_at_an_angle(
    tmp_path: Path, keys: str, degrees: float
) -> None:
    assert hide_of(tmp_path, keys).strap_direction == pytest.approx(math.radians(degrees))


def test_a_direction_that_is_none_is_refused(tmp_path: Path) -> None:
    assert refusal(tmp_path, 'strap_direction = "acros"') == (
        'side.toml: hide.strap_direction: found "acros", expected "along" or "across" (the backbone), '
        'or an angle such as "90 deg"'
    )
    assert "hide.strap_direction: found" in refusal(tmp_path, 'strap_direction = "720 deg"')


def test_the_tolerance_is_in_degrees_and_not_negative(tmp_path: Path) -> None:
    assert hide_of(tmp_path, "").tolerance == 0
    assert hide_of(tmp_path, "tolerance = 2.5").tolerance == pytest.approx(math.radians(2.5))
    assert refusal(tmp_path, "tolerance = -1") == (
        "side.toml: hide.tolerance: found -1, expected 0 deg to 45 deg"
    )
    with pytest.raises(NestError, match="tolerance"):
        Hide("a", SIDES, tolerance=-0.1)


def test_the_face_up_is_grain_unless_said(tmp_path: Path) -> None:
    assert hide_of(tmp_path, "").face_up is Face.GRAIN
    assert hide_of(tmp_path, 'face_up = "flesh"').face_up is Face.FLESH
    assert refusal(tmp_path, 'face_up = "flesch"') == (
        'side.toml: hide.face_up: found "flesch", expected "grain" or "flesh"; did you mean "flesh"?'
    )


def test_a_hide_turned_over_is_its_mirror_image_and_a_placement_goes_with_it() -> None:
    outline = np.array([(0.0, 0.0), (900.0, 0.0), (700.0, 400.0)])
    flaw = Flaw(FlawKind.MARK, outline / 9 + 50, (300.0, 100.0, 20.0))
    hide = Hide("a", outline, (flaw,), strap_direction=0.3, face_up=Face.FLESH)
    seen = grain_up(hide)
    assert seen.face_up is Face.GRAIN
    assert seen.area == hide.area
    assert seen.strap_direction == -0.3
    assert seen.flaws[0].round == (-300.0, 100.0, 20.0)
    assert {tuple(p) for p in seen.outline} == {(-x + 0.0, y) for x, y in outline}
    from strapwright.geometry.contour import Contour
    from strapwright.geometry.transform import Placement

    part = Contour.from_points([(0, 0), (50, 0), (0, 20)])
    placement = Placement(0.4, 30.0, -60.0)
    laid = placement.apply(part).vertices[:, :2]
    over = on_hide(placement, hide).apply(part)
    assert over.is_counter_clockwise
    # The mirrored outline runs the other way round from the same first corner.
    assert over.vertices[[0, 2, 1], :2] == pytest.approx(laid * (-1, 1))
    assert on_hide(placement, hide).apply_to_point(50, 0) == pytest.approx(laid[1] * (-1, 1))
    assert on_hide(placement, seen) is placement
    twice = turned_over(turned_over(placement))
    assert (twice.turn, twice.x, twice.y) == (pytest.approx(0.4), 30.0, -60.0)
    assert not twice.mirror


def test_zones_of_thickness_are_read_and_checked(tmp_path: Path) -> None:
    zone = '[[zone]]\nthickness = "8 oz"\npoints = [[0, 0], [200, 0], [200, 500], [0, 500]]\n'
    hide = hide_of(tmp_path, 'thickness = "3.6 mm"', zone)
    (found,) = hide.thickness_zones
    assert found.thickness == pytest.approx(8 * 25.4 / 64)
    assert "zone[1]: is off the hide" in refusal(tmp_path, "", zone.replace("0, ", "900, "))
    assert "zone[1].thickness: found 0" in refusal(tmp_path, "", zone.replace('"8 oz"', "0"))


def test_a_part_shuns_the_places_of_the_wrong_thickness_and_no_others() -> None:
    left = ThicknessZone(3.0, np.array([(0, 0), (200, 0), (200, 500), (0, 500)]))
    inner = ThicknessZone(2.0, np.array([(50, 50), (100, 50), (100, 100), (50, 100)]))
    hide = Hide("a", SIDES, thickness=3.6, thickness_zones=(left, inner))
    assert sum(shapely.Polygon(corners).area for _, corners in patches(hide)) == pytest.approx(250_000)

    def shunned(hide: Hide, wanted: float) -> tuple[float, bool]:
        """The area a part of that thickness may not lie on, and whether it may lie on the hide at all."""
        problem = build_problem([keeper("one", thickness=wanted)], [hide], Clearance())
        (piece,), (ground,) = problem.pieces, problem.grounds
        zones = [shapely.Polygon(zone.polygon) for zone in ground.zones if zone.kind in piece.shuns]
        return float(shapely.union_all(zones).area), piece.grounds is None

    assert shunned(hide, 3.6) == (pytest.approx(200 * 500), True)
    assert shunned(hide, 3.3) == (pytest.approx(50 * 50), True)  # 3.0 and 3.6 are both within 0.3 mm
    assert shunned(hide, 2.0) == (pytest.approx(250_000 - 2500), True)
    assert shunned(hide, 5.0) == (pytest.approx(250_000), False)
    assert shunned(Hide("b", SIDES, thickness=3.6), 3.4) == (0.0, True)
    assert shunned(Hide("b", SIDES, thickness=3.6), 3.0) == (0.0, False)
    assert shunned(Hide("c", SIDES), 3.0) == (0.0, True)


def test_every_patch_is_a_plain_outline_that_an_engine_can_take() -> None:
    ring = ThicknessZone(3.0, SIDES / 2 + 100)
    hole = ThicknessZone(4.0, SIDES / 10 + 200)
    for thickness, corners in patches(Hide("a", SIDES, thickness_zones=(ring, hole))):
        assert shapely.Polygon(corners).is_valid
        inside = shapely.Polygon(corners).representative_point()
        by_point = 4.0 if shapely.Polygon(hole.polygon).contains(inside) else 3.0
        on_ring = shapely.Polygon(ring.polygon).contains(inside)
        assert thickness == (by_point if on_ring else None)


def test_a_raw_edge_is_squared_and_its_leather_counted(tmp_path: Path) -> None:
    raw = "points = [[0, 30], [300, 0], [700, 12], [1000, 4], [1040, 60], [1000, 500], [0, 520]]"
    flaw = '[[flaw]]\nkind = "hole"\nat = [300, 3]\nsize = 4\n'
    before = hide_of(tmp_path, "", flaw, raw)
    hide = hide_of(tmp_path, "true_edge = true", flaw, raw)
    cut = hide.first_cut
    assert cut is not None
    assert cut.start[1] == cut.end[1]
    assert hide.outline[:, 1].min() == cut.start[1]
    assert cut.end[0] - cut.start[0] >= 0.9 * 1000
    assert hide.area + cut.area == pytest.approx(before.area)
    assert hide.whole_area == pytest.approx(before.area)
    assert hide.flaws == ()  # it was in the strip cut away
    (found,) = hide.findings
    assert (found.code, found.severity) == ("edge-trued", Severity.NOTE)
    assert found.numbers["cut_off_mm2"] == pytest.approx(cut.area)


@pytest.mark.parametrize("turn", [0.5, math.pi / 2, -2.0])
def test_the_first_cut_turns_with_the_straps(turn: float) -> None:
    matrix = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    raw = np.array([(0.0, 20.0), (500.0, 0.0), (1000.0, 15.0), (1000.0, 400.0), (0.0, 400.0)])
    flat = trued(Hide("a", raw))
    hide = trued(Hide("a", raw @ matrix, strap_direction=turn))
    assert flat is not None
    assert hide is not None
    assert flat.first_cut is not None
    assert hide.first_cut is not None
    assert hide.first_cut.area == pytest.approx(flat.first_cut.area)
    assert hide.first_cut.start == pytest.approx(np.array(flat.first_cut.start) @ matrix)


def test_a_straight_edge_needs_no_first_cut_and_a_wedge_has_none(tmp_path: Path) -> None:
    hide = hide_of(tmp_path, "true_edge = true")
    assert hide.first_cut is None
    assert [finding.code for finding in hide.findings] == ["edge-straight-already"]
    wedge = "points = [[500, 0], [1000, 900], [0, 900]]"
    assert "hide.true_edge: no straight cut along the straps squares this edge" in refusal(
        tmp_path, "true_edge = true", outline=wedge
    )


def test_a_wound_hide_is_refused_unless_it_may_be_mended_and_then_tells_what_changed(tmp_path: Path) -> None:
    wound = "points = [[0, 0], [500, 0], [500, 500], [240, 500], [260, 520], [260, 500], [0, 500], [0, 500]]"
    assert "hide.points: points 7 and 8 are both (0, 500) mm" in refusal(tmp_path, "", outline=wound)
    hide = hide_of(tmp_path, "repair = true", outline=wound)
    assert hide.area == pytest.approx(250_000 + 20, abs=200)
    (found,) = hide.findings
    assert (found.code, found.severity, found.subject) == ("outline-repaired", Severity.CAUTION, "a")
    assert "1 corner given twice was removed" in found.what
    assert "crossed itself" in found.what
    assert hide_of(tmp_path, "repair = true").findings == ()


def test_a_flaw_is_mended_too_and_what_cannot_be_is_refused(tmp_path: Path) -> None:
    bow = '[[flaw]]\nkind = "mark"\npoints = [[10, 10], [60, 60], [60, 10], [10, 60]]\n'
    assert "or write repair = true under [hide]" in refusal(tmp_path, "", bow)
    hide = hide_of(tmp_path, "repair = true", bow)
    assert hide.findings[0].what.startswith("The mark 1 was repaired: it crossed itself near (35, 35) mm")
    line = '[[flaw]]\nkind = "mark"\npoints = [[10, 10], [60, 60], [90, 90]]\n'
    assert "encloses nothing" in refusal(tmp_path, "repair = true", line)


@given(
    st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=3, max_size=9).map(
        lambda points: np.array(points, dtype=float) * 10
    )
)
@settings(max_examples=200, deadline=None)
def test_what_is_mended_is_sound_and_what_is_sound_is_left_alone(points: np.ndarray) -> None:
    result = repaired(points)
    kept = np.hypot(*(np.roll(points, -1, axis=0) - points).T) > 1e-6
    if result is None:
        return
    corners, words = result
    assert shapely.Polygon(corners).is_valid
    assert words
    assert not (kept.all() and shapely.Polygon(points).is_valid)
    assert repaired(corners) is None


def test_a_hide_all_holes_is_refused(tmp_path: Path) -> None:
    flaw = '[[flaw]]\nkind = "{}"\npoints = [[-10, -10], [510, -10], [510, 510], [-10, 510]]\n'
    assert "the holes and cuts cover the whole hide" in refusal(tmp_path, "", flaw.format("void"))
    assert hide_of(tmp_path, "", flaw.format("loose")).void_area == 0


def crowded(corners: int, noise: float) -> np.ndarray:
    """A hide-like outline with as many corners as a photograph gives."""
    angle = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    chance = np.random.default_rng(7)
    reach = 600 + 80 * np.sin(3 * angle) + 30 * np.cos(7 * angle) + chance.normal(0, noise, corners)
    return np.column_stack([1.8 * reach * np.cos(angle), reach * np.sin(angle)]) + 1300


@pytest.mark.parametrize("noise", [0.0, 0.05, 0.1])
@pytest.mark.parametrize("side", ["inward", "outward"])
def test_an_outline_of_20000_corners_is_thinned_out_to_its_own_side(noise: float, side: str) -> None:
    points = crowded(20_000, noise)
    whole, fewer = shapely.Polygon(points), shapely.Polygon(thinned_out(points, side))  # type: ignore[arg-type]
    assert len(fewer.exterior.coords) - 1 <= MOST_CORNERS
    assert whole.covers(fewer) if side == "inward" else fewer.covers(whole)
    assert abs(whole.area - fewer.area) < 0.003 * whole.area


def test_a_crowded_hide_is_thinned_out_inward_and_its_loss_told(tmp_path: Path) -> None:
    points = crowded(20_000, 0.05)
    rows = ", ".join(f"[{x:.4f}, {y:.4f}]" for x, y in points)
    hide = hide_of(tmp_path, "", outline=f"points = [{rows}]")
    (found,) = hide.findings
    assert (found.code, found.severity) == ("outline-thinned-out", Severity.NOTE)
    assert found.numbers["corners"] == 20_000
    assert found.numbers["kept"] == len(hide.outline) <= MOST_CORNERS
    lost = shapely.Polygon(np.round(points, 4)).area - hide.area
    assert found.numbers["lost_mm2"] == pytest.approx(lost)
    assert lost > 0
    assert thinned_out(SIDES, "inward") is SIDES
