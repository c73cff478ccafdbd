"""A measured hide against the truth it was rendered from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from tests.photo.scenes import CHALKS

from strapwright.photo.hide_text import unsure_within

if TYPE_CHECKING:
    from tests.photo.rendering import Camera, Scene

    from strapwright.photo.measure import MeasuredHide


@dataclass(frozen=True)
class Verdict:
    """How near a measurement came.

    Args:
        usual: 95 of 100 points of the outline are off by no more, mm; unsure stretches do not count.
        most: any point is off by no more, mm; likewise.
        area: measured for true, less 1.
        inside: share of the outline less its uncertainty that lies in the true hide.
        covered: share of the outline that is off by no more than stated.
        missed: flaws not found, or made smaller.
        invented: flaws that are none.
        sheets: the centre of a sheet that is furthest off, mm.
    """

    usual: float
    most: float
    area: float
    inside: float
    covered: float
    missed: tuple[str, ...]
    invented: tuple[str, ...]
    sheets: float


def verdict(scene: Scene, camera: Camera, found: MeasuredHide) -> Verdict:
    """Return how near a measurement came; the true shape is turned and moved to where it is seen."""
    seen = camera.project(np.column_stack([scene.outline, np.full(len(scene.outline), scene.thickness)]))
    there = found.plane.to_floor(seen)
    here = scene.outline - scene.outline.mean(0)
    away = there - there.mean(0)
    angle = np.arctan2((here[:, 0] * away[:, 1] - here[:, 1] * away[:, 0]).sum(), (here * away).sum())
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])

    def laid(points: np.ndarray) -> np.ndarray:
        return (points - scene.outline.mean(0)) @ turn + there.mean(0)

    true = shapely.Polygon(laid(scene.outline))
    ring = shapely.LinearRing(found.outline)
    unsure = shapely.union_all(  # what parts keep off
        [shapely.LineString(one).buffer(unsure_within(found.uncertainty, one)) for one in found.unsure]
    )
    points = shapely.points(
        [ring.interpolate(at).coords[0] for at in np.arange(0, ring.length, 2.0)] + list(true.exterior.coords)
    )
    points = points[~shapely.contains(unsure, points)]
    off = np.maximum(shapely.distance(true.exterior, points), shapely.distance(ring, points))
    less = shapely.Polygon(found.outline).buffer(-found.uncertainty).exterior
    kept = shapely.points([less.interpolate(at).coords[0] for at in np.arange(0, less.length, 2.0)])
    kept = kept[~shapely.contains(unsure, kept)]
    names = {colour: name for name, colour in CHALKS.items()}
    flaws = [("hole", shapely.Polygon(laid(hole))) for hole in scene.holes] + [
        (names[ring.colour], shapely.Point(laid(np.array([ring.centre]))[0]).buffer(ring.radius))
        for ring in scene.rings
    ]
    drawn = [
        (one.where or "hole", shapely.Polygon(one.polygon).buffer(found.uncertainty)) for one in found.flaws
    ]
    places = {n: (x, y) for n, (x, y, _) in found.fit.sheets.items()}
    return Verdict(
        float(np.percentile(off, 95)),
        float(off.max()),
        shapely.Polygon(found.outline).area / true.area - 1,
        float(shapely.contains(true, kept).mean()),
        float((off <= found.uncertainty).mean()),
        tuple(
            name
            for name, flaw in flaws
            # A ring in the floor's own colour is taken for a hole, which is the stricter of the two.
            if not any(other in (name, "hole") and shape.contains(flaw) for other, shape in drawn)
        ),
        tuple(name for name, shape in drawn if not any(shape.intersects(flaw) for _, flaw in flaws)),
        _sheets_off(scene, camera, places),
    )


def _sheets_off(scene: Scene, camera: Camera, places: dict[int, tuple[float, float]]) -> float:
    """Return by how much the centre of any sheet is off, once all are laid on the truth as well as can be."""
    place = camera.pose()[1]
    true = []
    for number in places:
        x, y, _, on_hide = scene.sheets[number - 1]
        factor = place[2] / (place[2] - scene.thickness) if on_hide else 1.0
        true.append(place[:2] + (np.array([x, y]) - place[:2]) * factor)
    here, there = np.array(list(places.values())), np.array(true)
    here, there = here - here.mean(0), there - there.mean(0)
    angle = np.arctan2((here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0]).sum(), (here * there).sum())
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    return float(np.hypot(*(here @ turn - there).T).max())
