"""Tell whether any layout of a case's straps could reach a figure, by looking through all that might.

Run: python benchmarks/ceiling.py --data DIR --case L60 --figure 0.668 [--cells 0.25] [--millions 40]

Straps are looked at as the bounds look at them (`strapwright.nesting.bound.relaxation`): as bars in two
lanes, rather with a little more room than they have. Layouts are made of them cell by cell from below. One is
given up once what may still be added to it, by any of several sets of fees, takes it no further than the
figure; one that holds the same straps and ends alike, or has two straps that could change places, is looked
at once. What is no strap counts as if all of it found room.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numba
import numpy as np

from cases import Case, read_cases
from strapwright.nesting.bound.lagrangian_bound import (
    Lanes,
    StrapKinds,
    lagrangian_bounds,
    lane_tables,
    lanes_value,
    lowest_bound,
)
from strapwright.nesting.bound.relaxation import relax_to_lanes
from strapwright.nesting.solver.solve import solve

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

CUTS = (0.25, 0.4, 0.55, 0.7, 0.85)
"""Shares of a good layout's straps, from below, for what may lie above which fees are found as well."""

COARSE = 1.0
"""Height of the cells in which those fees are found, mm."""

ALLOWED = 25.0
"""Layouts are given up only this far below the figure, mm²: the tables are kept in single precision."""


@numba.njit(cache=True, nogil=True)
def look_through(
    value: Floats,
    number: Ints,
    gain: Floats,
    whole: Floats,
    one: Singles,
    two: Singles,
    lanes: Lanes,
    rank: Ints,
    salt: Ints,
    floor: float,
    most: int,
) -> tuple[bool, float, int]:
    """Return whether all was looked through, the most that any layout met was worth, and how many there were.

    Args:
        value: of a strap of each kind.
        number: straps of each kind.
        gain: value less fee, (sets of fees, kinds).
        whole: the bound of each set.
        one: what `lanes_value` found with each set, (sets, cells).
        two: likewise, (sets, cells, left, lanes).
        lanes: what decides of the straps and the ground.
        rank: of each kind, all different: which of two that could change places lies below.
        salt: a random number for each kind, to tell by their sum what lies.
        floor: layouts that cannot be worth more are given up.
        most: half-made layouts kept at once, at most.
    """
    begins, covers, kind, tall, beside = lanes
    kinds, rows = begins.shape
    sets = len(gain)
    used = np.zeros((most, kinds), np.int8)
    parent, next_one = np.full(most, -1, np.int32), np.full(most, -1, np.int32)
    what, at_row, since = np.zeros(most, np.int16), np.zeros(most, np.int32), np.zeros(most, np.int32)
    left_of, lane_of = np.zeros(most, np.int16), np.zeros(most, np.int16)
    made = np.zeros(most, np.int32)
    may = np.zeros((most, sets), np.float32)
    key, laid = np.zeros(most, np.int64), np.zeros(most)
    first = np.full((rows + 1, 2), -1, np.int32)
    here, then_may = np.empty(sets), np.empty(sets)
    first[0, 0] = 0
    for p in range(sets):  # one by one: an array set to an array takes seconds to compile
        may[0, p] = whole[p]
    free, unused, looked, best = -1, 1, 0, 0.0
    for row in range(rows):
        for phase in range(2):
            m = first[row, phase]
            first[row, phase] = -1
            count, walk = 0, m
            while walk >= 0:
                count += 1
                walk = next_one[walk]
            seen = np.full(2 * count + 16, -1, np.int32)
            while m >= 0:
                following = next_one[m]
                if _met(seen, used, key, left_of, lane_of, m):
                    if m > 0 and made[m] == 0:
                        made[parent[m]] -= 1
                        next_one[m], free = free, m
                    m = following
                    continue
                looked += 1
                left, lane = left_of[m], lane_of[m]
                for p in range(sets):
                    here[p] = may[m, p] - (one[p, row] if left == 0 else two[p, row, left, lane])
                for s in range(kinds):
                    if used[m, s] >= number[s] or not begins[s, row]:
                        continue
                    k = kind[s]
                    below = since[m] < row and begins[s, row - 1]
                    for side in range(1 if k < 0 or left else 2):
                        then, still, other = row + covers[s], 0, 0
                        if left:
                            if k < 0 or not (beside[row, left, lane] >> np.uint32(k)) & np.uint32(1):
                                continue
                            if covers[s] < left:
                                still, other = left - covers[s], lane
                            elif covers[s] > left:
                                then, still, other = row + left, covers[s] - left, 2 * k + 1 - lane % 2
                            if below and left < tall[lane // 2]:
                                bits = beside[row - 1, left + 1, lane]
                                if (bits >> np.uint32(k)) & np.uint32(1):
                                    continue
                        elif k >= 0:
                            then, still, other = row, covers[s], 2 * k + side
                            lower = beside[row - 1, tall[k], other] if below else np.uint32(0)
                            if below and beside[row, tall[k], other] | lower == lower:
                                continue
                        elif below:
                            continue
                        if then >= rows:
                            then, still = rows, 0
                        least = np.inf
                        for p in range(sets):
                            then_may[p] = here[p] + gain[p, s]
                            then_may[p] += one[p, then] if still == 0 else two[p, then, still, other]
                            least = min(least, then_may[p])
                        if least <= floor:
                            continue
                        if k < 0 and _changed_places(
                            parent, what, at_row, m, s, row, rank, begins, covers, kind
                        ):
                            continue
                        if free >= 0:
                            new, free = free, next_one[free]
                        elif unused < most:
                            new = unused
                            unused += 1
                        else:
                            return False, best, looked
                        for o in range(kinds):
                            used[new, o] = used[m, o]
                        used[new, s] += 1
                        made[new] = 0
                        made[m] += 1
                        parent[new], what[new], at_row[new], since[new] = m, s, row, then
                        left_of[new], lane_of[new] = still, other
                        key[new], laid[new] = key[m] + salt[s], laid[m] + value[s]
                        best = max(best, laid[new])
                        for p in range(sets):
                            may[new, p] = then_may[p]
                        next_one[new] = first[then, 1 if still else 0]
                        first[then, 1 if still else 0] = new
                still = max(left - 1, 0)
                least = np.inf
                for p in range(sets):
                    may[m, p] = here[p] + (one[p, row + 1] if still == 0 else two[p, row + 1, still, lane])
                    least = min(least, may[m, p])
                if least > floor:
                    left_of[m], lane_of[m] = still, lane if still else 0
                    if left == 1:
                        since[m] = row + 1
                    next_one[m] = first[row + 1, 1 if still else 0]
                    first[row + 1, 1 if still else 0] = m
                elif m > 0 and made[m] == 0:
                    made[parent[m]] -= 1
                    next_one[m], free = free, m
                m = following
    return True, best, looked


@numba.njit(cache=True, nogil=True)
def _met(seen: Ints, used: Ints, key: Ints, left: Ints, lane: Ints, m: int) -> bool:
    """Whether a layout that holds the same straps and ends alike was met in this row; remember it if not."""
    slot = abs(key[m] * 31 + left[m] * 1000003 + lane[m] * 7919) % len(seen)
    while seen[slot] >= 0:
        o = seen[slot]
        if key[o] == key[m] and left[o] == left[m] and lane[o] == lane[m] and np.all(used[o] == used[m]):
            return True
        slot = (slot + 1) % len(seen)
    seen[slot] = m
    return False


@numba.njit(cache=True, nogil=True)
def _changed_places(
    parent: Ints,
    what: Ints,
    at_row: Ints,
    m: int,
    s: int,
    row: int,
    rank: Ints,
    begins: Flags,
    covers: Ints,
    kind: Ints,
) -> bool:
    """Whether a layout is met again with straps in other places, if one that lies alone is laid next.

    Of two straps of one height that could change places, the one of lower rank lies below; of two that lie
    on one another, the higher one.
    """
    last = True
    while parent[m] >= 0:
        o, theirs = what[m], at_row[m]
        if kind[o] < 0:
            if covers[o] == covers[s]:
                if rank[s] < rank[o] and begins[s, theirs] and begins[o, row]:
                    return True
            elif (
                last
                and covers[s] > covers[o]
                and theirs + covers[o] == row
                and begins[s, theirs]
                and begins[o, theirs + covers[s]]
            ):
                return True
        last = False
        m = parent[m]
    return False


def sets_of_prices(case: Case, finest: float, floor: float, seconds: float) -> Iterator[Floats]:
    """Yield the fees of the lowest bound, and of bounds for what may lie above a good layout's lower part."""
    price: Floats | None = None
    cells = 2.0
    while cells >= finest:
        _, price = lowest_bound(
            lagrangian_bounds(kinds_of(case, cells), lambda: floor, lambda count: count < 150, price)
        )
        cells /= 2
    assert price is not None
    yield price
    found = solve(case.problem, time_limit=seconds)
    pieces = case.problem.pieces
    numbers = {key: n for n, key in enumerate(dict.fromkeys((p.shape, p.value) for p in pieces if p.strap))}
    lying = sorted(
        (float(placed.y), numbers[pieces[placed.piece].shape, pieces[placed.piece].value])
        for placed in found.placements
        if pieces[placed.piece].strap
    )
    relaxed = relax_to_lanes(case.problem, 0, COARSE)
    kinds = relaxed.kinds
    assert kinds is not None
    for share in CUTS:
        below = lying[: round(len(lying) * share)]
        rest = kinds.number - np.bincount([kind for _, kind in below], minlength=len(kinds.number))
        begins = kinds.lanes.begins.copy()
        begins[:, : int((below[-1][0] - relaxed.y0) / relaxed.step)] = False
        above = replace(kinds, number=rest, lanes=kinds.lanes._replace(begins=begins))
        known = floor - float(kinds.value[[kind for _, kind in below]].sum())
        yield lowest_bound(lagrangian_bounds(above, lambda on=known: on, lambda count: count < 80, price))[1]  # type: ignore[misc]


def kinds_of(case: Case, cells: float) -> StrapKinds:
    """Return the straps of a case and its hide in cells of a height."""
    kinds = relax_to_lanes(case.problem, 0, cells).kinds
    if kinds is None:
        sys.exit(
            f"{case.name}: its straps are hollow, or three of them may lie abreast: nothing is known of such"
        )
    return kinds


def ceiling(case: Case, figure: float, cells: float, most: int, seconds: float = 10.0) -> str:
    """Return what is known of layouts that reach a figure, in a sentence."""
    others = sum(piece.value for piece in case.problem.pieces if not piece.strap)
    floor = figure * case.sound - others
    began = time.perf_counter()
    prices = list(sets_of_prices(case, cells, floor, seconds))
    kinds = kinds_of(case, cells)
    used = np.zeros(len(kinds.value), np.int64)
    ones, twos, whole = [], [], []
    for price in prices:
        one, two = lane_tables(kinds.lanes)
        whole.append(
            lanes_value(kinds.value - price, kinds.lanes, one, two, used) + float(price @ kinds.number)
        )
        ones.append(one.astype(np.float32))
        twos.append(two.astype(np.float32))
    bound = (min(whole) + others) / case.sound
    print(f"{case.name}: bound {bound:.5f} after {time.perf_counter() - began:.0f} s", file=sys.stderr)
    finished, best, looked = look_through(
        kinds.value,
        kinds.number,
        kinds.value - np.array(prices),
        np.array(whole),
        np.array(ones),
        np.array(twos),
        kinds.lanes,
        np.argsort(np.argsort(-kinds.value, kind="stable"), kind="stable"),
        np.random.default_rng(0).integers(1, 2**40, len(kinds.value)),
        floor - ALLOWED,
        most,
    )
    told = (
        f"{case.name}: {looked / 1e6:.0f} million half-made layouts in {time.perf_counter() - began:.0f} s: "
    )
    if not finished:
        return told + f"too many to keep at once; what is known is the bound, {bound:.5f}"
    if best > floor - ALLOWED:
        return told + f"some may reach {figure:g}, as far as cells of {cells:g} mm tell"
    return told + f"none reaches {figure:g}"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--data", type=Path, required=True, help="folder of .json cases")
    parser.add_argument("--case", required=True)
    parser.add_argument("--figure", type=float, required=True, help="utilisation asked of a layout")
    parser.add_argument("--cells", type=float, default=0.25, help="height of the cells, mm")
    parser.add_argument(
        "--millions", type=float, default=20.0, help="half-made layouts kept at once, millions"
    )
    given = parser.parse_args()
    for case in read_cases(given.data):
        if case.name == given.case:
            print(ceiling(case, given.figure, given.cells, int(given.millions * 1e6)))
            return 0
    sys.exit(f"{given.data} holds no case {given.case}")


if __name__ == "__main__":
    sys.exit(main())
