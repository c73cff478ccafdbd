"""Lead-in and overcut of a laser: closed cuts begin in the waste and go on past their start.

Where a beam goes in and comes out it leaves a notch. So an outline begins at its part's far end from the
tip, at a corner where there is one; the beam is turned on in the waste beside it; the cut goes on a little
past its beginning, so that it closes.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.geometry.contour import Contour
from strapwright.machine.toolpath.spindle_track import heading_on, opened, started_at, turn_between

if TYPE_CHECKING:
    from strapwright.core.arrays import Floats
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.profile.tool_keys import Laser
    from strapwright.machine.toolpath.blade_lead_in import WasteArea
    from strapwright.machine.types import CutPath


_CORNER: Final = math.radians(30.0)
"""A joint that turns further is a corner; so is an arc no longer than a kerf that does."""

_AT_THE_END: Final = 1.0
"""A vertex this near a part's end along x is at it, mm."""

_ANGLES: Final = tuple(math.radians(angle) for angle in (0, 30, -30, 60, -60, 90, -90))
"""Ways a lead-in comes from, tried in turn: back along the cut's beginning, or turned from that."""

_SHARES: Final = (1.0, 0.5, 0.25, 0.1)
"""Its length, tried in turn, as a share of what the profile asks."""

_STEEP: Final = 0.3
"""It leaves the cut so fast at least: its distance from every cut by the way gone, up to ``_CLEAR``."""

_CLEAR: Final = 0.5
"""It need not keep further from every cut than this, mm."""

_POINTS: Final = np.linspace(1.0, 1 / 12, 12)
"""Where on its way it is looked at, as shares from the cut."""


def has_lead_in(machine: Machine) -> bool:
    """Whether it is a laser whose closed cuts are begun in the waste, or go on past their start."""
    return machine.kind == "laser" and (machine.laser.lead_in > 0 or machine.laser.overcut > 0)


def begun_at_the_rear(contour: Contour, kerf: float) -> Contour:
    """Return a part's closed outline begun at its end of lowest x, at a corner where there is one.

    That is the turn-back's end of a strap, whose x runs from the fold to the tip. An outline without a
    vertex there begins where its arc reaches furthest.

    Args:
        contour: closed, in the part's frame.
        kerf: width of the cut, mm; a corner that the beam goes round on an arc is no longer than that.

    Example:
        >>> square = Contour.from_points([(10, 0), (10, 4), (0, 4), (0, 0)])
        >>> begun_at_the_rear(square, 0.2).starts[0].tolist()
        [0.0, 0.0]
        >>> x, y = begun_at_the_rear(Contour.circle(5, 2, 10), 0.2).starts[0].tolist()
        >>> round(x, 9) + 0.0, round(y, 9)
        (0.0, 2.0)
    """
    rear = contour.bounding_box[0]
    xs, ys = contour.starts.T
    corners = [k for k in np.flatnonzero(xs <= rear + _AT_THE_END).tolist() if _is_corner(contour, k, kerf)]
    if some := corners or np.flatnonzero(xs <= rear + 1e-6).tolist():
        return started_at(contour, min(some, key=lambda k: (round(float(ys[k]), 6), k)), 0.0)
    reach = contour.centres[:, 0] - contour.radii
    arcs = np.flatnonzero(contour.is_arc & (np.abs(reach - rear) < 1e-6))
    segment = int(arcs[0])
    start = contour.starts[segment] - contour.centres[segment]
    turn, sweep = math.pi - math.atan2(start[1], start[0]), float(contour.sweeps[segment])
    share = (turn % (2 * math.pi) if sweep > 0 else -(-turn % (2 * math.pi))) / sweep
    return started_at(contour, segment, share)


def _is_corner(contour: Contour, k: int, kerf: float) -> bool:
    """Whether a contour turns sharply at a vertex, or on an arc round a corner right beside it."""
    if abs(turn_between(heading_on(contour, k - 1, 1.0), heading_on(contour, k, 0.0))) > _CORNER:
        return True
    beside = [s % len(contour) for s in (k - 1, k)]
    return any(
        contour.is_arc[s] and contour.segment_lengths[s] <= 2 * kerf and abs(contour.sweeps[s]) > _CORNER
        for s in beside
    )


def beam_track(path: CutPath, laser: Laser, waste: WasteArea) -> tuple[Contour, bool]:
    """Return the beam's way along a closed cut, and whether it begins in the waste.

    Args:
        path: closed, begun where the beam is to enter it.
        laser: lead-in and overcut.
        waste: round the parts.
    """
    contour = path.contour
    cut = opened(contour, 0, laser.overcut)
    if laser.lead_in <= 0:
        return cut, False
    x, y = contour.starts[0].tolist()
    back = heading_on(contour, 0, 0.0) + math.pi
    for share in _SHARES:
        length = share * laser.lead_in
        for angle in _ANGLES:
            along = length * _POINTS[:, None] * [math.cos(back + angle), math.sin(back + angle)]
            points = np.array([x, y]) + along
            if _is_waste(points, length * _POINTS, path, waste):
                lead = [*points[0].tolist(), 0.0]
                return Contour(np.vstack([lead, cut.vertices]), closed=False), True
    return cut, False


def _is_waste(points: Floats, gone: Floats, path: CutPath, waste: WasteArea) -> bool:
    """Whether a way leaves its cut fast enough into the waste, on the bed and clear of every other cut."""
    needed = np.minimum(_STEEP * gone, _CLEAR)
    if not waste.on_bed(points, 0.0).all():
        return False
    if path.is_outline:
        return bool((waste.room(points, 2 * _CLEAR) >= needed).all())
    inside = path.contour.contains(points)
    return bool(inside.all() and (path.contour.distance_to(points) >= needed).all())
