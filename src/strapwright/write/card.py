"""The bench card of a job: what goes to the bench with the leather, the same content as HTML and as PDF."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.job.draft import BeltDraft
from strapwright.write.card_blocks import Card
from strapwright.write.card_orders import order_sheet
from strapwright.write.card_shop import AtMachine, shop_sheet
from strapwright.write.drawing import piece_svg
from strapwright.write.header import one_line
from strapwright.write.pattern_pieces import orders_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Literal

    from strapwright.findings import Finding
    from strapwright.job.bill import Bill
    from strapwright.job.catalogue import Catalogue
    from strapwright.job.draft import Draft
    from strapwright.job.goods_draft import StrapDraft
    from strapwright.machine.profile import Machine
    from strapwright.nesting.layout import Layout


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
    units: Literal["mm", "in"] = "mm",
) -> Card:
    """Return a job's bench card; the same draft gives the same card.

    Args:
        drafted: the draft.
        bill: what it takes.
        catalogue: whose punches are the maker's own.
        machine: what cuts; None for work by hand.
        layout: where the parts lie; None where they are not nested.
        minutes: how long the machine runs; None where that is not known.
        minutes_said: where that comes from, or why it is not known.
        noticed: while the cuts were planned; cautions and stops of it stand beside the machine's steps.
        units: of the lengths told.
    """
    orders, owned = orders_of(drafted, units), catalogue.owned_punches
    by_machine = None
    if machine is not None:
        by_machine = AtMachine(machine, minutes, minutes_said, tuple(noticed))
    shop = shop_sheet(drafted, orders, bill, owned, units, machine=by_machine, layout=layout)
    items: list[BeltDraft | StrapDraft] = [*drafted.belts, *drafted.straps]
    sheets = [
        order_sheet(item, order, piece_svg(item, units=units), owned, units, machine=machine is not None)
        for item, order in zip(items, orders, strict=True)
    ]
    name = one_line(drafted.name) or "belts"
    belts = sum(isinstance(item, BeltDraft) for item in items)
    straps = len(items) - belts
    kinds = ((belts, "belt"), (straps, "other strap"))
    told = [f"{n} {word}{'s' if n > 1 else ''}" for n, word in kinds if n]
    foot = f"{name} · job {drafted.digest[:12]}"
    return Card(name, f"Bench card: {', '.join(told)}", (shop, *sheets), foot)
