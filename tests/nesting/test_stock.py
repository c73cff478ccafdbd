"""A folder of hides: which files are hides, and the longest strap of each."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from tests.nesting.workshop import side

from strapwright.core.errors import FileProblems, NestError
from strapwright.files.atomic_write import MARK, write_whole
from strapwright.nesting import stock as stock_module
from strapwright.nesting.hide.file import read_hide
from strapwright.nesting.hide.sound_leather import free_leather, longest_strap
from strapwright.nesting.hide.types import Flaw, FlawKind, Hide, disc
from strapwright.nesting.stock import read_stock

if TYPE_CHECKING:
    from pathlib import Path

GOOD = '[hide]\nname = "{}"\npoints = [[0, 0], [500, 0], [500, 400], [0, 400]]\n'
DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="500mm" height="400mm" viewBox="0 0 500 400">'
    '<rect id="outline" width="500" height="400"/></svg>'
)


def test_hides_are_told_from_other_files_and_bad_ones_by_name(tmp_path: Path) -> None:
    (tmp_path / "b.toml").write_text(GOOD.format("bee"))
    (tmp_path / "a.toml").write_text('[hide]\nname = "drawn"\noutline = "a.svg"\n')
    (tmp_path / "a.svg").write_text(DRAWING)
    (tmp_path / "c.svg").write_text(DRAWING)
    (tmp_path / "job.toml").write_text('[job]\nname = "x"\n')
    (tmp_path / "torn.toml").write_text("[hide\n")
    (tmp_path / "thin.toml").write_text('[hide]\nname = "x"\npoints = [[0, 0], [9, 0], [20, 0]]\n')
    (tmp_path / "notes.txt").write_text("not ours")
    write_whole({tmp_path / "sheet.svg": f"<svg><!-- {MARK} --></svg>"})
    stock = read_stock(tmp_path)
    assert [(one.path.name, one.hide.name) for one in stock.hides] == [
        ("a.toml", "drawn"),
        ("b.toml", "bee"),
        ("c.svg", "c"),
    ]
    assert [path.name for path, _ in stock.bad] == ["thin.toml", "torn.toml"]
    assert all("encloses nothing" in text for text in stock.bad[0][1])
    assert [(path.name, why) for path, why in stock.passed_over] == [
        ("a.svg", "part of a hide file"),
        ("job.toml", "no [hide] table"),
        ("sheet.svg", "drawn by strapwright"),
    ]
    for one in stock.hides:
        assert one.usable == pytest.approx(496 * 396)
        assert one.longest is not None
        assert one.longest.length == pytest.approx(496)


def test_a_folder_that_is_none_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileProblems, match="no such folder"):
        read_stock(tmp_path / "x")
    (tmp_path / "f").write_text("")
    with pytest.raises(FileProblems, match="a file, expected a folder"):
        read_stock(tmp_path / "f")


@pytest.mark.parametrize("turn", [0.0, 0.7, math.pi / 2])
@pytest.mark.parametrize("width", [20.0, 38.0, 90.0])
def test_the_longest_strap_lies_on_sound_leather_and_none_longer_does(turn: float, width: float) -> None:
    matrix = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    flat = side()
    hide = replace(
        flat,
        outline=flat.outline @ matrix,
        flaws=tuple(Flaw(flaw.kind, flaw.polygon @ matrix) for flaw in flat.flaws),
        strap_direction=turn,
    )
    strip = longest_strap(hide, width)
    assert strip is not None
    free = free_leather(hide, 2.0)
    assert free.buffer(1e-6).covers(shapely.Polygon(strip.corners))
    ends = np.diff(strip.corners, axis=0)
    assert np.hypot(*ends[0]) == pytest.approx(strip.length)
    assert math.remainder(math.atan2(ends[0][1], ends[0][0]) - turn, 2 * math.pi) == pytest.approx(
        0, abs=1e-9
    )
    # By sliding a strap a mm longer along every tenth row: it fits nowhere.
    upright = shapely.affinity.rotate(free, -math.degrees(turn), origin=(0, 0))
    x0, y0, x1, y1 = upright.bounds
    for y in np.arange(y0, y1 - width, 20.0):
        row = shapely.box(x0, y, x1, y + width)
        for left in np.arange(x0, x1 - strip.length - 1, 4.0):
            assert not upright.contains(shapely.box(left, y, left + strip.length + 1, y + width)), row


@pytest.mark.slow
def test_two_thousand_flaws_take_seconds() -> None:
    places = np.random.default_rng(0).uniform((60, 60), (2340, 1040), (2000, 2))
    flaws = tuple(Flaw(FlawKind.HOLE, disc(x, y, 6.0, 0.2)) for x, y in places.tolist())
    hide = Hide("spotted", np.array([(0, 0), (2400, 0), (2400, 1100), (0, 1100)]), flaws, 0.1)
    start = time.process_time()
    strip = longest_strap(hide, 38.0)
    # One on a quiet machine; a minute if each row asks all corners.
    assert time.process_time() - start < 8.0
    assert strip is not None
    assert free_leather(hide, 2.0).buffer(0.05).covers(shapely.Polygon(strip.corners))


def test_a_hide_too_narrow_for_the_strap_gives_none() -> None:
    low = Hide("low", np.array([(0, 0), (900, 0), (900, 41), (0, 41)]))
    assert longest_strap(low, 38.0) is None
    assert longest_strap(low, 37.0) is not None
    covered = replace(low, flaws=(Flaw(FlawKind.LOOSE, low.outline),))
    assert longest_strap(covered, 10.0) is None


def test_what_no_reader_foresaw_spoils_one_file_and_not_the_list(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("a", "b"):
        (tmp_path / f"{name}.toml").write_text(GOOD.format(name))

    def fails(path: Path) -> Hide:
        if path.stem == "b":
            raise NestError("hide b: a new kind of trouble")
        return read_hide(path)

    monkeypatch.setattr(stock_module, "read_hide", fails)
    stock = read_stock(tmp_path)
    assert [one.hide.name for one in stock.hides] == ["a"]
    assert stock.bad == ((tmp_path / "b.toml", (f"{tmp_path / 'b.toml'}: hide b: a new kind of trouble",)),)


def test_what_a_library_trips_over_spoils_one_file_and_not_the_list(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("a", "b"):
        (tmp_path / f"{name}.toml").write_text(GOOD.format(name))

    def fails(path: Path) -> Hide:
        if path.stem == "a":
            raise IndexError("index 7 is out of\nbounds")
        return read_hide(path)

    monkeypatch.setattr(stock_module, "read_hide", fails)
    stock = read_stock(tmp_path)
    assert [one.hide.name for one in stock.hides] == ["b"]
    path = tmp_path / "a.toml"
    why = "cannot be read (IndexError: index 7 is out of bounds); save or copy it again"
    assert stock.bad == ((path, (f"{path}: {why}",)),)
