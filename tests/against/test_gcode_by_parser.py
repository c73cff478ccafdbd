"""G-code read back by a general parser of its words (gcodeparser, PyPI), positions worked out here.

The arcs are checked after NISTIR 6556, "The NIST RS274NGC Interpreter, Version 3", 3.5.3: radii at an arc's
start and its end may differ by 0.002 mm.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from gcodeparser import parse_gcode_lines
from tests.write.plans import driven_knife, driven_laser, driven_plan

from strapwright.machine.toolpath.runs import tool_runs
from strapwright.write.formats.gcode import Gcode

MACHINES = {"laser": driven_laser, "knife": driven_knife}


def strokes(text: str, *, laser: bool):
    """Yield every stroke cut: start, end, centre or None, whether it turns left."""
    place = {"X": math.nan, "Y": math.nan, "Z": math.nan}
    on = False
    for line in parse_gcode_lines(text):
        word = line.command_str
        if word in ("M3", "M4", "M5"):
            on = word != "M5" and float(line.params["S"]) > 0
        if word not in ("G0", "G1", "G2", "G3"):
            continue
        before = dict(place)
        place |= {axis: float(line.params[axis]) for axis in "XYZ" if axis in line.params}
        cutting = on if laser else place["Z"] < 0
        assert not (word == "G0" and cutting)
        if not cutting or not {"X", "Y"} & line.params.keys():
            continue
        start, end = (np.array([at["X"], at["Y"]]) for at in (before, place))
        centre = None
        if word in ("G2", "G3"):
            centre = start + np.array([float(line.params["I"]), float(line.params["J"])])
        yield start, end, centre, word == "G3"


@pytest.mark.parametrize("kind", MACHINES)
def test_a_general_parser_finds_the_planned_tracks_within_a_micrometre_of_the_limit(kind):
    made = driven_plan(MACHINES[kind]())
    text = Gcode().to_text(made.sheets[0], made)
    found = list(strokes(text, laser=kind == "laser"))
    tracks = [run.track for run in tool_runs(made.sheets[0], made.machine)]
    assert sum(len(track) for track in tracks) <= len(found)
    worst, arcs, length = 0.0, 0, 0.0
    for start, end, centre, left in found:
        points = [start, end]
        if centre is None:
            length += math.dist(start, end)
            points.append((start + end) / 2)
        else:
            one, other = math.dist(start, centre), math.dist(end, centre)
            assert abs(one - other) <= 0.002
            turn = math.atan2(*(end - centre)[::-1]) - math.atan2(*(start - centre)[::-1])
            sweep = turn % (2 * math.pi) if left else turn % (2 * math.pi) - 2 * math.pi
            half = math.atan2(*(start - centre)[::-1]) + sweep / 2
            points.append(centre + (one + other) / 2 * np.array([math.cos(half), math.sin(half)]))
            length += abs(sweep) * one
            arcs += 1
        worst = max(worst, max(min(float(t.distance_to([p])[0]) for t in tracks) for p in points))
    assert arcs > 20
    assert worst <= 0.001
    assert length == pytest.approx(sum(track.length for track in tracks), abs=0.02)
