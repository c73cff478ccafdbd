"""The proof: passes what was written, and fails on anything else."""

from __future__ import annotations

import re
import time

import pytest
from tests.write.plans import batch_plan, driven_laser, driven_plan

from strapwright.core.errors import PlanError, ProofError
from strapwright.core.tolerances import READ_BACK
from strapwright.write.formats.format import FORMATS
from strapwright.write.proof.read_back import prove


def written(name, made=None):
    made = made or driven_plan()
    return FORMATS[name].to_text(made.sheets[0], made), made


def proven(text, name, made):
    return prove(text, name, made.sheets[0], made)


@pytest.mark.parametrize("name", FORMATS)
def test_what_was_written_is_proven(name):
    text, made = written(name)
    proof = proven(text, name, made)
    assert proof.format == name
    assert proof.paths_read == 33
    assert proof.blade_deviation_mm is None
    assert 0 <= proof.greatest_deviation_mm < {"gcode": 1e-4, "hpgl": 0.018}.get(name, 1e-6)


def shift_in_svg(text: str, by: float) -> str:
    """Move one corner of the first score line."""
    return re.sub(r'd="M120,', f'd="M{120 + by:.7f},', text, count=1)


def shift_in_dxf(text: str, by: float) -> str:
    """Move one vertex of the first polyline."""
    head, tail = text.split("LWPOLYLINE", 1)
    tail = re.sub(r"(\n 10\n)([-\d.]+)", lambda m: f"{m[1]}{float(m[2]) + by!r}", tail, count=1)
    return head + "LWPOLYLINE" + tail


def shift_in_dxf_r12(text: str, by: float) -> str:
    """Move the first vertex."""
    return re.sub(
        r"(VERTEX\n  8\nSCORE\n 10\n)([-\d.]+)", lambda m: f"{m[1]}{float(m[2]) + by!r}", text, count=1
    )


def shift_in_gcode(text: str, by: float) -> str:
    """Move the end of the first line cut."""
    return re.sub(r"G1 X([-\d.]+)", lambda m: f"G1 X{float(m[1]) + by:.4f}", text, count=1)


SHIFT = {"dxf": shift_in_dxf, "dxf_r12": shift_in_dxf_r12, "svg": shift_in_svg, "gcode": shift_in_gcode}
"""HP-GL counts in steps of 0.025 mm; its own tests move those."""


def test_the_shifts_are_known_for_every_format_as_fine():
    assert set(SHIFT) == {name for name, form in FORMATS.items() if form.tolerance == READ_BACK}


@pytest.mark.parametrize("name", SHIFT)
@pytest.mark.parametrize("by", [0.0011, -0.002, 0.5, 40.0])
def test_a_moved_vertex_fails(name, by):
    text, made = written(name)
    moved = SHIFT[name](text, by)
    assert moved != text
    with pytest.raises(ProofError) as caught:
        proven(moved, name, made)
    assert re.fullmatch(
        rf"{name} does not read back as planned: (score, )?fold line of ada/strap is [\d.]+ mm off, "
        r"more than 0\.001 mm; do not cut from this file, write it again",
        str(caught.value),
    )


@pytest.mark.parametrize("name", SHIFT)
def test_a_vertex_moved_within_the_tolerance_passes_and_is_told(name):
    text, made = written(name)
    proof = proven(SHIFT[name](text, 0.0005), name, made)
    assert 0.0004 < proof.greatest_deviation_mm <= READ_BACK


def drop_in_svg(text: str) -> str:
    return re.sub(r"<path [^>]*/>\n", "", text, count=1)


def drop_in_dxf(text: str) -> str:
    return re.sub(
        r"  0\nLWPOLYLINE\n.*?(?=  0\n(?:LWPOLYLINE|CIRCLE|ENDSEC)\n)", "", text, count=1, flags=re.S
    )


def drop_in_dxf_r12(text: str) -> str:
    return re.sub(r"  0\nPOLYLINE\n.*?SEQEND\n  8\nSCORE\n", "", text, count=1, flags=re.S)


def drop_in_gcode(text: str) -> str:
    return re.sub(r"M3 .*?M5\n", "", text, count=1, flags=re.S)


def drop_in_hpgl(text: str) -> str:
    return re.sub(r"PD;.*?PU;\n", "", text, count=1, flags=re.S)


DROP = {
    "dxf": drop_in_dxf,
    "dxf_r12": drop_in_dxf_r12,
    "svg": drop_in_svg,
    "gcode": drop_in_gcode,
    "hpgl": drop_in_hpgl,
}
LAYER = {"dxf_r12": "SCORE", "gcode": "F5400.00 S600.00", "hpgl": "pen 2"}


@pytest.mark.parametrize("name", FORMATS)
def test_a_dropped_path_fails(name):
    text, made = written(name)
    with pytest.raises(ProofError) as caught:
        proven(DROP[name](text), name, made)
    assert str(caught.value) == (
        f'{name} does not read back as planned: layer "{LAYER.get(name, "score")}" has 5 of 6 paths; '
        "do not cut from this file, write it again"
    )


def test_a_path_twice_fails():
    text, made = written("svg")
    path = re.search(r"<path [^>]*/>\n", text)[0]
    with pytest.raises(ProofError, match=r'layer "score" has 7 of 6 paths'):
        proven(text.replace(path, path * 2, 1), "svg", made)


def test_a_path_drawn_twice_in_place_of_another_fails():
    text, made = written("svg")
    one, two = re.findall(r"<path [^>]*/>\n", text)[:2]
    with pytest.raises(ProofError, match=r"is [\d.]+ mm off"):
        proven(text.replace(two, one, 1), "svg", made)


def test_a_path_on_another_layer_fails():
    text, made = written("dxf")
    head, tail = text.split("LWPOLYLINE", 1)
    moved = head + "LWPOLYLINE" + tail.replace("\n  8\nscore\n", "\n  8\ncut\n", 1)
    with pytest.raises(ProofError, match=r'layer "score" has 5 of 6 paths'):
        proven(moved, "dxf", made)


def test_a_layer_the_plan_does_not_know_fails():
    text, made = written("svg")
    extra = '<g id="x"><title>notes</title><path d="M0,0L5,0"/></g></svg>'
    with pytest.raises(ProofError, match=r'layer "notes" has 1 of 0 paths'):
        proven(text.replace("</svg>", extra), "svg", made)


def test_a_closed_path_left_open_fails():
    text, made = written("dxf")
    head, entities = text.split("\nENTITIES\n", 1)
    with pytest.raises(ProofError, match=r"prong slot of ada/strap (is open|lies .* mm off)"):
        proven(head + "\nENTITIES\n" + entities.replace("\n 70\n1\n", "\n 70\n0\n", 1), "dxf", made)


def test_a_path_that_comes_home_but_is_not_closed_fails():
    # Its last arc ends where it began: only the missing Z tells it from a closed one.
    text, made = written("svg")
    with pytest.raises(ProofError) as caught:
        proven(text.replace('Z"/>', '"/>', 1), "svg", made)
    assert str(caught.value) == (
        "svg does not read back as planned: prong slot of ada/strap is open; do not cut from this file, "
        "write it again"
    )


@pytest.mark.parametrize(
    ("data", "apart"),
    [
        ("M120,557L120,540", 17),  # stops short: all of it lies on the plan
        ("M120,557L120,540L124,540L120,539.5L120,523", 4),  # goes aside: all of the plan lies on it
    ],
)
def test_a_path_with_less_or_more_than_the_plan_fails(data, apart):
    text, made = written("svg")
    assert "M120,557L120,523" in text
    with pytest.raises(ProofError, match=rf"fold line of ada/strap is {apart} mm off"):
        proven(text.replace("M120,557L120,523", data), "svg", made)


def test_a_bulge_turned_the_other_way_fails():
    text, made = written("dxf")
    head, entities = text.split("\nENTITIES\n", 1)
    turned = re.sub(r"\n 42\n([\d.]+)\n", r"\n 42\n-\1\n", entities, count=1)
    with pytest.raises(ProofError, match=r"is [\d.]+ mm off"):
        proven(head + "\nENTITIES\n" + turned, "dxf", made)


def test_another_unit_fails():
    text, made = written("dxf")
    with pytest.raises(ProofError, match="not in millimetres"):
        proven(text.replace("$INSUNITS\n 70\n4", "$INSUNITS\n 70\n1"), "dxf", made)
    text, made = written("svg")
    with pytest.raises(ProofError, match="says no size"):
        proven(text.replace('width="1000mm"', 'width="1000px"'), "svg", made)


def test_paths_in_another_order_are_still_found():
    text, made = written("svg")
    lines = re.findall(r"<path [^>]*/>\n", text)
    swapped = text.replace(lines[0], "@").replace(lines[1], lines[0]).replace("@", lines[1])
    assert swapped != text
    assert proven(swapped, "svg", made).greatest_deviation_mm < 1e-6


def test_a_format_nobody_writes_is_refused_with_the_list():
    with pytest.raises(PlanError) as caught:
        proven("", "pict", driven_plan())
    assert str(caught.value) == 'format "pict" is not known; expected one of dxf, dxf_r12, svg, gcode, hpgl'


@pytest.mark.parametrize("name", FORMATS)
def test_a_batch_of_eight_belts_is_proven_quickly(name):
    text, made = written(name, batch_plan(8, driven_laser(bed=[1500, 800])))
    proven(text, name, made)  # imports what it needs
    start = time.process_time()
    proof = proven(text, name, made)
    # Measured at well under a tenth of this; the bound only catches a change in kind.
    assert time.process_time() - start < 1.0
    assert proof.greatest_deviation_mm < (0.018 if name == "hpgl" else 1e-4)
