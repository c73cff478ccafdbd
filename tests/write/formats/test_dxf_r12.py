"""DXF R12 as it is written: polylines only, plain layer names; checked by ezdxf, which did not write it."""

from __future__ import annotations

import io
import re

import ezdxf
import numpy as np
import pytest
from tests.write.plans import driven_laser, driven_plan

from strapwright.core.errors import ProofError
from strapwright.write.formats.dxf import DxfR12
from strapwright.write.readers.dxf import read_dxf_r12


def text_of(made) -> str:
    return DxfR12().to_text(made.sheets[0], made)


def test_another_reader_finds_no_fault_and_only_polylines():
    made = driven_plan()
    document = ezdxf.read(io.StringIO(text_of(made)))
    auditor = document.audit()
    assert document.dxfversion == "AC1009"
    assert auditor.errors == []
    assert auditor.fixes == []
    entities = list(document.modelspace())
    assert {entity.dxftype() for entity in entities} == {"POLYLINE"}
    for path, entity in zip(made.sheets[0].paths, entities, strict=True):
        points = np.array([(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in entity.vertices])
        assert points.tolist() == path.contour.vertices.tolist()
        assert entity.is_closed == path.contour.closed


def test_layers_have_names_and_colours_r12_knows():
    document = ezdxf.read(io.StringIO(text_of(driven_plan())))
    names = {layer.dxf.name for layer in document.layers} - {"0", "Defpoints"}
    assert names == {"CUT", "SCORE", "PUNCH"}
    assert all(re.fullmatch(r"[A-Z0-9$_-]{1,31}", name) for name in names)
    assert all(1 <= layer.dxf.color <= 255 for layer in document.layers)


def test_layers_that_r12_would_call_alike_are_kept_apart():
    machine = driven_laser()
    operation = machine.operation.model_copy(
        update={
            name: machine.operation.cut.model_copy(update={"layer": layer})
            for name, layer in (("cut", "ä 1"), ("score", "a 1"), ("punch", "a-1" * 15))
        }
    )
    made = driven_plan(machine.__class__(**{**vars(machine), "operation": operation}))
    text = text_of(made)
    assert {"A_1", "A_1_2"} < {path.layer for path in read_dxf_r12(text)}


BAD = {
    "another release": (lambda t: t.replace("AC1009", "AC1015"), "not of Release 12"),
    "no layer table": (
        lambda t: t.replace("\n  2\nSCORE\n", "\n  2\nOTHER\n"),
        "which the layer table does not",
    ),
    "another entity": (lambda t: t.replace("0\nPOLYLINE\n", "0\nLINE\n", 1), "expected only POLYLINE"),
    "an end missing": (
        lambda t: re.sub(r"  0\nSEQEND\n  8\n\w+\n  0\nENDSEC", "  0\nENDSEC", t),
        "no SEQEND",
    ),
    "a flag nobody sets": (
        lambda t: t.replace("\n 70\n1\n  0\nVERTEX", "\n 70\n9\n  0\nVERTEX", 1),
        "flags 9",
    ),
    "one vertex": (
        lambda t: re.sub(r"  0\nVERTEX\n[^V]*(?=  0\nSEQEND)", "", t, count=1),
        "at least 2 vertices",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_what_is_not_ours_is_refused(case):
    spoil, why = BAD[case]
    text = text_of(driven_plan())
    spoiled = spoil(text)
    assert spoiled != text
    with pytest.raises(ProofError, match=why):
        read_dxf_r12(spoiled)
