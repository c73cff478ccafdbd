"""The spindle's track that makes a trailing blade's tip follow a contour: exact, line by line, arc by arc.

The tip trails the spindle's axis by the offset e, along the blade's heading. With the blade in line with
its path, the spindle is e ahead of the tip: on a line it runs along the same line; on an arc of radius R it
runs on the concentric arc of radius √(R² + e²), ahead by atan(e / R); at a corner it swings about the
corner on an arc of radius e, and the tip stands still.

Source: the geometry of a trailing point (the tractrix); no other program's way of doing it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from strapwright.core.tolerances import SHORTEST_SEGMENT
from strapwright.geometry.contour import Contour

_SETTLING: Final = 6.0
"""So many offsets of travel leave 0.005 of an offset of a blade that stood a right angle off."""

_STILL: Final = 2 * SHORTEST_SEGMENT
"""A swing of the spindle shorter than this is none, mm."""


@dataclass(frozen=True)
class Track:
    """Where the spindle runs while the tip is in the leather.

    Args:
        contour: the spindle's path, open.
        swivels: whether each of its segments is a swivel sharp enough to be raised for.
        heading: the blade's at the end, radians.
    """

    contour: Contour
    swivels: tuple[bool, ...]
    heading: float


def spindle_track(tip: Contour, heading: float, offset: float, swivel_angle: float) -> Track:
    """Return the spindle's track for a path of the tip.

    The blade goes in at the path's start with the heading it has, and swivels there into the path's
    direction; the tip stands still meanwhile.

    Args:
        tip: the tip's path, open, mm.
        heading: the blade's before it goes in, radians.
        offset: from the spindle's axis to the tip, mm, over 0.
        swivel_angle: a corner that turns further than this is raised for, radians.

    Example:
        >>> along = Contour([(0, 0, 0), (10, 0, 0), (10, 8, 0)], closed=False)
        >>> track = spindle_track(along, 0.0, 0.5, 0.4)
        >>> [tuple(round(float(v), 6) for v in vertex) for vertex in track.contour.vertices]
        [(0.5, 0.0, 0.0), (10.5, 0.0, 0.414214), (10.0, 0.5, 0.0), (10.0, 8.5, 0.0)]
        >>> track.swivels
        (False, True, False)
    """
    chords = tip.ends - tip.starts
    along = np.arctan2(chords[:, 1], chords[:, 0])
    arriving = (along + tip.sweeps / 2).tolist()
    leaving = (along - tip.sweeps / 2).tolist()
    starts, bulges = tip.starts.tolist(), tip.bulges.tolist()
    vertices: list[tuple[float, float, float]] = []
    swivels: list[bool] = []
    for (x, y), bulge, into, out_of in zip(starts, bulges, leaving, arriving, strict=True):
        turn = turn_between(heading, into)
        if abs(turn) * offset > _STILL:
            swing = math.tan(turn / 4)
            vertices.append((x + offset * math.cos(heading), y + offset * math.sin(heading), swing))
            swivels.append(abs(turn) > swivel_angle)
        vertices.append((x + offset * math.cos(into), y + offset * math.sin(into), bulge))
        swivels.append(False)
        heading = out_of
    x, y = tip.ends[-1].tolist()
    vertices.append((x + offset * math.cos(heading), y + offset * math.sin(heading), 0.0))
    return Track(Contour(np.array(vertices), closed=False), tuple(swivels), heading)


def settling_length(offset: float) -> float:
    """Return the travel that brings a blade into line, mm: 6 e from a right angle leaves 0.005 e.

    On a line the angle ψ off the path falls as tan(ψ / 2) = tan(ψ₀ / 2) exp(−s / e), and the tip lies
    e sin ψ off it.

    Example:
        >>> round(math.sin(2 * math.atan(math.exp(-settling_length(1.0)))), 4)
        0.005
    """
    return _SETTLING * offset


def turn_between(one: float, other: float) -> float:
    """Return the turn from one heading to another the shorter way, radians, left positive.

    Example:
        >>> round(math.degrees(turn_between(math.radians(170), math.radians(-170))))
        20
    """
    turn = math.remainder(other - one, 2 * math.pi)
    return math.pi if turn == -math.pi else turn


def opened(contour: Contour, first: int, overcut: float) -> Contour:
    """Return a closed contour as an open run from one of its vertices once round and on past it.

    Args:
        contour: closed.
        first: index of the vertex it starts at.
        overcut: how far it goes on past its start, mm; never a second time round.
    """
    vertices = np.roll(contour.vertices, -first, axis=0)
    lengths = np.roll(contour.segment_lengths, -first)
    run = [*vertices.tolist(), [*vertices[0, :2].tolist(), 0.0]]
    left = min(overcut, contour.length / 2)
    for k, length in enumerate(lengths.tolist()):
        if left < SHORTEST_SEGMENT:
            break
        share = min(1.0, left / length)
        run[-1][2] = _part_bulge(float(vertices[k, 2]), share)
        end = contour.ends[(first + k) % len(contour)]
        if share < 1.0:
            end = np.array(point_on(contour, (first + k) % len(contour), share))
        run.append([float(end[0]), float(end[1]), 0.0])
        left -= length
    return Contour(np.array(run), closed=False)


def started_at(contour: Contour, segment: int, share: float) -> Contour:
    """Return a closed contour with its first vertex moved to a place on one of its segments.

    Args:
        contour: closed.
        segment: index of the segment.
        share: how far along it, 0 to below 1; 0 is the vertex it starts at.
    """
    vertices = np.roll(contour.vertices, -segment, axis=0)
    if share == 0.0:
        return Contour(vertices)
    x, y = point_on(contour, segment, share)
    bulge = float(vertices[0, 2])
    first = (x, y, _part_bulge(bulge, 1.0 - share))
    last = (float(vertices[0, 0]), float(vertices[0, 1]), _part_bulge(bulge, share))
    return Contour(np.vstack([first, vertices[1:], last]))


def begun_along(contour: Contour, along: float) -> Contour:
    """Return a closed contour with its first vertex moved along it.

    Args:
        contour: closed.
        along: how far, mm; once round and further is taken from the start again.
    """
    along = math.fmod(along, contour.length)
    segment = min(
        int(np.searchsorted(contour.reach, along + SHORTEST_SEGMENT, side="right")) - 1, len(contour) - 1
    )
    length = float(contour.segment_lengths[segment])
    past = along - float(contour.reach[segment])
    return started_at(contour, segment, past / length if past > SHORTEST_SEGMENT else 0.0)


def _part_bulge(bulge: float, share: float) -> float:
    """Return the bulge of a part of an arc."""
    return math.tan(math.atan(bulge) * share)


def heading_on(contour: Contour, segment: int, share: float) -> float:
    """Return the heading on a segment, from its beginning, share 0, to its end, share 1, radians."""
    x, y = (contour.ends[segment] - contour.starts[segment]).tolist()
    return math.atan2(y, x) + (share - 0.5) * float(contour.sweeps[segment])


def point_on(contour: Contour, segment: int, share: float) -> tuple[float, float]:
    """Return the point so far along a segment."""
    before = float(contour.segment_lengths[:segment].sum())
    return contour.point_at(before + share * float(contour.segment_lengths[segment]))
