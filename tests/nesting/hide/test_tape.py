"""A hide by tape measure from a CSV file: read right, or refused line by line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from strapwright.core.errors import FileProblems
from strapwright.nesting.hide.file import read_hide, read_stations

if TYPE_CHECKING:
    from pathlib import Path

HIDE = '[hide]\nname = "a"\nstations = "tape.csv"\n'
GOOD = "x,y_low,y_high\n0,0,700\n1 m,0,800\n"


def test_a_csv_of_stations_is_the_same_hide_as_the_list(tmp_path: Path) -> None:
    (tmp_path / "tape.csv").write_text(
        "# measured on the long bench\n\nx,y_low,y_high\n0, 0, 70 cm\n1000,0,800\n,,\n"
        "1500,10,700\n1600,300,300\n"
    )
    (tmp_path / "a.toml").write_text(HIDE)
    (tmp_path / "b.toml").write_text(
        '[hide]\nname = "b"\nstations = [[0, 0, 700], [1000, 0, 800], [1500, 10, 700], [1600, 300, 300]]\n'
    )
    by_csv, by_list = read_hide(tmp_path / "a.toml"), read_hide(tmp_path / "b.toml")
    assert by_csv.outline.tolist() == by_list.outline.tolist()
    assert by_csv.area == 1000 * 750 + 500 * 745 + 100 * 345


@pytest.mark.parametrize("between", [",", ";", "\t"])
def test_columns_may_stand_in_any_order_with_any_usual_separator(tmp_path: Path, between: str) -> None:
    path = tmp_path / "tape.csv"
    path.write_text("Y_high,x,y_low\n700,0,5\n800,12 in,0\n".replace(",", between))
    assert read_stations(path) == ((0, 5, 700), (pytest.approx(304.8), 0, 800))


def test_the_digest_changes_with_the_csv(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text(HIDE)
    (tmp_path / "tape.csv").write_text("x,y_low,y_high\n0,0,700\n1000,0,800\n")
    before = read_hide(tmp_path / "a.toml").digest
    (tmp_path / "tape.csv").write_text("x,y_low,y_high\n0,0,700\n1000,0,801\n")
    assert read_hide(tmp_path / "a.toml").digest != before


BAD = {
    "nothing": ("# only a comment\n", ["found nothing, expected a line of column names: x, y_low, y_high"]),
    "no head": (
        "0,0,700\n1000,0,800\n",
        [
            "line 1: unknown column; expected one of x, y_low, y_high: found '0'",
            "line 1: unknown column; expected one of x, y_low, y_high: found '0'",
            "line 1: unknown column; expected one of x, y_low, y_high: found '700'",
            (
                "line 1: no column x and no y_low and no y_high, expected a line of column names: "
                "x, y_low, y_high"
            ),
        ],
    ),
    "cells": (
        "x,y_low,y_high\n0,0\n5,wide,7\n9,0,700\n",
        [
            "line 2: found 2 cells, expected 3",
            'line 3: found "wide", expected a length such as "44 mm" or "1 3/4 in"',
        ],
    ),
    "one station": ("x,y_low,y_high\n0,0,700\n", ["found 1 stations, expected at least 2"]),
    "order": (
        "x,y_low,y_high\n0,0,700\n0,9,700\n5,9,1\n",
        [
            "station 2: found x 0 mm after 0 mm; give the stations in the order of growing x",
            "station 3: found y_low 9 mm above y_high 1 mm; write [x, y_low, y_high]",
        ],
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_a_malformed_csv_is_refused_in_plain_lines(tmp_path: Path, name: str) -> None:
    text, expected = BAD[name]
    (tmp_path / "a.toml").write_text(HIDE)
    (tmp_path / "tape.csv").write_text(text)
    with pytest.raises(FileProblems) as caught:
        read_hide(tmp_path / "a.toml")
    assert [line.removeprefix(f"{tmp_path / 'tape.csv'}: ") for line in caught.value.problems] == expected


def test_stations_name_a_csv_file_that_is_there(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text(HIDE)
    with pytest.raises(FileProblems, match=r"tape\.csv: no such file"):
        read_hide(path)
    path.write_text(HIDE.replace(".csv", ".ods"))
    with pytest.raises(FileProblems, match=r'hide\.stations: found "tape\.ods", expected a list of'):
        read_hide(path)
    path.write_text('[hide]\nname = "a"\nstations = [[0, 0, 700]]\n')
    with pytest.raises(FileProblems, match=r"hide\.stations: found 1, expected 2 or more entries"):
        read_hide(path)
