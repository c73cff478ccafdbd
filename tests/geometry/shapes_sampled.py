"""Contours shared by the tests: shapes of the trade and random ones."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from strapwright.core.errors import GeometryError
from strapwright.geometry.contour import Contour
from strapwright.geometry.intersect import self_crossing
from strapwright.geometry.shapes import filleted, rectangle, stadium
from strapwright.parts.tips import TIPS


def tipped_strap(tip: str = "english_point", width: float = 38.0, length: float = 300.0) -> Contour:
    """A plain strap with one square end and a tip."""
    drawn = TIPS[tip](width).vertices()
    return Contour(np.array([(-length, -width / 2, 0.0), *drawn, (-length, width / 2, 0.0)], dtype=float))


NAMED = {
    "circle": Contour.circle(3.0, -2.0, 12.0),
    "stadium": stadium(0.0, 0.0, 27.0, 5.5),
    "rectangle": rectangle(0.0, 0.0, 40.0, 18.0),
    "rounded": filleted([(0, 0), (50, 0), (50, 20), (0, 30)], [3, 6, 0, 8]),
    "l_shape": Contour.from_points([(0, 0), (40, 0), (40, 15), (15, 15), (15, 40), (0, 40)]),
    **{name: tipped_strap(name) for name in TIPS},
}


@st.composite
def stars(draw: st.DrawFn) -> Contour:
    """Simple closed contours of lines and arcs round the origin, bulges up to a half turn."""
    count = draw(st.integers(3, 12))
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    while True:
        angles = np.sort(rng.uniform(0, 2 * np.pi, count))
        radii = rng.uniform(15.0, 50.0, count)
        bulges = np.where(rng.random(count) < 0.5, 0.0, rng.uniform(-0.9, 0.9, count))
        try:
            contour = Contour(np.column_stack([radii * np.cos(angles), radii * np.sin(angles), bulges]))
        except GeometryError:
            continue
        if self_crossing(contour) is None and contour.area > 0:
            return contour
