"""Our own DXF reader: what it takes, and what it refuses in one line."""

from __future__ import annotations

import math

import pytest
from tests.write.plans import small_plan

from strapwright.core.errors import ProofError
from strapwright.write.formats.dxf import Dxf
from strapwright.write.readers.dxf import read_dxf

HEADER = "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n"
TABLES = "0\nSECTION\n2\nTABLES\n0\nTABLE\n2\nLAYER\n0\nLAYER\n2\ncut\n70\n0\n0\nENDTAB\n0\nENDSEC\n"
SLOT = "0\nLWPOLYLINE\n8\ncut\n90\n2\n70\n1\n10\n0\n20\n-1\n42\n1\n10\n0\n20\n1\n"
ROUND = "0\nCIRCLE\n8\ncut\n10\n3\n20\n4\n40\n2.5\n"


def dxf(*entities: str, header: str = HEADER) -> str:
    return f"{header}{TABLES}0\nSECTION\n2\nENTITIES\n{''.join(entities)}0\nENDSEC\n0\nEOF\n"


def test_a_polyline_and_a_circle_written_by_hand():
    half_disc, circle = read_dxf(dxf(SLOT, ROUND))
    assert half_disc.layer == "cut"
    assert half_disc.contour.area == pytest.approx(math.pi / 2)
    assert circle.contour.as_circle() == (3, 4, 5)


def test_windows_line_ends_and_padded_codes_are_read():
    assert len(read_dxf(dxf(SLOT, ROUND).replace("\n", "\r\n"))) == 2
    assert len(read_dxf(dxf(SLOT).replace("90\n2", " 90\n     2"))) == 1


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "the DXF text ends too soon: no EOF after line 0; write it again"),
        ("hello\nworld\n", 'line 1 of the DXF text: found "hello", expected a group code'),
        (dxf(SLOT, header=""), "the DXF text is not in millimetres: expected $INSUNITS 4"),
        (
            dxf(SLOT, header=HEADER.replace("70\n4", "70\n1")),
            "the DXF text is not in millimetres: expected $INSUNITS 4",
        ),
        (
            dxf(SLOT.replace("cut", "Cut2")),
            'LWPOLYLINE 1 of the DXF text lies on layer "Cut2", which the layer table does not have',
        ),
        (
            dxf("0\nSPLINE\n8\ncut\n"),
            "SPLINE 1 of the DXF text: expected only CIRCLE and LWPOLYLINE",
        ),
        (
            dxf(SLOT.replace("90\n2", "90\n3")),
            "LWPOLYLINE 1 of the DXF text: says 3 vertices, has 2",
        ),
        (
            dxf(SLOT.replace("42\n1", "42\nnan")),
            "LWPOLYLINE 1 of the DXF text: vertex 0 of a contour is not finite: [0.0, -1.0, nan]",
        ),
        (
            dxf(SLOT.replace("42\n1", "42\none")),
            'LWPOLYLINE 1 of the DXF text: found "one", expected a number',
        ),
        (
            dxf(SLOT.replace("20\n1\n", "")),
            "LWPOLYLINE 1 of the DXF text: vertex 1 of a contour is not finite: [0.0, nan, 0.0]",
        ),
        (
            dxf(SLOT.replace("70\n1", "70\n129")),
            "LWPOLYLINE 1 of the DXF text: flags 129; expected 0 (open) or 1 (closed)",
        ),
        (
            dxf(SLOT.replace("70\n1\n", "70\n1\n43\n0.5\n")),
            "LWPOLYLINE 1 of the DXF text has a line width",
        ),
        (
            dxf("0\nLWPOLYLINE\n8\ncut\n20\n4\n"),
            "LWPOLYLINE 1 of the DXF text: group 20 stands before the first vertex",
        ),
        (
            dxf(SLOT, ROUND.replace("2.5", "-2.5")),
            "CIRCLE 2 of the DXF text: a circle's diameter must be positive, got -5 mm",
        ),
        (
            dxf(ROUND + "230\n-1\n"),
            "CIRCLE 1 of the DXF text does not lie in the plane of the bed",
        ),
        (
            dxf(SLOT).replace("0\nENDSEC\n0\nEOF", "0\nEOF"),
            "section ENTITIES of the DXF text has no end",
        ),
    ],
)
def test_what_cannot_be_a_cut_file_is_refused_in_one_line(text, message):
    with pytest.raises(ProofError) as caught:
        read_dxf(text)
    assert str(caught.value) == message


def test_a_text_cut_short_anywhere_is_refused_in_one_line():
    made = small_plan()
    text = Dxf().to_text(made.sheets[0], made)
    whole = len(text.rstrip())
    for end in range(0, whole - 1, 997):
        with pytest.raises(ProofError) as caught:
            read_dxf(text[:end])
        assert "\n" not in str(caught.value)
