"""One belt of a job: whom it shall fit, with which buckle, tip, holes, fasteners and keeper."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from strapwright.files.fields import Count, Measure, Number, mistake
from strapwright.files.validate import Strict
from strapwright.job.catalogue import BuckleOrName  # pydantic reads it
from strapwright.job.fittings import (
    Crease,
    FastenerHoles,
    Holes,
    Keeper,
    Lining,
    Stitch,
    keeper_or_none,
)
from strapwright.job.leather import LeatherOverride  # pydantic reads it
from strapwright.job.size import Size  # pydantic reads it
from strapwright.job.tip import Tip, TipShape, tip_by_name
from strapwright.units import quoted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic_core import PydanticCustomError

    from strapwright.files.wording import Loc

ID_LENGTH: Final = 40
"""Longest id of a belt: it is written into file names and on parts."""


def _sound_id(value: str) -> str:
    value = unicodedata.normalize("NFC", value)
    if 1 <= len(value) <= ID_LENGTH and value == value.strip() and value.isprintable() and "/" not in value:
        return value
    raise mistake(
        f'found {quoted(value)}, expected 1 to {ID_LENGTH} printable characters without "/" and without '
        "a space at either end"
    )


class Belt(Strict):
    """One belt, or several alike."""

    id: Annotated[
        str,
        AfterValidator(_sound_id),
        Field(
            description="Names the belt in lists, on parts and in messages: 1 to 40 characters, no /.",
            examples=["ines"],
        ),
    ]
    name: Annotated[
        str, Field(max_length=200, description="Whom it is for, in your own words; up to 200 characters.")
    ] = ""
    quantity: Annotated[Count, Field(ge=1, le=1000, description="How many alike, 1 to 1000, default 1.")] = 1
    size: Annotated[Size, Field(description="Whom it shall fit.", examples=[{"girth": "38 in"}])]
    buckle: Annotated[
        BuckleOrName,
        Field(description="A buckle's name in the catalogue, or its measures.", examples=["single-40"]),
    ]
    tip: Annotated[
        Tip,
        BeforeValidator(tip_by_name, json_schema_input_type=TipShape | Tip),
        Field(description="A tip's name, or a table with its shape; default english_point."),
    ] = Tip()
    holes: Annotated[Holes, Field(description="How many adjusting holes there are and how far apart.")] = (
        Holes()
    )
    fastener: Annotated[
        Literal["screw_post", "rivet", "snap", "stitched"],
        Field(description="What holds the turn-back; default screw_post."),
    ] = "screw_post"
    fastener_holes: Annotated[FastenerHoles, Field(description="Their holes; a stitched end has none.")] = (
        FastenerHoles()
    )
    keeper: Annotated[
        Keeper | None,
        BeforeValidator(keeper_or_none, json_schema_input_type=Literal["none"] | Keeper),
        Field(description='The keeper, or "none"; default 20 mm wide with butted ends.'),
    ] = Keeper()
    fold_thickness: Annotated[
        float | None,
        Measure("thickness", least=0.5, most=12.0),
        Field(description="Skived thickness of fold and turn-back, 0.5 to 12 mm; default the strap's own."),
    ] = None
    tip_thickness: Annotated[
        float | None,
        Measure("thickness", least=0.5, most=12.0),
        Field(description="Of the free end where the keeper holds it, 0.5 to 12 mm; default the strap's."),
    ] = None
    stitch: Annotated[Stitch | None, Field(description='With fastener = "stitched": how it is sewn.')] = None
    lining: Annotated[Lining | None, Field(description="A second layer; default none.")] = None
    use: Annotated[
        Literal["dress", "work", "load_carrying"],
        Field(description="What it is for, work by default: the leather's thickness is judged by it."),
    ] = "work"
    crease: Annotated[Crease | None, Field(description="A crease line along the edge; default none.")] = None
    corner_radius: Annotated[
        float,
        Measure(least=0.5, most=60.0),
        Field(description="Of the two corners at the buckle end, 0.5 to 60 mm, default 4 mm."),
    ] = 4.0
    turn_back: Annotated[
        float | None,
        Measure(least=15.0, most=400.0),
        Field(
            description="From the fold line to the end of the turn-back, 15 to 400 mm; default what slot, "
            "fasteners and keeper need.",
        ),
    ] = None
    leather: Annotated[
        LeatherOverride | None, Field(description="What this belt has otherwise than the job's leather.")
    ] = None
    price: Annotated[Number | None, Field(ge=0, description="What the customer pays, any currency.")] = None

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
        """Yield: fastener holes for a stitched end; a hole in use beyond the row."""
        if table.get("fastener") == "stitched" and "fastener_holes" in table:
            yield ("fastener_holes",), mistake('found with fastener = "stitched", which has no holes')
        if "stitch" in table and table.get("fastener") != "stitched":
            yield ("stitch",), mistake('found without fastener = "stitched", expected only with it')
        size, holes = table.get("size"), table.get("holes", {})
        if isinstance(size, Mapping) and isinstance(holes, Mapping):
            hole, count = size.get("hole_in_use"), holes.get("count", 7)
            if isinstance(hole, int) and isinstance(count, int) and 0 < count < hole <= 15:
                yield (
                    ("size", "hole_in_use"),
                    mistake(f"found {hole}, expected 1 to {count}, the holes' count"),
                )

    @property
    def hole_in_use(self) -> int:
        """Which hole shall fit, 1 = nearest the buckle; of an even count, the nearer of the middle two."""
        return self.size.hole_in_use or (self.holes.count + 1) // 2
