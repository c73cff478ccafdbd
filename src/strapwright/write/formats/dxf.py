"""Cut files as DXF R2010 and R12: one layer an operation, arcs as bulges.

R2010 has round holes as circles. R12, for old programs, has polylines only, circles as two half turns, and
layers named in letters, figures, ``$``, ``-`` and ``_``, up to 31 of them; it says nothing of units: they are
the bed's millimetres. Source: DXF Reference, Release 12: sections POLYLINE, VERTEX and SEQEND.

Every line is solid, for a machine would cut a dash as it is drawn. Each layer has its colour twice: as it is,
and as one of DXF's indices, which is all that some programs read.
"""

from __future__ import annotations

import io
import math
import re
import unicodedata
from functools import cache
from itertools import chain, count
from typing import TYPE_CHECKING, Final

from strapwright.files.atomic_write import MARK
from strapwright.write.formats.header import Drawing, header_lines
from strapwright.write.readers.dxf import read_dxf, read_dxf_r12

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.types import CutPath, CutSheet
    from strapwright.parts.part import Operation

_LONGEST_NAME: Final = 31

_INDICES: Final = (*range(1, 7), *range(8, 256))
"""DXF's colour indices but 7, which is white or black, whichever the ground is not."""


_END: Final = "  0\nENDSEC\n"


_EMPTY: Final = f"  0\nSECTION\n  2\nENTITIES\n{_END}"


class Dxf(Drawing):
    """The format DXF R2010."""

    name = "dxf"
    suffix = ".dxf"
    reader = staticmethod(read_dxf)

    def to_text(self, sheet: CutSheet, plan: CutPlan) -> str:
        """Return a sheet as DXF text; the same sheet gives the same text, byte for byte.

        Entities stand in cutting order. Units are millimetres ($INSUNITS 4).
        """
        from ezdxf import colors, options  # type: ignore[attr-defined]  # public, but not declared so
        from ezdxf.filemanagement import new

        # The only way ezdxf has to leave the clock and fresh identifiers out of a file.
        fixed = options.write_fixed_meta_data_for_testing
        options.write_fixed_meta_data_for_testing = True
        try:
            document = new("R2010", units=4)  # 4: millimetres
            document.header["$MEASUREMENT"] = 1
            for operation, index in color_indices(plan.machine).items():
                settings = plan.machine.settings(operation)
                true_color = colors.rgb2int(_rgb(settings.color))
                document.layers.add(settings.layer, color=index, true_color=true_color)
            space = document.modelspace()
            # The bed is what a program shows when it opens the file.
            space.reset_extents((0, 0, 0), (sheet.width, sheet.height, 0))
            space.reset_limits((0, 0), (sheet.width, sheet.height))
            # The header takes the model space's extents only where their lower corner is not the origin.
            document.header["$EXTMIN"] = 0, 0, 0
            document.header["$EXTMAX"] = sheet.width, sheet.height, 0
            layers = self.layers(plan.machine)
            # Of ezdxf the handles, which the file's header counts; its entities take seconds to write.
            entities = [
                _entity(path, layers[path.operation], document.entitydb.next_handle(), space.layout_key)
                for path in sheet.paths
            ]
            for kind in sorted(document.entitydb.dxf_types_in_use()):
                document.classes.add_class(kind)  # ezdxf takes them from a set, another order each run
            stream = io.StringIO()
            document.write(stream)
        finally:
            options.write_fixed_meta_data_for_testing = fixed
        text = stream.getvalue().replace(_EMPTY, _EMPTY[: -len(_END)] + "".join(entities) + _END, 1)
        comments = (MARK, *(escaped(line) for line in header_lines(sheet, plan, self.name)))
        return "".join(f"999\n{line}\n" for line in comments) + text


def escaped(text: str) -> str:
    r"""Return text in ASCII, other characters as DXF writes them: ``\U+XXXX``.

    Characters beyond the first 65 536 become their two halves in UTF-16.

    Example:
        >>> escaped("Gürtel")
        'G\\U+00FCrtel'
    """

    def units(c: str) -> str:
        data = c.encode("utf-16-be", "surrogatepass").hex().upper()
        return "".join(f"\\U+{data[k : k + 4]}" for k in range(0, len(data), 4))

    return "".join(c if c.isascii() else units(c) for c in text)


def color_indices(machine: Machine) -> dict[Operation, int]:
    """Return the nearest of DXF's colour indices to each operation's colour, no two alike.

    Example:
        >>> from strapwright.machine.profile.machine import read_machine
        >>> list(color_indices(read_machine("wide-laser")).values())
        [122, 241, 30]
    """
    colors = {operation: machine.settings(operation).color for operation in machine.operations}
    return dict(zip(colors, _nearest(tuple(colors.values())), strict=True))


@cache
def _nearest(colors: tuple[str, ...]) -> tuple[int, ...]:
    from ezdxf.colors import aci2rgb

    found: list[int] = []
    for wanted in map(_rgb, colors):
        free = (index for index in _INDICES if index not in found)
        found.append(min(free, key=lambda index: math.dist(aci2rgb(index), wanted)))
    return tuple(found)


def _rgb(color: str) -> tuple[int, int, int]:
    red, green, blue = (int(color[k : k + 2], 16) for k in (1, 3, 5))
    return red, green, blue


def _entity(path: CutPath, layer: str, handle: str, owner: str) -> str:
    """Return a path as an entity of R2010: a circle, or a polyline that leaves out bulges of 0.

    Args:
        path: of the plan.
        layer: it lies on.
        handle: of its own, in the file.
        owner: the model space's handle.
    """
    circle = path.contour.as_circle()
    kind = ("LWPOLYLINE", "AcDbPolyline") if circle is None else ("CIRCLE", "AcDbCircle")
    tags = [f"  0\n{kind[0]}\n  5\n{handle}\n330\n{owner}\n100\nAcDbEntity\n  8\n{layer}\n100\n{kind[1]}\n"]
    if circle is not None:
        x, y, diameter = circle
        tags.append(f" 10\n{x}\n 20\n{y}\n 30\n0.0\n 40\n{diameter / 2}\n")
        return "".join(tags)
    vertices = path.contour.vertices.tolist()
    tags.append(f" 90\n{len(vertices)}\n 70\n{int(path.contour.closed)}\n")
    for x, y, bulge in vertices:
        tags.append(f" 10\n{x}\n 20\n{y}\n")
        if bulge:
            tags.append(f" 42\n{bulge}\n")
    return "".join(tags)


class DxfR12(Drawing):
    """The format DXF R12."""

    name = "dxf_r12"
    suffix = ".dxf"
    ending = "-r12"
    reader = staticmethod(read_dxf_r12)

    def layers(self, machine: Machine) -> dict[Operation, str]:
        """Return the layer of each operation as R12 can name it, no two alike."""
        names: dict[Operation, str] = {}
        for operation, layer in super().layers(machine).items():
            wanted = r12_name(layer)
            others = (f"{wanted[: _LONGEST_NAME - 4]}_{number}" for number in count(2))
            names[operation] = next(one for one in chain([wanted], others) if one not in names.values())
        return names

    def to_text(self, sheet: CutSheet, plan: CutPlan) -> str:
        """Return a sheet as DXF text; the same sheet gives the same text, byte for byte."""
        names = self.layers(plan.machine)
        colors = {names[operation]: index for operation, index in color_indices(plan.machine).items()}
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
            tags += _polyline(path, names[path.operation])
        tags += [(0, "ENDSEC"), (0, "EOF")]
        return "".join(f"{code:>3}\n{value}\n" for code, value in tags)


def _polyline(path: CutPath, layer: str) -> Iterator[tuple[int, object]]:
    """Yield one path: its vertices to all the digits they have, so that none is lost."""
    yield from ((0, "POLYLINE"), (8, layer), (66, 1), (10, 0.0), (20, 0.0), (30, 0.0))
    yield 70, int(path.contour.closed)
    for x, y, bulge in path.contour.vertices.tolist():
        yield from ((0, "VERTEX"), (8, layer), (10, x), (20, y), (30, 0.0))
        if bulge:
            yield 42, bulge
    yield from ((0, "SEQEND"), (8, layer))


def r12_name(layer: str) -> str:
    """Return a layer's name as R12 can say it.

    Example:
        >>> r12_name("holes 4.5 mm"), r12_name("Schnitt außen")
        ('HOLES_4_5_MM', 'SCHNITT_AUSSEN')
    """
    plain = unicodedata.normalize("NFKD", layer.replace("ß", "ss"))
    kept = re.sub(r"[^A-Za-z0-9$_-]+", "_", "".join(c for c in plain if not unicodedata.combining(c)))
    return kept.strip("_").upper()[:_LONGEST_NAME] or "LAYER"
