"""The layout's picture: what it shows, and that its words stay where they belong."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import resvg_py
import shapely
from svgpathtools import parse_path
from tests.drawing.rendered import picture_svg
from tests.nesting.workshop import keeper, side, strap

from strapwright.drawing.layout.elements import Frame, lettered
from strapwright.drawing.looks import LOOKS
from strapwright.drawing.svg import path_data
from strapwright.drawing.text import text_width
from strapwright.files.atomic_write import MARK
from strapwright.geometry.polygon import to_polygon
from strapwright.geometry.transform import Placement
from strapwright.nesting.hide.types import FirstCut, ThicknessZone
from strapwright.nesting.layout.types import AvoidedZone, Clearance, Layout, PlacedPart, UnplacedPart
from strapwright.nesting.remnant import remnants_of
from strapwright.rules.safety import cautions

SVG = "{http://www.w3.org/2000/svg}"
STRAP, MATE, STRIP = strap("ines"), strap("ole"), keeper("ines")
LAYOUT = Layout(
    (side(0.0),),
    (
        PlacedPart(STRAP, "side 7", Placement(0.0, 82.0, 21.0)),
        PlacedPart(MATE, "side 7", Placement(math.pi, 1102.0, 61.0)),
        PlacedPart(STRIP, "side 7", Placement(math.pi / 2, 1210.0, 2.0)),
    ),
    (UnplacedPart(keeper("ole"), "no space left: needs 104 mm by 18 mm; the longest free space is 90 mm"),),
    Clearance(),
    (),
    0,
    1,
)


def drawn(layout: Layout = LAYOUT, **options: Any) -> tuple[str, ET.Element, list[str]]:
    """The picture, its root, and all its words."""
    picture = picture_svg(layout, **{"title": "Bühne & Söhne <autumn>", **options})
    root = ET.fromstring(picture)
    return picture, root, [element.text or "" for element in root.iter(f"{SVG}text")]


def test_it_holds_the_mark_once_and_the_title_whatever_its_letters() -> None:
    picture, root, words = drawn()
    assert picture.count(MARK) == 1
    assert root.get("width") == "1200"
    assert words[0] == "Bühne & Söhne <autumn>"


def test_it_tells_counts_yield_what_has_no_place_and_no_cautions() -> None:
    _, _, words = drawn()
    assert words[1].startswith("3 of 4 parts placed on 1 hide. At most")
    used = f"{LAYOUT.yield_of('side 7'):.1%}"
    assert f"side 7 · 3.60 mm thick · grain side up · 3 parts · {used} of the sound leather used" in words
    assert "Not placed: 1" in words
    assert "ole/keeper: no space left: needs 104 mm by 18 mm; the longest free space is 90 mm" in words
    assert not set(cautions("bench")) & set(words), "they stand where they are acted on"


def test_of_many_parts_without_a_place_some_are_named_whole_and_the_others_counted() -> None:
    missing = tuple(UnplacedPart(keeper(f"a rather long name {n}"), "no space left") for n in range(9))
    _, _, words = drawn(replace(LAYOUT, unplaced=missing))
    (told,) = (word for word in words if word.endswith(": no space left"))
    named, _, more = told.removesuffix(" more: no space left").rpartition(" and ")
    names = named.split(", ")
    assert names == [left.part.id for left in missing[: len(names)]]
    assert len(names) + int(more) == 9
    one = replace(LAYOUT, unplaced=(UnplacedPart(keeper("x" * 90), "no space left"),))
    assert any(word.startswith("xxx") and "…: no space left" in word for word in drawn(one)[2])


def test_straps_bear_their_names_and_keepers_a_number_that_is_explained() -> None:
    _, _, words = drawn()
    assert {"ines/strap", "ole/strap", "ines/keeper"} <= set(words)
    assert words.count("1") == 2  # on the keeper, and in the list


def test_what_is_cut_off_first_and_last_and_zones_of_thickness_are_drawn_and_explained() -> None:
    hide = replace(
        side(0.0),
        flaws=(),
        first_cut=FirstCut((82.0, 0.0), (1300.0, 0.0), 30_000.0),
        thickness_zones=(ThicknessZone(3.0, np.array([(700, 300), (900, 300), (900, 400), (700, 400)])),),
    )
    layout = replace(LAYOUT, hides=(hide,))
    _, root, words = drawn(layout)
    left = [one for one in remnants_of(layout) if one.hide.parent == hide.name]
    assert left
    for one in left:
        assert one.hide.name in words
        assert f"cut off and keep {one.hide.name}: {one.hide.area / 1e6:.2f} m²" in words
    assert "first cut, squares the raw edge: 300 cm² cut off" in words
    assert "3.00 mm" in words
    looks = [e.get("class") for e in root.iter(f"{SVG}path")]
    assert looks.count("first-cut") == 2  # on the hide, and in the key
    assert looks.count("zone") == 2
    assert looks.count("cut-off") == sum(len(one.cut) for one in left) + len(left)
    assert looks.count("clear") == 2 * len(left)
    dashes = {LOOKS[name].dashes for name in ("first-cut", "zone", "cut-off", "clear", "back")}
    assert len(dashes - {()}) == 5  # known apart without their colours


def text_at(root: ET.Element, words: str) -> shapely.Point:
    (found,) = (element for element in root.iter(f"{SVG}text") if element.text == words)
    return shapely.Point(float(found.get("x", "")), float(found.get("y", "")))


def shapes(root: ET.Element, look: str) -> list[shapely.Polygon]:
    """The closed shapes of a look."""
    paths = [parse_path(e.get("d")) for e in root.iter(f"{SVG}path") if e.get("class") == look]
    return [shapely.Polygon([(s.start.real, s.start.imag) for s in path]) for path in paths if len(path) > 2]


def test_a_zone_bears_its_thickness_where_no_part_lies() -> None:
    low = np.array([(-10, -10), (1450, -10), (1450, 130), (-10, 130)])
    hide = replace(side(0.0), flaws=(), thickness_zones=(ThicknessZone(3.0, low),))
    _, root, _ = drawn(replace(LAYOUT, hides=(hide,)))
    label = text_at(root, "3.00 mm")
    (zone,) = shapes(root, "zone")
    assert zone.contains(label)
    assert label.x > text_at(root, "ole/strap").x + 250  # the straps end at 1182 mm, the zone at 1450


def test_a_slanting_remnant_bears_its_name_in_its_clear_rectangle() -> None:
    hide = replace(side(0.4), flaws=())
    layout = replace(
        LAYOUT, hides=(hide,), placed=(PlacedPart(STRAP, "side 7", Placement(0.4, 600.0, 60.0)),)
    )
    _, root, words = drawn(layout)
    names = [left.hide.name for left in remnants_of(layout) if left.hide.name in words]
    assert names
    for name in names:
        assert any(clear.contains(text_at(root, name)) for clear in shapes(root, "clear"))


def on_hides(root: ET.Element) -> list[ET.Element]:
    """The hatched shapes, without those of the key."""
    hatched = [e for e in root.iter(f"{SVG}path") if str(e.get("fill")).startswith("url(")]
    boxes = [parse_path(e.get("d")).bbox() for e in hatched]
    return [e for e, (x0, x1, *_) in zip(hatched, boxes, strict=True) if x1 - x0 != pytest.approx(26)]


def test_every_kind_of_flaw_has_its_own_hatch_and_line_and_is_explained() -> None:
    _, root, words = drawn()
    hatched = on_hides(root)
    looks = {(str(e.get("fill")), str(e.get("class"))) for e in hatched}
    assert len(hatched) == 4
    assert looks == {(f"url(#{kind})", f"flaw-{kind}") for kind in ("hole", "mark", "loose")}
    assert len({LOOKS[name].dashes for _, name in looks}) == 3
    assert sum(word.startswith(("hole or", "mark:", "loose:")) for word in words) == 3


def test_a_zone_kept_clear_this_once_has_a_look_of_its_own_on_its_hide_and_is_explained() -> None:
    corners = np.array([(1400.0, 60.0), (1500.0, 60.0), (1500.0, -160.0), (1400.0, -160.0)])
    layout = replace(
        LAYOUT,
        hides=(side(0.0), replace(side(0.0), name="side 8")),
        placed=(*LAYOUT.placed, PlacedPart(keeper("new"), "side 8", Placement(0.0, 100.0, 100.0))),
        avoided=(AvoidedZone("side 7", corners),),
    )
    _, root, words = drawn(layout)
    assert words.count("kept clear for this layout") == 1  # nothing of it is said of side 8
    hatched = on_hides(root)
    (zone,) = (e for e in hatched if e.get("fill") == "url(#once)")
    others = {str(e.get("class")) for e in hatched if e is not zone}
    assert LOOKS[str(zone.get("class"))].dashes not in {LOOKS[name].dashes for name in others}
    left, right, top, bottom = parse_path(zone.get("d")).bbox()
    assert (bottom - top) / (right - left) == pytest.approx(
        60 / 100, abs=0.001
    )  # what lies off it is not drawn
    assert root.find(f".//{SVG}pattern[@id='once']") is not None


def test_the_key_stays_on_the_page_however_many_hatches_it_explains() -> None:
    _, root, words = drawn(replace(LAYOUT, avoided=(AvoidedZone("side 7", side().flaws[0].polygon),)))
    told = [
        e for e in root.iter(f"{SVG}text") if str(e.text).startswith(("hole or", "mark:", "loose:", "kept"))
    ]
    assert len(told) == 4
    for words in told:
        assert float(words.get("x", "")) + text_width(words.text or "", 12) <= 1200 - 30


def test_long_names_break_the_headings_and_leave_the_key_in_its_columns() -> None:
    name = "the side of the third delivery from beyond the river and the hills"
    hide = replace(side(0.0), name=name)
    placed = tuple(replace(one, hide=name) for one in LAYOUT.placed)
    long = " ".join(["a long name"] * 12)
    _, root, words = drawn(replace(LAYOUT, hides=(hide,), placed=placed), title=long)
    shown = [e for e in root.iter(f"{SVG}text") if e.get("text-anchor", "start") == "start"]
    for one in shown:
        size, bold = float(one.get("font-size", "")), one.get("font-weight") is not None
        assert float(one.get("x", "")) + text_width(one.text or "", size, bold=bold) <= 1200, one.text
    rows = {one.get("y"): one for one in shown if str(one.text).startswith("cut off and keep")}
    beside = [one for one in shown if str(one.text).startswith("clear in it")]
    assert beside
    for one in beside:
        before = rows[one.get("y")]
        ends = float(before.get("x", "")) + text_width(before.text or "", 12)
        assert ends < float(one.get("x", "")) - 60  # where its line begins
    assert " ".join(words[:2]) == long


def test_a_flaw_over_the_edge_is_drawn_only_on_the_hide() -> None:
    _, root, _ = drawn()
    paths = list(root.iter(f"{SVG}path"))
    hide = next(e for e in paths if e.get("class") == "hide")
    top = parse_path(hide.get("d")).bbox()[2]
    loose = [e for e in on_hides(root) if e.get("fill") == "url(#loose)"]
    assert loose
    assert all(parse_path(e.get("d")).bbox()[2] >= top for e in loose)
    outline = shapely.Polygon([(s.start.real, s.start.imag) for s in parse_path(hide.get("d"))])
    for e in loose:
        shape = shapely.Polygon([(s.start.real, s.start.imag) for s in parse_path(e.get("d"))])
        assert outline.buffer(0.01).contains(shape)


@pytest.mark.parametrize("turn", [0.0, 0.4, math.pi, -2.0])
def test_outlines_keep_their_arcs_and_lie_where_the_layout_puts_them(turn: float) -> None:
    contour = Placement(turn, 300.0, 200.0).apply(STRAP.outline)
    frame = Frame(-50.0, 900.0, 30.0, 80.0, 0.5)
    data = path_data(frame.contour(contour), down=True)
    assert data.count("A") == 4  # two corners, and the tip's half turn in two
    path = parse_path(data)
    x0, y0, x1, y1 = contour.bounding_box
    assert np.allclose(
        path.bbox(),
        (30 + (x0 + 50) / 2, 30 + (x1 + 50) / 2, 80 + (900 - y1) / 2, 80 + (900 - y0) / 2),
        atol=0.002,
    )


@pytest.mark.parametrize("turn", [0.0, 0.3, math.pi / 2, 2.5, math.pi, -1.8])
@pytest.mark.parametrize("scale", [0.25, 0.5, 1.1])
@pytest.mark.parametrize("number", ["", "7", "188"])
def test_words_stay_inside_their_part_and_are_never_upside_down(
    turn: float, scale: float, number: str
) -> None:
    for part in (STRAP, STRIP, strap("a-belt-with-a-very-long-name", 400.0), strap("n", 900.0, 12.0)):
        placed = PlacedPart(part, "side 7", Placement(turn, 900.0, 400.0))
        frame = Frame(0.0, 900.0, 30.0, 80.0, scale)
        label = lettered(placed, frame, number)
        if label is None:
            assert not number
            continue
        assert abs(label.turn) <= 90.0
        wide, high = text_width(label.words, label.size) / 2, label.size * 0.4
        box = np.array([(-wide, -high), (wide, -high), (wide, high), (-wide, high)])
        c, s = math.cos(math.radians(label.turn)), math.sin(math.radians(label.turn))
        turned = box @ np.array([[c, s], [-s, c]]) + (label.x, label.y)
        corners = to_polygon(placed.placement.apply(part.outline), 0.05)
        outline = shapely.Polygon([frame.point(x, y) for x, y in corners])
        assert outline.contains(shapely.Polygon(turned))


def test_it_renders_1200_px_wide_with_the_parts_where_they_belong() -> None:
    picture, root, _ = drawn()
    png = bytes(resvg_py.svg_to_bytes(svg_string=picture, dpi=96, font_family="DejaVu Sans"))
    assert png.startswith(b"\x89PNG")
    assert int.from_bytes(png[16:20], "big") == 1200
    assert int.from_bytes(png[20:24], "big") == int(root.get("height", "0"))


def test_hides_are_drawn_to_one_scale_below_each_other_and_an_unused_one_is_named() -> None:
    second = replace(side(), name="side 8")
    third = replace(side(), name="side 9")
    placed = (*LAYOUT.placed[:2], replace(LAYOUT.placed[2], hide="side 8"))
    layout = replace(LAYOUT, hides=(side(), second, third), placed=placed)
    picture, _, words = drawn(layout)
    assert "Not needed: side 9." in words
    hides = re.findall(r'<path class="hide" d="([^"]*)"', picture)
    tops = [parse_path(data).bbox() for data in hides]
    assert len(tops) == 2
    assert tops[0][3] < tops[1][2]
    assert tops[0][1] - tops[0][0] == pytest.approx(tops[1][1] - tops[1][0])


def test_a_layout_with_nothing_placed_is_still_drawn() -> None:
    layout = replace(
        LAYOUT, placed=(), unplaced=tuple(UnplacedPart(p, "no space left") for p in (STRAP, MATE))
    )
    _, _, words = drawn(layout)
    assert words[1].startswith("0 of 2 parts placed")
    assert f"{STRAP.id}, {MATE.id}: no space left" in words
