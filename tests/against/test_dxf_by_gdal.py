"""DXF read back through GDAL's own DXF driver (GDAL documentation, "AutoCAD DXF"), by pyogrio's wheel.

GDAL turns bulges and circles into chords; with a step of 0.1° the chords of an arc of radius r lie within
r (1 − cos 0.05°) = 3.8e-7 r of it, so areas and lengths agree with the exact ones to about that share.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pyogrio
import pyogrio.raw
import pytest
import shapely
from tests.write.plans import batch_plan, small_plan

from strapwright.parts.part import Operation
from strapwright.write.formats.dxf import Dxf, DxfR12

PLANS = {"small": small_plan, "batch": batch_plan}


RELEASES = {"R2010": Dxf(), "R12": DxfR12()}


@pytest.fixture(params=[(release, name) for release in RELEASES for name in PLANS], ids="-".join)
def read(request, tmp_path):
    """The plan's paths, and GDAL's geometries with their layers, in the file's order."""
    release, name = request.param
    made = PLANS[name]()
    path = tmp_path / "Gürtel 秋.dxf"
    path.write_text(RELEASES[release].to_text(made.sheets[0], made), encoding="utf-8")
    before = pyogrio.get_gdal_config_option("OGR_ARC_STEPSIZE")
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": 0.1})
    try:
        meta, _, geometries, fields = pyogrio.raw.read(path)
    finally:
        pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": before})
    layers = fields[list(meta["fields"]).index("Layer")]
    planned = [path.layer for path in RELEASES[release].planned(made.sheets[0], made)]
    assert list(layers) == planned
    return made.sheets[0].paths, shapely.from_wkb(geometries), layers


def test_gdal_finds_every_path_on_its_layer(read):
    paths, geometries, layers = read
    assert len(geometries) == len(paths)
    assert len(Counter(layers)) == 3


def test_lengths_and_areas_are_those_of_the_exact_contours(read):
    paths, geometries, _ = read
    arcs = 0
    for path, geometry in zip(paths, geometries, strict=True):
        exact = path.contour
        assert geometry.length == pytest.approx(exact.length, rel=1e-6)
        assert shapely.get_num_geometries(geometry) == 1
        arcs += int(exact.is_arc.any())
        if exact.closed:
            ring = geometry.exterior if geometry.geom_type == "Polygon" else geometry
            assert ring.is_ring
            assert shapely.Polygon(ring).area == pytest.approx(abs(exact.area), rel=2e-6)
    assert arcs >= 10


def test_every_point_gdal_gives_lies_on_the_exact_contour(read):
    paths, geometries, _ = read
    for path, geometry in zip(paths, geometries, strict=True):
        points = shapely.get_coordinates(geometry)
        assert path.contour.distance_to(points).max() < 1e-6
        outer = np.array(path.contour.bounding_box)
        assert np.abs(np.array(geometry.bounds) - outer).max() < 1e-4


def test_open_scores_stay_open_for_gdal(read):
    paths, geometries, _ = read
    scores = [g for p, g in zip(paths, geometries, strict=True) if p.operation is Operation.SCORE]
    assert scores
    assert all(g.geom_type == "LineString" and not g.is_ring for g in scores)
