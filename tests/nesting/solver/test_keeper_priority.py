"""Keepers whose strap found no place give way to those that make a belt whole."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from tests.nesting.workshop import keeper, strap

from strapwright.nesting.hide.types import Hide
from strapwright.nesting.solver.nest import nest
from strapwright.parts.part import PartKind

pytestmark = pytest.mark.usefixtures("without_height_bound")


def belts(name: str, count: int, length: float, keeper_length: float):
    """So many belts alike, each a strap and a keeper."""
    for copy in range(1, count + 1):
        yield replace(strap(name, length), id=f"{name}/strap-{copy}")
        yield replace(keeper(name, keeper_length), id=f"{name}/keeper-{copy}")


@pytest.mark.parametrize("search", [{"steps": 2}, {"steps": 40}, {"time_limit": 1.0}])
def test_keepers_of_straps_that_lie_come_before_larger_ones_of_straps_that_do_not(search) -> None:
    # No strap of the long belts finds a row; beside the short ones there is room for two keepers.
    parts = [*belts("long", 4, 1500.0, 120.0), *belts("short", 4, 1000.0, 90.0)]
    strip = Hide("strip", np.array([(0, 0), (1132, 0), (1132, 82), (0, 82)], dtype=float), thickness=3.6)
    layout = nest(parts, [strip], **search)
    lies = Counter((one.part.belt_id, str(one.part.kind)) for one in layout.placed)
    assert lies["short", "strap"] == 2
    assert lies["short", "keeper"] == 2
    # What room is left once the belts are whole goes to the others.
    assert lies["long", "keeper"] == len(layout.placed) - 4
    wider = nest(parts, [replace(strip, outline=strip.outline * [1.0, 1.3])], **search)
    lies = Counter((one.part.belt_id, str(one.part.kind)) for one in wider.placed)
    assert lies["short", "strap"] == 2
    assert lies["short", "keeper"] >= 2
    assert lies["long", "keeper"] > 0


def test_a_keeper_whose_strap_lies_comes_before_as_much_leather_in_anything_else() -> None:
    # Beside the two straps 128 mm are left: for two keepers of 104 mm, or two tabs that are larger.
    tab = replace(keeper("tab", 125.0, 20.0), kind=PartKind.STRAP, turn_step=math.pi / 2)
    tabs = [replace(tab, id=f"tab/strap-{copy}") for copy in range(1, 7)]
    parts = [*belts("b", 2, 1000.0, 104.0), *tabs]
    strip = Hide("strip", np.array([(0, 0), (1132, 0), (1132, 82), (0, 82)], dtype=float), thickness=3.6)
    layout = nest(parts, [strip], steps=20)
    assert {one.part.id for one in layout.placed} >= {part.id for part in parts[:4]}


def test_the_keepers_that_go_with_the_straps_that_lie_keep_their_worth() -> None:
    from strapwright.nesting.layout.types import Clearance
    from strapwright.nesting.problem import PiecePlacement, build_problem
    from strapwright.nesting.solver.solve import keeper_priority

    parts = list(belts("b", 3, 1000.0, 90.0))
    hide = Hide("strip", np.array([(0, 0), (1132, 0), (1132, 82), (0, 82)], dtype=float))
    problem = build_problem(parts, [hide], Clearance())
    there = [PiecePlacement(n, 0, 0.0, 0.0, 0.0) for n in (0, 4)]  # the first and the third strap
    values = [piece.value for piece in keeper_priority(problem, there).pieces]
    shares = [value / piece.value for value, piece in zip(values, problem.pieces, strict=True)]
    assert shares == pytest.approx([1, 2, 1, 0.1, 1, 2])
    # A keeper whose strap is not asked for lies, locked, elsewhere: it is wanted as it was.
    rest = build_problem([parts[1], *parts[2:]], [hide], Clearance())
    values = [piece.value for piece in keeper_priority(rest, []).pieces]
    shares = [value / piece.value for value, piece in zip(values, rest.pieces, strict=True)]
    assert shares == pytest.approx([1, 1, 0.1, 1, 0.1])
    everything = keeper_priority(problem, [PiecePlacement(n, 0, 0.0, 0.0, 0.0) for n in (0, 2, 4)])
    assert [piece.value / problem.pieces[1].value for piece in everything.pieces[1::2]] == [2, 2, 2]
