"""The tables of a machine profile about its tool and its line: blade, bridges, serial."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator

from strapwright.files.fields import (
    Angle,
    Count,
    NonNegativeLength,
    Number,
    PositiveLength,
    Thickness,
    mistake,
)
from strapwright.files.validate import Strict
from strapwright.units import quoted


class Blade(Strict):
    """``[blade]``: a drag knife's blade."""

    offset: Annotated[
        NonNegativeLength,
        Field(
            description="How far the blade's tip trails the spindle's axis; an error of 0.05 mm moves the "
            "cut at a sharp tip by up to 0.15 mm."
        ),
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
    score_depth: Annotated[
        PositiveLength, Field(description="How deep scores and punch marks go; for G-code.")
    ] = 0.5
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
_ANSWER = r"^[\x21-\x7e][\x20-\x7e]{0,31}$"
_ANSWERS = ("acknowledgement", "error", "alarm", "greeting")


class Serial(Strict):
    """``[serial]``: how the machine is spoken to over a serial line, every word the machine's own.

    Without its words a machine is sent one line at a time, each after any answer to the one before.
    """

    baud: Annotated[Count, Field(ge=1200, le=4_000_000, description="Bits a second.", examples=[115200])]
    acknowledgement: Annotated[
        str | None,
        Field(
            pattern=_ANSWER,
            description="What the machine's answer to a good line begins with; none: anything it says.",
        ),
    ] = None
    error: Annotated[
        str | None,
        Field(
            pattern=_ANSWER,
            description="What its answer to a line it refuses begins with; none: a refusal is not noticed.",
        ),
    ] = None
    alarm: Annotated[
        str | None,
        Field(
            pattern=_ANSWER,
            description="What it begins with when it has stopped by itself; none: an alarm is not noticed.",
        ),
    ] = None
    greeting: Annotated[
        str | None,
        Field(
            pattern=_ANSWER,
            description="What it begins with when it has just started; during a run: that it restarted.",
        ),
    ] = None
    startup_s: Annotated[
        Number,
        Field(ge=1, le=120, description="How long it may take to answer after its port is opened, seconds."),
    ] = 10.0
    buffer: Annotated[
        Count | None,
        Field(
            ge=16,
            le=65536,
            description="Characters it takes in ahead of what it does; none: one line, then its answer.",
        ),
    ] = None
    hold: Annotated[
        str | None,
        Field(pattern=_WORD, description="What stops the motion at once, sent without a line end."),
    ] = None
    resume: Annotated[
        str | None, Field(pattern=_WORD, description="What goes on after a hold, sent without a line end.")
    ] = None
    reset: Annotated[
        str | None,
        Field(
            pattern=_WORD,
            description="What ends everything and turns the tool off, sent likewise; none: only the "
            "machine's own switch stops it.",
        ),
    ] = None

    @field_validator("buffer", "resume")
    @classmethod
    def _not_alone(cls, value: object, info: ValidationInfo) -> object:
        needed = {"buffer": "acknowledgement", "resume": "hold"}[info.field_name or ""]
        if value is not None and info.data.get(needed) is None:
            raise mistake(f"found {quoted(value)} without {needed}; expected both or neither")
        return value

    @field_validator("resume", "reset")
    @classmethod
    def _told_apart(cls, word: str | None, info: ValidationInfo) -> str | None:
        for name in ("hold", "resume"):
            if word is not None and info.data.get(name) == word:
                raise mistake(f"found {quoted(word)}, the same as {name}; expected a word of its own")
        return word

    @field_validator(*_ANSWERS)
    @classmethod
    def _known_by_its_beginning(cls, word: str | None, info: ValidationInfo) -> str | None:
        for name in _ANSWERS:
            other = info.data.get(name)
            if word and other and (word.startswith(other) or other.startswith(word)):
                raise mistake(
                    f"found {quoted(word)}, which cannot be told from {name}, {quoted(other)}; "
                    "expected words of which none begins with another"
                )
        return word
