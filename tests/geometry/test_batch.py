"""Many contours asked at once answer as each does alone."""

from __future__ import annotations

import numpy as np
import pytest

from strapwright.geometry import batch as many
from strapwright.geometry.batch import Many
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import line, rectangle, stadium

CONTOURS = [
    Contour.circle(3, 4, 6),
    line(0, 0, 50, 7),
    stadium(-10, 5, 24, 5),
    rectangle(0, 0, 30, 20),
    Contour([(0, 0, 0.3), (10, 2, 0.0), (12, 9, -1.7), (3, 14, 1e-7), (0, 5, 0.0)], closed=False),
    Contour([(0, 0, 8.0), (1, 0, 0.2)]),
]


@pytest.mark.parametrize("chunk", [1, 40, 300_000])
def test_distances_are_those_of_each_contour(chunk, monkeypatch):
    monkeypatch.setattr(many, "_CHUNK", chunk)
    rng = np.random.default_rng(3)
    points = [rng.uniform(-20, 40, (5 + 7 * k, 2)) for k in range(len(CONTOURS))]
    wanted = np.concatenate([c.distance_to(p) for c, p in zip(CONTOURS, points, strict=True)])
    found = Many.of(CONTOURS).distances(np.vstack(points), np.array([len(p) for p in points]))
    assert np.abs(found - wanted).max() < 1e-9


def test_a_contour_without_points_is_passed_over():
    away = Many.of(CONTOURS[:3]).distances(np.array([(0.0, 1.0), (3.0, 4.0)]), np.array([1, 0, 1]))
    assert away == pytest.approx(
        [float(CONTOURS[k].distance_to([p])[0]) for k, p in ((0, (0, 1)), (2, (3, 4)))]
    )


@pytest.mark.parametrize("per_segment", [1, 4])
def test_samples_are_those_of_each_contour(per_segment):
    points, counts = Many.of(CONTOURS).sample(per_segment)
    wanted = [contour.sample(per_segment) for contour in CONTOURS]
    assert counts.tolist() == [len(one) for one in wanted]
    assert np.abs(points - np.vstack(wanted)).max() < 1e-9


def test_boxes_and_lengths_are_those_of_each_contour():
    many_of = Many.of(CONTOURS)
    assert np.abs(many_of.boxes - [contour.bounding_box for contour in CONTOURS]).max() < 1e-9
    assert np.abs(many_of.lengths - [contour.length for contour in CONTOURS]).max() < 1e-9
    for box, contour in zip(many_of.boxes, CONTOURS, strict=True):
        points = contour.sample(720)
        assert np.abs(box - [*points.min(axis=0), *points.max(axis=0)]).max() < 1e-3
