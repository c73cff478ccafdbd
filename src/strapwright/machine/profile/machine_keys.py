"""The tables of a machine profile as a person writes them, each key with its range."""

from __future__ import annotations

import math
import re
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import AfterValidator, BeforeValidator, Field, StrictBool, ValidationInfo, field_validator

from strapwright.core.text import quoted
from strapwright.core.units import Units
from strapwright.files.fields import Count, Measure, Number, OneLine, mistake
from strapwright.files.validate import Strict
from strapwright.machine.profile.tool_keys import Blade, Bridges, GcodeLines, Laser, Serial
from strapwright.rules.leather import Tannage
from strapwright.rules.safety import CutterKind

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.files.validate import Faults

MOST_KERF: Final = 2.0
"""Kerfs wider than this are a slip of the pen, mm: no laser that cuts belt leather is so coarse."""

LEAST_SCALE: Final = 0.95

MOST_SCALE: Final = 1.05
"""An axis further out than 5 % is set up wrongly, or the cross was misread."""

FIRST_DAY: Final = date(1990, 1, 1)
"""Nothing in use today was measured before this."""

Scale = Annotated[Number, Field(ge=LEAST_SCALE, le=MOST_SCALE)]
"""What a drawn length comes out as, over what it was drawn."""

_FORBIDDEN_IN_LAYER: Final = '<>/\\":;?*|=`,'


Layer = Annotated[str, Field(min_length=1, max_length=80, description="Layer or group in the files.")]


Color = Annotated[
    str, Field(pattern=r"^#[0-9A-Fa-f]{6}$", description="Colour as #RRGGBB.", examples=["#009E73"])
]


Pen = Annotated[Count, Field(ge=1, le=8, description="HP-GL's pen.")]

Speed = Annotated[Number, Field(ge=0.1, le=3000)]
"""Of a cut, mm/s."""

Power = Annotated[Number, Field(ge=0.1, le=100)]
"""Of a laser, percent."""

Passes = Annotated[Count, Field(ge=1, le=20)]
"""How often a path is gone along."""


FormatName = Literal["dxf", "dxf_r12", "svg", "gcode", "hpgl"]
"""Formats a profile may name; the writers register under the same names, and a test holds the two equal."""


BedLength = Annotated[float, Measure(least=50.0, most=50_000.0)]
"""A bed's reach: under 50 mm or over 50 m is a slip of units, mm."""


HAIRLINE: Final = 0.01
"""The width of a hairline in SVG, mm: programs that cut by width take up to 0.001 in (common practice)."""


def _no_hairline(value: object) -> object:
    if isinstance(value, str) and value.strip()[:1].isalpha() and value != "hairline":
        raise mistake(f'found {quoted(value)}, expected "hairline" or a length such as "0.1 mm"')
    return HAIRLINE if value == "hairline" else value


class MachineTable(Strict):
    """``[machine]``: what it is, how much it reaches and how it moves."""

    name: Annotated[str, Field(min_length=1, max_length=80), OneLine]
    """The machine's name, as sheets show it."""

    kind: CutterKind
    """What cuts: a laser beam, or a blade dragged through the leather."""

    bed: Annotated[tuple[BedLength, BedLength], Field(examples=[["600 mm", "400 mm"]])]
    """The bed's reach along x and along y."""

    pass_through: StrictBool = False
    """Whether a hide may stick out at both ends and be moved through."""

    formats: Annotated[tuple[FormatName, ...], Field(min_length=1)] = ("dxf", "svg")
    """The formats its software reads."""

    corner: Literal["round", "miter"] = "round"
    """How the tool's path goes round an outer corner: on an arc, or to a point."""

    origin: Literal["front_left", "front_right", "back_left", "back_right"] = "front_left"
    """The corner of the bed where the machine's own x and y are 0."""

    x_axis: Literal["right", "left"] | None = None
    """Which way the machine's x counts up; none: from the origin into the bed."""

    y_axis: Literal["back", "front"] | None = None
    """Which way the machine's y counts up; none: from the origin into the bed."""

    units: Units = "mm"
    """What the numbers in files that drive it count."""

    svg_stroke: Annotated[float, Measure(least=0.001, most=5.0), BeforeValidator(_no_hairline)] = 0.1
    """How wide lines are in SVG; "hairline", which is 0.01 mm, for machines that cut only the thinnest lines
    and engrave the others."""

    rapid_mm_s: Annotated[Number, Field(ge=1, le=5000)] | None = None
    """Speed of travel, mm/s."""

    acceleration_mm_s2: Annotated[Number, Field(ge=1, le=100_000)] | None = None
    """How fast it gathers speed, mm/s²."""

    max_power: Annotated[Number, Field(ge=1, le=100_000)] | None = None
    """A laser's S word at 100 % of its power."""

    registration: Literal["scrap", "bed_pins"] = "scrap"
    """How a hide is placed again between two windows: by holes cut in scrap, or pins on the bed's edge."""

    pin_pitch: Annotated[float | None, Measure(least=5.0, most=5000.0)] = None
    """From pin to pin along the bed."""

    window_overlap: Annotated[float, Measure(least=0.0, most=5000.0)] = 30.0
    """How much of one window the next reaches again."""

    window_margin: Annotated[float, Measure(least=0.0, most=1000.0)] = 10.0
    """How far from the bed's edge a window stays."""

    group_by: Literal["part", "tool"] = "part"
    """part: each part is made whole before the next; tool: all scores first, then all punch marks, then all
    cuts, a part's holes before its outline."""

    tool_change: Literal["none", "by_hand"] = "none"
    """by_hand: the machine stops before each operation that needs another tool."""

    share_edges: StrictBool = False
    """Whether neighbouring straps may share one cut."""

    ends_only: StrictBool = False
    """Whether long edges are left to the strap cutter on the bench."""

    @field_validator("formats")
    @classmethod
    def _once_each(cls, formats: tuple[str, ...]) -> tuple[str, ...]:
        if len(set(formats)) < len(formats):
            raise mistake("expected each format once")
        return formats

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield what is missing or does not belong to this kind of machine."""
        kind, by_hand = table.get("kind"), table.get("tool_change") == "by_hand"
        if table.get("registration") == "bed_pins" and "pin_pitch" not in table:
            yield ("pin_pitch",), 'missing; registration = "bed_pins" needs the pins\' pitch'
        if kind == "drag_knife" and "max_power" in table:
            yield ("max_power",), "a blade has no power; leave it out for a drag knife"
        if by_hand and kind == "laser":
            yield ("tool_change",), "a laser has no tool to change; leave it out for a laser"
        elif by_hand and table.get("group_by") != "tool":
            each = 'found "by_hand" with parts made one by one: it would stop for each; set group_by = "tool"'
            yield ("tool_change",), each


class Limits(Strict):
    """``[limits]``: what the machine must not be asked for."""

    least_hole: Annotated[float | None, Measure(least=0.1, most=100.0)] = None
    """The smallest round hole it makes well; smaller ones become punch marks."""

    max_thickness: Annotated[float | None, Measure("thickness", least=0.3, most=100.0)] = None
    """The thickest leather it cuts, or that fits under its head."""

    hpgl_units: Annotated[Count, Field(ge=1000, le=2_147_483_647)] = 32_767
    """The furthest from its zero it takes a coordinate of HP-GL, in plotter units of 0.025 mm: its manual
    says, 32767 for many."""

    kerf_max_age_days: Annotated[Count, Field(ge=1, le=36500)] | None = None
    """How old a measured kerf may be, days; none: any age."""


class MachineFile(Strict):
    """A machine profile."""

    machine: MachineTable
    limits: Annotated[Limits, Field(default_factory=Limits)]
    kerf: tuple[KerfRow, ...] = ()
    """One row for each leather measured, the newest counts; lasers only."""

    scale: tuple[ScaleRow, ...] = ()
    """How far the axes are out of scale; the newest row counts."""

    blade: Blade | None = None
    """Drag knives only; required there."""

    bridges: Bridges | None = None
    """Gaps that hold a part in the hide; none: cut right round."""

    laser: Laser | None = None
    """Lasers only."""

    gcode: Annotated[GcodeLines, Field(default_factory=GcodeLines)]
    """Lines of G-code the machine wants."""

    serial: Serial | None = None
    """For sending over a serial line."""

    operation: Annotated[OperationTables, Field(default_factory=OperationTables)]

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield what does not fit the kind of machine."""
        machine = table.get("machine")
        kind = machine.get("kind") if isinstance(machine, dict) else None
        knife = kind == "drag_knife"
        if knife and "blade" not in table:
            yield ("blade",), "missing; a drag knife needs [blade] with offset and max_thickness"
        if knife and table.get("kerf"):
            yield ("kerf",), "a blade takes no leather away; leave [[kerf]] out for a drag knife"
        if knife and "laser" in table:
            yield ("laser",), "a drag knife has no beam; leave [laser] out"
        if kind == "laser" and "blade" in table:
            yield ("blade",), "a laser has no blade; leave [blade] out"

    @field_validator("operation")
    @classmethod
    def _enough_to_work_with(cls, tables: OperationTables, info: ValidationInfo) -> OperationTables:
        blade, machine = info.data.get("blade"), info.data.get("machine")
        if tables.score.enabled:
            return tables
        if blade is not None and blade.mode == "exact":
            raise mistake(
                'score.enabled is false, and with blade.mode = "exact" the blade turns as shallow as it '
                'scores; expected true, or mode = "plain"'
            )
        if machine is not None and machine.ends_only:
            raise mistake(
                "score.enabled is false, and with machine.ends_only straps are laid by scored lines; "
                "expected true, or ends_only = false"
            )
        return tables

    @field_validator("kerf")
    @classmethod
    def _narrower_than_holes(cls, rows: tuple[KerfRow, ...], info: ValidationInfo) -> tuple[KerfRow, ...]:
        limits = info.data.get("limits")
        least = math.inf if limits is None or limits.least_hole is None else limits.least_hole
        for number, row in enumerate(rows, 1):
            if row.width >= least:
                raise mistake(
                    f"row {number} is {row.width:g} mm wide and limits.least_hole is {least:g} mm: a hole no "
                    "wider than the cut cannot be made; expected a narrower kerf or a larger least_hole"
                )
        return rows


class OperationTable(Strict):
    """What every operation has: layer, colour, pen and drive."""

    enabled: StrictBool = True
    """Whether the machine does it; if not, it is left to the hand."""

    layer: Layer
    color: Color
    pen: Pen
    tool: Annotated[str, Field(min_length=1, max_length=60), OneLine] | None = None
    """What is put in for it, in words."""

    speed_mm_s: Speed | None = None
    """Speed, mm/s."""

    power_percent: Power | None = None
    """A laser's power, percent."""

    passes: Passes = 1
    """How often it goes round."""

    velocity: Annotated[Number, Field(ge=0.1, le=127)] | None = None
    """HP-GL's pen velocity, cm/s; none: the plotter's own."""

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

    The default colours come from the Okabe–Ito palette, made for colour-blind people.
    """

    cut: Annotated[CutTable, Field(default_factory=CutTable)]
    score: Annotated[ScoreTable, Field(default_factory=ScoreTable, validate_default=True)]
    punch: Annotated[PunchTable, Field(default_factory=PunchTable, validate_default=True)]

    @field_validator("score", "punch")
    @classmethod
    def _own_layer_and_pen(cls, table: OperationTable, info: ValidationInfo) -> OperationTable:
        # What is left to the hand stands in no file beside the others.
        others = [(name, other) for name, other in info.data.items() if table.enabled and other.enabled]
        for name, other in others:
            one, two = _layer_key(table.layer), _layer_key(other.layer)
            if one == two or one.startswith(f"{two}-") or two.startswith(f"{one}-"):
                raise mistake(
                    f"layer {quoted(table.layer)} is too like layer {quoted(other.layer)} "
                    f"of operation.{name}; expected a name of its own"
                )
        for name, other in others:
            if table.pen == other.pen:
                raise mistake(
                    f"pen {table.pen} is operation.{name}'s already, and a plotter would cut what it should "
                    "mark; expected a pen of its own, 1 to 8"
                )
        return table


def _layer_key(layer: str) -> str:
    """Return what two layer names share that a program takes for one."""
    return re.sub(r"\s+", "-", layer.casefold())


def _been(day: date) -> date:
    today = date.today()
    if not FIRST_DAY <= day <= today:
        raise mistake(f"found {day}, expected a day from {FIRST_DAY} to today, {today}")
    return day


Day = Annotated[
    date,
    Field(strict=True, description="The day it was measured.", examples=["2026-03-14"]),
    AfterValidator(_been),
]
"""A date written as one, not as text, and not of the future."""


class KerfRow(Strict):
    """``[[kerf]]``: how wide a cut the machine makes, measured on one leather; older rows are history."""

    material: Tannage
    """The leather's tannage."""

    thickness: Annotated[float, Measure("thickness", least=0.3, most=100.0)]
    """The leather's thickness."""

    width: Annotated[float, Measure(least=0.01, most=MOST_KERF)]
    """The width of the cut, measured."""

    measured: Day
    hole_width: Annotated[float | None, Measure(least=0.01, most=MOST_KERF)] = None
    """The width of the cut round a small hole, measured on one; none: width."""

    spread: Annotated[float | None, Measure(least=0.0, most=MOST_KERF)] = None
    """How far apart several readings of the width lay, widest less narrowest."""

    speed_mm_s: Speed | None = None
    """Speed it was cut at, mm/s."""

    power_percent: Power | None = None
    """Power it was cut with, percent."""

    passes: Passes | None = None
    """How often the beam went round."""


class ScaleRow(Strict):
    """``[[scale]]``: how far the axes are out, measured on the coupon's cross; older rows are history."""

    x: Scale | None = None
    """Length along x as cut, over the length as drawn."""

    y: Scale | None = None
    """Length along y as cut, over the length as drawn."""

    measured: Day

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Refuse a row that measures neither axis."""
        if "x" not in table and "y" not in table:
            yield (), "expected x, y or both"
