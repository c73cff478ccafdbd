"""Measure hides from rendered photographs whose truth is known, and say how near each came.

Run: PYTHONPATH=. python benchmarks/photo.py [--count 200] [--first 0] [--jobs 2] [--keep FOLDER]

Each is rendered (about 8 s) with a leather, a floor, sheets, flaws, tilt and lens of its own, and measured;
with --keep it is taken from that folder if it is there, and kept there if not. A photograph is good, refused
with its reason, or wrong: then what is off is said.
"""

from __future__ import annotations

import argparse
import resource
import time
from functools import partial
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from tests.photo.judge import verdict
from tests.photo.rendering import jpeg, render
from tests.photo.scenes import camera_of, scene_of

from strapwright.core.errors import PhotoError
from strapwright.photo.measure import measure_hide

LIMITS = {"sheets": 0.7, "usual": 2.0, "most": 5.0}


def measured(seed: int, keep: Path | None) -> tuple[str, str, float, list[float]]:
    scene = scene_of(seed)
    camera = camera_of(scene, seed)
    kept = None if keep is None else keep / f"{seed}.jpg"
    if kept is not None and kept.exists():
        data = kept.read_bytes()
    else:
        data = jpeg(render(scene, camera, seed), camera.quality)
        if kept is not None:
            kept.write_bytes(data)
    start = time.process_time()
    picture = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    try:
        found = measure_hide(picture, scene.size, printed=(1.0, 1.0), thickness=scene.thickness)
    except PhotoError as error:
        return "refused", str(error), time.process_time() - start, []
    took = time.process_time() - start
    near = verdict(scene, camera, found)
    off = [name for name, limit in LIMITS.items() if getattr(near, name) > limit]
    off += ["area"] if abs(near.area) > 0.003 else []
    off += ["inside"] if near.inside < 0.995 else []
    off += ["covered"] if near.covered < 0.95 else []
    off += [f"missed {name}" for name in near.missed] + [f"invented {name}" for name in near.invented]
    figures = [
        near.sheets,
        near.usual,
        near.most,
        100 * near.area,
        near.inside,
        near.covered,
        found.uncertainty,
    ]
    return "wrong" if off else "good", ", ".join(off), took, figures


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--count", type=int, default=200)
    ask.add_argument("--first", type=int, default=0)
    ask.add_argument("--jobs", type=int, default=2)
    ask.add_argument("--keep", type=Path)
    given = ask.parse_args()
    seeds = range(given.first, given.first + given.count)
    counted: dict[str, int] = {}
    kept, times = [], []
    with get_context("spawn").Pool(given.jobs) as pool:
        for seed, (kind, words, took, figures) in zip(
            seeds, pool.imap(partial(measured, keep=given.keep), seeds), strict=True
        ):
            counted[kind] = counted.get(kind, 0) + 1
            times.append(took)
            if figures:
                kept.append(figures)
            print(f"{seed}: {kind}: {words} {np.round(figures, 2).tolist()}", flush=True)
    names = ["sheets mm", "95 % mm", "most mm", "area %", "inside", "covered", "stated mm"]
    for name, column in zip(names, np.array(kept).T, strict=True):
        print(f"{name}: {column.min():.3f} {np.median(column):.3f} {column.max():.3f} (least, middle, most)")
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e6
    print(f"{counted}; {np.median(times):.1f} s of processor time each, at most {max(times):.1f} s")
    print(f"{peak:.2f} GB at most, rendering included")


if __name__ == "__main__":
    main()
