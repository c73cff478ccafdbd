"""The tables of a machine profile about its tool and its line: blade, laser, bridges, G-code, serial."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import AfterValidator, Field, ValidationInfo, field_validator

from strapwright.core.text import quoted
from strapwright.files.fields import Count, Measure, Number, mistake
from strapwright.files.validate import Strict

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.files.validate import Faults

Depth = Annotated[float, Measure(least=0.05, most=30.0)]
"""How deep a blade goes: under 0.05 mm it does not hold, and none is longer than 30 mm."""


Shallow = Annotated[float, Measure(least=0.05, most=3.0)]
"""How deep it goes where it does not cut through: deeper than 3 mm is no score."""


class Blade(Strict):
    """``[blade]``: a drag knife's blade."""

    offset: Annotated[float, Measure(least=0.0, most=10.0)]
    """How far the blade's tip trails the spindle's axis; an error of 0.05 mm moves the cut at a sharp tip by
    up to 0.15 mm."""

    max_thickness: Annotated[float, Measure("thickness", least=0.3, most=25.0)]
    """The thickest leather it goes through."""

    least_radius: Annotated[float, Measure(least=0.0, most=50.0)] = 1.5
    """The tightest curve it follows at its full depth without tearing or breaking."""

    swivel_angle: Annotated[
        float, Measure("angle", least=0.0, most=math.radians(5.0)), Field(validate_default=True)
    ] = "3 deg"  # type: ignore[assignment]  # validated as a written angle
    """Corners sharper than this are turned shallow, on the spot."""

    lead_in: Annotated[float, Measure(least=0.0, most=30.0)] = 4.0
    """How far the blade is drawn through the waste, shallow, to turn it before a cut."""

    overcut: Annotated[float, Measure(least=0.0, most=30.0)] = 1.0
    """How far past its start a closed cut goes on."""

    mode: Literal["exact", "plain"] = "exact"
    """exact: the path allows for the blade; plain: the machine does so itself."""

    bed_takes: Annotated[float, Measure(least=0.0, most=30.0)] = 1.0
    """How deep the tip may go into what lies under the leather."""

    into_bed: Annotated[float, Measure(least=0.0, most=30.0), Field(validate_default=True)] = 0.3
    """How deep it goes into that to cut through, where cut_depth is not given."""

    cut_depth: Depth | None = None
    """How far below the leather's face the tip goes to cut through; none: the leather's thickness, at the
    hide's thickest place, and into_bed."""

    score_depth: Shallow = 0.5
    """How deep scores and punch marks go."""

    swivel_depth: Shallow | None = None
    """How deep the tip stands while the blade turns; none: score_depth."""

    depth_per_pass: Annotated[float | None, Measure(least=0.2, most=30.0)] = None
    """The most the blade takes in one pass."""

    safe_height: Annotated[float, Measure(least=0.5, most=200.0)] = 5.0
    """How high above the leather the tip travels."""

    z_zero: Literal["leather", "bed"] = "leather"
    """Where z is set to 0: on the leather's face at its thickest place, or on the bed."""

    plunge_mm_s: Annotated[Number, Field(ge=0.1, le=500)] = 5.0
    """Speed of going in, mm/s."""

    @field_validator("into_bed", "cut_depth", "swivel_depth")
    @classmethod
    def _less_than(cls, depth: float | None, info: ValidationInfo) -> float | None:
        name = {"into_bed": "bed_takes", "swivel_depth": "score_depth"}.get(info.field_name or "")
        thick = info.data.get("max_thickness")
        if name is None and thick is not None:
            most = thick + info.data.get("bed_takes", math.inf)
            name = "max_thickness and bed_takes together"
        else:
            most = info.data.get(name or "")
        if depth is not None and most is not None and depth > most:
            raise mistake(f"found {depth:g} mm, more than {name}, {most:g} mm; expected no more")
        return depth

    @property
    def turning_depth(self) -> float:
        """How deep the tip stands while the blade turns, mm: never deeper than a score."""
        return self.score_depth if self.swivel_depth is None else self.swivel_depth

    @property
    def heights(self) -> tuple[float, float]:
        """The lowest and the highest z it may be sent to, mm, with the thickest leather it goes through."""
        if self.z_zero == "bed":
            return -max(self.bed_takes, self.score_depth), self.max_thickness + self.safe_height
        deepest = self.max_thickness + self.bed_takes if self.cut_depth is None else self.cut_depth
        return -max(deepest, self.score_depth), self.safe_height


class Bridges(Strict):
    """``[bridges]``: short gaps left in an outline, so that the part stays in the hide till it is freed."""

    count: Annotated[Count, Field(ge=1, le=100)]
    """Bridges on each outline."""

    width: Annotated[float, Measure(least=0.1, most=20.0)]
    """How long each is left uncut."""

    keep_out: Annotated[float, Measure(least=0.0, most=1000.0)] = 20.0
    """How far from tips, holes and ends none may stand."""


_LINE: Final = re.compile(r"[A-Za-z0-9 .+\-$#%=_/:]{1,60}")
_HARM: Final = re.compile(r"(?:G0*(?:[0-3]|1[789]|2[01]|9[01])|M0*(?:[2345]|30))(?![\d.])|S")


def _own_line(line: str) -> str:
    """Refuse a line of G-code that would move or burn, or have the file's numbers mean something else."""
    if not line.strip() or not _LINE.fullmatch(line):
        raise mistake(f"found {quoted(line)}, expected words of G-code, 60 characters at most and no comment")
    if found := _HARM.search(line.replace(" ", "").upper()):
        raise mistake(
            f"found {quoted(line)}: {found[0]} moves, turns the tool on or off, ends the file or changes "
            "what its numbers mean, and the file says that itself; expected none of G0 to G3, G17 to G21, "
            "G90, G91, M2 to M5, M30 and S"
        )
    return line.strip()


OwnLine = Annotated[str, AfterValidator(_own_line)]
"""A line of G-code the machine wants, as its manual has it."""


class GcodeLines(Strict):
    """``[gcode]``: what the machine wants at the start and at the end of a file, in its own words."""

    start: Annotated[tuple[OwnLine, ...], Field(max_length=20, examples=[["G54"]])] = ()
    """Lines before the first move, the tool off."""

    end: Annotated[tuple[OwnLine, ...], Field(max_length=20)] = ()
    """Lines after the last move, the tool off, before M2."""


class Laser(Strict):
    """``[laser]``: how the beam enters a cut, and what the machine has beside it; lasers only."""

    lead_in: Annotated[float, Measure(least=0.0, most=20.0)] = 0.0
    """How far out in the waste the beam begins a closed cut; 0: on the line."""

    overcut: Annotated[float, Measure(least=0.0, most=20.0)] = 0.0
    """How far past its start a closed cut goes on."""

    air_on: Annotated[OwnLine | None, Field(examples=["M8"])] = None
    """What turns the air on in G-code; RS274/NGC has M7 and M8 for mist and flood. None: it is turned on by
    hand."""

    air_off: OwnLine | None = None
    """What turns it off; RS274/NGC has M9."""

    dynamic_power: Annotated[str | None, Field(pattern="^M\\d{1,3}$")] = None
    """What turns the beam on in G-code so that its power follows its speed, if the machine has such a word;
    none: M3, at constant power."""

    pointer_on: OwnLine | None = None
    """What turns a pointer on in G-code, for the outline check."""

    pointer_off: OwnLine | None = None
    """What turns it off."""

    trace_power: Annotated[Number, Field(gt=0, le=10)] | None = None
    """Percent of its power the beam has in the outline check, too little to mark; none: the beam is off."""

    @field_validator("dynamic_power")
    @classmethod
    def _a_word_of_its_own(cls, word: str | None) -> str | None:
        if word is not None and int(word[1:]) in (0, 1, 2, 5, 6, 7, 8, 9, 30):
            raise mistake(f"found {quoted(word)}, which means something else; expected another word")
        return word

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield what is on and never off again, and a beam where a pointer would do."""
        for what in ("air", "pointer"):
            if (f"{what}_on" in table) != (f"{what}_off" in table):
                one = "off" if f"{what}_on" in table else "on"
                yield (f"{what}_{one}",), "missing; what turns it on and what turns it off go in pairs"
        if "trace_power" in table and "pointer_on" in table:
            yield ("trace_power",), "there is a pointer to trace with; expected one of the two"


_WORD = r"^[\x01-\x7f]{1,16}$"
_ANSWER = r"^[\x21-\x7e][\x20-\x7e]{0,31}$"
_ANSWERS = ("acknowledgement", "error", "alarm", "greeting")


class Serial(Strict):
    """``[serial]``: how the machine is spoken to over a serial line, every word the machine's own.

    Without its words a machine is sent one line at a time, each after any answer to the one before.
    """

    baud: Annotated[Count, Field(ge=1200, le=4_000_000, examples=[115200])]
    """Bits a second."""

    acknowledgement: Annotated[str | None, Field(pattern=_ANSWER)] = None
    """What the machine's answer to a good line begins with; none: anything it sends."""

    error: Annotated[str | None, Field(pattern=_ANSWER)] = None
    """What its answer to a line it refuses begins with; none: a refusal is not noticed."""

    alarm: Annotated[str | None, Field(pattern=_ANSWER)] = None
    """What it begins with when it has stopped by itself; none: an alarm is not noticed."""

    greeting: Annotated[str | None, Field(pattern=_ANSWER)] = None
    """What it begins with when it has just started; during a run: that it restarted."""

    startup_s: Annotated[Number, Field(ge=1, le=120)] = 10.0
    """How long it may take to answer after its port is opened, seconds."""

    buffer: Annotated[Count | None, Field(ge=16, le=65536)] = None
    """How many characters it can hold ahead; none: one line, then its answer."""

    hold: Annotated[str | None, Field(pattern=_WORD)] = None
    """What stops the motion at once, sent without a line end."""

    resume: Annotated[str | None, Field(pattern=_WORD)] = None
    """What resumes after a hold, sent without a line end."""

    reset: Annotated[str | None, Field(pattern=_WORD)] = None
    """What ends everything and turns the tool off, sent likewise; none: only the machine's own switch stops
    it."""

    @field_validator("buffer", "resume")
    @classmethod
    def _not_alone(cls, value: object, info: ValidationInfo) -> object:
        needed = {"buffer": "acknowledgement", "resume": "hold"}[info.field_name or ""]
        if value is not None and info.data.get(needed) is None:
            raise mistake(f"found {quoted(value)} without {needed}; expected both or neither")
        return value

    @field_validator("resume", "reset")
    @classmethod
    def _own_word(cls, word: str | None, info: ValidationInfo) -> str | None:
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
                    f"found {quoted(word)}, which is too like {name}, {quoted(other)}; "
                    "expected words of which none begins with another"
                )
        return word
