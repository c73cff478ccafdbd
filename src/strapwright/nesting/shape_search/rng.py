"""Random numbers for compiled searches, the same on every machine: whole numbers and one division."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def dice_of(seed: int) -> Any:
    """Return dice for a seed: the state of a xorshift generator (Marsaglia, "Xorshift RNGs", 2003)."""
    dice = np.empty(1, np.uint64)
    dice[0] = np.uint64(seed) * np.uint64(0x9E3779B97F4A7C15) + np.uint64(0x632BE59BD9B4E019)
    if dice[0] == 0:
        dice[0] = np.uint64(1)
    for _ in range(8):
        roll(dice)
    return dice


@njit(cache=True, nogil=True)
def roll(dice: Any) -> Any:
    """Return the next number, from 0 to just below 1."""
    s = dice[0]
    s ^= s << np.uint64(13)
    s ^= s >> np.uint64(7)
    s ^= s << np.uint64(17)
    dice[0] = s
    return np.float64(s >> np.uint64(11)) / 9007199254740992.0


@njit(cache=True, nogil=True)
def pick(dice: Any, count: int) -> Any:
    """Return one of the numbers from 0 to ``count - 1``."""
    return min(count - 1, int(roll(dice) * count))
