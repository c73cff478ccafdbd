"""Scenes and cameras drawn by chance: leathers, floors, sheets, flaws, as a person would call good."""

from __future__ import annotations

import numpy as np
import shapely
from tests.photo.rendering import Camera, Ring, Scene, side_outline

from strapwright.photo.mark_sheet import SIZES

LEATHERS = {
    "undyed": (0.62, 0.47, 0.31),
    "natural": (0.50, 0.33, 0.19),
    "tan": (0.42, 0.22, 0.10),
    "chestnut": (0.18, 0.07, 0.03),
    "oxblood": (0.13, 0.025, 0.02),
    "black": (0.025, 0.025, 0.027),
}
FLOORS = {
    "concrete": ((0.30, 0.31, 0.32), 0.0),
    "dark concrete": ((0.09, 0.092, 0.095), 0.0),
    "pale boards": ((0.55, 0.46, 0.33), 0.08),
    "green sheet": ((0.06, 0.22, 0.09), 0.0),
    "blue sheet": ((0.05, 0.11, 0.27), 0.0),
    "white boards": ((0.66, 0.65, 0.62), 0.05),
}
ALIKE = {
    ("undyed", "pale boards"),
    ("natural", "pale boards"),
    ("undyed", "white boards"),
    ("black", "dark concrete"),
}
"""Pairs nobody would photograph: the leather is much like the floor."""

CHALKS = {"blue": (0.03, 0.10, 0.60), "red": (0.60, 0.04, 0.04), "yellow": (0.85, 0.65, 0.05)}


def scene_of(seed: int, sheets: int | None = None, leather: str = "", floor: str = "") -> Scene:
    """Return a side on a floor, with sheets round and on it."""
    chance = np.random.default_rng(seed)
    pairs = [(one, other) for one in LEATHERS for other in FLOORS if (one, other) not in ALIKE]
    drawn = pairs[int(chance.integers(len(pairs)))]
    leather, floor = leather or drawn[0], floor or drawn[1]
    length = chance.uniform(1400, 2200)
    width = length * chance.uniform(0.36, 0.44)
    outline = side_outline(length, width, seed)
    hide = shapely.Polygon(outline)
    clear = hide.buffer(-8)
    taken: list[shapely.Polygon] = []
    holes, rings = [], []
    for n in range(int(chance.integers(2, 6))):
        radius = chance.uniform(6, 30)
        for _ in range(200):
            x, y = chance.uniform((-length / 2, -width / 2), (length / 2, width / 2))
            spot = shapely.Point(x, y).buffer(radius + 22)
            if clear.contains(spot) and not any(spot.intersects(one) for one in taken):
                break
        else:
            continue
        taken.append(spot)
        if n == 0:
            turn = np.linspace(0, 2 * np.pi, 48, endpoint=False)
            bump = 1 + 0.15 * np.cos(3 * turn + chance.uniform(0, 6))
            holes.append(
                np.column_stack([x + radius * bump * np.cos(turn), y + radius * bump * np.sin(turn)])
            )
        else:
            colours = [name for name in CHALKS if not (leather == "oxblood" and name == "red")]
            rings.append(Ring(CHALKS[colours[int(chance.integers(len(colours)))]], (x, y), radius))
    size = SIZES["a4"]
    inside, around = hide.buffer(-35), hide.buffer(45)
    corners = np.array(size.paper) / 2 * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    laid: list[tuple[float, float, float, bool]] = []
    wanted = sheets or int(chance.integers(8, 13))
    papers: list[shapely.Polygon] = []
    # Round the hide in turn, so that sheets lie on every side of it, as a person lays them.
    for n in range(wanted):
        on = n >= wanted - 2
        for _ in range(4000):
            angle = 2 * np.pi * (n + chance.uniform(-0.4, 0.4)) / max(1, wanted - 2)
            way = np.array([np.cos(angle) * length / 2, np.sin(angle) * width / 2])
            x, y = (
                way * chance.uniform(0, 0.75)
                if on
                else way * chance.uniform(1.0, 1.6) + chance.normal(0, 60, 2)
            )
            turn = chance.uniform(0, 2 * np.pi)
            cos, sin = np.cos(turn), np.sin(turn)
            paper = shapely.Polygon(corners @ np.array([[cos, sin], [-sin, cos]]) + [x, y])
            good = inside.contains(paper) if on else not around.intersects(paper)
            if good and not any(paper.intersects(one) for one in (*taken, *papers)):
                papers.append(paper)
                laid.append((float(x), float(y), float(turn), on))
                break
    return Scene(
        outline,
        laid,
        holes,
        rings,
        LEATHERS[leather],
        FLOORS[floor][0],
        thickness=float(chance.uniform(1.6, 4.5)),
        seed=seed,
        shadow=float(chance.uniform(0.1, 0.5)),
        boards=FLOORS[floor][1],
    )


def camera_of(scene: Scene, seed: int, tilt: float | None = None) -> Camera:
    """Return a camera that has all of a scene in its picture, as near as can be."""
    chance = np.random.default_rng(seed + 1000)
    tilt = float(np.radians(chance.uniform(0, 35))) if tilt is None else tilt
    radial = float(chance.uniform(-0.12, 0.08))
    heading = float(chance.uniform(0, 2 * np.pi))
    blur, noise = float(chance.uniform(0.5, 0.9)), float(chance.uniform(0.004, 0.015))
    falloff, exposure = float(chance.uniform(0.1, 0.35)), float(chance.uniform(0.75, 1.1))
    points = [scene.outline] + [
        np.array([(x + dx, y + dy) for dx in (-182, 182) for dy in (-182, 182)])
        for x, y, _, _ in scene.sheets
    ]
    shown = np.concatenate(points)
    for distance in np.arange(1200.0, 7000.0, 50.0):
        for roll in (0.0, np.pi / 2, np.pi, -np.pi / 2):
            camera = Camera(
                tilt=tilt,
                heading=heading,
                roll=roll - heading,
                distance=float(distance),
                k1=radial,
                blur=blur,
                noise=noise,
                falloff=falloff,
                exposure=exposure,
            )
            seen = camera.project(shown)
            if (
                seen.min() > 25
                and seen[:, 0].max() < camera.width - 25
                and seen[:, 1].max() < camera.height - 25
            ):
                return camera
    raise AssertionError("no camera sees all of it")
