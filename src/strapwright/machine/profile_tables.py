"""The tables of a machine profile as a person writes them, each key with its range."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import Field, ValidationInfo, field_validator

from strapwright.files.fields import (
    Angle,
    Count,
    Measure,
    NonNegativeLength,
    Number,
    OneLine,
    PositiveLength,
    Thickness,
    mistake,
)
from strapwright.files.validate import Strict
from strapwright.trade.leather import Tannage
from strapwright.trade.safety import CutterKind
from strapwright.units import quoted

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from pydantic_core import PydanticCustomError

    from strapwright.files.wording import Loc

FormatName = Literal["dxf", "svg"]
"""Formats a profile may name; the writers register under the same names, and a test holds the two equal."""

MOST_KERF: Final = 2.0
"""Kerfs wider than this are a slip of the pen, mm: no laser that cuts belt leather is so coarse."""

_FORBIDDEN_IN_LAYER: Final = '<>/\\":;?*|=`,'


BedLength = Annotated[float, Measure(least=50.0, most=50_000.0)]
"""A bed's reach: under 50 mm or over 50 m is a slip of units, mm."""


class MachineTable(Strict):
    """``[machine]``: what it is and how much it reaches."""

    name: Annotated[
        str,
        Field(min_length=1, max_length=80, description="The machine's name, as it is told on sheets."),
        OneLine,
    ]
    kind: Annotated[
        CutterKind, Field(description="What cuts: a laser beam, or a blade dragged through the leather.")
    ]
    bed: Annotated[
        tuple[BedLength, BedLength],
        Field(description="The bed's reach along x and along y.", examples=[["600 mm", "400 mm"]]),
    ]
    pass_through: Annotated[
        bool,
        Field(strict=True, description="Whether a hide may stick out at both ends and be drawn through."),
    ] = False
    formats: Annotated[
        tuple[FormatName, ...], Field(min_length=1, description="The formats its software reads.")
    ] = ("dxf", "svg")
    corner: Annotated[
        Literal["round", "miter"],
        Field(description="How the tool's path goes round an outer corner: on an arc, or to a point."),
    ] = "round"
    least_hole: Annotated[
        PositiveLength | None,
        Field(description="The smallest round hole it makes well; smaller ones become punch marks."),
    ] = None

    @field_validator("formats")
    @classmethod
    def _once_each(cls, formats: tuple[str, ...]) -> tuple[str, ...]:
        if len(set(formats)) < len(formats):
            raise mistake("expected each format once")
        return formats


class KerfRow(Strict):
    """``[[kerf]]``: how wide a cut the machine makes, measured on one leather."""

    material: Annotated[Tannage, Field(description="The leather's tannage.")]
    thickness: Annotated[Thickness, Field(description="The leather's thickness.")]
    width: Annotated[PositiveLength, Field(description="The width of the cut, measured.")]
    measured: Annotated[
        date,
        Field(strict=True, description="The day it was measured.", examples=["2026-03-14"]),
    ]

    @field_validator("width")
    @classmethod
    def _believable(cls, width: float) -> float:
        if width > MOST_KERF:
            raise mistake(f"found {width:g} mm, expected {MOST_KERF:g} mm or less")
        return width


class Blade(Strict):
    """``[blade]``: a drag knife's blade."""

    offset: Annotated[
        NonNegativeLength, Field(description="How far the blade's tip trails the spindle's axis.")
    ]
    max_thickness: Annotated[Thickness, Field(description="The thickest leather it goes through.")]
    least_radius: Annotated[
        NonNegativeLength, Field(description="The tightest curve it follows without tearing.")
    ] = 1.5
    swivel_angle: Annotated[
        Angle, Field(validate_default=True, description="Corners sharper than this are swivelled.")
    ] = "25 deg"  # type: ignore[assignment]  # validated as a written angle
    lead_in: Annotated[
        NonNegativeLength, Field(description="How far before the cut's start the blade goes in.")
    ] = 4.0
    overcut: Annotated[
        NonNegativeLength, Field(description="How far past its start a closed cut goes on.")
    ] = 1.0
    mode: Annotated[
        Literal["exact", "plain"],
        Field(description="exact: the path allows for the blade; plain: the machine does so itself."),
    ] = "exact"


class OperationTable(Strict):
    """``[operation.cut]``, ``[operation.score]`` or ``[operation.punch]``: layer, colour and drive."""

    layer: Annotated[str, Field(min_length=1, max_length=80, description="Layer or group in the files.")]
    color: Annotated[
        str,
        Field(pattern=r"^#[0-9A-Fa-f]{6}$", description="Colour as #RRGGBB.", examples=["#009E73"]),
    ]
    speed_mm_s: Annotated[Number, Field(gt=0, description="Speed, mm/s.")] | None = None
    power_percent: Annotated[Number, Field(gt=0, le=100, description="A laser's power, percent.")] | None = (
        None
    )
    passes: Annotated[Count, Field(ge=1, le=20, description="How often it goes round.")] = 1

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


def _layer_key(layer: str) -> str:
    """Return what two layer names share when a program cannot tell them apart."""
    return re.sub(r"\s+", "-", layer.casefold())


class MachineFile(Strict):
    """A machine profile."""

    machine: MachineTable
    kerf: Annotated[
        tuple[KerfRow, ...], Field(description="One row for each leather measured; lasers only.")
    ] = ()
    blade: Annotated[Blade | None, Field(description="Drag knives only, and always there.")] = None
    operation: Annotated[OperationTables, Field(default_factory=OperationTables)]

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
        """Yield what does not fit the kind of machine."""
        machine = table.get("machine")
        kind = machine.get("kind") if isinstance(machine, dict) else None
        if kind == "drag_knife":
            if "blade" not in table:
                yield (
                    ("blade",),
                    mistake("missing; a drag knife needs [blade] with offset and max_thickness"),
                )
            if table.get("kerf"):
                yield (
                    ("kerf",),
                    mistake("a blade takes no leather away; leave [[kerf]] out for a drag knife"),
                )
        if kind == "laser" and "blade" in table:
            yield ("blade",), mistake("a laser has no blade; leave [blade] out")

    @field_validator("kerf")
    @classmethod
    def _one_row_each(cls, rows: tuple[KerfRow, ...]) -> tuple[KerfRow, ...]:
        seen: dict[tuple[Tannage, float], int] = {}
        for number, row in enumerate(rows, 1):
            first = seen.setdefault((row.material, round(row.thickness, 2)), number)
            if first != number:
                raise mistake(
                    f"rows {first} and {number} are both for {row.material} leather of "
                    f"{row.thickness:g} mm; expected one row for each thickness"
                )
        return rows
