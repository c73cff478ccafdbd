"""A maker's own sketch: drawn exactly, or refused in one line that says what to do."""

from __future__ import annotations

import importlib
import json
import math

import pytest
from click.testing import CliRunner

from strapwright import api
from strapwright.cli.main import command
from strapwright.core.errors import PartError
from strapwright.geometry.intersect import self_crossing
from strapwright.job.draft import draft
from strapwright.job.spec.job import read_job
from strapwright.parts.sketch import process as sketch_process
from strapwright.parts.sketch.drawn import part_from_sketch, tip_from_sketch
from strapwright.parts.sketch.modeller import load_modeller
from strapwright.parts.sketch.process import answered

pytestmark = pytest.mark.slow

ASK = sketch_process._ask
"""What runs a sketch in a process of its own."""

TIP = """
import cadquery as cq

def sketch(width):
    half = width / 2
    return (cq.Workplane().moveTo(-40, -half).lineTo(-25, -half)
            .threePointArc((-6, -6), (0, 0)).threePointArc((-6, 6), (-25, half)).lineTo(-40, half))
"""

PLATE = """
import cadquery as cq

def part():
    return (cq.Sketch().rect(90, 40).vertices().fillet(8).reset()
            .push([(-30, 0), (30, 0)]).circle(4, mode="s").reset().slot(20, 6, mode="s"))
"""

JOB = """
[leather]
thickness = "3.4 mm"
tannage = "vegetable"
[[belt]]
id = "own"
size = { girth = "900 mm" }
buckle = { for_strap = "36 mm", bar_diameter = "5 mm", frame_depth = "30 mm" }
tip = { sketch = "my_tip.py" }
lining = { thickness = "1 mm" }
crease = { distance = "3 mm" }
[[strap]]
id = "plate"
quantity = 2
sketch = "plate.py"
"""


@pytest.fixture(autouse=True)
def drawn_here(monkeypatch, tmp_path):
    """Run sketches in this process, where the modeller is loaded once."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    cadquery = load_modeller("a test")
    monkeypatch.setattr(
        sketch_process, "_ask", lambda *asked: json.dumps(answered(cadquery, *asked)).encode()
    )


def part(body: str, name: str = "plate.py"):
    return part_from_sketch(f"import cadquery as cq\ndef part():\n    return {body}\n", name)


def tip(body: str, width: float = 36.0):
    return tip_from_sketch(
        f"import cadquery as cq\ndef sketch(width):\n    h = width / 2\n    return {body}\n", "tip.py", width
    )


@pytest.fixture
def job(tmp_path):
    tip_from_sketch.cache_clear()
    part_from_sketch.cache_clear()
    (tmp_path / "my_tip.py").write_text(TIP)
    (tmp_path / "plate.py").write_text(PLATE)
    path = tmp_path / "job.toml"
    path.write_text(JOB)
    return path


def test_a_sketch_becomes_the_outline_exactly_and_its_inner_wires_holes():
    made = part_from_sketch(PLATE, "plate.py")
    rounded = 90 * 40 - (4 - math.pi) * 8**2
    assert made.outline.area == pytest.approx(rounded, abs=1e-9)
    assert made.outline.is_arc.sum() == 4
    assert made.outline.bounding_box == pytest.approx((-45, -20, 45, 20), abs=1e-12)
    names = sorted((feature.name, round(feature.contour.area, 6)) for feature in made.features())
    slot = 20 * 6 + math.pi * 9
    assert names == [
        ("cut-out", round(slot, 6)),
        ("hole", round(math.pi * 16, 6)),
        ("hole", round(math.pi * 16, 6)),
    ]


@pytest.mark.parametrize(
    ("body", "area", "holes"),
    [
        ("cq.Workplane().rect(60, 30).pushPoints([(-20, 0), (20, 0)]).circle(3)", 1800, 2),
        ("cq.Workplane().circle(20)", math.pi * 400, 0),
        ("cq.Workplane().slot2D(80, 20)", 60 * 20 + math.pi * 100, 0),
        ("cq.Wire.makePolygon([(0, 0), (50, 0), (0, 40)], close=True)", 1000, 0),
        ("cq.Face.makePlane(40, 20)", 800, 0),
        ("cq.Workplane().placeSketch(cq.Sketch().trapezoid(50, 20, 90))", 1000, 0),
        ("cq.Sketch().segment((0, 0), (40, 0)).segment((40, 20)).segment((0, 20)).close()", 800, 0),
        ("cq.Workplane().moveTo(0, 0).hLine(30).vLine(10).hLine(-30).close()", 300, 0),
    ],
)
def test_whatever_kind_of_drawing_it_returns(body, area, holes):
    made = part(body)
    assert made.outline.area == pytest.approx(area, rel=1e-12)
    assert len(made.holes) == holes


def test_long_arcs_keep_their_circle():
    made = part("cq.Workplane().moveTo(-6, -8).lineTo(6, -8).threePointArc((0, 10), (-6, -8)).close()")
    radii = made.outline.radii[made.outline.is_arc]
    assert radii == pytest.approx([10.0] * len(radii), abs=1e-9)
    assert made.outline.bounding_box == pytest.approx((-10, -8, 10, 10), abs=1e-9)


@pytest.mark.parametrize(
    ("body", "message"),
    [
        (
            "cq.Workplane().moveTo(0, 0).lineTo(50, 0).lineTo(50, 20)",
            r"part\(\) draws an open line from \(0\.000, 0\.000\) to \(50\.000, 20\.000\) mm; .*\.close\(\)",
        ),
        (
            "cq.Workplane().moveTo(0, 0).lineTo(50, 0).spline([(40, 30), (10, 25)]).close()",
            r"part\(\) draws a curve \(bspline\) near .* expected lines and .* draw it with threePointArc",
        ),
        ("cq.Workplane().ellipse(30, 10)", r"part\(\) draws a curve \(ellipse\) near .*threePointArc"),
        (
            "cq.Sketch().rect(30, 20).reset().push([(100, 0)]).rect(20, 20)",
            r"part\(\) draws 2 separate pieces; expected one",
        ),
        (
            "cq.Sketch().rect(100, 20).circle(15, mode='s')",
            r"draws 2 separate pieces; expected one \(a hole wider than the piece cuts it in two\)",
        ),
        (
            "cq.Workplane().rect(100, 20).circle(15)",
            r"a hole round \(0\.00, 0\.00\) mm that runs to the edge",
        ),
        ("cq.Workplane().rect(100, 20).moveTo(200, 0).circle(5)", "that is outside the outline"),
        ("cq.Workplane().rect(100, 20).pushPoints([(0, 0), (4, 0)]).circle(4)", "that runs into another"),
        ("cq.Workplane().rect(100, 30).circle(8).circle(4)", "that runs into another"),
        ("cq.Workplane().rect(2, 2)", r"a piece of 2\.00 × 2\.00 mm; allowed are 5 to 6000 mm each way"),
        (
            "cq.Workplane().rect(60, 30).extrude(3)",
            "returns a Solid; expected a flat .* leave out the extrude",
        ),
        ("cq.Workplane('XZ').rect(60, 30)", "draws in another plane; expected the XY plane at z = 0"),
        ("cq.Workplane()", "draws nothing; expected a closed line"),
        ("None", r"part\(\) returns nothing; expected a cadquery Workplane"),
        ("[1, 2]", "returns a list; expected a flat cadquery Workplane, Sketch or Wire"),
        (
            "cq.Wire.makePolygon([(0, 0), (40, 30), (40, 0), (0, 30)], close=True)",
            r"draws a line that crosses itself at \(20\.00, 15\.00\) mm",
        ),
    ],
)
def test_a_part_that_cannot_be_cut_is_refused_in_one_line(body, message):
    with pytest.raises(PartError, match=message) as caught:
        part(body)
    assert str(caught.value).startswith("plate.py: part() ")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("source", "message"),
    [
        ("def part(:\n", "plate.py: line 1: not valid Python: invalid syntax"),
        ("def plate():\n    pass\n", "plate.py: defines no function part; expected def part() in it"),
        ("part = 3\n", "plate.py: defines no function part; expected def part() in it"),
        ("\n\nraise ValueError('no\\nleather')\n", "plate.py: line 3: ValueError: no leather"),
        ("def part():\n    return 1 / 0\n", "plate.py: line 2: ZeroDivisionError: division by zero"),
        ("import sys\ndef part():\n    sys.exit(3)\n", "plate.py: line 3: SystemExit: 3"),
        (
            "import cadquery as cq\ndef part():\n    return cq.Workplane().rect(0, 0)\n",
            "plate.py: line 3: ",
        ),
        (
            "import nosuchlibrary\n",
            (
                "plate.py: line 1: imports nosuchlibrary, which is not installed; a sketch is one file and "
                "cannot import another beside it: put what it needs into it"
            ),
        ),
    ],
)
def test_errors_of_the_makers_code_are_told_in_one_line_with_file_and_line(source, message):
    with pytest.raises(PartError) as caught:
        part_from_sketch(source, "plate.py")
    assert str(caught.value).startswith(message)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("width", [28.0, 36.0, 52.0])
def test_a_tip_is_taken_as_it_was_drawn_open_or_closed(width):
    opened = tip_from_sketch(TIP, "tip.py", width)
    assert opened.reach == pytest.approx(40)
    assert opened.vertices()[0][:2] == pytest.approx((-40, -width / 2))
    assert opened.vertices()[-1] == pytest.approx((-40, width / 2, 0))
    closed = tip_from_sketch(
        TIP.replace(".lineTo(-40, half))", ".lineTo(-40, half).close())"), "tip.py", width
    )
    backwards = tip("cq.Workplane().moveTo(-30, h).lineTo(0, 0).lineTo(-30, -h)", width)
    assert closed.vertices() == [pytest.approx(vertex) for vertex in opened.vertices()]
    assert [vertex[:2] for vertex in backwards.vertices()] == [(-30, -width / 2), (0, 0), (-30, width / 2)]


@pytest.mark.parametrize(
    ("body", "message"),
    [
        (
            "cq.Workplane().moveTo(-30, -10).lineTo(0, 0).lineTo(-30, 10)",
            r"runs from \(-30\.000, -10\.000\) to .* from \(-reach, -18\) to \(-reach, 18\) for this 36",
        ),
        (
            "cq.Workplane().moveTo(-30, -h).lineTo(5, 0).lineTo(-30, h)",
            r"foremost point of sketch\(\) is at x = 5\.000 mm; expected x = 0",
        ),
        (
            "cq.Workplane().moveTo(-30, -h).lineTo(-10, -25).lineTo(0, 0).lineTo(-30, h)",
            "expected nothing behind x = -30",
        ),
        (
            "cq.Workplane().moveTo(-30, -h).lineTo(0, 0).lineTo(-30, h).close().moveTo(-15, 0).circle(2)",
            "draws 2",
        ),
        ("cq.Workplane().circle(10)", "a closed shape without a straight rear edge across the strap"),
    ],
)
def test_a_tip_that_does_not_fit_its_strap_is_refused(body, message):
    with pytest.raises(PartError, match=message):
        tip(body)


def test_a_job_with_sketches_drafts_nests_and_is_cut_and_what_they_print_keeps_json_pure(job, monkeypatch):
    noisy = PLATE.replace("def part():\n", "def part():\n    print('drawing', 3)\n")
    (job.parent / "plate.py").write_text(noisy)
    with monkeypatch.context() as patch:
        here = sketch_process._ask
        patch.setattr(sketch_process, "_ask", lambda *asked: (ASK if "plate.py" in asked else here)(*asked))
        result = CliRunner().invoke(command, ["draft", str(job), "--json"])
    assert result.exit_code == 0, result.output
    assert json.loads(result.stdout)["straps"][0]["strap_width_mm"] == 40.0
    assert "drawing 3" in result.stderr
    assert "running plate.py with CadQuery" in result.stderr
    read = read_job(job)
    drafted = draft(read)
    belt = drafted.belts[0]
    assert belt.tip_shape == "sketch"
    assert self_crossing(belt.strap.outline) is None
    ids = [part.id for part in drafted.parts]
    assert ids == ["own/strap", "own/lining", "own/keeper", "plate/strap-1", "plate/strap-2"]
    plates = [one for one in drafted.parts if one.belt_id == "plate"]
    assert {one.outline.area for one in plates} == {part_from_sketch(noisy, "plate.py").outline.area}
    flat = read.model_copy(update={"belts": tuple(b.model_copy(update={"lining": None}) for b in read.belts)})
    corners = 'points = [[0, 0], [1600, 0], [1600, 500], [0, 500]]\nthickness = "3.4 mm"\n'
    hide = job.with_name("hide.toml")
    hide.write_text(f'[hide]\nname = "offcut"\nstrap_direction = "0 deg"\n{corners}')
    made = api.cut(flat, api.read_hides([hide]), api.read_machine("wide-laser"), formats=("dxf",), steps=1)
    assert made.layout.unplaced == ()
    assert made.files is not None


def test_a_bad_sketch_is_one_line_from_the_command_line(job):
    (job.parent / "plate.py").write_text("def part(:\n")
    result = CliRunner().invoke(command, ["draft", str(job)])
    assert result.exit_code == 1
    assert 'strap "plate": plate.py: line 1: not valid Python' in result.stderr
    assert "Traceback" not in result.output


@pytest.mark.parametrize(
    ("error", "message"),
    [
        (
            ModuleNotFoundError("No module named 'cadquery'", name="cadquery"),
            r'a sketch needs CadQuery, which is not here \(cadquery\): pip install "strapwright\[solid\]"',
        ),
        (
            ImportError("libGL.so.1: cannot open\nshared object file"),
            r"CadQuery cannot be loaded: libGL\.so\.1: cannot open shared .*apt install libgl1",
        ),
    ],
)
def test_a_modeller_that_does_not_load_is_told_in_one_line(monkeypatch, error, message):
    def broken(name, *rest):
        raise error

    monkeypatch.setattr(importlib, "import_module", broken)
    with pytest.raises(PartError, match=message) as caught:
        load_modeller("a sketch")
    assert "\n" not in str(caught.value)


def test_a_drawing_too_fine_to_be_one_is_refused():
    with pytest.raises(PartError, match="draws 5001 edges; allowed are 5000"):
        part("cq.Workplane().polyline([(k, k % 2) for k in range(5002)])")  # closing so many takes seconds
