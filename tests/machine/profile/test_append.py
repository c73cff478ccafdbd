"""Adding rows to a machine file: nothing else in it changes, and a shipped profile is never touched."""

from __future__ import annotations

import difflib
import tomllib
from datetime import date
from pathlib import Path

import pytest

from strapwright.core.errors import FileProblems
from strapwright.files.toml_rows import appended
from strapwright.machine.profile.machine import append_rows, profile_text, read_machine, shipped_profiles

ROW = {"material": "vegetable", "thickness": "3.6 mm", "width": "0.19 mm", "measured": date(2026, 5, 2)}
SCALE = {"x": 1.0012, "measured": date(2026, 5, 2)}
HEAD = '[machine]\nname = "m"\nkind = "laser"\nbed = [600, 400]\n'
PROFILES = Path(__file__).parents[3] / "profiles"


def added_lines(before: str, after: str) -> list[str]:
    lines = list(difflib.ndiff(before.splitlines(), after.splitlines()))
    assert not [line for line in lines if line.startswith("- ")]
    return [line[2:] for line in lines if line.startswith("+ ") and line[2:]]


@pytest.mark.parametrize("name", ["closed-laser", "small-laser", "wide-laser"])
def test_only_the_rows_are_added_and_every_comment_stays_with_what_it_is_about(name):
    before = profile_text(name)
    after = appended(before, [("kerf", ROW), ("scale", SCALE)])
    assert added_lines(before, after) == [
        "[[kerf]]",
        'material = "vegetable"',
        'thickness = "3.6 mm"',
        'width = "0.19 mm"',
        "measured = 2026-05-02",
        "[[scale]]",
        "x = 1.0012",
        "measured = 2026-05-02",
    ]
    about = next(line for line in before.splitlines() if line.startswith("[operation.cut]"))
    for text in (before, after):
        lines = text.splitlines()
        assert lines[lines.index(about) - 2].startswith("# ")
    assert appended(after, [("kerf", ROW)]).count("[[kerf]]") == before.count("[[kerf]]") + 2


def test_the_files_own_line_ends_and_byte_order_mark_stay(tmp_path):
    path = tmp_path / "m.toml"
    path.write_bytes(b"\xef\xbb\xbf" + HEAD.replace("\n", "\r\n").encode())
    append_rows(str(path), [("kerf", ROW)])
    data = path.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf[machine]\r\n")
    assert data.count(b"\n") == data.count(b"\r\n")
    assert read_machine(str(path)).kerf[0].width == 0.19


@pytest.mark.parametrize(
    "text",
    [
        HEAD,
        HEAD.rstrip("\n"),
        HEAD + "\n# the end\n",
        'kerf = [{ material = "chrome", thickness = 2, width = 0.1, measured = 2026-01-01 }]\n' + HEAD,
        "kerf = []\n" + HEAD,
        HEAD + '[[kerf]]\nmaterial = "chrome"\nthickness = 2\nwidth = 0.1\nmeasured = 2026-01-01 # old\n'
        '[serial]\nbaud = 9600\nhold = "a"\nresume = "b"\nreset = "c"\n',
    ],
)
def test_whatever_way_the_rows_are_written_one_more_can_follow(text, tmp_path):
    path = tmp_path / "m.toml"
    path.write_text(text, "utf-8")
    before = tomllib.loads(text)
    append_rows(str(path), [("kerf", ROW), ("scale", SCALE)])
    after = tomllib.loads(path.read_text("utf-8"))
    assert after["kerf"] == [*before.get("kerf", []), ROW]
    assert after["scale"] == [SCALE]
    assert {**after, "kerf": 0, "scale": 0} == {**before, "kerf": 0, "scale": 0}


def test_rows_scattered_among_other_tables_are_refused_and_the_file_stays(tmp_path):
    row = '[[kerf]]\nmaterial = "chrome"\nthickness = {}\nwidth = 0.1\nmeasured = 2026-01-01\n'
    path = tmp_path / "m.toml"
    text = row.format(2) + HEAD + row.format(3)
    path.write_text(text, "utf-8")
    with pytest.raises(FileProblems, match="scattered among other tables; put those of one kind together"):
        append_rows(str(path), [("kerf", ROW)])
    assert path.read_text("utf-8") == text


def test_a_row_the_file_would_be_wrong_with_is_refused_and_the_file_stays(tmp_path):
    path = tmp_path / "m.toml"
    text = HEAD + "[limits]\nleast_hole = 0.15\n"
    path.write_text(text, "utf-8")
    with pytest.raises(FileProblems, match=r"row 1 is 0\.19 mm wide and limits\.least_hole is 0\.15 mm"):
        append_rows(str(path), [("kerf", ROW)])
    assert path.read_text("utf-8") == text
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("name", shipped_profiles())
@pytest.mark.parametrize("by_path", [False, True])
def test_a_shipped_profile_is_never_written(name, by_path):
    source = str(PROFILES / f"{name}.toml") if by_path else name
    before = profile_text(name)
    with pytest.raises(FileProblems) as caught:
        append_rows(source, [("scale", SCALE)])
    assert f"strapwright machines copy {name} my-{name}.toml" in str(caught.value)
    assert profile_text(name) == before


def test_a_file_that_is_not_there_is_one_line(tmp_path):
    with pytest.raises(FileProblems, match="cannot be read: no such file"):
        append_rows(str(tmp_path / "no.toml"), [("kerf", ROW)])
