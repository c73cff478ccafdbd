"""Types of the arrays in annotations; NumPy is not loaded where only annotations need it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Bytes = NDArray[np.uint8]
Words = NDArray[np.uint32]
LongWords = NDArray[np.uint64]

Points = NDArray[np.float64]
"""Corners or places, (N, 2) mm."""
