"""A canvas on a page, on a screen and as PNG: the same lines, arcs and words in each."""

from __future__ import annotations

import io
import math
import pathlib
import re
import struct
from xml.etree import ElementTree

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from svgpathtools import parse_path

from strapwright import api
from strapwright.core.errors import OutputError
from strapwright.drawing.belt.job_drawing import drawing_pages
from strapwright.drawing.canvas import Canvas, Circle, Group, Line, Path, Text
from strapwright.drawing.layout.flaws import FLAW_HATCHES
from strapwright.drawing.looks import SCOPE
from strapwright.drawing.pdf import MARGIN, POINTS_PER_MM, drawing_pdf
from strapwright.drawing.png import png_of
from strapwright.drawing.svg import element, svg
from strapwright.geometry.contour import Contour

EXAMPLES = pathlib.Path(__file__).parents[2] / "examples"
SPACE = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def goods():
    return api.draft(api.read_job(EXAMPLES / "strap-goods.toml"))


def test_every_belt_and_strap_has_an_a4_page_with_all_its_words(goods):
    pages = [svg(page) for page in drawing_pages(goods)]
    assert len(pages) == len(goods.belts) + len(goods.straps)
    document = pypdfium2.PdfDocument(api.drawing(goods, ".pdf"))
    assert len(document) == len(pages)
    for page, text in zip(document, pages, strict=True):
        short, long = sorted(page.get_size())
        assert (short, long) == (pytest.approx(595.2756, abs=0.01), pytest.approx(841.8898, abs=0.01))
        found = page.get_textpage().get_text_bounded().replace("\r\n", " ")
        for line in ElementTree.fromstring(text.encode()).iter(SPACE + "text"):
            told = line.text.translate({0xA0: " "})
            assert told.split(" ")[0] in found


def test_a_drawing_is_drawn_as_lines_and_not_as_a_picture(goods):
    for page in pypdfium2.PdfDocument(api.drawing(goods, ".pdf")):
        kinds = {item.type for item in page.get_objects()}
        assert 3 not in kinds  # an image
        assert {1, 2} <= kinds  # text and paths


def canvas(*items):
    return Canvas(90, 60, "trial", items)


def on_page(*items):
    """A canvas as its PDF shows it, 900 × 600, grey."""
    page = pypdfium2.PdfDocument(drawing_pdf([canvas(*items)], "trial"))[0]
    room = page.get_width() - 2 * MARGIN * POINTS_PER_MM
    image = page.render(scale=900 / room).to_pil().convert("L")
    left, top = (image.width - 900) // 2, round(MARGIN * POINTS_PER_MM * 900 / room)
    return np.array(image.crop((left, top, left + 900, top + 600)), dtype=float)


def on_screen(*items):
    """A canvas as its SVG shows it, 900 × 600, grey."""
    made = Image.open(io.BytesIO(png_of(canvas(*items), 10.0)))
    assert made.size == (900, 600)
    return np.array(made.convert("L"), dtype=float)


def square(look="scale", hatch=None):
    return Path((((9, 9), (79, 9), (79, 49), (9, 49)),), look, closed=True, hatch=hatch)


OVER = Contour([(10, 40, math.tan(math.pi / 8)), (50, 40, 0)], closed=False)  # y down: by the top


@pytest.mark.parametrize(
    "item",
    [
        Line(5, 5, 80, 50, "origin"),
        Line(5, 50, 80, 5, "fold"),
        Circle(40, 30, 20, "hole cut"),
        Path((OVER,), "cut"),
        Path((Contour([(20, 20, -0.4), (60, 20, 0.7), (60, 50, 0), (20, 50, 0)]),), "leather cut"),
        square("longest"),
        *(square(hatch=hatch) for hatch in FLAW_HATCHES.values()),
        Group((Circle(60, 40, 30, "entry"), square("flaw-loose", FLAW_HATCHES["hole"])), Path((OVER,), "")),
        Group((Circle(20, 10, 15, "entry"), Group((square("scale"),), x=5, y=-4)), x=20, y=15),
        Group((Circle(40, 20, 30, "entry"),), Path((OVER,), ""), x=12, y=-10),
        Text("HEH", 20, 40, 30),
        Text("HEH", 80, 40, 20, "end", turn=30),
        Text("HEH", 45, 30, 20, "middle", bold=True, turn=-90, look="grave"),
    ],
)
def test_page_and_screen_show_the_same(item):
    page, screen = on_page(item), on_screen(item)
    assert screen.min() < 200
    cells = [np.mean(image.reshape(60, 10, 90, 10), axis=(1, 3)) for image in (page, screen)]
    assert (
        np.abs(cells[0] - cells[1]).max() < 80
    )  # of 255, in squares of a px: a screen cuts a hatch's lines off at its squares
    assert np.mean(page) == pytest.approx(np.mean(screen), abs=0.02 * (255 - np.mean(screen)) + 0.2)


def test_hatches_are_known_apart():
    assert len(FLAW_HATCHES) == 4
    drawn = {on_page(square(hatch=hatch)).tobytes() for hatch in (None, *FLAW_HATCHES.values())}
    assert len(drawn) == 1 + len(FLAW_HATCHES)


def test_a_flaw_that_lies_off_its_hide_is_drawn_nowhere():
    nothing = Path((), "flaw-hole", closed=True, hatch=FLAW_HATCHES["hole"])
    assert on_page(nothing, square()).tobytes() == on_page(square()).tobytes()
    assert on_screen(nothing, square()).tobytes() == on_screen(square()).tobytes()


def test_an_arc_keeps_its_way_and_its_length():
    (data,) = (e.get("d") for e in drawn(Path((OVER,), "cut")).iter(SPACE + "path"))
    path = parse_path(data)
    assert path.bbox()[2] == pytest.approx(40 - OVER.bounding_box[3] + OVER.bounding_box[1], abs=1e-6)
    assert path.length() == pytest.approx(OVER.length)


def drawn(*items):
    return ElementTree.fromstring(svg(canvas(*items)).encode())


def test_looks_are_classes_of_the_one_style_sheet_and_nothing_else(goods):
    for root in (ElementTree.fromstring(svg(page).encode()) for page in drawing_pages(goods)):
        style = root.find(SPACE + "style").text
        used = {name for element in root.iter() for name in element.get("class", "").split()} - {SCOPE}
        assert used == set(re.findall(rf"(?m)^\.{SCOPE} \.([\w-]+){{", style.partition("@media")[0]))
        assert not [e for e in root.iter() if {"style", "stroke", "stroke-width"} & set(e.keys())]


def test_two_drawings_of_a_page_share_no_ids():
    hole, once = FLAW_HATCHES["hole"], FLAW_HATCHES["once"]
    made = canvas(square(hatch=hole), Group((square(hatch=once),), square()))
    ids = [re.findall(r'id="([^"]+)"', element(made, own=own)) for own in ("a-", "b-")]
    assert len(ids[0]) == len(ids[1]) == 3
    assert not set(ids[0]) & set(ids[1])
    for own, names in zip(("a-", "b-"), ids, strict=True):
        assert set(re.findall(r"url\(#([^)]+)\)", element(made, own=own))) == set(names)


def test_a_png_is_twice_as_large_as_its_drawing_is_in_px(goods):
    page = drawing_pages(goods)[0]
    width, height = struct.unpack(">II", png_of(page)[16:24])
    assert (width, height) == (2000, 2 * page.height)


def test_a_drawing_too_tall_for_one_png_is_refused_with_what_to_do():
    one = api.draft(api.read_job(EXAMPLES / "autumn-batch.toml"))
    from dataclasses import replace

    many = replace(one, belts=one.belts * 3)
    with pytest.raises(OutputError, match=r"a PNG is made up to 12000 px: take \.pdf"):
        api.drawing(many, ".png")
