"""Areas, lengths and offsets against Open CASCADE, through CadQuery's wires and faces."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from tests.geometry.shapes_sampled import NAMED

from strapwright.core.errors import GeometryError
from strapwright.geometry.contour import Contour
from strapwright.geometry.intersect import self_crossing
from strapwright.geometry.offset import offset

pytestmark = pytest.mark.slow

DISTANCES = [0.11, -0.11, 0.5, 2.0, -1.5]


def random_contours(count: int) -> list[Contour]:
    rng = np.random.default_rng(20260314)
    found: list[Contour] = []
    while len(found) < count:
        corners = int(rng.integers(3, 12))
        angles = np.sort(rng.uniform(0, 2 * np.pi, corners))
        radii = rng.uniform(15, 50, corners)
        bulges = np.where(rng.random(corners) < 0.5, 0.0, rng.uniform(-0.9, 0.9, corners))
        try:
            contour = Contour(np.column_stack([radii * np.cos(angles), radii * np.sin(angles), bulges]))
        except GeometryError:
            continue
        if contour.area > 0 and self_crossing(contour) is None:
            found.append(contour)
    return found


@pytest.fixture(scope="module")
def compared():
    """Our contours with what the modeller says of them."""
    contours = [*NAMED.values(), *random_contours(60)]
    asked = [{"vertices": c.vertices.tolist(), "offsets": DISTANCES} for c in contours]
    # A lone circle shrunk to a millimetre ends the modeller's process: never ask that of it.
    answer = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("occt_oracle.py"))],
        input=json.dumps(asked),
        capture_output=True,
        text=True,
        check=True,
        timeout=300,
    )
    return list(zip(contours, json.loads(answer.stdout), strict=True))


def test_area_and_length_are_those_of_the_modellers_face_and_wire(compared):
    for contour, theirs in compared:
        assert contour.area == pytest.approx(theirs["area"], rel=1e-9)
        assert contour.length == pytest.approx(theirs["length"], rel=1e-9)


def test_offsets_agree_wherever_both_give_one(compared):
    agreed, differed, only_theirs = 0, [], 0
    for contour, theirs in compared:
        for distance, measured in zip(DISTANCES, theirs["offsets"], strict=True):
            try:
                ours = offset(contour, distance)
            except GeometryError:
                ours = None
            if ours is None or measured is None:
                only_theirs += ours is None and measured is not None
                continue
            if ours.area == pytest.approx(measured[0], rel=1e-6) and ours.length == pytest.approx(
                measured[1], rel=1e-6
            ):
                agreed += 1
            else:
                differed.append((contour, distance, ours))
    total = len(compared) * len(DISTANCES)
    # Where the two differ, the distance itself decides: every point of ours must keep it.
    for contour, distance, ours in differed:
        assert contour.distance_to(ours.sample(50)) == pytest.approx(abs(distance), abs=1e-6)
    assert agreed > 0.9 * total
    assert len(differed) <= 0.03 * total
    assert only_theirs <= 0.02 * total
