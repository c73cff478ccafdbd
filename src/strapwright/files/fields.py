"""Fields that files are made of: lengths, thicknesses, angles and numbers, each with its range."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from math import degrees, inf
from types import NoneType
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal, get_args

from pydantic import AfterValidator, BeforeValidator, Field
from pydantic_core import PydanticCustomError, core_schema

from strapwright.core.errors import UnitError
from strapwright.core.text import quoted
from strapwright.core.units import A_LENGTH, A_THICKNESS, AN_ANGLE, format_length, parse_angle, parse_length

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler


_EXAMPLES: Final = {
    "length": ("44 mm", "4.4 cm", "1 3/4 in", "5 mm", "1/4 in", "960 mm", "38 in", "1 mm"),
    "thickness": ("3.6 mm", "9 oz", "1 mm"),
    "angle": ("90 deg", "25 deg", "0 deg"),
}


@dataclass(frozen=True)
class Measure:
    """What a length, thickness or angle may be; annotates a float to make it a pydantic field.

    The field takes text with its unit or a bare number, refuses truth values and what is not
    finite, and holds millimetres or radians.

    Args:
        kind: ``"length"``, ``"thickness"`` (which also takes ounces) or ``"angle"``.
        least: smallest value allowed, mm or radians.
        most: largest value allowed, mm or radians.
        above: whether ``least`` itself is refused.

    Example:
        >>> Measure(least=6, most=150).read("2 1/8 in")
        53.975
    """

    kind: Literal["length", "thickness", "angle"] = "length"
    least: float = -inf
    most: float = inf
    above: bool = False

    @property
    def expected(self) -> str:
        """What to write, in words, with examples."""
        return {"length": A_LENGTH, "thickness": A_THICKNESS, "angle": AN_ANGLE}[self.kind]

    @property
    def allowed(self) -> str:
        """The range in words, with units; empty where anything finite goes."""
        low, high = self._shown(self.least), self._shown(self.most)
        if self.least == -inf and self.most == inf:
            return ""
        if self.most == inf:
            return f"more than {low}" if self.above else f"{low} or more"
        if self.least == -inf:
            return f"{high} or less"
        return f"more than {low}, up to {high}" if self.above else f"{low} to {high}"

    def read(self, value: object) -> float:
        """Return the value in mm or radians.

        Raises:
            PydanticCustomError: it cannot be read, or is out of range.
        """
        try:
            number = self._parse(value)
        except UnitError as error:
            raise mistake(str(error)) from error
        if self._within(number):
            return number
        raise mistake(f"found {self._as_found(value, number)}, expected {self.allowed}")

    def _parse(self, value: Any) -> float:
        if self.kind == "angle":
            return parse_angle(value)
        return parse_length(value, ounces=self.kind == "thickness")

    def _within(self, number: float) -> bool:
        return self.least <= number <= self.most and not (self.above and number == self.least)

    def _shown(self, number: float) -> str:
        return f"{degrees(number):g} deg" if self.kind == "angle" else format_length(number)

    def _as_found(self, value: object, number: float) -> str:
        shown = self._shown(number)
        if self.kind != "angle" and self._within(self._parse(shown)):  # rounded, it would be allowed
            shown = f"{number:.9g} mm"
        bare = not isinstance(value, str) or value.strip()[-1:].isdigit()
        if bare and self.kind != "angle":
            return f"{quoted(value)} (a bare number is millimetres)"
        return quoted(value) if bare or value == shown else f"{quoted(value)} ({shown})"

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        reader = core_schema.no_info_plain_validator_function(self.read)
        return core_schema.nullable_schema(reader) if NoneType in get_args(source) else reader

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        unit = "degrees" if self.kind == "angle" else "mm"
        number: dict[str, Any] = {"type": "number", "description": f"in {unit}"}
        scale = degrees(1.0) if self.kind == "angle" else 1.0
        if self.least > -inf:
            number["exclusiveMinimum" if self.above else "minimum"] = self.least * scale
        if self.most < inf:
            number["maximum"] = self.most * scale
        text = {"type": "string", "description": "with its unit"}
        examples = [text for text in _EXAMPLES[self.kind] if self._within(self._parse(text))][:3]
        about = self.expected + (f"; {self.allowed}" if self.allowed else "")
        return {"anyOf": [text, number], "description": about, "examples": examples}


Length = Annotated[float, Measure()]
"""Any finite length, mm."""

PositiveLength = Annotated[float, Measure(least=0.0, above=True)]
"""A length over 0 mm."""

Thickness = Annotated[float, Measure("thickness", least=0.0, above=True)]
"""A thickness over 0 mm; ounces too."""

Count = Annotated[int, Field(strict=True)]
"""A whole number, written as one: neither ``2.0`` nor ``"2"`` nor ``true``."""

Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
"""A finite number, written as one."""


def _one_line(value: str) -> str:
    if not value.isprintable() or value != value.strip():
        raise mistake(f"found {quoted(value)}, expected one line, no space before or after it")
    return value


OneLine = AfterValidator(_one_line)
"""For text that is shown in lists and written into files' headers: one line, no space at either end."""


def _no_truth_value(value: object) -> object:
    if isinstance(value, bool | float):
        raise mistake(f"found {quoted(value)}, expected a whole number")
    return value


NotTrue = BeforeValidator(_no_truth_value)
"""For a choice of whole numbers: ``true`` is not 1, nor is ``1.0``, though Python takes them for it."""


def _day(value: object) -> object:
    if isinstance(value, str):
        whole = re.fullmatch(r"\d{4}-\d\d-\d\d", value) is not None
    else:
        whole = not isinstance(value, bool | int | float | datetime)
    if not whole:
        raise mistake(f"found {quoted(value)}, expected a date such as 2026-03-14")
    return value


Day = BeforeValidator(_day)
"""For a date: no number, read as seconds since 1970, no digits as text and no time of a day."""


def mistake(text: str, *, other: tuple[str | int, ...] = ()) -> PydanticCustomError:
    """Return the error that makes one line of a file's report.

    Args:
        text: what was found and what was expected, as printed after the file and the key.
        other: another place in the file, from its root, that ``{other}`` in the text stands for.
    """
    return PydanticCustomError("mistake", "{text}", {"text": text, "other": other})
