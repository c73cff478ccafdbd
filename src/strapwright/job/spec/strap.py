"""One strap of a job as written: a belt, a bag or camera strap, a plain strap, or one you have drawn."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Final, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from strapwright.core.text import quoted
from strapwright.files.fields import Count, Day, Measure, NotTrue, Number, mistake
from strapwright.files.validate import Strict
from strapwright.geometry.characters import cannot_be_lettered, unwritable
from strapwright.job.catalogue.file import BuckleOrName
from strapwright.job.catalogue.leather import LeatherOverride
from strapwright.job.spec.drawing import DrawingOrName, DrawnHole, Ornament, SketchOrName
from strapwright.job.spec.fittings import (
    Crease,
    Dee,
    FastenerHoles,
    Holes,
    Keeper,
    Lining,
    Marks,
    Stitch,
    TurnStep,
    keeper_or_none,
)
from strapwright.job.spec.size import RunSize, Size, ids_of, read_sizes
from strapwright.job.spec.strap_end import StrapEnd, Tip, TipShape, tip_by_name
from strapwright.rules.leather import Use

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.files.validate import Faults
    from strapwright.job.spec.drawing import DrawingFile
    from strapwright.rules.fold import Fitting


ID_LENGTH: Final = 40
"""Longest id of a belt: it is written into file names and on parts."""


Goods = Literal["belt", "strap"]
"""How a strap's table is headed."""


_TURNED_KEYS: Final = ("fastener", "fastener_holes", "stitch", "fold_thickness")
"""Keys of turned ends only."""


_DRAWN_KEYS: Final = ("width", "length", "ends", "holes", *_TURNED_KEYS, "corner_radius")
"""What a sketch or drawing of the whole part leaves no room for."""


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


Id = Annotated[
    str,
    AfterValidator(sound_id),
    Field(description="Its name in lists, on parts and in messages: 1 to 40 characters, no /."),
]


Quantity = Annotated[Count, Field(ge=1, le=1000, description="How many of it, 1 to 1000, default 1.")]


FastenerKind = Literal["screw_post", "rivet", "snap", "stitched"]


FastenerHolesKey = Annotated[FastenerHoles, Field(description="Their holes; a stitched end has none.")]


StitchKey = Annotated[Stitch | None, Field(description='With fastener = "stitched": how it is sewn.')]


CornerRadius = Annotated[float, Measure(least=0.5, most=60.0)]


FoldThickness = Annotated[float | None, Measure("thickness", least=0.5, most=12.0)]


Price = Annotated[Number | None, Field(ge=0, description="What the customer pays, any currency.")]


Due = Annotated[date | None, Day, Field(description="The day it is promised for, such as 2026-03-14.")]


class Belt(Strict):
    """One belt, or several alike."""

    goods: ClassVar[Goods] = "belt"
    width: ClassVar[None] = None
    length: ClassVar[None] = None
    sketch: ClassVar[None] = None
    drawing: ClassVar[None] = None
    turn_step: ClassVar[None] = None
    face_up: ClassVar[Literal["grain"]] = "grain"

    id: Annotated[Id, Field(examples=["ines"])]
    name: Annotated[str, AfterValidator(lambda value: " ".join(value.split())), Field(max_length=200)] = ""
    """Who it is for, in your own words; up to 200 characters."""
    quantity: Quantity = 1
    # None by default: then `sizes` says who it is for.
    size: Annotated[Size, Field(default_factory=Size.model_construct, examples=[{"girth": "38 in"}])]
    """Who it is for: the size. Give this or sizes."""
    # A job holds the belts a run makes; written out again, each has its own size, with its hole in use.
    sizes: Annotated[
        tuple[RunSize, ...] | None,
        BeforeValidator(
            lambda value: None if value is None else read_sizes(value),
            json_schema_input_type=str | list[str | float],
        ),
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
    fastener: FastenerKind = "screw_post"
    """What holds the turn-back; default screw_post."""
    fastener_holes: FastenerHolesKey = FastenerHoles()
    keeper: Annotated[
        Keeper | None, BeforeValidator(keeper_or_none, json_schema_input_type=Literal["none"] | Keeper)
    ] = Keeper()
    """The keeper, or "none"; default 20 mm wide with butted ends."""
    fold_thickness: FoldThickness = None
    """Skived thickness of fold and turn-back, 0.5 to 12 mm; default the strap's own."""
    tip_thickness: FoldThickness = None
    """Of the free end where the keeper holds it, 0.5 to 12 mm; default the strap's."""
    stitch: StitchKey = None
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
    corner_radius: CornerRadius = 4.0
    """Of the two corners at the buckle end, 0.5 to 60 mm, default 4 mm."""
    turn_back: Annotated[float | None, Measure(least=15.0, most=400.0)] = None
    """From the fold line to the end of the turn-back, 15 to 400 mm; default what slot, fasteners and keeper
    need."""
    drawn_holes: Annotated[tuple[DrawnHole, ...], Field(alias="hole", max_length=40)] = ()
    """Slots, keyholes and other openings of your own drawing, each in a [[belt.hole]] table; at most 40."""
    ornaments: Annotated[tuple[Ornament, ...], Field(alias="ornament", max_length=20)] = ()
    """Drawings repeated along the belt, each in a [[belt.ornament]] table; at most 20."""
    leather: LeatherOverride | None = None
    """Where this belt's leather differs from the job's."""
    price: Price = None
    due: Due = None

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: both or neither of size and run; wrong stitches, fastener holes, mark or hole in use."""
        yield from _size_or_run(table)
        yield from _stitching(table, holes="fastener_holes" in table)
        marks, belt_id = table.get("marks"), table.get("id")
        numbered = isinstance(marks, Mapping) and marks.get("number")
        if numbered and isinstance(belt_id, str) and (unknown := unwritable(belt_id)):
            wrong = f"found true with the id {quoted(belt_id)}; {cannot_be_lettered(unknown)}"
            yield ("marks", "number"), wrong
        yield from _hole_in_use(table)

    @property
    def run(self) -> str:
        """The id of the graded belt this one is a size of; empty for a belt that stands alone."""
        if not self.sizes or "size" not in self.model_fields_set:
            return ""
        return self.id.removesuffix(self.sizes[0].mark)

    @property
    def run_size(self) -> str:
        """Its size in that run, as people call it."""
        return self.sizes[0].label if self.sizes and self.run else ""

    @property
    def end_specs(self) -> tuple[EndSpec, EndSpec]:
        """What is asked for of its buckle end and of its tip."""
        name, key = self.buckle.name, f"[[belt]] {self.id}"
        words = f"buckle {name}" if name else "buckle as measured"
        bought = [(words, self.buckle.price, f"[buckle.{name}] price" if name else f"{key} buckle.price")]
        if self.dee is not None:
            bought.append((f"dee ring {self.dee.width:g} mm", self.dee.price, f"{key} dee.price"))
        buckle_end = EndSpec(
            words=words,
            fitting=self.buckle.fitting,
            fastener=self.fastener,
            fastener_holes=self.fastener_holes,
            stitch=self.stitch or Stitch(),
            turn_back=self.turn_back,
            corner_radius=self.corner_radius,
            dee=self.dee,
            keeper=self.made_keeper,
            closes=True,
            bought=tuple(bought),
        )
        words = "tip as drawn" if self.tip.drawing else f"{self.tip.name} tip"
        return buckle_end, EndSpec(words=words, tip=self.tip)

    @property
    def made_keeper(self) -> Keeper | None:
        """The keeper to make: a centre bar's rear loop serves as one unless one is asked for."""
        served = self.buckle.bar == "centre" and "keeper" not in self.model_fields_set
        return None if served else self.keeper

    @property
    def middle_hole(self) -> int:
        """The middle hole, 1 = nearest the buckle; of an even count, the nearer of the middle two."""
        return (self.holes.count + 1) // 2

    @property
    def hole_in_use(self) -> int:
        """The hole that fits, 1 = nearest the buckle: the middle one unless the job says another."""
        return self.size.hole_in_use or self.middle_hole


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

    goods: ClassVar[Goods] = "strap"
    buckle: ClassVar[None] = None
    size: ClassVar[None] = None
    run: ClassVar[str] = ""
    run_size: ClassVar[str] = ""
    made_keeper: ClassVar[None] = None
    tip_thickness: ClassVar[None] = None
    lining: ClassVar[None] = None
    dee: ClassVar[None] = None
    crease: ClassVar[None] = None
    marks: ClassVar[None] = None
    drawn_holes: ClassVar[tuple[()]] = ()
    ornaments: ClassVar[tuple[()]] = ()

    id: Annotated[Id, Field(examples=["satchel"])]
    name: Annotated[str, Field(max_length=200)] = ""
    """What it is for, in your own words; up to 200 characters."""
    quantity: Quantity = 1
    width: Annotated[float | None, Measure(least=8.0, most=120.0)] = None
    """8 to 120 mm; needed without a sketch or drawing."""
    length: Annotated[float | None, Measure(least=30.0, most=5500.0)] = None
    """Finished, from the middle of one end's bar, or the point of its tip, to the other's, 30 to 5500 mm;
    needed without a sketch or drawing."""
    ends: Annotated[
        tuple[StrapEnd, ...],
        Field(min_length=2, max_length=2, examples=[[{"bar_diameter": "4 mm"}, {"tip": "round"}]]),
    ] = (StrapEnd(tip=Tip(shape="square")),) * 2
    """The first and the second end; default two square tips."""
    holes: StrapHoles | None = None
    """A row of holes, measured from a tip; default none."""
    fastener: FastenerKind = "screw_post"
    """What holds the turned ends; default screw_post."""
    fastener_holes: FastenerHolesKey = FastenerHoles()
    stitch: StitchKey = None
    fold_thickness: FoldThickness = None
    """Skived thickness of folds and turn-backs, 0.5 to 12 mm; default the strap's."""
    use: Use | None = None
    """What it is for: dress, work or load_carrying; its leather is then judged as a belt's is, and the
    strength of one that carries a load is given. Default: not judged."""
    corner_radius: CornerRadius = 4.0
    """Of the corners of a turned end, 0.5 to 60 mm, default 4 mm."""
    sketch: SketchOrName = None
    drawing: DrawingOrName = None
    face_up: Literal["grain", "flesh"] = "grain"
    """The side shown in its drawing, default grain; one drawn from the flesh side is mirrored when it is laid
    on a hide."""
    turn_step: TurnStep = None
    leather: LeatherOverride | None = None
    """Where this strap's leather differs from the job's."""
    price: Price = None
    due: Due = None

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield what does not go together.

        Neither measures nor a sketch or drawing, or both; keys that ends or fastener have no use for; a strap
        that carries a load and may lie across.
        """
        if table.get("use") == "load_carrying" and table.get("turn_step") is not None:
            yield (
                ("turn_step",),
                'found with use = "load_carrying": such a strap is laid along the strap direction',
            )
        if own := next((key for key in ("sketch", "drawing") if key in table), ""):
            for key in (*_DRAWN_KEYS, *(("drawing",) if own == "sketch" else ())):
                if key in table and not _is_default(key, table[key]):
                    yield (key,), f"found with {own}, which draws the whole part"
            return
        for key, example in (("width", "25 mm"), ("length", "1100 mm")):
            if key not in table:
                yield (key,), f'missing, expected a length such as "{example}", or a sketch or drawing'
        ends = table.get("ends", ())
        if not isinstance(ends, list | tuple) or not all(isinstance(end, Mapping | StrapEnd) for end in ends):
            return
        said = [end.get("tip") if isinstance(end, Mapping) else end.tip for end in ends]
        tips = [tip is not None for tip in said] or [True, True]
        if not all(tips):
            default = _is_default("fastener_holes", table.get("fastener_holes"))
            yield from _stitching(table, holes=not default)
        else:
            for key in _TURNED_KEYS:
                if key in table and not _is_default(key, table[key]):
                    unused = "found without a turned end, expected only with one: nothing is fastened"
                    yield (key,), unused
        yield from _holes(table, tips)

    @property
    def end_specs(self) -> tuple[EndSpec, ...]:
        """What is asked for of its first and its second end; of a sketch, the file that draws both."""
        if (drawn := self.sketch or self.drawing) is not None:
            return (EndSpec(words=drawn.name),)
        return tuple(self._end_spec(place, end) for place, end in enumerate(self.ends, 1))

    def _end_spec(self, place: int, end: StrapEnd) -> EndSpec:
        name = f"end {place}"
        if end.tip is not None:
            words = (
                "tip as drawn"
                if end.tip.sketch or end.tip.drawing
                else f"{end.tip.name.replace('_', ' ')} tip"
            )
            return EndSpec(name=name, words=words, tip=end.tip)
        bar = end.fitting.bar
        section = f"{bar.width:g} × {bar.height:g}" if bar.flat else f"{bar.width:g}"
        return EndSpec(
            name=name,
            words=f"turned, bar {section} mm",
            fitting=end.fitting,
            fastener=self.fastener,
            fastener_holes=self.fastener_holes,
            stitch=self.stitch or Stitch(),
            turn_back=end.turn_back,
            corner_radius=self.corner_radius,
            bought=((f"ring or hook of {name}", end.price, f"[[strap]] {self.id} ends[{place}].price"),),
        )


def _hole_in_use(table: Mapping[str, Any]) -> Faults:
    if table.get("hole_in_use") is not None and "sizes" not in table:
        yield (
            ("hole_in_use",),
            "found without sizes, expected only with them; with size, write it in that table",
        )
        return
    holes = table.get("holes", {})
    count = holes.get("count", 7) if isinstance(holes, Mapping) else None
    for loc, owner in ((("hole_in_use",), table), (("size", "hole_in_use"), table.get("size"))):
        hole = owner.get("hole_in_use") if isinstance(owner, Mapping) else None
        if isinstance(hole, int) and isinstance(count, int) and 0 < count < hole <= 15:
            yield loc, f"found {hole}, expected 1 to {count}, the holes' count"


def _size_or_run(table: Mapping[str, Any]) -> Faults:
    if "size" in table and "sizes" in table:
        yield ("sizes",), "found beside size, expected just one of the two"
    elif "size" not in table and "sizes" not in table:
        yield ("size",), 'missing, expected a table such as { girth = "38 in" }, or sizes = "30-46/2"'
    belt_id = table.get("id")
    made = ids_of(belt_id, table["sizes"]) if isinstance(belt_id, str) and "sizes" in table else ()
    longest = max(made, key=len, default="")
    if len(longest) > ID_LENGTH:
        yield (
            ("id",),
            (
                f"found {quoted(belt_id)}, which with its size makes {quoted(longest)} of {len(longest)} "
                f"characters; expected at most {ID_LENGTH} with the size"
            ),
        )


def _is_default(key: str, value: object) -> bool:
    """Whether a key holds nothing or its default: a job that is written out again states every value."""
    return value is None or _dumped(value) == _dumped(StrapTable.model_fields[key].default)


def _dumped(value: object) -> object:
    if isinstance(value, Strict):
        return value.model_dump()
    return [_dumped(one) for one in value] if isinstance(value, tuple | list) else value


def _stitching(table: Mapping[str, Any], *, holes: bool) -> Faults:
    stitched = table.get("fastener") == "stitched"
    if stitched and holes:
        yield ("fastener_holes",), 'found with fastener = "stitched", which has no holes'
    if "stitch" in table and not stitched:
        yield ("stitch",), 'found without fastener = "stitched", expected only with it'


def _holes(table: Mapping[str, Any], tips: Sequence[bool]) -> Faults:
    holes = table.get("holes")
    if not isinstance(holes, Mapping):
        return
    if not any(tips):
        yield ("holes",), "found between two turned ends, expected a tip to measure them from"
        return
    end = holes.get("end")
    if end in (1, 2) and end <= len(tips) and not tips[end - 1]:
        yield ("holes", "end"), f"found {end}, a turned end; expected the end with the tip"


def expanded(belts: Sequence[Belt]) -> tuple[Belt, ...]:
    """Return belts with every graded one replaced by one belt a size, in order.

    The id of each ends in its size: ``crew`` over 30 to 34 makes ``crew-30``, ``crew-32``, ``crew-34``.
    """
    found: list[Belt] = []
    for belt in belts:
        if belt.sizes is None or belt.run:
            found.append(belt)
        else:
            found += [of_size(belt, belt.id, size, belt.hole_of_run) for size in belt.sizes]
    return tuple(found)


def of_size(belt: Belt, run: str, size: RunSize, hole_in_use: int | None) -> Belt:
    """Return a belt in one size of a run.

    Args:
        belt: what all sizes share.
        run: id of the run.
        size: the size.
        hole_in_use: the adjusting hole that fits; None for the middle one.
    """
    own = Size(trousers=size.trousers, girth=size.girth, hole_in_use=hole_in_use)
    return belt.model_copy(update={"id": run + size.mark, "size": own, "sizes": (size,)})


@dataclass(frozen=True, kw_only=True)
class EndSpec:
    """One end as asked for, whichever table it was written in: cut to a tip, or folded round a fitting.

    Args:
        name: what lists call it, such as "end 1"; empty for a belt's, which has one buckle.
        words: what it is, in words.
        tip: its shape; None for a turned end.
        fitting: the buckle or ring it is folded round; None for a tip.
        fastener: what holds the turn-back.
        fastener_holes: its holes.
        stitch: how it is sewn, if it is.
        turn_back: its length, mm, where it is not to be computed.
        corner_radius: of its two corners, mm.
        dee: a dee ring beyond its rows.
        keeper: the keeper to be made at it.
        closes: whether holes of the strap come to bear on the fitting, as on a buckle's prong.
        bought: what is bought for it beside fasteners: what, its price if known, and the key that gives it.
    """

    name: str = ""
    words: str
    tip: Tip | None = None
    fitting: Fitting | None = None
    fastener: str = ""
    fastener_holes: FastenerHoles = field(default_factory=FastenerHoles)
    stitch: Stitch = field(default_factory=Stitch)
    turn_back: float | None = None
    corner_radius: float = 0.0
    dee: Dee | None = None
    keeper: Keeper | None = None
    closes: bool = False
    bought: tuple[tuple[str, float | None, str], ...] = ()


def drawings_of(asked: Belt | StrapTable) -> list[DrawingFile]:
    """Return the drawings of the user's that a belt or strap names."""
    files: list[DrawingFile | None] = [asked.drawing]
    files += [hole.drawing for hole in asked.drawn_holes]
    files += [ornament.drawing for ornament in asked.ornaments]
    files += [end.tip.drawing for end in asked.end_specs if end.tip is not None]
    return [file for file in files if file is not None]
