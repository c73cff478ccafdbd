"""The belt closed as it is worn: round the body, under the frame, over prong and bar, through the keeper."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PartError
from strapwright.job.dimensions.closed_buckle import FRONT_BAR_AIR, prong_top, rise_to_prong

if TYPE_CHECKING:
    from strapwright.geometry.side_profile import Pen, Point
    from strapwright.job.strap_draft import BeltDraft


CORNER: Final = math.radians(120.0)
"""How far each side of the drawn ring bends, rad; its back bends by the rest."""


SIDE: Final = 8.0
"""Straight strap beyond the doubled end before it begins to bend, mm."""


STEP: Final = 25.0
"""Run over which the strap comes down to pass under the front bar, mm."""


TIGHTEST: Final = 15.0
"""Least radius a belt is drawn bent to, mm."""


@dataclass(frozen=True)
class Closed:
    """How a worn belt closes.

    Args:
        tilt: of the buckle's frame, its front bar outwards, rad.
        over: height of the free end's middle line over the doubled front, mm.
    """

    tilt: float
    over: float


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
