"""Upper bound on what can be placed, by area; no layout can pass it, which says when to stop.

Pieces kept g apart stay disjoint when each grows by g/2 all round, and then lie on the free leather grown
by g/2. So the grown areas add up to no more than that leather's area, and the best value is no more than
if pieces could be divided and those worth most for their grown area went first.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from strapwright.core.tolerances import CLEARANCE, NESTING_CHORD
from strapwright.nesting.problem import build_problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.layout.types import Layout
    from strapwright.nesting.problem import Problem


_SIDES = 16
"""Chords a quarter circle of grown leather."""


def area_bounds(problem: Problem) -> list[float]:
    """Return for each ground a value that what lies on it can never pass.

    Args:
        problem: the pieces and grounds.

    Example:
        >>> import numpy as np
        >>> from strapwright.nesting.problem import Ground, Piece, Problem
        >>> square = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)])
        >>> pieces = tuple(Piece(str(n), square, (0.0,), frozenset(), value=100.0) for n in range(9))
        >>> bounds = area_bounds(Problem(pieces, (Ground(square * 2),)))
        >>> 400 <= bounds[0] < 405
        True
    """
    import shapely

    from strapwright.nesting.strap_search.free_runs import Edges

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
        fitting = problem.pieces_for(number)
        if not fitting:
            out.append(0.0)
            continue
        shuns = frozenset.intersection(*(piece.shuns for piece in fitting))
        free = Edges(ground, margin, gap, mended=False).shape(shuns)
        room = float(free.buffer(reach + NESTING_CHORD, quad_segs=_SIDES).area)
        out.append(_knapsack([(piece.value, max(grown[piece.shape], 1e-9)) for piece in fitting], room))
    return out


def _knapsack(items: Sequence[tuple[float, float]], room: float) -> float:
    """Return the value of a fractional knapsack: the greatest total of worths, were items divisible.

    Args:
        items: worth and size of each.
        room: what the sizes may add up to.

    Example:
        >>> _knapsack([(10.0, 10.0), (6.0, 12.0)], 16.0)
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


def bound_area(layout: Layout) -> float:
    """Return an area no layout of these parts on these hides can pass, mm².

    It is what the nest proved, or worked out anew for a layout that was read from a file.
    """
    if layout.bound is not None:
        return max(layout.bound, layout.placed_area)
    parts = [placed.part for placed in layout.placed] + [left.part for left in layout.unplaced]
    problem = build_problem(parts, layout.hides, layout.clearance)
    placeable = sum(piece.value for piece in problem.pieces if piece.grounds != ())
    return max(min(sum(area_bounds(problem)), placeable), layout.placed_area)


def bound_sentence(layout: Layout) -> str:
    """Return how much better any layout could be, in one sentence."""
    if not layout.unplaced:
        return "Everything asked for is placed."
    if layout.worth is not None:
        return layout.worth.sentence
    more = bound_area(layout) - layout.placed_area
    smallest = min(left.part.outline.area for left in layout.unplaced)
    if more < smallest * (1 - 1e-9):
        return "No layout can place more of these parts on these hides; that is proven."
    if not layout.placed_area:
        return f"Nothing is placed; at most {more / 1e6:.3f} m² of parts could be placed."
    share = more / layout.placed_area
    if share > 1:  # a percentage of next to nothing says nothing
        more_at_most = f"{more / 1e6:.3f} m² of parts more than the {layout.placed_area / 1e6:.3f} m² placed"
    else:
        more_at_most = f"{share:.1%} more ({more / 1e6:.3f} m² of parts)"
    return f"At most {more_at_most} could be placed on these hides, probably less."
