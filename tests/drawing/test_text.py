"""The font of all drawings: what it has, and that what is measured is what is shown."""

from __future__ import annotations

import io
from pathlib import Path

import matplotlib
import numpy as np
import pypdfium2
import pytest
from fontTools.ttLib import TTFont
from PIL import Image
from tests.write.patterns import drafted

from strapwright import api
from strapwright.core.errors import FileProblems
from strapwright.drawing.canvas import Canvas, Text
from strapwright.drawing.pdf import drawing_pdf
from strapwright.drawing.png import png_of
from strapwright.drawing.text import FAMILY, FONTS, font_of, text_width, usual_font

SOURCE = Path(__file__).parents[2] / "src" / "strapwright"
WORDS = "Gürtel ⌀ 4½ ± 0,3 mm × 12′ 6″ → Ремень Ζώνη Đặng Łącki"


def test_every_sign_of_our_own_words_is_in_it():
    signs = {sign for path in SOURCE.rglob("*.py") for sign in path.read_text("utf-8") if ord(sign) > 126}
    signs -= set("岡田☂─▀▄█")  # examples of what cannot be printed, and what a terminal alone shows
    assert len(signs) > 40
    assert usual_font().lacking("".join(sorted(signs))) == ()
    assert usual_font(bold=True).lacking("".join(sorted(signs))) == ()


def test_it_has_the_letters_of_europe_and_the_signs_of_drawings():
    letters = "".join(map(chr, (*range(0xC0, 0x180), *range(0x3B1, 0x3CA), *range(0x400, 0x460))))
    signs = "⌀±′″−×½¼¾⅛⅜⅝⅞→←↑↓°·…–—‘’“”„«»‹›≤≥≈₀²³ẞəøđħ€£₽№☐☑✓"
    for bold in (False, True):
        assert usual_font(bold=bold).lacking(letters + signs) == ()


@pytest.mark.parametrize(("bold", "source"), [(False, "DejaVuSans.ttf"), (True, "DejaVuSans-Bold.ttf")])
def test_its_file_and_its_measures_are_those_of_the_font_it_is_made_from(bold, source):
    ours, font = TTFont(usual_font(bold=bold).path), usual_font(bold=bold)
    theirs = TTFont(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / source)
    for made in (ours, theirs):
        glyphs, widths = made.getBestCmap(), made["hmtx"].metrics
        for letter, width in font.advances.items():
            assert width * 2048 == widths[glyphs[ord(letter)]][0], letter
    assert set(ours.getBestCmap()) == set(map(ord, font.advances))
    names = [str(record) for record in ours["name"].names if record.nameID in (1, 3, 4, 6)]
    assert names
    assert all(name.replace(" ", "").startswith("StrapwrightSans") for name in names)
    assert "Bitstream" in (FONTS / "LICENSE_DEJAVU").read_text("utf-8")
    assert usual_font(bold=bold).path.stat().st_size < 150_000


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("kind", ["pdf", "png"])
def test_a_text_is_as_wide_as_it_is_measured(kind, bold):
    """From the stem of one H to that of another after the words, on the finished picture."""
    canvas = Canvas(1000, 100, "words", [Text(f"H{WORDS}H", 20, 60, 20.0, bold=bold)])
    if kind == "png":
        image = Image.open(io.BytesIO(png_of(canvas, 4.0)))
    else:
        page = pypdfium2.PdfDocument(drawing_pdf([canvas], "words"))[0]
        image = page.render(scale=8).to_pil()
    dark = np.asarray(image.convert("L")) < 128
    columns = np.flatnonzero(dark.any(axis=0))
    scale = dark.shape[1] / 1000 if kind == "png" else 8 * 277 / 1000 * 72 / 25.4
    # Without the room beside the stems of the two H; a PDF says how wide letters are in whole thousandths.
    measured = text_width(f"H{WORDS}H", 20.0, bold=bold) - text_width("H", 20.0, bold=bold) + _ink("H", bold)
    assert (columns[-1] + 1 - columns[0]) / scale == pytest.approx(measured, rel=0.0015)


def _ink(letter: str, bold: bool) -> float:
    """Return how wide a letter's own shape is at size 20."""
    font = TTFont(usual_font(bold=bold).path)
    glyph = font["glyf"][font.getBestCmap()[ord(letter)]]
    return (glyph.xMax - glyph.xMin) * 20.0 / 2048


def test_svg_and_card_ask_for_it_and_then_for_its_like():
    assert FAMILY.split(",")[:2] == ["Strapwright Sans", "DejaVu Sans"]
    job = drafted("one-belt")
    assert f'font-family="{FAMILY}"' in api.drawing(job)
    read = api.read_job(Path(__file__).parents[2] / "examples" / "one-belt.toml")
    assert f"font:1rem/1.4 {FAMILY}}}" in api.card(read).html()


def test_a_letter_no_font_has_loses_its_marks_or_becomes_a_question_mark(tmp_path):
    font = usual_font()
    assert list(font.runs("A岡ᾳ")) == [(font, "A?α")]  # Greek with an iota below is not in it
    assert font.lacking("岡田 岡 ᾳ") == ("岡", "田", "ᾳ")
    assert font.lacking_where("Order of 岡田, in black") == "岡 田 in 岡田"
    assert font.lacking_where("Żofia Świątek-Łąck, Ćwierć") == ""


def test_what_a_font_of_ones_own_lacks_is_set_in_ours(tmp_path):
    own = font_of(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "STIXGeneral.ttf")
    lacking = next(letter for letter in usual_font().advances if letter not in own.advances)
    assert [(font is own, run) for font, run in own.runs(f"A{lacking}B")] == [
        (True, "A"),
        (False, lacking),
        (True, "B"),
    ]
    assert own.lacking(lacking) == ()
    with pytest.raises(FileProblems, match="expected a TrueType font"):
        font_of(tmp_path / "none.ttf")
