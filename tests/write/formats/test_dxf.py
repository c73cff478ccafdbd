"""DXF as it is written: R2010, millimetres, layers, bulges, circles; the same bytes every time."""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import sys
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from tests.machine.layouts import DAY, layout, strap
from tests.write.plans import driven_plan, small_plan

from strapwright.machine.planning import plan
from strapwright.machine.profile.machine import machine_from
from strapwright.write.formats.dxf import Dxf, DxfR12, escaped


def written(made):
    return Dxf().to_text(made.sheets[0], made)


def parsed(made):
    return ezdxf.read(io.StringIO(written(made)))


def test_another_reader_finds_no_fault():
    document = parsed(small_plan())
    auditor = document.audit()
    assert auditor.errors == []
    assert auditor.fixes == []


def test_it_is_r2010_in_millimetres():
    document = parsed(small_plan())
    assert document.dxfversion == "AC1024"
    assert document.header["$INSUNITS"] == 4
    assert document.header["$MEASUREMENT"] == 1
    assert tuple(document.header["$EXTMAX"]) == (1000, 600, 0)


def test_every_path_is_one_entity_in_cutting_order_and_bulges_are_kept_bit_for_bit():
    made = small_plan()
    entities = list(parsed(made).modelspace())
    assert len(entities) == len(made.sheets[0].paths)
    arcs = 0
    for path, entity in zip(made.sheets[0].paths, entities, strict=True):
        assert entity.dxf.layer == made.machine.settings(path.operation).layer
        circle = path.contour.as_circle()
        if circle is not None:
            assert entity.dxftype() == "CIRCLE"
            assert (entity.dxf.center.x, entity.dxf.center.y, 2 * entity.dxf.radius) == circle
            continue
        assert entity.dxftype() == "LWPOLYLINE"
        assert entity.closed == path.contour.closed
        assert np.array(entity.get_points("xyb")).tolist() == path.contour.vertices.tolist()
        arcs += int(path.contour.is_arc.sum())
    assert arcs == 14


def test_layers_have_the_profiles_names_and_colours_and_an_index_of_their_own():
    colours = {"cut": "#112233", "score": "#445566", "punch": "#778899"}
    machine = machine_from(
        {
            "machine": {"name": "m", "kind": "laser", "bed": [1000, 600]},
            "kerf": [{"material": "vegetable", "thickness": 3.6, "width": 0.2, "measured": DAY}],
            "operation": {
                name: {"layer": f"Lage {name} ä", "color": color} for name, color in colours.items()
            },
        },
        "m.toml",
    )
    document = parsed(plan(layout((strap(), 100, 100, 0)), machine))
    indices = set()
    for name, color in colours.items():
        layer = document.layers.get(f"Lage {name} ä")
        assert "#{:02x}{:02x}{:02x}".format(*layer.rgb) == color
        indices.add(layer.dxf.color)
    assert len(indices) == 3
    assert indices <= {*range(1, 7), *range(8, 256)}  # 7 is white or black, as the paper is


@pytest.mark.parametrize("form", [Dxf(), DxfR12()], ids=["R2010", "R12"])
def test_colours_that_are_alike_still_have_each_an_index_of_its_own(form):
    table = {"name": "m", "kind": "laser", "bed": [1000, 600], "formats": ["dxf", "dxf_r12"]}
    colours = {"cut": "#0000FF", "score": "#0000FE", "punch": "#0101FF"}
    made = driven_plan(
        machine_from(
            {
                "machine": table,
                "kerf": [{"material": "vegetable", "thickness": 3.6, "width": 0.2, "measured": DAY}],
                "operation": {name: {"color": color} for name, color in colours.items()},
            },
            "m.toml",
        )
    )
    layers = ezdxf.read(io.StringIO(form.to_text(made.sheets[0], made))).layers
    assert layers.get("cut").dxf.color == 5  # blue
    assert len({layers.get(name).dxf.color for name in colours}) == 3


@pytest.mark.parametrize("form", [Dxf(), DxfR12()], ids=["R2010", "R12"])
def test_every_line_is_solid_and_every_layer_is_one_of_the_profiles(form):
    """A program that draws dashes would cut them: lettering would lose strokes."""
    made = driven_plan()
    document = ezdxf.read(io.StringIO(form.to_text(made.sheets[0], made)))
    layers = {layer.dxf.name.casefold(): layer for layer in document.layers}
    assert layers.keys() - {"0", "defpoints"} == {"cut", "score", "punch"}
    assert {layer.dxf.linetype.casefold() for layer in layers.values()} == {"continuous"}
    assert {e.dxf.layer.casefold() for e in document.modelspace()} == {"cut", "score", "punch"}
    assert not any(e.dxf.hasattr("linetype") for e in document.modelspace())
    dashed = {line.dxf.name for line in document.linetypes if line.pattern_tags.tags[-1].code == 74}
    assert not dashed


def test_the_same_plan_gives_the_same_bytes_and_leaves_no_option_changed():
    before = ezdxf.options.write_fixed_meta_data_for_testing
    assert written(small_plan()) == written(small_plan())
    assert ezdxf.options.write_fixed_meta_data_for_testing is before


def test_an_error_while_writing_leaves_no_option_changed(monkeypatch):
    made = small_plan()
    monkeypatch.setattr("strapwright.write.formats.dxf._entity", None)
    before = ezdxf.options.write_fixed_meta_data_for_testing
    with pytest.raises(TypeError):
        written(made)
    assert ezdxf.options.write_fixed_meta_data_for_testing is before


def comments(text: str) -> list[str]:
    lines = text.splitlines()
    return [lines[k + 1] for k in range(0, len(lines), 2) if lines[k].strip() == "999"]


def test_the_first_comments_say_job_hide_machine_and_cautions_in_ascii():
    text = written(small_plan("Ines Gürtel – 秋 🐎\nsecond line"))
    told = comments(text)
    assert text.startswith("999\nstrapwright-")
    assert told[1] == r"job: Ines G\U+00FCrtel \U+2013 \U+79CB \U+D83D\U+DC0E second line"
    assert told[2:4] == ["hide: Marrow side", "machine: test laser, bed 1000 x 600 mm"]
    assert told[4] == "kerf: 0.224 mm, allowed for in the paths"
    assert (
        told[5] == "hide sits: as drawn, the hide file's 0, 0 at x 0.00, y 0.00 mm from the front left corner"
    )
    assert told[6].startswith("Never leave a running laser unattended")
    assert text.isascii()


def test_a_name_beyond_ascii_reads_back_in_another_reader():
    document = parsed(small_plan("Gürtel 🐎"))
    assert document.audit().errors == []
    assert len(document.modelspace()) == 33


def test_escapes_are_four_hex_digits_even_below_256():
    assert escaped("é€") == r"\U+00E9\U+20AC"


@pytest.mark.slow
def test_a_file_is_the_same_in_another_process():
    code = "from tests.write.formats.test_dxf import digest\nprint(digest(), end='')"
    others = {
        subprocess.run(
            [sys.executable, "-c", code],
            env=os.environ | {"PYTHONHASHSEED": seed},
            cwd=Path(__file__).parents[3],
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert others == {digest()}  # this process has a seed of its own


def digest() -> str:
    made = small_plan()
    return hashlib.sha256(Dxf().to_text(made.sheets[0], made).encode()).hexdigest()
