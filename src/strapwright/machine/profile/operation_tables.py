"""The tables of a machine profile about its operations: layer, colour, pen and drive of each."""

from __future__ import annotations

import re
from typing import Annotated, Final

from pydantic import Field, ValidationInfo, field_validator

from strapwright.core.units import quoted
from strapwright.files.fields import Count, Number, OneLine, mistake
from strapwright.files.validate import Strict

_FORBIDDEN_IN_LAYER: Final = '<>/\\":;?*|=`,'

Layer = Annotated[str, Field(min_length=1, max_length=80, description="Layer or group in the files.")]
Color = Annotated[
    str, Field(pattern=r"^#[0-9A-Fa-f]{6}$", description="Colour as #RRGGBB.", examples=["#009E73"])
]
Pen = Annotated[Count, Field(ge=1, le=8, description="HP-GL's pen.")]


class OperationTable(Strict):
    """What every operation has: layer, colour, pen and drive."""

    enabled: Annotated[
        bool,
        Field(strict=True, description="Whether the machine does it; if not, it is left to the hand."),
    ] = True
    layer: Layer
    color: Color
    pen: Pen
    tool: (
        Annotated[
            str,
            Field(min_length=1, max_length=60, description="What is put in for it, in words."),
            OneLine,
        ]
        | None
    ) = None
    speed_mm_s: Annotated[Number, Field(ge=0.1, le=3000, description="Speed, mm/s.")] | None = None
    power_percent: (
        Annotated[Number, Field(ge=0.1, le=100, description="A laser's power, percent.")] | None
    ) = None
    passes: Annotated[Count, Field(ge=1, le=20, description="How often it goes round.")] = 1
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


class CutTable(OperationTable):
    """``[operation.cut]``: outlines, slots and the holes the machine makes."""

    layer: Layer = "cut"
    color: Color = "#009E73"
    pen: Pen = 1

    @field_validator("enabled")
    @classmethod
    def _cuts(cls, enabled: bool) -> bool:
        if not enabled:
            raise mistake("found false, expected true: a machine that cuts nothing makes no strap")
        return enabled


class ScoreTable(OperationTable):
    """``[operation.score]``: fold lines and crease lines."""

    layer: Layer = "score"
    color: Color = "#E69F00"
    pen: Pen = 2


class PunchTable(OperationTable):
    """``[operation.punch]``: centre marks for holes that are punched by hand."""

    layer: Layer = "punch"
    color: Color = "#CC79A7"
    pen: Pen = 3


class OperationTables(Strict):
    """``[operation.…]``: one table for each operation; a missing table or key has its default.

    The default colours come from the Okabe–Ito palette, which colour-blind people can tell apart.
    """

    cut: Annotated[CutTable, Field(default_factory=CutTable)]
    score: Annotated[ScoreTable, Field(default_factory=ScoreTable, validate_default=True)]
    punch: Annotated[PunchTable, Field(default_factory=PunchTable, validate_default=True)]

    @field_validator("score", "punch")
    @classmethod
    def _own_layer(cls, table: OperationTable, info: ValidationInfo) -> OperationTable:
        for name, other in _others(table, info):
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
        for name, other in _others(table, info):
            if table.pen == other.pen:
                raise mistake(
                    f"pen {table.pen} is operation.{name}'s already, and a plotter would cut what it should "
                    "mark; expected a pen of its own, 1 to 8"
                )
        return table


def _others(table: OperationTable, info: ValidationInfo) -> list[tuple[str, OperationTable]]:
    """Return the operations a table stands beside in files: none where either is left to the hand."""
    return [(name, other) for name, other in info.data.items() if table.enabled and other.enabled]


def _layer_key(layer: str) -> str:
    """Return what two layer names share when a program cannot tell them apart."""
    return re.sub(r"\s+", "-", layer.casefold())
