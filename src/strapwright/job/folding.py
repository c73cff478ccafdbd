"""A drafted belt closed round its buckle: the course of its middle line and the faces of its layers.

The front layer runs straight on from the top of the half-turn; the turn-back comes down on the tangent to
the place where the first row clamps it. A keeper held between the layers, or a dee ring's bar, spreads both
by half of it, so that the rows beyond it still meet. Worn, it goes round the body, under the frame, over
prong and bar, through the keeper.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PartError
from strapwright.geometry.side_profile import Height, turned_round
from strapwright.job.dimensions.fit import FRONT_BAR_AIR, prong_top, rise_to_prong
from strapwright.job.dimensions.matching_rows import SEAM_PARTS as RAMP

if TYPE_CHECKING:
    from strapwright.geometry.side_profile import Course, Pen, Point
    from strapwright.job.dimensions.fit import BeltFigures
    from strapwright.job.dimensions.layers import Layers
    from strapwright.job.strap_draft import BeltDraft


AIR: Final = 0.02
"""Layers that touch are modelled this far apart, mm: a solid must not touch itself."""

TIP_TAPER: Final = 15.0
"""A thinner tip is skived down to over this length beyond the last hole, mm."""

HEAD_AIR: Final = 8.5
"""A sliding keeper is drawn pushed up to this far from the last row, clear of its heads, mm."""

CORNER: Final = math.radians(120.0)
"""How far each side of the drawn ring bends, rad; its back bends by the rest."""

SIDE: Final = 8.0
"""Straight strap beyond the doubled end before it begins to bend, mm."""

STEP: Final = 25.0
"""Run over which the strap comes down to pass under the front bar, mm."""

TIGHTEST: Final = 15.0
"""Least radius a belt is drawn bent to, mm."""


@dataclass(frozen=True)
class Place:
    """Where the doubled layers are led past.

    Args:
        s: in the front layer, mm.
        lift: how far each layer is spread from the other there, mm.
        gap: how far the turn-back alone is held off, mm.
    """

    s: float
    lift: float = 0.0
    gap: float = 0.0


@dataclass(frozen=True)
class Closed:
    """How a worn belt closes.

    Args:
        tilt: of the buckle's frame, its front bar outwards, rad.
        over: height of the free end's middle line over the doubled front, mm.
    """

    tilt: float
    over: float


@dataclass(frozen=True)
class Folded:
    """A belt's layers in their places.

    Args:
        drafted: the belt.
        course: of the strap's middle line.
        low: the strap's flesh face over it; its lining, if it has one, lies below.
        high: its grain face.
        lining_low: the lining's outer face.
        radius: of the middle line round the bar, mm.
        keeper_x: x of the keeper's near edge, mm; 0 without one.
        lift: how far the front is lifted over the keeper, mm.
        closed: how it closes, where it is drawn as worn.
    """

    drafted: BeltDraft
    course: Course
    low: Height
    high: Height
    lining_low: Height
    radius: float
    keeper_x: float
    lift: float
    closed: Closed | None

    @property
    def figures(self) -> BeltFigures:
        """The belt's numbers."""
        return self.drafted.figures

    @property
    def front_face(self) -> float:
        """Height of the grain where the front layer lies flat and full, mm."""
        return self.radius + self.figures.layers.strap / 2

    @property
    def flesh_face(self) -> float:
        """Height of the front layer's other face there, mm."""
        return self.radius - self.figures.layers.strap / 2

    @property
    def mates(self) -> tuple[tuple[str, float, float], ...]:
        """What is to meet: its name, its s in the front layer and its s in the turn-back, mm."""
        end = self.figures.end
        rows = [(f"row {n}", x, m) for n, x, m in zip("ABC", end.rows, end.mates, strict=False)]
        ends = [x for run in end.stitches for x in (run[0], run[-1])]
        return (*rows, *(("the seam", x, end.shift - x) for x in ends))

    @property
    def misses(self) -> tuple[tuple[str, float], ...]:
        """What is to meet, and how far the turn-back's lies beyond the front's along x, mm."""
        point = self.course.point
        return tuple((name, point(back)[0] - point(front)[0]) for name, front, back in self.mates)


def faces_of(drafted: BeltDraft, neutral_axis: float) -> tuple[Height, Height, Height]:
    """Return the strap's flesh face, its grain face and its lining's outer face over the middle line.

    Args:
        drafted: the belt.
        neutral_axis: K of the fold.
    """
    got = drafted.figures
    layers = got.layers
    last = drafted.strap.holes.xs[-1] + drafted.strap.holes.reach / 2
    knots = (got.end.half_turn / 2, got.lining_start, last, last + TIP_TAPER)
    top, thin = layers.strap / 2, layers.tip / layers.strap
    inner = top - layers.outer
    low = Height(knots, (-neutral_axis * layers.fold, inner, inner, top - layers.outer * thin))
    high = Height(knots, ((1 - neutral_axis) * layers.fold, top, top, top))
    return low, high, Height(knots, (-top, -top, -top, top - layers.tip))


def fold(drafted: BeltDraft, *, worn: bool = False) -> Folded:
    """Fold a belt round its buckle's bar.

    Args:
        drafted: the belt.
        worn: close it in the hole in use, its tip through the keeper; else it lies flat.

    Raises:
        PartError: its rows lie on the bar, or it is too short to close.
    """
    got, neutral_axis = drafted.figures, drafted.house.neutral_axis
    radius, layers = got.end.half_turn / math.pi, got.layers
    places = _places(got)
    front = _front(places, got.end.half_turn / 2, radius)
    clamped = radius - layers.strap / 2 - AIR - neutral_axis * layers.fold
    back = [(x, clamped - one.lift - one.gap) for (x, _), one in zip(front, places, strict=True)]
    try:
        pen = turned_round(radius, back, got.end.turn_back)
    except ValueError as error:
        raise PartError(f'belt "{drafted.id}": {error}') from error
    end = max(pen.stretches[0].x, *(x for x, _ in front))
    for x, z in front:
        pen.line_to(x, z)
    pen.heading = 0.0
    keeper_x, lift = _keeper(got, places, front), _parted_by_keeper(got)
    closed = None
    if worn:
        end = max(end, keeper_x + got.keeper.width if got.keeper else 0.0)
        highest = max(one.lift for one in places)
        rise = next((x for one, (x, _) in zip(places[1:], front, strict=False) if one.lift > lift), 0.0)
        closed = close_round(pen, drafted, end, lift, (rise, highest))
    pen.line(drafted.strap.span - pen.s)
    low, high, lining_low = faces_of(drafted, neutral_axis)
    return Folded(
        drafted=drafted,
        course=pen.course(),
        low=low,
        high=high,
        lining_low=lining_low,
        radius=radius,
        keeper_x=keeper_x,
        lift=lift,
        closed=closed,
    )


def _places(got: BeltFigures) -> list[Place]:
    """Return what the layers are led past, from the bar outwards."""
    end, asked_dee, found = got.end, got.spec.dee, []
    if end.stitches:
        held = {"row_a": 0, "row_b": 1}.get(end.keeper_held, -1)
        under = got.layers.keeper_stack
        for number, run in enumerate(end.stitches):
            found += [Place(x, gap=under if number == held else 0.0) for x in (run[0], run[-1])]
    else:
        found = [Place(row, gap=gap) for row, gap in zip(end.rows, end.gaps, strict=True)]
    for one in end.closings:  # a row the layers cannot close at stays open
        at = "ABC".find(one.row)
        if one.row and not one.closes and end.keeper_held == "between":
            found[at] = replace(found[at], lift=one.left_open)
        elif one.row and not one.closes:
            found[at] = replace(found[at], gap=2 * one.left_open)
    if got.keeper is not None and end.keeper_held == "between":
        near, far = end.keeper_end - got.keeper.width, end.keeper_end
        half = _parted_by_keeper(got)
        slant = RAMP if end.stitches else near - end.rows[0]
        open_by = max((one.left_open for one in end.closings), default=0.0)
        past = 0.0 if open_by else _past_edge(slant, half, got.layers)
        if end.stitches:  # those at the keeper's edges are parted with it
            found = [one for one in found if not near - RAMP < one.s < far + RAMP]
            found.append(Place(near - RAMP, open_by))
        found += [Place(near - past, half), Place(far + past, half)]
        if end.stitches or len(end.rows) == 1:
            found.append(Place(far + slant, open_by if end.stitches else 0.0))
    if asked_dee is not None and end.dee:
        beyond = min((one.s for one in found if one.s > end.dee), default=end.dee + RAMP)
        slant = beyond - end.dee
        ring = Place(end.dee, _apex(asked_dee.bar_diameter / 2 + AIR, slant))
        lifted = max((one.s for one in found if one.lift), default=-math.inf)
        rows = [x for x in (*end.rows, *(run[-1] for run in end.stitches)) if x < end.dee]
        open_at, gap = max(((one.s, one.gap) for one in found if one.s < end.dee), default=(0.0, 0.0))
        if gap:  # a keeper is clamped at the last row: straight from there to the row beyond, past the ring
            ring = _past_ring(asked_dee.bar_diameter / 2 + AIR, end.dee, beyond, open_at, gap)
        elif lifted > max(rows, default=0.0):  # straight from the keeper up to the ring
            found = [one for one in found if not lifted < one.s < end.dee]
        else:
            stopped = end.keeper_end if got.keeper is not None and end.keeper_end < end.dee else 0.0
            found.append(Place(max(*rows, stopped, end.dee - slant)))
        found.append(ring)
    found.sort(key=lambda one: one.s)
    return [one for before, one in pairwise([Place(-math.inf), *found]) if one.s - before.s > 1e-3]


def _past_ring(radius: float, s: float, beyond: float, open_at: float, gap: float) -> Place:
    """Return where the layers pass a ring's bar between a row at which a keeper opens them and the next.

    Args:
        radius: of the bar, with air, mm.
        s: of the bar, mm.
        beyond: s of the row after it, mm.
        open_at: s of the row before it, mm.
        gap: how far the layers are open there, mm.
    """
    by_itself = gap * (beyond - s) / (beyond - open_at)
    slant = math.hypot(beyond - s, by_itself + radius)
    return Place(s, max(_apex(radius, slant) - by_itself / 2, 0.0), by_itself)


def _parted_by_keeper(got: BeltFigures) -> float:
    """Return how far a keeper between the layers lifts the front: half its thickness, doubled at a lap."""
    return got.layers.keeper_stack / 2 if got.end.keeper_held == "between" else 0.0


def _past_edge(slant: float, lift: float, layers: Layers) -> float:
    """Return how far beyond the keeper's edges the layers are level, so that their insides clear its corners.

    Args:
        slant: length over which they part, mm.
        lift: how far each parts, mm.
        layers: of the belt.
    """
    past = 0.0
    for _ in range(5):  # a longer level leaves a shorter, steeper slant
        rise = math.asin(min(lift / max(slant - past, 1e-3), 0.8))
        past = min(layers.strap / 2 * math.tan(rise / 2), slant / 2)
    return past


def _apex(radius: float, slant: float) -> float:
    """Return how high over the middle two layers must part to clear a round bar, on a slant this long."""
    inside = 1 - (2 * radius / slant) ** 2
    return radius if inside < 0 else slant * math.sqrt((1 - math.sqrt(inside)) / 2)


def _front(places: list[Place], bent: float, radius: float) -> list[Point]:
    """Return the places in the front layer, its length kept where it slants."""
    x, s, lift, found = 0.0, bent, 0.0, []
    for one in places:
        way, rise = one.s - s, one.lift - lift
        x += math.sqrt(way**2 - rise**2) if way > abs(rise) else way
        found.append((x, radius + one.lift))
        s, lift = one.s, one.lift
    return found


def _keeper(got: BeltFigures, places: list[Place], front: list[Point]) -> float:
    """Return x of the keeper's near edge."""
    keeper, held = got.keeper, got.end.keeper_held
    if keeper is None:
        return 0.0
    near = got.end.keeper_end - keeper.width
    if held == "between":
        before = max((one for one in places if one.lift and one.s <= near), key=lambda one: one.s)
        return front[places.index(before)][0] + near - before.s
    if held in ("row_a", "row_b"):
        return near - got.end.half_turn / 2
    heads = got.end.rows[-1] + HEAD_AIR if got.end.rows and not got.end.dee else 0.0
    return max(near, heads) - got.end.half_turn / 2


def close_round(pen: Pen, drafted: BeltDraft, end: float, lift: float, then: tuple[float, float]) -> Closed:
    """Go on from the doubled end round the body and through the buckle.

    The ring's radii follow from the lengths, so that the tip-side edge of the hole in use bears on the prong.
    The ring is drawn as straight front, two bent sides and a bent back; a body is no circle either.

    Args:
        pen: at the end of the doubled layers, heading along x; afterwards over the keeper.
        drafted: the belt.
        end: x at which the doubled end is over, mm.
        lift: of the front over the keeper, mm.
        then: x from which the front is lifted further, over a dee ring's bar, and how far at most, mm.

    Raises:
        PartError: a buckle without prongs, or a belt too short for its straight front.
    """
    got, buckle, level = drafted.figures, drafted.buckle, pen.z
    rise = rise_to_prong(buckle, got.layers.strap)
    if rise is None:
        raise PartError(
            f'belt "{drafted.id}": a belt with a hook buckle is only drawn flat; leave out --worn'
        )
    t, bar = got.layers.strap, buckle.section.width
    depth = buckle.frame_depth + bar / 2
    # The frame tilts half as far as would let the strap pass under it without coming down at all.
    bar_z = (level + (bar + t) / 2) / 2
    tilt = math.asin(min(bar_z / depth, 0.5))
    bar_x, bar_z = -depth * math.cos(tilt), depth * math.sin(tilt)
    under, left = bar_z - rise.radius, bar_x - STEP - 6.0
    # Behind the prong the free end lies on the fold, then on what the front is lifted to.
    fold = got.end.fold_radius + got.layers.fold + t / 2 + FRONT_BAR_AIR
    over = max(level + lift + t + FRONT_BAR_AIR, fold)
    # The free end comes up round the bar to where its hole bears and turns over the prong, along whose top it
    # then lies. It comes level, so that the frame's tilt is less to turn.
    turn = max(rise.turn - tilt, 0.0)
    off_x, off_z = bar_x + rise.radius * math.sin(turn), bar_z - rise.radius * math.cos(turn)
    edge = _tilted(-buckle.seat, prong_top(buckle, buckle.seat), tilt)
    straight = end + SIDE - pen.x
    tail = math.hypot(STEP, level - under) + 6.0 + rise.radius * turn + math.dist((off_x, off_z), edge)
    ring = got.hole_in_use + got.holes.reach / 2 - pen.s - straight - tail
    flat = end + SIDE - left
    corner = (ring - flat * (math.pi - CORNER) / math.sin(CORNER)) / (2 * math.pi)
    if corner < TIGHTEST:
        raise PartError(
            f'belt "{drafted.id}" is too short to be drawn closed: beside {flat:.0f} mm of straight front '
            f"it would bend round {max(corner, 0):.0f} mm, allowed is {TIGHTEST:g} mm; leave --worn off"
        )
    pen.line(straight)
    pen.arc(corner, -CORNER)
    pen.arc(corner + flat / (2 * math.sin(CORNER)), -2 * (math.pi - CORNER))
    pen.arc(corner, -CORNER)
    pen.line(2.0)
    pen.line_to(left + 2.0 + STEP, under)
    pen.line_to(bar_x, under)
    pen.arc(rise.radius, turn)
    pen.line_to(*edge)
    pen.line((t / 2 + FRONT_BAR_AIR) / max(math.sin(pen.heading + tilt), 0.5))
    last = max(-4.0, pen.x + 2.0)
    top = prong_top(buckle, -last) + t / 2 + FRONT_BAR_AIR
    pen.line_to(last, max(top / math.cos(tilt) - last * math.tan(tilt), fold))
    pen.line_to(max(3.0, last + 4.0), over)
    beyond, highest = then
    if highest > lift + FRONT_BAR_AIR:
        climb = highest - lift  # done before the front climbs, which it would run into
        pen.line_to(max(beyond - 2.0 * climb - 1.0, pen.x + 1.0), over)
        pen.line_to(pen.x + 2.0 * climb, over + climb)
    pen.heading = 0.0
    return Closed(tilt, over)


def _tilted(x: float, z: float, tilt: float) -> Point:
    """Return a point of the frame's plane and height, its front bar turned outwards about the bar."""
    return x * math.cos(tilt) + z * math.sin(tilt), z * math.cos(tilt) - x * math.sin(tilt)
