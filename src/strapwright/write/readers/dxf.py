"""A small DXF reader of our own: plain group codes, to check files without the library that wrote them.

Source: the DXF Reference (2024), sections LWPOLYLINE, CIRCLE, LAYER and HEADER.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import GeometryError, ProofError
from strapwright.geometry.contour import Contour
from strapwright.write.readers.path import ReadPath

if TYPE_CHECKING:
    from collections.abc import Iterator


Tag = tuple[int, str]


_MILLIMETRES: Final = "4"


_EXTRUSION: Final = {210: 0.0, 220: 0.0, 230: 1.0}


def read_dxf(text: str) -> list[ReadPath]:
    r"""Return every path of a DXF text's model space, in the file's order.

    Raises:
        ProofError: the text is cut short, not in millimetres, or holds what strapwright never writes.

    Example:
        >>> read_dxf("  0\nSECTION\n")
        Traceback (most recent call last):
        ...
        strapwright.core.errors.ProofError: the DXF text ends too soon: no EOF after line 2; write it again
    """
    sections = dxf_sections(text)
    if header_value(sections.get("HEADER", []), "$INSUNITS") != _MILLIMETRES:
        raise ProofError("the DXF text is not in millimetres: expected $INSUNITS 4")
    layers = {
        first_value(record, 2)
        for record in sections.get("TABLES", [])
        if record[0][1] == "LAYER" and len(record) > 1
    }
    paths: list[ReadPath] = []
    for number, record in enumerate(sections.get("ENTITIES", []), 1):
        kind = record[0][1]
        where = f"{kind} {number} of the DXF text"
        layer = first_value(record, 8)
        if layer not in layers:
            raise ProofError(f'{where} lies on layer "{layer}", which the layer table does not have')
        if kind not in ("CIRCLE", "LWPOLYLINE"):
            raise ProofError(f"{where}: expected only CIRCLE and LWPOLYLINE")
        if any(number_of(value, where) != _EXTRUSION[code] for code, value in record if code in _EXTRUSION):
            raise ProofError(f"{where} does not lie in the plane of the bed")
        try:
            contour = _circle(record, where) if kind == "CIRCLE" else _polyline(record, where)
        except GeometryError as error:
            raise ProofError(f"{where}: {error}") from error
        paths.append(ReadPath(layer, contour))
    return paths


def _records(text: str) -> Iterator[list[Tag]]:
    """Yield the text's records: a tag of code 0 and all tags up to the next.

    Comments and the closing EOF are left out.
    """
    lines = text.splitlines()
    record: list[Tag] = []
    for index in range(0, len(lines) - 1, 2):
        try:
            code = int(lines[index])
        except ValueError:
            raise ProofError(
                f'line {index + 1} of the DXF text: found "{lines[index].strip()[:40]}", '
                "expected a group code"
            ) from None
        if code == 999:
            continue
        if code == 0 and record:
            yield record
            record = []
        record.append((code, lines[index + 1].strip()))
    if not record or record[0] != (0, "EOF"):
        raise ProofError(f"the DXF text ends too soon: no EOF after line {len(lines)}; write it again")


def dxf_sections(text: str) -> dict[str, list[list[Tag]]]:
    """Return each section's records, each a tag of code 0 and those up to the next.

    The header's one record is its section's own.

    Raises:
        ProofError: the text is cut short or its sections are out of order.
    """
    sections: dict[str, list[list[Tag]]] = {}
    name = ""
    for record in list(_records(text)):
        kind = record[0][1]
        if kind == "SECTION":
            if name:
                raise ProofError(f"section {name} of the DXF text has no end")
            name = first_value(record, 2)
            sections[name] = [record] if len(record) > 2 else []
        elif kind == "ENDSEC":
            name = ""
        elif name:
            sections[name].append(record)
        else:
            raise ProofError(f"found {kind} outside any section of the DXF text")
    if name:
        raise ProofError(f"section {name} of the DXF text has no end")
    return sections


def header_value(records: list[list[Tag]], variable: str) -> str:
    """Return the first value of a header variable, or an empty text."""
    tags = [tag for record in records for tag in record]
    for (code, value), following in pairwise(tags):
        if code == 9 and value == variable:
            return following[1]
    return ""


def _circle(record: list[Tag], where: str) -> Contour:
    x, y, radius = (number_of(first_value(record, code), where) for code in (10, 20, 40))
    return Contour.circle(x, y, 2 * radius)


def _polyline(record: list[Tag], where: str) -> Contour:
    vertices: list[list[float]] = []
    for code, value in record:
        if code == 10:
            vertices.append([number_of(value, where), float("nan"), 0.0])
        elif code in (20, 42):
            if not vertices:
                raise ProofError(f"{where}: group {code} stands before the first vertex")
            vertices[-1][1 if code == 20 else 2] = number_of(value, where)
        elif code in (40, 41, 43) and number_of(value, where):
            raise ProofError(f"{where} has a line width")
    count = first_value(record, 90)
    if count != str(len(vertices)):
        raise ProofError(f"{where}: says {count or 'no number of'} vertices, has {len(vertices)}")
    flags = first_value(record, 70) or "0"
    if flags not in ("0", "1"):
        raise ProofError(f"{where}: flags {flags}; expected 0 (open) or 1 (closed)")
    return Contour(np.array(vertices), closed=flags == "1")


def first_value(record: list[Tag], code: int) -> str:
    """Return the first value with a group code, or an empty text."""
    return next((value for found, value in record if found == code), "")


def number_of(value: str, where: str) -> float:
    """Return a value as a number, or refuse the text."""
    try:
        return float(value)
    except ValueError:
        raise ProofError(f'{where}: found "{value[:40]}", expected a number') from None


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
