"""A hide is worked out once, and anew when one of its files changes; what is kept may be thrown away."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

import pytest

from strapwright.files.user_folders import cache_folder
from strapwright.page.leather.stock import StockList
from strapwright.page.sheet.shop import Shop

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


def read_again(shop: Path) -> list[int]:
    """The files that a new list has to read."""
    read: list[int] = []
    StockList(Shop(shop)).rows(lambda number, _: read.append(number))
    return read


def test_a_hide_is_read_once_and_again_when_it_changes(folder: Path):
    assert read_again(folder) == [0]
    assert read_again(folder) == []
    path = folder / "hides/side-7.toml"
    path.write_text(path.read_text("utf-8").replace('"3.6 mm"', '"4 mm"'), "utf-8")
    assert read_again(folder) == [0]
    assert StockList(Shop(folder)).rows()[0].thicknesses == (4.0,)


def test_a_table_that_a_hide_names_counts_as_well(folder: Path):
    (folder / "hides/tape.csv").write_text("station,low,high\n0,0,500\n900,0,520\n", "utf-8")
    (folder / "hides/taped.toml").write_text('[hide]\nname = "taped"\nstations = "tape.csv"\n', "utf-8")
    assert read_again(folder) == [0, 1]
    (folder / "hides/tape.csv").write_text("station,low,high\n0,0,500\n950,0,520\n", "utf-8")
    assert read_again(folder) == [1]


def test_a_bad_hide_is_listed_last_with_its_mistakes_and_other_files_are_not(folder: Path):
    (folder / "hides/a.toml").write_text('[hide]\nname = "a"\n', "utf-8")
    (folder / "hides/notes.toml").write_text("[notes]\n", "utf-8")
    good, bad = StockList(Shop(folder)).rows()
    assert (good.name, good.wrong) == ("side 7", ())
    assert good.picture.startswith("<?xml")
    assert (bad.file, bad.picture) == ("a.toml", "")
    assert "expected exactly one of" in bad.wrong[0]


def test_what_is_kept_may_be_lost_or_spoilt(folder: Path):
    assert read_again(folder) == [0]
    (kept,) = cache_folder("stock").glob("*.json")
    for text in ("{", '{"version": 0}', '{"version": 1, "hides": {"side-7.toml": 3}}'):
        kept.write_text(text, "utf-8")
        assert read_again(folder) == [0]


def test_hides_that_another_tab_has_worked_out_meanwhile_are_still_to_come(folder: Path):
    stock = StockList(Shop(folder))

    class Between:
        """A lock after which another tab has its turn before one goes on."""

        def __init__(self) -> None:
            self._lock, self._turns = threading.Lock(), iter([stock.rows])

        def __enter__(self) -> None:
            self._lock.acquire()

        def __exit__(self, *_: object) -> None:
            self._lock.release()
            for turn in self._turns:
                turn()

    stock._lock = Between()  # type: ignore[assignment]
    first = stock.rows_within(0.0)
    assert (first.rows, first.left) == ([], 1)
    assert [row.name for row in stock.rows_within(0.0, after=first.number).rows] == ["side 7"]
