"""How much could be placed at best: a number no layout can pass, so that a maker knows when to stop.

Pieces kept g apart stay disjoint when each grows by g/2 all round, and then lie on the free leather grown
by g/2. So the grown areas add up to no more than that leather's area, and the best value is no more than
if pieces could be divided and those worth most for their grown area went first.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from strapwright.core.tolerances import CLEARANCE, NESTING_CHORD
from strapwright.nesting.strap_search.rows import Edges

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.problem.types import Problem

_SIDES = 16
"""Chords a quarter circle of grown leather."""


def area_bounds(problem: Problem) -> list[float]:
    """Return for each ground a value that what lies on it can never pass.

    Args:
        problem: the pieces and grounds.

    Example:
        >>> import numpy as np
        >>> from strapwright.nesting.problem.types import Ground, Piece, Problem
        >>> square = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)])
        >>> pieces = tuple(Piece(str(n), square, (0.0,), frozenset(), value=100.0) for n in range(9))
        >>> bounds = area_bounds(Problem(pieces, (Ground(square * 2),)))
        >>> 400 <= bounds[0] < 405
        True
    """
    import shapely

    # Layouts may come this much nearer than asked, so the bound allows them to.
    gap = max(problem.nearest - CLEARANCE, 0.0)
    margin = max(problem.margin * 0.99 - CLEARANCE, 0.0)
    # A piece's outline may stand outside its true, round one by the chord.
    grown = {
        piece.shape: float(shapely.Polygon(piece.outline).buffer(gap / 2 - NESTING_CHORD).area)
        for piece in {piece.shape: piece for piece in problem.pieces}.values()
    }
    reach = gap / 2 / math.cos(math.pi / (4 * _SIDES))
    out = []
    for number, ground in enumerate(problem.grounds):
        fitting = [p for p in problem.pieces if p.grounds is None or number in p.grounds]
        if not fitting:
            out.append(0.0)
            continue
        shuns = frozenset.intersection(*(piece.shuns for piece in fitting))
        free = Edges(ground, margin, gap, mended=False).shape(shuns)
        room = float(free.buffer(reach + NESTING_CHORD, quad_segs=_SIDES).area)
        out.append(_most([(piece.value, max(grown[piece.shape], 1e-9)) for piece in fitting], room))
    return out


def _most(items: Sequence[tuple[float, float]], room: float) -> float:
    """Return the greatest total of worths whose sizes fit a room, were items divisible.

    Args:
        items: worth and size of each.
        room: what the sizes may add up to.

    Example:
        >>> _most([(10.0, 10.0), (6.0, 12.0)], 16.0)
        13.0
    """
    total = 0.0
    for worth, size in sorted(items, key=lambda item: item[0] / item[1], reverse=True):
        share = min(1.0, room / size)
        total += worth * share
        room -= size * share
        if room <= 0:
            break
    return total
