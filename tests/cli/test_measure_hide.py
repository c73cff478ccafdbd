from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from site_pages import figures
from tests.cli.runner import EXAMPLES, run
from tests.photo.example import example
from tests.test_docs import MEASURED, OF_THE_PHOTOGRAPH, PAGES, run_page

from strapwright.api import photos

PHOTO = EXAMPLES / "side-7.jpg"


def refused(*arguments: str | Path, status: int = 1) -> str:
    return run(*arguments, status=status).output


def test_mark_sheets_are_printed_and_nothing_of_the_users_overwritten(tmp_path):
    out = tmp_path / "sheets.pdf"
    run("measure", "hide", "--sheets", "letter", "--count", "9", "--out", out)
    assert len(pypdfium2.PdfDocument(out)) == 9
    out.write_text("mine")
    assert "sheets.pdf" in refused("measure", "hide", "--sheets", "a4", "--out", out)
    assert out.read_text() == "mine"


@pytest.fixture(scope="module")
def measured_once():
    """Measure photographs of the same bytes, asked alike, only the first time."""
    measure, made = photos.measure_photos, {}

    def once(asked):
        photos = [photo.read_bytes() for photo in asked.photos if photo.exists()]
        alike = (repr(replace(asked, photos=())), *photos)
        if alike not in made:
            made[alike] = measure(asked)
        return made[alike]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(photos, "measure_photos", once)
        yield


@pytest.mark.usefixtures("measured_once")
def test_every_command_the_page_shows_can_be_run(tmp_path):
    run_page(next(page for page in PAGES if page.stem == MEASURED), tmp_path)


@pytest.fixture(scope="module")
def measured(tmp_path_factory, measured_once):
    folder = tmp_path_factory.mktemp("photo")
    arguments = ("--thickness", "3.4mm", "--correct", "240:240", "--backbone", "bottom")
    out = ("--out", folder / "side-7.toml", "--picture", folder / "side-7.png")
    return folder, json.loads(run("measure", "hide", PHOTO, *out, *arguments, "--json").stdout)


def test_the_example_is_measured_and_its_file_is_a_hide(measured):
    folder, said = measured
    assert said["sheets"] == list(range(1, 11))
    assert said["flaws"] == {"hole": 2, "mark": 2, "loose": 1}
    assert 0.5 < said["uncertainty_mm"] < 3.0
    text = (folder / "side-7.toml").read_text()
    assert text.startswith("# Measured from the photograph side-7.jpg.\n# Camera ")
    assert f'uncertainty = "{said["uncertainty_mm"]:.1f} mm" # 95 of 100 points' in text
    assert "# ringed in blue" in text
    true = max(np.hypot(*(example()[0].outline - point).T).max() for point in example()[0].outline)
    says = re.search(r"furthest apart: (\d+) mm, give or take (\d+) mm\.\n", text)
    assert says is not None
    assert abs(int(says[1]) - true) < int(says[2]) < 8
    listed = json.loads(run("hides", folder, "--json").stdout)["hides"]
    assert [one["name"] for one in listed] == ["side-7"]
    assert (folder / "side-7.png").read_bytes().startswith(b"\x89PNG")


def test_the_site_shows_the_photograph_and_what_was_measured(measured):
    folder, _ = measured
    shown = figures.photograph()
    assert list(shown) == OF_THE_PHOTOGRAPH
    photo, checked = shown.values()
    assert photo == PHOTO.read_bytes()
    unsigned, sign, _ = checked.partition(b"strapwright-")
    assert (folder / "side-7.png").read_bytes().startswith(unsigned + sign)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (("nothing.jpg",), "nothing.jpg: No such file or directory"),
        (("text.jpg",), "text.jpg: is no photograph that can be read; save it as a JPEG or PNG file"),
        (("cut.jpg",), "cut.jpg: is broken off or damaged"),
        (("small.png",), "small.png: is 40 × 30 px, 1200 px on the shorter side are the least"),
        (("huge.png",), "huge.png: has 400 megapixels, 64 are the most"),
        ((PHOTO, "--flaws", "pink=mark"), "--flaws: found the colour 'pink', expected one of blue, red"),
        ((PHOTO, "--flaws", "blue=scar"), "--flaws: found blue=scar, expected hole, void, mark or loose"),
        ((PHOTO, "--correct", "240"), 'correct: found "240", expected what a bar should measure'),
    ],
)
def test_what_cannot_be_measured_is_refused_in_one_line(tmp_path, monkeypatch, given, says):
    import zlib

    import cv2
    import numpy as np

    monkeypatch.setattr(photos, "in_bounds", lambda measured, asked, **_: measured(asked))
    monkeypatch.chdir(tmp_path)
    Path("text.jpg").write_text("no picture")
    Path("cut.jpg").write_bytes(PHOTO.read_bytes()[:300_000])
    cv2.imwrite("small.png", np.zeros((30, 40, 3), np.uint8))
    head = b"IHDR" + (20000).to_bytes(4, "big") * 2 + b"\x08\x02\x00\x00\x00"
    Path("huge.png").write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + (13).to_bytes(4, "big")
        + head
        + zlib.crc32(head).to_bytes(4, "big")
        + (0).to_bytes(4, "big")
        + b"IDAT"
        + zlib.crc32(b"IDAT").to_bytes(4, "big")
    )
    said = refused("measure", "hide", *given, "--out", "h.toml")
    assert says in said
    assert not Path("h.toml").exists()


def test_usage(tmp_path):
    said = refused("measure", "hide", "--out", tmp_path / "h.toml", status=2)
    assert "give a PHOTO, or print the mark sheets first" in said
    said = refused("measure", "hide", PHOTO, "--out", tmp_path / "h.svg", status=2)
    assert 'found ".svg", expected a file ending in .toml' in said
