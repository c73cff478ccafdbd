"""A layout as a saddler with a strap cutter reads it: what to set it to, pull by pull.

A strap cutter follows the edge the last pull left, so straps come off edge to edge: a gap of a layout, which
a blade or a beam needs, cannot be pulled. Straps are therefore drawn together for it, each on to the edge
before it, as far as they stay clear of edges and flaws. Where one would not, it stays where the layout has
it: what lies between comes off as a strip of waste, or, where that is too narrow to pull, together with the
strap, which is then trimmed.

Straps that lie beside each other at different heights share a band that no strap cutter parts; such a band is
pulled whole and divided at the bench.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from strapwright.core.tolerances import CLEARANCE, NESTING_CHORD
from strapwright.geometry.polygon import to_polygon, turned as turned_points
from strapwright.geometry.transform import turned
from strapwright.nesting.hide.backbone import back_of, edge_of, from_the_back, starts_both_ways
from strapwright.nesting.hide.sound_leather import free_leather
from strapwright.nesting.hide.true_edge import has_true_edge
from strapwright.nesting.layout.verify import is_sound

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import Layout, PlacedPart


_ALIKE: Final = 0.01
"""Straps whose edges differ by less than this lie in one strip, mm: nobody sets a strap cutter finer."""


LEAST_PULL: Final = 6.0
"""A strap cutter pulls no strip narrower than this, mm: about 1/4 in, common practice."""


RipKind = Literal["first", "strap", "band", "waste", "rest"]


@dataclass(frozen=True)
class Rip:
    """One strip of a hide, as wide as a strap cutter is set for it.

    Args:
        kind: ``first``: cut off by hand, straight, where the edge is raw; ``strap``: one width, every strap
            in it full width; ``band``: straps that overlap, or are not of one width, divided at the bench;
            ``waste``: between two of these, with whatever small parts lie in it; ``rest``: all beyond the
            last.
        width: mm.
        start: from the edge the list starts at to the strip's near side, mm.
        parts: ids of the parts that lie wholly in it: straps from left to right, then small ones.
        trim: what it is trimmed to from its far side once pulled, mm; 0: it is not.
    """

    kind: RipKind
    width: float
    start: float
    parts: tuple[str, ...] = ()
    trim: float = 0.0

    @property
    def said(self) -> str:
        """The strip in words."""
        named = ", ".join(self.parts)
        if self.kind == "first":
            words = "cut off straight by hand, along a straightedge"
            return f"{words}; with {named}" if named else words
        if self.kind == "rest":
            return "rest of the hide"
        if self.kind == "waste":
            return f"waste, with {named}" if named else "waste"
        if self.kind == "strap":
            return f"{named}; then trim its near edge to {self.trim:.1f} mm" if self.trim else named
        trim = f"trim its near edge to {self.trim:.1f} mm, then " if self.trim else ""
        return f"{trim}cut apart at the bench: {named}"


@dataclass(frozen=True)
class RipList:
    """The strips of a hide in the order they are pulled, from one edge on.

    Args:
        begins: where they start, in words: ``from the trued edge``.
        rips: the strips; their widths add up to all that lies on that side.
        cut_out_first: ids of the parts that lie across strips, so that pulling would spoil them.
        drawn: how far parts lie nearer to that edge than the layout has them, at most, mm.
    """

    begins: str
    rips: tuple[Rip, ...]
    cut_out_first: tuple[str, ...]
    drawn: float

    @property
    def sentences(self) -> tuple[str, ...]:
        """What to know before the first pull."""
        out = []
        if self.cut_out_first:
            out.append(f"Cut these out before you run the strap cutter: {', '.join(self.cut_out_first)}.")
        if self.drawn:
            out.append(
                f"For the strap cutter the straps are edge to edge, up to {self.drawn:.1f} mm nearer "
                "the edge than on the picture, still clear of every flaw."
            )
        return tuple(out)


@dataclass
class _Row:
    low: float
    high: float
    straps: list[tuple[float, PlacedPart]]
    even: bool = True


def rips_of(layout: Layout, hide: str) -> tuple[RipList, ...]:
    """Return the strips of one hide in the order they are pulled.

    They start from the edge to the right of the strap direction, which is the back of a hide read from a
    file. Where straps start from the back both ways, the hide is cut along it first, and either half has a
    list of its own.

    Args:
        layout: the layout.
        hide: the hide's name.

    Returns:
        One list, or two; none where no strap lies on the hide.

    Example:
        >>> import numpy as np
        >>> from strapwright.geometry.contour import Contour
        >>> from strapwright.nesting.hide.types import Hide
        >>> from strapwright.nesting.solver.nest import nest
        >>> from strapwright.parts.part import Part, PartKind
        >>> from strapwright.rules.leather import Tannage
        >>> strip = Contour.from_points([(0, -20), (1100, -20), (1100, 20), (0, 20)])
        >>> strap = Part("ines/strap", "ines", PartKind.STRAP, strip, (), 3.6, Tannage.VEGETABLE)
        >>> bend = Hide("bend", np.array([(0, 0), (1200, 0), (1200, 700), (0, 700)]))
        >>> (found,) = rips_of(nest([strap], [bend], steps=1), "bend")
        >>> found.begins, [(rip.kind, rip.width, rip.parts) for rip in found.rips], found.drawn
        ('from the trued edge', [('strap', 40.0, ('ines/strap',)), ('rest', 660.0, ())], 2.0)
    """
    base, on_it = layout.hide(hide), layout.placed_on(hide)
    direction = layout.direction_of(hide)
    if not starts_from_back(base, on_it):
        across = base.outline @ (math.sin(-direction), math.cos(-direction))
        edge = float(np.min(across))
        found = _list(layout, base, on_it, direction, edge, true=has_true_edge(base, direction))
        return () if found is None else (found,)
    back, out = back_of(base), []
    upward = from_the_back(direction, back)
    for side, way in ((1, upward), (-1, upward + math.pi)):
        mine = [placed for placed in on_it if side_of_back(base, placed) in (side, 0)]
        x, y = back.start
        found = _list(layout, base, mine, way, y * math.cos(way) - x * math.sin(way), true=True)
        if found is not None:
            far = edge_of(replace(back, start=back.end, end=back.start) if side == 1 else back)
            out.append(replace(found, begins=f"from the cut along the back towards the {far}"))
    return tuple(out)


def rips_as_json(layout: Layout) -> list[dict[str, Any]]:
    """Return the strips of every hide as plain JSON values, for ``layout.json`` and ``nest --json``."""
    return [
        {
            "hide": hide.name,
            "begins": one.begins,
            "strips": [
                {
                    "kind": rip.kind,
                    "width_mm": rip.width,
                    "from_edge_mm": rip.start,
                    "parts": list(rip.parts),
                    **({"trim_to_mm": rip.trim} if rip.trim else {}),
                }
                for rip in one.rips
            ],
            "cut_out_first": list(one.cut_out_first),
            "drawn_together_mm": one.drawn,
        }
        for hide in layout.hides
        for one in rips_of(layout, hide.name)
    ]


Boxed = tuple[tuple[float, float, float, float], "PlacedPart"]


def _list(
    layout: Layout, hide: Hide, on_it: Sequence[PlacedPart], direction: float, edge: float, *, true: bool
) -> RipList | None:
    """Return the strips from an edge on, or None where no strap lies there.

    Args:
        layout: the layout.
        hide: the hide.
        on_it: what of it lies there.
        direction: the strips' own, with the edge to its right, radians.
        edge: how far to the left of that direction the edge lies from (0, 0), mm.
        true: whether that edge is straight already.
    """
    boxes = [(turned(one.outline, -direction).bounding_box, one) for one in on_it]
    strips = _rows([(box, placed) for box, placed in boxes if placed.part.lies_along])
    if not strips:
        return None
    small = [(box, placed) for box, placed in boxes if not placed.part.lies_along]
    limits = [edge, *(height for strip in strips for height in (strip.low, strip.high)), math.inf]
    whole = {placed.part.id for pair in pairwise(limits) for _, placed in _within(small, *pair)}
    across = [placed for _, placed in small if placed.part.id not in whole]
    kept = max(layout.clearance.between, layout.clearance.edge)
    sound = _sound(layout, hide, across)
    rips: list[Rip] = []
    reached, before, drawn = edge, edge, 0.0  # the edge the last pull left, and where the layout has it
    for number, strip in enumerate(strips):
        height, between = strip.high - strip.low, _ids(_within(small, before, strip.low))
        within = _within(small, strip.low, strip.high)
        room = strip.low - reached
        start, width, trim = strip.low, height, 0.0
        if number == 0 and not true:
            if room > CLEARANCE:
                rips.append(Rip("first", room, 0.0, between))
        elif room > CLEARANCE:
            moved = [*strip.straps, *within]
            near = strip.low - before <= kept + _ALIKE and not between
            there = _moved([placed for _, placed in moved], direction, room)
            if near and (_amid(sound, there) or _stays_clear(layout, hide, there, across, number == 0)):
                start, drawn = reached, max(drawn, room)
            elif between or room >= LEAST_PULL:
                rips.append(Rip("waste", room, reached - edge, between))
            else:
                start, width, trim = reached, room + height, height
        ids = (*(placed.part.id for _, placed in sorted(strip.straps, key=lambda one: one[0])), *_ids(within))
        rips.append(Rip("strap" if strip.even else "band", width, start - edge, ids, trim))
        reached, before = start + width, strip.high
    top = float(np.max(hide.outline @ (math.sin(-direction), math.cos(-direction))))
    if top - reached > CLEARANCE:
        rips.append(Rip("rest", top - reached, reached - edge, _ids(_within(small, before, math.inf))))
    begins = "from the trued edge" if true else "once its edge is cut straight"
    rounded = tuple(
        replace(rip, width=round(rip.width, 6), start=round(rip.start, 6) + 0.0, trim=round(rip.trim, 6))
        for rip in rips
    )
    ids = tuple(placed.part.id for placed in across)
    return RipList(begins, rounded, ids, round(drawn, 6))


def _moved(parts: Sequence[PlacedPart], direction: float, by: float) -> tuple[PlacedPart, ...]:
    """Return parts moved towards the edge to the right of a direction by so many mm."""
    dx, dy = by * math.sin(direction), -by * math.cos(direction)
    return tuple(
        replace(one, placement=replace(one.placement, x=one.placement.x + dx, y=one.placement.y + dy))
        for one in parts
    )


def _sound(layout: Layout, hide: Hide, across: Sequence[PlacedPart]) -> Any:
    """Return leather where any part stays clear of everything but its neighbours, as a shapely geometry."""
    import shapely

    if hide.thickness_zones:
        return shapely.Polygon()
    outlines = (to_polygon(one.outline, NESTING_CHORD, "outward") for one in across)
    cut_out = [shapely.Polygon(outline) for outline in outlines]
    cut_out += [shapely.Polygon(zone.polygon) for zone in layout.avoided_on(hide.name)]
    free = free_leather(hide, layout.clearance.edge)
    free = free.difference(shapely.union_all(cut_out).buffer(layout.clearance.between))
    shapely.prepare(free)
    return free


def _amid(sound: Any, parts: Sequence[PlacedPart]) -> bool:
    """Whether parts lie on sound leather with the very boxes they were drawn in: a quick look."""
    import shapely

    for one in parts:
        x0, y0, x1, y1 = one.part.outline.bounding_box
        corners = [one.placement.apply_to_point(x, y) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
        if not sound.covers(shapely.Polygon(corners)):
            return False
    return True


def _stays_clear(
    layout: Layout, hide: Hide, there: tuple[PlacedPart, ...], across: Sequence[PlacedPart], first: bool
) -> bool:
    """Whether the parts of a strip keep clear of edge, flaws and what is cut out before.

    Args:
        layout: the layout.
        hide: the hide.
        there: the parts where the strap cutter has them.
        across: parts that lie across strips.
        first: whether they lie at the edge the list starts from, which is straight and may be used.
    """
    boxes = np.array([one.outline.bounding_box for one in (*there, *across)])
    low, high = boxes[: len(there), :2].min(axis=0), boxes[: len(there), 2:].max(axis=0)
    off, reach = boxes[len(there) :], layout.clearance.between
    near = np.all((off[:, :2] < high + reach) & (off[:, 2:] > low - reach), axis=1)
    across = [one for one, close in zip(across, near, strict=True) if close]
    alone = replace(layout, hides=(hide,), placed=(*there, *across), unplaced=(), locked=())
    alone = replace(alone, avoided=layout.avoided_on(hide.name))
    looks = [alone]
    if first:  # as near to the edge as it likes, but to no flaw
        (x0, y0), (x1, y1) = hide.outline.min(axis=0) - 100, hide.outline.max(axis=0) + 100
        wide = replace(hide, outline=np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))
        bare = replace(layout.clearance, margin=0.0, kerf=0.0)
        looks = [replace(alone, clearance=bare), replace(alone, hides=(wide,))]
    return all(map(is_sound, looks))


def _rows(straps: Sequence[Boxed]) -> list[_Row]:
    """Return the strips straps lie in, from the edge on: those whose heights overlap share one."""
    strips: list[_Row] = []
    for (x0, low, _, high), placed in sorted(straps, key=lambda one: (one[0][1], one[0][0])):
        last = strips[-1] if strips else None
        if last is None or low >= last.high - _ALIKE:
            _, bottom, _, top = placed.part.outline.bounding_box
            straight = abs((high - low) - (top - bottom)) < _ALIKE  # one that lies askew is no strip
            strips.append(_Row(low, high, [(x0, placed)], straight))
        else:
            same = abs(low - last.low) < _ALIKE and abs(high - last.high) < _ALIKE
            last.even = last.even and same
            last.high = max(last.high, high)
            last.straps.append((x0, placed))
    return strips


def _within(small: Sequence[Boxed], low: float, high: float) -> list[tuple[float, PlacedPart]]:
    """Return the small parts that lie wholly between two heights, each with its left end."""
    return [(box[0], placed) for box, placed in small if box[1] >= low - _ALIKE and box[3] <= high + _ALIKE]


def _ids(found: Sequence[tuple[float, PlacedPart]]) -> tuple[str, ...]:
    return tuple(placed.part.id for _, placed in sorted(found, key=lambda one: (one[0], one[1].part.id)))


def side_of_back(hide: Hide, placed: PlacedPart) -> int:
    """Return on which side of a hide's back a part lies: 1 left of it, -1 right of it, 0 across it."""
    back = back_of(hide)
    at = turned_points(np.array([back.start]), -back.direction)[0, 1]
    outline = turned(placed.outline, -back.direction)
    _, low, _, high = outline.bounding_box
    return 1 if low >= at - _TOUCH else -1 if high <= at + _TOUCH else 0


def starts_from_back(hide: Hide, placed: Sequence[PlacedPart]) -> bool:
    """Whether the straps on a hide start from its back both ways: some on either side, none across it."""
    found = {side_of_back(hide, one) for one in placed if one.part.lies_along}
    return starts_both_ways(hide) and found == {-1, 1}


_TOUCH: Final = 0.01
"""A part may reach over the back by this much and still lie beside it, mm."""
