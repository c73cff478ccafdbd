"""``strapwright kerf trial``: its files, each square at its own figures, and the sheet to tick."""

from __future__ import annotations

import json
import re

import pytest
from tests.cli.runner import run

from strapwright.machine.profile.machine import read_machine
from strapwright.write.readers.gcode import read_gcode


def runs_by_square(text: str) -> dict[int, list[str]]:
    """The lines of G-code of each square's own cut."""
    found: dict[int, list[str]] = {}
    square = 0
    for line in text.splitlines():
        if line.startswith("(run "):
            match = re.search(r"outline of square (\d+)", line)
            square = int(match[1]) if match else 0
        elif square:
            found.setdefault(square, []).append(line)
    return found


def test_g_code_drives_each_square_of_a_laser_at_its_own_figures(tmp_path):
    asked = (
        "--thickness",
        "3.6mm",
        "--speed",
        "5;10",
        "--power",
        "30;60,5",
        "--passes",
        "1",
        "--format",
        "gcode",
    )
    said = run("kerf", "trial", "--machine", "closed-laser", *asked, "--out", tmp_path / "t").output
    assert "60.5 %" in said
    assert "Never leave a running laser unattended" in said
    assert {path.name for path in (tmp_path / "t").iterdir()} == {
        "trial.nc",
        "trial-outline.nc",
        "trial-sheet.txt",
    }
    text = (tmp_path / "t" / "trial.nc").read_text("utf-8")
    most = read_machine("closed-laser").max_power
    for square, (speed, power) in enumerate([(5, 30), (5, 60.5), (10, 30), (10, 60.5)], 1):
        lines = runs_by_square(text)[square]
        assert f"M3 S{most * power / 100:.2f}" in lines
        assert any(line.endswith(f"F{60 * speed:.4f}") for line in lines)


def test_other_formats_have_a_file_for_each_square(tmp_path):
    asked = ("--thickness", "3.6mm", "--speed", "5;10", "--power", "30;60")
    said = run("kerf", "trial", "--machine", "wide-laser", *asked, "--out", tmp_path / "t").output
    names = {path.name for path in (tmp_path / "t").iterdir()}
    assert names == {f"trial-0{k}.{end}" for k in range(1, 5) for end in ("dxf", "svg")} | {"trial-sheet.txt"}
    assert "each has a file of its own: set layer 'cut'" in said


def test_a_knifes_squares_go_as_deep_as_they_say(tmp_path):
    asked = ("--thickness", "3mm", "--speed", "10;20", "--depth", "1,5;3.2")
    run("kerf", "trial", "--machine", "drag-knife", *asked, "--out", tmp_path / "t")
    machine = read_machine("drag-knife")
    text = (tmp_path / "t" / "trial.nc").read_text("utf-8")
    depths = {round(read.depth, 3) for read in read_gcode(text, machine.kind, machine.axes, machine)}
    assert depths == {1.5, 3.2, machine.blade.score_depth}
    for square, (speed, depth) in enumerate([(10, 1.5), (10, 3.2), (20, 1.5), (20, 3.2)], 1):
        lines = runs_by_square(text)[square]
        assert any(line.startswith(f"G1 Z-{depth:.4f}") for line in lines)
        assert any(line.endswith(f"F{60 * speed:.4f}") for line in lines)


def test_the_sheet_has_a_row_to_tick_for_each_square_and_its_cautions(tmp_path):
    run("kerf", "trial", "--machine", "drag-knife", "--thickness", "3mm", "--out", tmp_path / "k")
    sheet = (tmp_path / "k" / "trial-sheet.txt").read_text("utf-8")
    assert len(re.findall(r"^ +\d+ +[\d.]+ mm/s +[\d.]+ mm   \[ \] through", sheet, re.MULTILINE)) == 20
    assert "Keep the spindle off and locked" in sheet
    assert "Stop at the first square that drags the leather or bends the blade" in sheet
    run("kerf", "trial", "--machine", "closed-laser", "--thickness", "3mm", "--out", tmp_path / "l")
    sheet = (tmp_path / "l" / "trial-sheet.txt").read_text("utf-8")
    assert "stay with it: the last squares are the hottest" in sheet
    assert "watch for fire, with an extinguisher within reach" in sheet
    assert "Run the extraction" in sheet
    assert "strapwright kerf coupon" in sheet


def test_as_json_it_is_json_alone(tmp_path):
    asked = ("--thickness", "3.6mm", "--speed", "5", "--power", "30;60", "--format", "svg", "--json")
    told = json.loads(run("kerf", "trial", "--machine", "wide-laser", *asked, "--out", tmp_path).stdout)
    assert [square["power_percent"] for square in told["squares"]] == [30, 60]
    assert told["columns"] == 2


@pytest.mark.parametrize(
    ("more", "message", "status"),
    [
        ((), "give --thickness", 2),
        (("--thickness", "3mm", "--speed", "fast"), 'found "fast", expected figures such as 10;20;40', 2),
        (("--thickness", "3mm", "--speed", "10,20,40"), "several with semicolons: 10;20;40", 2),
        (("--thickness", "3mm", "--power", "0"), "--power 0 %: expected 0.1 to 100 %", 1),
    ],
)
def test_what_cannot_be_is_refused_in_one_line_and_nothing_is_written(tmp_path, more, message, status):
    asked = ("kerf", "trial", "--machine", "wide-laser", *more, "--out", tmp_path / "t")
    assert message in run(*asked, status=status).output
    assert not (tmp_path / "t").exists()
