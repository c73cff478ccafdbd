"""Upper bounds on the value of straps by Lagrangian relaxation, its prices moved by the subgradient method.

The constraint that each strap is used once is relaxed: any may be used again and again, for a price, and the
prices of all straps there are, are given back. Whatever the prices, no layout is worth more than the best of
that; they are moved towards those that use each strap once.

The best of that is found by dynamic programming in two lanes, compiled. On any line at most two straps lie
side by side, one in the left lane and one in the right. Of the leather only what decides is looked at: in
which rows a strap of each shape may begin at all, and which of two may lie beside each other there: the left
one pushed as far to the left as the hide allows, the other to the right. Everything else about a layout is
kept but one thing: how many straps of a shape there are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from strapwright.nesting.compiled import compiled, within
from strapwright.nesting.strap_search.guide import mark_beside

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from strapwright.core.arrays import Flags, Floats, Ints, Words

KINDS = 24
"""Straps that may lie beside another are sorted into no more kinds than this."""

_all_bits: Callable[..., Any] = np.bitwise_or.reduce  # whose own types no checker takes from NumPy 2.5 on

_BITS = 32
"""Straps that may lie beside another and are of more different heights than this are not looked at."""

_FIRST_BUCKET = 0.1
"""Where there are more, lengths within so much are taken for one, or within twice as much, and so on, mm."""

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


class Lanes(NamedTuple):
    """A ground and its straps reduced to two lanes.

    Args:
        begins: rows a strap of each shape may begin in, (shapes, rows).
        covers: rows it covers with the gap, (shapes,).
        kind: which of the kinds that may lie beside another it is; −1 for none, (shapes,).
        tall: rows that each kind covers, (kinds,).
        beside: kinds, as bits, that may begin in a row in the other lane while so many rows are left of a
            strap of kind k in the left (2k) or right (2k + 1) lane, (rows, most covered + 1, 2 · kinds).
    """

    begins: Flags
    covers: Ints
    kind: Ints
    tall: Ints
    beside: Words


class Ends(NamedTuple):
    """Where straps reach when they are pushed aside, for :func:`lanes_of`.

    Args:
        shape: of each form.
        make: of each form.
        length: of each form, mm.
        left: right end of the form pushed to the left, infinite where it finds no room, (forms, rows) mm.
        right: left end of the form pushed to the right, likewise minus infinite.
        apart: from the right end of a strap of one make to the left end of one of another, by how many rows
            that lies higher: see :func:`strapwright.nesting.strap_search.free_runs.distances`.
        middle: likewise.
    """

    shape: Ints
    make: Ints
    length: Floats
    left: Floats
    right: Floats
    apart: Floats
    middle: int


def ends_of(
    shape: Sequence[int],
    make: Ints,
    length: Floats,
    low: Floats,
    high: Floats,
    apart: Floats,
    middle: int,
    slack: float,
) -> Ends:
    """Return where forms reach, from the free runs of their makes.

    Args:
        shape: of each form.
        make: of each form.
        length: of each form, mm.
        low: left ends of the runs, (makes, rows, runs) mm.
        high: right ends.
        apart: see `Ends`.
        middle: likewise.
        slack: a form this much too long for a run still goes in, mm.
    """
    left, right = (np.empty((len(make), low.shape[1])) for _ in range(2))
    for form, (own, size) in enumerate(zip(make.tolist(), length.tolist(), strict=True)):
        fits = high[own] - low[own] >= size - slack
        left[form] = np.where(fits, low[own] + size, np.inf).min(axis=1)
        right[form] = np.where(fits, high[own] - size, -np.inf).max(axis=1)
    return Ends(np.array(shape, np.int64), make, length, left, right, apart, middle)


def lanes_of(
    ends: Ends, covers: Ints, slack: float, halted: Flags | None = None, *, single: bool = False
) -> Lanes | None:
    """Return a ground and its straps reduced to two lanes, or None where three straps may lie abreast.

    Args:
        ends: where the straps reach.
        covers: rows each shape covers.
        slack: two straps this much too near still lie side by side, mm.
        halted: once it holds, (1,), what was begun is left, and None returned.
        single: return None as soon as two straps are found that may lie side by side.
    """
    halted = np.zeros(1, np.bool_) if halted is None else halted
    shapes, rows = len(covers), ends.left.shape[1]
    fits = np.isfinite(ends.left)
    begins = np.zeros((shapes, rows), np.bool_)
    least = np.full(shapes, np.inf)
    for form, shape in enumerate(ends.shape.tolist()):
        begins[shape] |= fits[form]
        least[shape] = min(least[shape], ends.length[form])
    left_end = np.where(fits, ends.left - ends.length[:, None], np.inf).min(initial=np.inf)
    right_end = np.where(fits, ends.right + ends.length[:, None], -np.inf).max(initial=-np.inf)
    width = max(0.0, float(right_end - left_end))
    # Tips may reach past one another.
    closest = float(np.where(np.isfinite(ends.apart), ends.apart, np.inf).min(initial=np.inf)) - slack
    shortest = float(least.min(initial=np.inf))
    if 3 * shortest + 2 * closest <= width:
        return None
    paired = least + shortest + closest <= width
    while True:
        kind, tall = _kinds(least, covers, paired)
        if len(tall) > _BITS:
            return None
        beside = np.zeros((rows, int(np.max(tall, initial=0)) + 1, 2 * len(tall)), np.uint32)
        own = np.flatnonzero(kind[ends.shape] >= 0)
        met_one = mark_beside(
            kind[ends.shape[own]],
            ends.make[own],
            ends.left[own],
            ends.right[own],
            tall,
            ends.apart,
            ends.middle,
            slack,
            beside,
            halted,
            single,
        )
        if halted[0] or met_one:
            return None
        met = _all_bits(beside, axis=(0, 1)) if len(tall) else np.zeros(0, np.uint32)
        either = met[0::2] | met[1::2]
        anywhere = _all_bits(either) if len(tall) else np.uint32(0)
        live = np.array([bool(either[k]) or bool(int(anywhere) >> k & 1) for k in range(len(tall))], np.bool_)
        if live.all():
            return Lanes(begins, covers, kind, tall, beside)
        paired &= np.where(kind >= 0, live[kind], False)


def _kinds(length: Floats, covers: Ints, paired: Flags) -> tuple[Ints, Ints]:
    """Return the kind of each shape, −1 for those that are not paired, and the rows each kind covers."""
    bucket = 0.0
    while True:
        rounded = np.floor(length / bucket) if bucket else np.arange(len(length), dtype=np.float64)
        keys = sorted({(int(c), float(t)) for c, t, p in zip(covers, rounded, paired, strict=True) if p})
        tallest = len(set(covers[paired].tolist()))
        if len(keys) <= max(KINDS, tallest):
            break
        bucket = 2 * bucket or _FIRST_BUCKET
    number = {key: n for n, key in enumerate(keys)}
    kind = [number[int(c), float(t)] if p else -1 for c, t, p in zip(covers, rounded, paired, strict=True)]
    return np.array(kind, np.int64), np.array([key[0] for key in keys], np.int64)


def lane_tables(lanes: Lanes) -> tuple[Floats, Floats]:
    """Return the empty tables that :func:`lanes_value` fills: for both lanes free, and for one taken."""
    rows, most = lanes.beside.shape[0], int(np.max(lanes.covers, initial=0))
    return np.zeros(rows + most + 1), np.zeros((rows + most + 1, *lanes.beside.shape[1:]))


@within
def best_from(one: Floats, two: Floats, row: int, left: int, lane: int) -> float:
    """Return the best value from a row up, ``left`` rows still taken by a strap in a lane if not 0."""
    return one[row] if left == 0 else two[row, left, lane]


@within
def after(tall: Ints, row: int, left: int, lane: int, kind: int) -> tuple[int, int, int]:
    """Return row, rows left and lane once a strap of a kind has begun in the lane that was free."""
    own = tall[kind]
    if own < left:
        return row + own, left - own, lane
    if own == left:
        return row + left, 0, 0
    return row + left, own - left, 2 * kind + 1 - lane % 2


@compiled
def lanes_value(gain: Floats, lanes: Lanes, one: Floats, two: Floats, used: Ints) -> float:
    """Return the greatest value of straps in two lanes, by dynamic programming over rows.

    Going down from the top, the best from a row on is found from what is best further up: with both lanes
    free, or with a strap of some kind in one of them that reaches up for so many rows more.

    Args:
        gain: what a strap of each shape is worth, less its price.
        lanes: the ground and its straps.
        one: filled with the best with both lanes free, see :func:`lane_tables`.
        two: filled with the best with one lane taken.
        used: filled with how often each shape is used.

    Returns:
        What they are worth.
    """
    begins, covers, kind, tall, beside = lanes
    shapes, rows = begins.shape
    kinds = len(tall)
    own = np.empty(kinds)
    for row in range(rows - 1, -1, -1):
        alone = one[row + 1]
        for k in range(kinds):
            own[k] = -np.inf
        for s in range(shapes):
            if gain[s] > 0 and begins[s, row]:
                alone = max(alone, gain[s] + one[row + covers[s]])
                if kind[s] >= 0:
                    own[kind[s]] = max(own[kind[s]], gain[s])
        for lane in range(2 * kinds):
            for left in range(1, tall[lane // 2] + 1):
                best = two[row + 1, left - 1, lane] if left > 1 else one[row + 1]
                bits = beside[row, left, lane]
                k = 0
                while bits:
                    if bits & np.uint32(1) and own[k] > 0:
                        # As in `after`, written out: a call would take six times as long.
                        if tall[k] < left:
                            worth = own[k] + two[row + tall[k], left - tall[k], lane]
                        elif tall[k] == left:
                            worth = own[k] + one[row + left]
                        else:
                            worth = own[k] + two[row + left, tall[k] - left, 2 * k + 1 - lane % 2]
                        if worth > best:
                            best = worth
                    bits >>= np.uint32(1)
                    k += 1
                two[row, left, lane] = best
        for k in range(kinds):
            if own[k] > 0:
                alone = max(alone, own[k] + max(two[row, tall[k], 2 * k], two[row, tall[k], 2 * k + 1]))
        one[row] = alone
    for s in range(shapes):
        used[s] = 0
    lowest: Any = np.int64(0)
    row, left, lane = lowest, lowest, lowest
    while row < rows:
        row, left, lane = _decided(gain, lanes, one, two, row, left, lane, used)
    return float(one[0])


@within
def _decided(
    gain: Floats, lanes: Lanes, one: Floats, two: Floats, row: int, left: int, lane: int, used: Ints
) -> tuple[int, int, int]:
    """Return row, rows left and lane after the next decision of the best there is, and count the strap."""
    begins, covers, kind, tall, beside = lanes
    here = best_from(one, two, row, left, lane)
    if here == best_from(one, two, row + 1, max(left - 1, 0), lane):
        return row + 1, max(left - 1, 0), lane
    for s in range(len(gain)):
        if not (gain[s] > 0 and begins[s, row]):
            continue
        k = kind[s]
        if left:
            if k >= 0 and (beside[row, left, lane] >> np.uint32(k)) & np.uint32(1):
                then, still, other = after(tall, row, left, lane, k)
                if here == gain[s] + best_from(one, two, then, still, other):
                    used[s] += 1
                    return then, still, other
        else:
            if here == gain[s] + one[row + covers[s]]:
                used[s] += 1
                return row + covers[s], 0, 0
            if k >= 0:
                for other in range(2 * k, 2 * k + 2):
                    if here == gain[s] + two[row, tall[k], other]:
                        used[s] += 1
                        return row, tall[k], other
    return row + 1, max(left - 1, 0), lane
