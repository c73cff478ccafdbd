"""The closed buckle from the side: how far the strap climbs from under the front bar to the prong."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.geometry.side_profile import rise_round

if TYPE_CHECKING:
    from strapwright.geometry.side_profile import Rise
    from strapwright.job.catalogue.buckle import Buckle


FRONT_BAR_AIR: Final = 0.1
"""Between the strap and the front bar it passes under, mm."""


def prong_top(buckle: Buckle, depth: float) -> float:
    """Return the height of the prong's top over the plane of the frame's bars, mm.

    It runs straight from over its eye to where it rests on the front bar.

    Args:
        buckle: with prongs.
        depth: where, from the bar's centre towards the front bar, mm.
    """
    eye, rest = buckle.section.radius, buckle.section.height / 2
    return eye + buckle.prong_thickness + (rest - eye) * depth / prong_end(buckle)


def rise_to_prong(buckle: Buckle, thickness: float) -> Rise | None:
    """Return how the free end comes up from under the front bar to where its hole bears on the prong.

    That is f from the bar on the prong's top; x runs in the frame's plane from the front bar's middle.

    Args:
        buckle: with prongs; a hook's strap does not pass under a bar, which gives None.
        thickness: of the strap, mm.
    """
    if not buckle.prongs:
        return None
    bar = buckle.section.width
    x, z = buckle.frame_depth + bar / 2 - buckle.seat, prong_top(buckle, buckle.seat)
    return rise_round((bar + thickness) / 2 + FRONT_BAR_AIR, x, z)


def prong_end(buckle: Buckle) -> float:
    """Return where the prong's straight ends and its tip begins, mm from the bar's centre."""
    return buckle.frame_depth + buckle.section.width - 1.0
