"""Upper bounds on the value of straps by Lagrangian relaxation, its prices moved by the subgradient method.

The constraint that each strap is used once is relaxed: any may be used again and again, for a price, and the
prices of all straps there are, are given back. Whatever the prices, no layout is worth more than the best of
that; they are moved towards those that use each strap once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.bound.lanes import Lanes, lane_tables, lanes_value

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from strapwright.core.arrays import Floats, Ints


_PATIENCE = 12
"""Prices are moved half as far after so many bounds in a row that were no lower."""

_FINEST = 1e-3
"""Prices moved by less than this share change nothing worth the time."""


@dataclass(frozen=True, eq=False)
class StrapKinds:
    """Straps gathered by shape.

    Args:
        value: of a strap of each shape.
        number: straps of each shape.
        lanes: what decides of them and the ground.
    """

    value: Floats
    number: Ints
    lanes: Lanes


def lagrangian_bounds(
    kinds: StrapKinds, known: Callable[[], float], going: Callable[[int], bool], price: Floats | None = None
) -> Iterator[tuple[float, Floats]]:
    """Yield upper bounds on the straps' value, each with its prices (the Lagrange multipliers).

    Args:
        kinds: the straps and the ground.
        known: returns the worth of the best layout found so far, to aim the prices.
        going: is given how many bounds were found, and answers whether to go on.
        price: of each shape, to begin with; none if None.
    """
    one, two = lane_tables(kinds.lanes)
    used = np.zeros(len(kinds.value), np.int64)
    if price is None:
        price = np.zeros(len(kinds.value))
    best, best_price, scale, idle, count = math.inf, price, 1.0, 0, 0
    while going(count):
        worth = lanes_value(kinds.value - price, kinds.lanes, one, two, used) + float(price @ kinds.number)
        count += 1
        if worth < best - 1e-6:
            best, best_price, idle = worth, price, 0
        else:
            idle += 1
            if idle >= _PATIENCE:
                scale, idle, price = scale / 2, 0, best_price
                if scale < _FINEST:
                    return
                continue
        yield worth, price
        over = (used - kinds.number).astype(np.float64)
        over[(price <= 0) & (over < 0)] = 0.0
        square = float(over @ over)
        if not square:
            return
        # Where no layout is known that is as good, the prices aim a little below the bound.
        aim = max(worth - known(), worth * 1e-4)
        price = np.maximum(0.0, price + scale * aim / square * over)


def lowest_bound(found: Iterator[tuple[float, Floats]]) -> tuple[float, Floats]:
    """Return the lowest of some bounds with its prices; infinity and none where there is no bound."""
    return min(found, key=lambda pair: pair[0], default=(math.inf, np.zeros(0)))
