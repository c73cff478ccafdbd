"""Strips as they lie in stock, and a plan: which part is cut from which strip, and where along it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from strapwright.core.errors import NestError
from strapwright.nesting.hide.types import FlawKind
from strapwright.parts.part import PartKind

if TYPE_CHECKING:
    from strapwright.parts.part import Part, Runs
    from strapwright.rules.leather import Tannage

WIDTH_AGREES: Final = 0.5
"""A strip may be this much narrower or wider than a part and pass as its width, mm: as near as strips are
ripped, common practice."""

StripAim = Literal["fewest", "least", "stock"]
"""What an assignment is after: the fewest strips cut into; the least leather left over in those; or the most
left in lengths worth keeping, uncut strips and offcuts alike."""

AIMS: Final[tuple[StripAim, ...]] = ("fewest", "least", "stock")

End = Literal["start", "end"]


@dataclass(frozen=True)
class StripFlaw:
    """A stretch of a strip that is not all good.

    Args:
        kind: hole, mark or loose, as on a hide.
        start: from the strip's start, mm.
        end: where it is over, mm.
    """

    kind: FlawKind
    start: float
    end: float


@dataclass(frozen=True)
class Strip:
    """Strips that are all alike.

    Args:
        id: what you call them.
        width: mm.
        length: from raw end to raw end, mm.
        thickness: mm; None where it was not measured.
        tannage: None where nobody has said.
        quantity: how many.
        flaws: of each.
        better_end: the end with the better leather, to which tips lie; None where both are alike.
        parent: of a leftover, the strip it was cut from.
        source: the file it was read from.
    """

    id: str
    width: float
    length: float
    thickness: float | None = None
    tannage: Tannage | None = None
    quantity: int = 1
    flaws: tuple[StripFlaw, ...] = ()
    better_end: End | None = None
    parent: str = ""
    source: str = ""


@dataclass(frozen=True)
class StripRules:
    """What is kept free on every strip, mm.

    Args:
        gap: between two parts.
        margin: to a flaw.
        square: cut off each raw end to square it.
        keep: leftovers from this length on go back to the shelf.
    """

    gap: float = 2.0
    margin: float = 2.0
    square: float = 5.0
    keep: float = 300.0

    def __post_init__(self) -> None:
        for name in ("gap", "margin", "square", "keep"):
            value = getattr(self, name)
            if not 0 <= value <= 10_000:
                raise NestError(f"{name}: found {value:g} mm, expected 0 to 10000 mm")

    def flaws(self, strip: Strip) -> tuple[StripFlaw, ...]:
        """Return a strip's flaws measured from its squared start, mm."""
        by = self.square
        return tuple(StripFlaw(one.kind, one.start - by, one.end - by) for one in strip.flaws)

    def stretches(self, strip: Strip) -> Runs:
        """Return the stretches of a strip between its squared ends and its holes, from its squared start, mm.

        Example:
            >>> a = Strip("a", 38, 1010, flaws=(StripFlaw(FlawKind.HOLE, 405, 455),))
            >>> StripRules().stretches(a)
            ((0.0, 398.0), (452.0, 1000.0))
        """
        found, low = [], 0.0
        end = strip.length - 2 * self.square
        holes = sorted((f.start, f.end) for f in self.flaws(strip) if f.kind is FlawKind.HOLE)
        for start, stop in holes:
            found.append((low, min(start - self.margin, end)))
            low = max(low, stop + self.margin)
        return tuple((a, b) for a, b in (*found, (low, end)) if a < b)


@dataclass(frozen=True)
class OnStrip:
    """A part on a strip.

    Args:
        part: the part.
        start: its nearer end from the strip's square end, mm.
        turned: whether its tip lies towards that end.
    """

    part: Part
    start: float
    turned: bool = False

    @property
    def end(self) -> float:
        """Its farther end from the strip's square end, mm."""
        return self.start + length_of(self.part)


@dataclass(frozen=True)
class CutStrip:
    """One strip that is cut into.

    Args:
        strip: those it is one of.
        number: which of them, from 1.
        parts: along it from its square end, which is its squared start.
    """

    strip: Strip
    number: int
    parts: tuple[OnStrip, ...]

    @property
    def name(self) -> str:
        """Its name: with its number where there are several alike."""
        return self.strip.id if self.strip.quantity == 1 else f"{self.strip.id} #{self.number}"


@dataclass(frozen=True)
class StripPlan:
    """Parts assigned to strips.

    Args:
        strips: all there are.
        rules: what was kept free.
        aim: what was sought.
        cut: the strips cut into, in the order of the strips.
        unplaced: parts for which there is no place, each with the reason.
        cost: what the assignment costs in the unit of its aim: strips, or mm² of leather.
        bound: what any assignment of these parts costs at least, in the same unit; None where parts are left.
        seed: of the random choices.
        short: whether it is proven that these strips cannot hold every part.
    """

    strips: tuple[Strip, ...]
    rules: StripRules
    aim: StripAim
    cut: tuple[CutStrip, ...]
    unplaced: tuple[tuple[Part, str], ...]
    cost: float
    bound: float | None
    seed: int = 0
    short: bool = False

    @property
    def placed(self) -> int:
        """How many parts have a place."""
        return sum(len(one.parts) for one in self.cut)

    @property
    def asked(self) -> int:
        """How many parts were asked for."""
        return self.placed + len(self.unplaced)

    @property
    def gap(self) -> float | None:
        """How much less any assignment costs at most, as a share of this one; None where parts are left."""
        if self.bound is None:
            return None
        return (self.cost - self.bound) / self.cost if self.cost else 0.0

    @property
    def sentence(self) -> str:
        """How much better any plan could be, in one sentence."""
        if self.gap is None or self.bound is None:
            if self.short:
                return "These strips cannot hold every part; that is proven."
            return "No plan with every part was found on these strips; a longer search may find one."
        if self.aim == "fewest":
            if not self.gap:
                return "No plan cuts into fewer strips; that is proven."
            return f"Any plan cuts into {self.bound:.0f} strips at least."
        what = "cuts into" if self.aim == "least" else "uses up"
        if not self.gap:
            return f"No plan {what} less leather; that is proven."
        return f"Any plan {what} at most {self.gap:.2%} less leather."


def length_of(part: Part) -> float:
    """Return what a part takes along a strip, mm."""
    low, _, high, _ = part.outline.bounding_box
    return high - low


def width_of(part: Part) -> float:
    """Return what a part takes across a strip, mm."""
    _, low, _, high = part.outline.bounding_box
    return high - low


def shunned(part: Part, kind: FlawKind, *, turned: bool) -> Runs:
    """Return where a part may not lie on a flaw of a kind, from its nearer end, mm.

    A hole it shuns everywhere; a mark where it is seen; loose leather where it is pulled on.

    Args:
        part: the part.
        kind: of the flaw.
        turned: whether the part lies with its tip towards the square end.
    """
    low, _, high, _ = part.outline.bounding_box
    runs: Runs = ((low, high),)
    if kind is FlawKind.LOOSE:
        runs = part.loaded
    elif kind is FlawKind.MARK:
        ends = [low, *(x for run in sorted(part.hidden) for x in run), high]
        runs = tuple(zip(ends[::2], ends[1::2], strict=True))
    cut = tuple((max(a, low) - low, min(b, high) - low) for a, b in runs if max(a, low) < min(b, high))
    long = high - low
    return tuple((long - b, long - a) for a, b in reversed(cut)) if turned else cut


def lies(part: Part, strip: Strip) -> tuple[bool, ...]:
    """Return the ways a part may lie on a strip: whether its tip is towards the square end.

    A strap's tip lies to the better end where a strip has one.
    """
    if part.kind is PartKind.KEEPER or strip.better_end is None:
        return (False, True)
    return (strip.better_end == "start",)
