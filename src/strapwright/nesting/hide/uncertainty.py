"""A hide whose outline is not known exactly: taken smaller by what it may be off, flaws larger."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from strapwright.core.errors import NestError
from strapwright.core.findings import Finding, Severity
from strapwright.nesting.hide.types import Flaw, FlawKind, Hide, round_flaw

if TYPE_CHECKING:
    from strapwright.core.arrays import Floats

MOST_UNSURE: Final = 20.0
"""An outline that may be off by more is to be measured again, mm."""

_CORNER: Final = 4
"""Corners to a quarter turn where a flaw is grown."""

_ROUND: Final = 1 / np.cos(1.5 * np.pi / (4 * _CORNER))
"""What a distance is taken times for chords between corners to keep it; GEOS rounds their count."""


def taken_smaller(hide: Hide, by: float) -> Hide:
    """Return what is surely there of a hide, its flaws grown by as much.

    Args:
        hide: as it was measured.
        by: how far outline and flaws may be off, mm.

    Raises:
        NestError: nothing is surely there.

    Example:
        >>> bend = Hide("bend", np.array([(0, 0), (1200, 0), (1200, 700), (0, 700)]))
        >>> taken_smaller(bend, 2.0).area
        832416.0
    """
    left = shapely.Polygon(hide.outline).buffer(-by, join_style="mitre")
    if left.is_empty:
        raise NestError(f"hide {hide.name}: uncertainty {by:g} mm leaves nothing of it; measure it again")
    smaller = hide.cut_to(_corners(max(shapely.get_parts(left), key=lambda part: part.area)))
    note = Finding(
        "hide-uncertainty",
        Severity.NOTE,
        f"The hide is taken {by:.1f} mm smaller all round, and its flaws larger: so much may it be off.",
        "To take it as it stands, set uncertainty = 0 in its file.",
        subject=hide.name,
        numbers={"uncertainty_mm": by},
    )
    return replace(
        smaller, flaws=tuple(_grown(flaw, by) for flaw in smaller.flaws), findings=(*hide.findings, note)
    )


def unsure_flaw(points: Floats, within: float) -> Flaw:
    """Return the strip along a stretch of the edge that parts keep off.

    Args:
        points: along the stretch, (N, 2) mm.
        within: how far from them the true edge may be, mm.
    """
    strip = shapely.LineString(points).buffer(within * _ROUND, quad_segs=_CORNER)
    return Flaw(FlawKind.HOLE, _corners(strip))


def unsure_edge(name: str, count: int) -> Finding:
    """Return the finding that stretches of a hide's edge were not seen well."""
    many = "A stretch" if count == 1 else f"{count} stretches"
    return Finding(
        "hide-unsure-edge",
        Severity.CAUTION,
        f"{many} of the edge could not be seen well when the hide was measured; parts keep off there.",
        "Look at the hide, correct its points there, and take the [[unsure]] table out.",
        subject=name,
    )


def _grown(flaw: Flaw, by: float) -> Flaw:
    if flaw.round is not None:
        x, y, diameter = flaw.round
        return round_flaw(flaw.kind, x, y, diameter + 2 * by)
    return Flaw(flaw.kind, _corners(shapely.Polygon(flaw.polygon).buffer(by * _ROUND, quad_segs=_CORNER)))


def _corners(polygon: Any) -> Floats:
    return np.asarray(polygon.exterior.coords)[:-1]
