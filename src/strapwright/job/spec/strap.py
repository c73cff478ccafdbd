"""One strap of a job that is no belt: a bag or camera strap, a plain strap, or a maker's own part."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Final, Literal

from pydantic import AfterValidator, Field

from strapwright.files.fields import Count, Measure, NotNumber, NotTrue, Number, mistake
from strapwright.files.validate import Strict
from strapwright.job.catalogue.leather import LeatherOverride
from strapwright.job.spec.belt import sound_id
from strapwright.job.spec.end import StrapEnd
from strapwright.job.spec.fittings import FastenerHoles, Stitch, TurnStep
from strapwright.job.spec.tip import SketchOrName, Tip
from strapwright.trade.choice import Use

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from pydantic_core import PydanticCustomError

    from strapwright.files.messages import Loc


_TURNED_KEYS: Final = ("fastener", "fastener_holes", "stitch", "fold_thickness")
"""Keys of turned ends only."""


_DRAWN_KEYS: Final = ("width", "length", "ends", "holes", *_TURNED_KEYS, "corner_radius")
"""What a sketch of the whole part leaves no room for."""


class StrapHoles(Strict):
    """A row of holes along the middle of a strap."""

    count: Annotated[Count, Field(ge=1, le=15)] = 5
    """1 to 15, default 5."""
    spacing: Annotated[float, Measure(least=8.0, most=80.0)] = 25.0
    """From hole to hole, 8 to 80 mm, default 25 mm; nearer ones tear out."""
    diameter: Annotated[float, Measure(least=1.5, most=16.0)] = 5.0
    """1.5 to 16 mm, default 5 mm."""
    first: Annotated[float, Measure(least=5.0, most=1000.0)] = 60.0
    """From the tip to the middle of the nearest hole, 5 to 1000 mm, default 60 mm."""
    end: Annotated[Literal[1, 2] | None, NotTrue] = None
    """Which end they are measured from, a tip: 1 or 2; default the last tip."""


class StrapTable(Strict):
    """One strap that is no belt, or several alike."""

    goods: ClassVar[str] = "strap"

    id: Annotated[str, AfterValidator(sound_id), Field(examples=["satchel"])]
    """Its name in lists, on parts and in messages: 1 to 40 characters, no /."""
    name: Annotated[str, Field(max_length=200)] = ""
    """What it is for, in your own words; up to 200 characters."""
    quantity: Annotated[Count, Field(ge=1, le=1000)] = 1
    """How many of it, 1 to 1000, default 1."""
    width: Annotated[float | None, Measure(least=8.0, most=120.0)] = None
    """8 to 120 mm; needed without a sketch."""
    length: Annotated[float | None, Measure(least=30.0, most=5500.0)] = None
    """Finished, from the middle of one end's bar, or the point of its tip, to the other's, 30 to 5500 mm;
    needed without a sketch."""
    ends: Annotated[
        tuple[StrapEnd, ...],
        Field(min_length=2, max_length=2, examples=[[{"bar_diameter": "4 mm"}, {"tip": "round"}]]),
    ] = (StrapEnd(tip=Tip(shape="square")),) * 2
    """The first and the second end; default two square tips."""
    holes: StrapHoles | None = None
    """A row of holes, measured from a tip; default none."""
    fastener: Literal["screw_post", "rivet", "snap", "stitched"] = "screw_post"
    """What holds the turned ends; default screw_post."""
    fastener_holes: FastenerHoles = FastenerHoles()
    """Their holes; a stitched end has none."""
    stitch: Stitch | None = None
    """With fastener = "stitched": how it is sewn."""
    fold_thickness: Annotated[float | None, Measure("thickness", least=0.5, most=12.0)] = None
    """Skived thickness of folds and turn-backs, 0.5 to 12 mm; default the strap's."""
    use: Use | None = None
    """What it is for: dress, work or load_carrying; its leather is then judged as a belt's is, and the
    strength of one that carries a load is given. Default: not judged."""
    corner_radius: Annotated[float, Measure(least=0.5, most=60.0)] = 4.0
    """Of the corners of a turned end, 0.5 to 60 mm, default 4 mm."""
    sketch: SketchOrName = None
    face_up: Literal["grain", "flesh"] = "grain"
    """The side shown in its drawing, default grain; one drawn from the flesh side is mirrored when it is laid
    on a hide."""
    turn_step: TurnStep = None
    leather: LeatherOverride | None = None
    """Where this strap's leather differs from the job's."""
    price: Annotated[Number | None, Field(ge=0)] = None
    """What the customer pays, any currency."""
    due: Annotated[date | None, NotNumber] = None
    """The day it is promised for, such as 2026-03-14."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
        """Yield what does not go together.

        Neither measures nor a sketch, or both; keys that the ends or the fastener have no use for; a strap
        that carries a load and may lie across.
        """
        if table.get("use") == "load_carrying" and table.get("turn_step") is not None:
            yield (
                ("turn_step",),
                mistake('found with use = "load_carrying": such a strap is laid along the strap direction'),
            )
        if "sketch" in table:
            for key in _DRAWN_KEYS:
                if key in table and not _is_default(key, table[key]):
                    yield (key,), mistake("found with sketch, which draws the whole part")
            return
        for key, example in (("width", "25 mm"), ("length", "1100 mm")):
            if key not in table:
                yield (key,), mistake(f'missing, expected a length such as "{example}", or a sketch')
        ends = table.get("ends", ())
        if not isinstance(ends, list | tuple) or not all(isinstance(end, Mapping | StrapEnd) for end in ends):
            return
        tips = [_has(end, "tip") for end in ends] or [True, True]
        yield from _fastening(table, turned=not all(tips))
        yield from _holes(table, tips)

    @property
    def turned(self) -> tuple[StrapEnd, ...]:
        """The ends that are folded round a bar."""
        return () if self.sketch is not None else tuple(end for end in self.ends if end.is_turned)


def _is_default(key: str, value: object) -> bool:
    """Whether a key holds nothing or its default: a job that is written out again states every value."""
    return value is None or _plain(value) == _plain(StrapTable.model_fields[key].default)


def _plain(value: object) -> object:
    if isinstance(value, Strict):
        return value.model_dump()
    return [_plain(one) for one in value] if isinstance(value, tuple | list) else value


def _has(end: Mapping[str, Any] | StrapEnd, key: str) -> bool:
    return (end.get(key) if isinstance(end, Mapping) else getattr(end, key)) is not None


def _fastening(table: Mapping[str, Any], *, turned: bool) -> Iterator[tuple[Loc, PydanticCustomError]]:
    stitched = table.get("fastener") == "stitched"
    for key in _TURNED_KEYS:
        if key in table and not turned and not _is_default(key, table[key]):
            yield (key,), mistake("found without a turned end, expected only with one: nothing is fastened")
    if turned and stitched and not _is_default("fastener_holes", table.get("fastener_holes")):
        yield ("fastener_holes",), mistake('found with fastener = "stitched", which has no holes')
    if turned and "stitch" in table and not stitched:
        yield ("stitch",), mistake('found without fastener = "stitched", expected only with it')


def _holes(table: Mapping[str, Any], tips: Sequence[bool]) -> Iterator[tuple[Loc, PydanticCustomError]]:
    holes = table.get("holes")
    if not isinstance(holes, Mapping):
        return
    if not any(tips):
        yield ("holes",), mistake("found between two turned ends, expected a tip to measure them from")
        return
    end = holes.get("end")
    if end in (1, 2) and end <= len(tips) and not tips[end - 1]:
        yield ("holes", "end"), mistake(f"found {end}, a turned end; expected the end with the tip")
