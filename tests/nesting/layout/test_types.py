"""A layout's figures, and its way to JSON and back."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from tests.nesting.workshop import keeper, order, side

from strapwright.core.errors import FileProblems, NestError
from strapwright.geometry.transform import Placement
from strapwright.nesting.bound.area import bound_sentence
from strapwright.nesting.hide.types import Flaw, FlawKind, Hide
from strapwright.nesting.layout.file import layout_from_json, layout_to_json
from strapwright.nesting.layout.types import Clearance, Layout, PlacedPart, UnplacedPart
from strapwright.nesting.solver.nest import nest


def test_yield_counts_placed_area_over_sound_leather() -> None:
    square = np.array([(0, 0), (200, 0), (200, 200), (0, 200)])
    flaw = Flaw(FlawKind.HOLE, np.array([(100, 100), (300, 100), (300, 200), (100, 200)]))
    strip = keeper("a", 100.0, 20.0)
    placed = PlacedPart(strip, "a", Placement(0.0, 10.0, 10.0))
    layout = Layout((Hide("a", square, (flaw,)),), (placed,), (), Clearance(), (), 0, 1)
    assert layout.yield_of("a") == pytest.approx(2000 / (40_000 - 10_000))
    assert layout.used_height_of("a") == pytest.approx(20.0)
    with pytest.raises(NestError, match="no hide named b; there are: a"):
        layout.yield_of("b")


def test_how_much_more_could_be_placed_is_no_percentage_of_next_to_nothing() -> None:
    square = np.array([(0, 0), (2000, 0), (2000, 2000), (0, 2000)])
    placed = PlacedPart(keeper("a", 100.0, 20.0), "a", Placement(0.0, 10.0, 10.0))
    left = UnplacedPart(keeper("b", 100.0, 20.0), "why")
    few = Layout((Hide("a", square, ()),), (placed,), (left,), Clearance(), (), 0, 1, bound=46_000.0)
    assert bound_sentence(few) == (
        "At most 0.044 m² of parts more than the 0.002 m² placed could be placed on these hides, "
        "probably less."
    )
    many = replace(few, bound=3000.0, unplaced=(UnplacedPart(keeper("b", 50.0, 20.0), "why"),))
    assert bound_sentence(many).startswith("At most 50.0% more (0.001 m² of parts) could be placed")


@pytest.fixture(scope="module")
def sound() -> Layout:
    return nest(order(30), [side(0.1)], Clearance(1.5, 3.0, 0.2), steps=2, seed=9)


def read(data: Any, layout: Layout, **changes: Any) -> Layout:
    parts = [p.part for p in layout.placed] + [u.part for u in layout.unplaced]
    given: dict[str, Any] = {"parts": parts, "hides": layout.hides, "job_digest": "j1", **changes}
    return layout_from_json(data, **given)


def test_a_layout_reads_back_bit_for_bit(sound: Layout) -> None:
    assert sound.unplaced
    assert sound.findings
    text = json.dumps(layout_to_json(sound, "j1"))
    assert read(json.loads(text), sound) == sound


def test_a_layout_for_another_job_or_hide_is_refused(sound: Layout) -> None:
    data = layout_to_json(sound, "j1")
    with pytest.raises(FileProblems) as caught:
        read(data, sound, job_digest="j2", hides=[replace(sound.hides[0], digest="new")])
    assert caught.value.problems == (
        "layout.json: the job has changed since this layout was made; nest it again",
        "layout.json: hide side 7 has changed since this layout was made; nest it again",
    )
    with pytest.raises(FileProblems, match="uses hide side 7, which was not given"):
        read(data, sound, hides=[])
    with pytest.raises(FileProblems, match="part b1/strap is not in the job"):
        read(data, sound, parts=[])


def test_a_layout_of_another_version_or_shape_is_refused(sound: Layout) -> None:
    data = layout_to_json(sound, "j1")
    with pytest.raises(FileProblems, match="version: found 2, expected 1"):
        read({**data, "version": 2}, sound)
    with pytest.raises(FileProblems, match="placed: "):
        read({**data, "placed": "none"}, sound)
    with pytest.raises(FileProblems):
        read([1, 2], sound)


def test_a_part_moved_or_taken_out_by_hand_is_noticed(sound: Layout) -> None:
    data = layout_to_json(sound, "j1")
    data["placed"][0]["x_mm"] += 900.0
    with pytest.raises(NestError):
        read(data, sound)
    data = layout_to_json(sound, "j1")
    gone = data["placed"].pop(0)["id"]
    with pytest.raises(NestError, match=f"{gone}: asked for, but neither placed nor"):
        read(data, sound)
