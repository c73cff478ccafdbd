"""Straps that are no belts, as a command shows them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.cli.terminal.report import say

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Literal

    from strapwright.job.strap_draft import StrapDraft

_COLUMNS = ("strap", "made", "width", "length", "blank", "ends", "turn-back", "matching holes", "fasteners")
_HOLES = ("strap", "holes", "⌀", "pitch", "first and last at")


def print_straps(straps: Sequence[StrapDraft], units: Literal["mm", "in"], *, explain: bool) -> None:
    """Print what was worked out of straps that are no belts; nothing where there are none.

    Args:
        straps: those drafted.
        units: of the figures.
        explain: whether the working is shown too.
    """
    from strapwright.cli.terminal.report import length, print_table

    if not straps:
        return
    rows = [line for strap in straps for line in _lines(strap, units)]
    print_table(f"other straps, {units}, rows from their own fold line", _COLUMNS, rows)
    holes = [
        [
            strap.id,
            str(row.count),
            length(row.diameter, units),
            length(row.spacing, units, finest=64),
            f"{length(row.xs[0], units)}, {length(row.xs[-1], units)}",
        ]
        for strap in straps
        for row in strap.hole_rows
    ]
    if holes:
        print_table(f"their holes, {units}, places from the first end", _HOLES, holes)
    if explain:
        columns = ("figure", "formula", "with the numbers", f"= {units}")
        for strap in straps:
            steps = [
                (step.label, step.formula, step.numbers, length(step.value, units, 2)) for step in strap.steps
            ]
            if steps:
                print_table(f"working of {strap.id}, numbers in mm", columns, steps)
            if strap.strength is not None:
                say(f"strength of {strap.id}, to compare designs by:")
                for line in strap.strength.lines():
                    say(f"  {line}")


def _lines(strap: StrapDraft, units: Literal["mm", "in"]) -> list[list[str]]:
    """Return a line for each end; a sketch has one."""
    from strapwright.cli.terminal.report import length

    about = [
        strap.id,
        str(strap.quantity),
        *(length(value, units) for value in (strap.width, strap.length, strap.blank_length)),
    ]
    if not strap.ends:
        return [[*about, f"as drawn in {strap.ends_named[0]}", "", "", ""]]
    lines = []
    for got, named in zip(strap.ends, strap.ends_named, strict=True):
        told = ["", "", ""]
        if got is not None:
            end = got.end
            rows = [
                f"{name} {length(x, units)}\n{name}′ {length(mate, units, 2).replace('-', '−')}"
                for name, x, mate in zip("ABC", end.rows, end.mates, strict=False)
            ]
            posts = [post.words() for post in got.posts]
            told = [length(end.turn_back, units), "\n".join(rows) or "stitched", "\n".join(posts) or "none"]
        lines.append([*about, named, *told])
        about = [""] * len(about)
    return lines
