"""Names for the arrays that annotations speak of; nothing heavy is loaded where only those need them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Words = NDArray[np.uint32]

Points = NDArray[np.float64]
"""Corners or places, (N, 2) mm."""
