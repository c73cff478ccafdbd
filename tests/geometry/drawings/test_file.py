"""Drawings of parts as programs save them: names, clones, units; and what is refused, with id and cure."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import ezdxf
import pytest

from strapwright.core.errors import FileProblems
from strapwright.geometry.drawings.file import read_shapes

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.geometry.drawings.file import Shape

SPACES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" xmlns:e="urn:editor"'
NO_LINES = (
    "expected lines and shapes; convert it to paths, or redraw it as lines, or move it to a group notes"
)
CROSSES = "at (10.00, 70.00) mm (y up); go round it in one sweep"
CLIPPED = 'found clip-path "url(#c)", which is not read; release it, or convert the object to a path'
SQUARE = '<path id="{}" d="m10 10h20v20h-20z"/>'


def svg(path: Path, inside: str, size: str = 'width="100mm" height="80mm" viewBox="0 0 100 80"') -> Path:
    path.write_text(f"<svg {SPACES} {size}>{inside}</svg>")
    return path


def shapes_of(tmp_path: Path, inside: str, **size: str) -> tuple[Shape, ...]:
    return read_shapes(svg(tmp_path / "a.svg", inside, **size))[0]


def refused(path: Path, unit: str = "") -> str:
    with pytest.raises(FileProblems) as caught:
        read_shapes(path, unit)
    (line,) = caught.value.problems
    return line.removeprefix(f"{path}: ")


@pytest.mark.parametrize(
    ("size", "mm"),
    [
        ('width="4in" height="3in" viewBox="0 0 400 300"', 0.254),
        ('width="10cm" height="8cm" viewBox="0 0 100 80"', 1.0),
        ('width="96px" height="96px" viewBox="0 0 96 96"', 25.4 / 96),
        ('width="192" height="192" viewBox="0 0 96 96"', 25.4 / 48),
    ],
)
def test_units_come_from_size_and_view_box(tmp_path: Path, size: str, mm: float) -> None:
    (shape,) = shapes_of(tmp_path, SQUARE.format("cut"), size=size)
    assert shape.contour.area == pytest.approx((20 * mm) ** 2)


def test_layers_groups_and_ids_say_cut_score_or_punch(tmp_path: Path) -> None:
    shapes = shapes_of(
        tmp_path,
        SQUARE.format("Cut-1")
        + '<g e:label="Score lines"><line id="l" x1="40" y1="5" x2="60" y2="5"/></g>'
        + '<g id="layer3"><g id="punch"><circle cx="70" cy="40" r="2"/></g></g>'
        + '<g id="notes"><text>a note</text><path id="x" d="M0 0L5 5"/></g>',
    )
    assert [shape.operation for shape in shapes] == ["cut", "score", "punch"]
    assert [shape.contour.closed for shape in shapes] == [True, False, True]
    (alone,) = shapes_of(tmp_path, SQUARE.format("path1"))
    assert alone.operation == ""
    assert refused(svg(tmp_path / "a.svg", SQUARE.format("cut") + SQUARE.format("p2"))) == (
        '<path id="p2">: found it in no named layer or group, while others say cut, score or punch; name its '
        'layer, group or id so too, or move it to "notes"'
    )


def test_clones_are_drawn_where_they_are_shown_and_nested_transforms_are_worked_out(tmp_path: Path) -> None:
    inside = (
        '<g id="cut" transform="translate(50 0)"><g transform="scale(2)">'
        '<circle id="dot" cx="5" cy="5" r="1.5" style="fill:none;stroke:#000"/></g>'
        '<use xlink:href="#dot" x="10" transform="rotate(90)"/><use href="#dot" y="20"/></g>'
    )
    circles = [shape.contour.as_circle() for shape in shapes_of(tmp_path, inside)]
    assert circles == [
        pytest.approx((60, 70, 6)),
        pytest.approx((45, 65, 3)),
        pytest.approx((55, 55, 3)),
    ]


def test_a_circle_drawn_as_four_curves_is_one_and_a_straight_curve_a_line(tmp_path: Path) -> None:
    k = 5 * 4 / 3 * math.tan(math.pi / 8)
    data = f"m20 10 c{k} 0 5 {5 - k} 5 5 s{k - 5} 5 -5 5 s-5 {k - 5} -5 -5 s{5 - k} -5 5 -5z"
    circle, square = shapes_of(
        tmp_path, f'<path id="a" d="{data}"/><path id="b" d="M40 40 C43 40 47 40 50 40 V50 H40z"/>'
    )
    assert circle.contour.as_circle() == pytest.approx((20, 65, 10), abs=2e-3)
    assert len(square.contour) == 4
    assert not square.contour.is_arc.any()


@pytest.mark.parametrize(
    ("inside", "says"),
    [
        ('<text id="t">hello</text>', f'<text id="t">: found a text, {NO_LINES}'),
        ('<image id="i" href="a.png"/>', f'<image id="i">: found an image, {NO_LINES}'),
        ('<path id="bow" d="M0 0L20 20V0L0 20z"/>', f'<path id="bow">: crosses or touches itself {CROSSES}'),
        (
            '<use id="u" href="#none"/>',
            '<use id="u">: shows "#none", which is not in the drawing; unlink the clone',
        ),
        ('<g id="g" clip-path="url(#c)"><path d="M0 0h5v5z"/></g>', f'<g id="g">: {CLIPPED}'),
        ("", "found no line and no shape; expected paths, lines, arcs or circles"),
    ],
)
def test_what_is_not_read_is_refused_with_its_id_and_the_cure(tmp_path: Path, inside: str, says: str) -> None:
    assert refused(svg(tmp_path / "a.svg", inside)) == says


def test_a_clone_of_itself_is_refused(tmp_path: Path) -> None:
    path = svg(tmp_path / "a.svg", '<g id="ring"><use href="#ring"/></g>')
    assert "groups are nested more than 200 deep" in refused(path)


def test_hidden_shapes_are_left_out_and_named(tmp_path: Path) -> None:
    path = svg(tmp_path / "a.svg", SQUARE.format("cut") + '<path id="gone" display="none" d="M0 0h5v5z"/>')
    shapes, left_out = read_shapes(path)
    assert len(shapes) == 1
    assert left_out == 'path "gone" (display: none)'


def dxf(path: Path, draw: Any, units: int = 4) -> Path:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = units
    draw(document)
    document.saveas(path)
    return path


def test_a_dxf_without_units_is_named_with_its_unit(tmp_path: Path) -> None:
    path = dxf(tmp_path / "a.dxf", lambda d: d.modelspace().add_circle((0, 0), 1), 0)
    assert refused(path).endswith('(R12 cannot say them), or write unit = "mm" or "in" beside it')
    ((shape,), _) = read_shapes(path, "in")
    assert shape.contour.as_circle() == pytest.approx((0, 0, 50.8))


def test_texts_and_unknown_entities_of_a_dxf_are_refused_by_layer_kind_and_handle(tmp_path: Path) -> None:
    def draw(document: Any) -> None:
        document.modelspace().add_text("a", dxfattribs={"layer": "cut", "handle": "AB1"})

    says = refused(dxf(tmp_path / "a.dxf", draw))
    assert says == (
        'layer "cut", TEXT AB1: found TEXT, expected lines and shapes; convert it to paths, or redraw it as '
        'lines, or move it to layer "notes"'
    )
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    document.modelspace().add_mtext("b", dxfattribs={"layer": "notes"})
    document.modelspace().add_circle((0, 0), 3, dxfattribs={"layer": "punch", "extrusion": (0, 0, -1)})
    document.modelspace().add_arc((9, 0), 3, 350, 10, dxfattribs={"layer": "score"})
    document.saveas(tmp_path / "b.dxf")
    circle, arc = read_shapes(tmp_path / "b.dxf")[0]
    assert (circle.operation, arc.operation) == ("punch", "score")
    assert arc.contour.length == pytest.approx(math.radians(20) * 3, rel=1e-12)


def test_scored_lines_of_a_dxf_may_meet_as_they_like_and_cut_ones_not(tmp_path: Path) -> None:
    def star(layer: str) -> Any:
        return lambda document: [
            document.modelspace().add_line((0, 0), end, dxfattribs={"layer": layer})
            for end in ((5, 0), (0, 5), (-5, -5))
        ]

    assert len(read_shapes(dxf(tmp_path / "a.dxf", star("score")))[0]) == 3
    says = refused(dxf(tmp_path / "a.dxf", star("cut")))
    assert says.startswith('layer "cut": more than two ends of lines meet at (0, 0) mm')
