"""An end of a strap as written: folded round a ring or hook, its bar round or flat, or cut to a tip.

A tip is a shape by name, with dimensions of its own, or drawn by the user.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Final, Literal, get_args

from pydantic import BeforeValidator, Field

from strapwright.core.text import quoted
from strapwright.files.fields import Measure, Number, mistake
from strapwright.files.messages import did_you_mean
from strapwright.files.validate import Strict, one_of
from strapwright.job.catalogue.buckle import BarSection
from strapwright.job.spec.drawing import DrawingOrName, SketchOrName
from strapwright.rules.fold import Bar, Fitting

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.files.validate import Faults
    from strapwright.parts.tips.tip import Tip as TipPart


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
    listed = ", ".join(quoted(shape) for shape in shapes)
    raise mistake(f"found {quoted(value)}, expected one of {listed}{did_you_mean(value, shapes)}")


class StrapEnd(Strict):
    """How a strap ends: folded round the bar of a ring or snap hook, or cut to a tip."""

    bar_diameter: Annotated[float | None, Measure(least=1.0, most=25.0)] = None
    """Of the ring's or hook's bar the end is folded round, 1 to 25 mm. Give this, bar_section or tip."""
    bar_section: BarSection = None
    """Of a flat bar, width and height, 0.5 to 40 mm each. Give this, bar_diameter or tip."""
    depth: Annotated[float | None, Measure(least=3.0, most=150.0)] = None
    """With a bar: from its middle to the inside of the ring's or hook's far side, 3 to 150 mm; fasteners then
    keep clear of it as it swings over the strap. Default: not checked."""
    tip: Annotated[
        Tip | None,
        BeforeValidator(
            lambda value: None if value is None else tip_by_name(value), json_schema_input_type=TipShape | Tip
        ),
    ] = None
    """A tip's name, or a table with its shape. Give this, bar_diameter or bar_section."""
    turn_back: Annotated[float | None, Measure(least=15.0, most=400.0)] = None
    """From the fold line to the end of the turn-back, 15 to 400 mm; default what the fasteners need."""

    price: Annotated[Number | None, Field(ge=0)] = None
    """Of its ring or hook, any currency; for the bill."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: not exactly one way of ending; a turn-back of a tip."""
        if wrong := one_of(table, "bar_diameter", "bar_section", "tip"):
            yield (), wrong
        elif "tip" in table:
            for key in ("turn_back", "depth"):
                if key in table:
                    yield (key,), "found with tip, which is not folded back"

    @property
    def fitting(self) -> Fitting:
        """The ring or hook it is folded round."""
        return Fitting(Bar.of(self.bar_diameter, self.bar_section), self.depth)
