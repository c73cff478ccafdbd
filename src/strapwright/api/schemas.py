"""The JSON Schema of each file a person writes."""

from __future__ import annotations

from importlib import import_module
from typing import Any, Final

from strapwright.files.validate import schema_of

SCHEMAS: Final = {
    "job": ("strapwright.job.spec.job", "Job", "strapwright job"),
    "house": ("strapwright.job.spec.job", "HouseFile", "strapwright house"),
    "catalogue": ("strapwright.job.catalogue.file", "CatalogueFile", "strapwright catalogue"),
    "hide": ("strapwright.nesting.hide.file", "HideFile", "strapwright hide"),
    "strips": ("strapwright.nesting.strips.file", "StripsFile", "strapwright strips"),
    "machine": ("strapwright.machine.profile.machine_keys", "MachineFile", "strapwright machine profile"),
}
"""The model of each kind of file, where it is defined, and the schema's title."""


def schema(what: str) -> dict[str, Any]:
    """Return the JSON Schema of a file a person writes, for editors.

    Args:
        what: one of `SCHEMAS`.
    """
    module, model, title = SCHEMAS[what]
    return schema_of(getattr(import_module(module), model), title)
