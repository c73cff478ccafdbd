"""The width of the cut: measured, never guessed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.errors import PlanError
from strapwright.machine.kerf_rows import MOST_KERF

if TYPE_CHECKING:
    from strapwright.machine.profile import Machine
    from strapwright.trade.leather import Tannage

SAME_THICKNESS: Final = 0.05
"""Leather this near a measured thickness counts as it, mm: half of a gauge's graduation."""


def kerf_for(machine: Machine, tannage: Tannage, thickness: float, by_hand: float | None = None) -> float:
    """Return the width of the cut a machine makes in a leather.

    Between two measured thicknesses the width is interpolated in a straight line; beyond the
    measured range it is refused.

    Args:
        machine: its profile holds the measured rows.
        tannage: of the leather.
        thickness: of the leather, mm.
        by_hand: width given by the maker instead, mm, over 0 and up to 2.

    Returns:
        Width in mm; 0 for a drag knife, whose blade takes nothing away.

    Raises:
        PlanError: nothing measured for this leather, or a width by hand that cannot be.

    Example:
        >>> from strapwright.machine.profile import read_machine
        >>> from strapwright.trade.leather import Tannage
        >>> kerf_for(read_machine("drag-knife"), Tannage.CHROME, 2.0)
        0.0
    """
    if machine.kind == "drag_knife":
        if by_hand is not None:
            raise PlanError(
                f"--kerf {by_hand:g} mm: the blade of {machine.name!r} takes no leather away; "
                "leave --kerf out for a drag knife"
            )
        return 0.0
    if by_hand is not None:
        if not 0 < by_hand <= MOST_KERF:
            raise PlanError(
                f"--kerf {by_hand:g} mm: expected a width over 0 and up to {MOST_KERF:g} mm; "
                "measure the gap a cut leaves"
            )
        return by_hand
    remedy = "measure a cut and add a [[kerf]] row to the profile, or give the width with --kerf"
    rows = sorted((row.thickness, row.width) for row in machine.kerf if row.material == tannage)
    if not rows:
        raise PlanError(f"machine {machine.name!r} has no kerf measured in {tannage} leather; {remedy}")
    measured, widths = np.array(rows).T
    if not measured[0] - SAME_THICKNESS <= thickness <= measured[-1] + SAME_THICKNESS:
        span = (
            f"only at {measured[0]:g} mm"
            if len(rows) == 1
            else f"from {measured[0]:g} to {measured[-1]:g} mm"
        )
        raise PlanError(
            f"machine {machine.name!r} has its kerf in {tannage} leather measured {span}, "
            f"not at {thickness:.2f} mm; {remedy}"
        )
    return float(np.interp(thickness, measured, widths))
