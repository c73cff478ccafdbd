"""What reaches the terminal or the next program: encodings, full disks, narrow screens, interruptions."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pytest
from tests.cli.runner import BATCH, ONE, SIDE, run

from strapwright.cli.terminal import report
from strapwright.core.findings import Finding, Severity

pytestmark = pytest.mark.slow

COMMAND = Path(sys.executable).with_name("strapwright")
HEADS = ("belt", "width", "blank", "tip")
CELLS = [("spare-crew", "44.0", "1234.5", "english point"), ("wren", "32.0", "987.6", "round")]


def started(*arguments, encoding="utf-8", **more):
    environment = os.environ | {"PYTHONIOENCODING": encoding}
    return subprocess.run([COMMAND, *arguments], env=environment, stderr=subprocess.PIPE, check=False, **more)


def job_named(folder, name):
    job = folder / "job.toml"
    job.write_text(Path(ONE).read_text("utf-8").replace('id = "halvard"', f'id = "{name}"'), "utf-8")
    (folder / "catalogue.toml").write_bytes(Path(ONE).with_name("catalogue.toml").read_bytes())
    return job


@pytest.mark.parametrize("encoding", ["ascii", "utf-8"])
def test_json_keeps_every_letter_whatever_the_stream_can_carry(tmp_path, encoding):
    done = started("draft", job_named(tmp_path, "Žofie"), "--json", encoding=encoding, stdout=subprocess.PIPE)
    assert json.loads(done.stdout)["belts"][0]["id"] == "Žofie"


def test_signs_an_encoding_lacks_are_put_in_plain_letters():
    text = started("draft", ONE, "--explain", encoding="latin-1", stdout=subprocess.PIPE).stdout
    assert "pi (r + K t)" in text.decode("latin-1")
    assert "?" not in text.decode("latin-1")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("arguments", [("draft", ONE), ("draft", ONE, "--json"), ("schema", "hide")])
def test_a_full_disk_behind_stdout_is_one_line_and_exit_1(arguments):
    with open("/dev/full", "w") as full:
        done = started(*arguments, stdout=full)
    assert done.returncode == 1
    assert done.stderr.decode() == "error: cannot print: no space left on device\n"


@pytest.mark.skipif(os.name != "posix", reason="a shell closes the stream")
def test_a_closed_stdout_is_no_fault():
    done = subprocess.run(["sh", "-c", f"'{COMMAND}' draft '{ONE}' >&-"], stderr=subprocess.PIPE, check=False)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.skipif(os.name != "posix", reason="a shell closes the stream")
@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (f"draft '{ONE}'", 0, ""),
        ("measure buckle", 1, "stopped; nothing was written\n"),
        (f"send '{ONE}' --machine wide-laser --to /dev/null", 1, "error: "),
    ],
)
def test_a_closed_stdin_is_one_line_where_something_is_to_be_typed(arguments, status, said, tmp_path):
    done = subprocess.run(
        ["sh", "-c", f"'{COMMAND}' {arguments} <&-"],
        cwd=tmp_path,
        capture_output=True,
        check=False,
        text=True,
    )
    assert done.returncode == status
    assert said in done.stderr
    assert len(done.stderr.splitlines()) <= 1


def test_a_terminal_too_narrow_for_the_figures_gets_a_list_for_each_row(monkeypatch, capsys):
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "30")
    report.print_table("straps, mm", [dict(zip(HEADS, row, strict=True)) for row in CELLS])
    assert capsys.readouterr().out == (
        "straps, mm\n\n"
        "belt spare-crew\n  width  44.0\n  blank  1234.5\n  tip    english point\n\n"
        "belt wren\n  width  32.0\n  blank  987.6\n  tip    round\n\n"
    )


def test_a_terminal_just_wide_enough_breaks_words_and_never_figures(monkeypatch, capsys):
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "42")
    report.print_table("straps, mm", [dict(zip(HEADS, row, strict=True)) for row in CELLS])
    text = capsys.readouterr().out
    assert "1234.5" in text
    assert "english" in text
    assert "english point" not in text


def test_no_figure_of_a_wide_table_is_broken_on_the_way_to_a_file():
    text = run("draft", BATCH, "--units", "in").stdout
    data = json.loads(run("draft", BATCH, "--json").stdout)
    for belt in data["belts"]:
        length = Fraction(round(belt["blank_length_mm"] / 25.4 * 32), 32)
        whole, rest = divmod(length, 1)
        assert f" {whole} {rest} " in text
    assert len([line for line in text.splitlines() if "–" in line]) == len(data["belts"])


def test_a_table_without_heads_has_no_empty_line_for_them(capsys):
    report.print_pairs("cut", [("kerf", "0.2 mm")])
    assert [line.strip() for line in capsys.readouterr().out.splitlines() if line.strip()] == [
        "cut",
        "kerf   0.2 mm",
    ]


def test_findings_that_differ_in_their_belt_alone_are_told_once(capsys):
    strain = [Finding("fold-strain", Severity.CAUTION, "It may crack.", "Skive.", name) for name in "abc"]
    other = Finding("tip", Severity.NOTE, "It is short.", "Lengthen it.", "b")
    whole = Finding("gap", Severity.NOTE, "The gap grew.", "Nothing to do.")
    report.print_findings([strain[0], other, strain[1], strain[1], whole, strain[2]])
    assert capsys.readouterr().out == (
        "findings\n\n"
        " severity  of       what was seen, and what to do\n"
        " caution   a, b, c  It may crack. Skive.\n"
        " note      b        It is short. Lengthen it.\n"
        " note               The gap grew. Nothing to do.\n\n"
    )


def test_every_stage_of_a_cut_is_told_once_on_stderr_and_never_on_stdout(tmp_path):
    run("nest", ONE, "--hide", SIDE, "--steps", "1")  # lest it has to be compiled, which is told as well
    done = run(
        *("cut", ONE, "--hide", SIDE, "--machine", "wide-laser", "--out", tmp_path, "--steps", "3", "--json")
    )
    assert done.stderr.splitlines() == [
        "laying the parts on 1 hide …",
        "planning the cuts, writing the files and reading them back …",
    ]
    assert json.loads(done.stdout)["version"] == 1


def test_drafting_says_how_far_it_is_only_once_it_has_taken_a_second(capsys, monkeypatch):
    now = iter([0.0, 0.5, 1.5])
    monkeypatch.setattr("time.monotonic", lambda: next(now))
    with report.drafting() as progress:
        for done in range(4):
            progress(done, 4)
    out, err = capsys.readouterr()
    assert (out, err) == ("", "drafting 4 belts …\n")


@pytest.mark.parametrize(
    "words",
    [
        ("cut", ONE, "--hide", SIDE, "--machine", "wide-laser", "--out", ""),
        ("nest", ONE, "--hide", SIDE, "--out", ""),
        ("nest", ONE, "--hide", SIDE, "--remnants", " "),
        ("card", ONE, "--record", ""),
        ("draft", ONE, "--drawing", ""),
        ("start", ""),
        ("draft", ""),
    ],
)
def test_an_empty_name_is_refused_before_anything_is_done(words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    said = run(*words, status=2).stderr
    assert "found an empty name, expected that of a file or folder" in said
    assert not list(tmp_path.iterdir())
