"""What a user has drawn, as a job names it: drawings and where along the strap they are made; sketches."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path, PureWindowsPath
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import BeforeValidator, Field, PlainSerializer, PlainValidator, ValidationInfo
from pydantic_core import core_schema

from strapwright.core.errors import FileProblems, UnitError
from strapwright.core.text import quoted
from strapwright.core.units import parse_length
from strapwright.files.fields import Measure, mistake
from strapwright.files.read import leads_out, read_bytes, read_text
from strapwright.files.validate import Strict

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pydantic import GetCoreSchemaHandler
    from pydantic_core import CoreSchema

    from strapwright.files.validate import Faults
    from strapwright.geometry.drawings.file import Shape


_DRAWING_EXPECTED: Final = 'expected an SVG or DXF file in the job\'s own folder such as "tip.svg"'

_ALONG: Final = re.compile(r"\s*(.+?)\s+from\s+(?:the\s+)?(tip|fold|buckle)\s*", re.IGNORECASE)

_PLACE: Final = 'expected a length and what it is measured from, such as "120 mm from tip"'

Origin = Literal["tip", "fold", "buckle"]
"""What a place along a belt is measured from: the tip's point, the fold line, or the fold's outer end."""


@dataclass(frozen=True)
class DrawingFile:
    """A drawing of the user's, as it was when the job was read.

    Args:
        name: as the job gives it.
        digest: SHA-256 of the file; it counts in the job's.
        unit: said to be that of a DXF drawing that does not say it; empty where it need not be.
        content: the file.
        shapes: what was read of it.
        left_out: shapes that it does not show, in words.
    """

    name: str
    digest: str
    unit: str = ""
    content: bytes = field(default=b"", repr=False)
    shapes: tuple[Shape, ...] = field(default=(), repr=False)
    left_out: str = ""

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Return that it is taken as it is: pydantic looks into none of it."""
        return core_schema.is_instance_schema(cls)


def _read_drawing(value: object, info: ValidationInfo) -> object:
    """Read the drawing that a text, or a table with its unit, names in the job's folder."""
    if value is None or isinstance(value, DrawingFile):
        return value
    from strapwright.geometry.drawings.gathered import SUFFIXES, UNITS  # loads NumPy, as reading one does

    unit = ""
    if isinstance(value, dict):
        if set(value) != {"file", "unit"} or value["unit"] not in UNITS:
            units = ", ".join(map(quoted, UNITS))
            raise mistake(f"found a table, expected one of file and unit, the unit one of {units}")
        unit, value = value["unit"], value["file"]
    if not isinstance(value, str) or Path(value).suffix.lower() not in SUFFIXES:
        raise mistake(f"found {quoted(value)}, {_DRAWING_EXPECTED}")
    path = _in_the_folder(value, info, _DRAWING_EXPECTED)
    try:
        content = read_bytes(path)
        digest = hashlib.sha256(content).hexdigest()
        shapes, left_out = _shapes(path, digest, unit)
    except FileProblems as error:
        first, *more = (text.replace(str(path), value) for text in error.problems)
        raise mistake(first + (f" (and {len(more)} more such mistakes)" if more else "")) from error
    return DrawingFile(value, digest, unit, content, shapes, left_out)


def _in_the_folder(name: str, info: ValidationInfo, expected: str) -> Path:
    """Return the path of a file in the job's own folder, which a job names without any path."""
    path = Path((info.context or {}).get("folder") or ".") / name
    # A path knows both kinds of slash and a drive's letter if it is one of Windows.
    if PureWindowsPath(name).name != name or not name.isprintable() or leads_out(path):
        raise mistake(f"found {quoted(name)}, {expected}, no path and no link out of it; move it there")
    return path


@lru_cache(maxsize=64)
def _shapes(path: Path, digest: str, unit: str) -> tuple[tuple[Shape, ...], str]:
    from strapwright.geometry.drawings.file import read_shapes

    del digest  # a file that has changed is read again
    return read_shapes(path, unit)


def _said(file: DrawingFile | None) -> dict[str, str] | None:
    return None if file is None else {"file": file.name, "unit": file.unit, "digest": file.digest}


DrawingOrName = Annotated[
    DrawingFile | None,
    PlainValidator(_read_drawing, json_schema_input_type=str | dict[str, str]),
    PlainSerializer(_said),
    Field(
        description="An SVG or DXF drawing in the job's own folder. A DXF without units, as of R12, is "
        'named with its unit: { file = "tip.dxf", unit = "mm" }.',
        examples=["tip.svg"],
    ),
]
"""A drawing, which a file calls by its name."""

Drawing = Annotated[
    DrawingFile,
    PlainValidator(_read_drawing, json_schema_input_type=str | dict[str, str]),
    PlainSerializer(_said),
]
"""A drawing that must be named."""


@dataclass(frozen=True)
class AlongStrap:
    """A place along a belt.

    Args:
        distance: mm.
        origin: what it is measured from.
    """

    distance: float
    origin: Origin

    @property
    def words(self) -> str:
        """It as it is written."""
        return f"{self.distance:g} mm from {self.origin}"


def _along(value: object) -> object:
    if isinstance(value, AlongStrap):
        return value
    match = _ALONG.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise mistake(f"found {quoted(value)}, {_PLACE}")
    try:
        return AlongStrap(parse_length(match[1]), match[2].lower())  # type: ignore[arg-type]  # by the pattern
    except UnitError as error:
        raise mistake(str(error)) from error


Along = Annotated[
    AlongStrap,
    PlainValidator(_along, json_schema_input_type=str),
    PlainSerializer(lambda place: place.words),
]

Made = Literal["cut", "score", "punch"]


class DrawnHole(Strict):
    """A slot, keyhole or other opening of your own drawing, in one place on the belt."""

    drawing: Annotated[Drawing, Field(examples=["keyhole.svg"])]
    """An SVG or DXF drawing in the job's own folder, x along the strap towards the tip; it is cut unless its
    layers, groups or ids say cut, score or punch."""
    at: Annotated[Along, Field(examples=["120 mm from tip"])]
    """Where the middle of the drawing lies along the belt: a length from tip, from fold (the line) or from
    buckle (the outer end of the fold, as a tape lies on a finished belt)."""
    across: Annotated[float, Measure(least=-60.0, most=60.0)] = 0.0
    """How far that middle lies off the centre line, to the left when you look towards the tip, -60 to 60 mm,
    default 0 mm."""
    turn: Annotated[float, Measure("angle")] = 0.0
    """How far the drawing is turned, counter-clockwise, default 0 deg."""

    @property
    def where(self) -> str:
        """Where it lies, in words."""
        return self.at.words


class Ornament(Strict):
    """Lines or openings of your own drawing, repeated along the belt."""

    drawing: Annotated[Drawing, Field(examples=["border.svg"])]
    """An SVG or DXF drawing in the job's own folder, x along the strap towards the tip."""
    repeat: Annotated[float, Measure(least=1.0, most=1000.0), Field(examples=["40 mm"])]
    """From each drawing to the next along the strap, 1 to 1000 mm."""
    start: Annotated[Along, Field(alias="from", examples=["150 mm from fold"])]
    """Where the first may begin: a length from tip, fold or buckle."""
    end: Annotated[Along, Field(alias="to", examples=["300 mm from tip"])]
    """Where the last must end: a length from tip, fold or buckle."""
    operation: Made | None = None
    """cut, score or punch, where the drawing's layers, groups or ids do not say it; default score."""
    across: Annotated[float, Measure(least=-60.0, most=60.0)] = 0.0
    """How far its middle lies off the centre line, to the left when you look towards the tip, -60 to 60 mm,
    default 0 mm."""
    margin: Annotated[float | None, Measure(least=0.0, most=50.0)] = None
    """Scales the drawing to the strap's width, leaving this at each edge, 0 to 50 mm; default not scaled."""
    clear: Annotated[float, Measure(least=0.5, most=50.0)] = 2.0
    """Kept from holes, slots, lines and the edge, 0.5 to 50 mm, default 2 mm: one that would come nearer is
    left out."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: a shift across beside a drawing that is scaled to the width."""
        if "margin" in table and table.get("across"):
            yield ("across",), "found with margin, which scales the drawing to the strap's width"


SKETCH_LIMIT_MB: Final = 1.0
"""Largest sketch read, in MB: a drawing in code takes a few kilobytes."""

_SKETCH_EXPECTED: Final = 'expected a Python file in the job\'s own folder such as "my_tip.py"'

_SketchName = Annotated[str, Field(pattern=r"^[^/\\]*\.py$")]


@dataclass(frozen=True)
class SketchFile:
    """A Python file of the user's, as it was when the job was read.

    Args:
        name: as the job gives it.
        source: its text; what is run is what was read. It counts in the job's digest, what it imports does
            not.
    """

    name: str
    source: str


def _read_sketch(value: object, info: ValidationInfo) -> object:
    """Read the file a text names in the job's folder."""
    if value is None or isinstance(value, SketchFile):
        return value
    if not isinstance(value, str) or not value.endswith(".py"):
        raise mistake(f"found {quoted(value)}, {_SKETCH_EXPECTED}")
    path = _in_the_folder(value, info, _SKETCH_EXPECTED)
    try:
        return SketchFile(value, read_text(path, limit_mb=SKETCH_LIMIT_MB))
    except FileProblems as error:
        raise mistake(str(error)) from error


SketchOrName = Annotated[
    SketchFile | None,
    BeforeValidator(_read_sketch, json_schema_input_type=_SketchName),
    Field(
        description="A Python file in the job's own folder, that draws it with CadQuery. It is run "
        "as your own code, with all that code may do: name none you have not read.",
        examples=["my_tip.py"],
    ),
]
"""A sketch, which a file calls by its name."""
