"""The direction straps lie along on a hide, turned off the hide's own within its tolerance.

Straps that lie beside each other lose least where all run one way. So those of a hide are turned together:
along a straight edge that runs a little off the strap direction, or round a corner or a flaw.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import takewhile
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.solver.objective import leather_used
from strapwright.nesting.solver.solve import solve

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.problem import Problem


SHARE = 0.3
"""Share of a search that goes into trying directions, where any is allowed."""


_STEPS = 8
"""A direction is tried for this part of a search that goes by steps."""


_EDGES = 4
"""So many edges of a hide and its flaws are tried as directions, the longest first."""


_LONG = 0.1
"""An edge shorter than this share of the hide's extent gives no direction."""


_ALIKE = math.radians(0.05)
"""Directions nearer to each other than this are one: 1 mm over a strap of 1.2 m."""


def candidate_turns(hide: Hide) -> tuple[float, ...]:
    """Return turns off the strap direction that are worth trying on a hide, radians, 0 the first.

    A hide whose edge was squared along the strap direction is not turned: the straps follow that cut.

    Example:
        >>> from strapwright.nesting.hide.types import Hide
        >>> points = np.array([(0, 0), (1000, 20), (1000, 420), (0, 400)])
        >>> side = Hide("side", points, tolerance=math.radians(2))
        >>> [round(math.degrees(turn), 3) for turn in candidate_turns(side)]
        [0.0, 1.146, 2.0, -2.0, 1.0, -1.0]
    """
    most = hide.tolerance
    if most <= 0 or hide.first_cut is not None:
        return (0.0,)
    shapes = [hide.outline, *(flaw.polygon for flaw in hide.flaws if flaw.round is None)]
    along = np.vstack([np.roll(shape, -1, axis=0) - shape for shape in shapes])
    lengths = np.hypot(*along.T)
    off = [math.remainder(float(np.arctan2(y, x)) - hide.strap_direction, math.pi) for x, y in along]
    least = _LONG * float(np.max(np.ptp(hide.outline, axis=0)))
    edges = [
        off[n] for n in np.argsort(-lengths, kind="stable") if lengths[n] >= least and abs(off[n]) <= most
    ]
    found: list[float] = []
    for turn in (0.0, *edges[:_EDGES], most, -most, most / 2, -most / 2):
        if all(abs(turn - other) > _ALIKE for other in found):
            found.append(turn)
    return tuple(found)


def best_strap_directions(
    hides: Sequence[Hide],
    problem_on: Callable[[Hide], Problem],
    *,
    time_limit: float,
    steps: int | None,
    seed: int,
    going: Callable[[], bool],
) -> tuple[Hide, ...]:
    """Return hides with the best strap direction within their tolerance, as far as was tried.

    Each direction of a hide is searched for a while with everything on that hide alone. More worth is
    better, then less leather up to the highest part.

    Args:
        hides: the hides.
        problem_on: gives what is asked as a problem with one hide as its only ground.
        time_limit: seconds for all directions of all hides.
        steps: of a search instead of a time, or None.
        seed: of the random choices.
        going: whether to go on; what was not tried by then is not turned.
    """
    ways = [[_turned(hide, turn) for turn in candidate_turns(hide)] for hide in hides]
    each = time_limit / max(1, sum(len(way) for way in ways if len(way) > 1))
    tried = None if steps is None else max(1, steps // _STEPS)

    def reached(hide: Hide) -> tuple[float, float]:
        problem = problem_on(hide)
        found = solve(problem, time_limit=each, steps=tried, seed=seed, prove=False)
        used = leather_used(problem, 0, found.placements) if found.placements else 0.0
        return round(found.value, 3), -round(used, 3)

    def best_of(way: Sequence[Hide]) -> Hide:
        if len(way) == 1:
            return way[0]
        worth = [reached(hide) for hide in takewhile(lambda _: going(), way)]
        return way[worth.index(max(worth))] if worth else way[0]

    return tuple(best_of(way) for way in ways)


def _turned(hide: Hide, turn: float) -> Hide:
    """Return a hide with its strap direction turned; the very hide where it is not."""
    return replace(hide, strap_direction=hide.strap_direction + turn) if turn else hide
