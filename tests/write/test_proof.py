"""The proof: passes what was written, and fails on anything else."""

from __future__ import annotations

import re
import time

import pytest
from tests.write.plans import batch_plan, small_plan

from strapwright.errors import PlanError, ProofError
from strapwright.tolerances import READ_BACK
from strapwright.write.format import FORMATS
from strapwright.write.proof import prove


def written(name, made=None):
    made = made or small_plan()
    return FORMATS[name].to_text(made.sheets[0], made), made.sheets[0]


@pytest.mark.parametrize("name", FORMATS)
def test_what_was_written_is_proven(name):
    proof = prove(*reordered(name))
    assert proof.format == name
    assert proof.paths_expected == proof.paths_read == 33
    assert 0 <= proof.greatest_deviation_mm < 1e-6


def reordered(name):
    text, sheet = written(name)
    return text, name, sheet


def shift_in_svg(text: str, by: float) -> str:
    """Move one corner of the first score line."""
    return re.sub(r'd="M120,', f'd="M{120 + by:.7f},', text, count=1)


def shift_in_dxf(text: str, by: float) -> str:
    """Move one vertex of the first polyline."""
    head, tail = text.split("LWPOLYLINE", 1)
    tail = re.sub(r"(\n 10\n)([-\d.]+)", lambda m: f"{m[1]}{float(m[2]) + by!r}", tail, count=1)
    return head + "LWPOLYLINE" + tail


SHIFT = {"dxf": shift_in_dxf, "svg": shift_in_svg}


def test_the_shifts_are_known_for_every_format():
    assert set(SHIFT) == set(FORMATS)


@pytest.mark.parametrize("name", FORMATS)
@pytest.mark.parametrize("by", [0.0011, -0.002, 0.5, 40.0])
def test_a_moved_vertex_fails(name, by):
    text, sheet = written(name)
    moved = SHIFT[name](text, by)
    assert moved != text
    with pytest.raises(ProofError) as caught:
        prove(moved, name, sheet)
    assert re.fullmatch(
        rf"{name} does not read back as planned: fold line of ada/strap lies [\d.]+ mm off, more than "
        r"0\.001 mm; do not cut from this file, write it again",
        str(caught.value),
    )


@pytest.mark.parametrize("name", FORMATS)
def test_a_vertex_moved_within_the_tolerance_passes_and_is_told(name):
    text, sheet = written(name)
    proof = prove(SHIFT[name](text, 0.0005), name, sheet)
    assert 0.0004 < proof.greatest_deviation_mm <= READ_BACK


def drop_in_svg(text: str) -> str:
    return re.sub(r"<path [^>]*/>\n", "", text, count=1)


def drop_in_dxf(text: str) -> str:
    return re.sub(
        r"  0\nLWPOLYLINE\n.*?(?=  0\n(?:LWPOLYLINE|CIRCLE|ENDSEC)\n)", "", text, count=1, flags=re.S
    )


DROP = {"dxf": drop_in_dxf, "svg": drop_in_svg}


@pytest.mark.parametrize("name", FORMATS)
def test_a_dropped_path_fails(name):
    text, sheet = written(name)
    with pytest.raises(ProofError) as caught:
        prove(DROP[name](text), name, sheet)
    assert str(caught.value) == (
        f'{name} does not read back as planned: layer "score" has 5 of 6 paths; '
        "do not cut from this file, write it again"
    )


def test_a_path_twice_fails():
    text, sheet = written("svg")
    path = re.search(r"<path [^>]*/>\n", text)[0]
    with pytest.raises(ProofError, match=r'layer "score" has 7 of 6 paths'):
        prove(text.replace(path, path * 2, 1), "svg", sheet)


def test_a_path_drawn_twice_in_place_of_another_fails():
    text, sheet = written("svg")
    one, two = re.findall(r"<path [^>]*/>\n", text)[:2]
    with pytest.raises(ProofError, match=r"lies [\d.]+ mm off"):
        prove(text.replace(two, one, 1), "svg", sheet)


def test_a_path_on_another_layer_fails():
    text, sheet = written("dxf")
    head, tail = text.split("LWPOLYLINE", 1)
    moved = head + "LWPOLYLINE" + tail.replace("\n  8\nscore\n", "\n  8\ncut\n", 1)
    with pytest.raises(ProofError, match=r'layer "score" has 5 of 6 paths'):
        prove(moved, "dxf", sheet)


def test_a_layer_the_plan_does_not_know_fails():
    text, sheet = written("svg")
    extra = '<g id="x"><title>notes</title><path d="M0,0L5,0"/></g></svg>'
    with pytest.raises(ProofError, match=r'layer "notes" has 1 of 0 paths'):
        prove(text.replace("</svg>", extra), "svg", sheet)


def test_a_closed_path_left_open_fails():
    text, sheet = written("dxf")
    head, entities = text.split("\nENTITIES\n", 1)
    with pytest.raises(ProofError, match=r"prong slot of ada/strap (is open|lies .* mm off)"):
        prove(head + "\nENTITIES\n" + entities.replace("\n 70\n1\n", "\n 70\n0\n", 1), "dxf", sheet)


def test_a_path_that_comes_home_but_is_not_closed_fails():
    # Its last arc ends where it began: only the missing Z tells it from a closed one.
    text, sheet = written("svg")
    with pytest.raises(ProofError) as caught:
        prove(text.replace('Z"/>', '"/>', 1), "svg", sheet)
    assert str(caught.value) == (
        "svg does not read back as planned: prong slot of ada/strap is open; do not cut from this file, "
        "write it again"
    )


@pytest.mark.parametrize(
    ("data", "apart"),
    [
        ("M120,-43L120,-60", 17),  # stops short: all of it lies on the plan
        ("M120,-43L120,-60L124,-60L120,-60.5L120,-77", 4),  # goes aside: all of the plan lies on it
    ],
)
def test_a_path_with_less_or_more_than_the_plan_fails(data, apart):
    text, sheet = written("svg")
    assert "M120,-43L120,-77" in text
    with pytest.raises(ProofError, match=rf"fold line of ada/strap lies {apart} mm off"):
        prove(text.replace("M120,-43L120,-77", data), "svg", sheet)


def test_a_bulge_turned_the_other_way_fails():
    text, sheet = written("dxf")
    head, entities = text.split("\nENTITIES\n", 1)
    with pytest.raises(ProofError, match=r"lies [\d.]+ mm off"):
        prove(
            head + "\nENTITIES\n" + re.sub(r"\n 42\n([\d.]+)\n", r"\n 42\n-\1\n", entities, count=1),
            "dxf",
            sheet,
        )


def test_another_unit_fails():
    text, sheet = written("dxf")
    with pytest.raises(ProofError, match="not in millimetres"):
        prove(text.replace("$INSUNITS\n 70\n4", "$INSUNITS\n 70\n1"), "dxf", sheet)
    text, sheet = written("svg")
    with pytest.raises(ProofError, match="says no size"):
        prove(text.replace('width="1000mm"', 'width="1000px"'), "svg", sheet)


def test_paths_in_another_order_are_still_found():
    text, sheet = written("svg")
    lines = re.findall(r"<path [^>]*/>\n", text)
    swapped = text.replace(lines[0], "@").replace(lines[1], lines[0]).replace("@", lines[1])
    assert swapped != text
    assert prove(swapped, "svg", sheet).greatest_deviation_mm < 1e-6


def test_a_format_nobody_writes_is_refused_with_the_list():
    with pytest.raises(PlanError) as caught:
        prove("", "pict", small_plan().sheets[0])
    assert str(caught.value) == 'format "pict" is not known; expected one of dxf, svg'


@pytest.mark.parametrize("name", FORMATS)
def test_a_batch_of_eight_belts_is_proven_quickly(name):
    text, sheet = written(name, batch_plan(8))
    prove(text, name, sheet)  # imports what it needs
    start = time.perf_counter()
    proof = prove(text, name, sheet)
    # Measured at well under a tenth of this; the bound only catches a change in kind.
    assert time.perf_counter() - start < 1.0
    assert proof.greatest_deviation_mm < 1e-5
