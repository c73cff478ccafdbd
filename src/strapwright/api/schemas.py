"""The JSON Schema of each file a person writes."""

from __future__ import annotations

from importlib import import_module
from typing import Any, Final

SCHEMAS: Final = {
    "job": "job.spec.job",
    "house": "job.spec.job",
    "catalogue": "job.catalogue.file",
    "hide": "nesting.hide.file",
    "machine": "machine.profile.machine",
}
"""Where the schema of each kind of file is made."""


def schema(what: str) -> dict[str, Any]:
    """Return the JSON Schema of a file a person writes.

    Args:
        what: one of `SCHEMAS`.
    """
    made: dict[str, Any] = getattr(import_module(f"strapwright.{SCHEMAS[what]}"), f"{what}_schema")()
    return made
