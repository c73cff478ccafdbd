"""Cut files as DXF R12 for old programs: polylines only, arcs as bulges, circles as two half turns.

Source: DXF Reference, Release 12: sections POLYLINE, VERTEX and SEQEND; names of layers are letters, figures,
``$``, ``-`` and ``_``, up to 31 of them. R12 says nothing of units: they are the bed's millimetres.
"""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING, Final

from strapwright.core.tolerances import READ_BACK
from strapwright.files.atomic_write import MARK
from strapwright.write.formats.dxf import color_indices, escaped
from strapwright.write.formats.header import header_lines, lacks_nothing, nothing_beside
from strapwright.write.readers.dxf import read_dxf_r12
from strapwright.write.readers.path import PlannedPath, ReadPath

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.types import CutPath, CutSheet

_LONGEST_NAME: Final = 31


class DxfR12:
    """The DXF R12 format."""

    name = "dxf_r12"
    suffix = ".dxf"
    ending = "-r12"
    tolerance = READ_BACK
    chord = 0.0
    drives = False
    lacking = staticmethod(lacks_nothing)
    beside = staticmethod(nothing_beside)

    def planned(self, sheet: CutSheet, plan: CutPlan) -> list[PlannedPath]:
        """Return the plan's paths, each once, on its layer as R12 can name it."""
        names = _layers(plan.machine)
        return [
            PlannedPath(names[path.layer], path.contour, f"{path.name} of {path.part_id}")
            for path in sheet.paths
        ]

    def to_text(self, sheet: CutSheet, plan: CutPlan) -> str:
        """Return a sheet as DXF text; the same sheet gives the same text, byte for byte."""
        names = _layers(plan.machine)
        colors = {
            names[plan.machine.settings(operation).layer]: index
            for operation, index in color_indices(plan.machine).items()
        }
        bed = (sheet.width, sheet.height)
        tags: list[tuple[int, object]] = [(999, MARK)]
        tags += [(999, escaped(line)) for line in (*header_lines(sheet, plan, self.name), "units: mm")]
        tags += [(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1009")]
        for name, (x, y) in (("EXTMIN", (0, 0)), ("EXTMAX", bed), ("LIMMIN", (0, 0)), ("LIMMAX", bed)):
            tags += [(9, f"${name}"), (10, float(x)), (20, float(y))]
        tags += [(0, "ENDSEC"), (0, "SECTION"), (2, "TABLES")]
        tags += [(0, "TABLE"), (2, "LTYPE"), (70, 1), (0, "LTYPE"), (2, "CONTINUOUS"), (70, 0)]
        tags += [(3, "Solid line"), (72, 65), (73, 0), (40, 0.0), (0, "ENDTAB")]
        tags += [(0, "TABLE"), (2, "LAYER"), (70, len(colors))]
        for name, color in colors.items():
            tags += [(0, "LAYER"), (2, name), (70, 0), (62, color), (6, "CONTINUOUS")]
        tags += [(0, "ENDTAB"), (0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES")]
        for path in sheet.paths:
            tags += _polyline(path, names[path.layer])
        tags += [(0, "ENDSEC"), (0, "EOF")]
        return "".join(f"{code:>3}\n{value}\n" for code, value in tags)

    def read_back(self, text: str, machine: Machine, face: float = 0.0) -> list[ReadPath]:
        """Read the paths of a DXF text again, without the library that wrote it.

        Raises:
            ProofError: the text is cut short or is not what strapwright writes.
        """
        del machine, face
        return read_dxf_r12(text)


def _polyline(path: CutPath, layer: str) -> Iterator[tuple[int, object]]:
    """Yield one path: its vertices to all the digits they have, so that none is lost."""
    yield from ((0, "POLYLINE"), (8, layer), (66, 1), (10, 0.0), (20, 0.0), (30, 0.0))
    yield 70, int(path.contour.closed)
    for x, y, bulge in path.contour.vertices.tolist():
        yield from ((0, "VERTEX"), (8, layer), (10, x), (20, y), (30, 0.0))
        if bulge:
            yield 42, bulge
    yield from ((0, "SEQEND"), (8, layer))


def _layers(machine: Machine) -> dict[str, str]:
    """Return R12's name for every layer of a machine, no two alike."""
    names: dict[str, str] = {}
    for layer in (machine.settings(operation).layer for operation in machine.operations):
        wanted = name = r12_name(layer)
        count = 1
        while name in names.values():
            count += 1
            name = f"{wanted[: _LONGEST_NAME - 4]}_{count}"
        names[layer] = name
    return names


def r12_name(layer: str) -> str:
    """Return a layer's name as R12 can say it.

    Example:
        >>> r12_name("holes 4.5 mm"), r12_name("Schnitt außen")
        ('HOLES_4_5_MM', 'SCHNITT_AUSSEN')
    """
    plain = unicodedata.normalize("NFKD", layer.replace("ß", "ss"))
    kept = re.sub(r"[^A-Za-z0-9$_-]+", "_", "".join(c for c in plain if not unicodedata.combining(c)))
    return kept.strip("_").upper()[:_LONGEST_NAME] or "LAYER"
