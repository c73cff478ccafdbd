"""Pieces laid one after another, each pressed into a corner: around what lies already, or from nothing."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.problem.types import PiecePlacement

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.shape_search.nfp_cache import NfpCache

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

    def __init__(self, tables: NfpCache) -> None:
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


def bottom_left_fill(tables: NfpCache) -> Filling:
    """Return a first layout: the most valuable pieces first, each as low, then as far left, as it goes."""
    filling = Filling(tables)
    for sort in sorted(range(len(tables.sorts)), key=lambda sort: (-tables.sorts[sort].value, sort)):
        for _ in tables.sorts[sort].pieces:
            if not filling.press(sort, (LEAN, 1.0)):
                break
    return filling


def spots_of(
    tables: NfpCache, ground: int, sorts: Sequence[int], forms: Sequence[int], at: np.ndarray
) -> list[PiecePlacement]:
    """Return forms laid as spots of pieces, which go to the places of their sort in turn."""
    used: dict[int, int] = {}
    spots = []
    for sort, form, (x, y) in zip(sorts, forms, at.tolist(), strict=False):
        copy = used.get(sort, 0)
        used[sort] = copy + 1
        spots.append(
            PiecePlacement(
                tables.sorts[sort].pieces[copy], ground, tables.form_turn[form], float(x), float(y)
            )
        )
    return spots
