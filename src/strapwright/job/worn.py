"""The belt closed as it is worn: round the body, under the frame, over prong and bar, through the keeper."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.errors import PartError
from strapwright.job.end_figures import bar_height
from strapwright.trade.fold import flat_bar_radius

if TYPE_CHECKING:
    from strapwright.geometry.course import Pen
    from strapwright.job.buckle import Buckle
    from strapwright.job.draft import BeltDraft

CORNER: Final = math.radians(120.0)
"""How far each side of the drawn ring bends, rad; its back bends by the rest."""

WEAVE: Final = math.radians(70.0)
"""How steeply the free end comes up between front bar and prong, rad."""

SIDE: Final = 8.0
"""Straight strap beyond the doubled end before it begins to bend, mm."""

STEP: Final = 25.0
"""Run over which the strap comes down to pass under the front bar, mm."""

TIGHTEST: Final = 15.0
"""Least radius a belt is drawn bent to, mm."""

_AIR: Final = 0.1


@dataclass(frozen=True)
class Closed:
    """How a worn belt closes.

    Args:
        tilt: of the buckle's frame, its front bar outwards, rad.
        over: height of the free end's middle line over the doubled front, mm.
        loop: length of the strap's middle line from the bar round to the hole in use, mm.
    """

    tilt: float
    over: float
    loop: float


def close_round(
    pen: Pen, drafted: BeltDraft, buckle: Buckle, end: float, lift: float, then: tuple[float, float]
) -> Closed:
    """Go on from the doubled end round the body and through the buckle.

    The ring's radii follow from the lengths, so that the hole in use comes to lie where the prong passes.
    The ring is drawn as straight front, two bent sides and a bent back; a body is no circle either.

    Args:
        pen: at the end of the doubled layers, heading along x; afterwards over the keeper.
        drafted: the belt.
        buckle: its buckle.
        end: x at which the doubled end is over, mm.
        lift: of the front over the keeper, mm.
        then: x from which the front is lifted further, over a dee ring's bar, and how far at most, mm.

    Raises:
        PartError: a buckle without prongs, or a belt too short for its straight front.
    """
    got, level = drafted.figures, pen.z
    if not buckle.prongs:
        raise PartError(f'belt "{drafted.id}": a hook buckle is drawn lying flat only; leave --worn off')
    t, bar = got.layers.strap, bar_height(buckle)
    eye, p = eye_radius(buckle), buckle.prong_thickness
    depth = buckle.frame_depth + bar / 2
    # The frame tilts half as far as would let the strap pass under it without coming down at all.
    bar_z = (level + (bar + t) / 2) / 2
    tilt = math.asin(min(bar_z / depth, 0.5))
    bar_x, bar_z = -depth * math.cos(tilt), depth * math.sin(tilt)
    round_it = (bar + t) / 2 + _AIR
    under, left = bar_z - round_it, bar_x - STEP - 6.0
    # Behind the prong the free end lies on the fold, then on what the front is lifted to.
    fold = got.end.fold_radius + got.layers.fold + t / 2 + _AIR
    over = max(level + lift + t + _AIR, fold)
    # The free end comes off the bar at a slant and turns over the prong, along whose top it then lies.
    rise_x, rise_z = bar_x + round_it * math.sin(WEAVE), bar_z - round_it * math.cos(WEAVE)
    prong = (eye + p / 2) / math.cos(tilt)
    top = prong + ((p + t) / 2 + _AIR) / math.cos(tilt)
    steep, slope = math.tan(WEAVE), math.tan(tilt)
    pierced = (rise_x * steep - rise_z + prong) / (steep + slope)
    turned = (rise_x * steep - rise_z + top) / (steep + slope)
    straight = end + SIDE - pen.x
    tail = (
        math.hypot(STEP, level - under) + 2.0 + 4.0 + round_it * WEAVE + (pierced - rise_x) / math.cos(WEAVE)
    )
    ring = got.hole_in_use - pen.s - straight - tail
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
    pen.arc(round_it, WEAVE)
    pen.line_to(turned, top - slope * turned)
    last = max(-4.0, turned + 2.0)
    pen.line_to(last, max(top - slope * last, fold))
    pen.line_to(max(3.0, last + 4.0), over)
    beyond, highest = then
    if highest > lift + _AIR:
        climb = highest - lift  # done before the front climbs, which it would run into
        pen.line_to(max(beyond - 2.0 * climb - 1.0, pen.x + 1.0), over)
        pen.line_to(pen.x + 2.0 * climb, over + climb)
    pen.heading = 0.0
    return Closed(tilt, over, got.hole_in_use - got.end.half_turn / 2)


def eye_radius(buckle: Buckle) -> float:
    """Return the radius of the bar the prong's eye turns on, mm; of a flat bar, as it is reckoned folded."""
    if buckle.bar_section:
        return flat_bar_radius(*buckle.bar_section)
    return (buckle.bar_diameter or 0.0) / 2
