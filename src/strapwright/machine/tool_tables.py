"""The tables of a machine profile about its tool and its line: blade, bridges, serial."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator

from strapwright.files.fields import Angle, Count, NonNegativeLength, PositiveLength, Thickness, mistake
from strapwright.files.validate import Strict
from strapwright.units import quoted


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
    cut_depth: Annotated[
        PositiveLength | None,
        Field(description="How far below the leather's face the tip goes to cut through; for G-code."),
    ] = None
    swivel_depth: Annotated[
        NonNegativeLength | None,
        Field(description="How deep the tip stays while the blade swivels at a corner; none: as it cuts."),
    ] = None
    depth_per_pass: Annotated[
        PositiveLength | None, Field(description="The most the blade takes in one pass.")
    ] = None
    safe_height: Annotated[
        PositiveLength, Field(description="How high above the leather the tip travels; for G-code.")
    ] = 5.0

    @field_validator("swivel_depth")
    @classmethod
    def _less_than_the_cut(cls, depth: float | None, info: ValidationInfo) -> float | None:
        cut = info.data.get("cut_depth")
        if depth is not None and cut is not None and depth > cut:
            raise mistake(f"found {depth:g} mm, deeper than cut_depth, {cut:g} mm; expected less")
        return depth


class Bridges(Strict):
    """``[bridges]``: short gaps left in an outline, so that the part stays in the hide till it is freed."""

    count: Annotated[Count, Field(ge=1, le=100, description="Bridges on each outline.")]
    width: Annotated[PositiveLength, Field(description="How long each is left uncut.")]
    keep_out: Annotated[
        NonNegativeLength, Field(description="How far from tips, holes and ends none may stand.")
    ] = 20.0


_WORD = r"^[\x01-\x7f]{1,16}$"


class Serial(Strict):
    """``[serial]``: how the machine is spoken to over a serial line."""

    baud: Annotated[Count, Field(ge=1200, le=4_000_000, description="Bits a second.", examples=[115200])]
    hold: Annotated[
        str, Field(pattern=_WORD, description="What stops the motion at once, sent without a line end.")
    ]
    resume: Annotated[
        str, Field(pattern=_WORD, description="What goes on after a hold, sent without a line end.")
    ]
    reset: Annotated[
        str, Field(pattern=_WORD, description="What ends everything and turns the tool off, sent likewise.")
    ]
    ok: Annotated[
        str, Field(pattern=_WORD, description="What the machine's answer to a good line begins with.")
    ] = "ok"
    error: Annotated[
        str, Field(pattern=_WORD, description="What its answer to a line it refuses begins with.")
    ] = "error"
    buffer: Annotated[
        Count, Field(ge=16, le=65536, description="Characters it takes in ahead of what it does.")
    ] = 128

    @field_validator("resume", "reset", "error")
    @classmethod
    def _told_apart(cls, word: str, info: ValidationInfo) -> str:
        other = {"resume": "hold", "error": "ok"}.get(info.field_name or "")
        for name in (other,) if other else ("hold", "resume"):
            if info.data.get(name) == word:
                raise mistake(f"found {quoted(word)}, the same as {name}; expected a word of its own")
        return word
