"""Leather as the rules need it: how it was tanned."""

from __future__ import annotations

from enum import StrEnum


class Tannage(StrEnum):
    """How the leather was tanned, which decides whether a laser may touch it.

    ``SYNTHETIC`` is stock that only looks like leather; ``UNKNOWN`` is what to write when
    no data sheet came with the hide.
    """

    VEGETABLE = "vegetable"
    CHROME = "chrome"
    COMBINATION = "combination"
    SYNTHETIC = "synthetic"
    UNKNOWN = "unknown"
