"""The tip a job asks for: a shape by name, with dimensions of its own, or drawn by the user."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path, PureWindowsPath
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal, get_args

from pydantic import BeforeValidator, Field, ValidationInfo

from strapwright.core.errors import FileProblems
from strapwright.core.text import quoted
from strapwright.files.fields import Measure, mistake
from strapwright.files.messages import nearest
from strapwright.files.read import leads_out, read_text
from strapwright.files.validate import Strict
from strapwright.job.spec.drawing import DrawingOrName

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.files.validate import Faults
    from strapwright.parts.tips.tip import Tip as TipPart

SKETCH_LIMIT_MB: Final = 1.0
"""Largest sketch read, in MB: a drawing in code takes a few kilobytes."""

_EXPECTED: Final = 'expected a Python file in the job\'s own folder such as "my_tip.py"'

_FileName = Annotated[str, Field(pattern=r"^[^/\\]*\.py$")]

TipShape = Literal["english_point", "round", "spear", "square", "bridle_point"]
"""The tip shapes a job may name."""


TIP_MEASURES: Final[Mapping[str, tuple[str, ...]]] = {
    "english_point": ("length", "nose_radius"),
    "round": (),
    "spear": ("length", "nose_radius", "shoulder_radius"),
    "square": ("corner_radius",),
    "bridle_point": ("length", "corner_radius"),
}
"""What can be chosen of each shape; the rest follows the strap's width."""


class Tip(Strict):
    """The shape of the strap's free end; what is not given follows the strap's width."""

    shape: TipShape = "english_point"
    """Its name."""
    length: Annotated[float | None, Measure(least=4.0, most=300.0)] = None
    """From the last point of full width to the foremost point, 4 to 300 mm; default the strap's width."""
    nose_radius: Annotated[float | None, Measure(least=0.5, most=50.0)] = None
    """Of the rounded nose, 0.5 to 50 mm; a finer point curls and frays."""
    corner_radius: Annotated[float | None, Measure(least=0.5, most=50.0)] = None
    """Of the corners of a square or bridle tip, 0.5 to 50 mm; sharp ones curl."""
    shoulder_radius: Annotated[float | None, Measure(least=1.0, most=400.0)] = None
    """Of a spear tip's shoulders, 1 to 400 mm; a sharp shoulder rubs."""

    sketch: SketchOrName = None
    drawing: DrawingOrName = None

    @property
    def name(self) -> str:
        """What to call it: its shape, or ``"sketch"`` or ``"drawing"`` for one of your own."""
        return "sketch" if self.sketch is not None else "drawing" if self.drawing is not None else self.shape

    def part(self, width: float) -> TipPart:
        """Return its definition for a strap width, mm.

        Raises:
            PartError: it cannot be made for that width, or the user's own code fails.
        """
        if self.sketch is not None:
            from strapwright.parts.sketch.drawn import tip_from_sketch

            return tip_from_sketch(self.sketch.source, self.sketch.name, width)
        if self.drawing is not None:
            from strapwright.parts.drawn import tip_from_drawing

            return tip_from_drawing(self.drawing.shapes, self.drawing.name, width)
        from strapwright.parts.tips import make_tip

        given = {key: value for key in TIP_MEASURES[self.shape] if (value := getattr(self, key)) is not None}
        return make_tip(self.shape, width, given)

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: measures that the shape does not have, or beside a sketch or drawing."""
        measures = ("length", "nose_radius", "corner_radius", "shoulder_radius")
        if own_shape := next((key for key in ("sketch", "drawing") if key in table), ""):
            for key in ("shape", *measures, *(("drawing",) if own_shape == "sketch" else ())):
                # The default may stand there: a job that is written out again states every value.
                if key in table and table[key] != "english_point":
                    yield (key,), f"found with {own_shape}, which draws the whole tip"
            return
        shape = table.get("shape", "english_point")
        own = TIP_MEASURES.get(shape) if isinstance(shape, str) else None
        for key in measures:
            if own is not None and key in table and key not in own:
                these = f"only {' and '.join(own)}" if own else "no measure"
                yield (key,), f"found with shape = {quoted(shape)}, which takes {these}"


def tip_by_name(value: object) -> object:
    """Return a tip for a shape's name, and a table as it stands."""
    if not isinstance(value, str):
        return value
    shapes = get_args(TipShape)
    if value in shapes:
        return Tip(shape=value)
    near = nearest(value, shapes)
    listed = ", ".join(quoted(shape) for shape in shapes)
    ending = f'; did you mean "{near}"?' if near else ""
    raise mistake(f"found {quoted(value)}, expected one of {listed}{ending}")


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


def _read(value: object, info: ValidationInfo) -> object:
    """Read the file a text names in the job's folder."""
    if value is None or isinstance(value, SketchFile):
        return value
    if not isinstance(value, str) or not value.endswith(".py"):
        raise mistake(f"found {quoted(value)}, {_EXPECTED}")
    folder = Path((info.context or {}).get("folder") or ".")
    # A path knows both kinds of slash and a drive's letter if it is one of Windows.
    if PureWindowsPath(value).name != value or not value.isprintable() or leads_out(folder / value):
        raise mistake(f"found {quoted(value)}, {_EXPECTED}, no path and no link out of it; move it there")
    try:
        return SketchFile(value, read_text(folder / value, limit_mb=SKETCH_LIMIT_MB))
    except FileProblems as error:
        raise mistake(str(error)) from error


SketchOrName = Annotated[
    SketchFile | None,
    BeforeValidator(_read, json_schema_input_type=_FileName),
    Field(
        description="A Python file in the job's own folder, that draws it with CadQuery. It is run "
        "as your own code, with all that code may do: name none you have not read.",
        examples=["my_tip.py"],
    ),
]
"""A sketch, which a file calls by its name."""
