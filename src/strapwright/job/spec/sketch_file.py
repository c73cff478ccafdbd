"""A maker's sketch that a job names: a Python file beside it, read with the job and part of its digest.

A job is data. Code comes only from a file that the user has put beside it, never from the job's own text.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path, PureWindowsPath
from typing import Annotated, Final

from pydantic import BeforeValidator, Field, ValidationInfo

from strapwright.core.errors import FileProblems
from strapwright.core.units import quoted
from strapwright.files.fields import mistake
from strapwright.files.read import read_text

SKETCH_LIMIT_MB: Final = 1.0
"""Largest sketch read, in MB: a drawing in code takes a few kilobytes."""

_EXPECTED: Final = 'expected a Python file in the job\'s own folder such as "my_tip.py"'


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
    """Read the file a text names in the job's folder."""
    if value is None or isinstance(value, SketchFile):
        return value
    if not isinstance(value, str) or not value.endswith(".py"):
        raise mistake(f"found {quoted(value)}, {_EXPECTED}")
    folder = Path((info.context or {}).get("folder") or ".")
    # A path knows both kinds of slash and a drive's letter if it is one of Windows.
    if PureWindowsPath(value).name != value or not value.isprintable() or _leads_out(folder / value):
        raise mistake(f"found {quoted(value)}, {_EXPECTED}, no path and no link out of it; move it there")
    try:
        return SketchFile(value, read_text(folder / value, limit_mb=SKETCH_LIMIT_MB))
    except FileProblems as error:
        raise mistake(str(error)) from error


def _leads_out(path: Path) -> bool:
    """Whether a file is a link to one in another folder."""
    try:
        return path.resolve(strict=True).parent != path.parent.resolve()
    except FileNotFoundError:
        return path.resolve().parent != path.parent.resolve()
    except (OSError, RuntimeError):  # links that go round in a ring
        return True


_FileName = Annotated[str, Field(pattern=r"^[^/\\]*\.py$")]

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
