"""Random numbers for compiled searches, the same on every machine."""

from __future__ import annotations

from typing import Any

import numpy as np

from strapwright.nesting.compiled import within


@within
def rng_of(seed: int) -> Any:
    """Return the state of a xorshift generator for a seed (Marsaglia, "Xorshift RNGs", 2003)."""
    rng = np.empty(1, np.uint64)
    rng[0] = np.uint64(seed) * np.uint64(0x9E3779B97F4A7C15) + np.uint64(0x632BE59BD9B4E019)
    if rng[0] == 0:
        rng[0] = np.uint64(1)
    for _ in range(8):
        uniform(rng)
    return rng


@within
def uniform(rng: Any) -> Any:
    """Return the next number, from 0 to just below 1."""
    s = rng[0]
    s ^= s << np.uint64(13)
    s ^= s >> np.uint64(7)
    s ^= s << np.uint64(17)
    rng[0] = s
    return np.float64(s >> np.uint64(11)) / 9007199254740992.0


@within
def integer(rng: Any, count: int) -> Any:
    """Return one of the numbers from 0 to ``count - 1``."""
    return min(count - 1, int(uniform(rng) * count))
