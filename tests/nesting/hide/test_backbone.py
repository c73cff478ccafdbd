"""Where the back is, how straps start from it, and what is said of it."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

import numpy as np
import pytest
from tests.drawing.rendered import picture_svg
from tests.nesting.hide.test_ways_to_give_a_hide import hide_of, refusal
from tests.nesting.workshop import keeper, order, strap

from strapwright.job.draft import draft
from strapwright.job.spec.job import read_job
from strapwright.nesting.hide.backbone import back_of, edge_of, runs_through
from strapwright.nesting.hide.file import read_hide
from strapwright.nesting.hide.file_text import hide_to_toml
from strapwright.nesting.hide.types import Back, Hide
from strapwright.nesting.layout.flesh_side import grain_up
from strapwright.nesting.layout.strap_cutter import rips_of, side_of_back, starts_from_back
from strapwright.nesting.layout.types import Clearance
from strapwright.nesting.remnant import remnant_to_toml, remnants_of
from strapwright.nesting.solver.nest import nest
from strapwright.parts.part import PartKind

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.usefixtures("without_height_bound")

BIG = "points = [[0, 0], [1600, 0], [1600, 1500], [0, 1500]]"
RAW = "points = [[0, 20], [700, 0], [1500, 25], [1490, 800], [800, 830], [30, 790]]"


def square(folder: Path, keys: str) -> Hide:
    return hide_of(folder, keys, outline=BIG)


@pytest.mark.parametrize(
    ("edge", "along", "across"), [("bottom", 0, -90), ("top", 180, -90), ("left", -90, 0), ("right", 90, 0)]
)
def test_the_back_is_an_edge_and_its_direction_follows(
    tmp_path: Path, edge: str, along: float, across: float
) -> None:
    hide = square(tmp_path, f'backbone = "{edge}"')
    assert math.degrees(hide.strap_direction) == pytest.approx(along)
    assert edge_of(back_of(hide)) == edge
    assert not back_of(hide).assumed
    turned = square(tmp_path, f'backbone = "{edge}"\nstrap_direction = "across"')
    assert math.degrees(turned.strap_direction) == pytest.approx(across)
    assert edge_of(back_of(turned)) == edge


@pytest.mark.parametrize("face", ["grain", "flesh"])
@pytest.mark.parametrize("edge", ["bottom", "top", "left", "right"])
def test_straps_start_from_the_back_whichever_edge_it_is(tmp_path: Path, edge: str, face: str) -> None:
    hide = square(tmp_path, f'backbone = "{edge}"\nface_up = "{face}"\nthickness = 3.6')
    layout = nest([strap("a"), strap("b")], [hide], steps=1)
    boxes = [one.placement.apply(one.part.outline).bounding_box for one in layout.placed]
    x0, y0 = np.min([box[:2] for box in boxes], axis=0)
    x1, y1 = np.max([box[2:] for box in boxes], axis=0)
    reach = {"bottom": y1, "top": 1500 - y0, "left": x1, "right": 1600 - x0}
    assert reach[edge] == pytest.approx(2 + 38 + 2 + 38)
    assert edge_of(back_of(grain_up(hide))) == {"left": "right", "right": "left"}.get(edge, edge) or face


def test_the_layout_is_the_same_from_the_top_as_from_the_bottom_of_a_hide_turned_half_round(
    tmp_path: Path,
) -> None:
    points = [(0, 0), (1500, 30), (1480, 700), (60, 650)]
    half = [(1500 - x, 700 - y) for x, y in points]
    one = hide_of(tmp_path, 'backbone = "bottom"', outline=f"points = {[list(p) for p in points]}")
    other = hide_of(tmp_path, 'backbone = "top"', outline=f"points = {[list(p) for p in half]}")
    there = [nest(order(6), [hide], steps=4, seed=2).placed for hide in (one, other)]
    assert len(there[0]) == len(there[1])
    for a, b in zip(*there, strict=True):
        assert (a.placement.x, a.placement.y) == pytest.approx((1500 - b.placement.x, 700 - b.placement.y))


def test_a_back_that_is_not_given_is_assumed_and_the_note_names_the_edge(tmp_path: Path) -> None:
    def codes(hide: Hide) -> dict[str, str]:
        return {found.code: found.what for found in nest([strap("a")], [hide], steps=1).findings}

    told = codes(square(tmp_path, ""))
    assert told["back-assumed"] == ("Nobody has said where its back is; the bottom edge is taken for it.")
    assert "the left edge" in codes(square(tmp_path, "strap_direction = -90"))["back-assumed"]
    assert "the bottom edge" in codes(square(tmp_path, 'strap_direction = "across"'))["back-assumed"]
    for given in ('"bottom"', '"top"', "[[0, 700], [1600, 700]]", '"10 deg"'):
        assert "back-assumed" not in codes(square(tmp_path, f"backbone = {given}"))


def test_the_back_of_a_drawing_read_straight_is_assumed_at_the_bottom(tmp_path: Path) -> None:
    path = tmp_path / "bend.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="1300mm" height="600mm" viewBox="0 0 1300 600">'
        '<g id="outline"><path d="M 0 0 H 1300 V 600 H 0 Z"/></g></svg>',
        encoding="utf-8",
    )
    layout = nest([strap("a")], [read_hide(path)], steps=1)
    assert "back-assumed" in {found.code for found in layout.findings}
    assert layout.placed[0].placement.y == pytest.approx(21)


def test_two_points_on_an_edge_say_where_a_slanting_back_is(tmp_path: Path) -> None:
    slanting = "points = [[0, 0], [1500, 0], [1500, 900], [0, 600]]"
    for points in ("[[0, 600], [1500, 900]]", "[[1500, 900], [0, 600]]"):
        hide = hide_of(tmp_path, f"backbone = {points}", outline=slanting)
        assert not runs_through(hide)
        assert edge_of(back_of(hide)) == "top"
        assert math.degrees(hide.strap_direction) % 360 == pytest.approx(180 + math.degrees(math.atan(0.2)))
        (one,) = nest([strap("a")], [hide], steps=1).placed
        x, y = one.placement.apply_to_point(500, 0)
        assert (600 + 0.2 * x - y) / math.hypot(1, 0.2) == pytest.approx(21, abs=0.01)  # half a strap, 2 mm


def test_an_angle_turns_to_the_back_and_a_strap_direction_in_degrees_starts_from_it(tmp_path: Path) -> None:
    hide = square(tmp_path, 'backbone = "top"\nstrap_direction = "0 deg"')
    assert math.degrees(hide.strap_direction) == pytest.approx(180)
    assert math.degrees(square(tmp_path, 'strap_direction = "0 deg"').strap_direction) == 0
    assert edge_of(back_of(square(tmp_path, "backbone = 20"))) == "bottom"
    assert edge_of(back_of(square(tmp_path, "backbone = 90"))) == "left"


@pytest.mark.parametrize(
    ("backbone", "problem"),
    [
        ('"botom"', 'found "botom", expected "bottom", "top", "left" or "right" (the edge that is the back)'),
        ('"botom"', 'or an angle such as "30 deg"; did you mean "bottom"?'),
        ("[[0, 0]]", "found a list, expected"),
        ("[[5, 5], [5, 6]]", "found two points 1 mm apart, expected 10 mm or more between them"),
        ('[["a", 0], [9, 9]]', 'found "a"'),
        ("true", "found true"),
        ('"500 deg"', 'found "500 deg"'),
    ],
)
def test_a_backbone_that_is_none_is_refused(tmp_path: Path, backbone: str, problem: str) -> None:
    line = refusal(tmp_path, f"backbone = {backbone}")
    assert line.startswith("side.toml: hide.backbone")
    assert problem in line


def test_the_raw_edge_that_is_squared_is_the_back(tmp_path: Path) -> None:
    flipped = "points = [[30, 10], [800, -30], [1490, 0], [1500, 775], [700, 800], [0, 780]]"
    below = hide_of(tmp_path, "true_edge = true", outline=RAW)
    above = hide_of(tmp_path, 'true_edge = true\nbackbone = "top"', outline=flipped)
    assert below.first_cut is not None
    assert above.first_cut is not None
    assert above.first_cut.area == pytest.approx(below.first_cut.area)
    assert above.first_cut.start[1] == pytest.approx(800 - below.first_cut.start[1])
    both = refusal(tmp_path, "true_edge = true\nbackbone = [[0, 400], [1500, 400]]", outline=RAW)
    assert "straps start from the cut along the back, which is a true edge; leave it out" in both


DOUBLE = "thickness = 3.6\nbackbone = [[0, 750], [1600, 750]]"


@pytest.mark.parametrize("face", ["grain", "flesh"])
def test_on_a_double_butt_straps_start_from_the_back_both_ways(tmp_path: Path, face: str) -> None:
    hide = square(tmp_path, f'{DOUBLE}\nface_up = "{face}"')
    assert runs_through(hide)
    parts = [*(strap(name) for name in "abcdef"), keeper("a")]
    layout = nest(parts, [hide], steps=2)
    assert not layout.unplaced
    assert starts_from_back(hide, layout.placed)
    straps = [one for one in layout.placed if one.part.lies_along]
    assert sorted(side_of_back(hide, one) for one in straps) == [-1, -1, -1, 1, 1, 1]
    off = sorted(abs(one.placement.y - 750) for one in straps)
    assert off == pytest.approx([20, 20, 60, 60, 100, 100])  # half a gap from the back, then a gap apart
    assert {left.hide.parent for left in remnants_of(layout)} == {"a"}
    assert sum(left.hide.area for left in remnants_of(layout)) == pytest.approx(1600 * (1500 - 2 * 121))
    assert "back-not-first" not in {found.code for found in layout.findings}


def test_each_half_of_a_double_butt_has_its_own_list_from_the_cut_along_the_back(tmp_path: Path) -> None:
    layout = nest([strap(name) for name in "abcd"], [square(tmp_path, DOUBLE)], steps=2)
    up, down = rips_of(layout, "a")
    assert up.begins == "from the cut along the back towards the top"
    assert down.begins == "from the cut along the back towards the bottom"
    for found in (up, down):
        assert [(rip.kind, rip.width) for rip in found.rips] == [
            ("strap", 38), ("strap", 38), ("rest", 750 - 76)
        ]  # fmt: skip
    assert {part for found in (up, down) for rip in found.rips for part in rip.parts} == {
        "a/strap", "b/strap", "c/strap", "d/strap"
    }  # fmt: skip


def test_starting_both_ways_costs_no_part(tmp_path: Path) -> None:
    # Three straps of 38 mm fit into 122 mm only if one lies across the back.
    narrow = "points = [[0, 0], [1300, 0], [1300, 122], [0, 122]]"
    hide = hide_of(tmp_path, "backbone = [[0, 61], [1300, 61]]", outline=narrow)
    layout = nest([strap(name) for name in "abc"], [hide], steps=3)
    assert len(layout.placed) == 3
    assert not starts_from_back(hide, layout.placed)
    assert "back-not-first" in {found.code for found in layout.findings}


def test_a_gap_wider_than_the_margins_is_kept_across_the_back(tmp_path: Path) -> None:
    hide = square(tmp_path, DOUBLE)
    layout = nest([strap("a"), strap("b")], [hide], Clearance(gap=9, margin=1), steps=1)
    assert sorted(abs(one.placement.y - 750) for one in layout.placed) == pytest.approx([23.5, 23.5])


@pytest.mark.parametrize(
    "keys",
    [
        'backbone = "top"',
        'backbone = "left"\nstrap_direction = "across"',
        "backbone = [[0, 750], [1600, 800]]",
    ],
)
def test_a_hide_file_and_a_remnants_say_where_the_back_is(tmp_path: Path, keys: str) -> None:
    hide = square(tmp_path, keys)
    path = tmp_path / "again.toml"
    path.write_text(hide_to_toml(hide), encoding="utf-8")
    again = read_hide(path)
    assert again.back == hide.back
    assert again.strap_direction == pytest.approx(hide.strap_direction)
    for left in remnants_of(nest([strap("a"), strap("b")], [hide], steps=1)):
        path.write_text(remnant_to_toml(left), encoding="utf-8")
        assert edge_of(back_of(read_hide(path))) == edge_of(back_of(left.hide))
        assert not back_of(left.hide).assumed
    assumed = hide_to_toml(square(tmp_path, ""))
    assert "backbone" not in assumed


def test_the_remnants_of_a_double_butt_have_the_back_on_their_inner_edge(tmp_path: Path) -> None:
    layout = nest([strap(name) for name in "abcd"], [square(tmp_path, DOUBLE)], steps=2)
    upper, lower = sorted(remnants_of(layout), key=lambda left: -left.shift[1])
    assert [edge_of(back_of(one.hide)) for one in (upper, lower)] == ["bottom", "top"]


def test_a_hide_made_in_memory_has_its_back_where_straps_start() -> None:
    hide = Hide("a", np.array([(0, 0), (900, 0), (900, 400)]), strap_direction=math.pi)
    assert back_of(hide) == Back((900.0, 400.0), (0.0, 400.0), assumed=True)


def words_at(svg: str, words: str) -> list[tuple[float, float]]:
    found = re.findall(rf'<text x="([0-9.]+)" y="([0-9.]+)"[^>]*>{words}</text>', svg)
    return [(float(x), float(y)) for x, y in found]


@pytest.mark.parametrize("edge", ["bottom", "top", "left", "right"])
def test_the_picture_names_back_and_belly_beside_the_hide(tmp_path: Path, edge: str) -> None:
    svg = picture_svg(nest([strap("a")], [square(tmp_path, f'backbone = "{edge}"')], steps=1), title="a")
    ((x, y),) = words_at(svg, "back")
    ((u, v),) = words_at(svg, "belly")
    ahead = {"bottom": y - v, "top": v - y, "left": u - x, "right": x - u}
    across = {"bottom": x - u, "top": x - u, "left": y - v, "right": y - v}
    assert ahead[edge] > 900
    assert across[edge] == pytest.approx(0, abs=0.1)


def test_the_picture_says_what_is_assumed_and_draws_a_back_that_runs_through(tmp_path: Path) -> None:
    def drawn(keys: str) -> str:
        return picture_svg(nest([strap("a")], [square(tmp_path, keys)], steps=1), title="a")

    assert len(words_at(drawn(""), "back, assumed")) == 1
    double = drawn(DOUBLE)
    assert len(words_at(double, "belly")) == 2
    assert len(words_at(double, "back")) == 1
    assert 'class="back"' in double
    assert 'class="back"' not in drawn('backbone = "top"')


def test_no_part_of_a_keeper_lies_on_loose_leather(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(
        '[leather]\nthickness = "3.6 mm"\ntannage = "vegetable"\n[[belt]]\nid = "a"\n'
        'size = { worn_to_hole = "960 mm" }\nkeeper = {}\n'
        'buckle = { opening = "41 mm", frame_depth = "33 mm", bar_diameter = "4 mm", '
        'prong_thickness = "4 mm" }\n',
        encoding="utf-8",
    )
    loose = '[[flaw]]\nkind = "loose"\npoints = [[0, 0], [400, 0], [400, 200], [0, 200]]\n'
    outline = "points = [[0, 0], [400, 0], [400, 215], [0, 215]]"
    hide = hide_of(tmp_path, 'thickness = 3.6\nbackbone = "bottom"', loose, outline)
    drafted = draft(read_job(job))
    (part,) = (part for part in drafted.parts if part.kind is PartKind.KEEPER)
    layout = nest([part], [hide], steps=1)
    assert [left.part.id for left in layout.unplaced] == [part.id]  # 13 mm of sound leather are too few
    sound = hide_of(tmp_path, 'thickness = 3.6\nbackbone = "bottom"', outline=outline)
    assert not nest([part], [sound], steps=1).unplaced
