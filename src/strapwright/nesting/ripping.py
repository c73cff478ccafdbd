"""A layout as a maker with a strap cutter reads it: strips in order from the trued edge, and what is between.

A strap cutter follows the edge the last cut left, so strips come off one after another. Straps that lie
beside each other at different heights share a band that no strap cutter parts; such a band is ripped off
whole and divided at the bench.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from strapwright.geometry.transform import turned
from strapwright.tolerances import CLEARANCE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.layout import Layout, Placed

_ALIKE: Final = 0.01
"""Straps whose edges differ by less than this lie in one strip, mm: nobody sets a strap cutter finer."""

RipKind = Literal["strap", "band", "gap", "waste", "rest"]


@dataclass(frozen=True)
class Rip:
    """One strip of a hide, as wide as a strap cutter is set for it.

    Args:
        kind: ``strap``: one width, every strap in it full width; ``band``: straps that overlap, or are not
            of one width, divided at the bench; ``gap``: what the layout keeps between two strips;
            ``waste``: wider than that, with whatever small parts lie in it; ``rest``: all beyond the last.
        width: mm.
        start: from the trued edge to the strip's near side, mm.
        parts: ids of the parts that lie wholly in it: straps from left to right, then small ones.
    """

    kind: RipKind
    width: float
    start: float
    parts: tuple[str, ...] = ()

    @property
    def said(self) -> str:
        """The strip in words."""
        named = ", ".join(self.parts)
        if self.kind == "strap":
            return named
        if self.kind == "band":
            return f"divide at the bench: {named}"
        if self.kind == "gap":
            return "gap, trim away"
        if self.kind == "rest":
            return "rest of the hide"
        return f"waste, with {named}" if named else "waste"


@dataclass
class _Strip:
    low: float
    high: float
    straps: list[tuple[float, Placed]]
    even: bool = True


def rips_of(layout: Layout, hide: str) -> tuple[Rip, ...]:
    """Return the strips of one hide in order from the trued edge.

    The trued edge is the lowest line of the hide along its strap direction; where the hide was squared,
    the first cut. Widths and gaps add up to the hide's whole height.

    Args:
        layout: the layout.
        hide: the hide's name.

    Returns:
        The strips; none where no strap lies on the hide.

    Example:
        >>> import numpy as np
        >>> from strapwright.geometry.contour import Contour
        >>> from strapwright.nesting.hide import Hide
        >>> from strapwright.nesting.nest import nest
        >>> from strapwright.parts.part import Part, PartKind
        >>> from strapwright.trade.leather import Tannage
        >>> strip = Contour.from_points([(0, -20), (1100, -20), (1100, 20), (0, 20)])
        >>> strap = Part("ines/strap", "ines", PartKind.STRAP, strip, (), 3.6, Tannage.VEGETABLE)
        >>> bend = Hide("bend", np.array([(0, 0), (1200, 0), (1200, 700), (0, 700)]))
        >>> [(rip.kind, rip.width, rip.parts) for rip in rips_of(nest([strap], [bend], steps=1), "bend")]
        [('gap', 2.0, ()), ('strap', 40.0, ('ines/strap',)), ('rest', 658.0, ())]
    """
    base = layout.hide(hide)
    turn = -layout.direction_of(hide)
    across = base.outline @ (math.sin(turn), math.cos(turn))
    edge, top = float(np.min(across)), float(np.max(across))
    boxes = [
        (turned(placed.placement.apply(placed.part.outline), turn).bounding_box, placed)
        for placed in layout.placed_on(hide)
    ]
    strips = _strips([(box, placed) for box, placed in boxes if placed.part.lies_along])
    if not strips:
        return ()
    small = [(box, placed) for box, placed in boxes if not placed.part.lies_along]
    kept = max(layout.clearance.between, layout.clearance.edge)
    rips: list[Rip] = []
    reached = edge
    for strip in strips:
        between = _between(reached, strip.low, edge, small, kept)
        if between is not None:
            rips.append(between)
        straps = tuple(placed.part.id for _, placed in sorted(strip.straps, key=lambda one: one[0]))
        straps += _within(small, strip.low, strip.high)
        kind: RipKind = "strap" if strip.even else "band"
        rips.append(Rip(kind, strip.high - strip.low, strip.low - edge, straps))
        reached = strip.high
    if top - reached > CLEARANCE:
        rips.append(Rip("rest", top - reached, reached - edge, _within(small, reached, math.inf)))
    return tuple(replace(rip, width=round(rip.width, 6), start=round(rip.start, 6) + 0.0) for rip in rips)


def to_cut_out_first(layout: Layout, hide: str) -> tuple[str, ...]:
    """Return the parts of a hide that lie across strips, so that ripping would spoil them, by id."""
    rips = rips_of(layout, hide)
    whole = {part for rip in rips for part in rip.parts}
    return tuple(p.part.id for p in layout.placed_on(hide) if rips and p.part.id not in whole)


def rips_as_json(layout: Layout) -> list[dict[str, Any]]:
    """Return the strips of every hide as plain JSON values, for ``layout.json`` and ``nest --json``."""
    return [
        {
            "hide": hide.name,
            "strips": [
                {"kind": rip.kind, "width_mm": rip.width, "from_edge_mm": rip.start, "parts": list(rip.parts)}
                for rip in rips_of(layout, hide.name)
            ],
            "cut_out_first": list(to_cut_out_first(layout, hide.name)),
        }
        for hide in layout.hides
        if layout.placed_on(hide.name)
    ]


Boxed = tuple[tuple[float, float, float, float], "Placed"]


def _strips(straps: Sequence[Boxed]) -> list[_Strip]:
    """Return the strips straps lie in, from the edge on: those whose heights overlap share one."""
    strips: list[_Strip] = []
    for (x0, low, _, high), placed in sorted(straps, key=lambda one: (one[0][1], one[0][0])):
        last = strips[-1] if strips else None
        if last is None or low >= last.high - _ALIKE:
            _, bottom, _, top = placed.part.outline.bounding_box
            straight = abs((high - low) - (top - bottom)) < _ALIKE  # one that lies askew is no strip
            strips.append(_Strip(low, high, [(x0, placed)], straight))
        else:
            same = abs(low - last.low) < _ALIKE and abs(high - last.high) < _ALIKE
            last.even = last.even and same
            last.high = max(last.high, high)
            last.straps.append((x0, placed))
    return strips


def _between(low: float, high: float, edge: float, small: Sequence[Boxed], kept: float) -> Rip | None:
    """Return what lies between two strips, or None where they touch."""
    if high - low <= CLEARANCE:
        return None
    parts = _within(small, low, high)
    kind: RipKind = "gap" if high - low <= kept + _ALIKE and not parts else "waste"
    return Rip(kind, high - low, low - edge, parts)


def _within(small: Sequence[Boxed], low: float, high: float) -> tuple[str, ...]:
    found = [(box[0], p.part.id) for box, p in small if box[1] >= low - _ALIKE and box[3] <= high + _ALIKE]
    return tuple(id_ for _, id_ in sorted(found))
