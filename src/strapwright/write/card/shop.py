"""The first sheet of a bench card: what the whole batch takes, from which hide, by which machine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.core.findings import told_together
from strapwright.core.units import Units, format_length, lengths_in
from strapwright.trade.safety import cautions
from strapwright.write.card.blocks import Blanks, Drawing, Facts, Sheet, Table, Ticks, Words
from strapwright.write.card.orders import piece_size
from strapwright.write.card.tools import punches_for
from strapwright.write.card.work import NOT_FOR, RULES, machine_steps

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.core.findings import Finding
    from strapwright.drawing.pattern_pieces import Order
    from strapwright.job.bill.lines import Bill
    from strapwright.job.draft import Draft
    from strapwright.machine.profile.machine import Machine
    from strapwright.nesting.layout.types import Layout
    from strapwright.trade.punches import Punch
    from strapwright.write.card.blocks import Block

    Units = Units


@dataclass(frozen=True)
class AtMachine:
    """What a card tells of the machine.

    Args:
        machine: what cuts.
        minutes: how long it runs; None where that is not known.
        said: where that comes from, or why it is not known.
        noticed: while the cuts were planned.
    """

    machine: Machine
    minutes: float | None = None
    said: str = ""
    noticed: tuple[Finding, ...] = ()


def shop_sheet(
    drafted: Draft,
    orders: Sequence[Order],
    bill: Bill,
    owned: Mapping[str, Punch],
    units: Units,
    *,
    machine: AtMachine | None,
    layout: Layout | None,
    waste: float,
    brief: bool,
) -> Sheet:
    """Return the sheet for the shop.

    Args:
        drafted: the draft.
        orders: its belts and straps as the pattern shows them.
        bill: what they take.
        owned: the user's own punches.
        units: of the lengths told.
        machine: what cuts; None for work by hand.
        layout: where the parts lie; None where they are not nested.
        waste: the house's share of it, where they are not.
        brief: whether the sheets that follow have no steps, where cautions would stand.
    """
    made = sum(order.quantity for order in orders)
    pieces = len(drafted.parts)
    subtitle = f"{_counted(made, 'piece')} of work, {_counted(pieces, 'part')} to cut"
    blocks = tuple(_blocks(drafted, orders, bill, owned, units, machine, layout, waste, brief))
    return Sheet("shop", "Shop order", subtitle, blocks)


def _blocks(
    drafted: Draft,
    orders: Sequence[Order],
    bill: Bill,
    owned: Mapping[str, Punch],
    units: Units,
    machine: AtMachine | None,
    layout: Layout | None,
    waste: float,
    brief: bool,
) -> Iterator[Block]:
    by = "hand" if machine is None else machine.machine.name
    facts = [("job", drafted.name or "without a name"), ("cut by", by)]
    facts += () if machine is None else _time_facts(machine)
    if layout is None:
        facts.append(("layout", f"not laid on a hide; the leather includes {waste:.0%} waste"))
    yield Facts(tuple(facts))
    grave = tuple(
        f"{finding.subject}: {finding.what} {finding.do}"
        for finding in (found.in_units(units) for found in drafted.findings)
        if finding.severity == "stop"
    )
    if grave:
        yield Words("Stop: these are not to be made as they stand", grave, grave=True)
    yield Blanks(("hide", "started", "finished", "by"))
    if layout is not None:
        yield from _layout(drafted, layout)
    yield _cutting_list(orders, units)
    yield _leather(bill, units)
    hardware = _hardware(bill)
    if hardware:
        yield Table("Hardware", ("item", "how many"), hardware, ticks=True)
    punches = _punches(orders, owned, units)
    if punches:
        title = "Punches" if machine is None else "Punches, for what the machine leaves to the hand"
        yield Table(title, ("size", "holes", "tool"), punches)
    if machine is not None:
        noticed = told_together([one.in_units(units) for one in machine.noticed if one.severity != "note"])
        if noticed:
            told = (f"{', '.join(about)}: {one.what} {one.do}".removeprefix(": ") for one, about in noticed)
            yield Words("Noticed while planning the cuts", tuple(told), grave=True)
        yield Ticks(f"At the machine: {machine.machine.name}", machine_steps(machine.machine, units))
    yield Words("At the bench", (*(cautions("bench") if brief else (RULES,)), NOT_FOR), grave=True)


def _time_facts(machine: AtMachine) -> Iterator[tuple[str, str]]:
    minutes = machine.minutes
    yield "machine time", "not estimated" if minutes is None else f"{max(minutes, 1):.0f} min, an estimate"
    if machine.said:
        yield "how calculated", machine.said


def _layout(drafted: Draft, layout: Layout) -> Iterator[Block]:
    from strapwright.drawing.layout.picture import picture
    from strapwright.nesting.stock.remnant import remnants_on, waste_of_hide

    yield Drawing(
        "Layout",
        picture(layout, title=drafted.name),
        f"{len(layout.placed)} of {layout.asked} parts on their hides, as listed below",
    )
    rows = []
    for hide in layout.hides:
        placed = layout.placed_on(hide.name)
        if not placed:
            continue
        rest = remnants_on(layout, hide)
        told = []
        for left in rest:
            clear = left.clear
            room = f", {clear.along:.0f} × {clear.across:.0f} mm clear in it" if clear else ""
            told.append(f"{left.hide.name}: {left.area / 1e6:.2f} m²{room}")
        kept = "; ".join(told) or "nothing large enough to keep"
        share = f"{waste_of_hide(layout, hide):.0%}"
        rows.append((hide.name, f"{hide.area / 1e6:.2f} m²", str(len(placed)), share, kept))
    columns = ("hide", "area", "parts", "waste of what is used", "what is left")
    yield Table("Hides", columns, tuple(rows), ticks=True)
    if layout.unplaced:
        missing = tuple(f"{left.part.id}: {left.reason}" for left in layout.unplaced)
        yield Words("Does not fit", missing, grave=True)


def _cutting_list(orders: Sequence[Order], units: Units) -> Table:
    """Return what to cut, a row for each belt or strap: its strap, then its other pieces."""
    rows = []
    for order in orders:
        strap, *others = order.pieces
        leather = [f"{format_length(round(strap.part.thickness, 2), units)}, {strap.part.tannage}"]
        more = [f"{piece.part.kind} {piece_size(piece, units)}" for piece in others]
        for piece, words in zip(others, more, strict=True):
            if piece.part.thickness != strap.part.thickness or piece.part.tannage != strap.part.tannage:
                thin = format_length(round(piece.part.thickness, 2), units)
                more[more.index(words)] = f"{words}, {thin} {piece.part.tannage}"
        rows.append(
            (order.id, str(order.quantity), piece_size(strap, units), "; ".join(more) or "none", *leather)
        )
    columns = ("belt", "how many", "strap", "with it", "leather")
    return Table("Cutting list, straps with the backbone", columns, tuple(rows), ticks=True)


def _leather(bill: Bill, units: Units) -> Table:
    areas: dict[str, float] = {}
    for line in bill.lines:
        if line.kind == "leather":
            what = line.item.partition(", ")[2]
            areas[what] = areas.get(what, 0.0) + line.quantity
    per, unit, digits = (0.3048**2, "sq ft", 2) if units == "in" else (1.0, "m²", 2)
    rows = tuple((lengths_in(what, units), f"{area / per:.{digits}f} {unit}") for what, area in areas.items())
    return Table("Leather, waste included", ("leather", "area"), rows)


def _hardware(bill: Bill) -> tuple[tuple[str, ...], ...]:
    counts: dict[str, float] = {}
    for line in bill.lines:
        if line.kind == "hardware":
            what = line.item.partition(", row")[0]
            counts[what] = counts.get(what, 0.0) + line.quantity
    return tuple((what, f"{count:g}") for what, count in sorted(counts.items()))


def _punches(
    orders: Sequence[Order], owned: Mapping[str, Punch], units: Units
) -> tuple[tuple[str, ...], ...]:
    counts: dict[tuple[str, str], int] = {}
    for order in orders:
        for need in punches_for(order, owned, units):
            key = need.size, need.tool
            counts[key] = counts.get(key, 0) + need.count
    return tuple((size, str(count), tool) for (size, tool), count in counts.items())


def _counted(number: int, one: str) -> str:
    return f"{number} {one}{'' if number == 1 else 's'}"
