"""Dimensions of part definitions: each a named field with unit, default, allowed range and reason."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from strapwright.core.errors import PartError

if TYPE_CHECKING:
    from collections.abc import Callable

    from _typeshed import DataclassInstance


@dataclass(frozen=True)
class Dimension:
    """What a dimension may be and why.

    Args:
        low: least value allowed.
        high: greatest value allowed.
        reason: why the default and the range are what they are.
        unit: of value and range.
    """

    low: float
    high: float
    reason: str
    unit: str = "mm"


def dimension(
    low: float,
    high: float,
    reason: str,
    *,
    default: float | None = None,
    usual: Callable[[Any], float] | None = None,
) -> Any:
    """Declare a dimension, in mm, of a frozen dataclass of part numbers.

    Args:
        low: least value allowed, mm.
        high: greatest value allowed, mm.
        reason: why the default and the range are what they are.
        default: value taken where none is given, mm; without one the field must be given.
        usual: gives the default out of the dimensions before it, mm, as `check_dimensions` fills it in.

    Returns:
        A dataclass field; typed ``Any`` because it stands where a float is annotated.
    """
    meta = {"dimension": Dimension(low, high, reason), "usual": usual}
    if default is None and usual is None:
        return dataclasses.field(metadata=meta)
    return dataclasses.field(default=default, metadata=meta)


@cache
def dimensions_of(definition: type[DataclassInstance]) -> dict[str, Dimension]:
    """Return the declared dimensions of a part definition by field name."""
    return {
        item.name: item.metadata["dimension"]
        for item in dataclasses.fields(definition)
        if "dimension" in item.metadata
    }


def check_dimensions(definition: DataclassInstance) -> None:
    """Fill in the usual values of dimensions not given, and refuse values outside their declared range.

    Raises:
        PartError: naming every field that is out, its value and what is allowed.
    """
    for item in dataclasses.fields(definition):
        if (usual := item.metadata.get("usual")) and getattr(definition, item.name) is None:
            object.__setattr__(definition, item.name, usual(definition))
    wrong = []
    for name, dim in dimensions_of(type(definition)).items():
        value = getattr(definition, name)
        if not (math.isfinite(value) and dim.low <= value <= dim.high):
            wrong.append(
                f"{name} is {value:g} {dim.unit}; allowed are {dim.low:g} to {dim.high:g} {dim.unit} "
                f"({dim.reason})"
            )
    if wrong:
        raise PartError("; ".join(wrong))
