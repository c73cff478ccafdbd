"""Bottom-left fill: pieces placed one after another, each as low and as far left as it goes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.problem.types import PiecePlacement

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.shape_search.nfp_cache import NfpCache

_PLACES = 8192
"""Corners kept for one rotation: far more than are ever looked through in a full ground."""

FEW = 8
"""Of a group with no more pieces than this each is laid by itself, without corners kept for the next."""

LEAN = 0.02
"""How much of the way a piece is pressed leans to the side, so that no two corners count the same."""


class BottomLeftFill:
    """Rotations laid on one ground so far.

    Args:
        cache: of the ground.
    """

    def __init__(self, cache: NfpCache) -> None:
        room = sum(len(group.pieces) for group in cache.groups)
        self.cache = cache
        self.count = 0
        self.groups: list[int] = []
        self.rotations = np.zeros(room, dtype=np.int64)
        self.at = np.zeros((room, 2))
        self._corners: dict[int, tuple[np.ndarray, int, int]] = {}

    def put(self, rotation: int, x: float, y: float) -> None:
        """Lay a rotation down."""
        self.groups.append(self.cache.group_of[rotation])
        self.rotations[self.count] = rotation
        self.at[self.count] = x, y
        self.count += 1

    def place_lowest(self, group: int, way: tuple[float, float]) -> bool:
        """Lay one piece of a group as far against a direction as it goes; return whether it had a place.

        Args:
            group: its number.
            way: the direction it keeps back from: up, for a piece that is to lie low.
        """
        from strapwright.nesting.shape_search.corners import lowest_corner, lowest_kept, update_corners

        if not self.cache.fits(group):
            return False
        nfps = self.cache.arrays_beside(self.rotations[: self.count].tolist(), group)
        best = math.inf
        chosen = (-1, 0.0, 0.0)
        for rotation in self.cache.fitting(group):
            if len(self.cache.groups[group].pieces) <= FEW:
                x, y, reach = lowest_corner(
                    nfps, rotation, self.count, self.rotations, self.at, *way, best - 1e-9
                )
                if reach < best:
                    best, chosen = reach, (rotation, x, y)
                continue
            places, count, done = self._corners.get(rotation) or (np.empty((_PLACES, 2)), 0, -1)
            count = update_corners(nfps, rotation, self.count, self.rotations, self.at, done, places, count)
            self._corners[rotation] = (places, count, self.count)
            where, reach = lowest_kept(nfps, rotation, places, count, *way)
            if where >= 0 and reach < best - 1e-9:
                best, chosen = reach, (rotation, float(places[where, 0]), float(places[where, 1]))
        if chosen[0] < 0:
            return False
        self.put(*chosen)
        return True

    def value(self) -> float:
        """Return what the pieces laid are worth."""
        return sum(self.cache.groups[group].value for group in self.groups)


def bottom_left_fill(cache: NfpCache) -> BottomLeftFill:
    """Return a first layout: the most valuable pieces first, each as low, then as far left, as it goes."""
    filling = BottomLeftFill(cache)
    for group in sorted(range(len(cache.groups)), key=lambda group: (-cache.groups[group].value, group)):
        for _ in cache.groups[group].pieces:
            if not filling.place_lowest(group, (LEAN, 1.0)):
                break
    return filling


def placements_of(
    cache: NfpCache, ground: int, groups: Sequence[int], rotations: Sequence[int], at: np.ndarray
) -> list[PiecePlacement]:
    """Return rotations laid as placements of pieces, which go to the places of their group in turn."""
    used: dict[int, int] = {}
    placements = []
    for group, rotation, (x, y) in zip(groups, rotations, at.tolist(), strict=False):
        copy = used.get(group, 0)
        used[group] = copy + 1
        placements.append(
            PiecePlacement(
                cache.groups[group].pieces[copy], ground, cache.angle_of[rotation], float(x), float(y)
            )
        )
    return placements
