"""Pieces laid one after another, each pressed into a corner: around what lies already, or from nothing."""

from __future__ import annotations

import math
import random
import time
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.problem.types import Spot
from strapwright.nesting.shape_search.nfp_cache import Tables

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from strapwright.nesting.problem.types import Problem

_PLACES = 8192
"""Corners kept for one form: far more than are ever looked through in a full ground."""

FEW = 8
"""Of a sort with no more pieces than this each is laid by itself, without corners kept for the next."""

LEAN = 0.02
"""How much of the way a piece is pressed leans to the side, so that no two corners count the same."""


class Filling:
    """Forms laid on one ground so far.

    Args:
        tables: of the ground.
    """

    def __init__(self, tables: Tables) -> None:
        room = sum(len(sort.pieces) for sort in tables.sorts)
        self.tables = tables
        self.count = 0
        self.sorts: list[int] = []
        self.forms = np.zeros(room, dtype=np.int64)
        self.at = np.zeros((room, 2))
        self._corners: dict[int, tuple[np.ndarray, int, int]] = {}

    def put(self, form: int, x: float, y: float) -> None:
        """Lay a form down."""
        self.sorts.append(self.tables.form_sort[form])
        self.forms[self.count] = form
        self.at[self.count] = x, y
        self.count += 1

    def press(self, sort: int, way: tuple[float, float]) -> bool:
        """Lay one piece of a sort as far against a direction as it goes; return whether it had a place.

        Args:
            sort: its number.
            way: the direction it keeps back from: up, for a piece that is to lie low.
        """
        from strapwright.nesting.shape_search.corners import add_corners, furthest, lowest

        if not self.tables.fits(sort):
            return False
        book = self.tables.need_beside(self.forms[: self.count].tolist(), sort)
        best = math.inf
        chosen = (-1, 0.0, 0.0)
        for form in self.tables.roomy(sort):
            if len(self.tables.sorts[sort].pieces) <= FEW:
                x, y, reach = lowest(book, form, self.count, self.forms, self.at, *way, best - 1e-9)
                if reach < best:
                    best, chosen = reach, (form, x, y)
                continue
            places, count, done = self._corners.get(form) or (np.empty((_PLACES, 2)), 0, -1)
            count = add_corners(book, form, self.count, self.forms, self.at, done, places, count)
            self._corners[form] = (places, count, self.count)
            where, reach = furthest(book, form, places, count, *way)
            if where >= 0 and reach < best - 1e-9:
                best, chosen = reach, (form, float(places[where, 0]), float(places[where, 1]))
        if chosen[0] < 0:
            return False
        self.put(*chosen)
        return True

    def value(self) -> float:
        """Return what the pieces laid are worth."""
        return sum(self.tables.sorts[sort].value for sort in self.sorts)


def filled(
    tables: Tables, order: Iterable[int], way: tuple[float, float], stop: Callable[[], bool] | None = None
) -> Filling:
    """Lay all pieces of each sort in an order of sorts.

    Args:
        tables: of the ground.
        order: numbers of sorts.
        way: the direction pieces keep back from.
        stop: asked before each piece whether to leave it at that.
    """
    filling = Filling(tables)
    for sort in order:
        for _ in tables.sorts[sort].pieces:
            if (stop is not None and stop()) or not filling.press(sort, way):
                break
    return filling


def spots_of(
    tables: Tables, ground: int, sorts: Sequence[int], forms: Sequence[int], at: np.ndarray
) -> list[Spot]:
    """Return forms laid as spots of pieces, which go to the places of their sort in turn."""
    used: dict[int, int] = {}
    spots = []
    for sort, form, (x, y) in zip(sorts, forms, at.tolist(), strict=False):
        copy = used.get(sort, 0)
        used[sort] = copy + 1
        spots.append(
            Spot(tables.sorts[sort].pieces[copy], ground, tables.form_turn[form], float(x), float(y))
        )
    return spots


def by_value(tables: Tables) -> list[int]:
    """Return the sorts, most valuable piece first."""
    return sorted(range(len(tables.sorts)), key=lambda sort: (-tables.sorts[sort].value, sort))


def bottom_left(problem: Problem, todo: Iterable[int] | None = None) -> list[Spot]:
    """Lay pieces, the most valuable first, as low and then as far left as they go.

    Args:
        problem: pieces and grounds.
        todo: numbers of the pieces; None for all.
    """
    return fill_around(problem, (), range(len(problem.pieces)) if todo is None else todo)


def fill_around(
    problem: Problem,
    spots: Sequence[Spot],
    todo: Iterable[int],
    *,
    steps: int = 1,
    deadline: float | None = None,
    rng: random.Random | None = None,
) -> list[Spot]:
    """Lay pieces around those that lie already.

    The first try lays the most valuable piece first, each as low and as far left as it goes; further
    tries change the order and the corner of the ground, and the one worth most counts.

    Args:
        problem: pieces and grounds.
        spots: what lies already, and stays; so do the problem's locked spots.
        todo: numbers of the pieces to lay; those that have no room are left out.
        steps: how many tries a ground.
        deadline: time, as ``time.monotonic`` tells it, after which nothing more is laid.
        rng: random numbers of the further tries.

    Returns:
        The spots of the pieces laid.

    Example:
        >>> import numpy as np
        >>> from strapwright.nesting.problem.types import Ground, Piece, Problem
        >>> square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], dtype=float)
        >>> pieces = tuple(Piece(f"tab {n}", square, (0.0,), frozenset(), value=100.0) for n in range(5))
        >>> problem = Problem(pieces, (Ground(square * [2, 2]),))
        >>> [(spot.piece, round(spot.x), round(spot.y)) for spot in fill_around(problem, (), range(5))]
        [(0, 0, 0), (1, 10, 0), (2, 0, 10), (3, 10, 10)]
    """
    chance = rng or random.Random(0)  # noqa: S311 -- a search, not a secret; its numbers never change
    there = tuple(dict.fromkeys((*spots, *problem.locked)))
    done = {spot.piece for spot in there}
    laid: list[Spot] = []
    left = [n for n in dict.fromkeys(todo) if n not in done]

    def late() -> bool:
        return deadline is not None and time.monotonic() > deadline

    for ground in range(len(problem.grounds)):
        wanted = [n for n in left if (g := problem.pieces[n].grounds) is None or ground in g]
        if not wanted or late():
            continue
        tables = Tables(problem, ground, wanted, there)
        order, way = by_value(tables), (LEAN, 1.0)
        best: Filling | None = None
        for number in range(steps):
            if number and late():
                break
            filling = filled(tables, order, way, late)
            if best is None or filling.value() > best.value():
                best = filling
            if best.count == len(wanted):
                break
            order, way = _changed(order, chance)
        assert best is not None
        found = spots_of(tables, ground, best.sorts, best.forms.tolist(), best.at)
        laid += found
        done = {spot.piece for spot in found}
        left = [n for n in left if n not in done]
    return laid


def _changed(order: list[int], chance: random.Random) -> tuple[list[int], tuple[float, float]]:
    """Return an order with one sort moved, and another corner to press into."""
    order = list(order)
    order.insert(chance.randrange(len(order)), order.pop(chance.randrange(len(order))))
    up, side = chance.choice((-1.0, 1.0)), chance.choice((-LEAN, LEAN))
    return order, chance.choice(((side, up), (up, side)))
