"""Outlines, grounds and orders drawn at random, for tests of nesting."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import strategies as st

from strapwright.nesting.problem import Area, Ground, Piece, Problem, Zone

QUARTERS = (0.0, math.pi / 2, math.pi, 3 * math.pi / 2)


@st.composite
def stars(draw, radius: float, corners: int = 9, least: float = 0.25):
    """A simple outline about the origin, with dents as deep as ``least`` lets them be."""
    count = draw(st.integers(3, corners))
    # A corner in every sector, so that no two lie behind each other.
    angles = [(k + draw(st.floats(0.1, 0.9))) * 2 * math.pi / count for k in range(count)]
    reach = [radius * draw(st.floats(least, 1.0)) for _ in range(count)]
    outline = np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(reach)[:, None]
    if not shapely.Polygon(outline).is_valid or shapely.Polygon(outline).area < 1e-3 * radius**2:
        outline = np.array([[0, 0], [radius, 0], [radius, radius], [0, radius]])
    # With few corners the origin may lie outside, and the outline run clockwise.
    return outline if shapely.Polygon(outline).exterior.is_ccw else outline[::-1].copy()


@st.composite
def problems(draw, grounds: int = 2):
    """A problem with flaws of two kinds, pieces of a few shapes, a gap and a margin."""
    sheets = []
    for _ in range(draw(st.integers(1, grounds))):
        boundary = draw(stars(300.0, 12, 0.6))
        zones = []
        for _ in range(draw(st.integers(0, 3))):
            at = np.array([draw(st.floats(-200, 200)), draw(st.floats(-200, 200))])
            zones.append(Zone(draw(stars(60.0)) + at, draw(st.sampled_from(("hole", "mark")))))
        sheets.append(Ground(boundary, tuple(zones)))
    pieces = []
    for shape in range(draw(st.integers(1, 3))):
        outline = draw(stars(draw(st.floats(30.0, 120.0))))
        turns = draw(st.sampled_from(((0.0,), QUARTERS, (0.3, 1.1, 2.0))))
        shown = Area(np.array(outline * 0.4), frozenset({"mark"}))
        areas = draw(st.sampled_from(((), (shown,))))
        only = draw(st.sampled_from((None, (0,))))
        area = float(shapely.Polygon(outline).area)
        pieces += [
            Piece(f"{shape}-{copy}", outline, turns, frozenset({"hole"}), areas, area, shape, grounds=only)
            for copy in range(draw(st.integers(1, 6)))
        ]
    gap, margin = draw(st.sampled_from(((0.0, 0.0), (2.0, 3.0), (1.0, 0.0))))
    return Problem(tuple(pieces), tuple(sheets), gap, margin)
