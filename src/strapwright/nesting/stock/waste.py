"""Which share of the leather used up on a hide does not become parts; its remnants are not used up."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.job.bill.price import Waste
from strapwright.nesting.stock.remnant import remnants_on

if TYPE_CHECKING:
    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import Layout


def waste_of_hide(layout: Layout, hide: Hide) -> float:
    """Return which share of the leather used up on a hide does not become parts.

    Its remnants go back on the shelf and count as not used. Flaws among the parts do count, and so does
    what the first cut took off to square a raw edge.

    Args:
        layout: the layout.
        hide: one of its hides, with parts on it.
    """
    kept = sum(left.area for left in remnants_on(layout, hide))
    parts = sum(placed.part.outline.area for placed in layout.placed_on(hide.name))
    return 1.0 - parts / (hide.whole_area - kept)


def wastes_of(layout: Layout) -> dict[str, Waste]:
    """Return each placed part's share of waste: that of the hide it lies on, by the part's id."""
    shares = {
        hide.name: Waste(waste_of_hide(layout, hide), f'true of hide "{hide.name}", nested')
        for hide in layout.hides
        if layout.placed_on(hide.name)
    }
    return {placed.part.id: shares[placed.hide] for placed in layout.placed}
