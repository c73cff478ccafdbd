"""The objective of a nest: fewest hides, least leather, or greatest value; and the hides' order for it."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np

from strapwright.core.errors import NestError
from strapwright.nesting.bound.area import area_bounds
from strapwright.nesting.solver.solve import solve

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from strapwright.core.arrays import Points
    from strapwright.nesting.problem import Piece, PiecePlacement, Problem


Aim = Literal["fewest", "least", "value"]
"""Everything on the fewest hides; on as little leather as may be; as much worth as fits on these hides."""


AIMS: tuple[Aim, ...] = get_args(Aim)


_SWAPS = 3
"""So many smaller hides are tried in place of the last one begun."""


_FEW = 3
"""Where more hides are needed than this, it is not tried which of them to begin with."""


def with_values(problem: Problem, worths: Mapping[str, float]) -> Problem:
    """Return a problem with values given piece by piece, scaled to the pieces' total area.

    Args:
        problem: the problem; each piece is worth its area.
        worths: by the pieces' ids, not negative, not all nought.

    Raises:
        NestError: a piece has no worth, or one that is none.

    Example:
        >>> import numpy as np
        >>> from strapwright.nesting.problem import Piece, Problem
        >>> square = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)])
        >>> two = tuple(Piece(name, square, (0.0,), frozenset(), value=100.0) for name in "ab")
        >>> [round(piece.value) for piece in with_values(Problem(two, ()), {"a": 30.0, "b": 10.0}).pieces]
        [150, 50]
    """
    for piece in problem.pieces:
        worth = worths.get(piece.id)
        if worth is None or not 0 <= worth < math.inf:
            raise NestError(f"{piece.id}: found a worth of {worth}, expected a number that is not negative")
    area = sum(piece.value for piece in problem.pieces)
    total = math.fsum(worths[piece.id] for piece in problem.pieces)
    if not total > 0:
        raise NestError("nothing asked for is worth anything; give at least one part a worth above 0")
    # What is worth nothing still goes where there is room, so a trace of its area stays.
    values = [worths[p.id] * area / total + p.value * 1e-9 for p in problem.pieces]
    # The engines take pieces of one shape for equal in all, worth included.
    shapes: dict[tuple[int, float], int] = {}
    pieces = tuple(
        replace(piece, value=value, shape=shapes.setdefault((piece.shape, value), len(shapes)))
        for piece, value in zip(problem.pieces, values, strict=True)
    )
    return replace(problem, pieces=pieces)


def choose_hide_order(
    aim: Aim,
    problem: Problem,
    *,
    seed: int,
    going: Callable[[], bool],
    made: Callable[[], None] = lambda: None,
) -> tuple[tuple[int, ...], tuple[PiecePlacement, ...]]:
    """Return the order in which to use grounds up, and the first layout made in that order.

    First layouts are made in a few orders and compared. Of equals the order the grounds were given in wins.

    Args:
        aim: what is sought.
        problem: with the grounds as given.
        seed: of the random choices.
        going: whether there is time for one more first layout.
        made: called once the first of them is made, whose time does not count.

    Returns:
        The grounds' numbers in order, and the layout on grounds numbered in that order.
    """
    import shapely

    given = tuple(range(len(problem.grounds)))
    if len(given) == 1:
        return given, ()
    tried: dict[tuple[int, ...], tuple[tuple[float, ...], tuple[PiecePlacement, ...]]] = {}

    def attempt(order: tuple[int, ...]) -> None:
        if order not in tried and (not tried or going()):
            own = in_ground_order(problem, order)
            placements = solve(own, steps=1, seed=seed).placements
            tried[order] = _cost(aim, own, placements), placements

    attempt(given)
    made()
    with suppress(KeyboardInterrupt):  # what was tried is kept
        if aim != "value":
            sizes = [round(float(shapely.Polygon(one.boundary).area), 3) for one in problem.grounds]
            bounds = area_bounds(problem)
            least = least_hides_needed(problem.pieces, bounds)
            used = {placed.ground for placed in tried[given][1]}
            complete = len(tried[given][1]) == len(problem.pieces)
            if aim == "least" or not complete or len(used) > least:
                attempt(tuple(sorted(given, key=lambda n: -sizes[n])))
            if aim == "least":
                attempt(tuple(sorted(given, key=lambda n: sizes[n])))
                _with_a_smaller_last(tried, sizes, attempt)
            best = min(tried, key=lambda order: tried[order][0])
            begun = len({placed.ground for placed in tried[best][1]})
            if begun <= _FEW and (aim == "least" or begun > least):
                # A hide of many flaws may hold less than a smaller one: each is given its chance to save one.
                worth = _worth_beginning_with(problem.pieces, bounds, max(1, begun - 1))
                for ground in sorted(worth, key=lambda n: len(problem.grounds[n].zones)):
                    attempt((ground, *(other for other in best if other != ground)))
    best = min(tried, key=lambda order: tried[order][0])
    return best, tried[best][1]


def _worth_beginning_with(pieces: Sequence[Piece], bounds: Sequence[float], count: int) -> list[int]:
    """Return the grounds with which so many of them might hold everything, by their bounds."""
    wanted = sum(piece.value for piece in pieces) - 1e-6
    return [
        ground
        for ground, bound in enumerate(bounds)
        if bound + sum(sorted((*bounds[:ground], *bounds[ground + 1 :]), reverse=True)[: count - 1]) >= wanted
    ]


def _with_a_smaller_last(
    tried: Mapping[tuple[int, ...], tuple[tuple[float, ...], tuple[PiecePlacement, ...]]],
    sizes: Sequence[float],
    attempt: Callable[[tuple[int, ...]], None],
) -> None:
    """Try smaller grounds that are still whole in place of the last one begun."""
    best = min(tried, key=lambda order: tried[order][0])
    begun = [best[number] for number in sorted({placed.ground for placed in tried[best][1]})]
    if not begun:
        return
    smaller = [ground for ground in best if ground not in begun and sizes[ground] < sizes[begun[-1]]]
    for ground in sorted(smaller, key=lambda n: sizes[n])[-_SWAPS:]:
        first = (*begun[:-1], ground)
        attempt((*first, *(other for other in best if other not in first)))


def in_ground_order(problem: Problem, order: Sequence[int]) -> Problem:
    """Return a problem with its grounds in another order.

    Args:
        problem: the problem, nothing of it locked.
        order: the grounds' numbers.
    """
    where = {ground: place for place, ground in enumerate(order)}
    pieces = tuple(
        piece
        if piece.grounds is None
        else replace(piece, grounds=tuple(sorted(where[ground] for ground in piece.grounds)))
        for piece in problem.pieces
    )
    return replace(problem, pieces=pieces, grounds=tuple(problem.grounds[ground] for ground in order))


def _cost(aim: Aim, problem: Problem, placements: Sequence[PiecePlacement]) -> tuple[float, ...]:
    """Return what is to be as small as may be, the most important first."""
    worth = -round(sum(problem.pieces[placed.piece].value for placed in placements), 3)
    used = {placed.ground for placed in placements}
    if aim == "fewest":
        return worth, len(used)
    return worth, round(sum(leather_used(problem, ground, placements) for ground in used), 3)


def leather_used(problem: Problem, ground: int, placements: Sequence[PiecePlacement]) -> float:
    """Return the area of a ground up to the highest point of what lies on it, mm²."""
    on_it = [one.apply(problem.pieces[one.piece].outline) for one in placements if one.ground == ground]
    return area_up_to(problem.grounds[ground].boundary, on_it)


def area_up_to(outline: Points, pieces: Sequence[Points]) -> float:
    """Return the area within an outline up to the highest point of pieces on it, mm²."""
    import shapely

    (x0, y0), (x1, _) = outline.min(axis=0), outline.max(axis=0)
    top = max(float(np.max(piece[:, 1])) for piece in pieces)
    return float(shapely.Polygon(outline).intersection(shapely.box(x0, y0, x1, top)).area)


def least_hides_needed(pieces: Sequence[Piece], bounds: Sequence[float]) -> int:
    """Return a number of grounds below which not everything can lie, by what each can hold at most.

    Args:
        pieces: what is to lie.
        bounds: a value each ground can never pass.

    Example:
        >>> least_hides_needed([], [5.0, 9.0])
        0
    """
    wanted, held = sum(piece.value for piece in pieces), 0.0
    for number, bound in enumerate(sorted(bounds, reverse=True)):
        if held >= wanted - 1e-6:
            return number
        held += bound
    return len(bounds)
