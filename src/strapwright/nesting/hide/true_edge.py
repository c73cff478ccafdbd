"""The first cut of a raw hide: straight, along the straps, so that there is an edge to measure from."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.core.findings import Finding, Severity
from strapwright.geometry.polygon import polygons_in, turned
from strapwright.nesting.hide.outline_check import outline_problem
from strapwright.nesting.hide.types import FirstCut, Hide

if TYPE_CHECKING:
    from strapwright.core.arrays import Floats


ENOUGH: Final = 0.9
"""An edge is squared where the cut runs unbroken over this share of the hide's longest chord."""

MOST_CUT: Final = 1 / 3
"""A cut that would take more than this share of the hide squares nothing."""

_STEP: Final = 0.5
"""Cuts are tried every so many mm: finer than a straightedge is laid."""

_HEIGHTS: Final = 200
"""Heights at which the hide's longest chord is looked for."""


def trued(hide: Hide) -> Hide | None:
    """Return a hide with its lower edge cut straight along the strap direction.

    The lower edge is the one to the right of the strap direction, from which straps are laid. Of all
    straight cuts the one nearest the edge is taken that runs through leather unbroken for nine tenths
    of the hide's longest chord. What lies beyond it is gone; flaws and zones there go with it.

    Returns:
        The hide with `Hide.first_cut` set, or as it was where its edge is straight already, with a
        finding either way; None where a cut would take more than a third of the hide.

    Example:
        >>> raw = Hide("raw", np.array([(0, 20), (500, 0), (1000, 15), (1000, 400), (0, 400)]))
        >>> cut = trued(raw).first_cut
        >>> cut.start, cut.end, cut.area
        ((100.0, 16.0), (1000.0, 16.0), 7450.0)
    """
    import shapely

    direction = hide.strap_direction
    seen = turned(hide.outline, -direction)
    whole = shapely.Polygon(seen)
    x0, y0, x1, y1 = whole.bounds
    enough = _enough(whole)
    if _straight_length(seen, y0) >= enough - 1e-6:
        found = Finding(
            "edge-straight-already",
            Severity.NOTE,
            "The edge the straps are laid from is straight already, so there is no first cut.",
            "Nothing to do; you can remove true_edge from the hide file.",
            subject=hide.name,
        )
        return replace(hide, findings=(*hide.findings, found))
    for y in np.arange(y0 + _STEP, y1, _STEP):
        start, length = _longest(whole, float(y), x0, x1)
        if length < enough - 1e-6:
            continue
        above = whole & shapely.box(x0 - 1, float(y), x1 + 1, y1 + 1)
        kept = max(polygons_in(above), key=lambda piece: float(piece.area))
        lost = float(whole.area - kept.area)
        if lost > MOST_CUT * whole.area:
            return None
        ends = turned(np.array([(start, y), (start + length, y)]), direction)
        # Without the corners in the middle of a straight edge.
        corners = shapely.get_coordinates(kept.exterior.simplify(0.0))[:-1]
        outline = turned(corners, direction)
        if outline_problem(outline) is not None:
            return None
        (ax, ay), (bx, by) = ends.tolist()
        found = Finding(
            "edge-trued",
            Severity.NOTE,
            f"The first cut squares the raw edge: straight from ({ax:.1f}, {ay:.1f}) to ({bx:.1f}, {by:.1f}) "
            f"mm, {y - y0:.1f} mm in from the edge's outermost point. It costs {lost / 100:.0f} cm² "
            f"({lost / hide.area:.1%} of the hide).",
            "It comes before anything else, by hand or as the machine's first path: measure from it.",
            subject=hide.name,
            numbers={"cut_off_mm2": lost, "deep_mm": float(y - y0)},
        )
        first_cut = FirstCut((ax, ay), (bx, by), lost)
        return replace(hide.cut_to(outline), first_cut=first_cut, findings=(*hide.findings, found))
    return None


def has_true_edge(hide: Hide, direction: float) -> bool:
    """Whether a hide's edge to the right of a direction is straight, by itself or since it was squared."""
    import shapely

    if hide.first_cut is not None:
        return True
    seen = turned(hide.outline, -direction)
    return _straight_length(seen, float(np.min(seen[:, 1]))) >= _enough(shapely.Polygon(seen)) - 1e-6


def _enough(whole: Any) -> float:
    """Return how long a straight edge must be to lay straps from."""
    x0, y0, x1, y1 = whole.bounds
    return ENOUGH * max(_longest(whole, y, x0, x1)[1] for y in np.linspace(y0, y1, _HEIGHTS + 2)[1:-1])


def _longest(whole: Any, y: float, x0: float, x1: float) -> tuple[float, float]:
    """Return where the longest unbroken chord at a height begins, and how long it is."""
    import shapely

    chords = shapely.get_parts(whole & shapely.LineString([(x0 - 1, y), (x1 + 1, y)]))
    spans = [(line.bounds[0], line.length) for line in chords if line.geom_type == "LineString"]
    return max(spans, key=lambda span: span[1], default=(0.0, 0.0))


def _straight_length(outline: Floats, y0: float) -> float:
    """Return how much of the edge runs along the lowest height already."""
    following = np.roll(outline, -1, axis=0)
    low = (outline[:, 1] < y0 + 1e-6) & (following[:, 1] < y0 + 1e-6)
    return float(np.abs(following - outline)[low, 0].sum())
