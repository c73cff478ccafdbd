"""The section of the fold: to scale, by the belt's own numbers."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from tests.write.test_drawing import SPACE, belt, buckle, drafted, leather

from strapwright.write.drawing import drawing_svg, piece_svg
from strapwright.write.section_view import WIDTH


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
