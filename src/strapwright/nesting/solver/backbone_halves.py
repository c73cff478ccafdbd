"""Straps laid from the back both ways, on a hide whose back runs through it: a double butt or a double bend.

A saddler cuts such a hide in two along the back and works from that cut outward. So once the search has
shown what the hide holds, the same parts are laid on its two halves, each from the back on. That is kept
where all of them find room so, and take up no more of the hide across the straps than before.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import NestError
from strapwright.geometry.polygon import polygons_in
from strapwright.geometry.transform import turned
from strapwright.nesting.hide.backbone import from_the_back, sides, starts_both_ways
from strapwright.nesting.layout.types import PlacedPart
from strapwright.nesting.layout.verify import verify
from strapwright.nesting.problem import placement_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import Clearance, Layout
    from strapwright.nesting.problem import PiecePlacement
    from strapwright.parts.part import Part

SHARE: Final = 0.25
"""Share of a search's time that goes into starting from the back both ways, where any hide asks for it."""

LAYINGS: Final = 8
"""A hide's halves are laid at most so often."""


def lay_from_backbone(
    layout: Layout, hides: Sequence[Hide], lay: Callable[[Sequence[Part], Hide], Sequence[PiecePlacement]]
) -> Layout:
    """Return a layout whose straps start from the back both ways where that costs neither part nor leather.

    Args:
        layout: what the search found.
        hides: its hides with the strap direction they were searched with.
        lay: lays parts on a hide; its spots number the parts in the order given.
    """
    for hide in hides:
        if starts_both_ways(hide) and any(one.part.lies_along for one in layout.placed_on(hide.name)):
            layout = _on_one(layout, hide, lay)
    return layout


def halves(hide: Hide, clearance: Clearance) -> tuple[Hide, Hide]:
    """Return a hide cut in two along its back, each half to be laid from there.

    They overlap, or lie apart, by what makes the parts nearest to the back on either side lie one gap from
    each other.

    Raises:
        NestError: a half is no sound hide.
    """
    back = hide.back
    assert back is not None
    left, right = sides(hide.outline, back, clearance.edge - clearance.between / 2)
    direction = from_the_back(hide.strap_direction, back)
    return _half(hide, left, direction), _half(hide, right, direction + math.pi)


def _on_one(
    layout: Layout, hide: Hide, lay: Callable[[Sequence[Part], Hide], Sequence[PiecePlacement]]
) -> Layout:
    # One gap more may be wanted, where the straps nearest to the back lie on either side of it.
    most = layout.used_height_of(hide.name) + layout.clearance.between
    by_area = _balanced([(one.part.outline.area, [one.part]) for one in layout.placed_on(hide.name)])
    for parts in (_by_rows(layout, hide), by_area):
        try:
            found = _laid_on_halves(parts, halves(hide, layout.clearance), lay)
            if found is None:
                continue
            tried = replace(layout, placed=tuple(found.get(one.part.id, one) for one in layout.placed))
            verify(tried)
        except NestError:  # a part that may not be turned end for end, or a half that falls to pieces
            continue
        if tried.used_height_of(hide.name) <= most:
            return tried
    return layout


def _laid_on_halves(
    parts: tuple[list[Part], list[Part]],
    both: tuple[Hide, Hide],
    lay: Callable[[Sequence[Part], Hide], Sequence[PiecePlacement]],
) -> dict[str, PlacedPart] | None:
    """Return parts laid on two halves of a hide by their ids; None if not all find room.

    Args:
        parts: the parts for each half; what finds no room there is tried on the other.
        both: the halves.
        lay: as in :func:`lay_from_backbone`.
    """
    shares, count = list(parts), sum(map(len, parts))
    found: list[dict[str, PlacedPart]] = [{}, {}]
    for number in (0, 1, 0, 1):
        half, share = both[number], shares[number]
        placements = lay(share, half) if share else ()
        placed = (PlacedPart(share[one.piece], half.name, placement_of(one, half)) for one in placements)
        found[number] = {one.part.id: one for one in placed}
        left = [part for part in share if part.id not in found[number]]
        if not left and len(found[0]) + len(found[1]) == count:
            return found[0] | found[1]
        shares[number] = [part for part in share if part.id in found[number]]
        shares[1 - number] = [*shares[1 - number], *left]
    return None


def _by_rows(layout: Layout, hide: Hide) -> tuple[list[Part], list[Part]]:
    """Return the parts on a hide in two halves of equal height: what lay in one row stays together."""
    turn = -layout.direction_of(hide.name)
    boxes = [(turned(one.outline, turn).bounding_box, one.part) for one in layout.placed_on(hide.name)]
    rows: list[tuple[float, float, list[Part]]] = []
    for (_, low, _, high), part in sorted(boxes, key=lambda box: box[0][1]):
        if not part.lies_along:
            continue
        if rows and low < rows[-1][1]:
            rows[-1] = rows[-1][0], max(rows[-1][1], high), [*rows[-1][2], part]
        else:
            rows.append((low, high, [part]))
    for (_, low, _, high), part in boxes:
        if not part.lies_along:
            middle = (low + high) / 2
            min(rows, key=lambda row: abs((row[0] + row[1]) / 2 - middle))[2].append(part)
    return _balanced([(high - low, parts) for low, high, parts in rows])


def _balanced(groups: Sequence[tuple[float, list[Part]]]) -> tuple[list[Part], list[Part]]:
    """Return groups of parts in two halves that weigh as much, the heaviest group dealt first."""
    dealt: tuple[list[Part], list[Part]] = ([], [])
    weights = [0.0, 0.0]
    for weight, parts in sorted(groups, key=lambda group: -group[0]):
        less = 0 if weights[0] <= weights[1] else 1
        dealt[less].extend(parts)
        weights[less] += weight
    return dealt


def _half(hide: Hide, leather: Any, direction: float) -> Hide:
    import shapely

    largest = max(polygons_in(leather), key=lambda piece: float(piece.area))
    half = hide.cut_to(shapely.get_coordinates(largest.exterior)[:-1])
    return replace(half, strap_direction=direction)
