"""The tables of a machine profile about its operations: layer, colour, pen and drive of each."""

from __future__ import annotations

import re
from typing import Annotated, Any, Final

from pydantic import Field, ValidationInfo, field_validator

from strapwright.files.fields import Count, Number, mistake
from strapwright.files.validate import Strict
from strapwright.units import quoted

_FORBIDDEN_IN_LAYER: Final = '<>/\\":;?*|=`,'

PENS: Final = {"cut": 1, "score": 2, "punch": 3}
"""The HP-GL pen of an operation whose table names none."""


class OperationTable(Strict):
    """``[operation.cut]``, ``[operation.score]`` or ``[operation.punch]``: layer, colour, pen and drive."""

    layer: Annotated[str, Field(min_length=1, max_length=80, description="Layer or group in the files.")]
    color: Annotated[
        str,
        Field(pattern=r"^#[0-9A-Fa-f]{6}$", description="Colour as #RRGGBB.", examples=["#009E73"]),
    ]
    speed_mm_s: Annotated[Number, Field(ge=0.1, le=3000, description="Speed, mm/s.")] | None = None
    power_percent: (
        Annotated[Number, Field(ge=0.1, le=100, description="A laser's power, percent.")] | None
    ) = None
    passes: Annotated[Count, Field(ge=1, le=20, description="How often it goes round.")] = 1
    pen: (
        Annotated[Count, Field(ge=1, le=8, description="HP-GL's pen; none: cut 1, score 2, punch 3.")] | None
    ) = None
    velocity: (
        Annotated[
            Number, Field(ge=0.1, le=127, description="HP-GL's pen velocity, cm/s; none: the plotter's own.")
        ]
        | None
    ) = None

    @field_validator("layer")
    @classmethod
    def _fit_for_files(cls, layer: str) -> str:
        bad = sorted({c for c in layer if c in _FORBIDDEN_IN_LAYER or not c.isprintable()})
        if bad:
            shown = " ".join(c if c.isprintable() else ascii(c)[1:-1] for c in bad)
            raise mistake(f"found {quoted(layer)}, expected a name without {shown}")
        if layer != layer.strip():
            raise mistake(f"found {quoted(layer)}, expected no space before or after the name")
        if layer.casefold() in ("0", "defpoints"):
            raise mistake(f"found {quoted(layer)}, a layer of DXF's own; expected another name")
        return layer


def _table(layer: str, color: str) -> Any:
    return Field(default=OperationTable(layer=layer, color=color), validate_default=True)


class OperationTables(Strict):
    """``[operation.…]``: one table for each operation; a missing one has its defaults.

    The default colours come from the Okabe–Ito palette, which colour-blind people can tell apart.
    """

    cut: Annotated[OperationTable, _table("cut", "#009E73")]
    score: Annotated[OperationTable, _table("score", "#E69F00")]
    punch: Annotated[OperationTable, _table("punch", "#CC79A7")]

    @field_validator("score", "punch")
    @classmethod
    def _own_layer(cls, table: OperationTable, info: ValidationInfo) -> OperationTable:
        for name, other in info.data.items():
            one, two = _layer_key(table.layer), _layer_key(other.layer)
            if one == two or one.startswith(f"{two}-") or two.startswith(f"{one}-"):
                raise mistake(
                    f"layer {quoted(table.layer)} cannot be told from layer {quoted(other.layer)} "
                    f"of operation.{name}; expected a name of its own"
                )
        return table

    @field_validator("score", "punch")
    @classmethod
    def _own_pen(cls, table: OperationTable, info: ValidationInfo) -> OperationTable:
        pen = table.pen or PENS[info.field_name or ""]
        for name, other in info.data.items():
            if pen == (other.pen or PENS[name]):
                raise mistake(
                    f"pen {pen} is operation.{name}'s already, and a plotter would cut what it should mark; "
                    "expected a pen of its own, 1 to 8"
                )
        return table


def _layer_key(layer: str) -> str:
    """Return what two layer names share when a program cannot tell them apart."""
    return re.sub(r"\s+", "-", layer.casefold())
