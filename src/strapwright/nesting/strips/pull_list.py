"""A plan as one works by it: strip by strip, marks to pull with one tape from the squared end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.core.units import format_length
from strapwright.nesting.hide.types import FlawKind
from strapwright.nesting.strips.leftovers import leftovers
from strapwright.nesting.strips.types import WIDTH_AGREES, width_of
from strapwright.parts.part import PartKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.core.units import Units
    from strapwright.nesting.strips.types import CutStrip, OnStrip, StripPlan


@dataclass(frozen=True)
class TapeMark:
    """A stretch of a strip between two marks.

    Args:
        start: from the square end, mm.
        end: likewise.
        what: a part's id, a flaw to leave out, or what goes back to the shelf.
        how: which way it lies, and what it is cut down to.
    """

    start: float
    end: float
    what: str
    how: str = ""


def strip_title(plan: StripPlan, cut: CutStrip, units: Units) -> str:
    """Return the heading of a strip's list: which strip it is, and how its end is squared.

    Args:
        plan: the plan.
        cut: one of its strips.
        units: of its lengths.
    """
    strip = cut.strip
    of = f" of {strip.quantity}" if strip.quantity > 1 else ""
    width, length = (format_length(mm, units) for mm in (strip.width, strip.length))
    square = format_length(plan.rules.square, units)
    first = f"cut {square} off its start, square" if plan.rules.square else "its start is square"
    return f"{cut.name}{of}, {width} × {length}: {first}; measure from there"


def tape_marks(plan: StripPlan, cut: CutStrip, units: Units) -> tuple[TapeMark, ...]:
    """Return a strip's stretches in the order a tape comes to them.

    Args:
        plan: the plan.
        cut: one of its strips.
        units: of lengths in words.
    """
    found = [TapeMark(one.start, one.end, one.part.id, "; ".join(_how(cut, one, units))) for one in cut.parts]
    for flaw in plan.rules.flaws(cut.strip):
        does = "leave it out" if flaw.kind is FlawKind.HOLE else "as marked on the strip"
        found.append(TapeMark(flaw.start, flaw.end, f"({flaw.kind})", does))
    found += [
        TapeMark(max(0.0, left.start), left.end, "back to the shelf", left.strip.id)
        for left in leftovers(plan)
        if left.of == cut
    ]
    return tuple(sorted(found, key=lambda one: (one.start, one.end)))


def _how(cut: CutStrip, one: OnStrip, units: Units) -> Iterator[str]:
    if one.part.kind is not PartKind.KEEPER:
        yield "tip to the square end" if one.turned else "tip away"
    if cut.strip.width > width_of(one.part) + WIDTH_AGREES:
        yield f"cut down to {format_length(width_of(one.part), units)}"


def mark_rows(plan: StripPlan, cut: CutStrip, units: Units) -> list[dict[str, str]]:
    """Return a strip's list as rows of text, by the names of their columns.

    Args:
        plan: the plan.
        cut: one of its strips.
        units: of its lengths.
    """
    return [
        {
            f"from {units}": _place(one.start, units),
            f"to {units}": _place(one.end, units),
            "what": one.what,
            "how": one.how,
        }
        for one in tape_marks(plan, cut, units)
    ]


def _place(mm: float, units: Units) -> str:
    return f"{mm:.1f}" if units == "mm" else format_length(mm, "in").removesuffix(" in")


def list_text(plan: StripPlan, units: Units) -> str:
    """Return the list of every strip as plain text.

    Args:
        plan: the plan.
        units: of its lengths.
    """
    lines: list[str] = []
    for cut in plan.cut:
        rows = mark_rows(plan, cut, units)
        table = [list(rows[0]), *(list(row.values()) for row in rows)]
        widths = [max(len(row[column]) for row in table) for column in range(4)]
        lines += ["", strip_title(plan, cut, units)]
        for row in table:
            cells = (
                cell.rjust(w) if n < 2 else cell.ljust(w)
                for n, (cell, w) in enumerate(zip(row, widths, strict=True))
            )
            lines.append("  ".join(cells).rstrip())
    return "\n".join([*lines, ""])
