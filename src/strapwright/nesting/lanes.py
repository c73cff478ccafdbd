"""The most value straps can have in two lanes, when each may be used again and again for a fee; compiled."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numba
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]


@numba.njit(cache=True, nogil=True)
def fill_lanes(
    gain: Floats,
    covers: Ints,
    kind: Ints,
    begins: Flags,
    beside: Ints,
    one: Floats,
    two: Floats,
    used: Ints,
) -> float:
    """Return the most that straps are worth from the lowest cell up, at most two on any line.

    Going down from the top, the best from a cell on is found from what is best further up: with both lanes
    free, or with a strap of some kind in one of them that reaches up for so many lines more.

    Args:
        gain: what each kind of strap is worth, less its fee.
        covers: lines it covers.
        kind: which of the kinds that may lie beside another it is; −1 for none.
        begins: cells it may begin in, (straps, cells).
        beside: for how many lines above a cell two kinds may lie side by side, (kinds, kinds, cells).
        one: room for the best with both lanes free, (cells + most covered + 1,).
        two: room for the best with one lane taken, (cells + most covered + 1, most covered + 1, kinds).
        used: filled with how often each strap is used.

    Returns:
        What they are worth.
    """
    straps, cells = begins.shape
    kinds = len(beside)
    most = two.shape[1] - 1
    for cell in range(len(one)):
        one[cell] = 0.0
    for cell in range(cells, len(one)):
        for left in range(most + 1):
            for k in range(kinds):
                two[cell, left, k] = 0.0
    for cell in range(cells - 1, -1, -1):
        for k in range(kinds):
            for left in range(1, most + 1):
                best = two[cell + 1, left - 1, k] if left > 1 else one[cell + 1]
                for s in range(straps):
                    if kind[s] >= 0 and gain[s] > 0 and begins[s, cell]:
                        value = _beside(s, gain, covers, kind, beside, one, two, cell, left, k)
                        best = max(best, value)
                two[cell, left, k] = best
        best = one[cell + 1]
        for s in range(straps):
            if gain[s] > 0 and begins[s, cell]:
                best = max(best, gain[s] + _alone(s, covers, kind, one, two, cell))
        one[cell] = best
    for s in range(straps):
        used[s] = 0
    cell, left, k = 0, 0, -1
    while cell < cells:
        chosen = -1
        for s in range(straps):
            if gain[s] > 0 and begins[s, cell]:
                if left == 0:
                    if (
                        one[cell] > one[cell + 1]
                        and gain[s] + _alone(s, covers, kind, one, two, cell) == one[cell]
                    ):
                        chosen = s
                        break
                elif kind[s] >= 0:
                    skipped = two[cell + 1, left - 1, k] if left > 1 else one[cell + 1]
                    value = _beside(s, gain, covers, kind, beside, one, two, cell, left, k)
                    if two[cell, left, k] > skipped and value == two[cell, left, k]:
                        chosen = s
                        break
        if chosen < 0:
            cell += 1
            left = max(0, left - 1)
            continue
        used[chosen] += 1
        if left == 0:
            if kind[chosen] < 0:
                cell += covers[chosen]
            else:
                left, k = covers[chosen], kind[chosen]
        elif covers[chosen] <= left:
            cell += covers[chosen]
            left -= covers[chosen]
        else:
            cell += left
            left, k = covers[chosen] - left, kind[chosen]
    return one[0]


@numba.njit(cache=True, nogil=True)
def _alone(s: int, covers: Ints, kind: Ints, one: Floats, two: Floats, cell: int) -> float:
    """Return what is best from a cell on once a strap has begun there in one of two free lanes."""
    if kind[s] < 0:
        return one[cell + covers[s]]
    return two[cell, covers[s], kind[s]]


@numba.njit(cache=True, nogil=True)
def _beside(
    s: int,
    gain: Floats,
    covers: Ints,
    kind: Ints,
    beside: Ints,
    one: Floats,
    two: Floats,
    cell: int,
    left: int,
    k: int,
) -> float:
    """Return what is best from a cell on where a strap begins beside one of kind ``k``; −inf if it cannot."""
    if beside[k, kind[s], cell] < min(covers[s], left):
        return -np.inf
    if covers[s] < left:
        return gain[s] + two[cell + covers[s], left - covers[s], k]
    if covers[s] == left:
        return gain[s] + one[cell + left]
    return gain[s] + two[cell + left, covers[s] - left, kind[s]]
