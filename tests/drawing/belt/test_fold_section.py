"""Sections of the fold and of the closed buckle: to scale, by the belt's own numbers."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from shapely import LineString, Point
from tests.drawing.belt.test_job_drawing import SPACE, belt, buckle, drafted, leather
from tests.drawing.rendered import drawing_svg, piece_svg

from strapwright import api
from strapwright.core.errors import PartError
from strapwright.drawing.belt.fold_section import SCALE, WIDTH, draw_seat
from strapwright.drawing.drawing_sheet import MARGIN, document, new_board
from strapwright.drawing.svg import svg
from strapwright.geometry.contour import Contour
from strapwright.geometry.intersect import self_crossing

EXAMPLES = Path(__file__).parents[3] / "examples"


def section(found):
    """The strap's section, the keeper's two runs, and px per mm, taken from the bar's circle."""
    root = ElementTree.fromstring(piece_svg(found.belts[0]).encode())
    (strap,) = leather(root, "layer")
    circle = next(one for one in root.iter(SPACE + "circle") if one.get("class") == "hole mark")
    scale = float(circle.get("r")) / found.belts[0].figures.end.fold_radius
    return root, strap, list(leather(root, "second")), scale


@pytest.mark.parametrize("thickness", [2.0, 3.6, 5.0])
def test_the_fold_is_as_high_as_its_bar_and_two_thicknesses(thickness):
    found = drafted(belt("one", keeper="none"), thickness=thickness)
    got = found.belts[0].figures
    _, strap, keeper, scale = section(found)
    assert keeper == []
    assert strap.y1 - strap.y0 == pytest.approx(scale * 2 * (got.end.fold_radius + thickness), abs=0.3)


def test_the_keeper_has_its_width_thickness_and_inner_height():
    found = drafted(belt("one", keeper={"width": 18.0, "thickness": 2.0}), thickness=3.6)
    got = found.belts[0].figures
    _, _, keeper, scale = section(found)
    upper, lower = sorted(keeper, key=lambda box: box.y0)
    assert upper.x1 - upper.x0 == pytest.approx(18.0 * scale, abs=0.05)
    assert lower.y1 - lower.y0 == pytest.approx(2.0 * scale, abs=0.05)
    inside = got.layers.strap + got.layers.tip + found.belts[0].house.keeper_ease_height
    assert lower.y0 - upper.y1 == pytest.approx(inside * scale, abs=0.05)


def test_each_row_has_its_screw_drawn_as_long_as_it_is():
    found = drafted(belt("one"), thickness=3.6)
    root, _, _, scale = section(found)
    heights = []
    for element in root.iter(SPACE + "path"):
        if element.get("class") == "hole mark":
            ys = [float(y) for y in re.findall(r",(-?[\d.]+)", element.get("d"))]
            heights.append(max(ys) - min(ys))
    barrels = [post.length * scale for post in found.belts[0].posts]
    assert heights[::3] == pytest.approx(barrels, abs=0.05)


def test_layers_and_fasteners_are_named():
    found = drafted(belt("one", lining={"thickness": 1.2}), thickness=3.0)
    told = [element.text for element in section(found)[0].iter(SPACE + "text")]
    posts = found.belts[0].posts
    for words in (
        "strap 3",
        "lining 1.2",
        "keeper 3",
        *(f"post {post.words().replace(' ', ': ', 1)}" for post in posts),
    ):
        assert words in told, words


@pytest.mark.parametrize("kind", ["single", "double", "hook", "centre"])
def test_the_section_keeps_to_its_own_side(kind):
    root = ElementTree.fromstring(drawing_svg(drafted(belt("one", 38.0, kind))).encode())
    for box in leather(root, "layer", "second"):
        assert box.x1 < 36.0 + WIDTH


def test_a_dee_ring_s_bar_lies_between_the_layers():
    collar = belt("dog", 20.0, dee={"bar_diameter": 4.0, "width": 20.0})
    collar |= {"size": {"girth": 400.0}, "buckle": buckle(20.0), "keeper": {"width": 10.0}}
    found = drafted(collar, thickness=3.0)
    root = section(found)[0]
    circles = [one for one in root.iter(SPACE + "circle") if one.get("class") == "hole mark"]
    assert len(circles) == 2
    bar, dee = (float(one.get("r")) for one in circles)
    assert dee / bar == pytest.approx(2.0 / found.belts[0].figures.end.fold_radius, abs=0.01)


@pytest.mark.parametrize("lining", [{}, {"lining": {"thickness": 1.2}}])
def test_no_leather_runs_through_a_dee_ring_s_bar(lining):
    """The bar lies free between the turn-back and the front or, where it is lined, the lining: by shapely."""
    collar = belt("dog", 25.0, dee={"bar_diameter": 4.0, "width": 25.0}, **lining)
    collar |= {"size": {"girth": 460.0}, "buckle": buckle(25.0), "keeper": {"width": 12.0}}
    root = section(drafted(collar, thickness=2.8))[0]
    ring = [one for one in root.iter(SPACE + "circle") if one.get("class") == "hole mark"][1]
    disc = Point(float(ring.get("cx")), float(ring.get("cy"))).buffer(float(ring.get("r")) - 0.5)
    layers = [one.get("d") for one in root.iter(SPACE + "path") if "cut" in one.get("class", "").split()]
    found = [re.findall(r"(-?[\d.]+),(-?[\d.]+)", layer) for layer in layers]
    lines = [LineString([(float(x), float(y)) for x, y in points]) for points in found]
    assert len(lines) >= 2 + len(lining)
    assert not any(line.intersects(disc) for line in lines)


KEEPERS = {
    "butt": {"width": 20.0},
    "lap": {"width": 20.0, "join": "lap"},
    "skived lap": {"width": 20.0, "join": "lap", "thickness": 4.0, "skive": True},
    "lap that does not close": {"width": 20.0, "join": "lap", "thickness": 4.0},
}


@pytest.mark.parametrize("dee", [None, {"bar_diameter": 5.0, "width": 40.0}])
@pytest.mark.parametrize("fastener", ["screw_post", "stitched"])
@pytest.mark.parametrize("name", KEEPERS)
def test_no_outline_of_the_section_crosses_itself_or_runs_out_in_a_spike(name, fastener, dee):
    asked = belt("one", keeper=KEEPERS[name], fastener=fastener, **({"dee": dee} if dee else {}))
    found = drafted(asked, thickness=4.0)
    root, *_ = section(found)
    outlines = [
        e.get("d") for e in root.iter(SPACE + "path") if e.get("class") in ("layer cut", "second cut")
    ]
    assert len(outlines) == (4 if "lap" in name else 3)
    for outline in outlines:
        points = [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", outline)]
        kept = [p for p, q in zip(points, points[1:] + points[:1], strict=True) if p != q]
        assert self_crossing(Contour.from_points(kept)) is None
        for (x0, y0), (x1, y1), (x2, y2) in zip(kept, kept[1:], kept[2:], strict=False):
            turn = (x1 - x0) * (x2 - x1) + (y1 - y0) * (y2 - y1)
            size = math.hypot(x1 - x0, y1 - y0) * math.hypot(x2 - x1, y2 - y1)
            assert turn > -0.2 * size, (x1, y1)  # no corner sharper than some 80°


def test_what_lies_under_the_front_is_drawn_as_thick_as_it_is_reckoned():
    for name, keeper in KEEPERS.items():
        found = drafted(belt("one", keeper=keeper), thickness=4.0)
        _, _, runs, scale = section(found)
        *under, _over = sorted(runs, key=lambda box: -box.y1)
        thick = max(box.y1 for box in under) - min(box.y0 for box in under)
        assert thick == pytest.approx(scale * found.belts[0].figures.layers.keeper_stack, abs=0.1), name


def drawn(belt):
    board = new_board()
    return ET.fromstring(svg(document(board, draw_seat(board, belt, MARGIN, MARGIN, "mm"), belt.id)))


@pytest.fixture(scope="module")
def halvard():
    return api.draft(api.read_job(EXAMPLES / "one-belt.toml")).belts[0]


def test_it_shows_where_the_hole_bears_and_the_climb(halvard):
    told = [text.text for text in drawn(halvard).iter(f"{SPACE}text")]
    assert "f 34" in told  # frame depth 38 − prong 4
    assert f"climb c = {halvard.figures.climb:.1f}: this way, less its way along" in told
    assert "this edge of the hole bears" in told


def test_the_strap_lies_clear_of_both_bars_and_begins_again_f_before_the_bar(halvard):
    svg = drawn(halvard)
    bars = [circle for circle in svg.iter(f"{SPACE}circle") if circle.get("class") == "hole mark"]
    (bx, by), (fx, fy) = ((float(bar.get("cx")), float(bar.get("cy"))) for bar in bars)
    assert bx - fx == pytest.approx(SCALE * (38 + 2.5), abs=0.01)
    layers = [path.get("d") for path in svg.iter(f"{SPACE}path") if path.get("class") == "layer cut"]
    runs = [[tuple(map(float, one.split(","))) for one in d[1:-1].split("L")] for d in layers]
    _, before, after = runs
    for x, y in (*before, *after):
        assert math.dist((x, y), (fx, fy)) >= SCALE * 2.5
    edge = (bx - SCALE * 34, by - SCALE * (2.5 + 4))
    # the hole's tip-side edge stands square to the strap through the bearing place
    (x0, y0), (x1, y1) = after[0], after[-1]
    assert math.dist(edge, (x0, y0)) + math.dist(edge, (x1, y1)) == pytest.approx(
        math.dist((x0, y0), (x1, y1)), abs=0.05
    )


def test_a_hook_buckle_is_not_drawn_closed():
    belt = api.draft(api.read_job(EXAMPLES / "one-belt.toml")).belts[0]
    hook = belt.buckle.model_copy(update={"prongs": 0, "hook_depth": 30})
    with pytest.raises(PartError, match="a belt with a hook buckle is only drawn flat"):
        drawn(replace(belt, spec=belt.spec.model_copy(update={"buckle": hook})))
