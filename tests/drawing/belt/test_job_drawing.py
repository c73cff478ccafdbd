"""The drawing: what it says, that nothing lies on anything else, and that it is the strap's own shape."""

from __future__ import annotations

import itertools
import re
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from tests.drawing.rendered import drawing_svg

from strapwright.drawing.belt.strap import severed
from strapwright.drawing.text import FAMILY, Box, text_box, text_width, wrapped
from strapwright.files.atomic_write import MARK
from strapwright.files.validate import validate
from strapwright.job.draft import draft
from strapwright.job.end_pieces import only_ends
from strapwright.job.spec.job import Job
from strapwright.rules.safety import cautions

SPACE = "{http://www.w3.org/2000/svg}"
UNITS = ("mm", "in")
TIPS = ("english_point", "round", "spear", "square", "bridle_point")


def buckle(width, kind="single"):
    """A buckle of each kind for a strap width, in proportion to it."""
    made = {
        "for_strap": width,
        "bar_diameter": 3.0 + width / 25,
        "frame_depth": 0.85 * width,
        "prong_width": 2.0 + width / 20,
        "prong_thickness": 2.0 + width / 25,
    }
    if kind == "double":
        return made | {"prongs": 2, "prong_spacing": 0.42 * width}
    if kind == "hook":
        return made | {"prongs": 0, "hook_depth": 0.5 * width}
    if kind == "centre":
        return made | {"bar": "centre", "rear_depth": 0.7 * width}
    return made


def belt(name, width=38.0, kind="single", **more):
    usual = {
        "id": name,
        "size": {"girth": 900.0},
        "buckle": buckle(width, kind),
        "keeper": {"width": max(6.0, width / 2)},
    }
    if kind == "centre":
        usual.pop("keeper")
    return usual | more


def drafted(*belts, thickness=3.2, name="trial"):
    data = {
        "job": {"name": name},
        "leather": {"thickness": thickness, "tannage": "vegetable"},
        "belt": list(belts),
    }
    return draft(validate(Job, data, "trial.toml"))


def parsed(svg):
    return ElementTree.fromstring(svg.encode())


def texts(root):
    return [element.text for element in root.iter(SPACE + "text")]


def boxes(root):
    """Every text with the room it takes, read from the written file."""
    return [
        (
            element.text,
            text_box(
                element.text,
                float(element.get("x")),
                float(element.get("y")),
                float(element.get("font-size")),
                anchor=element.get("text-anchor", "start"),
                bold=element.get("font-weight") == "bold",
                turned=element.get("transform", "").startswith("rotate(-90 "),
            ),
        )
        for element in root.iter(SPACE + "text")
    ]


def lines(root):
    return [
        tuple(float(element.get(key)) for key in ("x1", "y1", "x2", "y2"))
        for element in root.iter(SPACE + "line")
    ]


def leather(root, *kinds):
    """The box round each piece of leather, from the ends of its lines and arcs; of the blanks, or others."""
    for element in root.iter(SPACE + "path"):
        if set(kinds or ("leather",)) & set(element.get("class").split()):
            ends = re.findall(r"(-?[\d.]+),(-?[\d.]+)(?=[LAZ]|$)", element.get("d"))
            xs, ys = [float(x) for x, _ in ends], [float(y) for _, y in ends]
            yield Box(min(xs), min(ys), max(xs), max(ys))


def clashes(svg):
    """What lies on what, in words."""
    root = parsed(svg)
    width, height = float(root.get("width")), float(root.get("height"))
    told = boxes(root)
    found = [
        f"{text!r} leaves the drawing"
        for text, box in told
        if box.x0 < 0 or box.y0 < 0 or box.x1 > width or box.y1 > height
    ]
    drawn, pieces = lines(root), list(leather(root, "leather", "layer", "second"))
    rooms = shapely.STRtree([shapely.box(box.x0, box.y0, box.x1, box.y1) for _, box in told])

    def near(ends):
        """A text, its box and a number, for each text near a rectangle given by two opposite corners."""
        for number, k in rooms.query(shapely.linestrings(np.reshape(ends, (-1, 2, 2)))).T:
            yield *told[k], k, number

    for other, other_box, k, number in near([(box.x0, box.y0, box.x1, box.y1) for _, box in told]):
        if k < number and other_box.meets(told[number][1]):
            found.append(f"{other!r} lies on {told[number][0]!r}")
    for text, box, _, number in near(drawn):
        if box.is_crossed(*drawn[number]):
            found.append(f"{text!r} lies on a line {drawn[number]}")
    for text, box, _, number in near([(piece.x0, piece.y0, piece.x1, piece.y1) for piece in pieces]):
        if box.meets(pieces[number]):
            found.append(f"{text!r} lies on the leather")
    return found


KINDS = [("single", width) for width in (20, 25, 32, 38, 44, 52, 60)]
KINDS += [("double", width) for width in (38, 45, 52, 60)]
KINDS += [(kind, width) for kind in ("hook", "centre") for width in (20, 30, 38, 50, 60)]


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "width"), KINDS)
def test_no_label_lies_on_another_nor_on_a_line_nor_on_the_leather(kind, width):
    # Each tip with one count after the other, in either unit on every other strap.
    for n, tip in enumerate(TIPS, KINDS.index((kind, width))):
        count, units = (3, 7, 11)[n % 3], UNITS[n % 2]
        found = drafted(belt("trial", float(width), kind, tip=tip, holes={"count": count}))
        assert clashes(drawing_svg(found, units=units)) == [], (tip, count, units)


def test_belts_one_below_the_other_keep_clear():
    belts = [belt(f"{kind} {width}", float(width), kind) for kind, width in KINDS]
    assert clashes(drawing_svg(drafted(*belts))) == []


@pytest.mark.parametrize(
    "more",
    [
        {"fastener": "stitched"},
        {"fastener_holes": {"rows": 1}},
        {"fastener_holes": {"rows": 1, "across": 1, "diameter": 3.0}, "keeper": "none"},
        {"fastener_holes": {"diameter": 8.0}},
        {"fastener": "snap", "leather": {"thickness": 1.6}},  # two sizes of hole, 15 mm apart
        {"fastener": "rivet", "crease": {"distance": 3.0}},
        {"keeper": {"width": 40.0, "join": "lap", "lap": 30.0, "thickness": 2.0}},
        {"keeper": {"width": 5.0}},
        {"holes": {"count": 1}},
        {"holes": {"count": 2, "spacing": 9.0}},
        {"size": {"girth": 200.0}, "holes": {"count": 3, "spacing": 12.0, "last_to_tip": 40.0}},
        {"holes": {"count": 3, "spacing": 9.0, "last_to_tip": 45.0}},
        {"holes": {"count": 15, "spacing": 40.0}},
        {"turn_back": 180.0},
        {"corner_radius": 19.0},
        {"size": {"girth": 260.0}, "holes": {"count": 1}},
        {"size": {"girth": 3000.0}},
        {"quantity": 120, "id": "a belt whose id takes forty characters!!"},
        {"id": "WWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWW"},
        {"id": "剣" * 40},
    ],
    ids=str,
)
@pytest.mark.parametrize("width", [28.0, 38.0, 48.0])
def test_unusual_belts_are_drawn_without_a_clash(more, width):
    if more.get("corner_radius", 0) > width / 2:
        more = {"corner_radius": width / 2}
    found = drafted(belt("odd", width) | more, thickness=5.0)
    for units in UNITS:
        assert clashes(drawing_svg(found, units=units)) == [], units


def test_every_dimension_a_maker_needs_is_told():
    found = drafted(belt("ines", 52.0, "double", tip="english_point", holes={"count": 7, "spacing": 25.0}))
    told = texts(parsed(drawing_svg(found)))
    got, strap = found.belts[0].figures, found.belts[0].strap
    row_a, row_b = got.end.rows
    mate_a, mate_b = got.end.mates
    for expected in (
        f"turn-back {got.end.turn_back:.0f}",
        f"A {row_a:g}",
        f"B {round(row_b, 1):g}",
        f"A′ {round(-mate_a, 1):g}",
        f"B′ {round(-mate_b, 1):g}",
        f"2 slots {got.end.slot[0]:g} × {got.end.slot[1]:g}",
        "strap 52",
        f"fold to hole in use {round(got.hole_in_use, 1):g}",
        "6 × 25 (= 150)",
        f"last hole to tip {got.last_to_tip:g}",
        f"blank {round(found.belts[0].blank_length, 1):g}",
        f"14 × ⌀{strap.holes.diameter:g}",
        "8 × ⌀5.26",  # the 1/4 in post's barrel of 3/16 in, and 0.5 mm
        "2 × R4",
        "fold line",
        "point 52",
        "join mark 4",
        f"{round(got.keeper_length, 1):g}",
    ):
        assert expected in told
    assert told.count(f"{round(strap.holes.across, 1):g} apart") == 2  # slots and hole rows alike


def test_the_girths_it_fits_are_told_with_how_sure_they_are():
    told = texts(parsed(drawing_svg(drafted(belt("ines", 40.0)))))
    (first,) = (k for k, text in enumerate(told) if text.startswith("Fits waists or girths"))
    assert "±\xa010\xa0mm" in told[first]  # never broken over two lines
    assert " ".join(told[first].split()).endswith(" mm, ± 10 mm.")


def test_a_hook_buckle_has_no_slot_and_a_stitched_end_no_rows():
    told = texts(parsed(drawing_svg(drafted(belt("plain", kind="hook", fastener="stitched")))))
    assert not [text for text in told if "slot" in text or text.startswith(("A ", "B ", "A′", "B′"))]


def test_the_keeper_is_left_out_where_the_buckle_serves_as_one():
    told = texts(parsed(drawing_svg(drafted(belt("centre", kind="centre")))))
    assert not [text for text in told if text.startswith("keeper, make")]
    assert "note:" in told


def test_findings_are_told_in_full_and_cautions_stand_elsewhere():
    found = drafted(belt("thick"), thickness=6.0)
    told = " ".join(texts(parsed(drawing_svg(found)))).replace("\N{NO-BREAK SPACE}", " ")
    assert found.findings
    for finding in found.findings:
        assert f"{finding.severity}: {finding.what} {finding.do}" in told
    assert cautions("bench")[0] not in told
    assert "Grain side up" in told


def test_pieces_keep_the_strap_s_own_shape_and_one_scale():
    found = drafted(belt("arcs", 40.0, tip="round", holes={"count": 5, "spacing": 25.0}))
    root = parsed(drawing_svg(found))
    pieces = [e.get("d") for e in root.iter(SPACE + "path") if e.get("class") == "leather cut"]
    end, tip, _keeper = list(leather(root))
    scale = (end.y1 - end.y0) / 40.0
    assert tip.y1 - tip.y0 == pytest.approx(end.y1 - end.y0)
    radii = {round(float(r) / scale, 6) for d in pieces for r in re.findall(r"A([\d.]+),", d)}
    assert radii == {4.0, 20.0}  # the buckle end's corners and the round tip, as true arcs
    rounds = [e.get("d") for e in root.iter(SPACE + "path") if e.get("class") == "hole cut"]
    rims = [re.findall(r"(-?[\d.]+),-?[\d.]+(?=[AZ])", d) for d in rounds if "L" not in d]
    centres = sorted((float(rim[0]) + float(rim[2])) / 2 for rim in rims if float(rim[0]) > tip.x0)
    steps = [(b - a) / scale for a, b in itertools.pairwise(centres)]
    assert steps == pytest.approx([25.0] * 4)


def test_a_severed_outline_loses_only_what_lies_between():
    strap = drafted(belt("cut", 40.0, tip="spear")).belts[0].strap
    whole = strap.outline
    left, right = severed(whole, 100.0, keep_left=True), severed(whole, 700.0, keep_left=False)
    assert left.length + right.length + 2 * 600.0 == pytest.approx(whole.length)
    assert left.bounding_box == pytest.approx((-strap.buckle_end.turn_back, -20.0, 100.0, 20.0))
    assert right.bounding_box == pytest.approx((700.0, -20.0, strap.span, 20.0))


def test_a_short_strap_is_drawn_whole():
    few = {"count": 3, "spacing": 12.0, "last_to_tip": 45.0}
    short = drafted(belt("wrist", 20.0, size={"girth": 200.0}, holes=few, fastener_holes={"rows": 1}))
    long = drafted(belt("waist", 20.0))
    assert len(list(leather(parsed(drawing_svg(short))))) == 2  # strap and keeper
    assert len(list(leather(parsed(drawing_svg(long))))) == 3


def test_it_repeats_byte_for_byte_and_carries_the_mark_once():
    found = drafted(belt("one"), belt("two", 25.0))
    assert drawing_svg(found) == drawing_svg(found)
    assert drawing_svg(found).count(MARK) == 1


def test_it_is_readable_and_knows_a_dark_screen():
    svg = drawing_svg(drafted(belt("one")))
    root = parsed(svg)
    assert root.get("width") == "1000"
    assert root.get("font-family") == FAMILY
    assert min(float(e.get("font-size")) for e in root.iter(SPACE + "text")) >= 9.0
    assert "@media screen and (prefers-color-scheme: dark)" in svg  # printed, it is light


def test_lines_differ_by_more_than_colour():
    style = parsed(drawing_svg(drafted(belt("one")))).find(SPACE + "style").text
    dashes = dict(re.findall(r"\.(\w+)\{[^}]*stroke-dasharray:([\d ]+)", style))
    assert set(dashes) == {"score", "centre", "fold"}
    assert len(set(dashes.values())) == 3


def test_names_with_markup_are_written_as_they_are():
    told = texts(parsed(drawing_svg(drafted(belt('<b> & "c"'), name="a < b & c"))))
    assert '<b> & "c"' in told
    assert "a < b & c" in told


# Advance widths of DejaVu Sans 2.37 and its bold, in 1/2048 em, read from the fonts' hmtx tables.
ADVANCES = {
    (465, 540): "′",
    (563, 627): "'",
    (569, 702): "ijl",
    (604, 762): "IJ",
    (651, 713): " \xa0",
    (651, 778): ",.·",
    (690, 748): "/\\|",
    (690, 819): ":;",
    (721, 891): "f",
    (739, 850): "-",
    (799, 936): "()[]",
    (803, 979): "t",
    (821, 934): "!",
    (842, 1010): "r",
    (942, 1067): '"',
    (1024, 1024): "_`–",
    (1024, 1071): "*",
    (1067, 1219): "s",
    (1075, 1192): "z",
    (1087, 1188): "?",
    (1126, 1214): "c",
    (1141, 1305): "L",
    (1151, 1315): "Ł",
    (1178, 1399): "F",
    (1186, 1362): "k",
    (1212, 1321): "x",
    (1212, 1335): "vy",
    (1233, 1233): "⌀",
    (1235, 1501): "P",
    (1251, 1397): "T",
    (1251, 1483): "Y",
    (1253, 1407): "oø",
    (1255, 1382): "a",
    (1260, 1389): "eé",
    (1294, 1399): "E",
    (1298, 1458): "hnuüñ",
    (1300, 1466): "bdgpq",
    (1300, 1475): "S",
    (1303, 1425): "$0123456789",
    (1303, 1458): "{}",
    (1343, 1587): "K",
    (1401, 1585): "AVÅ",
    (1403, 1485): "Z",
    (1403, 1579): "X",
    (1405, 1561): "B",
    (1423, 1577): "R",
    (1430, 1503): "C",
    (1499, 1663): "U",
    (1532, 1714): "N",
    (1540, 1714): "H",
    (1577, 1700): "D",
    (1587, 1681): "G",
    (1597, 1786): "&",
    (1612, 1741): "OQ",
    (1675, 1892): "w",
    (1716, 1716): "#+<=>^~×−",
    (1767, 2038): "M",
    (1946, 2052): "%",
    (1995, 2134): "m",
    (2011, 2146): "æ",
    (2025, 2259): "W",
    (2048, 2048): "@—…",
    (2191, 2390): "Œ",
}


def test_letters_are_as_wide_as_those_of_the_font_ours_is_made_from():
    each = [(character, *widths) for widths, characters in ADVANCES.items() for character in characters]
    assert len(each) > 100
    for character, plain, bold in each:
        assert text_width(character, 2048.0) == plain, character
        assert text_width(character, 2048.0, bold=True) == bold, character


def test_wrapped_text_fits_and_loses_no_word():
    text = "Hold the hide down flat over its whole length, Donaudampfschifffahrtsgesellschaft included."
    found = wrapped(text, 120.0, 12.0)
    assert all(text_width(line, 12.0) <= 120.0 for line in found)
    assert "".join(found).replace(" ", "") == text.replace(" ", "")


def test_of_a_graded_belt_the_ends_of_its_first_size_are_drawn():
    run = belt("crew") | {"sizes": [30, 32]}
    del run["size"]
    shown = drawing_svg(only_ends(drafted(run)), ends_only=True)
    assert "the two ends, to try in scrap" in shown
    assert shown.count(">buckle end<") == 1
