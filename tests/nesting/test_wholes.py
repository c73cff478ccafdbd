"""Keepers whose strap found no place give way to those that make a belt whole."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from tests.nesting.workshop import keeper, strap

from strapwright.nesting.hide import Hide
from strapwright.nesting.nest import nest


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


def test_the_keepers_that_go_with_the_straps_that_lie_keep_their_worth() -> None:
    from strapwright.nesting.asked import problem_of
    from strapwright.nesting.layout import Clearance
    from strapwright.nesting.problem import Spot
    from strapwright.nesting.wholes import with_spares_worth_less

    parts = list(belts("b", 3, 1000.0, 90.0))
    hide = Hide("strip", np.array([(0, 0), (1132, 0), (1132, 82), (0, 82)], dtype=float))
    problem = problem_of(parts, [hide], Clearance())
    there = [Spot(n, 0, 0.0, 0.0, 0.0) for n in (0, 4)]  # the first and the third strap
    values = [piece.value for piece in with_spares_worth_less(problem, there).pieces]
    shares = [value / piece.value for value, piece in zip(values, problem.pieces, strict=True)]
    assert shares == pytest.approx([1, 1, 1, 0.1, 1, 1])
    # A keeper whose strap is not asked for lies, locked, elsewhere: it is wanted as it was.
    rest = problem_of([parts[1], *parts[2:]], [hide], Clearance())
    values = [piece.value for piece in with_spares_worth_less(rest, []).pieces]
    shares = [value / piece.value for value, piece in zip(values, rest.pieces, strict=True)]
    assert shares == pytest.approx([1, 1, 0.1, 1, 0.1])
    everything = [Spot(n, 0, 0.0, 0.0, 0.0) for n in (0, 2, 4)]
    assert with_spares_worth_less(problem, everything) is problem
