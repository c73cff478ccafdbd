"""Mark sheets as printed: true size, crosses where they are measured, marks a reader knows."""

import cv2
import numpy as np
import pypdfium2
import pytest

from strapwright.photo.find_sheets import find_sheets
from strapwright.photo.mark_sheet import SIZES, mark_sheets

SCALE = 6  # px to a mm


@pytest.mark.parametrize("paper", SIZES)
def test_a_printed_sheet_is_found_with_its_crosses_true(paper: str) -> None:
    size = SIZES[paper]
    file = pypdfium2.PdfDocument(mark_sheets(size, 9))
    assert len(file) == 9
    for number in (1, 9):
        page = file[number - 1]
        assert np.array(page.get_size()) / 72 * 25.4 == pytest.approx(size.paper, abs=0.01)
        grey = np.asarray(page.render(scale=SCALE * 25.4 / 72).to_pil().convert("L"))
        (sheet,) = find_sheets(grey, size)
        assert sheet.number == number
        middle = np.array(size.paper) / 2
        scale = np.array(grey.shape[::-1]) / size.paper  # whole px of the page
        found = (sheet.crosses + 0.5) / scale * [1, -1] + [0, size.paper[1]] - middle
        assert np.abs(found - size.crosses).max() < 0.05


def test_a_sheet_says_what_to_do_and_what_to_measure() -> None:
    text = pypdfium2.PdfDocument(mark_sheets(SIZES["a4"]))[0].get_textpage().get_text_range()
    for words in ("Print at 100 %", "5 cm or more off its edge", "160 mm", "240 mm", "mark sheet 1 of 8"):
        assert words in text


def test_crosses_are_found_in_a_blurred_and_noisy_picture() -> None:
    size = SIZES["a4"]
    page = (
        pypdfium2.PdfDocument(mark_sheets(size, 8))[2].render(scale=1.4 * 25.4 / 72 * 4).to_pil().convert("L")
    )
    fine = np.asarray(page).astype(np.float32)
    chance = np.random.default_rng(0)
    shrunk = cv2.resize(fine, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    padded = cv2.copyMakeBorder(shrunk, 40, 40, 40, 40, cv2.BORDER_CONSTANT, value=90)
    seen = cv2.GaussianBlur(padded, (0, 0), 0.8) + chance.normal(0, 3, padded.shape)
    (sheet,) = find_sheets(np.clip(seen, 0, 255).astype(np.uint8), size)
    mm = (sheet.crosses - 40 + 0.5) / (np.array(shrunk.shape[::-1]) / size.paper) * [1, -1] + [
        0,
        size.paper[1],
    ]
    assert np.abs(mm - np.array(size.paper) / 2 - size.crosses).max() < 0.1
