"""What every format that only draws has in common: nothing special is needed, and nothing lies beside."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.types import CutSheet


def lacks_nothing(machine: Machine) -> tuple[str, ...]:
    """Return the profile's keys the format needs and the machine does not have: none."""
    del machine
    return ()


def nothing_beside(sheet: CutSheet, plan: CutPlan) -> Mapping[str, str]:
    """Return what other files belong to a sheet's: none."""
    del sheet, plan
    return {}
