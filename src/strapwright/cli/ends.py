"""The two ends of every belt, cut to try the buckle in scrap, as a command shows them."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.parts.part import Part

_COLUMNS = ("belt", "piece", "long", "wide", "from the fold line", "in it")
_CLOSED = ("hole", "slot")


def print_ends(pieces: Sequence[Part], units: str) -> None:
    """Print the end pieces: where on the strap each lies and what is made in it.

    Args:
        pieces: buckle end and tip end of each belt.
        units: of the figures.
    """
    from strapwright.cli.terminal.report import length, print_table

    rows = []
    for piece in pieces:
        x0, y0, x1, y1 = piece.outline.bounding_box
        names = Counter(feature.name for feature in piece.features if feature.name.endswith(_CLOSED))
        told = [f"{count} {name}{'s' if count > 1 else ''}" for name, count in names.items()]
        place = f"{length(x0, units)} to {length(x1, units)}"
        size = length(x1 - x0, units), length(y1 - y0, units)
        rows.append([piece.belt_id, piece.id.rpartition("/")[2], *size, place, ", ".join(told) or "no hole"])
    print_table(f"ends only, to try in scrap, {units}", _COLUMNS, rows)
