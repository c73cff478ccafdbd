"""Pull straps together until neighbours lie exactly one kerf apart, so that one cut parts both.

Between one cut's width and the gap asked for nothing may lie: the sliver left would tear or burn. So a
layout is made at the full gap first. Then each strap, from the lowest up, is lowered on to the one below
where that is sound: clear of everything else by the full gap, or in its turn exactly one cut away.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from strapwright.core.tolerances import CLEARANCE, COMMON_EDGE
from strapwright.nesting.problem_check import faults_of
from strapwright.nesting.solver.solve import Solution, solve

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.problem import PiecePlacement, Problem

_SAME = 1e-6
"""Two distances that differ by less are the same, mm."""


def pull_together(
    problem: Problem,
    fine: Problem,
    found: Solution,
    *,
    time_limit: float,
    steps: int | None,
    seed: int,
    prove: bool = True,
) -> Solution:
    """Return a solution with straps pulled together, and with what then fits besides.

    Args:
        problem: the problem; its ``shared`` says how far apart edges cut once lie.
        fine: the same with outlines nearer to the round than two lines that count as one. Chords lengthen a
            straight edge beside a round tip; so fine, they make no edge in common of one that is too short.
        found: a solution of it, everything the full gap apart.
        time_limit: seconds for what is laid in the room that is won.
        steps: of the search instead of a time, or None.
        seed: of the random choices.
        prove: as in :func:`solve`.
    """
    placements = tuple(pulled_together(fine, found.placements))
    if len(placements) == len(problem.pieces):
        return replace(found, placements=placements)
    close = replace(problem, gap=problem.nearest, locked=placements)
    tight = solve(close, time_limit=time_limit / 2, steps=steps, seed=seed, prove=False)
    placements = tuple(_with_those_sound(fine, placements, tight.placements))
    rest = replace(problem, locked=placements)
    more = solve(rest, time_limit=time_limit / 2, steps=steps, seed=seed, prove=prove)
    return replace(more, bound=min(more.bound, found.bound), steps=found.steps)


def pulled_together(problem: Problem, placements: Sequence[PiecePlacement]) -> list[PiecePlacement]:
    """Return spots with each strap lowered on to the one below, as far as that is sound.

    Args:
        problem: the problem.
        placements: everything the full gap apart.

    Returns:
        The spots in the same order; what is no strap lies where it lay.
    """
    if problem.shared is None or problem.shared >= problem.gap:
        return list(placements)
    out = list(placements)
    for ground in range(len(problem.grounds)):
        shapes = {n: _shape(problem, one) for n, one in enumerate(out) if one.ground == ground}
        straps = [n for n in shapes if problem.pieces[out[n].piece].strap]
        for n in sorted(straps, key=lambda n: (shapes[n].bounds[1], shapes[n].bounds[0])):
            others = [(shapes[m], m in straps) for m in shapes if m != n]
            lowered = _lowered(problem, out[n], shapes[n], others)
            if lowered is not None:
                out[n], shapes[n] = lowered, _shape(problem, lowered)
    return out


def _with_those_sound(
    problem: Problem, lying: Sequence[PiecePlacement], tight: Sequence[PiecePlacement]
) -> list[PiecePlacement]:
    """Return what lies, and of what was laid closer those straps that are sound there, or once lowered."""
    out = list(lying)
    shapes = [
        (placement.ground, _shape(problem, placement), problem.pieces[placement.piece].strap)
        for placement in out
    ]
    new = [
        placement
        for placement in tight
        if placement not in set(lying) and problem.pieces[placement.piece].strap
    ]
    for placement in sorted(new, key=lambda placement: (placement.ground, placement.y)):
        shape = _shape(problem, placement)
        others = [(one, strap) for ground, one, strap in shapes if ground == placement.ground]
        found = _lowered(problem, placement, shape, others)
        if found is None and _sound(problem, shape, others):
            found = placement
        if found is not None:
            out.append(found)
            shapes.append((found.ground, _shape(problem, found), True))
    return out


def _lowered(
    problem: Problem, placement: PiecePlacement, shape: Any, others: Sequence[tuple[Any, bool]]
) -> PiecePlacement | None:
    """Return a strap's spot as low on another strap as is sound, or None where it stays."""
    for fall in _falls(problem, shape, [one for one, strap in others if strap]):
        lower = replace(placement, y=placement.y - fall)
        if _sound(problem, _shape(problem, lower), others) and not faults_of(problem, [lower]):
            return lower
    return None


def _shape(problem: Problem, placement: PiecePlacement) -> Any:
    import shapely

    return shapely.Polygon(placement.apply(problem.pieces[placement.piece].outline))


def _falls(problem: Problem, shape: Any, straps: Sequence[Any]) -> list[float]:
    """Return how far a strap could fall to lie one cut, or the gap, above another; the furthest first."""
    x0, y0, x1, _ = shape.bounds
    falls = set()
    for strap in straps:
        left, _, right, top = strap.bounds
        if left < x1 and x0 < right and top <= y0:
            falls |= {y0 - top - problem.nearest, y0 - top - problem.gap}
    # The search may have laid it nearer by its rounding: then it rises by as little.
    return sorted((fall for fall in falls if fall > -CLEARANCE), reverse=True)


def _sound(problem: Problem, shape: Any, others: Sequence[tuple[Any, bool]]) -> bool:
    """Whether a strap is the gap away from each other shape, or one cut away along a straight edge."""
    import shapely

    near = [one for one in others if shapely.dwithin(shape, one[0], problem.gap - _SAME)]
    return all(strap and shares_edge(shape, other, problem.nearest) for other, strap in near)


def shares_edge(first: Any, second: Any, cut: float) -> bool:
    """Whether two shapes lie exactly one cut apart along a straight edge long enough to be cut once.

    Args:
        first: a shapely polygon.
        second: another, of a strap likewise.
        cut: the cut's width, mm.

    Example:
        >>> import shapely
        >>> strap = shapely.box(0, 0, 900, 38)
        >>> shares_edge(strap, shapely.box(100, 38.2, 1000, 76), 0.2)
        True
        >>> shares_edge(strap, shapely.box(100, 38.7, 1000, 76), 0.2)
        False
    """
    import shapely

    if abs(float(shapely.distance(first, second)) - cut) > _SAME:
        return False
    along = shapely.intersection(first.exterior, shapely.buffer(second, cut + 10 * _SAME, cap_style="flat"))
    return float(along.length) >= COMMON_EDGE
