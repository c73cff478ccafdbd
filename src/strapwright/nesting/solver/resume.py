"""Resume a nest from a layout: locked parts stay, zones to avoid are kept clear, the rest is placed anew."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from strapwright.core.errors import NestError
from strapwright.core.findings import Finding, Severity
from strapwright.core.text import counted
from strapwright.core.tolerances import CLEARANCE, NESTING_CHORD
from strapwright.geometry.polygon import to_polygon, turned
from strapwright.nesting.hide.repair import THINNED
from strapwright.nesting.hide.types import Flaw, FlawKind
from strapwright.nesting.layout.avoided_zone import check_zones
from strapwright.nesting.layout.file import ResumePoint
from strapwright.nesting.layout.types import AvoidedZone, Clearance, Layout, Worth
from strapwright.nesting.layout.verify import is_sound, verify
from strapwright.nesting.solver.findings import BROKEN_OFF, nest_findings
from strapwright.nesting.solver.nest import nest
from strapwright.nesting.solver.objective import area_up_to

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import PlacedPart
    from strapwright.nesting.solver.nest import NestProgress
    from strapwright.parts.part import Part


def resume(
    parts: Sequence[Part],
    hides: Sequence[Hide],
    clearance: Clearance,
    *,
    start: ResumePoint | None = None,
    avoid: Mapping[str, Sequence[Flaw]] | None = None,
    **search: Any,
) -> Layout:
    """Nest parts around those that stay, clear of further zones, and never worse than before.

    To the search a part that stays is a hole in its hide. Every layout is checked as a whole, parts that
    stay and parts newly laid together.

    Args:
        parts: everything asked for, those that stay included.
        hides: in the order they are to be used up.
        clearance: what is kept free.
        start: parts that stay as they lie, and the layout to be improved; it is kept where nothing better
            is found, unless a part of it lies in a zone to avoid.
        avoid: further zones to keep clear for this layout alone, by the hide's name.
        search: what `nest` takes besides: time, steps, seed, progress.

    Returns:
        The layout, on the hides as given.

    Raises:
        NestError: a zone names no hide, a part that stays is in the way of another or of a zone, or what
            `nest` refuses.
    """
    avoid = {name: zones for name, zones in (avoid or {}).items() if zones}
    start = start or ResumePoint((), None, job_changed=False)
    locked = start.locked
    names = [hide.name for hide in hides]
    if unknown := [name for name in avoid if name not in names]:
        raise NestError(f"zone to avoid: no hide named {unknown[0]}; there are: {', '.join(names)}")
    staying = {placed.part.id: placed for placed in locked}
    kept = Layout(tuple(hides), tuple(locked), (), clearance, (), 0, 0)
    try:
        verify(kept)
    except NestError as error:
        do = "move these parts in the layout file, or take them out of locked"
        raise NestError(f"{error}; {do}") from error
    check_zones(kept, avoid)
    rest = [part for part in parts if part.id not in staying]
    noticed = list(_resume_findings(start, avoid))
    kept = replace(kept, avoided=tuple(AvoidedZone(name, z.polygon) for name in avoid for z in avoid[name]))
    if not rest:
        notes = nest_findings(parts, hides, locked, ())
        placed = _in_order(parts, locked)
        return replace(kept, placed=placed, findings=(*notes, *noticed), locked=tuple(staying))
    before, worths = start.layout, search.get("worths")
    if before is not None:
        before = replace(before, locked=tuple(staying), avoided=kept.avoided)
        if before.clearance != clearance or not is_sound(before):
            before = None

    def better(laid: Layout) -> Layout:
        """Return what was laid anew together with what stays, or the layout before where that is as good."""
        bound = None if laid.bound is None else laid.bound + kept.placed_area
        placed = _in_order(parts, [*locked, *laid.placed])
        made = replace(
            laid, hides=tuple(hides), placed=placed, locked=tuple(staying), bound=bound, avoided=kept.avoided
        )
        if worths is not None and made.worth is not None:
            lies = sum(worths[one.part.id] for one in locked)
            worth = Worth(made.worth.placed + lies, made.worth.asked + lies, made.worth.bound + lies)
            made = replace(made, worth=worth)
        least = search.get("aim") == "least"
        if before is not None and _key(before, worths, least) <= _key(made, worths, least):
            return replace(before, seed=made.seed, steps=made.steps)
        return made

    if progress := search.get("progress"):
        search["progress"] = lambda how_far: progress(_with_whole(how_far, better))
    laid = nest(rest, [_holed(kept, hide.name) for hide in hides], clearance, **search)
    made = better(laid)
    notes = nest_findings(parts, hides, made.placed, made.unplaced)
    of_search = [one for one in laid.findings if one.code in (THINNED, BROKEN_OFF) and one not in notes]
    made = replace(made, findings=(*notes, *of_search, *noticed))
    verify(made, [part.id for part in parts])
    return made


def _with_whole(how_far: NestProgress, whole: Callable[[Layout], Layout]) -> NestProgress:
    make = how_far.layout
    return how_far if make is None else replace(how_far, layout=lambda: whole(make()))


def _in_order(parts: Sequence[Part], placed: Sequence[PlacedPart]) -> tuple[PlacedPart, ...]:
    by_id = {one.part.id: one for one in placed}
    return tuple(by_id[part.id] for part in parts if part.id in by_id)


def _holed(kept: Layout, name: str) -> Hide:
    """Return a hide in which what stays and what is to be avoided are holes."""
    import shapely

    # The search keeps the margin to a hole; where the gap between parts is wider, the hole grows by the rest.
    more = max(0.0, kept.clearance.between - kept.clearance.edge)
    hide, holes = kept.with_avoided(name), []
    for placed in kept.placed_on(name):
        shape = shapely.Polygon(to_polygon(placed.outline, NESTING_CHORD, "outward"))
        grown = shape.buffer(more + CLEARANCE, join_style="mitre") if more else shape
        holes.append(Flaw(FlawKind.HOLE, shapely.get_coordinates(grown.exterior)[:-1]))
    return replace(hide, flaws=(*hide.flaws, *holes))


def _resume_findings(start: ResumePoint, avoid: Mapping[str, Sequence[Flaw]]) -> Iterator[Finding]:
    if start.job_changed:
        yield Finding(
            "job-changed-since",
            Severity.NOTE,
            "The job has changed since the layout this one starts from; only its locked parts stayed.",
            "Nothing to do; lock the parts in the layout file that should stay.",
        )
    if count := len(start.locked):
        yield Finding(
            "parts-locked",
            Severity.NOTE,
            f"{counted(count, 'part')} stayed in place, locked in the layout file: "
            f"{', '.join(placed.part.id for placed in start.locked)}.",
            "Take them out of locked there to place them again.",
            numbers={"locked": float(count)},
        )
    for name, zones in avoid.items():
        count = len(zones)
        yield Finding(
            "zones-avoided",
            Severity.NOTE,
            f"{counted(count, 'more zone')} kept clear for this layout only.",
            "If it is a flaw, write it into the hide file.",
            subject=name,
            numbers={"zones": float(count)},
        )


def _key(layout: Layout, worths: Mapping[str, float] | None, least_leather: bool) -> tuple[float, ...]:
    """Return what makes a layout better the smaller it is: worth left out, then leather and hides begun."""
    left = sum(one.part.outline.area if worths is None else worths[one.part.id] for one in layout.unplaced)
    begun = [hide for hide in layout.hides if layout.placed_on(hide.name)]
    reach = sum(layout.used_height_of(hide.name) * n**2 for n, hide in enumerate(layout.hides, start=1))
    used = sum(_leather_under(layout, hide) for hide in begun) if least_leather else 0.0
    return round(left, 3), round(used, 3), len(begun), round(reach, 3)


def _leather_under(layout: Layout, hide: Hide) -> float:
    """Return the area of a hide up to the highest part across the straps, mm²."""
    way = -layout.direction_of(hide.name)
    outlines = [to_polygon(one.outline, NESTING_CHORD) for one in layout.placed_on(hide.name)]
    return area_up_to(turned(hide.outline, way), [turned(outline, way) for outline in outlines])
