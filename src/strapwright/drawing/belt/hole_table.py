"""Every hole of a piece in a row of a table, measured from both ends, for holes are marked from an end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.units import Units, format_length
from strapwright.drawing.text import figure
from strapwright.parts.own_shape import CUT_OUT
from strapwright.parts.part import Operation
from strapwright.rules.punches import AWL_HOLE

if TYPE_CHECKING:
    from strapwright.drawing.pattern_pieces import PatternPiece
    from strapwright.parts.part import Feature


NEAR: Final = 0.01
"""Holes whose places along a piece differ by less are one row, mm."""


@dataclass(frozen=True)
class HolePlace:
    """Holes at one place along a piece.

    Args:
        name: of the place: ``"A′"``, ``"3 in use"``; the holes' own where it has none.
        what: what the holes are, in trade words.
        from_end: from the piece's left end, on a belt the end of the turn-back, mm.
        from_datum: from the fold line, or from the left end where there is none, mm; below 0 in a turn-back.
        from_tip: from the right end, on a belt the tip, mm.
        ys: where they lie across, from the centre line, mm.
        long: along the piece, mm.
        wide: across it, mm.
    """

    name: str
    what: str
    from_end: float
    from_datum: float
    from_tip: float
    ys: tuple[float, ...]
    long: float
    wide: float

    @property
    def is_round(self) -> bool:
        """Whether a round punch makes them: a drawn cut-out is not round, though as long as it is wide."""
        return abs(self.long - self.wide) < NEAR and self.what != CUT_OUT

    def across(self, units: Units) -> str:
        """Return where the holes lie across, in words.

        Example:
            >>> HolePlace("A", "fastener hole", 60, 21, 960, (-11.0, 11.0), 5, 5).across("mm")
            '± 11'
        """
        if all(abs(y) < NEAR for y in self.ys):
            return "middle"
        low, high = min(self.ys), max(self.ys)
        if len(self.ys) == 2 and abs(low + high) < NEAR:
            return f"± {figure(high, units)}"
        return ", ".join(figure(y, units).replace("-", "−") for y in self.ys)

    def size(self, units: Units) -> str:
        """Return the holes' size as it stands on a tool: a diameter, or length × width.

        Example:
            >>> HolePlace("slot", "prong slot", 0, 0, 0, (0.0,), 29, 6).size("mm")
            '29 × 6 mm'
        """
        if self.is_round:
            return f"⌀ {format_length(self.wide, units)}"
        long = format_length(self.long, units).removesuffix(f" {units}")
        return f"{long} × {format_length(self.wide, units)}"


def hole_places(piece: PatternPiece) -> tuple[HolePlace, ...]:
    """Return the holes of a piece from its left end to its right, those one beside the other together.

    Holes for a needle, smaller than any punch, are left out: an iron spaces them.

    Args:
        piece: as the pattern shows it.
    """
    x0, _, x1, _ = piece.part.outline.bounding_box
    groups: dict[tuple[float, str, float, float], list[Feature]] = {}
    for feature in piece.part.features:
        low, bottom, high, top = feature.contour.bounding_box
        if feature.operation is Operation.SCORE or min(high - low, top - bottom) < AWL_HOLE:
            continue
        size = round(high - low, 3), round(top - bottom, 3)
        groups.setdefault((round((low + high) / 2, 3), feature.name, *size), []).append(feature)
    found = []
    for (x, what, *_), features in sorted(groups.items()):
        low, bottom, high, top = features[0].contour.bounding_box
        ys = sorted(sum(feature.contour.bounding_box[1::2]) / 2 for feature in features)
        named = next((name.text for name in piece.names if abs(name.x - x) < NEAR), what)
        name = "slot" if what == "prong slot" else named
        places = (x - x0, x - piece.datum[0], x1 - x)
        found.append(HolePlace(name, what, *places, tuple(ys), high - low, top - bottom))
    return tuple(found)


def hole_table(piece: PatternPiece, units: Units) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """Return the table of a piece's holes: its head, and a row for each place; no rows for no holes.

    Args:
        piece: the piece.
        units: of the figures.
    """
    folded = "fold" in piece.datum[1]
    shown = [0, 1, 2] if folded else [0, 2]  # without a fold all is measured from the ends alone
    rows = []
    for place in hole_places(piece):
        along = (place.from_end, place.from_datum, place.from_tip)
        told = [figure(along[k], units).replace("-", "−") for k in shown]
        rows.append((place.name, *told, place.across(units), place.size(units)))
    return ("hole", *(piece.measured[k] for k in shown), "across", "size"), tuple(rows)
