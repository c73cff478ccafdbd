"""Contours as SVG path data: lines as lines, arcs as arcs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from strapwright.core.tolerances import SVG_ARC_SWEEP_DEG

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.geometry.contour import Contour

_DECIMALS: Final = 7
"""Rounding to 7 decimals moves a point by 0.00000005 mm at most."""

_FLAT: Final = 1e-5
"""An arc that rises less than this over its chord is drawn straight, mm: its radius is so great that
readers lose its centre."""


def path_data(contour: Contour, top: float = 0.0, *, down: bool = False) -> str:
    """Return a contour as the ``d`` of an SVG path, y turned, arcs of at most 120°.

    Args:
        contour: y to the back, mm.
        top: the y that is SVG's 0, mm.
        down: whether the contour's y runs down already, as SVG's does; it is not turned then.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> path_data(Contour([(0, 0, 0), (4, 0, 1)]))
        'M0,0L4,0A2,2 0 0 0 2,-2A2,2 0 0 0 0,0Z'
    """
    figures = (contour.starts, contour.ends, contour.centres, contour.radii, contour.sweeps)
    segments = list(zip(*(each.tolist() for each in figures), contour.segment_lengths.tolist(), strict=True))
    way = 1.0 if down else -1.0
    words = ["M" + _point(segments[0][0], top, way)]
    last = len(segments) - 1
    for index, (begin, finish, centre, far, sweep, length) in enumerate(segments):
        if length * abs(sweep) / 8 < _FLAT:  # the rise, nearly
            if not (contour.closed and index == last):  # Z draws a straight way home itself
                words.append("L" + _point(finish, top, way))
            continue
        pieces = max(1, math.ceil(abs(sweep) / math.radians(SVG_ARC_SWEEP_DEG) - 1e-9))
        x, y = begin[0] - centre[0], begin[1] - centre[1]
        radius = decimal(far)
        for piece in range(1, pieces + 1):
            end = finish
            if piece < pieces:
                turn = sweep * piece / pieces
                cos, sin = math.cos(turn), math.sin(turn)
                end = [centre[0] + (x * cos - y * sin), centre[1] + (x * sin + y * cos)]
            # Turning y turns the sense of every arc: SVG's 1 is clockwise on the bed.
            words.append(f"A{radius},{radius} 0 0 {int(sweep * way > 0)} {_point(end, top, way)}")
    return "".join(words) + ("Z" if contour.closed else "")


def _point(point: Sequence[float], top: float, way: float) -> str:
    return f"{decimal(point[0])},{decimal(top + way * point[1])}"


def decimal(value: float) -> str:
    """Return a number as an SVG file has it: at most seven decimals, none that is nought."""
    text = f"{value:.{_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
