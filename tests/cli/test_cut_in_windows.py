"""Cutting on a bed shorter than the strap, from the command line: touches, windows, long edges by hand."""

from __future__ import annotations

import json
import re

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
    names = sorted(path.name for path in (folder / "out").glob("*.svg"))
    assert names == [f"Halvards-work-belt-Long-strip-window-{n}-of-6.svg" for n in range(1, 7)]
    sheet = (folder / "out" / "Halvards-work-belt-sheet.txt").read_text("utf-8")
    assert "Hide Long strip, window 2 of 6\n" in sheet
    assert "  1. Move the hide on by 250.00 mm to the left.\n" in sheet
    assert "Unless it sits exactly as drawn, a cut may run through a flaw." in sheet.replace("\n    ", " ")
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
    said = " ".join(said.split())
    assert "point 1400, 0 mm of the hide file at x 1420, y 16.5 mm from the front left corner" in said
    assert "between the touches the file has 1400.00 mm, the machine 1400.00 mm, 0.00 mm more" in said
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


FULL = SHORT.replace(
    '["svg", "dxf"]', '["svg", "gcode", "hpgl"]\norigin = "back_left"\nmax_power = 1000'
) + "".join(
    f'\n[operation.{name}]\nlayer = "{name}"\ncolor = "#00000{n}"\nspeed_mm_s = 20\npower_percent = 50\n'
    for n, name in enumerate(("cut", "score", "punch"))
)


def test_a_window_is_written_anew_from_its_holes_beside_the_others(folder):
    (folder / "short.toml").write_text(FULL)
    cut(folder)
    out = folder / "out"
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    sheet = (out / "Halvards-work-belt-sheet.txt").read_text("utf-8")
    third = sheet.split("window 3 of 6\n")[1]
    (_, x0, y0), (_, x1, y1) = re.findall(r"([AB]) at x ([\d.]+), y ([\d.]+) mm from the back left", third)[
        :2
    ]
    again = ("--layout", out / "layout.json", "--window", "3")
    holes = ("--touch", f"A={float(x0) + 0.5:.2f},{y0}", "--touch", f"b = {float(x1) + 0.5:.2f} , {y1}")
    said = " ".join(cut(folder, *again, *holes).output.split())
    assert "registration hole A at x" in said
    after = {path.name: path.read_bytes() for path in out.iterdir()}
    assert {name: after[name] for name in before} == before
    stem = "Halvards-work-belt-Long-strip-window-3-of-6"
    ends = (".svg", ".nc", "-outline.nc", ".plt", "-outline.plt", "-sheet.txt")
    assert after.keys() - before.keys() == {f"{stem}-touched{end}" for end in ends}
    moves = [
        re.findall(r"G0 X([\d.]+)", text[f"{stem}{end}.nc"].decode())
        for text, end in ((before, ""), (after, "-touched"))
    ]
    assert [float(b) - float(a) for a, b in zip(*moves, strict=True)] == pytest.approx(
        [0.5] * len(moves[0]), abs=0.02
    )
    # The holes are visited with the tool off, each by a file of its own.
    for hole, x, y in (("A", x0, y0), ("B", x1, y1)):
        code = before[f"{stem}-hole-{hole}.nc"].decode()
        [place] = re.findall(r"^G0 X([\d.]+) Y([\d.]+)$", code, re.MULTILINE)
        assert [float(v) for v in place] == pytest.approx([float(x), float(y)], abs=0.006)
        assert not re.search(r"^(M3|M4|G1|G2|G3)\b", code, re.MULTILINE)
        [place] = re.findall(r"^PU(\d+),(\d+);$", before[f"{stem}-hole-{hole}.plt"].decode(), re.MULTILINE)
        assert [int(v) / 40 for v in place] == pytest.approx([float(x), float(y)], abs=0.02)


def test_a_window_that_would_not_fit_to_the_others_is_refused(folder):
    cut(folder)
    again = ("--layout", folder / "out" / "layout.json", "--window", "2")
    result = cut(folder, *again, "--touch", "A=22,40", "--touch", "B=22,45", status=1)
    assert "the two points are" in result.output
    sheet = (folder / "out" / "Halvards-work-belt-sheet.txt").read_text("utf-8")
    places = re.findall(r"([AB]) at x ([\d.]+), y ([\d.]+) mm", sheet)[:2]
    holes = [word for name, x, y in places for word in ("--touch", f"{name}={x},{y}")]
    result = cut(folder, *again, *holes, "--touch", "0,0=20,15", "--touch", "1400,0=1420,16.5", status=1)
    said = " ".join(result.output.split())
    assert "would now be different, so the window would not fit what is already cut" in said
    (folder / "out" / "Halvards-work-belt-Long-strip-window-1-of-6.svg").unlink()
    result = cut(folder, *again, *holes, status=1)
    assert "window-1-of-6.svg: not there; --window writes one window again" in " ".join(result.output.split())
    assert not list((folder / "out").glob("*touched*"))


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (("--window", "2"), "give --window, A and B, or none of them"),
        (("--touch", "A=1,2", "--touch", "B=1,90"), "give --window, A and B, or none of them"),
        (
            ("--window", "2", "--touch", "A=1,2"),
            "found registration holes A, expected both A and B, once each",
        ),
        (("--window", "2", "--touch", "A=1,2", "--touch", "B=1,90"), "--window needs --layout"),
        (("--window", "0", "--touch", "A=1,2", "--touch", "B=1,90"), "0 is not in the range"),
    ],
)
def test_a_window_to_write_anew_wants_both_holes_and_its_layout(folder, more, message):
    assert message in " ".join(cut(folder, *more, status=2).output.split())


def test_long_edges_are_left_to_the_strap_cutter(folder):
    said = " ".join(cut(folder, "--long-edges-by-hand").output.split())
    assert "long edges are left to the strap cutter" in said
    names = {path.name for path in (folder / "out").glob("*.svg")}
    assert "Halvards-work-belt-Long-strip-window-1-of-6-lay-by.svg" in names


def test_help_tells_the_coupon_of_both_ends_from_long_edges_by_hand():
    said = " ".join(run("cut", "--help").output.split())
    assert "--ends-only Only the last 150 mm" in said
    assert "--long-edges-by-hand Leave the long edges to the strap cutter" in said


@pytest.mark.parametrize(("kind", "begins"), [("svg", b"<?xml"), ("png", b"\x89PNG"), ("pdf", b"%PDF")])
def test_a_picture_of_the_cuts_is_written_where_asked(folder, kind, begins):
    cut(folder, "--picture", folder / f"cuts.{kind}")
    assert (folder / f"cuts.{kind}").read_bytes().startswith(begins)
    if kind == "pdf":
        import pypdfium2

        assert len(pypdfium2.PdfDocument(folder / "cuts.pdf")) == 6


def test_a_picture_is_not_written_in_another_kind_nor_as_svg_among_cut_files(folder):
    said = cut(folder, "--picture", folder / "cuts.jpg", status=1).output
    assert 'found ".jpg", expected a name that ends in .svg, .png or .pdf' in " ".join(said.split())
    said = cut(folder, "--picture", folder / "out" / "cuts.svg", status=2).output
    assert "an SVG beside cut files may be cut by mistake; take .png or .pdf, or another folder" in " ".join(
        said.split()
    )
    assert not (folder / "out").exists()
    cut(folder, "--picture", folder / "out" / "cuts.png")
