"""The bench card of a job: what goes to the bench with the leather, the same content as HTML and as PDF."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from strapwright.core.text import one_line
from strapwright.drawing.pattern_pieces import orders_of
from strapwright.write.card.blocks import Card, Ticks
from strapwright.write.card.orders import brief_sheet, order_sheet
from strapwright.write.card.shop import shop_sheet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.units import Units
    from strapwright.job.bill.lines import Bill
    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.draft import Draft
    from strapwright.nesting.layout.types import Layout
    from strapwright.write.card.blocks import Block, Sheet
    from strapwright.write.card.shop import AtMachine


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
    told = [f"{n} {word}{'s' if n > 1 else ''}" for n, word in kinds if n]
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
