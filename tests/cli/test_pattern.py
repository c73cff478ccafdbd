"""`strapwright pattern` as a maker calls it."""

from __future__ import annotations

import json

import pikepdf
from tests.cli.runner import BATCH, ONE, run


def test_it_writes_a_pdf_and_says_what_is_on_which_sheet(tmp_path):
    out = tmp_path / "pattern.pdf"
    result = run("pattern", ONE, "--paper", "a4", "--out", out)
    assert "2 sheets at true size" in result.stdout
    assert "measure the check bars before you cut" in result.stdout
    with pikepdf.open(out) as pdf:
        assert len(pdf.pages) == 2
    run("pattern", ONE, "--paper", "letter", "--whole", "--out", out)  # its own file may be written over
    with pikepdf.open(out) as pdf:
        assert len(pdf.pages) == 6


def test_json_leaves_stdout_pure_and_tells_each_sheet(tmp_path):
    out = tmp_path / "pattern.pdf"
    result = run(
        "pattern", BATCH, "--paper", "a4", "--belt", "ines", "--belt", "wren", "--out", out, "--json"
    )
    told = json.loads(result.stdout)
    assert {belt for sheet in told["sheets"] for belt in sheet["belts"]} == {"ines", "wren"}
    assert [sheet["sheet"] for sheet in told["sheets"]] == list(range(1, len(told["sheets"]) + 1))
    assert told["files"] == [str(out)]
    assert told["version"] == 1
    shown = told["sheets"][0]["shown"][0]
    assert shown["part"] == "ines/strap"
    assert shown["from_mm"] < 0 < shown["to_mm"]


def test_a_file_of_someone_elses_stays_without_force(tmp_path):
    out = tmp_path / "pattern.pdf"
    out.write_text("my own")
    result = run("pattern", ONE, "--paper", "a4", "--out", out, status=1)
    assert "strapwright did not write it; --force overwrites it" in result.stderr
    assert out.read_text() == "my own"
    run("pattern", ONE, "--paper", "a4", "--out", out, "--force")
    assert out.read_bytes().startswith(b"%PDF")


def test_what_cannot_be_is_told_in_one_line_and_nothing_is_written(tmp_path):
    out = tmp_path / "pattern.pdf"
    for arguments, told in (
        (("--paper", "a5"), 'error: paper: found "a5", expected a4, letter, legal, a3, or a roll'),
        (
            ("--paper", "a4", "--belt", "halvar"),
            'error: belt: found "halvar", expected one of the job\'s; did you mean',
        ),
        (("--paper", "a4", "--correct", "100:50"), "error: correct: 100 printed as 50 is a scale of 200 %"),
    ):
        result = run("pattern", ONE, *arguments, "--out", out, status=1)
        assert result.stderr.startswith(told)
        assert len(result.stderr.splitlines()) == 1
        assert not out.exists()


def test_another_suffix_than_pdf_is_a_wrong_call(tmp_path):
    result = run("pattern", ONE, "--paper", "a4", "--out", tmp_path / "pattern.svg", status=2)
    assert "a pattern is a PDF" in result.stderr


def test_a_name_that_comes_to_lie_at_a_join_finds_room_beside_its_marks(tmp_path):
    # of this small collar the first sheet ends where the dee ring's bar is marked
    job = tmp_path / "collar.toml"
    job.write_text(
        '[leather]\nthickness = "2 mm"\ntannage = "vegetable"\n[[belt]]\nid = "kit"\n'
        'size = { girth = "150 mm" }\nbuckle = { for_strap = "12 mm", bar_diameter = "2.5 mm", '
        'frame_depth = "12 mm", prong_width = "2 mm", prong_thickness = "2 mm" }\n'
        'holes = { count = 5, spacing = "10 mm" }\nkeeper = { width = "8 mm" }\n'
        'dee = { bar_diameter = "2.5 mm", width = "12 mm" }\nfastener = "rivet"\n'
        'fastener_holes = { diameter = "3 mm" }\n'
    )
    ended = run("pattern", job, "--paper", "a4", "--out", tmp_path / "p.pdf")
    assert ended.exit_code == 0, ended.output
