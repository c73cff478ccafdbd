"""A trailing blade, simulated: where its tip goes when the spindle runs along a track.

The blade is a follower: its tip lies the offset e behind the spindle and moves only along its own heading
θ. With the spindle running in direction φ, s its way, that is the differential equation

    dθ / ds = sin(φ − θ) / e.

On a line or an arc, of bend κ, the lag ψ = φ − θ obeys dψ / ds = κ − sin ψ / e. With tan(ψ / 2) = p / q
that is the linear pair

    dp / ds = −p / 2e + κ q / 2,    dq / ds = −κ p / 2 + q / 2e,

which is solved as it stands, whatever the track was made for; nothing here knows how tracks are made.

Source: the definition of the tractrix; the Riccati equation and its linear pair, as any textbook of
differential equations has them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.batch import Many

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats, Ints
    from strapwright.geometry.contour import Contour


_SETTLED: Final = 1e-7
"""A blade whose lag has no more than about this left to change is settled, radians."""

_TURN: Final = 0.5
"""From one point to the next the spindle turns by no more than this, radians."""

_STEPS: Final = (0.2, 2.0)
"""From one point to the next it runs so far at least and at most while the blade settles, in offsets."""

_UNEVEN: Final = 0.008
"""A step is as long as makes its cube times the lag's change so much: the tip's way is then an arc within a
ten thousandth of an offset."""


@dataclass(frozen=True)
class Trace:
    """Where the tip went on one run.

    Args:
        points: (N, 2), mm, in order.
        headings: the blade's at each of them, radians, (N,); between two the tip goes along an arc, nearly.
    """

    points: Floats
    headings: Floats

    @property
    def heading(self) -> float:
        """The blade's at the end, radians."""
        return float(self.headings[-1])


def follow_each(tracks: Sequence[Contour], heading: float, offset: float) -> list[Trace]:
    """Return where the tip goes on one track after the other, its heading kept while it is lifted.

    Args:
        tracks: the spindle's, open, mm, at least one.
        heading: the blade's at the start of the first, radians.
        offset: from the spindle's axis to the tip, mm.

    Example:
        >>> from strapwright.geometry.shapes import line
        >>> [trace] = follow_each([line(0, 0, 6, 0)], math.pi / 2, 1.0)  # a right angle off, six offsets long
        >>> round(float(abs(trace.points[-1, 1])), 3)
        0.005
    """
    runs = Many.of(tracks)
    chord = runs.ends - runs.starts
    along = np.arctan2(chord[:, 1], chord[:, 0]) - runs.sweeps / 2
    arcs = runs.bulges != 0.0
    lengths = np.hypot(*chord.T)
    lengths[arcs] = np.abs(runs.sweeps[arcs]) * np.hypot(*runs.from_centres[arcs].T)
    bends = runs.sweeps / lengths
    lags = _lags_at_starts(along, bends, lengths, heading, offset)
    after = _lag(*lags, bends, lengths, offset)
    zones, fine, coarse = _steps(lags, after, bends, lengths, offset)
    segment = np.repeat(np.arange(len(bends)), fine + coarse)
    step = np.arange(len(segment)) - np.repeat(np.cumsum(fine + coarse) - fine - coarse, fine + coarse) + 1
    ways = np.where(
        step <= fine[segment],
        zones[segment] * step / np.maximum(fine, 1)[segment],
        zones[segment] + ((lengths - zones) / np.maximum(coarse, 1))[segment] * (step - fine[segment]),
    )
    lag = _lag(lags[0][segment], lags[1][segment], bends[segment], ways, offset)
    headings = along[segment] + bends[segment] * ways - lag
    spindle = runs.at(segment, ways / lengths[segment])
    counts = np.add.reduceat(fine + coarse, np.cumsum(runs.counts) - runs.counts)
    first = np.cumsum(runs.counts) - runs.counts
    before = along[first] - 2 * np.arctan2(lags[0][first], lags[1][first])
    at = np.cumsum(counts) - counts
    headings = np.insert(headings, at, before)
    spindle = np.insert(spindle, at, runs.starts[first], axis=0)
    points = spindle - offset * np.column_stack([np.cos(headings), np.sin(headings)])
    cuts = np.cumsum(counts + 1)[:-1]
    return [Trace(*both) for both in zip(np.split(points, cuts), np.split(headings, cuts), strict=True)]


def _spread(bends: Floats, ways: Floats, offset: float) -> tuple[Floats, Floats]:
    """Return c and t, in proportion: the pair (p, q) becomes c (p, q) + t A (p, q) along a way.

    A is the pair's matrix, with A² = d and d = (1 / e² − κ²) / 4. Its exponential is cosh √d s + A sinh √d s
    / √d; only its direction matters, so that it is divided by the cosh, which would overflow.
    """
    d = (1.0 / offset**2 - bends**2) / 4
    root = np.sqrt(np.abs(d))
    turn = root * ways
    flat = turn < 1e-6
    safe = np.where(flat, 1.0, root)
    c = np.where(d > 0.0, 1.0, np.cos(turn))
    t = np.where(flat, ways, np.where(d > 0.0, np.tanh(turn), np.sin(turn)) / safe)
    return np.where(flat, 1.0, c), t


def _lag(p: Floats, q: Floats, bends: Floats, ways: Floats, offset: float) -> Floats:
    """Return the lag after a way, −π to π, from the pair at its start."""
    c, t = _spread(bends, ways, offset)
    later_p = c * p + t * (-p / (2 * offset) + bends * q / 2)
    later_q = c * q + t * (-bends * p / 2 + q / (2 * offset))
    return np.remainder(2 * np.arctan2(later_p, later_q) + np.pi, 2 * np.pi) - np.pi


def _lags_at_starts(
    along: Floats, bends: Floats, lengths: Floats, heading: float, offset: float
) -> tuple[Floats, Floats]:
    """Return the pair p, q at the start of every segment: sine and cosine of half the lag."""
    c, t = _spread(bends, lengths, offset)
    halves = np.diff(along, prepend=along[0]) / 2 - np.concatenate([[0.0], (bends * lengths)[:-1] / 2])
    halves[0] = (along[0] - heading) / 2
    stay, turn_in, out = c - t / (2 * offset), t * bends / 2, c + t / (2 * offset)
    p, q = 0.0, 1.0
    ps, qs = [], []
    for cos, sin, a, b, d in zip(
        *(values.tolist() for values in (np.cos(halves), np.sin(halves), stay, turn_in, out)), strict=True
    ):
        p, q = p * cos + q * sin, q * cos - p * sin
        size = math.hypot(p, q)
        p, q = p / size, q / size
        ps.append(p)
        qs.append(q)
        p, q = a * p + b * q, d * q - b * p
    return np.array(ps), np.array(qs)


def _steps(
    lags: tuple[Floats, Floats], after: Floats, bends: Floats, lengths: Floats, offset: float
) -> tuple[Floats, Ints, Ints]:
    """Return how far along each segment the blade settles, and the number of steps till then and after."""
    p, q = lags
    change = np.abs(np.remainder(after - 2 * np.arctan2(p, q) + np.pi, 2 * np.pi) - np.pi)
    # tan(ψ / 2) nears its last value as exp(−s √(1 − κ² e²) / e); slower the tighter the arc.
    speed = np.sqrt(np.maximum(1.0 - (bends * offset) ** 2, 0.05)) / offset
    far = np.abs(p / np.where(np.abs(q) < 1e-12, 1e-12, q) - np.tan(after / 2))
    zones = np.minimum(lengths, np.log1p(far / _SETTLED) / speed)
    zones[lengths - zones < offset * _STEPS[0]] = lengths[lengths - zones < offset * _STEPS[0]]
    loose = np.abs(bends) * offset >= 1.0  # it never settles, or nearly so
    zones[loose] = lengths[loose]
    with np.errstate(divide="ignore"):
        step = offset * np.clip(np.cbrt(_UNEVEN / np.maximum(change, 1e-12)), *_STEPS)
    step = np.minimum(step, _TURN / np.maximum(np.abs(bends), 1e-12))
    fine = np.ceil(zones / step - 1e-9).astype(np.int64)
    rest = lengths - zones
    coarse = np.ceil(rest * np.abs(bends) / _TURN - 1e-9).astype(np.int64)
    coarse = np.where(rest > 0.0, np.maximum(coarse, 1), 0)
    return zones, np.where(zones > 0.0, np.maximum(fine, 1), 0), coarse
