"""DXF hides: what is no shape is read or named, ends are joined, and silly sizes are refused at once."""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING, Any

import ezdxf
import pytest
import shapely

from strapwright.core.errors import FileProblems
from strapwright.core.findings import Severity
from strapwright.nesting.hide.file import read_hide

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

VOID = {"layer": "void"}


def drawing() -> tuple[Any, Any]:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    space.add_lwpolyline(
        [(0, 0), (2000, 0), (2000, 800), (0, 800)], close=True, dxfattribs={"layer": "outline"}
    )
    return document, space


def problems_of(document: Any, tmp_path: Path) -> list[str]:
    path = tmp_path / "a.dxf"
    document.saveas(path)
    with pytest.raises(FileProblems) as caught:
        read_hide(path)
    return [line.replace(f"{path}: ", "") for line in caught.value.problems]


ADDED: dict[str, Callable[[Any, Any, str], object]] = {
    "POINT": lambda _, space, layer: space.add_point((50, 50), dxfattribs={"layer": layer}),
    "TEXT": lambda _, space, layer: space.add_text("scar", dxfattribs={"layer": layer}),
    "MTEXT": lambda _, space, layer: space.add_mtext("scar", dxfattribs={"layer": layer}),
    "HATCH": lambda _, space, layer: space.add_hatch(dxfattribs={"layer": layer}),
    "INSERT": lambda document, space, layer: (
        document.blocks.new("hole").add_circle((0, 0), 9),
        space.add_blockref("hole", (300, 300), dxfattribs={"layer": layer}),
    ),
    "SOLID": lambda _, space, layer: space.add_solid([(0, 0), (9, 0), (9, 9)], dxfattribs={"layer": layer}),
}


@pytest.mark.parametrize("kind", ADDED)
@pytest.mark.parametrize("layer", ["void", " Void ", "outline"])
def test_what_is_no_closed_line_on_a_flaws_layer_is_named(kind: str, layer: str, tmp_path: Path) -> None:
    document, space = drawing()
    ADDED[kind](document, space, layer)
    (line,) = problems_of(document, tmp_path)
    assert line.startswith(f'layer "{layer}": found {kind}, expected ')
    assert line.endswith('or move it to layer "notes"')


def test_what_bounds_nothing_on_another_layer_is_left_out_by_name(tmp_path: Path) -> None:
    document, space = drawing()
    ADDED["POINT"](document, space, "0")
    ADDED["TEXT"](document, space, "0")
    ADDED["TEXT"](document, space, "0")
    ADDED["TEXT"](document, space, "notes")
    ADDED["INSERT"](document, space, "Notes")
    space.add_line((0, 0), (9, 9), dxfattribs={"layer": "axis"})
    document.saveas(tmp_path / "a.dxf")
    (finding,) = read_hide(tmp_path / "a.dxf").findings
    assert (finding.code, finding.severity) == ("drawing-left-out", Severity.NOTE)
    assert finding.what == (
        'Left out, because it is not a closed shape: a POINT on layer "0", a TEXT on layer "0" (2 times), '
        'an open line on layer "axis".'
    )


def test_what_a_layer_or_a_flag_hides_is_left_out_by_name(tmp_path: Path) -> None:
    document, space = drawing()
    document.layers.add("void").off()
    document.layers.add("mark").freeze()
    space.add_circle((300, 300), 20, dxfattribs=VOID)
    space.add_circle((300, 300), 20, dxfattribs={"layer": "mark"})
    space.add_circle((300, 300), 20, dxfattribs={"layer": "loose", "invisible": 1})
    path = tmp_path / "a.dxf"
    document.saveas(path)
    (tmp_path / "a.toml").write_text('[hide]\nname = "a"\noutline = "a.dxf"\n')
    for source in (path, tmp_path / "a.toml"):
        hide = read_hide(source)
        assert hide.flaws == ()
        (finding,) = hide.findings
        assert (finding.code, finding.severity, finding.subject) == (
            "drawing-not-shown",
            Severity.CAUTION,
            "a",
        )
        assert finding.what == (
            'Left out, because the drawing does not show it: a CIRCLE on layer "void" (layer off), '
            'a CIRCLE on layer "mark" (layer frozen), a CIRCLE on layer "loose" (invisible).'
        )


BIG = 1e9
SILLY: dict[str, Callable[[Any], object]] = {
    "LINE": lambda space: space.add_line((0, 0), (BIG, 0), dxfattribs=VOID),
    "CIRCLE": lambda space: space.add_circle((0, 0), BIG, dxfattribs=VOID),
    "ARC": lambda space: space.add_arc((0, 0), BIG, 0, 90, dxfattribs=VOID),
    "ELLIPSE": lambda space: space.add_ellipse((0, 0), (BIG, 0), 0.5, dxfattribs=VOID),
    "SPLINE": lambda space: space.add_open_spline([(0, 0), (BIG, 0), (BIG, BIG), (0, BIG)], dxfattribs=VOID),
    "LWPOLYLINE": lambda space: space.add_lwpolyline([(0, 0), (BIG, 0), (0, 9)], close=True, dxfattribs=VOID),
    "POLYLINE": lambda space: space.add_polyline2d([(0, 0), (BIG, 0), (0, 9)], close=True, dxfattribs=VOID),
}


@pytest.mark.parametrize("kind", SILLY)
def test_a_silly_size_is_refused_before_it_is_flattened(kind: str, tmp_path: Path) -> None:
    document, space = drawing()
    SILLY[kind](space)
    (line,) = problems_of(document, tmp_path)
    assert line.startswith(f'layer "void": a {kind} cannot be read: it reaches 1e+06 m from the drawing')
    assert "are the units right?" in line


@pytest.mark.parametrize("bulge", [1e9, -1e9, 1e5, 1e300])
def test_a_silly_bulge_is_refused_before_it_is_flattened(bulge: float, tmp_path: Path) -> None:
    document, space = drawing()
    points = [(0, 0, bulge), (100, 0, 0), (50, 90, 0)]
    space.add_lwpolyline(points, format="xyb", close=True, dxfattribs=VOID)
    (line,) = problems_of(document, tmp_path)
    assert line.startswith('layer "void": a LWPOLYLINE cannot be read: it has an arc ')
    assert "m across, expected at most 10 m; is its bulge right?" in line


@pytest.mark.parametrize("bulge", [1e-13, 1e-11, 1e-9, 1e-6])
def test_the_faintest_bulge_is_a_line(bulge: float, tmp_path: Path) -> None:
    document, space = drawing()
    points = [(0, 0, bulge), (1000, 0, -bulge), (500, 600, bulge)]
    space.add_lwpolyline(points, format="xyb", close=True, dxfattribs=VOID)
    document.saveas(tmp_path / "a.dxf")
    (flaw,) = read_hide(tmp_path / "a.dxf").flaws
    assert shapely.Polygon(flaw.polygon).area == pytest.approx(300_000, rel=1e-4)


@pytest.mark.parametrize("weight", [0.0, -1.0, 1e-9])
def test_a_spline_of_silly_weights_is_refused_or_read_in_its_bounds(weight: float, tmp_path: Path) -> None:
    document, space = drawing()
    corners = [(100, 100), (300, 100), (300, 300), (100, 300), (100, 100)]
    space.add_rational_spline(corners, weights=[1, weight, 1, 1, 1], dxfattribs=VOID)
    if weight <= 0:
        (line,) = problems_of(document, tmp_path)
        assert line.endswith("a SPLINE cannot be read: it has a weight that is not more than 0; redraw it")
        return
    document.saveas(tmp_path / "a.dxf")
    (flaw,) = read_hide(tmp_path / "a.dxf").flaws
    assert shapely.box(99.9, 99.9, 300.1, 300.1).covers(shapely.Polygon(flaw.polygon))


def test_a_shape_that_leaves_the_plane_is_refused(tmp_path: Path) -> None:
    document, space = drawing()
    space.add_line((0, 0, 0), (50, 0, 80), dxfattribs=VOID)
    space.add_polyline3d([(0, 0, 0), (50, 0, 0), (50, 50, 70)], close=True, dxfattribs=VOID)
    space.add_circle((0, 0), 9, dxfattribs={**VOID, "extrusion": (0, 1, 1)})
    assert problems_of(document, tmp_path) == [
        f'layer "void": a {kind} cannot be read: it is tilted out of the drawing\'s plane; redraw it'
        for kind in ("LINE", "POLYLINE", "CIRCLE")
    ]


def test_points_that_only_steer_a_curved_polyline_are_no_corners(tmp_path: Path) -> None:
    document, space = drawing()
    corners = [(100, 100), (300, 100), (300, 300), (100, 300)]
    line = space.add_polyline2d(corners, close=True, dxfattribs={**VOID, "flags": 4})
    line.append_vertex((900, 900), dxfattribs={"flags": 16})
    document.saveas(tmp_path / "a.dxf")
    (flaw,) = read_hide(tmp_path / "a.dxf").flaws
    assert shapely.Polygon(flaw.polygon).bounds == (100, 100, 300, 300)


def test_lines_and_arcs_in_any_order_and_direction_are_joined(tmp_path: Path) -> None:
    random.seed(4)
    document, space = drawing()
    for centre in (200, 500, 800, 1100):
        pieces = 30
        for k in random.sample(range(pieces), pieces):
            first, last = (2 * math.pi * (k + more) / pieces for more in (0, 1))
            ends = [(centre + 100 * math.cos(a), 400 + 100 * math.sin(a)) for a in (first, last)]
            gap = (random.uniform(-0.03, 0.03), random.uniform(-0.03, 0.03)) if k % 5 == 0 else (0, 0)
            ends[1] = (ends[1][0] + gap[0], ends[1][1] + gap[1])
            if k % 3 == 0 and gap == (0, 0):
                space.add_arc((centre, 400), 100, math.degrees(first), math.degrees(last), dxfattribs=VOID)
            else:
                space.add_line(*random.sample(ends, 2), dxfattribs=VOID)
    document.saveas(tmp_path / "a.dxf")
    flaws = [shapely.Polygon(flaw.polygon) for flaw in read_hide(tmp_path / "a.dxf").flaws]
    chords = 100 * 100 / 2 * math.sin(2 * math.pi / 30) * 30
    assert sorted(round(flaw.centroid.x) for flaw in flaws) == [200, 500, 800, 1100]
    for flaw in flaws:
        assert chords < flaw.area < math.pi * 100**2


def test_lines_finer_than_a_gap_that_is_joined_are_joined_end_to_end(tmp_path: Path) -> None:
    document, space = drawing()
    angles = [k * math.pi / 700 for k in range(1400)]
    corners = [(300 + 3 * math.cos(angle), 300 + 3 * math.sin(angle)) for angle in angles]
    for k in random.sample(range(1400), 1400):
        space.add_line(corners[k], corners[(k + 1) % 1400], dxfattribs=VOID)  # of 0.013 mm each
    document.saveas(tmp_path / "a.dxf")
    (flaw,) = read_hide(tmp_path / "a.dxf").flaws
    assert shapely.Polygon(flaw.polygon).area == pytest.approx(math.pi * 9, rel=1e-4)


def test_where_more_than_two_ends_meet_nothing_is_guessed(tmp_path: Path) -> None:
    document, space = drawing()
    square = [(100, 100), (200, 100), (200, 200), (100, 200)]
    for k in range(4):
        space.add_line(square[k], square[(k + 1) % 4], dxfattribs=VOID)
    space.add_line(square[1], square[0], dxfattribs=VOID)
    assert problems_of(document, tmp_path) == [
        (
            'layer "void": more than two ends of lines meet at (100, 100) mm, (200, 100) mm; draw each shape '
            "as a closed polyline, or take out what is drawn twice"
        )
    ]
    document, space = drawing()
    for _ in range(2):
        space.add_line((100, 100), (200, 100), dxfattribs=VOID)
    assert problems_of(document, tmp_path) == [
        'layer "void": lines that close to nothing at (100, 100) mm; is a line drawn twice?'
    ]
