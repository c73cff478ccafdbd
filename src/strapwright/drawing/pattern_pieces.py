"""What a pattern shows of a draft: each belt's pieces, the names of their marks, the table of their holes."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from strapwright.core.findings import Finding, Severity
from strapwright.core.units import Units, format_length
from strapwright.drawing.text import figure, length_by_width
from strapwright.parts.own_shape import CUT_OUT
from strapwright.parts.part import Operation, PartKind
from strapwright.rules.punches import AWL_HOLE, usual_punch

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.job.draft import Draft
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.nesting.layout.types import Layout
    from strapwright.parts.part import Feature, Part

NEAR: Final = 0.01
"""Holes whose places along a piece differ by less are one row, mm."""


@dataclass(frozen=True)
class Name:
    """A name over a place along a piece.

    Args:
        x: the place, mm.
        text: the name.
    """

    x: float
    text: str


@dataclass(frozen=True)
class PatternPiece:
    """One piece of an order, as it is drawn once however many are made.

    Args:
        part: the piece.
        title: what it is, in words.
        cut: how many are cut, and from what leather, in words.
        names: over its rows, holes and fold lines.
        datum: where lengths along it are measured from: its x, mm, and its words.
        measured: heads of a table of its holes: from its left end, from the datum, from its right end.
        graded: whether it stands for all sizes of a run: what lies between its two ends is in a table then.
    """

    part: Part
    title: str
    cut: str
    names: tuple[Name, ...]
    datum: tuple[float, str]
    measured: tuple[str, str, str] = ("from the first end", "from its fold", "from the second end")
    graded: bool = False


@dataclass(frozen=True)
class Order:
    """One belt or strap of a draft, with its pieces.

    Args:
        id: of the belt or strap.
        place: its number in the draft, from 1.
        quantity: how many alike.
        facts: what it is, in words.
        pieces: the strap first.
        findings: what to know of it.
        run: the graded belt it is a size of; empty for none.
    """

    id: str
    place: int
    quantity: int
    facts: str
    pieces: tuple[PatternPiece, ...]
    findings: tuple[Finding, ...]
    run: str = ""


def orders_of(drafted: Draft, units: Units) -> tuple[Order, ...]:
    """Return the belts of a draft, then its other straps."""
    pieces: dict[str, dict[PartKind, list[Part]]] = {}
    for part in drafted.parts:
        pieces.setdefault(part.belt_id, {}).setdefault(part.kind, []).append(part)
    found: list[Order] = []
    for item in drafted.items:
        if item.id not in pieces:  # of two ends alone, another size of a run
            continue
        made = pieces[item.id]
        strap = made[PartKind.STRAP][0]
        across = strap.outline.bounding_box[3] - strap.outline.bounding_box[1]
        facts = (
            f"strap {format_length(across, units)} wide, blank {format_length(item.blank_length, units)} long"
        )
        if item.figures is not None:
            in_use = format_length(item.figures.hole_in_use, units)
            facts += f" · fold line to hole in use {in_use}"
        found.append(
            Order(
                id=item.id,
                place=len(found) + 1,
                quantity=item.quantity,
                facts=facts,
                pieces=tuple(_piece(item, alike, units) for alike in made.values()),
                findings=item.findings,
                run=item.run,
            )
        )
    return tuple(found)


def to_give(orders: Sequence[Order], units: Units) -> tuple[Order, ...]:
    """Return orders to be given away: one for all sizes of a run, no findings: those are for the shop.

    Args:
        orders: of the draft.
        units: of the lengths shown.
    """
    first = {order.run or order.id: order for order in reversed(orders)}
    sizes = Counter(order.run or order.id for order in orders)
    found = []
    for name in dict.fromkeys(order.run or order.id for order in orders):
        order, graded = first[name], sizes[name] > 1
        strap = order.pieces[0].part.outline.bounding_box
        facts = f"strap {format_length(strap[3] - strap[1], units)} wide" if graded else order.facts
        pieces = tuple(replace(piece, graded=graded) for piece in order.pieces)
        found.append(replace(order, id=name, facts=facts, pieces=pieces, findings=()))
    return tuple(found)


def placed_orders(orders: Sequence[Order], layout: Layout) -> tuple[tuple[Order, ...], tuple[Finding, ...]]:
    """Return those belts and straps a layout has room for, each with its hide, and what is left out.

    Args:
        orders: of the draft the layout was made for.
        layout: where their parts lie.
    """
    hides: dict[str, dict[str, None]] = {}
    for placed in layout.placed:
        hides.setdefault(placed.part.belt_id, {})[placed.hide] = None
    waiting = {left.part.belt_id: left for left in layout.unplaced}
    kept = tuple(
        replace(order, facts=f"{order.facts} · on {', '.join(hides[order.id])}")
        for order in orders
        if order.id in hides and order.id not in waiting
    )
    left_out = tuple(
        Finding(
            "not-on-layout",
            Severity.CAUTION,
            f"{waiting[order.id].part.id} does not fit on the layout, so {order.id} is not printed.",
            "Nest it on another hide, or print without --layout.",
            order.id,
        )
        for order in orders
        if order.id in waiting
    )
    return kept, left_out


def _piece(item: StrapDraft, alike: Sequence[Part], units: Units) -> PatternPiece:
    part = alike[0]
    low, y0, x1, y1 = part.outline.bounding_box
    tannage = f"{part.tannage} {'tanned' if part.tannage in ('vegetable', 'chrome') else 'tannage'}"
    cut = f"cut {len(alike)} · leather {format_length(part.thickness, units)}, {tannage}"
    if part.kind is PartKind.KEEPER:
        size = length_by_width(x1 - low, y1 - y0, units)
        return PatternPiece(part, f"keeper, {size}", cut, (), (low, "its end"))
    if part.kind is PartKind.LINING:
        return PatternPiece(part, "lining", cut, (), (low, "its square end"))
    if not item.strap.ends:
        title = f"as drawn in its {'drawing' if item.spec.drawing is not None else 'sketch'}"
        return PatternPiece(part, title, cut, (), (low, "the end at the left"))
    names, first = tuple(_names(item)), item.strap.ends[0]
    if first.closes:
        from_belt = "from the end", "from the fold", "from the tip"
        return PatternPiece(part, "strap", cut, names, (0.0, "the fold line"), from_belt)
    words = "the fold line at the left" if first.turned else "the end at the left"
    return PatternPiece(part, "strap", cut, names, (0.0, words))


def _names(item: StrapDraft) -> Iterator[Name]:
    for one in item.strap.turned:
        yield Name(one.fold, "fold line")
        for letter, row, mate in zip("ABC", one.end.rows, one.end.mates, strict=False):
            yield Name(one.x(row), letter)
            yield Name(one.x(mate), f"{letter}′")
    for _, end in item.turned:
        if end.dee:
            yield Name(end.dee, "dee ring")
    in_use = item.figures.hole_in_use if item.figures is not None else -math.inf
    for hole_row in item.strap.hole_rows:
        for number, x in enumerate(hole_row.xs, 1):
            yield Name(x, f"{number} in use" if abs(x - in_use) < 0.01 else str(number))


def hole_words(feature: Feature, units: Units) -> str:
    """Return what a hole is made with and what it is for; empty for lines.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> from strapwright.geometry.shapes import stadium
        >>> from strapwright.parts.part import Feature
        >>> hole_words(Feature("fastener hole", Operation.CUT, Contour.circle(0, 0, 5)), "mm")
        'punch 5 mm (fastener hole)'
        >>> hole_words(Feature("fastener hole", Operation.CUT, Contour.circle(0, 0, 5.26)), "mm")
        'punch 5.5 mm (fastener hole, ⌀ 5.26 mm)'
        >>> hole_words(Feature("prong slot", Operation.CUT, stadium(0, 0, 29, 6)), "mm")
        'slot 29 × 6 mm (prong slot)'
    """
    if feature.operation is Operation.SCORE:
        return ""
    x0, y0, x1, y1 = feature.contour.bounding_box
    circle = feature.contour.as_circle(1e-6)
    if circle is None:
        return f"slot {length_by_width(x1 - x0, y1 - y0, units)} ({feature.name})"
    across = circle[2]
    if across < AWL_HOLE:
        return f"awl {format_length(across, units)} ({feature.name})"
    punch = usual_punch(across)
    size = f", ⌀ {format_length(across, units)}" * (punch - across > 0.01)
    return f"punch {format_length(punch, units)} ({feature.name}{size})"


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
        return length_by_width(self.long, self.wide, units)


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
