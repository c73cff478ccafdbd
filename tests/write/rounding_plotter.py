"""A plotter that knows whole units only: it rounds where it comes at the end of every chord of an arc.

It divides an arc into equal chords no longer than the chord angle, and finds each chord's end from where it
stood when the arc began, which it has rounded too. It shares nothing with the writer.
"""

from __future__ import annotations

import math
import re

import numpy as np

from strapwright.geometry.contour import Contour

UNIT = 0.025


def plotted(text: str) -> list[np.ndarray]:
    """Every run drawn with the pen down: the points it goes to one after the other, machine mm."""
    x = y = 0
    down = False
    runs: list[list[tuple[int, int]]] = []
    for name, words in re.findall(r"^(PU|PD|PA|AA)([-\d.,]*);", text, re.MULTILINE):
        values = [float(word) for word in words.split(",") if word]
        if name in ("PU", "PD"):
            if name == "PD" and not down:
                runs.append([(x, y)])
            down = name == "PD"
        ways = [(round(values[0]), round(values[1]))] if name in ("PU", "PA") and values else []
        if name == "AA":
            cx, cy, sweep, chord = values
            count = max(1, math.ceil(abs(sweep) / chord - 1e-3))
            dx, dy = x - cx, y - cy
            for k in range(1, count + 1):
                turn = math.radians(sweep) * k / count
                cos, sin = math.cos(turn), math.sin(turn)
                ways.append((round(cx + dx * cos - dy * sin), round(cy + dx * sin + dy * cos)))
        for x, y in ways:
            if down:
                runs[-1].append((x, y))
    return [np.array(run) * UNIT for run in runs]


def apart(points: np.ndarray, contour: Contour) -> float:
    """How far the lines from point to point and a contour lie apart at most, looked at both ways, mm."""
    kept = np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > 0])
    drawn = Contour.from_points(points[kept], closed=False)
    return float(max(contour.distance_to(drawn.sample(4)).max(), drawn.distance_to(contour.sample(8)).max()))
