"""The bench card of a job: first the shop's sheet, what the whole batch takes, then one a belt or strap."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import TYPE_CHECKING

from strapwright.core.findings import grouped_findings
from strapwright.core.text import counted, one_line
from strapwright.core.units import Units, format_length, lengths_in
from strapwright.drawing.pattern_pieces import orders_of
from strapwright.rules.safety import cautions
from strapwright.write.card.blocks import Blanks, Card, Drawing, Facts, Sheet, Table, Ticks, Words
from strapwright.write.card.orders import brief_sheet, order_sheet, piece_size
from strapwright.write.card.work import NOT_FOR, RULES, machine_steps, punches_for

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.core.findings import Finding
    from strapwright.drawing.pattern_pieces import Order, PatternPiece
    from strapwright.job.bill import Bill
    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.draft import Draft
    from strapwright.machine.profile.machine import Machine
    from strapwright.nesting.layout.types import Layout
    from strapwright.nesting.remnant import Remnant
    from strapwright.rules.punches import Punch
    from strapwright.write.card.blocks import Block


def card_of(
    drafted: Draft,
    bill: Bill,
    catalogue: Catalogue,
    *,
    machine: AtMachine | None,
    layout: Layout | None,
    units: Units,
    brief: bool,
    waste: float,
    from_strips: bool = False,
) -> Card:
    """Return a job's bench card; the same draft gives the same card.

    Args:
        drafted: the draft.
        bill: what it takes.
        catalogue: whose punches are the user's own.
        machine: what cuts; None for work by hand.
        layout: where the parts lie; None where they are not nested.
        units: of lengths.
        brief: half a page a belt, without drawing and order of work, for whoever knows the work.
        waste: the house's share of it, which the bill's leather includes where nothing is nested.
        from_strips: whether parts are cut from strips, whose true waste it includes instead.
    """
    orders, owned = orders_of(drafted, units), catalogue.owned_punches
    shop = shop_sheet(
        drafted,
        orders,
        bill,
        owned,
        units,
        machine=machine,
        layout=layout,
        waste=None if from_strips else waste,
        brief=brief,
    )
    own = None if machine is None else machine.machine
    sheets = [
        brief_sheet(item, order, units) if brief else order_sheet(item, order, owned, units, machine=own)
        for item, order in zip(drafted.items, orders, strict=True)
    ]
    name = one_line(drafted.name) or "belts"
    kinds = ((len(drafted.belts), "belt"), (len(drafted.straps), "other strap"))
    told = [counted(n, word) for n, word in kinds if n]
    foot = f"{name} · job {drafted.digest[:12]}"
    return Card(name, f"Bench card: {', '.join(told)}", _cautions_once((shop, *sheets)), foot)


def _cautions_once(sheets: Sequence[Sheet]) -> tuple[Sheet, ...]:
    """Return sheets with every caution only where it is first acted on."""
    seen: set[str] = set()

    def once(step: tuple[str, str]) -> tuple[str, str]:
        text, caution = step
        fresh = "" if caution in seen else caution
        seen.add(caution)
        return text, fresh

    def with_fresh(block: Block) -> Block:
        return replace(block, steps=tuple(map(once, block.steps))) if isinstance(block, Ticks) else block

    return tuple(replace(sheet, blocks=tuple(map(with_fresh, sheet.blocks))) for sheet in sheets)


@dataclass(frozen=True)
class AtMachine:
    """What a card says of the machine.

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
    waste: float | None,
    brief: bool,
) -> Sheet:
    """Return the sheet for the shop.

    Args:
        drafted: the draft.
        orders: its belts and straps as the pattern shows them.
        bill: what they take.
        owned: the user's own punches.
        units: of the lengths shown.
        machine: what cuts; None for work by hand.
        layout: where the parts lie; None where they are not nested.
        waste: the house's share of it, where they are not; None where they are cut from strips.
        brief: whether the sheets that follow have no steps, where cautions would stand.
    """
    facts = [("job", drafted.name or "without a name")]
    facts.append(("cut by", "hand" if machine is None else machine.machine.name))
    if machine is not None:
        minutes = machine.minutes
        words = "not estimated" if minutes is None else f"{max(minutes, 1):.0f} min, an estimate"
        facts.append(("machine time", words))
        facts += [("how calculated", machine.said)] if machine.said else []
    if layout is None and waste is None:
        facts.append(("layout", "cut from strips; the leather includes their true waste"))
    elif layout is None:
        facts.append(("layout", f"not laid on a hide; the leather includes {waste:.0%} waste"))
    blocks: list[Block] = [Facts(tuple(facts))]
    grave = tuple(
        f"{finding.subject}: {finding.what} {finding.do}"
        for finding in (found.in_units(units) for found in drafted.findings)
        if finding.severity == "stop"
    )
    if grave:
        blocks.append(Words("Stop: these are not to be made as they stand", grave, grave=True))
    blocks.append(Blanks(("hide", "started", "finished", "by")))
    if layout is not None:
        blocks += _layout(drafted, layout)
    blocks += [_cutting_list(orders, units), _leather(bill, units)]
    hardware = _hardware(bill)
    if hardware:
        blocks.append(Table("Hardware", ("item", "how many"), hardware, ticks=True))
    punches = _punches(orders, owned, units)
    if punches:
        title = "Punches" if machine is None else "Punches, for what the machine leaves to the hand"
        blocks.append(Table(title, ("size", "holes", "tool"), punches))
    if machine is not None:
        noticed = grouped_findings([one.in_units(units) for one in machine.noticed if one.severity != "note"])
        if noticed:
            told = (f"{', '.join(about)}: {one.what} {one.do}".removeprefix(": ") for one, about in noticed)
            blocks.append(Words("Noticed while planning the cuts", tuple(told), grave=True))
        blocks.append(Ticks(f"At the machine: {machine.machine.name}", machine_steps(machine.machine, units)))
    blocks.append(Words("At the bench", (*(cautions("bench") if brief else (RULES,)), NOT_FOR), grave=True))
    made, pieces = sum(order.quantity for order in orders), len(drafted.parts)
    subtitle = f"{counted(made, 'piece')} of work, {counted(pieces, 'part')} to cut"
    return Sheet("shop", "Shop order", subtitle, tuple(blocks))


def _layout(drafted: Draft, layout: Layout) -> Iterator[Block]:
    from strapwright.drawing.layout.picture import picture
    from strapwright.nesting.remnant import remnants_on, waste_of_hide

    yield Drawing(
        "Layout",
        picture(layout, title=drafted.name),
        f"{len(layout.placed)} of {layout.asked} parts on their hides, as listed below",
    )
    rows = []
    for hide in layout.hides:
        parts = len(layout.placed_on(hide.name))
        if not parts:
            continue
        kept = "; ".join(map(_left_over, remnants_on(layout, hide))) or "nothing large enough to keep"
        share = f"{waste_of_hide(layout, hide):.0%}"
        rows.append((hide.name, f"{hide.area / 1e6:.2f} m²", str(parts), share, kept))
    columns = ("hide", "area", "parts", "waste of what is used", "what is left")
    yield Table("Hides", columns, tuple(rows), ticks=True)
    if layout.unplaced:
        missing = tuple(f"{left.part.id}: {left.reason}" for left in layout.unplaced)
        yield Words("Does not fit", missing, grave=True)


def _left_over(left: Remnant) -> str:
    clear = left.clear
    room = f", {clear.along:.0f} × {clear.across:.0f} mm clear in it" if clear else ""
    return f"{left.hide.name}: {left.hide.area / 1e6:.2f} m²{room}"


def _cutting_list(orders: Sequence[Order], units: Units) -> Table:
    """Return what to cut, a row for each belt or strap: its strap, then its other pieces."""
    rows = []
    for order in orders:
        strap, *others = order.pieces
        alike = attrgetter("thickness", "tannage")
        more = [
            f"{piece.part.kind} {piece_size(piece, units)}"
            + ("" if alike(piece.part) == alike(strap.part) else f", {_leather_of(piece, ' ', units)}")
            for piece in others
        ]
        size, leather = piece_size(strap, units), _leather_of(strap, ", ", units)
        rows.append((order.id, str(order.quantity), size, "; ".join(more) or "none", leather))
    columns = ("belt", "how many", "strap", "with it", "leather")
    return Table("Cutting list, straps with the backbone", columns, tuple(rows), ticks=True)


def _leather_of(piece: PatternPiece, between: str, units: Units) -> str:
    return f"{format_length(round(piece.part.thickness, 2), units)}{between}{piece.part.tannage}"


def _leather(bill: Bill, units: Units) -> Table:
    areas: defaultdict[str, float] = defaultdict(float)
    for line in bill.lines:
        if line.kind == "leather":
            areas[line.item.partition(", ")[2]] += line.quantity
    per, unit = (0.3048**2, "sq ft") if units == "in" else (1.0, "m²")
    rows = tuple((lengths_in(what, units), f"{area / per:.2f} {unit}") for what, area in areas.items())
    return Table("Leather, waste included", ("leather", "area"), rows)


def _hardware(bill: Bill) -> tuple[tuple[str, ...], ...]:
    counts: defaultdict[str, float] = defaultdict(float)
    for line in bill.lines:
        if line.kind == "hardware":
            counts[line.item.partition(", row")[0]] += line.quantity
    return tuple((what, f"{count:g}") for what, count in sorted(counts.items()))


def _punches(
    orders: Sequence[Order], owned: Mapping[str, Punch], units: Units
) -> tuple[tuple[str, ...], ...]:
    counts: Counter[tuple[str, str]] = Counter()
    for order in orders:
        for need in punches_for(order, owned, units):
            counts[need.size, need.tool] += need.count
    return tuple((size, str(count), tool) for (size, tool), count in counts.items())
