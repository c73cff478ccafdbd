"""What a plan leaves of its strips: what goes back to the shelf, what is waste, and the file of both.

A stretch's leftover begins a gap after its last part and ends at a hole or the strip's raw end; one shorter
than what is kept is waste, as is all that lies between parts.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from strapwright.core.text import numbered
from strapwright.files.atomic_write import file_safe
from strapwright.job.bill import Waste
from strapwright.nesting.hide.types import FlawKind
from strapwright.nesting.strips.file import strips_to_toml
from strapwright.nesting.strips.types import Strip, StripFlaw

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from strapwright.nesting.strips.types import CutStrip, StripPlan


_SAME = 0.05
"""A leftover this much shorter than what is kept is kept all the same, mm: lengths go by tenths."""


@dataclass(frozen=True)
class Leftover:
    """A length that goes back to the shelf.

    Args:
        strip: it, as a strip of its own; its start is the end nearer to the old one's.
        of: the strip it was cut from.
        start: where it begins, mm from that strip's square end.
        end: where it ends, likewise.
    """

    strip: Strip
    of: CutStrip
    start: float
    end: float


def leftovers(plan: StripPlan) -> tuple[Leftover, ...]:
    """Return what is kept of the strips cut into, in their order.

    Args:
        plan: the plan.
    """
    taken = {strip.id for strip in plan.strips}
    found = []
    for cut in plan.cut:
        names = (f"{cut.name} r{number}" for number in range(1, 1000))
        for start, end in _kept(plan, cut):
            wanted = next(names)
            name = next(name for name in numbered(wanted) if name not in taken)
            taken.add(name)
            found.append(Leftover(_as_strip(plan, cut.strip, start, end, name), cut, start, end))
    return tuple(found)


def _kept(plan: StripPlan, cut: CutStrip) -> Iterator[tuple[float, float]]:
    rules, reach = plan.rules, cut.strip.length - 2 * plan.rules.square
    for low, high in rules.stretches(cut.strip):
        ends = [one.end for one in cut.parts if low - 1e-6 <= one.start < high]
        begin = max(ends) + rules.gap if ends else low
        if high - begin >= max(rules.keep - _SAME, 1e-6):
            raw_start = -rules.square if not ends and low == 0 else begin
            yield raw_start, high + (rules.square if high >= reach else 0.0)


def _as_strip(plan: StripPlan, strip: Strip, start: float, end: float, name: str) -> Strip:
    flaws = tuple(
        StripFlaw(flaw.kind, max(0.0, flaw.start - start), min(end, flaw.end) - start)
        for flaw in plan.rules.flaws(strip)
        if flaw.kind is not FlawKind.HOLE and flaw.start < end and flaw.end > start
    )
    return replace(strip, id=name, length=end - start, quantity=1, flaws=flaws, parent=strip.id)


def uncut(plan: StripPlan) -> tuple[Strip, ...]:
    """Return the strips a plan does not cut into, those alike together."""
    used = Counter(cut.strip.id for cut in plan.cut)
    left = (replace(strip, quantity=strip.quantity - used[strip.id]) for strip in plan.strips)
    return tuple(strip for strip in left if strip.quantity)


def waste_of(plan: StripPlan) -> float:
    """Return which share of the leather used up does not become parts.

    What goes back to the shelf does not count as used up; squared ends, flaws, gaps and what is cut off a
    strip's width do.
    """
    cut = sum(one.strip.width * one.strip.length for one in plan.cut)
    kept = sum(one.strip.width * one.strip.length for one in leftovers(plan))
    parts = sum(one.part.outline.area for cut_strip in plan.cut for one in cut_strip.parts)
    return 1.0 - parts / (cut - kept) if plan.cut else 0.0


def wastes_of(plan: StripPlan) -> dict[str, Waste]:
    """Return each placed part's share of waste, which is that of all strips together, by the part's id."""
    share = Waste(waste_of(plan), "true of the strips, as assigned")
    return {one.part.id: share for cut in plan.cut for one in cut.parts}


def left_files(plan: StripPlan) -> dict[str, str]:
    """Return a strips file for what is left of every file of strips that is cut into, by file name.

    It holds uncut strips and leftovers alike and takes the place of the file it is named after; where nothing
    is left it is not there.

    Args:
        plan: the plan.
    """
    kept, whole = leftovers(plan), uncut(plan)
    texts: dict[str, str] = {}
    for source in dict.fromkeys(cut.strip.source for cut in plan.cut):
        strips = [strip for strip in (*whole, *(one.strip for one in kept)) if strip.source == source]
        if strips:
            notes = (
                f"What is left of {Path(source).name} once the strips are cut: use it instead of that file.",
                "Measure a length again if it was not cut where the list says.",
            )
            texts[next(name for name in _names(source) if name not in texts)] = strips_to_toml(strips, notes)
    return texts


def left_names(strips: Iterable[Strip]) -> list[str]:
    """Return the names that files of what is left of some strips may have."""
    names: list[str] = []
    for source in dict.fromkeys(strip.source for strip in strips):
        names.append(next(name for name in _names(source) if name not in names))
    return names


def _names(source: str) -> Iterator[str]:
    """Yield names for the file of what is left: the first is that of a file cut into for the first time.

    Example:
        >>> next(_names("stock/crew.csv")), next(_names("crew-left.toml")), next(_names("crew-left-2.toml"))
        ('crew-left.toml', 'crew-left-2.toml', 'crew-left-3.toml')
    """
    stem, dash, count = Path(source).stem.partition("-left")
    number = int(count[1:]) + 1 if count[1:].isdigit() else 2 if dash and not count else 1
    base = file_safe(stem if number > 1 else Path(source).stem, "strips")
    while True:
        yield f"{base}-left{f'-{number}' if number > 1 else ''}.toml"
        number += 1
