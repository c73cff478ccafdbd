"""The bench card of a job: what goes to the bench with the leather, the same content as HTML and as PDF."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from strapwright.core.text import one_line
from strapwright.drawing.belt.draft import piece_drawing
from strapwright.drawing.pattern_pieces import orders_of
from strapwright.write.card.blocks import Card, Ticks
from strapwright.write.card.orders import brief_sheet, order_sheet
from strapwright.write.card.shop import AtMachine, shop_sheet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.findings import Finding
    from strapwright.core.units import Units
    from strapwright.job.bill.lines import Bill
    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.draft import Draft
    from strapwright.machine.profile.machine import Machine
    from strapwright.nesting.layout.types import Layout
    from strapwright.write.card.blocks import Sheet


def card_of(
    drafted: Draft,
    bill: Bill,
    catalogue: Catalogue,
    *,
    machine: Machine | None = None,
    layout: Layout | None = None,
    minutes: float | None = None,
    minutes_said: str = "",
    noticed: Sequence[Finding] = (),
    units: Units = "mm",
    brief: bool = False,
    waste: float = 0.3,
) -> Card:
    """Return a job's bench card; the same draft gives the same card.

    Args:
        drafted: the draft.
        bill: what it takes.
        catalogue: whose punches are the user's own.
        machine: what cuts; None for work by hand.
        layout: where the parts lie; None where they are not nested.
        minutes: how long the machine runs; None where that is not known.
        minutes_said: where that comes from, or why it is not known.
        noticed: while the cuts were planned; cautions and stops of it stand beside the machine's steps.
        units: of the lengths told.
        waste: the house's share of it, which the bill's leather includes where nothing is nested.
        brief: half a page a belt, without drawing and order of work, for whoever knows the work.
    """
    orders, owned = orders_of(drafted, units), catalogue.owned_punches
    by_machine = None
    if machine is not None:
        by_machine = AtMachine(machine, minutes, minutes_said, tuple(noticed))
    shop = shop_sheet(
        drafted, orders, bill, owned, units, machine=by_machine, layout=layout, waste=waste, brief=brief
    )
    pairs = list(zip(drafted.items, orders, strict=True))
    if brief:
        sheets = [brief_sheet(item, order, units) for item, order in pairs]
    else:
        sheets = [
            order_sheet(item, order, piece_drawing(item, units=units), owned, units, machine=machine)
            for item, order in pairs
        ]
    name = one_line(drafted.name) or "belts"
    kinds = ((len(drafted.belts), "belt"), (len(drafted.straps), "other strap"))
    told = [f"{n} {word}{'s' if n > 1 else ''}" for n, word in kinds if n]
    foot = f"{name} · job {drafted.digest[:12]}"
    return Card(name, f"Bench card: {', '.join(told)}", _cautions_once((shop, *sheets)), foot)


def _cautions_once(sheets: Sequence[Sheet]) -> tuple[Sheet, ...]:
    """Return sheets with every caution only where it is first acted on."""
    seen: set[str] = set()

    def once(caution: str) -> str:
        fresh = "" if caution in seen else caution
        seen.add(caution)
        return fresh

    return tuple(
        replace(
            sheet,
            blocks=tuple(
                replace(block, steps=tuple((step, once(caution)) for step, caution in block.steps))
                if isinstance(block, Ticks)
                else block
                for block in sheet.blocks
            ),
        )
        for sheet in sheets
    )
