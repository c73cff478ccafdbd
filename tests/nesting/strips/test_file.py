"""Strips files: what is read, what is refused with one line, and what is written back."""

from __future__ import annotations

import pytest

from strapwright.core.errors import FileProblems
from strapwright.nesting.hide.types import FlawKind
from strapwright.nesting.strips.file import read_strips, strips_to_toml
from strapwright.nesting.strips.types import Strip, StripFlaw
from strapwright.rules.leather import Tannage

HEAD = "id,width,length,quantity,thickness,flaws,better_end\n"


def read(tmp_path, text, name="s.csv"):
    path = tmp_path / name
    path.write_text(text, "utf-8")
    return read_strips([path])


def problem_of(tmp_path, text, name="s.csv"):
    with pytest.raises(FileProblems) as error:
        read(tmp_path, text, name)
    return [line.removeprefix(f"{tmp_path / name}: ") for line in error.value.problems]


def test_a_table_of_strips_is_read_with_inches_and_flaws(tmp_path):
    row = 'A;1 1/2;96 in;3;9 oz;"hole 10 in - 11 in; mark 20-21 mm"'
    text = f"name;width (in);length;qty;thickness;flaws\n{row}\n"
    (strip,) = read(tmp_path, text)
    assert (strip.id, strip.width, strip.quantity) == ("A", pytest.approx(38.1), 3)
    assert strip.length == pytest.approx(2438.4)
    assert strip.thickness == pytest.approx(3.571875)
    assert strip.flaws == (StripFlaw(FlawKind.HOLE, 254.0, 279.4), StripFlaw(FlawKind.MARK, 20.0, 21.0))


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("A,3,2400,1,,,", "line 2: width: found 3 (a bare number is millimetres), expected 5 mm to 500 mm"),
        ("A,38,,1,,,", "line 2: length: missing"),
        ("A,38,2400,0,,,", "line 2: quantity: found 0, expected 1 or more"),
        ("A,38,2400,1,,hole 20,", 'line 2: flaws: found "hole 20", expected stretches such as'),
        ("A,38,2400,1,,hole 40 to 20,", 'line 2: flaws: found "hole 40 to 20", expected two places'),
        ("A,38,400,1,,hole 390 to 420,", "line 2: flaws: found a hole up to 420 mm on a strip 400 mm long"),
        ("A,38,2400,1,,,tip", 'line 2: better_end: found "tip"'),
        ("A,38,2400,1,,,\nA,32,2400,1,,,", 'found the id "A" twice, expected each just once'),
        ("", "line 1: found no strips below the column names"),
    ],
)
def test_every_mistake_is_one_line_that_says_what_where_and_what_is_allowed(tmp_path, row, said):
    (found,) = problem_of(tmp_path, f"{HEAD}{row}\n")
    assert found.startswith(said)


def test_a_missing_column_and_a_wrong_ending_are_said_once(tmp_path):
    assert problem_of(tmp_path, "id,width\nA,38\nB,38\n") == ["line 1: no column length; add it"]
    assert problem_of(tmp_path, "id\n", "s.txt") == ['found ".txt", expected a strips file: .csv or .toml']
    assert problem_of(tmp_path, "", "s.toml") == ["strip: missing, expected [[strip]] tables"]


def test_a_folder_is_all_its_files_by_name(tmp_path):
    (tmp_path / "b.csv").write_text("id,width,thickness,length\nB,38 mm,3 mm,1000 mm\n", "utf-8")
    (tmp_path / "a.toml").write_text(strips_to_toml([Strip("A", 38.0, 900.0)]), "utf-8")
    (tmp_path / "notes.txt").write_text("no strips", "utf-8")
    assert [strip.id for strip in read_strips([tmp_path])] == ["A", "B"]
    (tmp_path / "empty").mkdir()
    with pytest.raises(FileProblems, match="found a folder without strips, expected"):
        read_strips([tmp_path / "empty"])


def test_what_is_written_reads_back_as_the_same_strips(tmp_path):
    strips = [
        Strip(
            "A 1", 38.0, 1010.5, 3.6, Tannage.VEGETABLE, 2, (StripFlaw(FlawKind.LOOSE, 1.25, 40.0),), "end"
        ),
        Strip("B", 32.0, 500.0, parent="C #2"),
    ]
    found = read(tmp_path, strips_to_toml(strips), "left.toml")
    source = str(tmp_path / "left.toml")
    assert [strip.source for strip in found] == [source, source]
    assert [strips_to_toml([strip]) for strip in found] == [strips_to_toml([strip]) for strip in strips]
