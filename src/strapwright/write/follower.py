"""A trailing blade, simulated: where its tip goes when the spindle runs along a track.

The blade is a follower: its tip lies the offset e behind the spindle and moves only along its own heading
θ. With the spindle running in direction φ, s its way, that is the differential equation

    dθ / ds = sin(φ − θ) / e.

It is integrated numerically, whatever the track was made for; nothing here knows how tracks are made.

Source: the definition of the tractrix; Runge–Kutta's method of the fourth order.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from strapwright.geometry.contour import Contour

    Floats = NDArray[np.float64]

_STEP: Final = 0.2
"""Step of the integration, in offsets: its error stays below 1e-5 radians."""

_SETTLED: Final = 1e-7
"""A blade that turns against its track by no more than this on all that is left is settled, radians."""

_CHORD: Final = 0.001
"""Points on an arc lie so near each other that their chords stay this near it, mm."""


@dataclass(frozen=True)
class Trace:
    """Where the tip went on one run.

    Args:
        points: (N, 2), mm, in order.
        heading: the blade's at the end, radians.
    """

    points: Floats
    heading: float


def follow(track: Contour, heading: float, offset: float) -> Trace:
    """Return where the tip goes while the spindle runs along a track.

    Args:
        track: the spindle's, open, mm.
        heading: the blade's at the start, radians.
        offset: from the spindle's axis to the tip, mm.

    Example:
        >>> from strapwright.geometry.shapes import line
        >>> trace = follow(line(0, 0, 6, 0), math.pi / 2, 1.0)  # a right angle off, six offsets long
        >>> round(float(abs(trace.points[-1, 1])), 3)
        0.005
    """
    xs: list[float] = []
    ys: list[float] = []
    starts, ends = track.starts.tolist(), track.ends.tolist()
    sweeps, lengths, centres = track.sweeps.tolist(), track.segment_lengths.tolist(), track.centres.tolist()
    for (x0, y0), (x1, y1), sweep, length, (cx, cy) in zip(
        starts, ends, sweeps, lengths, centres, strict=True
    ):
        along = math.atan2(y1 - y0, x1 - x0) - sweep / 2
        bend = sweep / length
        lag = math.remainder(along - heading, 2 * math.pi)
        reach = math.sqrt(8 * _CHORD / abs(bend)) if sweep else length
        ways, lags = _lags(lag, bend, length, offset, reach)
        for s, angle in zip(ways, lags, strict=True):
            turned = bend * s
            if sweep:
                cos, sin = math.cos(turned), math.sin(turned)
                x, y = cx + (x0 - cx) * cos - (y0 - cy) * sin, cy + (x0 - cx) * sin + (y0 - cy) * cos
            else:
                share = s / length
                x, y = x0 + (x1 - x0) * share, y0 + (y1 - y0) * share
            heading = along + turned - angle
            xs.append(x - offset * math.cos(heading))
            ys.append(y - offset * math.sin(heading))
    return Trace(np.column_stack([xs, ys]), heading)


def _lags(
    lag: float, bend: float, length: float, offset: float, reach: float
) -> tuple[list[float], list[float]]:
    """Return the angle ψ = φ − θ by which the blade lags behind the track's direction, along one segment.

    On a track of constant bend κ it obeys dψ / ds = κ − sin ψ / e.

    Args:
        lag: at the start, radians.
        bend: of the track, 1/mm, left positive.
        length: of the segment, mm.
        offset: of the blade, mm.
        reach: the furthest from one point returned to the next, mm.

    Returns:
        Ways along the segment and the lags there, its start and its end included.
    """
    ways, lags = [0.0], [lag]
    s = 0.0
    sin, most = math.sin, min(_STEP * offset, reach)
    while length - s > 1e-12:
        rate = bend - sin(lag) / offset
        left = length - s
        # A blade that stands backwards hardly turns either, but it is not settled.
        if abs(rate) * min(left, 20 * offset) < _SETTLED and math.cos(lag) > -0.1:
            count = math.ceil(left / reach - 1e-9)
            ways += [s + left * k / count for k in range(1, count)]
            ways.append(length)
            lags += [lag] * count
            break
        h = min(left, most)
        k2 = bend - sin(lag + h / 2 * rate) / offset
        k3 = bend - sin(lag + h / 2 * k2) / offset
        k4 = bend - sin(lag + h * k3) / offset
        lag += h / 6 * (rate + 2 * k2 + 2 * k3 + k4)
        s += h
        ways.append(s)
        lags.append(lag)
    return ways, lags
