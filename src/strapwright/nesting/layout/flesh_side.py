"""Hides that lie flesh side up: seen from the grain for the search, and back as they lie.

A part is drawn grain side up. To lay parts on a hide that lies flesh side up, the hide is turned over in
thought (`grain_up`: end for end, x to −x, so that the trued edge stays the lower one), the parts are laid,
and hide and parts are turned back together (`turned_over`). What comes out is in the frame the hide was
measured in, with the parts mirrored.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from strapwright.geometry.transform import Placement
from strapwright.nesting.hide.types import Face, FirstCut, Flaw, Hide, ThicknessZone

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats
    from strapwright.nesting.layout.types import Layout


def grain_up(hide: Hide) -> Hide:
    """Return a hide as seen with its grain up; the very hide where it lies so already.

    Example:
        >>> hide = Hide("side", np.array([(0, 0), (900, 0), (900, 400)]), face_up=Face.FLESH)
        >>> grain_up(hide).outline.tolist()
        [[-900.0, 400.0], [-900.0, 0.0], [0.0, 0.0]]
    """
    if hide.face_up is Face.GRAIN:
        return hide
    cut, back = hide.first_cut, hide.back
    return replace(
        hide,
        outline=_over(hide.outline),
        flaws=tuple(
            Flaw(flaw.kind, _over(flaw.polygon), flaw.round and (-flaw.round[0], *flaw.round[1:]))
            for flaw in hide.flaws
        ),
        thickness_zones=tuple(ThicknessZone(z.thickness, _over(z.polygon)) for z in hide.thickness_zones),
        strap_direction=0.0 - hide.strap_direction,
        first_cut=cut and FirstCut((-cut.end[0], cut.end[1]), (-cut.start[0], cut.start[1]), cut.area),
        back=back and replace(back, start=(-back.end[0], back.end[1]), end=(-back.start[0], back.start[1])),
        face_up=Face.GRAIN,
    )


def turned_over(placement: Placement) -> Placement:
    """Return where a part lies once hide and part together are turned over, x to −x.

    It is its own inverse: from the grain-up frame to the hide's as it lies, and back.

    Example:
        >>> over = turned_over(Placement(0.5, 10.0, 20.0))
        >>> over, over.mirror, turned_over(over).mirror
        (Placement(turn=2.64..., x=-10.0, y=20.0), True, False)
    """
    return Placement(math.pi - placement.turn, 0.0 - placement.x, placement.y, not placement.mirror)


def on_hide(placement: Placement, hide: Hide) -> Placement:
    """Return a placement made in the grain-up frame in the frame the hide lies in, or the other way."""
    return turned_over(placement) if hide.face_up is Face.FLESH else placement


def as_they_lie(layout: Layout, hides: Sequence[Hide]) -> Layout:
    """Return a layout made on hides seen grain up on the hides as they lie, with their parts mirrored.

    Args:
        layout: made on `grain_up` of each hide.
        hides: the same hides as they lie, in the same order.
    """
    by_name = {hide.name: hide for hide in hides}
    placed = tuple(replace(one, placement=on_hide(one.placement, by_name[one.hide])) for one in layout.placed)
    return replace(layout, hides=tuple(hides), placed=placed)


def _over(points: Floats) -> Floats:
    over: Floats = points * np.array([-1.0, 1.0]) + 0.0
    return over
