"""The photograph of the examples; PYTHONPATH=. python -m tests.photo.example makes it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from tests.photo.rendering import Camera, Ring, Scene, jpeg, render, side_outline

EXAMPLES = Path(__file__).parents[2] / "examples"
SHEETS = [(-790, -680, 0.2), (0, -640, 1.5), (790, -690, 2.9), (1260, -30, 4.4),
          (830, 640, 5.9), (20, 620, 3.2), (-860, 670, 0.7), (-1290, 40, 2.2)]  # fmt: skip


def example() -> tuple[Scene, Camera]:
    """Return what the example shows: a side on concrete, with two marks, a cut, loose belly and a hole."""
    outline = side_outline(2050.0, 840.0, 7)
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    hole = np.column_stack([430 + 13 * np.cos(turn), 120 + 9 * np.sin(turn)])
    rings = [
        Ring((0.03, 0.10, 0.60), (-420.0, 110.0), 34.0),
        Ring((0.03, 0.10, 0.60), (250.0, -190.0), 22.0),
        Ring((0.60, 0.04, 0.04), (-150.0, -120.0), 28.0),
        Ring((0.85, 0.65, 0.05), (-40.0, 230.0), 60.0),
    ]
    sheets = [(float(x), float(y), turned, False) for x, y, turned in SHEETS]
    sheets += [(-640.0, -60.0, 0.4, True), (640.0, -60.0, 1.9, True)]
    scene = Scene(outline, sheets, [hole], rings, (0.46, 0.27, 0.14), thickness=3.4, seed=7, shadow=0.3)
    camera = Camera(
        3200, 2400, 2400.0, tilt=0.28, heading=-1.45, roll=1.45 - np.pi / 2, distance=2550.0, k1=-0.04
    )
    return scene, camera


if __name__ == "__main__":
    scene, camera = example()
    (EXAMPLES / "side-7.jpg").write_bytes(jpeg(render(scene, camera, 7), 82))
