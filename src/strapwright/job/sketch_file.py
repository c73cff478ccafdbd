"""A maker's sketch that a job names: a Python file beside it, read with the job and part of its digest."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Final

from pydantic import BeforeValidator, Field, ValidationInfo

from strapwright.errors import FileProblems
from strapwright.files.fields import mistake
from strapwright.files.read import read_text
from strapwright.units import quoted

SKETCH_LIMIT_MB: Final = 1.0
"""Largest sketch read, in MB: a drawing in code takes a few kilobytes."""


@dataclass(frozen=True)
class SketchFile:
    """A Python file of the maker's, as it was when the job was read.

    Args:
        name: as the job gives it.
        source: its text; what is run is what was read. It counts in the job's digest, what it imports does
            not.
    """

    name: str
    source: str


def _read(value: object, info: ValidationInfo) -> object:
    """Read the file a text names, from the job's folder on."""
    if isinstance(value, dict) and set(value) == {"name", "source"}:
        return SketchFile(str(value["name"]), str(value["source"]))
    if not isinstance(value, str):
        return value
    if not value.endswith(".py"):
        raise mistake(f'found {quoted(value)}, expected a Python file such as "my_tip.py"')
    path = Path((info.context or {}).get("folder") or ".") / value
    try:
        return SketchFile(value, read_text(path, limit_mb=SKETCH_LIMIT_MB))
    except FileProblems as error:
        raise mistake(str(error)) from error


SketchOrName = Annotated[
    SketchFile | None,
    BeforeValidator(_read, json_schema_input_type=str),
    Field(
        description="A Python file, its path from the job's folder on, that draws it with CadQuery. It is "
        "run as your own code, with all that code may do: name none you have not read.",
        examples=["my_tip.py"],
    ),
]
"""A sketch, which a file calls by its name."""
