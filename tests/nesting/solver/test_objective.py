"""What a nest is after: the fewest hides, the least leather, or the most worth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.nesting.workshop import strap

from strapwright.core.errors import NestError
from strapwright.nesting.bound.area import bound_sentence
from strapwright.nesting.hide.types import FlawKind, Hide, round_flaw
from strapwright.nesting.layout.file import ResumePoint
from strapwright.nesting.layout.types import Clearance
from strapwright.nesting.solver.nest import nest
from strapwright.nesting.solver.resume import resume

pytestmark = pytest.mark.usefixtures("without_height_bound")


def board(name: str, width: float, length: float = 1300.0) -> Hide:
    corners = np.array([(0, 0), (length, 0), (length, width), (0, width)])
    return Hide(name, corners, thickness=3.6)


def begun(layout: object) -> list[str]:
    return [hide.name for hide in layout.hides if layout.placed_on(hide.name)]  # type: ignore[attr-defined]


STRAPS = [strap(f"b{n}") for n in range(5)]


def test_the_fewest_hides_are_taken_even_if_the_first_given_is_left_whole() -> None:
    # Two rows find room on each narrow one, five on the wide one.
    hides = [board("narrow 1", 85), board("narrow 2", 85), board("wide", 210)]
    assert begun(nest(STRAPS, hides, steps=3, aim="fewest")) == ["wide"]


def test_a_smaller_hide_without_flaws_saves_a_larger_one_that_is_full_of_them() -> None:
    holes = tuple(round_flaw(FlawKind.HOLE, 650, y, 12) for y in range(110, 300, 40))
    pocked = replace(board("pocked", 300), flaws=holes)
    hides = [pocked, replace(pocked, name="pocked too"), board("clean", 210)]
    assert begun(nest(STRAPS, hides, steps=3)) == ["clean"]


def test_where_no_order_saves_a_hide_they_are_used_up_as_given() -> None:
    hides = [board("small", 125), board("large", 300)]
    assert begun(nest(STRAPS[:3], hides, steps=3)) == ["small"]


def test_the_least_leather_is_taken_from_the_hide_that_fits_best() -> None:
    # Longer boards cost more leather under the same three rows.
    hides = [board("huge", 600, 2300), board("middling", 300, 1500), board("close", 130)]
    assert begun(nest(STRAPS[:3], hides, steps=3, aim="least")) == ["close"]
    # The fewest hides leaves the order as it was given.
    assert begun(nest(STRAPS[:3], hides, steps=3, aim="fewest")) == ["huge"]


def test_a_smaller_hide_takes_the_place_of_the_last_one_begun() -> None:
    hides = [board("a", 210), board("b", 600, 2000), board("c", 50), board("d", 45, 1100)]
    straps = [strap(f"b{n}") for n in range(6)]
    laid = nest(straps, hides, steps=3, aim="least")
    assert begun(laid) == ["a", "c"]
    assert len(laid.placed_on("c")) == 1


def test_what_is_worth_most_is_laid_where_not_everything_fits() -> None:
    worths = {part.id: 60.0 for part in STRAPS} | {"b4/strap": 90.0, "b2/strap": 80.0}
    laid = nest(STRAPS, [board("narrow", 85)], steps=10, aim="value", worths=worths)
    assert [one.part.id for one in laid.placed] == ["b2/strap", "b4/strap"]
    assert laid.worth is not None
    assert laid.worth.placed == 170.0
    assert laid.worth.asked == 350.0
    assert 170.0 <= laid.worth.bound <= 350.0
    assert bound_sentence(laid).startswith("48.6% of the worth asked for is placed")


def test_a_short_strap_goes_first_if_it_is_worth_more_for_its_leather() -> None:
    long, short = strap("long", 1180.0), strap("short", 900.0)
    hides = [board("one row", 45)]
    dear = nest([long, short], hides, steps=10, aim="value", worths={"long/strap": 50, "short/strap": 51})
    assert [one.part.id for one in dear.placed] == ["short/strap"]
    by_area = nest([long, short], hides, steps=10, aim="value")
    assert [one.part.id for one in by_area.placed] == ["long/strap"]


def test_a_part_worth_nothing_is_laid_where_there_is_room() -> None:
    worths = {part.id: 0.0 for part in STRAPS} | {"b0/strap": 1.0}
    assert len(nest(STRAPS, [board("wide", 210)], steps=3, aim="value", worths=worths).placed) == 5


@pytest.mark.parametrize(
    ("worths", "said"),
    [
        ({}, "b0/strap: found a worth of None, expected a number that is not negative"),
        ({part.id: -1.0 for part in STRAPS}, "b0/strap: found a worth of -1.0"),
        ({part.id: float("nan") for part in STRAPS}, "b0/strap: found a worth of nan"),
        ({part.id: 0.0 for part in STRAPS}, "nothing asked for is worth anything"),
    ],
)
def test_worths_that_are_none_are_refused(worths: dict[str, float], said: str) -> None:
    with pytest.raises(NestError, match=said):
        nest(STRAPS, [board("wide", 210)], steps=1, worths=worths)


def test_an_unknown_aim_is_refused_with_those_there_are() -> None:
    with pytest.raises(NestError, match='aim: found "cheap", expected fewest, least, value'):
        nest(STRAPS, [board("wide", 210)], steps=1, aim="cheap")  # type: ignore[arg-type]


def test_going_on_from_a_layout_goes_by_worth_as_well_and_counts_what_stays() -> None:
    hides = [board("narrow", 85)]
    before = nest(
        STRAPS, hides, steps=3, aim="value", worths={p.id: 9.0 for p in STRAPS} | {"b0/strap": 99.0}
    )
    stays = tuple(one for one in before.placed if one.part.id == "b0/strap")
    worths = {part.id: 60.0 for part in STRAPS} | {"b3/strap": 90.0}
    on = resume(
        STRAPS,
        hides,
        Clearance(),
        start=ResumePoint(stays, before, job_changed=False),
        steps=10,
        aim="value",
        worths=worths,
    )
    assert {one.part.id for one in on.placed} == {"b0/strap", "b3/strap"}
    assert on.worth is not None
    assert on.worth.placed == 150.0
    assert on.worth.asked == 330.0
