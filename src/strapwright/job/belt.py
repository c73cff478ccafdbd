"""One belt of a job: whom it shall fit, with which buckle, tip, holes, fasteners and keeper."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal, get_args

from pydantic import AfterValidator, BeforeValidator, Field

from strapwright.files.fields import Count, Measure, NotTrue, Number, mistake
from strapwright.files.validate import Strict, one_of
from strapwright.files.wording import nearest
from strapwright.job.catalogue import BuckleOrName  # noqa: TC001  # pydantic reads it
from strapwright.trade.leather import Tannage
from strapwright.units import quoted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic_core import PydanticCustomError

    from strapwright.files.wording import Loc

TipShape = Literal["english_point", "round", "spear", "square", "bridle_point"]
"""The tip shapes a job may name."""

TIP_MEASURES: Final[Mapping[str, tuple[str, ...]]] = {
    "english_point": ("length", "nose_radius"),
    "round": (),
    "spear": ("length", "nose_radius", "shoulder_radius"),
    "square": ("corner_radius",),
    "bridle_point": ("length", "corner_radius"),
}
"""What can be chosen of each shape; the rest follows the strap's width."""

ID_LENGTH: Final = 40
"""Longest id of a belt: it is written into file names and on parts."""

LEATHER_THICKNESS: Final = Measure("thickness", least=0.8, most=12.0)
"""2 to 30 oz: thinner is lining, thicker does not fold over a bar."""

_ThicknessField = Annotated[
    float,
    LEATHER_THICKNESS,
    Field(description="Thickness of the straps' leather, 0.8 to 12 mm (2 to 30 oz)."),
]
_TannageField = Annotated[
    Tannage,
    Field(description="How it was tanned; decides whether a laser may touch it. unknown if unsure."),
]
_PriceField = Annotated[Number | None, Field(ge=0, description="Price of a square metre, any currency.")]


class Leather(Strict):
    """The leather of the straps."""

    thickness: _ThicknessField
    tannage: _TannageField
    price_per_m2: _PriceField = None


class LeatherOverride(Strict):
    """What one belt has otherwise than the job's leather; what is not given stays."""

    thickness: _ThicknessField | None = None
    tannage: _TannageField | None = None
    price_per_m2: _PriceField = None


class OldBelt(Strict):
    """The belt that ``worn_to_hole`` was measured on, where it differs from the new one."""

    thickness: Annotated[
        float | None,
        LEATHER_THICKNESS,
        Field(description="Its leather, 0.8 to 12 mm; default the new belt's."),
    ] = None
    bar_diameter: Annotated[
        float | None,
        Measure(least=1.0, most=25.0),
        Field(description="Its buckle's bar, 1 to 25 mm; default the new buckle's."),
    ] = None
    frame_depth: Annotated[
        float | None,
        Measure(least=3.0, most=150.0),
        Field(description="Its buckle's frame depth, 3 to 150 mm; default the new buckle's."),
    ] = None


class Size(Strict):
    """Whom the belt shall fit: exactly one way of saying so."""

    worn_to_hole: Annotated[
        float | None,
        Measure(least=200.0, most=3000.0),
        Field(
            description="Measured on a belt that fits, from the outer end of the fold to the edge of the "
            "hole in use where the prong has worn it, 200 to 3000 mm.",
        ),
    ] = None
    girth: Annotated[
        float | None,
        Measure(least=200.0, most=3000.0),
        Field(description="Taped snug where the belt is worn, over the clothes, 200 to 3000 mm."),
    ] = None
    trousers: Annotated[
        Number | None,
        Field(
            ge=20,
            le=70,
            description="Trouser size in inches, 20 to 70: a rule of thumb only; taping is surer.",
        ),
    ] = None
    old: Annotated[
        OldBelt | None,
        Field(description="With worn_to_hole: the old belt's own measures, where they differ."),
    ] = None
    hole_in_use: Annotated[
        Count | None,
        Field(
            ge=1,
            le=15,
            description="Which adjusting hole shall fit, 1 = nearest the buckle; default the middle one.",
        ),
    ] = None

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
        """Yield: not exactly one way of sizing; an old belt without a measure taken on it."""
        if wrong := one_of(table, "worn_to_hole", "girth", "trousers"):
            yield (), mistake(wrong)
        if "old" in table and "worn_to_hole" not in table:
            yield ("old",), mistake("found without worn_to_hole, expected only with it")


class Tip(Strict):
    """The shape of the strap's free end; what is not given follows the strap's width."""

    shape: Annotated[TipShape, Field(description="Its name.")] = "english_point"
    length: Annotated[
        float | None,
        Measure(least=4.0, most=300.0),
        Field(description="From shoulder to nose, 4 to 300 mm; default by shape and strap width."),
    ] = None
    nose_radius: Annotated[
        float | None,
        Measure(least=0.5, most=50.0),
        Field(description="Of the rounded nose, 0.5 to 50 mm; a finer point curls and frays."),
    ] = None
    corner_radius: Annotated[
        float | None,
        Measure(least=0.5, most=50.0),
        Field(description="Of the corners of a square or bridle tip, 0.5 to 50 mm; sharp ones curl."),
    ] = None
    shoulder_radius: Annotated[
        float | None,
        Measure(least=1.0, most=400.0),
        Field(description="Of a spear tip's shoulders, 1 to 400 mm; a sharp shoulder rubs."),
    ] = None

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
        """Yield: measures that the shape does not have."""
        shape = table.get("shape", "english_point")
        own = TIP_MEASURES.get(shape) if isinstance(shape, str) else None
        for key in ("length", "nose_radius", "corner_radius", "shoulder_radius"):
            if own is not None and key in table and key not in own:
                these = f"only {' and '.join(own)}" if own else "no measure"
                yield (key,), mistake(f"found with shape = {quoted(shape)}, which takes {these}")


def _tip_by_name(value: object) -> object:
    if not isinstance(value, str):
        return value
    shapes = get_args(TipShape)
    if value in shapes:
        return Tip(shape=value)
    near = nearest(value, shapes)
    listed = ", ".join(quoted(shape) for shape in shapes)
    ending = f'; did you mean "{near}"?' if near else ""
    raise mistake(f"found {quoted(value)}, expected one of {listed}{ending}")


class Holes(Strict):
    """The adjusting holes."""

    count: Annotated[
        Count,
        Field(ge=1, le=15, description="1 to 15, default 7; an odd count has a hole in the middle."),
    ] = 7
    spacing: Annotated[
        float,
        Measure(least=8.0, most=80.0),
        Field(description="From hole to hole, 8 to 80 mm, default 25 mm; nearer ones tear out."),
    ] = 25.0
    diameter: Annotated[
        float | None,
        Measure(least=1.5, most=16.0),
        Field(description="1.5 to 16 mm; default from the prong's width and a clearance."),
    ] = None
    last_to_tip: Annotated[
        float | None,
        Measure(least=30.0, most=400.0),
        Field(
            description="Centre of the hole nearest the tip to the end of the tip, 30 to 400 mm; default "
            "2.5 strap widths, within 90 to 115 mm.",
        ),
    ] = None


class FastenerHoles(Strict):
    """The holes that hold the turn-back: each row in the front layer has its mate in the turn-back."""

    rows: Annotated[
        Literal[1, 2],
        NotTrue,
        Field(description="Rows along the strap, default 2: one on either side of the keeper."),
    ] = 2
    across: Annotated[
        Literal[1, 2] | None,
        NotTrue,
        Field(description="Holes in a row, across the strap; default by its width."),
    ] = None
    diameter: Annotated[
        float,
        Measure(least=1.0, most=16.0),
        Field(description="1 to 16 mm, default 5 mm: what a usual screw post's barrel passes."),
    ] = 5.0
    spacing_across: Annotated[
        float | None,
        Measure(least=5.0, most=120.0),
        Field(description="Between the holes of a row, 5 to 120 mm; default by the strap's width."),
    ] = None


class Keeper(Strict):
    """The leather loop that holds the free end; held between the layers of the turn-back."""

    width: Annotated[
        float,
        Measure(least=5.0, most=80.0),
        Field(description="Along the belt, 5 to 80 mm, default 20 mm: about half a strap's width."),
    ] = 20.0
    join: Annotated[
        Literal["butt", "lap"],
        Field(description="How its ends meet: butt (default) or lap."),
    ] = "butt"
    lap: Annotated[
        float,
        Measure(least=5.0, most=60.0),
        Field(description="With join = lap: how far they lap, 5 to 60 mm, default 15 mm."),
    ] = 15.0
    thickness: Annotated[
        float | None,
        Measure("thickness", least=0.5, most=12.0),
        Field(description="Of its own leather, 0.5 to 12 mm; default the strap's."),
    ] = None

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
        """Yield: a lap given for ends that do not lap."""
        # The default may stand there: a job that is written out again states every value.
        if table.get("lap", 15.0) != 15.0 and table.get("join", "butt") == "butt":
            yield ("lap",), mistake('found with join = "butt", expected only with join = "lap"')


def _keeper_or_none(value: object) -> object:
    if value == "none":
        return None
    if isinstance(value, str):
        raise mistake(f'found {quoted(value)}, expected a table such as {{ width = "20 mm" }}, or "none"')
    return value


class Crease(Strict):
    """A line creased parallel to the strap's edge."""

    distance: Annotated[
        float,
        Measure(least=1.0, most=20.0),
        Field(description="From the edge, 1 to 20 mm; 3 mm is usual."),
    ]


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
        BeforeValidator(_tip_by_name, json_schema_input_type=TipShape | Tip),
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
        BeforeValidator(_keeper_or_none, json_schema_input_type=Literal["none"] | Keeper),
        Field(description='The keeper, or "none"; default 20 mm wide with butted ends.'),
    ] = Keeper()
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
