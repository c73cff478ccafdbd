"""A small DXF reader of our own: plain group codes, to check files without the library that wrote them.

Source: the DXF Reference (2024), sections LWPOLYLINE, CIRCLE, LAYER and HEADER.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

from strapwright.core.errors import ProofError
from strapwright.write.readers.path import ReadPath, contours_of

Tag = tuple[int, str]

Vertex = tuple[float, float, float]

_Found = tuple[str, int, bool, str]
"""Of a path its layer, how many vertices it has, whether it is closed, and where it stands."""


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
    vertices: list[Vertex] = []
    found: list[_Found] = []
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
        some, closed = (_circle if kind == "CIRCLE" else _polyline)(record, where)
        vertices += some
        found.append((layer, len(some), closed, where))
    return _paths(vertices, found)


def _paths(vertices: list[Vertex], found: list[_Found]) -> list[ReadPath]:
    layers, counts, closed, places = zip(*found, strict=True) if found else ((), (), (), ())
    contours = contours_of(vertices, counts, closed, places.__getitem__)
    return [ReadPath(*both) for both in zip(layers, contours, strict=True)]


def _records(text: str) -> list[list[Tag]]:
    """Return the text's records, each a tag of code 0 and all tags up to the next.

    Comments and the closing EOF are left out.
    """
    lines = text.splitlines()
    codes: list[int] = []
    for index in range(0, len(lines) - 1, 2):
        try:
            codes.append(int(lines[index]))
        except ValueError:
            raise ProofError(
                f'line {index + 1} of the DXF text: found "{lines[index].strip()[:40]}", '
                "expected a group code"
            ) from None
    tags = [tag for tag in zip(codes, map(str.strip, lines[1::2]), strict=False) if tag[0] != 999]
    begins = [0, *(place for place, (code, _) in enumerate(tags) if code == 0 and place)]
    if tags[begins[-1] :][:1] != [(0, "EOF")]:
        raise ProofError(f"the DXF text ends too soon: no EOF after line {len(lines)}; write it again")
    return [tags[low:high] for low, high in pairwise(begins)]


def dxf_sections(text: str) -> dict[str, list[list[Tag]]]:
    """Return each section's records, each a tag of code 0 and those up to the next.

    The header's one record is its section's own.

    Raises:
        ProofError: the text is cut short or its sections are out of order.
    """
    sections: dict[str, list[list[Tag]]] = {}
    name = ""
    for record in _records(text):
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


def _circle(record: list[Tag], where: str) -> tuple[list[Vertex], bool]:
    x, y, radius = (number_of(first_value(record, code), where) for code in (10, 20, 40))
    if not radius > 0:
        raise ProofError(f"{where}: a circle's diameter must be positive, got {2 * radius:g} mm")
    return [(x + radius, y, 1.0), (x - radius, y, 1.0)], True


def _polyline(record: list[Tag], where: str) -> tuple[list[Vertex], bool]:
    vertices: list[Vertex] = []
    for code, value in record:
        if code == 10:
            vertices.append((number_of(value, where), math.nan, 0.0))
        elif code in (20, 42):
            if not vertices:
                raise ProofError(f"{where}: group {code} stands before the first vertex")
            x, y, bulge = vertices[-1]
            given = number_of(value, where)
            vertices[-1] = (x, given, bulge) if code == 20 else (x, y, given)
        elif code in (40, 41, 43) and number_of(value, where):
            raise ProofError(f"{where} has a line width")
    count = first_value(record, 90)
    if count != str(len(vertices)):
        raise ProofError(f"{where}: says {count or 'no number of'} vertices, has {len(vertices)}")
    return vertices, _is_closed(record, where)


def _is_closed(record: list[Tag], where: str) -> bool:
    flags = first_value(record, 70) or "0"
    if flags not in ("0", "1"):
        raise ProofError(f"{where}: flags {flags}; expected 0 (open) or 1 (closed)")
    return flags == "1"


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
    vertices: list[Vertex] = []
    found: list[_Found] = []
    open_record: list[Tag] | None = None
    begins = 0
    for number, record in enumerate(sections.get("ENTITIES", []), 1):
        kind = record[0][1]
        where = f"{kind} {number} of the DXF text"
        if kind == "POLYLINE" and open_record is None:
            open_record, begins = record, len(vertices)
            if first_value(record, 8) not in layers:
                raise ProofError(f"{where} lies on a layer which the layer table does not have")
        elif kind == "VERTEX" and open_record is not None:
            x, y = (number_of(first_value(record, code), where) for code in (10, 20))
            vertices.append((x, y, number_of(first_value(record, 42) or "0", where)))
        elif kind == "SEQEND" and open_record is not None:
            closed = _is_closed(open_record, where)
            found.append((first_value(open_record, 8), len(vertices) - begins, closed, where))
            open_record = None
        else:
            raise ProofError(f"{where}: expected only POLYLINE with its VERTEX and SEQEND")
    if open_record is not None:
        raise ProofError("the last POLYLINE of the DXF text has no SEQEND")
    return _paths(vertices, found)
