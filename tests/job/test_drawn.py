"""Tips, openings, ornaments and whole parts drawn elsewhere, in a job."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import ezdxf
import numpy as np
import pytest
from tests.job.jobs import BELT, GOOD, LEATHER

from strapwright.core.errors import FileProblems, PartError
from strapwright.geometry.contour import Contour
from strapwright.job.draft import draft
from strapwright.job.spec.job import read_job
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from strapwright.job.draft import Draft

EXAMPLES = Path(__file__).parents[2] / "examples" / "shapes"
TIP = '<path id="tip" transform="{}" d="M 20 11 H 50 C 70 11 80 28 90 30 C 80 32 70 49 50 49 H 20{}"/>'
KEYHOLE = '<path id="cut-1" d="M 10 6 A 4 4 0 1 0 10 14 L 30 11.5 A 1.5 1.5 0 0 0 30 8.5 Z"/>'
WAVE = '<path id="score" d="M 0 10 q 10 -10 20 0 t 20 0"/>'


def svg(path: Path, inside: str) -> Path:
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" viewBox="0 0 100 60">'
        f"{inside}</svg>"
    )
    return path


def drafted(folder: Path, text: str) -> Draft:
    (folder / "job.toml").write_text(text)
    return draft(read_job(folder / "job.toml"))


def refused(folder: Path, text: str) -> str:
    with pytest.raises((FileProblems, PartError)) as caught:
        drafted(folder, text)
    (line,) = str(caught.value).splitlines()
    return line.removeprefix(f"{folder / 'job.toml'}: ")


@pytest.mark.parametrize("transform", ["", "rotate(90 50 30)", "rotate(180 50 30)", "rotate(-90 50 30)"])
@pytest.mark.parametrize("end", ["", "Z"])
def test_a_drawn_tip_meets_the_strap_whichever_way_it_points(
    tmp_path: Path, transform: str, end: str
) -> None:
    svg(tmp_path / "tip.svg", TIP.format(transform, end))
    (belt,) = drafted(tmp_path, GOOD + 'tip = { drawing = "tip.svg" }\n').belts
    tip = belt.strap.tip
    assert tip.reach == pytest.approx(40.0)  # the straight edges that were drawn with it are the strap's
    vertices = np.array(tip.vertices())
    assert vertices[0, :2] == pytest.approx((-40, -19))
    assert vertices[-1, :2] == pytest.approx((-40, 19))
    assert vertices[:, 0].max() == pytest.approx(0.0, abs=1e-9)
    assert belt.strap.outline.bounding_box[2] == pytest.approx(belt.strap.span)
    upside = Contour(vertices, closed=False).reversed().vertices[:, 1]
    assert upside == pytest.approx(-vertices[:, 1], abs=0.02)  # drawn alike above and below


def test_what_a_belt_asks_of_its_tip_it_asks_of_the_drawn_one(tmp_path: Path) -> None:
    svg(tmp_path / "tip.svg", TIP.format("scale(4 1)", ""))  # 160 mm long
    job = GOOD + 'tip = { drawing = "tip.svg" }\n'
    assert drafted(tmp_path, f"{job}holes = {{ last_to_tip = '150 mm' }}\n").belts
    assert refused(tmp_path, f"{job}holes = {{ last_to_tip = '30 mm' }}\n").startswith(
        'belt "ines": adjusting hole of 5 mm at '
    )


def test_a_tip_that_does_not_meet_the_strap_is_refused_with_both_widths(tmp_path: Path) -> None:
    svg(tmp_path / "tip.svg", TIP.format("scale(0.9)", ""))
    assert refused(tmp_path, GOOD + 'tip = { drawing = "tip.svg" }\n') == (
        'belt "ines": tip.svg: <path id="tip">: does not meet the strap: its ends are 34.20 mm apart across '
        "it, expected 38 mm; draw it as wide as the strap is cut"
    )
    svg(tmp_path / "tip.svg", TIP.format("", "") + '<circle id="eye" cx="60" cy="30" r="2"/>')
    assert "found 2 shapes" in refused(tmp_path, GOOD + 'tip = { drawing = "tip.svg" }\n')
    svg(tmp_path / "tip.svg", '<path id="w" d="M20 11 L50 5 L90 30 L50 49 L20 49"/>')
    assert "reaches 25.00 mm to the side" in refused(tmp_path, GOOD + 'tip = { drawing = "tip.svg" }\n')


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (
            '"tip.png"',
            'found "tip.png", expected an SVG or DXF file in the job\'s own folder such as "tip.svg"',
        ),
        ('"../tip.svg"', "no path and no link out of it; move it there"),
        ('"none.svg"', "none.svg: cannot be read: no such file"),
        ('{ file = "tip.svg" }', "found a table, expected one of file and unit"),
        ("7", "found 7, expected an SVG or DXF file"),
    ],
)
def test_a_drawing_that_cannot_be_had_is_one_line(tmp_path: Path, value: str, says: str) -> None:
    line = refused(tmp_path, GOOD + f"tip = {{ drawing = {value} }}\n")
    assert line.startswith("belt[1].tip.drawing: ")
    assert says in line


def test_a_mistake_of_a_drawing_names_job_drawing_and_shape(tmp_path: Path) -> None:
    svg(tmp_path / "tip.svg", '<text id="t">a</text><image id="i"/>')
    line = refused(tmp_path, GOOD + 'tip = { drawing = "tip.svg" }\n')
    assert line.startswith('belt[1].tip.drawing: tip.svg: <text id="t">: found a text')
    assert line.endswith("(and 1 more such mistakes)")
    svg(tmp_path / "tip.svg", TIP.format("", ""))
    assert refused(tmp_path, GOOD + 'tip = { drawing = "tip.svg", shape = "round" }\n').startswith(
        "belt[1].tip.shape: found with drawing, which draws the whole tip"
    )


HOLE = '[[belt.hole]]\ndrawing = "keyhole.svg"\nat = "{}"\n'


@pytest.mark.parametrize("at", ["330 mm from tip", "700 mm from the fold", "27.5 in from buckle"])
def test_a_keyhole_lies_where_it_is_asked_for(tmp_path: Path, at: str) -> None:
    svg(tmp_path / "keyhole.svg", KEYHOLE)
    (belt,) = drafted(tmp_path, GOOD + HOLE.format(at)).belts
    (feature,) = belt.strap.drawn
    x0, y0, x1, y1 = feature.contour.bounding_box
    seat = belt.figures.seat
    outer_end = seat.half_turn / 2 - seat.fold_radius - seat.fold_thickness
    wanted = {"t": belt.strap.span - 330, "f": 700.0, "b": 27.5 * 25.4 + outer_end}
    assert (x0 + x1) / 2 == pytest.approx(wanted[at.split()[-1][0]])
    assert (y0 + y1) / 2 == pytest.approx(0.0, abs=1e-9)
    assert feature.operation is Operation.CUT
    assert feature.contour.radii[feature.contour.is_arc] == pytest.approx([4.0, 1.5])
    assert feature in belt.parts()[0].features


@pytest.mark.parametrize(
    ("table", "says"),
    [
        (HOLE.format("3 mm from fold"), "hole[1]: keyhole.svg: <path"),
        (HOLE.format("100 mm from tip"), "to the adjusting hole at"),
        (HOLE.format("500 mm from tip") + 'across = "17 mm"\n', "reaches beyond the strap's edge"),
        (HOLE.format("500 mm from tip") + 'across = "13.5 mm"\n', "leaves 1.50 mm of leather"),
        (HOLE.format("somewhere"), "expected a length and what it is measured from"),
        (HOLE.format("50 mm from tip") * 41, "hole: "),
    ],
)
def test_an_opening_the_leather_does_not_allow_is_refused(tmp_path: Path, table: str, says: str) -> None:
    svg(tmp_path / "keyhole.svg", KEYHOLE)
    assert says in refused(tmp_path, GOOD + table)


def test_an_open_line_to_be_cut_is_refused_with_its_ends(tmp_path: Path) -> None:
    svg(tmp_path / "keyhole.svg", '<path id="k" d="M10 10 h20 v5"/>')
    assert refused(tmp_path, GOOD + HOLE.format("330 mm from tip")) == (
        'belt "ines": hole[1]: keyhole.svg: <path id="k">: an open line from (10.00, 50.00) to (30.00, '
        "45.00) mm (y up), expected a closed one to cut; close it, or name its layer or id score"
    )


ORNAMENT = '[[belt.ornament]]\ndrawing = "wave.svg"\nrepeat = "40 mm"\nfrom = "{}"\nto = "{}"\n'


def test_an_ornament_follows_the_strap_and_stops_clear_of_holes_and_lines(tmp_path: Path) -> None:
    svg(tmp_path / "wave.svg", WAVE)
    made = drafted(tmp_path, GOOD + ORNAMENT.format("150 mm from fold", "60 mm from tip"))
    (belt,) = made.belts
    waves = belt.strap.drawn
    assert {one.operation for one in waves} == {Operation.SCORE}
    starts = [one.contour.starts[0, 0] for one in waves]
    assert np.diff(starts) == pytest.approx([40.0] * (len(starts) - 1))
    assert starts[0] >= 150
    near = [
        other.contour.distance_to(one.contour.sample(50)).min()
        for one in waves
        for other in belt.strap.features()
        if other not in waves
    ]
    assert min(near) >= 2.0 - 1e-3
    (note,) = [one for one in belt.findings if one.code == "ornament-left-out"]
    assert note.numbers["made"] == len(waves)
    assert note.numbers["left_out"] > 0


def test_an_ornament_is_scaled_to_the_straps_width_only_if_asked(tmp_path: Path) -> None:
    svg(tmp_path / "wave.svg", WAVE)
    text = GOOD + ORNAMENT.format("150 mm from fold", "300 mm from tip")
    heights = []
    for more in ("", 'margin = "6 mm"\n'):
        (first, *_) = drafted(tmp_path, text.replace("40 mm", "120 mm") + more).belts[0].strap.drawn
        _, low, _, high = first.contour.bounding_box
        heights.append(high - low)
    assert heights == pytest.approx([10.0, 26.0], abs=0.05)


def test_an_ornament_without_room_or_running_into_itself_is_refused(tmp_path: Path) -> None:
    svg(tmp_path / "wave.svg", WAVE)
    assert "finds no room" in refused(tmp_path, GOOD + ORNAMENT.format("0 mm from fold", "60 mm from fold"))
    assert "is 40.0 mm long, and only 20.0 mm" in refused(
        tmp_path, GOOD + ORNAMENT.format("200 mm from fold", "220 mm from fold")
    )
    svg(tmp_path / "wave.svg", '<rect id="cut" x="0" y="0" width="60" height="4"/>')
    assert "repeats every 40 mm" in refused(
        tmp_path, GOOD + ORNAMENT.format("200 mm from fold", "500 mm from fold")
    )


PLATE = '[[strap]]\nid = "plate"\ndrawing = "plate.{}"\n'


def test_a_whole_part_keeps_its_lines_and_arcs_and_what_is_made_in_it(tmp_path: Path) -> None:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    space.add_lwpolyline(
        [(5, 5, 0), (85, 5, 1), (85, 45, 0), (5, 45, 0)], "xyb", close=True, dxfattribs={"layer": "cut"}
    )
    space.add_circle((25, 25), 3, dxfattribs={"layer": "cut"})
    space.add_circle((45, 25), 1, dxfattribs={"layer": "punch"})
    space.add_line((60, 10), (60, 40), dxfattribs={"layer": "score"})
    document.saveas(tmp_path / "plate.dxf")
    (strap,) = drafted(tmp_path, LEATHER + PLATE.format("dxf")).straps
    assert strap.strap.outline.area == pytest.approx(80 * 40 + math.pi * 200, rel=1e-12)
    assert strap.strap.outline.bounding_box == pytest.approx((0, -20, 100, 20))
    made = {(one.name, one.operation) for one in strap.strap.features()}
    assert made == {
        ("hole", Operation.CUT),
        ("hole", Operation.PUNCH),
        ("scored line", Operation.SCORE),
    }


def test_a_part_with_too_little_leather_round_a_hole_is_refused_by_its_shape(tmp_path: Path) -> None:
    outline = '<rect id="cut" x="5" y="5" width="80" height="40"/>'
    for y, says in ((7.9, "runs to the edge; expected 1.78"), (90, "is outside the outline")):
        svg(tmp_path / "plate.svg", outline + f'<circle id="cut-eye" cx="30" cy="{y}" r="2"/>')
        line = refused(tmp_path, LEATHER + PLATE.format("svg"))
        assert line.startswith('strap "plate": plate.svg: <circle id="cut-eye"> draws a hole round')
        assert says in line


@pytest.mark.parametrize(
    "table",
    [
        GOOD + 'tip = { drawing = "a.svg" }\n',
        LEATHER + '[[strap]]\nid = "a"\ndrawing = "a.svg"\n',
        LEATHER + '[[strap]]\nid = "a"\nwidth = "38 mm"\nlength = "400 mm"\n'
        'ends = [{ tip = "square" }, { tip = { drawing = "a.svg" } }]\n',
    ],
    ids=["belt", "whole part", "strap"],
)
def test_what_a_drawing_does_not_show_is_told_for_every_kind_of_strap(tmp_path: Path, table: str) -> None:
    svg(tmp_path / "a.svg", TIP.format("", "Z") + '<path id="gone" display="none" d="M 40 25 h 9 v 9 z"/>')
    (found,) = [one for one in drafted(tmp_path, table).findings if one.code == "drawing-not-shown"]
    assert 'path "gone"' in found.what


def test_a_job_without_drawings_keeps_its_digest_and_a_drawing_counts_in_it(tmp_path: Path) -> None:
    svg(tmp_path / "tip.svg", TIP.format("", ""))
    text = LEATHER + BELT + 'tip = { drawing = "tip.svg" }\n'
    (tmp_path / "job.toml").write_text(text)
    first = read_job(tmp_path / "job.toml")
    assert first.drawings == {"tip.svg": (tmp_path / "tip.svg").read_bytes()}
    svg(tmp_path / "tip.svg", TIP.format("", "Z"))
    assert read_job(tmp_path / "job.toml").digest != first.digest
    (tmp_path / "job.toml").write_text(GOOD)
    assert '"drawing"' not in read_job(tmp_path / "job.toml").model_dump_json(exclude={"belts": True})


def reaches() -> dict[str, float]:
    made = draft(read_job(EXAMPLES / "gallery.toml"))
    return {one.id: one.strap.ends[1].reach for one in made.straps if one.strap.ends}


def test_every_tip_of_the_gallery_is_as_long_as_it_was_drawn():
    (spline,) = ezdxf.readfile(EXAMPLES / "leaf.dxf").modelspace()
    tool = spline.construction_tool()
    assert reaches() == pytest.approx(
        {
            "ogee": 38.0,
            "arrow": 25.0,
            "swallow": 14.0,
            "scallop": 19.0,
            "gothic": 19 * math.sqrt(3),
            "ellipse": 1.6 * 25.4,
            "leaf": max(point.x for point in tool.points(np.linspace(0, tool.max_t, 9999))),
            "nipped": 18.0,
        },
        abs=0.02,
    )


def test_every_part_of_the_gallery_is_what_was_drawn():
    made = {one.id: one.strap for one in draft(read_job(EXAMPLES / "gallery.toml")).straps}
    oval = made["oval"]
    assert oval.outline.area == pytest.approx(math.pi * 40 * 24, abs=0.02 * 205)  # 205 mm round
    assert len(oval.outline) < 40
    assert [one.contour.as_circle()[2] for one in oval.features()] == pytest.approx([4.0] * 6)
    assert [one.operation for one in made["tag"].features()].count(Operation.SCORE) == 1
    assert len(made["tab"].features()) == 4
    assert made["heart"].outline.bounding_box[3] == pytest.approx(57.7 / 2, abs=0.05)
    assert len(made) == 12


def test_the_drawn_belt_of_the_examples_has_tip_keyhole_and_border():
    (belt,) = draft(read_job(EXAMPLES / "belt.toml")).belts
    assert belt.strap.tip.reach == pytest.approx(38.0)
    names = [one.name for one in belt.strap.drawn]
    assert names.count("cut-out") == 1
    assert names.count("scored line") == 50  # two strands that meet at both ends are one line


def test_a_lining_is_the_mirror_of_a_strap_that_is_not_alike_on_both_sides(tmp_path: Path) -> None:
    svg(tmp_path / "tip.svg", '<path id="lean" d="M 20 11 H 50 L 80 20 L 60 49 H 20"/>')
    svg(tmp_path / "keyhole.svg", KEYHOLE)
    svg(tmp_path / "wave.svg", '<rect id="score" x="0" y="0" width="10" height="4"/>')
    lined = 'tip = { drawing = "tip.svg" }\nlining = { thickness = "1 mm", tannage = "vegetable" }\n'
    table = HOLE.format("330 mm from tip") + 'across = "4 mm"\n'
    border = ORNAMENT.format("300 mm from fold", "450 mm from tip")
    (belt,) = drafted(tmp_path, GOOD + lined + table + border).belts
    strap, lining, _ = belt.parts()
    nose = [one.outline.vertices[np.argmax(one.outline.vertices[:, 0]), 1] for one in (strap, lining)]
    assert nose == pytest.approx([10.0, -10.0])
    (above,) = (one for one in strap.features if one.name == "cut-out")
    (below,) = (one for one in lining.features if one.name == "cut-out")
    middles = [sum(one.contour.bounding_box[1::2]) / 2 for one in (above, below)]
    assert middles == pytest.approx([4.0, -4.0])
    assert Operation.SCORE in {one.operation for one in strap.features}
    assert Operation.SCORE not in {one.operation for one in lining.features}
