"""A reader of DXF R12 of our own: plain group codes, to check files without the library that wrote them.

Source: DXF Reference, Release 12: sections POLYLINE, VERTEX and SEQEND.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.errors import GeometryError, ProofError
from strapwright.geometry.contour import Contour
from strapwright.write.readers.dxf import dxf_sections, first_value, header_value, number_of
from strapwright.write.readers.path import ReadPath

if TYPE_CHECKING:
    from strapwright.write.readers.dxf import Tag


def read_dxf_r12(text: str) -> list[ReadPath]:
    r"""Return every path of a DXF text, in the file's order.

    Raises:
        ProofError: the text is cut short, of another release, or holds what strapwright never writes.

    Example:
        >>> read_dxf_r12("  0\nEOF\n")
        Traceback (most recent call last):
        ...
        strapwright.core.errors.ProofError: the DXF text is not of Release 12: expected $ACADVER AC1009
    """
    sections = dxf_sections(text)
    if header_value(sections.get("HEADER", []), "$ACADVER") != "AC1009":
        raise ProofError("the DXF text is not of Release 12: expected $ACADVER AC1009")
    layers = {first_value(r, 2) for r in sections.get("TABLES", []) if r[0][1] == "LAYER"}
    paths: list[ReadPath] = []
    open_record: list[Tag] | None = None
    vertices: list[list[float]] = []
    for number, record in enumerate(sections.get("ENTITIES", []), 1):
        kind = record[0][1]
        where = f"{kind} {number} of the DXF text"
        if kind == "POLYLINE" and open_record is None:
            open_record, vertices = record, []
            if first_value(record, 8) not in layers:
                raise ProofError(f"{where} lies on a layer which the layer table does not have")
        elif kind == "VERTEX" and open_record is not None:
            place = [number_of(first_value(record, code), where) for code in (10, 20)]
            vertices.append([*place, number_of(first_value(record, 42) or "0", where)])
        elif kind == "SEQEND" and open_record is not None:
            paths.append(ReadPath(first_value(open_record, 8), _contour(open_record, vertices, where)))
            open_record = None
        else:
            raise ProofError(f"{where}: expected only POLYLINE with its VERTEX and SEQEND")
    if open_record is not None:
        raise ProofError("the last POLYLINE of the DXF text has no SEQEND")
    return paths


def _contour(record: list[Tag], vertices: list[list[float]], where: str) -> Contour:
    flags = first_value(record, 70) or "0"
    if flags not in ("0", "1"):
        raise ProofError(f"{where}: flags {flags}; expected 0 (open) or 1 (closed)")
    try:
        return Contour(np.array(vertices), closed=flags == "1")
    except GeometryError as error:
        raise ProofError(f"{where}: {error}") from error
