"""Drawings on PDF pages and as PNG: the same lines, arcs and words as the SVG they come from."""

from __future__ import annotations

import math
import re
import struct
from pathlib import Path
from xml.etree import ElementTree

import pypdfium2
import pytest

from strapwright import api
from strapwright.core.errors import OutputError
from strapwright.drawing.belt.draft import drawing_pages
from strapwright.drawing.layout.parts import PATTERNS
from strapwright.drawing.png import png_of
from strapwright.drawing.svg import svg
from strapwright.drawing.svg_to_pdf import contours_of, drawing_pdf

EXAMPLES = Path(__file__).parents[2] / "examples"
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
        for element in ElementTree.fromstring(text.encode()).iter(SPACE + "text"):
            told = element.text.translate({0x2032: "'", 0x2300: "Ø", 0xA0: " "})
            assert told.split(" ")[0] in found


def test_a_drawing_is_drawn_as_lines_and_not_as_a_picture(goods):
    for page in pypdfium2.PdfDocument(api.drawing(goods, ".pdf")):
        kinds = {item.type for item in page.get_objects()}
        assert 3 not in kinds  # an image
        assert {1, 2} <= kinds  # text and paths


def test_every_hatch_of_our_pictures_is_drawn_on_a_page_and_none_like_another():
    hatches = re.findall(r'<pattern id="(\w+)"', PATTERNS)
    assert len(hatches) == 4
    shown = {_page_with('fill="none"')}
    for hatch in hatches:
        shown.add(_page_with(f'fill="url(#{hatch})"'))
    assert len(shown) == 1 + len(hatches)


def _page_with(fill):
    shape = f'<rect x="9" y="9" width="70" height="40" stroke="#000000" {fill}/>'
    svg = f'<svg xmlns="{SPACE[1:-1]}" viewBox="0 0 90 60">{shape}</svg>'
    return pypdfium2.PdfDocument(drawing_pdf([svg], "hatched"))[0].render().to_numpy().tobytes()


@pytest.mark.parametrize(
    ("data", "length"),
    [
        ("M0,0L3,4", 5.0),
        ("M 1 1 h 2 v 3", 5.0),
        ("M0,0A10,10 0 0 1 20,0", math.pi * 10),
        ("M0,0A10,10 0 0 0 10,-10Z", math.pi * 5 + math.hypot(10, 10)),
        ("M 0 0 H 4 m -1 -1 l 1 1 l -1 1", 4 + 2 * math.sqrt(2)),
    ],
)
def test_paths_keep_their_length(data, length):
    assert sum(run.length for run in contours_of(data)) == pytest.approx(length)


def test_an_arc_turns_the_way_svg_says():
    (over,) = contours_of("M0,0A10,10 0 0 1 20,0")  # flag 1: clockwise on the screen, so over the top
    assert over.bounding_box == pytest.approx((0, -10, 20, 0))


def test_a_png_is_twice_as_large_as_its_drawing_is_in_px(goods):
    text = svg(drawing_pages(goods)[0])
    width, height = struct.unpack(">II", png_of(text)[16:24])
    assert width == 2000
    assert height == 2 * float(ElementTree.fromstring(text.encode()).get("height"))


def test_a_drawing_too_tall_for_one_png_is_refused_with_what_to_do():
    one = api.draft(api.read_job(EXAMPLES / "autumn-batch.toml"))
    from dataclasses import replace

    many = replace(one, belts=one.belts * 3)
    with pytest.raises(OutputError, match=r"a PNG is made up to 12000 px: take \.pdf"):
        api.drawing(many, ".png")
