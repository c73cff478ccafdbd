"""Machine profiles: read, refused with every mistake told, shipped."""

from __future__ import annotations

import json
import math
import re
import tomllib
from datetime import date
from pathlib import Path
from typing import get_args

import pytest
from pydantic import ValidationError

from strapwright.api import schemas
from strapwright.core.errors import FileProblems
from strapwright.machine.profile.machine import (
    machine_from,
    profile_text,
    read_machine,
    shipped_profiles,
)
from strapwright.machine.profile.machine_keys import FormatName, Limits, MachineTable
from strapwright.machine.profile.tool_keys import Serial
from strapwright.parts.part import Operation
from strapwright.write.formats.format import FORMATS

LASER = '[machine]\nname = "m"\nkind = "laser"\nbed = [600, 400]\n'
KNIFE = LASER.replace("laser", "drag_knife")
BLADE = "[blade]\noffset = 0.6\nmax_thickness = 4\n"
ROW = '[[kerf]]\nmaterial = "vegetable"\nthickness = "3 mm"\nwidth = 0.2\nmeasured = 2026-01-09\n'

MALFORMED = {
    "nothing in it": ("", ["machine: missing, expected a table"]),
    "a number for a table": ("machine = 3", ["machine: found 3, expected a table"]),
    "three mistakes in one table": (
        '[machine]\nname = ""\nkind = "plasma"\nbed = [600]\n',
        [
            'machine.name: found "", expected 1 or more characters',
            'machine.kind: found "plasma", expected "laser" or "drag_knife"',
            'machine.bed[2]: missing, expected a length such as "44 mm" or "1 3/4 in"',
        ],
    ),
    "a bed below nothing": (
        LASER.replace("600", "-600"),
        ["machine.bed[1]: found -600 (a bare number is millimetres), expected 50 mm to 50000 mm"],
    ),
    "a bed in metres": (
        LASER.replace("600", "2.6"),
        ["machine.bed[1]: found 2.6 (a bare number is millimetres), expected 50 mm to 50000 mm"],
    ),
    "a bed in words": (
        LASER.replace("600", '"wide"'),
        ['machine.bed[1]: found "wide", expected a length such as "44 mm" or "1 3/4 in"'],
    ),
    "a bed with three sides": (
        LASER.replace("400", "400, 20"),
        ["machine.bed: found 3, expected 2 or fewer entries"],
    ),
    "a name of two lines": (
        LASER.replace('"m"', '"m\\nn"'),
        ['machine.name: found "m\\nn", expected one line, no space before or after it'],
    ),
    "a format nobody writes": (
        LASER + 'formats = ["dxf", "pict"]',
        ['machine.formats[2]: found "pict", expected "dxf", "dxf_r12", "svg", "gcode" or "hpgl"'],
    ),
    "no format": (LASER + "formats = []", ["machine.formats: found 0, expected 1 or more entries"]),
    "a format twice": (
        LASER + 'formats = ["dxf", "dxf"]',
        ["machine.formats: expected each format once"],
    ),
    "text for a truth value": (
        LASER + 'pass_through = "yes"',
        ['machine.pass_through: found "yes", expected true or false'],
    ),
    "a key misspelt": (
        LASER + "pass_trough = true",
        ['machine.pass_trough: unknown key; did you mean "pass_through"?'],
    ),
    "a sharp corner": (
        LASER + 'corner = "sharp"\n[limits]\nleast_hole = 0',
        [
            'machine.corner: found "sharp", expected "round" or "miter"',
            "limits.least_hole: found 0 (a bare number is millimetres), expected 0.1 mm to 100 mm",
        ],
    ),
    "a laser with a blade": (LASER + BLADE, ["blade: a laser has no blade; leave [blade] out"]),
    "a drag knife without a blade": (
        KNIFE,
        ["blade: missing; a drag knife needs [blade] with offset and max_thickness"],
    ),
    "a drag knife with a kerf": (
        KNIFE + BLADE + ROW,
        ["kerf: a blade takes no leather away; leave [[kerf]] out for a drag knife"],
    ),
    "a blade gone wrong": (
        KNIFE + '[blade]\nofset = 0.6\nmax_thickness = "4 oz"\nmode = "fast"\nswivel_angle = "25 m"',
        [
            'blade.offset: missing, expected a length such as "44 mm" or "1 3/4 in"',
            'blade.swivel_angle: found "25 m", expected an angle such as "90 deg"; the unit "m" is not deg',
            'blade.mode: found "fast", expected "exact" or "plain"',
            'blade.ofset: unknown key; did you mean "offset"?',
        ],
    ),
    "a kerf row gone wrong": (
        LASER + '[[kerf]]\nmaterial = "veg"\nthickness = "9 oz"\nwidth = 22\nmeasured = "yesterday"',
        [
            (
                'kerf[1].material: found "veg", expected "vegetable", "chrome", "combination", '
                '"synthetic" or "unknown"'
            ),
            "kerf[1].width: found 22 (a bare number is millimetres), expected 0.01 mm to 2 mm",
            'kerf[1].measured: found "yesterday", expected a date such as 2026-03-14',
        ],
    ),
    "an operation gone wrong": (
        LASER + '[operation.cut]\nlayer = "cut/all"\ncolor = "green"\nspeed_mm_s = 0\npower_percent = 120\n'
        "passes = 0",
        [
            'operation.cut.layer: found "cut/all", expected a name without /',
            'operation.cut.color: found "green", expected text such as "#009E73"',
            "operation.cut.speed_mm_s: found 0, expected 0.1 or more",
            "operation.cut.power_percent: found 120, expected 100 or less",
            "operation.cut.passes: found 0, expected 1 or more",
        ],
    ),
    "numbers in quotes": (
        LASER + '[operation.cut]\nlayer = "c"\ncolor = "#000000"\nspeed_mm_s = "12"\npasses = "2"',
        [
            'operation.cut.speed_mm_s: found "12", expected a number',
            'operation.cut.passes: found "2", expected a whole number',
        ],
    ),
    "a layer that is another's default": (
        LASER + '[operation.cut]\nlayer = "Score"\ncolor = "#009E73"',
        [
            (
                'operation.score: layer "score" is too like layer "Score" of operation.cut; '
                "expected a name of its own"
            )
        ],
    ),
    "a layer like a punch's": (
        LASER + '[operation.score]\nlayer = "punch 4 mm"\ncolor = "#E69F00"',
        [
            (
                'operation.punch: layer "punch" is too like layer "punch 4 mm" of operation.score; '
                "expected a name of its own"
            )
        ],
    ),
    "DXF's own layer": (
        LASER + '[operation.score]\nlayer = "0"\ncolor = "#E69F00"',
        ['operation.score.layer: found "0", a layer of DXF\'s own; expected another name'],
    ),
    "a kerf as wide as the least hole": (
        LASER + "[limits]\nleast_hole = 0.2\n" + ROW,
        [
            (
                "kerf: row 1 is 0.2 mm wide and limits.least_hole is 0.2 mm: a hole no wider than the cut "
                "cannot be made; expected a narrower kerf or a larger least_hole"
            )
        ],
    ),
    "a negative offset": (
        KNIFE + BLADE.replace("0.6", '"-0.6 mm"'),
        ['blade.offset: found "-0.6 mm", expected 0 mm to 10 mm'],
    ),
    "a blade that turns deeper than it scores": (
        KNIFE + BLADE + "score_depth = 0.6\nswivel_depth = 3",
        ["blade.swivel_depth: found 3 mm, more than score_depth, 0.6 mm; expected no more"],
    ),
    "a cut deeper than the thickest leather and the bed": (
        KNIFE + BLADE + "cut_depth = 12",
        [
            (
                "blade.cut_depth: found 12 mm, more than max_thickness and bed_takes together, 5 mm; "
                "expected no more"
            )
        ],
    ),
    "a blade that goes deeper into the bed than that takes": (
        KNIFE + BLADE + "bed_takes = 0.2",
        ["blade.into_bed: found 0.3 mm, more than bed_takes, 0.2 mm; expected no more"],
    ),
    "figures no machine has": (
        LASER.replace("drag_knife", "laser")
        + 'rapid_mm_s = 1e9\n[operation.cut]\nlayer = "c"\ncolor = "#000000"\nspeed_mm_s = 1e9\n'
        + ROW.replace("2026", "2999"),
        [
            "machine.rapid_mm_s: found 1000000000.0, expected 5000 or less",
            f"kerf[1].measured: found 2999-01-09, expected a day from 1990-01-01 to today, {date.today()}",
            "operation.cut.speed_mm_s: found 1000000000.0, expected 3000 or less",
        ],
    ),
    "a lead-in of metres and passes of a micrometre": (
        KNIFE + BLADE + 'lead_in = "400 cm"\ndepth_per_pass = 0.001',
        [
            'blade.lead_in: found "400 cm" (4000 mm), expected 0 mm to 30 mm',
            "blade.depth_per_pass: found 0.001 (a bare number is millimetres), expected 0.2 mm to 30 mm",
        ],
    ),
    "pens that collide": (
        LASER + '[operation.cut]\nlayer = "c"\ncolor = "#000000"\npen = 2',
        [
            (
                "operation.score: pen 2 is operation.cut's already, and a plotter would cut what it should "
                "mark; expected a pen of its own, 1 to 8"
            )
        ],
    ),
    "pins without a pitch": (
        LASER + 'registration = "bed_pins"',
        ['machine.pin_pitch: missing; registration = "bed_pins" needs the pins\' pitch'],
    ),
    "a blade with power": (
        KNIFE + "max_power = 1000\n" + BLADE,
        ["machine.max_power: a blade has no power; leave it out for a drag knife"],
    ),
    "a scale of nothing": (
        LASER + "[[scale]]\nmeasured = 2026-01-09\n[[scale]]\nx = 1.2\nmeasured = 2026-01-09",
        ["scale[1]: expected x, y or both", "scale[2].x: found 1.2, expected 1.05 or less"],
    ),
    "words that stop and go alike": (
        LASER + '[serial]\nbaud = 115200\nhold = "h"\nresume = "h"\nreset = "h"\n'
        'acknowledgement = "ok"\nerror = "ok no"\nalarm = "o"',
        [
            (
                'serial.error: found "ok no", which is too like acknowledgement, "ok"; '
                "expected words of which none begins with another"
            ),
            (
                'serial.alarm: found "o", which is too like acknowledgement, "ok"; '
                "expected words of which none begins with another"
            ),
            'serial.resume: found "h", the same as hold; expected a word of its own',
            'serial.reset: found "h", the same as hold; expected a word of its own',
        ],
    ),
    "words of a line that need another": (
        LASER + '[serial]\nbaud = 9600\nresume = "r"\nbuffer = 128\nstartup_s = 500',
        [
            "serial.startup_s: found 500, expected 120 or less",
            "serial.buffer: found 128 without acknowledgement; expected both or neither",
            'serial.resume: found "r" without hold; expected both or neither',
        ],
    ),
    "an operation nobody knows": (
        LASER + '[operation.engrave]\nlayer = "x"',
        ["operation.engrave: unknown key; expected one of cut, score, punch"],
    ),
}


@pytest.mark.parametrize("case", MALFORMED)
def test_every_mistake_of_a_profile_is_told_in_one_line(case, tmp_path):
    text, expected = MALFORMED[case]
    path = tmp_path / "my machine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileProblems) as caught:
        read_machine(str(path))
    assert list(caught.value.problems) == [f"{path}: {line}" for line in expected]


def test_the_profile_of_the_guide_is_read(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(
        '[machine]\nname = "bench laser"\nkind = "laser"\nbed = ["600 mm", "40 cm"]\n'
        'pass_through = true\nformats = ["dxf", "svg"]\n'
        '[[kerf]]\nmaterial = "vegetable"\nthickness = "9 oz"\nwidth = "0.22 mm"\nmeasured = 2026-03-14\n'
        '[operation.cut]\nlayer = "cut"\ncolor = "#009E73"\nspeed_mm_s = 12\n'
        "power_percent = 80\npasses = 2\n",
        encoding="utf-8",
    )
    machine = read_machine(str(path))
    assert machine.bed == (600.0, 400.0)
    assert machine.pass_through
    assert machine.kerf[0].thickness == 9 * 25.4 / 64
    assert machine.settings(Operation.CUT).passes == 2
    assert machine.settings(Operation.SCORE).layer == "score"


def test_a_blade_has_its_angle_in_radians_and_its_defaults():
    blade = machine_from(tomllib.loads(KNIFE + BLADE), "k.toml").blade
    assert blade is not None
    assert blade.swivel_angle == pytest.approx(math.radians(3))
    assert blade.least_radius == 1.5


def test_layer_names_beyond_ascii_are_taken():
    data = tomllib.loads(LASER + '[operation.cut]\nlayer = "Schnitt außen"\ncolor = "#009E73"')
    assert machine_from(data, "m.toml").settings(Operation.CUT).layer == "Schnitt außen"


def test_a_machine_cannot_be_changed():
    machine = read_machine("wide-laser")
    with pytest.raises(ValidationError, match="frozen"):
        machine.name = "other"
    with pytest.raises(ValidationError, match="frozen"):
        machine.limits = Limits(max_thickness=3.0)


@pytest.mark.parametrize(
    ("name", "message"),
    [
        (
            "wide_laser",
            (
                'machine "wide_laser": no such profile; did you mean "wide-laser"? expected one of '
                "closed-laser, drag-knife, knife-plotter, small-laser, wide-laser, or the path of a .toml "
                "file"
            ),
        ),
        (
            "mill",
            (
                'machine "mill": no such profile; expected one of closed-laser, drag-knife, knife-plotter, '
                "small-laser, wide-laser, or the path of a .toml file"
            ),
        ),
        ("nowhere/none.toml", "nowhere/none.toml: no such file"),
    ],
)
def test_an_unknown_machine_is_refused_with_what_there_is(name, message):
    with pytest.raises(FileProblems) as caught:
        read_machine(name)
    assert caught.value.problems == (message,)


@pytest.mark.parametrize("name", shipped_profiles())
def test_a_shipped_profile_says_its_figures_are_invented_and_reads(name):
    machine = read_machine(name)
    assert machine.name == name.replace("-", " ")
    text = profile_text(name)
    assert text == (Path(__file__).parents[3] / "profiles" / f"{name}.toml").read_text(encoding="utf-8")
    assert "invented. Replace them with your own" in text
    comments = [line for line in text.splitlines() if "#" in line]
    assert len(comments) >= 20


def test_the_shipped_profiles_are_what_the_examples_need():
    wide, small, knife = (read_machine(n) for n in ("wide-laser", "small-laser", "drag-knife"))
    assert wide.bed == (2600.0, 1300.0)
    assert small.bed == (600.0, 400.0)
    assert small.pass_through
    assert knife.kind == "drag_knife"
    assert knife.blade is not None
    assert knife.blade.max_thickness == 4.0
    assert [row.thickness for row in wide.kerf][:: len(wide.kerf) - 1] == [2.0, 4.4]


def test_a_profile_may_name_just_the_formats_that_are_written():
    assert set(get_args(FormatName)) == set(FORMATS)


def test_the_schema_lists_every_key_and_is_plain_json():
    schema = json.loads(json.dumps(schemas.schema("machine")))
    tables = {
        "machine",
        "limits",
        "kerf",
        "scale",
        "blade",
        "laser",
        "bridges",
        "gcode",
        "serial",
        "operation",
    }
    assert set(schema["properties"]) == tables
    table = schema["$defs"]["MachineTable"]
    assert set(table["properties"]) == set(MachineTable.model_fields)
    assert all(key.get("description") for key in table["properties"].values())
    assert table["additionalProperties"] is False
    assert table["required"] == ["name", "kind", "bed"]


def figures(schema: object, at: str = ""):
    """Every number of a schema: where it stands, and its limits."""
    if isinstance(schema, list):
        for entry in schema:
            yield from figures(entry, at)
    if isinstance(schema, dict):
        if schema.get("type") in ("number", "integer") and "const" not in schema:
            low = schema.get("minimum", schema.get("exclusiveMinimum"))
            yield at, low, schema.get("maximum")
        for key, entry in schema.items():
            yield from figures(entry, f"{at}.{key}" if key not in ("anyOf", "properties", "$defs") else at)


def test_every_figure_of_a_profile_has_a_lower_and_an_upper_limit():
    found = list(figures(schemas.schema("machine")))
    assert len(found) > 35
    assert [at for at, low, high in found if low is None or high is None] == []


LIMITED = {
    ("machine", key): limits
    for key, limits in {
        "rapid_mm_s": (1, 5000),
        "acceleration_mm_s2": (1, 100_000),
        "max_power": (1, 100_000),
        "pin_pitch": (5, 5000),
        "window_overlap": (0, 5000),
        "window_margin": (0, 1000),
    }.items()
} | {
    ("blade", key): limits
    for key, limits in {
        "offset": (0, 10),
        "max_thickness": (0.3, 25),
        "least_radius": (0, 50),
        "lead_in": (0, 30),
        "overcut": (0, 30),
        "bed_takes": (0, 30),
        "into_bed": (0, 30),
        "cut_depth": (0.05, 30),
        "score_depth": (0.05, 3),
        "swivel_depth": (0.05, 3),
        "depth_per_pass": (0.2, 30),
        "safe_height": (0.5, 200),
        "plunge_mm_s": (0.1, 500),
    }.items()
}


@pytest.mark.parametrize(("table", "key"), LIMITED)
def test_a_figure_past_its_limit_is_refused_with_the_limit(table, key):
    for limit, past in zip(LIMITED[table, key], (-1e-3, 1e-3), strict=True):
        kind = "laser" if key == "max_power" else "drag_knife"
        data = {"machine": {"name": "m", "kind": kind, "bed": [600, 400]}}
        data |= {"blade": {"offset": 0.6, "max_thickness": 4}} if kind == "drag_knife" else {}
        data[table] = data[table] | {key: limit * (1 + past) + past}
        with pytest.raises(FileProblems) as caught:
            machine_from(data, "m.toml")
        (problem,) = caught.value.problems
        assert problem.startswith(f"m.toml: {table}.{key}: found ")
        assert re.search(rf"expected .*\b{limit}\b", problem.replace("1e+05", "100000"))


def test_a_copied_profile_reads_as_the_shipped_one(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(profile_text("wide-laser"), encoding="utf-8")
    assert read_machine(str(path)).model_copy(update={"source": "wide-laser"}) == read_machine("wide-laser")
    assert profile_text(str(path)) == profile_text("wide-laser")


def test_the_text_of_an_unknown_profile_is_refused():
    with pytest.raises(FileProblems, match="no such profile"):
        profile_text("plotter")


def test_a_profile_has_no_version():
    with pytest.raises(FileProblems, match=r"m\.toml: version: unknown key"):
        machine_from(tomllib.loads("version = 2\n" + LASER), "m.toml")


@pytest.mark.parametrize(
    ("keys", "point", "mirrored"),
    [
        ({}, (10, 20), False),
        ({"origin": "front_right"}, (590, 20), True),
        ({"origin": "back_left"}, (10, 380), True),
        ({"origin": "back_right"}, (590, 380), False),
        ({"origin": "back_left", "y_axis": "back"}, (10, -380), False),
        ({"origin": "front_left", "x_axis": "left"}, (-10, 20), True),
    ],
)
def test_the_machines_own_axes_run_from_its_origin_into_the_bed_unless_told(keys, point, mirrored):
    table = {"name": "m", "kind": "laser", "bed": [600, 400]} | keys
    axes = machine_from({"machine": table}, "m.toml").axes
    assert axes.of(10, 20) == point
    assert axes.mirrored is mirrored


def test_an_operation_without_a_pen_has_one_of_its_own():
    data = tomllib.loads(LASER + '[operation.punch]\nlayer = "p"\ncolor = "#000000"\npen = 5')
    machine = machine_from(data, "m.toml")
    assert [
        machine.settings(operation).pen for operation in (Operation.CUT, Operation.SCORE, Operation.PUNCH)
    ] == [
        1,
        2,
        5,
    ]


def test_the_thickest_leather_is_the_least_of_blade_and_limits():
    assert machine_from(tomllib.loads(KNIFE + BLADE), "k.toml").max_thickness == 4.0
    assert (
        machine_from(tomllib.loads(KNIFE + BLADE + "[limits]\nmax_thickness = 3"), "k").max_thickness == 3.0
    )
    assert machine_from(tomllib.loads(LASER + '[limits]\nmax_thickness = "5 mm"'), "m").max_thickness == 5.0
    assert machine_from(tomllib.loads(LASER), "m.toml").max_thickness is None


def test_there_is_a_shipped_profile_of_each_kind_a_workshop_has():
    closed, plotter = read_machine("closed-laser"), read_machine("knife-plotter")
    assert closed.kind == "laser"
    assert not closed.pass_through
    assert max(closed.bed) <= 500
    assert plotter.kind == "drag_knife"
    assert plotter.pass_through
    assert plotter.settings(Operation.CUT).velocity == 12.0


def test_no_word_of_a_serial_line_is_taken_for_granted():
    """One firmware's words are another's text: a profile says them, and the shipped one has none."""
    keys = set(Serial.model_fields) - {"baud", "startup_s"}
    for serial in (Serial(baud=9600), read_machine("small-laser").serial):
        assert serial is not None
        assert {key: getattr(serial, key) for key in keys} == dict.fromkeys(keys)
