"""Whether a layout may be cut, looked at afresh: nothing here is shared with the search that made it."""

from __future__ import annotations

import math
from collections import Counter
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from strapwright.core.errors import NestError
from strapwright.core.tolerances import CLEARANCE, COMMON_EDGE, SAME_LINE
from strapwright.geometry.polygon import to_polygon
from strapwright.nesting.hide.types import Face, FlawKind, agrees, tanned_as

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import AvoidedZone, Clearance, Layout, PlacedPart

_CHORD = 1e-3
"""Arcs become chords outside them by at most this at first, mm."""

_FINE_CHORD = CLEARANCE / 4
"""And by at most this where the first look leaves a doubt, mm: two parts stay within the tolerance."""

_TURN = 1e-9
"""A turn may differ from the strap direction by this much, radians: 0.000002 mm over a strap's length."""


def verify(layout: Layout, asked: Iterable[str] | None = None) -> None:
    """Check a layout with true outlines: on the hide, apart, off the flaws, turned right, all counted.

    Args:
        layout: what to check.
        asked: ids of all parts asked for; None checks only that none is counted twice.

    Raises:
        NestError: every fault found, one line each.
    """
    faults = list(_miscounted(layout, asked))
    hides = {hide.name: hide for hide in layout.hides}
    faults += [
        f"{placed.part.id}: is on {placed.hide}, which is not in the layout"
        for placed in layout.placed
        if placed.hide not in hides
    ]
    faults += [
        f"a zone to keep clear is on {zone.hide}, which is not in the layout"
        for zone in layout.avoided
        if zone.hide not in hides
    ]
    for hide in layout.hides:
        on_it = [placed for placed in layout.placed if placed.hide == hide.name]
        faults += _wrongly_laid(hide, on_it)
        faults += _misplaced(hide, on_it, layout.clearance)
        faults += _in_the_way(hide, on_it, layout.avoided_on(hide.name))
    if faults:
        raise NestError("\n".join(faults))


def is_sound(layout: Layout, asked: Iterable[str] | None = None) -> bool:
    """Whether a layout stands up to `verify`."""
    try:
        verify(layout, asked)
    except NestError:
        return False
    return True


def _miscounted(layout: Layout, asked: Iterable[str] | None) -> Iterator[str]:
    names = Counter(hide.name for hide in layout.hides)
    for name, times in names.items():
        if times > 1:
            yield f"{name}: {times} hides have this name"
    counted = Counter(placed.part.id for placed in layout.placed)
    counted.update(unplaced.part.id for unplaced in layout.unplaced)
    for part, times in counted.items():
        if times > 1:
            yield f"{part}: counted {times} times"
    if asked is None:
        return
    wanted = set(asked)
    for part in sorted(wanted - set(counted)):
        yield f"{part}: asked for, but neither placed nor reported as unplaced"
    for part in sorted(set(counted) - wanted):
        yield f"{part}: in the layout, but not asked for"


def _wrongly_laid(hide: Hide, on_it: Sequence[PlacedPart]) -> Iterator[str]:
    for placed in on_it:
        part = placed.part
        if placed.placement.mirror != (hide.face_up is Face.FLESH):
            way = "mirrored" if hide.face_up is Face.FLESH else "as drawn, not mirrored"
            yield f"{part.id}: must be {way}, because {hide.name} is {hide.face_up} side up"
        step = 2 * math.pi / len(part.turns)
        allowed = "along" if part.lies_along else f"in steps of {math.degrees(step):g} deg from"
        off = math.remainder(placed.placement.turn - hide.strap_direction, step)
        if not abs(off) <= _TURN + hide.tolerance:
            yield (
                f"{part.id}: is {math.degrees(off):.4g} deg off; must be {allowed} "
                f"{hide.name}'s strap direction"
            )
        yield from _of_another_thickness(hide, placed)
        if not tanned_as(hide.tannage, part.tannage):
            yield f"{part.id}: needs {part.tannage} leather, {hide.name} is {hide.tannage}"


def _of_another_thickness(hide: Hide, placed: PlacedPart) -> Iterator[str]:
    """Yield each thickness of leather a part lies on that is not the one it wants."""
    import shapely

    if hide.thickness is None and not hide.thickness_zones:
        return
    outline = shapely.Polygon(to_polygon(placed.outline, _CHORD))
    inner, rest = outline.buffer(-CLEARANCE), shapely.Polygon(hide.outline)
    places = []
    for zone in reversed(hide.thickness_zones):  # where two overlap the later counts
        shape = shapely.Polygon(zone.polygon)
        places.append((zone.thickness, rest & shape))
        rest = rest - shape
    for thickness, place in [*places, (hide.thickness, rest)]:
        if thickness is None or agrees(thickness, placed.part.thickness):
            continue
        if not hide.thickness_zones or shapely.intersects(inner, place):
            wanted, found = (round(value, 2) for value in (placed.part.thickness, thickness))
            there = " there" if hide.thickness_zones else ""
            yield f"{placed.part.id}: needs leather of {wanted:g} mm, {hide.name} is {found:g} mm{there}"


def _misplaced(hide: Hide, on_it: Sequence[PlacedPart], clearance: Clearance) -> Iterator[str]:
    """Yield what is too near the edge, a flaw or another part.

    Everything is measured with coarse chords outside the arcs first; what seems too near is measured
    again with fine ones, and only that counts.
    """
    import shapely

    if not on_it:
        return
    edge, between = clearance.edge, clearance.between
    coarse = [_outline(placed, _CHORD) for placed in on_it]

    @cache
    def fine(number: int) -> Any:
        return _outline(on_it[number], _FINE_CHORD)

    for number in np.flatnonzero(~shapely.is_valid(coarse)).tolist():
        yield f"{on_it[number].part.id}: its outline crosses itself"
        return
    leather = shapely.Polygon(hide.outline)
    inside = shapely.contains(leather.buffer(CLEARANCE), coarse)
    margin = shapely.distance(leather.exterior, coarse)
    for number in np.flatnonzero(~inside | (margin < edge - CLEARANCE)).tolist():
        id_, outline = on_it[number].part.id, fine(number)
        if not shapely.contains(leather.buffer(CLEARANCE), outline):
            yield f"{id_}: reaches off {hide.name}"
        elif (apart := shapely.distance(leather.exterior, outline)) < edge - CLEARANCE:
            yield f"{id_}: {apart:.4f} mm from {hide.name}'s edge, must be {edge:g} mm"
    for count, flaw in enumerate(hide.flaws, start=1):
        spot = shapely.Polygon(flaw.polygon)
        for number in np.flatnonzero(shapely.distance(spot, coarse) < edge + CLEARANCE).tolist():
            kept_off = _kept_off(on_it[number], fine(number), flaw.kind)
            if too_near(spot, kept_off, edge):
                apart = shapely.distance(spot, kept_off)
                yield (
                    f"{on_it[number].part.id}: {apart:.4f} mm from {hide.name}'s flaw {count} "
                    f"({flaw.kind}), must be {edge:g} mm"
                )
    tree = shapely.STRtree(coarse)
    near = tree.query(coarse, predicate="dwithin", distance=max(between - CLEARANCE, 0.0))
    for i, j in near[:, near[0] < near[1]].T.tolist():
        one, other = fine(i), fine(j)
        if too_near(one, other, between) and not (clearance.shared and _cut_once(one, other, clearance.kerf)):
            apart = shapely.distance(one, other)
            yield (f"{on_it[i].part.id} and {on_it[j].part.id}: {apart:.4f} mm apart, must be {between:g} mm")


def _in_the_way(hide: Hide, on_it: Sequence[PlacedPart], zones: Sequence[AvoidedZone]) -> Iterator[str]:
    """Yield what lies in a zone kept clear; what stays as it lay may come as near to one as it likes."""
    import shapely

    if not zones:
        return
    for placed in on_it:
        outline = _outline(placed, _FINE_CHORD)
        if any(too_near(shapely.Polygon(zone.polygon), outline, 0.0) for zone in zones):
            yield f"{placed.part.id}: is in a zone of {hide.name} kept clear for this layout"


def _kept_off(placed: PlacedPart, outline: Any, kind: FlawKind) -> Any:
    """Return what of a placed part a kind of flaw must be clear of: all, what is seen, what is pulled on."""
    import shapely

    if kind is FlawKind.HOLE:
        return outline
    far = 1e5
    where = placed.placement
    runs = placed.part.hidden if kind is FlawKind.MARK else placed.part.loaded
    slabs = [
        shapely.Polygon(
            [
                where.apply_to_point(min(max(x, -far), far), y)
                for x, y in ((low, -far), (high, -far), (high, far), (low, far))
            ]
        )
        for low, high in runs
    ]
    covered = shapely.union_all(slabs)
    return outline.difference(covered) if kind is FlawKind.MARK else outline.intersection(covered)


def _outline(placed: PlacedPart, chord: float) -> Any:
    import shapely

    return shapely.Polygon(to_polygon(placed.outline, chord, "outward"))


def _cut_once(first: Any, second: Any, kerf: float) -> bool:
    """Whether two shapes lie one kerf apart along an edge: one cut parts them and leaves no sliver."""
    import shapely

    if abs(float(shapely.distance(first, second)) - kerf) > CLEARANCE:
        return False
    # Of a round edge too little runs so near another, so what is long enough is straight.
    return float(first.exterior.intersection(second.buffer(kerf + SAME_LINE)).length) >= COMMON_EDGE


def too_near(first: Any, second: Any, least: float) -> bool:
    """Whether two shapes are nearer than they may be, or share more than their edges."""
    import shapely

    if second.is_empty:
        return False
    apart = float(shapely.distance(first, second))
    if apart > 0 or least > CLEARANCE:
        return apart < least - CLEARANCE
    # Where nothing need be kept between, edges may touch and cross by rounding only.
    return not shapely.intersection(first, second).buffer(-CLEARANCE).is_empty
