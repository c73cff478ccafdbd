"""Fees for straps: what each costs that is used more often than there are such straps, by Lagrange's method.

Each strap may be used as often as one likes, but for a fee; the fees of all straps there are, are then given
back. Whatever the fees, no layout is worth more than the best of that; they are moved towards those that
use each strap once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.bound.lanes import Lanes, lanes_value, tables

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from strapwright.core.arrays import Floats, Ints


_PATIENCE = 12
"""Fees are moved half as far after so many bounds in a row that were no lower."""

_FINEST = 1e-3
"""Fees moved by less than this share change nothing worth the time."""


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
    """Yield values that no straps can pass, with the fees that gave them.

    Args:
        kinds: the straps and the ground.
        known: returns the worth of the best layout found so far, to aim the fees.
        going: is given how many bounds were found, and answers whether to go on.
        price: of each shape, to begin with; none if None.
    """
    one, two = tables(kinds.lanes)
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
        # Where no layout is known that is as good, the fees aim a little below the bound.
        aim = max(worth - known(), worth * 1e-4)
        price = np.maximum(0.0, price + scale * aim / square * over)


def lowest_bound(found: Iterator[tuple[float, Floats]]) -> tuple[float, Floats]:
    """Return the lowest of some bounds with its fees; infinity and none where there is no bound."""
    return min(found, key=lambda pair: pair[0], default=(math.inf, np.zeros(0)))
