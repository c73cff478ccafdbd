"""Which drawings are read, by suffix, and in which units: known without reading any."""

from __future__ import annotations

from typing import Final

from strapwright.core.units import MM_PER_INCH

SUFFIXES: Final = (".dxf", ".svg")
"""Endings of the drawings that are read."""

UNITS: Final = {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH}
"""What a DXF drawing's unit may be said to be, in mm, where the drawing does not say it."""
