"""Parts and strips in whole numbers: lengths in tenths of a millimetre, costs as the aim counts them.

A part's length, with the gap after it, is rounded up, a clear stretch down, so that whatever fits in whole
numbers fits the leather; what is proven is proven of these, a tenth of a millimetre a part apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.nesting.hide.types import FlawKind, agrees, tanned_as
from strapwright.nesting.strips.types import WIDTH_AGREES, length_of, lies, shunned, width_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.strips.types import Strip, StripAim, StripRules
    from strapwright.parts.part import Part

TICKS: Final = 10
"""Whole numbers a millimetre."""

_SAME: Final = 1e-6
"""Rounding of lengths as they are worked out, mm."""

Starts = tuple[tuple[int, int], ...]
"""Runs of places a part may begin at, first and last, in ticks."""


@dataclass(frozen=True)
class Item:
    """Parts that are all alike.

    Args:
        parts: they.
        ticks: what one takes along a strip, with the gap after it.
        weight: what leaving one out weighs: its area, cm², 1 or more.
    """

    parts: tuple[Part, ...]
    ticks: int
    weight: int


@dataclass(frozen=True)
class Stretch:
    """A stretch of a strip without a hole.

    Args:
        low: where it begins, mm from the squared start.
        room: its length with one gap, ticks.
        starts: where a part of an item may begin, by the item and whether it is turned; None where marks and
            loose leather are of no concern, so that only lengths count.
        soft: where those are, with the margin, first and last tick.
    """

    low: float
    room: int
    starts: dict[tuple[int, bool], Starts] | None = None
    soft: Starts = ()


@dataclass(frozen=True)
class StripKind:
    """Strips that are all alike.

    Args:
        strip: they.
        stretches: of each.
        takes: the items that may be cut from them.
        cost: of cutting into one.
        worth: of a tick of leftover that goes back to the shelf.
    """

    strip: Strip
    stretches: tuple[Stretch, ...]
    takes: frozenset[int]
    cost: int
    worth: int


@dataclass(frozen=True)
class StripProblem:
    """What is to be assigned.

    Args:
        items: what is to be cut.
        kinds: of strips.
        gap: ticks.
        keep: leftovers from so many ticks on go back to the shelf.
        penalty: for a unit of weight left out: more than all strips cost.
        unit: what the cost of a plan is divided by to be in the aim's unit: strips, or mm².
    """

    items: tuple[Item, ...]
    kinds: tuple[StripKind, ...]
    gap: int
    keep: int
    penalty: int
    unit: int

    def refund(self, kind: StripKind, room: int, used: int) -> int:
        """Return the worth of what parts leave at the end of a stretch, if it goes back to the shelf.

        Args:
            kind: of the strip.
            room: of the stretch.
            used: by parts and their gaps, ticks.
        """
        left = room - self.gap - used
        return kind.worth * left if kind.worth and left >= self.keep else 0


def build_problem(
    parts: Sequence[Part], strips: Sequence[Strip], rules: StripRules, aim: StripAim
) -> StripProblem:
    """Return what is to be assigned to what.

    Args:
        parts: the parts.
        strips: the strips, in any order.
        rules: what is kept free.
        aim: what costs.
    """
    soft = any(flaw.kind is not FlawKind.HOLE for strip in strips for flaw in strip.flaws)
    groups: dict[object, list[Part]] = {}
    for part in parts:
        along = (part.hidden, part.loaded, part.outline.bounding_box[0]) if soft else ()
        like = (length_of(part), width_of(part), part.thickness, part.tannage, part.kind, along)
        groups.setdefault(like, []).append(part)
    items = tuple(
        Item(
            tuple(alike),
            math.ceil((length_of(alike[0]) + rules.gap - _SAME) * TICKS),
            max(1, round(alike[0].outline.area / 100)),
        )
        for alike in groups.values()
    )
    areas = [max(1, round(strip.width)) * math.floor(strip.length * TICKS) for strip in strips]
    if aim == "fewest":  # of those with as few strips, the least leather: in cm², below one strip in all
        areas = [math.ceil(area / 1000) for area in areas]
        unit = sum(area * strip.quantity for area, strip in zip(areas, strips, strict=True)) + 1
        costs = [unit + area for area in areas]
    else:
        unit, costs = TICKS, areas
    kinds = tuple(
        StripKind(
            strip,
            tuple(_stretch(strip, run, items, rules) for run in rules.stretches(strip)),
            frozenset(n for n, item in enumerate(items) if suits(strip, item.parts[0])),
            cost,
            max(1, round(strip.width)) if aim == "stock" else 0,
        )
        for strip, cost in zip(strips, costs, strict=True)
    )
    penalty = sum(kind.cost * kind.strip.quantity for kind in kinds) + 1
    return StripProblem(
        items, kinds, math.ceil(rules.gap * TICKS), math.ceil(rules.keep * TICKS), penalty, unit
    )


def suits(strip: Strip, part: Part) -> bool:
    """Whether a part may be cut from a strip by its width, thickness and tannage."""
    return (
        strip.width >= width_of(part) - WIDTH_AGREES - _SAME
        and agrees(strip.thickness, part.thickness)
        and tanned_as(strip.tannage, part.tannage)
    )


def _stretch(strip: Strip, run: tuple[float, float], items: Sequence[Item], rules: StripRules) -> Stretch:
    low, high = run
    room = math.floor((high - low + rules.gap + _SAME) * TICKS)
    near = [
        flaw
        for flaw in rules.flaws(strip)
        if flaw.kind is not FlawKind.HOLE
        and flaw.start - rules.margin < high
        and flaw.end + rules.margin > low
    ]
    if not near:
        return Stretch(low, room)
    starts = {}
    for number, item in enumerate(items):
        part = item.parts[0]
        if not suits(strip, part):
            continue
        for turned in lies(part, strip):
            taken: list[tuple[int, int]] = []
            for flaw in near:
                for a, b in shunned(part, flaw.kind, turned=turned):
                    first = (flaw.start - rules.margin - b - low + _SAME) * TICKS
                    last = (flaw.end + rules.margin - a - low - _SAME) * TICKS
                    taken.append((math.floor(first) + 1, math.ceil(last) - 1))
            starts[number, turned] = _without(room - item.ticks, taken)
    soft = [
        (
            math.floor((flaw.start - rules.margin - low) * TICKS),
            math.ceil((flaw.end + rules.margin - low) * TICKS),
        )
        for flaw in near
    ]
    return Stretch(low, room, starts, tuple(soft))


def _without(last: int, taken: Sequence[tuple[int, int]]) -> Starts:
    """Return what of 0 to the last place is in no run that is taken.

    Example:
        >>> _without(10, [(2, 3), (3, 5), (9, 20)])
        ((0, 1), (6, 8))
    """
    out, low = [], 0
    for first, end in sorted(taken):
        if low <= min(first - 1, last):
            out.append((low, min(first - 1, last)))
        low = max(low, end + 1)
    if low <= last:
        out.append((low, last))
    return tuple(out)


def why_none(problem: StripProblem, item: Item) -> str:
    """Return why parts of an item are on no strip, in words.

    Args:
        problem: the problem.
        item: one of its items.
    """
    part = item.parts[0]
    strips = [kind.strip for kind in problem.kinds]
    if not any(tanned_as(strip.tannage, part.tannage) for strip in strips):
        return f"no strip is tanned {part.tannage}; add strips that are"
    if not any(agrees(strip.thickness, part.thickness) for strip in strips):
        return f"no strip is about {part.thickness:.3g} mm thick; add strips that are"
    number = problem.items.index(item)
    fit = [kind for kind in problem.kinds if number in kind.takes]
    if not fit:
        widest = max(strip.width for strip in strips)
        if widest < width_of(part) - WIDTH_AGREES:
            return f"needs {width_of(part):.4g} mm of width, the widest strip is {widest:.4g} mm"
        return (
            f"no strip {width_of(part):.4g} mm wide is also {part.thickness:.3g} mm thick and tanned "
            f"{part.tannage}; add strips that are"
        )
    longest = max((s.room for kind in fit for s in kind.stretches), default=0)
    if longest < item.ticks:
        least, most = length_of(part), max(0, longest - problem.gap) / TICKS
        return f"needs {least:.1f} mm of clear length, the longest there is is {most:.1f} mm"
    return "no strip has room left; add strips"
