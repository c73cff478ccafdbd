"""Drawn curves as tangent arcs, against dense samples of the same files by other readers, both ways.

Source: svgpathtools (paths, and its own transforms) and ezdxf (its construction tools for splines and
ellipses), each sampled every few micrometres where it matters; shapely measures from lines to points.
"""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING, Any

import ezdxf
import numpy as np
import pytest
import shapely
from svgpathtools import parse_path
from svgpathtools.parser import parse_transform

from strapwright.core.tolerances import DRAWN_CURVE
from strapwright.geometry.drawings.file import read_shapes
from strapwright.geometry.polygon import to_polygon

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.core.arrays import Floats
    from strapwright.geometry.contour import Contour

FINE = 2e-5
"""Chords of arcs, and of what they are compared with, stray by at most about this, mm."""


def apart(contour: Contour, samples: Floats) -> float:
    """How far a contour and a run of dense samples stray from each other, either way, mm."""
    drawn = to_polygon(contour, FINE)
    if contour.closed:
        drawn = np.vstack([drawn, drawn[:1]])
    return max(strays(samples, drawn), strays(drawn, samples))


def strays(run: Floats, other: Floats) -> float:
    """How far the points of one run of lines stray from the lines of another at most, mm."""
    chords = shapely.STRtree(shapely.linestrings(np.stack([other[:-1], other[1:]], axis=1)))
    points = shapely.points(run[:: max(1, len(run) // 4000)])
    _, distances = chords.query_nearest(points, return_distance=True, all_matches=False)
    return float(distances.max())


def svg(path: Path, data: str, transform: str = "") -> Path:
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="150mm" viewBox="0 0 200 150">'
        f'<g transform="{transform}"><path id="cut" d="{data}"/></g></svg>'
    )
    return path


def sampled(data: str, transform: str = "") -> Floats:
    """A path's points in mm, y up, as svgpathtools has them."""
    matrix = parse_transform(transform)
    t = np.linspace(0.0, 1.0, 3001)
    points = np.concatenate([[one.point(u) for u in t] for one in parse_path(data)])
    x, y, _ = matrix @ np.array([points.real, points.imag, np.ones(len(points))])
    return np.column_stack([x, 150 - y])


def blob(rng: random.Random) -> str:
    """A closed run of smooth curves round (100, 75), as drawing programs write them: relative, with S."""
    count = rng.randint(3, 6)
    angles = [2 * math.pi * k / count for k in range(count)]
    reach = [rng.uniform(20, 40) for _ in range(count)]
    at = [(100 + r * math.cos(a), 75 + r * math.sin(a)) for a, r in zip(angles, reach, strict=True)]
    pull = [rng.uniform(0.15, 0.35) * r for r in reach]
    way = [(-math.sin(a), math.cos(a)) for a in angles]
    data, (x, y) = f"m{at[0][0]:.3f},{at[0][1]:.3f}", at[0]
    for k in range(count):
        j = (k + 1) % count
        p, q = pull[k], pull[j]
        a = (way[k][0] * p, way[k][1] * p)
        end = (round(at[j][0] - x, 3), round(at[j][1] - y, 3))
        b = (at[j][0] - way[j][0] * q - x, at[j][1] - way[j][1] * q - y)
        numbers = (*b, *end) if k and rng.random() < 0.5 else (*a, *b, *end)
        data += f" {'s' if len(numbers) == 4 else 'c'}" + " ".join(f"{n:.3f}" for n in numbers)
        x, y = x + end[0], y + end[1]
    return data + "z"


@pytest.mark.parametrize("seed", range(12))
def test_bezier_outlines_stay_within_the_stated_tolerance_both_ways_in_few_arcs(
    tmp_path: Path, seed: int
) -> None:
    data = blob(random.Random(seed))
    ((shape,), _) = read_shapes(svg(tmp_path / "a.svg", data))
    assert apart(shape.contour, sampled(data)) <= DRAWN_CURVE + FINE
    assert shape.contour.is_arc.all()
    assert len(shape.contour) <= 14 * len(parse_path(data))


@pytest.mark.parametrize("transform", ["rotate(30 100 75)", "matrix(0.8 0.1 -0.3 0.9 30 10)", "scale(0.5)"])
def test_curves_and_arcs_of_ellipses_under_a_transform_stay_within_the_tolerance(
    tmp_path: Path, transform: str
) -> None:
    data = "M 60 60 A 40 19 20 0 1 120 70 Q 130 100 100 110 T 60 100 L 60 60 Z"
    ((shape,), _) = read_shapes(svg(tmp_path / "a.svg", data, transform))
    assert apart(shape.contour, sampled(data, transform)) <= DRAWN_CURVE + FINE
    assert not shape.contour.is_arc.all()


@pytest.mark.parametrize("transform", ["", "rotate(77)", "translate(3 4) scale(1.5)", "scale(-0.5 0.5)"])
def test_circular_arcs_are_kept_as_one_arc_each(tmp_path: Path, transform: str) -> None:
    data = "M 60 60 L 100 60 A 25 25 0 0 1 100 110 A 400 400 0 0 1 60 110 A 30 30 0 0 0 60 60 Z"
    ((shape,), _) = read_shapes(svg(tmp_path / "a.svg", data, transform))
    assert apart(shape.contour, sampled(data, transform)) < 2 * FINE
    size = {"": 1.0, "rotate(77)": 1.0}.get(transform, 1.5 if "translate" in transform else 0.5)
    radii = sorted(shape.contour.radii[shape.contour.is_arc] / size)
    assert len(shape.contour) == 4
    assert radii == pytest.approx([25, 30, 400], abs=1e-9)


def drawing(version: str = "R2010", units: int = 4) -> tuple[Any, Any]:
    document = ezdxf.new(version)
    document.header["$INSUNITS"] = units
    return document, document.modelspace()


def test_splines_and_ellipses_of_a_dxf_stay_within_the_tolerance_both_ways(tmp_path: Path) -> None:
    document, space = drawing()
    through = [(0, 0), (30, 12), (60, -8), (95, 20), (120, 0)]
    fitted = space.add_cad_spline_control_frame(through, dxfattribs={"layer": "score"})
    weighted = space.add_rational_spline(
        [(0, 50), (20, 80), (50, 85), (70, 50)], [1, 2, 0.5, 1], dxfattribs={"layer": "score-2"}
    )
    high = space.add_open_spline(
        [(0, 100), (10, 130), (30, 90), (50, 140), (80, 100), (90, 120)], 5, dxfattribs={"layer": "score 3"}
    )
    oval = space.add_ellipse((60, 180), (40, 10), 0.45, 0.3, 4.0, dxfattribs={"layer": "score_4"})
    document.saveas(tmp_path / "a.dxf")
    shapes, _ = read_shapes(tmp_path / "a.dxf")
    assert len(shapes) == 4
    for entity in (fitted, weighted, high, oval):
        tool = entity.construction_tool()
        if entity is oval:
            dense = np.array([(p.x, p.y) for p in tool.vertices(np.linspace(0.3, 4.0, 6001))])
        else:
            dense = np.array([(p.x, p.y) for p in tool.points(np.linspace(0, tool.max_t, 6001))])
        assert min(apart(one.contour, dense) for one in shapes) <= DRAWN_CURVE + FINE, entity
    assert sum(len(one.contour) for one in shapes) < 110


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_lines_arcs_and_bulges_of_a_dxf_are_kept_exactly_whatever_their_order(
    tmp_path: Path, version: str
) -> None:
    document, space = drawing(version, 1)
    for a, b in (((4, 1), (0, 1)), ((0, 0), (4, 0)), ((0, 1), (0, 0))):
        space.add_line(a, b)
    space.add_arc((4, 0.5), 0.5, -90, 90)
    space.add_circle((1, 0.5), 0.125)
    block = document.blocks.new("SLOT")
    if version == "R2010":
        block.add_lwpolyline(
            [(-0.25, -0.1, 0), (0.25, -0.1, 1), (0.25, 0.1, 0), (-0.25, 0.1, 1)], "xyb", close=True
        )
    else:
        block.add_polyline2d(
            [(-0.25, -0.1, 0), (0.25, -0.1, 1), (0.25, 0.1, 0), (-0.25, 0.1, 1)], format="xyb", close=True
        )
    space.add_blockref("SLOT", (2, 0.5), {"rotation": 90})
    document.saveas(tmp_path / "a.dxf")
    shapes, _ = read_shapes(tmp_path / "a.dxf", "in" if version == "R12" else "")
    outline, slot, hole = sorted((one.contour for one in shapes), key=lambda one: -one.area)
    inch = 25.4
    assert outline.area == pytest.approx((4 + math.pi / 8) * inch**2, rel=1e-12)
    assert len(outline) == 4
    assert hole.as_circle() == pytest.approx((inch, inch / 2, inch / 4))
    assert slot.area == pytest.approx((0.1 + math.pi * 0.01) * inch**2, rel=1e-9)
    assert slot.bounding_box == pytest.approx((1.9 * inch, 0.15 * inch, 2.1 * inch, 0.85 * inch))
