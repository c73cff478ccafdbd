"""Cutting on a bed shorter than the strap, from the command line: touches, windows, long edges by hand."""

from __future__ import annotations

import json

import pytest
from tests.cli.runner import EXAMPLES, run

ONE = EXAMPLES / "one-belt.toml"

STRIP = """
[hide]
name = "Long strip"
thickness = "3.6 mm"
points = [[0, 0], [1500, 0], [1500, 160], [0, 160]]

[[flaw]]
kind = "mark"
at = [1300, 130]
size = "20 mm"
"""

SHORT = """
version = 2

[machine]
name = "short laser"
kind = "laser"
bed = [300, 200]
pass_through = true
formats = ["svg", "dxf"]
rapid_mm_s = 200
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "strip.toml").write_text(STRIP)
    (tmp_path / "short.toml").write_text(SHORT)
    return tmp_path


def cut(folder, *more, status=0, **given):
    machine, hide = (given.get(k, folder / f"{n}.toml") for k, n in (("machine", "short"), ("hide", "strip")))
    return run(
        "cut", ONE, "--hide", hide, "--machine", machine, "--kerf", "0.2", "--steps", "1",
        "--out", folder / "out", *more, status=status,
    )  # fmt: skip


def test_a_strap_longer_than_the_bed_is_cut_in_numbered_files(folder):
    said = cut(folder).output
    assert "greatest gap 0.000" in said
    names = sorted(path.name for path in (folder / "out").glob("*.svg") if path.name != "layout.svg")
    assert names == [f"Halvards-work-belt-Long-strip-window-{n}-of-6.svg" for n in range(1, 7)]
    sheet = (folder / "out" / "Halvards-work-belt-sheet.txt").read_text("utf-8")
    assert "Hide Long strip, window 2 of 6\n" in sheet
    assert "  Hide moved on by 250.000 mm towards lower x\n" in sheet
    assert "unless it lies exactly as drawn, that its flaw is avoided is a guess" in sheet.replace(
        "\n    ", " "
    )
    assert "time at the machine" in said
    assert "assumed for the time" in said


def test_json_tells_time_and_windows(folder):
    told = json.loads(cut(folder, "--json").stdout)
    time = told["time"]
    assert time["total_s"] == pytest.approx(sum(time["operations_s"].values()) + time["travel_s"], abs=0.01)
    assert sum(one["total_s"] for one in time["sheets"]) == pytest.approx(time["total_s"], abs=0.01)
    assert set(time["operations_s"]) >= {"cut", "score"}
    assert "acceleration 500 mm/s²" in time["assumed"]
    assert [window["number"] for window in told["windows"]] == list(range(1, 7))
    assert len(told["windows"][1]["holes_mm"]) == 2
    assert {proof["format"] for proof in told["window_proofs"]} == {"svg", "dxf"}
    assert max(proof["greatest_gap_mm"] for proof in told["window_proofs"]) <= 0.001


def test_two_touches_place_the_hide_and_end_the_caution(folder):
    said = cut(folder, "--touch", "0,0=20,15", "--touch", " 1400 , 0 = 1420, 16.5 ").output
    assert "(1400, 0) at (1420, 16.5) mm" in " ".join(said.split())
    assert "was not measured" not in said
    told = json.loads(
        cut(folder, "--touch", "0,0=20,15", "--touch", "1400,0=1420,16.5", "--json", "--force").stdout
    )
    assert all(0 <= proof["touch_miss_mm"] < 0.001 for proof in told["proofs"])


@pytest.mark.parametrize(
    ("touches", "status", "message"),
    [
        (("0,0=20,15",), 2, "given 1 times, expected twice or not at all"),
        (("0,0=20,15", "1400=1420,16"), 2, 'found "1400=1420,16", expected a point of the hide and where'),
        (("0,0=20,15", "a,0=1420,16"), 2, 'found "a,0=1420,16", expected'),
        (("0,0=20,15", "1400,0=1440,15"), 1, "1400.00 mm apart on the hide and 1420.00 mm on the machine"),
    ],
)
def test_touches_that_cannot_be_are_refused(folder, touches, status, message):
    more = [word for touch in touches for word in ("--touch", touch)]
    result = cut(folder, *more, status=status)
    assert message in " ".join(result.output.split())
    assert not (folder / "out").exists()


def test_long_edges_are_left_to_the_strap_cutter(folder):
    said = " ".join(cut(folder, "--long-edges-by-hand").output.split())
    assert "long edges are left to the strap cutter" in said
    names = {path.name for path in (folder / "out").glob("*.svg")}
    assert "Halvards-work-belt-Long-strip-window-1-of-6-lay-by.svg" in names


def test_help_tells_the_coupon_of_both_ends_from_long_edges_by_hand():
    said = " ".join(run("cut", "--help").output.split())
    assert "--ends-only Just the last 150 mm" in said
    assert "--long-edges-by-hand Leave the long edges to the strap cutter" in said
