"""One belt of a job: whom it shall fit, with which buckle, tip, holes, fasteners and keeper."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Final, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from strapwright.core.text import quoted
from strapwright.files.fields import Count, Measure, NotNumber, Number, mistake
from strapwright.files.validate import Strict
from strapwright.geometry.lettering.characters import cannot_be_lettered, unwritable
from strapwright.job.catalogue.file import BuckleOrName
from strapwright.job.catalogue.leather import LeatherOverride
from strapwright.job.spec.fittings import (
    Crease,
    Dee,
    FastenerHoles,
    Holes,
    Keeper,
    Lining,
    Marks,
    Stitch,
    keeper_or_none,
)
from strapwright.job.spec.run_sizes import RunSize, ids_of, read_sizes
from strapwright.job.spec.size import Size
from strapwright.job.spec.tip import Tip, TipShape, tip_by_name
from strapwright.trade.choice import Use

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from pydantic_core import PydanticCustomError

    from strapwright.files.messages import Loc


def _on_one_line(value: str) -> str:
    return " ".join(value.split())


ID_LENGTH: Final = 40
"""Longest id of a belt: it is written into file names and on parts."""


def sound_id(value: str) -> str:
    """Return an id in its composed form.

    Raises:
        PydanticCustomError: no id for file names and parts.
    """
    value = unicodedata.normalize("NFC", value)
    if 1 <= len(value) <= ID_LENGTH and value == value.strip() and value.isprintable() and "/" not in value:
        return value
    raise mistake(
        f'found {quoted(value)}, expected 1 to {ID_LENGTH} printable characters without "/" and without '
        "a space at either end"
    )


def _run_or_none(value: object) -> tuple[RunSize, ...] | None:
    return None if value is None else read_sizes(value)


class Belt(Strict):
    """One belt, or several alike."""

    goods: ClassVar[str] = "belt"

    id: Annotated[str, AfterValidator(sound_id), Field(examples=["ines"])]
    """Its name in lists, on parts and in messages: 1 to 40 characters, no /."""
    name: Annotated[str, AfterValidator(_on_one_line), Field(max_length=200)] = ""
    """Who it is for, in your own words; up to 200 characters."""
    quantity: Annotated[Count, Field(ge=1, le=1000)] = 1
    """How many of it, 1 to 1000, default 1."""
    # For nobody by default: then `sizes` says whom it shall fit.
    size: Annotated[Size, Field(default_factory=Size.model_construct, examples=[{"girth": "38 in"}])]
    """Who it is for: the size. Give this or sizes."""
    # A job holds the belts a run makes; written out again, each has its own size, with its hole in use.
    sizes: Annotated[
        tuple[RunSize, ...] | None,
        BeforeValidator(_run_or_none, json_schema_input_type=str | list[str | float]),
        Field(exclude=True, examples=["30-46/2"]),
    ] = None
    """A run of sizes, one belt made of each: trouser sizes '30-46/2' (from, to, step), girths '80 cm-110 cm/5
    cm', or a list of either; at most 40. Give this or size."""
    hole_of_run: Annotated[Count | None, Field(alias="hole_in_use", exclude=True, ge=1, le=15)] = None
    """With sizes: the adjusting hole that fits, 1 = nearest the buckle; default the middle one. With size,
    write it in that table."""
    buckle: Annotated[BuckleOrName, Field(examples=["single-40"])]
    """A buckle's name in the catalogue, or its measures."""
    tip: Annotated[Tip, BeforeValidator(tip_by_name, json_schema_input_type=TipShape | Tip)] = Tip()
    """A tip's name, or a table with its shape; default english_point."""
    holes: Holes = Holes()
    """How many adjusting holes there are and how far apart."""
    fastener: Literal["screw_post", "rivet", "snap", "stitched"] = "screw_post"
    """What holds the turn-back; default screw_post."""
    fastener_holes: FastenerHoles = FastenerHoles()
    """Their holes; a stitched end has none."""
    keeper: Annotated[
        Keeper | None, BeforeValidator(keeper_or_none, json_schema_input_type=Literal["none"] | Keeper)
    ] = Keeper()
    """The keeper, or "none"; default 20 mm wide with butted ends."""
    fold_thickness: Annotated[float | None, Measure("thickness", least=0.5, most=12.0)] = None
    """Skived thickness of fold and turn-back, 0.5 to 12 mm; default the strap's own."""
    tip_thickness: Annotated[float | None, Measure("thickness", least=0.5, most=12.0)] = None
    """Of the free end where the keeper holds it, 0.5 to 12 mm; default the strap's."""
    stitch: Stitch | None = None
    """With fastener = "stitched": how it is sewn."""
    lining: Lining | None = None
    """A second layer; default none."""
    use: Use = "work"
    """What it is for, work by default: the leather's thickness is judged by it."""
    dee: Annotated[Dee | None, Field(examples=[{"bar_diameter": "4 mm", "width": "20 mm"}])] = None
    """A dee ring beyond the fastener rows, as on a dog's collar; default none."""
    crease: Crease | None = None
    """A crease line along the edge; default none."""
    marks: Marks | None = None
    """Lettering on the turn-back; default none."""
    corner_radius: Annotated[float, Measure(least=0.5, most=60.0)] = 4.0
    """Of the two corners at the buckle end, 0.5 to 60 mm, default 4 mm."""
    turn_back: Annotated[float | None, Measure(least=15.0, most=400.0)] = None
    """From the fold line to the end of the turn-back, 15 to 400 mm; default what slot, fasteners and keeper
    need."""
    leather: LeatherOverride | None = None
    """Where this belt's leather differs from the job's."""
    price: Annotated[Number | None, Field(ge=0)] = None
    """What the customer pays, any currency."""
    due: Annotated[date | None, NotNumber] = None
    """The day it is promised for, such as 2026-03-14."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
        """Yield: size and run, or neither; stitches or fastener holes amiss; an id no mark; a hole amiss."""
        yield from _size_or_run(table)
        if table.get("fastener") == "stitched" and "fastener_holes" in table:
            yield ("fastener_holes",), mistake('found with fastener = "stitched", which has no holes')
        if "stitch" in table and table.get("fastener") != "stitched":
            yield ("stitch",), mistake('found without fastener = "stitched", expected only with it')
        marks, belt_id = table.get("marks"), table.get("id")
        numbered = isinstance(marks, Mapping) and bool(marks.get("number")) and isinstance(belt_id, str)
        if unknown := unwritable(belt_id) if numbered and isinstance(belt_id, str) else ():
            wrong = f"found true with the id {quoted(belt_id)}; {cannot_be_lettered(unknown)}"
            yield ("marks", "number"), mistake(wrong)
        yield from _hole_in_use(table)

    @property
    def run(self) -> str:
        """The id of the graded belt this one is a size of; empty for a belt that stands alone."""
        if not self.sizes or "size" not in self.model_fields_set:
            return ""
        return self.id.removesuffix(self.sizes[0].mark)

    @property
    def middle_hole(self) -> int:
        """The middle hole, 1 = nearest the buckle; of an even count, the nearer of the middle two."""
        return (self.holes.count + 1) // 2

    @property
    def hole_in_use(self) -> int:
        """The hole that fits, 1 = nearest the buckle: the middle one unless the job says another."""
        return self.size.hole_in_use or self.middle_hole


def _hole_in_use(table: Mapping[str, Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
    if table.get("hole_in_use") is not None and "sizes" not in table:
        yield (
            ("hole_in_use",),
            mistake("found without sizes, expected only with them; with size, write it in that table"),
        )
        return
    holes = table.get("holes", {})
    count = holes.get("count", 7) if isinstance(holes, Mapping) else None
    for loc, owner in ((("hole_in_use",), table), (("size", "hole_in_use"), table.get("size"))):
        hole = owner.get("hole_in_use") if isinstance(owner, Mapping) else None
        if isinstance(hole, int) and isinstance(count, int) and 0 < count < hole <= 15:
            yield loc, mistake(f"found {hole}, expected 1 to {count}, the holes' count")


def _size_or_run(table: Mapping[str, Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
    if "size" in table and "sizes" in table:
        yield ("sizes",), mistake("found beside size, expected just one of the two")
    elif "size" not in table and "sizes" not in table:
        yield (
            ("size",),
            mistake('missing, expected a table such as { girth = "38 in" }, or sizes = "30-46/2"'),
        )
    belt_id = table.get("id")
    made = ids_of(belt_id, table["sizes"]) if isinstance(belt_id, str) and "sizes" in table else ()
    longest = max(made, key=len, default="")
    if len(longest) > ID_LENGTH:
        yield (
            ("id",),
            mistake(
                f"found {quoted(belt_id)}, which with its size makes {quoted(longest)} of {len(longest)} "
                f"characters; expected at most {ID_LENGTH} with the size"
            ),
        )


def expanded(belts: Sequence[Belt]) -> tuple[Belt, ...]:
    """Return belts with every graded one replaced by one belt a size, in order.

    The id of each ends in its size: ``crew`` over 30 to 34 makes ``crew-30``, ``crew-32``, ``crew-34``.
    """
    return tuple(one for belt in belts for one in _each_size(belt))


def _each_size(belt: Belt) -> Iterator[Belt]:
    if belt.sizes is None or belt.run:
        yield belt
        return
    for size in belt.sizes:
        own = Size(trousers=size.trousers, girth=size.girth, hole_in_use=belt.hole_of_run)
        yield belt.model_copy(update={"id": belt.id + size.mark, "size": own, "sizes": (size,)})
