"""What a catalogue holds besides buckles: screw posts, rivets, snaps, leathers, punches."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Self, TypeVar

from pydantic import Field, model_validator

from strapwright.core.text import quoted
from strapwright.core.units import format_length
from strapwright.files.fields import Measure, Number, mistake
from strapwright.files.validate import Strict
from strapwright.job.catalogue.leather import Temper
from strapwright.rules.fasteners import barrel_hole
from strapwright.rules.leather import Tannage
from strapwright.rules.punches import Punch, PunchKind

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.files.validate import Faults

_Name = Annotated[
    str, Field(max_length=80, description="What it is called in lists; default its table's name.")
]
_Price = Annotated[Number | None, Field(ge=0, description="Of one, any currency; for the bill.")]
_StackField = Measure("length", least=0.5, most=40.0)
_HoleField = Measure("length", least=1.0, most=16.0)
_Thickness = Annotated[float, Measure("thickness", least=0.4, most=12.0)]

Entry = TypeVar("Entry", bound=Strict)


def _wider(head: str, hole: str) -> Any:
    """Return the check of a model that a head is wider than the hole it covers, which would swallow it."""

    def check(entry: Entry) -> Entry:
        wide, through = getattr(entry, head), getattr(entry, hole)
        if wide <= through:
            found, expected = format_length(wide), format_length(through)
            raise mistake(f"found {head} {found}, expected more than {hole}, {expected}")
        return entry

    return model_validator(mode="after")(check)


class ScrewPost(Strict):
    """A screw post: a barrel with a head, and a screw with a head that goes into it.

    Example:
        >>> post = ScrewPost(length="1/4 in", barrel_diameter="5 mm", head_diameter="10 mm")
        >>> post.length, post.holes
        (6.35, (5.5, 5.5))
    """

    name: _Name = ""
    length: Annotated[float, Measure(least=2.0, most=40.0)]
    """Of the barrel, under its head, 2 to 40 mm: the size it is sold by."""
    barrel_diameter: Annotated[float, Measure(least=2.0, most=12.0)]
    """Outside, 2 to 12 mm; its holes are made 0.5 mm wider."""
    head_diameter: Annotated[float, Measure(least=3.0, most=30.0)]
    """Of the larger head, 3 to 30 mm: it must clear the buckle's frame."""
    thread: Annotated[str, Field(max_length=80)] = ""
    """The screw's thread, in your own words; for ordering only."""
    price: _Price = None

    _head_holds = _wider("head_diameter", "barrel_diameter")

    @property
    def passes(self) -> tuple[float, float]:
        """What passes the front layer and the turn-back: its barrel, mm."""
        return self.barrel_diameter, self.barrel_diameter

    @property
    def holes(self) -> tuple[float, float]:
        """Diameters of its holes in the front layer and in the turn-back, mm."""
        hole = barrel_hole(self.barrel_diameter)
        return hole, hole

    @property
    def head(self) -> float:
        """Diameter of what covers its holes, mm."""
        return self.head_diameter


class _Set(Strict):
    """What is set by a blow and holds only stacks of a certain height."""

    name: _Name = ""
    least_stack: Annotated[float, _StackField]
    """Least height of leather it holds, 0.5 to 40 mm: on less it sits loose."""
    most_stack: Annotated[float, _StackField]
    """Greatest height of leather it holds, 0.5 to 40 mm: on more it does not close."""
    price: _Price = None

    @model_validator(mode="after")
    def _stacks_in_order(self) -> Self:
        """Refuse a range without anything in it."""
        if self.least_stack > self.most_stack:
            raise mistake(
                f"found least_stack {format_length(self.least_stack)}, "
                f"expected at most most_stack, {format_length(self.most_stack)}"
            )
        return self

    def holds(self, stack: float) -> bool:
        """Whether it holds a stack of leather of this height, mm."""
        return self.least_stack <= stack <= self.most_stack


class Rivet(_Set):
    """A rivet: a post with a foot, and a cap.

    Example:
        >>> rivet = Rivet(least_stack=5, most_stack=7, cap_diameter=9, hole=3.5)
        >>> rivet.holds(6.4), rivet.holds(7.2)
        (True, False)
    """

    post_length: Annotated[float | None, Measure(least=2.0, most=50.0)] = None
    """Of the post, 2 to 50 mm, where it is sold by that; for ordering only."""
    cap_diameter: Annotated[float, Measure(least=3.0, most=30.0)]
    """Of the larger of cap and foot, 3 to 30 mm: it must clear the buckle's frame."""
    hole: Annotated[float, _HoleField]
    """Diameter of the hole for its post, 1 to 16 mm."""

    _cap_holds = _wider("cap_diameter", "hole")

    @property
    def holes(self) -> tuple[float, float]:
        """Diameters of its holes in the front layer and in the turn-back, mm."""
        return self.hole, self.hole

    @property
    def passes(self) -> tuple[float, float]:
        """What passes the front layer and the turn-back, mm: its holes are made for it."""
        return self.holes

    @property
    def head(self) -> float:
        """Diameter of what covers its holes, mm."""
        return self.cap_diameter


class Snap(_Set):
    """A press stud: cap and socket on one side, post and stud on the other.

    The stack is the leather that one side is set through; both sides take the same.

    Example:
        >>> Snap(least_stack=2.5, most_stack=4, cap_diameter=15, cap_hole=5, stud_hole=4).stud_hole
        4.0
    """

    cap_diameter: Annotated[float, Measure(least=3.0, most=30.0)]
    """Of the cap, 3 to 30 mm: it must clear the buckle's frame."""
    cap_hole: Annotated[float, _HoleField]
    """Diameter of the hole on the cap's side, 1 to 16 mm."""
    stud_hole: Annotated[float, _HoleField]
    """Diameter of the hole on the stud's side, 1 to 16 mm."""

    _cap_holds = _wider("cap_diameter", "cap_hole")

    @property
    def holes(self) -> tuple[float, float]:
        """Diameters of its holes in the front layer, which shows the cap, and in the turn-back, mm."""
        return self.cap_hole, self.stud_hole

    @property
    def passes(self) -> tuple[float, float]:
        """What passes the front layer and the turn-back, mm: its holes are made for it."""
        return self.holes

    @property
    def head(self) -> float:
        """Diameter of what covers its holes, mm."""
        return self.cap_diameter


class LeatherStock(Strict):
    """A leather one buys: what comes under that name.

    Example:
        >>> LeatherStock(thickness=["8 oz", "9 oz"], tannage="vegetable", temper="firm").thickness
        (3.175, 3.571875)
    """

    name: _Name = ""
    thickness: Annotated[tuple[_Thickness, _Thickness], Field(examples=[["8 oz", "9 oz"]])]
    """The least and the greatest thickness it comes in, 0.4 to 12 mm (1 to 30 oz)."""
    tannage: Tannage
    """How it was tanned; decides whether a laser may touch it. unknown if unsure."""
    temper: Temper | None = None
    """How it handles: soft, medium or firm; a belt that carries a load needs firm."""
    price_per_m2: Annotated[Number | None, Field(ge=0)] = None
    """Price of a square metre, any currency."""

    @model_validator(mode="after")
    def _thickness_in_order(self) -> Self:
        """Refuse a window the wrong way round."""
        least, most = self.thickness
        if least > most:
            raise mistake(
                f"found thickness from {format_length(least)} to {format_length(most)}, "
                "expected the thinner first"
            )
        return self


Fastener = ScrewPost | Rivet | Snap
"""What may hold a turn-back."""


class PunchEntry(Strict):
    """A punch as a catalogue holds it, by the hole it makes.

    Example:
        >>> PunchEntry(kind="oval", length="8 mm", width="5 mm").as_punch("oval-8").size
        '8 × 5 mm'
    """

    kind: PunchKind = "round"
    """round (default), oval or slot."""
    diameter: Annotated[float | None, Measure(least=0.5, most=60.0)] = None
    """Of a round punch's hole, 0.5 to 60 mm."""
    length: Annotated[float | None, Measure(least=1.0, most=100.0)] = None
    """Of an oval's or a slot's hole, overall, 1 to 100 mm."""
    width: Annotated[float | None, Measure(least=0.5, most=60.0)] = None
    """Of an oval's or a slot's hole, 0.5 to 60 mm."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield: measures that the kind does not have, or wants."""
        kind = table.get("kind", "round")
        if kind not in ("round", "oval", "slot"):
            return
        wanted = ("diameter",) if kind == "round" else ("length", "width")
        for key in ("diameter", "length", "width"):
            if key in wanted and key not in table:
                yield (key,), f"missing, expected with kind = {quoted(kind)}"
            elif key not in wanted and key in table:
                yield (key,), f"found with kind = {quoted(kind)}, which takes {' and '.join(wanted)}"

    @model_validator(mode="after")
    def _long_way_is_length(self) -> Self:
        """Refuse a hole wider than long: its size would be read the wrong way round."""
        if self.length is not None and self.width is not None and self.width >= self.length:
            raise mistake(
                f"found width {format_length(self.width)}, "
                f"expected less than its length, {format_length(self.length)}"
            )
        return self

    def as_punch(self, name: str) -> Punch:
        """Return the punch under its name."""
        length = self.diameter if self.length is None else self.length
        width = self.diameter if self.width is None else self.width
        assert length is not None
        assert width is not None
        return Punch(name, self.kind, length, width)
