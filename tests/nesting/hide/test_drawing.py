"""Hides from drawings: units, layers, arcs, transforms; and what is refused."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import ezdxf
import numpy as np
import pytest
import shapely
from svgpathtools.parser import parse_transform

from strapwright.core.errors import FileProblems
from strapwright.geometry.drawings.svg import transform_matrix
from strapwright.nesting.hide.file import read_hide
from strapwright.nesting.hide.types import FlawKind

if TYPE_CHECKING:
    from pathlib import Path


def problems_of(path: Path) -> list[str]:
    with pytest.raises(FileProblems) as caught:
        read_hide(path)
    return [line.replace(f"{path.parent}/", "") for line in caught.value.problems]


def dxf(units: int = 4, outline: str = "outline") -> Any:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = units
    space = document.modelspace()
    space.add_lwpolyline(
        [(0, 0, 0), (2000, 0, 0.2), (2000, 800, 0), (0, 800, 0)],
        format="xyb",
        close=True,
        dxfattribs={"layer": outline},
    )
    space.add_circle((300, 300), 15, dxfattribs={"layer": "void"})
    space.add_text("a hide", dxfattribs={"layer": "0"})
    return document


def saved(document: Any, path: Path) -> Path:
    document.saveas(path)
    return path


def test_a_dxf_outline_with_an_arc_is_flattened_inward_and_a_flaw_outward(tmp_path: Path) -> None:
    hide = read_hide(saved(dxf(), tmp_path / "side.dxf"))
    sweep, chord = 4 * math.atan(0.2), 800.0
    radius = chord * (1 + 0.04) / 0.8
    exact = 2000 * 800 + radius**2 * (sweep - math.sin(sweep)) / 2
    assert 0 < exact - hide.area < 0.02 * radius * sweep
    (flaw,) = hide.flaws
    assert math.pi * 225 < shapely.Polygon(flaw.polygon).area < math.pi * 15.02**2 * 1.01


def test_lines_and_arcs_of_a_dxf_are_joined_and_seen_from_below_mirrored(tmp_path: Path) -> None:
    document = dxf()
    space = document.modelspace()
    space.add_line((500, 500), (600, 500.05), dxfattribs={"layer": "Mark"})
    space.add_arc((550, 500), 50, 0, 180, dxfattribs={"layer": "Mark"})
    space.add_circle((-1700, 300), 15, dxfattribs={"layer": "void", "extrusion": (0, 0, -1)})
    space.add_ellipse((900, 300), (40, 0), 0.25, dxfattribs={"layer": "loose"})
    flaws = {
        flaw.kind: shapely.Polygon(flaw.polygon)
        for flaw in read_hide(saved(document, tmp_path / "a.dxf")).flaws
    }
    assert flaws[FlawKind.MARK].area == pytest.approx(math.pi * 2500 / 2, abs=10)
    assert flaws[FlawKind.MARK].centroid.y > 500
    assert flaws[FlawKind.HOLE].centroid.x == pytest.approx(1700)
    assert flaws[FlawKind.LOOSE].area == pytest.approx(math.pi * 40 * 10, rel=1e-3)


def test_a_dxf_in_centimetres_is_ten_times_as_large(tmp_path: Path) -> None:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 5
    document.modelspace().add_lwpolyline(
        [(0, 0), (200, 0), (200, 80)], close=True, dxfattribs={"layer": "OUTLINE"}
    )
    assert read_hide(saved(document, tmp_path / "a.dxf")).area == pytest.approx(2000 * 800 / 2)


@pytest.mark.parametrize(("units", "mm"), [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0)])
def test_a_dxf_in_any_unit_it_may_name_comes_out_in_millimetres(
    tmp_path: Path, units: int, mm: float
) -> None:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = units
    space = document.modelspace()
    for a, b in (((0, 0), (2032, 0)), ((2032, 0), (2032, 508)), ((0, 508), (2032, 508)), ((0, 508), (0, 0))):
        space.add_line([v / mm for v in a], [v / mm for v in b], dxfattribs={"layer": "outline"})
    space.add_circle((300 / mm, 300 / mm), 15 / mm, dxfattribs={"layer": "void"})
    hide = read_hide(saved(document, tmp_path / "a.dxf"))
    assert hide.outline.max(axis=0) == pytest.approx([2032, 508])
    assert hide.outline.min(axis=0) == pytest.approx([0, 0])
    assert shapely.Polygon(hide.flaws[0].polygon).centroid.coords[0] == pytest.approx((300, 300))


def test_malformed_dxf_drawings_are_refused_in_one_line(tmp_path: Path) -> None:
    path = saved(dxf(0), tmp_path / "a.dxf")
    assert problems_of(path) == [
        (
            "a.dxf: found no units ($INSUNITS 0), expected millimetres, centimetres, metres, inches or "
            "feet; set the drawing's units and save it again, as R2000 or newer (R12 cannot say them)"
        )
    ]
    path = saved(dxf(4, "Cut"), path)
    assert problems_of(path) == [
        (
            'a.dxf: found closed shapes in layer "Cut", expected layer outline, hole, mark or loose; '
            'anything else goes into a layer named "notes"'
        )
    ]
    path.write_text(saved(dxf(), path).read_text()[:-3000])
    assert problems_of(path) == [
        "a.dxf: the drawing ends in the middle (no EOF at its end); save or copy it again"
    ]
    path.write_text("hello")
    assert problems_of(path) == ["a.dxf: not a DXF drawing: it has no sections"]
    document = dxf()
    document.modelspace().add_line((0, 0), (5, 5), dxfattribs={"layer": "void"})
    assert problems_of(saved(document, path)) == [
        (
            'a.dxf: layer "void": an open line from (0.0, 0.0) to (5.0, 5.0) mm, expected closed shapes; '
            "join its ends (gaps under 0.1 mm are joined for you)"
        )
    ]
    document = dxf()
    document.modelspace().add_circle((900, 400), 50, dxfattribs={"layer": "outline"})
    assert problems_of(saved(document, path)) == [
        "a.dxf: found 2 closed shapes in layer outline, expected exactly one"
    ]
    document = dxf()
    document.modelspace().add_hatch(dxfattribs={"layer": "void"})
    assert problems_of(saved(document, path)) == [
        (
            'a.dxf: layer "void": found HATCH, expected polylines, lines, arcs, circles, ellipses or '
            'splines; redraw or explode it, or move it to layer "notes"'
        )
    ]


def test_a_dxf_cut_off_with_its_end_mark_put_back_is_refused_in_one_line(tmp_path: Path) -> None:
    path = saved(dxf(), tmp_path / "a.dxf")
    text = path.read_text()
    for share in (0.02, 0.1, 0.3, 0.6, 0.9):
        path.write_text(text[: int(len(text) * share)] + "\n  0\nEOF\n")
        assert len(problems_of(path)) == 1


SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="220cm" height="900mm" viewBox="0 0 1100 450">'
    '<g id="outline" transform="translate(10 10)">'
    '<path d="M0 0 L 1000 0 C 1050 100 1050 300 1000 400 L 0 400 z"/></g>'
    '<g id="void"><circle cx="100" cy="100" r="10"/>'
    '<g transform="rotate(30 300 300) scale(2)"><rect x="150" y="150" width="10" height="5"/></g></g>'
    '<g id="mark"><ellipse cx="600" cy="200" rx="30" ry="5"/></g>'
    '<g id="loose"><polygon points="700,300 800,300 750,350"/></g>'
    '<g id="notes"><path d="M 0 0 L 5 5"/></g></svg>'
)


def test_an_svg_hide_has_its_transforms_worked_out_and_y_up(tmp_path: Path) -> None:
    path = tmp_path / "side.svg"
    path.write_text(SVG)
    hide = read_hide(path)
    assert hide.outline[:, 0].min() == pytest.approx(20, abs=0.02)
    assert hide.outline[:, 1].max() == pytest.approx(880, abs=0.02)
    # Beyond x = 1000 lies the integral of 150 t(1 − t) · (300 + 600 t(1 − t)), t from 0 to 1.
    exact = 4 * (1000 * 400 + 150 * (300 / 6 + 600 / 30))
    assert 0 <= exact - hide.area < 60
    circle, box = (shapely.Polygon(flaw.polygon) for flaw in hide.flaws[:2])
    assert (circle.centroid.x, circle.centroid.y) == pytest.approx((200, 700))
    assert math.pi * 400 <= circle.area < math.pi * 20.02**2
    # In drawing units the box is 20 × 10 with a corner at (300, 300), turned 30 degrees about it.
    along, across = np.array([math.cos(math.pi / 6), 0.5]), np.array([-0.5, math.cos(math.pi / 6)])
    corners = [(300, 300) + a * along + b * across for a, b in ((0, 0), (20, 0), (20, 10), (0, 10))]
    expected = shapely.Polygon([(2 * x, 900 - 2 * y) for x, y in corners])
    assert box.symmetric_difference(expected).area < 1e-6


@pytest.mark.parametrize(
    "text",
    [
        "translate(3)",
        "translate(3,-4.5e1)",
        "scale(2) rotate(30)",
        "rotate(-25 100 50) translate(7 8)",
        "matrix(1 .5 -.25 2 10 20) scale(1,-2)",
        "skewX(20) , skewY(-10)",
    ],
)
def test_transforms_agree_with_another_reader(text: str) -> None:
    assert np.allclose(transform_matrix(text), parse_transform(text), atol=1e-9)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (
            ('width="220cm" height="900mm" ', ""),
            (
                'found no width, expected a width in physical units such as "2200 mm" on the <svg>; set '
                "the page size in millimetres and save again"
            ),
        ),
        (
            ('width="220cm"', 'width="2200"'),
            (
                'found width="2200", expected a width in physical units such as "2200 mm" on the <svg>; '
                "set the page size in millimetres and save again"
            ),
        ),
        (
            (' viewBox="0 0 1100 450"', ""),
            (
                'found no viewBox, expected one such as "0 0 2200 900", so that a drawing unit has a size; '
                "save again with one"
            ),
        ),
        (
            ("900mm", "800mm"),
            (
                "found a drawing unit of 2 mm across and 1.778 mm down, expected the same both ways; make "
                "width, height and viewBox agree"
            ),
        ),
        (
            ('id="outline"', 'id="Layer1"'),
            (
                'found closed shapes in group "Layer1", expected group outline, hole, mark or loose; '
                'anything else goes into a group named "notes"'
            ),
        ),
        (
            ("L 0 400 z", "L 0 400"),
            (
                "<path>: an open line from (20.0, 880.0) to (20.0, 80.0) mm (y up), expected closed "
                "shapes; close it"
            ),
        ),
        (
            ("scale(2)", "scale(2"),
            '<g>: the transform "rotate(30 300 300) scale(2" cannot be read',
        ),
        (
            ("scale(2)", "scale(0)"),
            '<g>: the transform "rotate(30 300 300) scale(0)" leaves nothing of the shape',
        ),
        (
            ('<circle cx="100" cy="100" r="10"/>', '<use href="#a"/>'),
            (
                "<use>: cannot be read; expected paths, polygons, rectangles, circles and ellipses (unlink "
                "clones, convert objects to paths, or move it to a group notes)"
            ),
        ),
        (
            ("M0 0 L", "M0 0 B L"),
            ('<path>: after "M" in its path data: found "0 0 B", expected plain numbers'),
        ),
    ],
)
def test_a_malformed_svg_drawing_is_refused_in_one_line(
    change: tuple[str, str], expected: str, tmp_path: Path
) -> None:
    path = tmp_path / "side.svg"
    assert change[0] in SVG
    path.write_text(SVG.replace(*change))
    assert problems_of(path) == [f"side.svg: {expected}"]


def test_an_svg_drawing_that_breaks_off_is_refused_in_one_line(tmp_path: Path) -> None:
    path = tmp_path / "side.svg"
    for share in (0.2, 0.5, 0.99):
        path.write_text(SVG[: int(len(SVG) * share)])
        (found,) = problems_of(path)
        assert found.startswith("side.svg: not a sound SVG drawing: ")


@pytest.mark.parametrize("transform", ["rotate(10deg)", "rotate(0.1turn)", "translate(5mm, 3)", "scale(a)"])
def test_a_transform_with_anything_but_plain_numbers_is_refused_not_guessed_at(transform: str) -> None:
    with pytest.raises(ValueError, match="cannot be read"):
        transform_matrix(transform)


def test_a_transform_may_have_commas_and_blanks_of_any_kind() -> None:
    assert transform_matrix("translate(\n 1e1 ,-2 )\tscale(2)").tolist() == [
        [2, 0, 10],
        [0, 2, -2],
        [0, 0, 1],
    ]


@pytest.mark.parametrize(
    "vertices",
    [
        [(0, 0, 0), (800, 0, 0.3), (0, 400, 0), (800, 400, -0.2)],  # arcs that cross
        [(0, 0, 1), (800, 0, 1), (0.001, 0.0005, 1), (400, 300, 0)],  # a cusp, gone round twice
    ],
)
def test_a_wound_dxf_outline_of_arcs_is_told_or_mended_where_its_hide_file_says_so(
    tmp_path: Path, vertices: list[tuple[float, float, float]]
) -> None:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    document.modelspace().add_lwpolyline(vertices, format="xyb", close=True, dxfattribs={"layer": "outline"})
    path = saved(document, tmp_path / "wound.dxf")
    (line,) = problems_of(path)
    assert line.startswith("wound.dxf: outline: crosses or touches itself near")
    (tmp_path / "a.toml").write_text('[hide]\nname = "a"\nrepair = true\noutline = "wound.dxf"\n')
    hide = read_hide(tmp_path / "a.toml")
    assert shapely.Polygon(hide.outline).is_valid
    assert [finding.code for finding in hide.findings] == ["outline-repaired"]
