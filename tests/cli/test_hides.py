"""``strapwright hides``: good hides listed, bad ones told, a sheet to look at."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from tests.cli.runner import EXAMPLES, run

if TYPE_CHECKING:
    from pathlib import Path

GOOD = '[hide]\nname = "bee"\nthickness = 3\npoints = [[0, 0], [500, 0], [500, 400], [0, 400]]\n'


def test_the_examples_are_listed_and_their_other_files_passed_over() -> None:
    data = json.loads(run("hides", EXAMPLES, "--json").stdout)
    named = {one["name"]: one for one in data["hides"]}
    assert data["bad"] == []
    assert named["side 14"]["area_mm2"] == 1_544_252.5
    assert named["side 14"]["flaws"] == ["hole", "hole", "mark", "mark", "loose"]
    assert named["side 14"]["usable_area_mm2"] < named["side 14"]["area_mm2"]
    assert any(one["file"].endswith("one-belt.toml") for one in data["passed_over"])


def test_a_bad_file_is_told_by_name_the_good_ones_listed_and_the_status_is_1(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text(GOOD)
    (tmp_path / "b.toml").write_text(GOOD.replace("[500, 400]", "[5, 5, 5]"))
    result = run("hides", tmp_path, "--strap-width", "100mm", "--margin", "0", status=1)
    assert "1 hide; 1 file not read" in result.stdout
    assert "bee" in result.stdout
    assert f"error: {tmp_path / 'b.toml'}: hide.points[3]: " in result.stderr
    data = json.loads(run("hides", tmp_path, "--strap-width", "4in", "--json", status=1).stdout)
    assert data["strap_width_mm"] == 101.6
    assert data["hides"][0]["longest_strap_mm"] == 496
    assert data["bad"][0]["file"].endswith("b.toml")


def test_an_empty_folder_says_what_a_hide_is_and_a_missing_one_is_refused(tmp_path: Path) -> None:
    assert run("hides", tmp_path).stdout == (
        "0 hides: a hide is a .toml file with a [hide] table, or a .dxf or .svg drawing\n"
    )
    assert run("hides", tmp_path / "x", status=1).output == f"error: {tmp_path / 'x'}: no such folder\n"


def test_a_sheet_is_written_as_svg_or_html_and_is_no_hide_itself(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text(GOOD)
    (tmp_path / "bad.toml").write_text("[hide]\nname = 3\n")
    for name in ("sheet.svg", "sheet.html"):
        run("hides", tmp_path, "--out", tmp_path / name, status=1)
        text = (tmp_path / name).read_text("utf-8")
        assert "bee" in text
        assert "bad.toml: hide.name: found 3, expected text" in text
        assert "strap 38 mm wide: up to 496 mm" in text
    ET.fromstring((tmp_path / "sheet.svg").read_text("utf-8"))
    again = run("hides", tmp_path, "--out", tmp_path / "sheet.svg", "--units", "in", status=1)
    assert "skipped, drawn by strapwright: sheet.svg" in again.stdout
    assert "area sq ft" in again.stdout.replace("\n", " ")
    assert "2.2 sq ft" in (tmp_path / "sheet.svg").read_text("utf-8")


def test_wrong_calls_say_what_is_allowed(tmp_path: Path) -> None:
    for arguments, message in (
        (("--strap-width", "0"), "found 0 mm, expected more than 0 mm, up to 1000 mm"),
        (("--margin", "-1"), "found -1 mm, expected 0 to 100 mm"),
        (("--out", "a.pdf"), 'found ".pdf", expected a file ending in .svg or .html'),
    ):
        assert message in run("hides", tmp_path, *arguments, status=2).output


def test_a_sheet_of_the_users_own_is_not_overwritten(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text(GOOD)
    (tmp_path / "mine.svg").write_text("<svg/>")
    result = run("hides", tmp_path, "--out", tmp_path / "mine.svg", status=1)
    assert "strapwright did not write it" in result.output
    assert (tmp_path / "mine.svg").read_text() == "<svg/>"
