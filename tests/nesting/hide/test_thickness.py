"""Hides that are not of one thickness: each part lies where the leather is as thick as it wants it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from tests.nesting.workshop import keeper, strap

from strapwright.core.errors import NestError
from strapwright.geometry.polygon import to_polygon
from strapwright.geometry.transform import Placement
from strapwright.nesting.hide.file import read_hide
from strapwright.nesting.hide.file_text import hide_to_toml
from strapwright.nesting.hide.types import Hide, ThicknessZone
from strapwright.nesting.layout.verify import verify
from strapwright.nesting.solver.nest import nest
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from pathlib import Path

SQUARE = np.array([(0, 0), (1300, 0), (1300, 400), (0, 400)])
LOW = ThicknessZone(2.4, np.array([(0, 0), (1300, 0), (1300, 150), (0, 150)]))
HIDE = Hide("bend", SQUARE, thickness=3.6, thickness_zones=(LOW,))


def heights(layout, thickness: float) -> list[float]:
    return [
        float(to_polygon(one.placement.apply(one.part.outline), 0.02)[:, 1].min())
        for one in layout.placed
        if one.part.thickness == thickness
    ]


def test_parts_lie_where_the_leather_is_as_thick_as_they_want_it() -> None:
    parts = [strap(f"thick{n}") for n in range(3)] + [strap(f"thin{n}", thickness=2.4) for n in range(2)]
    parts += [keeper("thin", thickness=2.4), keeper("thick")]
    layout = nest(parts, [HIDE], steps=3)
    assert not layout.unplaced
    assert min(heights(layout, 3.6)) >= 150
    low = shapely.Polygon(LOW.polygon)
    for one in layout.placed:
        outline = shapely.Polygon(to_polygon(one.placement.apply(one.part.outline), 0.02))
        share = outline.intersection(low).area / outline.area
        assert share == pytest.approx(1.0 if one.part.thickness == 2.4 else 0.0)


def test_a_hide_not_measured_but_in_one_place_takes_any_part_elsewhere() -> None:
    hide = replace(HIDE, thickness=None)
    layout = nest([strap(f"s{n}") for n in range(3)], [hide], steps=2)
    assert not layout.unplaced
    assert min(heights(layout, 3.6)) >= 150


def test_more_parts_of_a_thickness_than_its_zone_holds_stay_unplaced() -> None:
    layout = nest([strap(f"s{n}", thickness=2.4) for n in range(6)], [HIDE], steps=2)
    assert len(layout.placed) == 3  # 3 × 38 mm with gaps in 150 mm
    assert len(layout.unplaced) == 3
    assert layout.unplaced[0].reason.startswith("no space left")


def test_a_part_of_a_thickness_the_hide_has_nowhere_is_told_so() -> None:
    (left,) = nest([strap("s", thickness=5.0)], [HIDE], steps=1).unplaced
    assert "needs leather of 5 mm" in left.reason


def test_a_layout_over_leather_of_another_thickness_is_refused() -> None:
    layout = nest([strap("a")], [HIDE], steps=1)
    (placed,) = layout.placed
    low = replace(placed, placement=Placement(0.0, 90.0, 140.0))
    with pytest.raises(NestError, match=r"a/strap: needs leather of 3\.6 mm, bend is 2\.4 mm there"):
        verify(replace(layout, placed=(low,)))


def test_parts_are_laid_on_leather_of_their_own_tannage_alone(tmp_path: Path) -> None:
    path = tmp_path / "bend.toml"
    path.write_text(hide_to_toml(replace(HIDE, tannage=Tannage.CHROME)), "utf-8")
    chrome = replace(read_hide(path), name="chrome")
    assert chrome.tannage is Tannage.CHROME
    layout = nest([strap("s")], [chrome, HIDE], steps=1)
    assert [one.hide for one in layout.placed] == ["bend"]
    (left,) = nest([strap("s")], [chrome], steps=1).unplaced
    assert left.reason == "needs vegetable leather; the hides are: chrome chrome; take another hide"
    there = replace(layout, placed=tuple(replace(one, hide="chrome") for one in layout.placed))
    with pytest.raises(NestError, match="s/strap: needs vegetable leather, chrome is chrome"):
        verify(there)
    unknown = replace(HIDE, tannage=Tannage.UNKNOWN)
    assert not nest([strap("s")], [unknown], steps=1).unplaced
