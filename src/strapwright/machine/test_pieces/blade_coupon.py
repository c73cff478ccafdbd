"""The test cut a drag knife's offset is measured on: a square and a dart, cut for several offsets.

Each is cut from a file of its own, made for an offset that is scored beside it. A blade that trails just so
far makes corners that are sharp and meet.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.geometry.contour import Contour
from strapwright.geometry.lettering import lettering
from strapwright.geometry.shapes import rectangle
from strapwright.machine.cut_plan import CutPlan
from strapwright.machine.toolpath.runs import is_compensated
from strapwright.machine.types import OUTLINE, CutPath, CutSheet
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from strapwright.machine.profile.machine import Machine

OFFSETS_APART: Final = 0.05
"""From one offset tried to the next, mm."""

_EACH_WAY: Final = 2
"""So many are tried on either side of the profile's."""

_LEAST: Final = 0.05
"""A smaller offset is not tried, mm: a blade that trails less cuts sharp corners anyway."""

_EDGE: Final = 12.0
"""Free leather round all of it, mm."""

_STEP: Final = 32.0
"""From one square to the next, mm: its lead-in and the first stroke lie between them."""

_SIDE: Final = 14.0
"""Side of the square, and length of the dart, mm."""

_DART: Final = 6.0
"""Width of the dart at its foot, mm: at its tip the blade turns by 156°."""

_LETTERS: Final = 3.5
"""Height of the lettering, mm."""

_ID: Final = "blade test"


def offsets_tried(machine: Machine) -> tuple[float, ...]:
    """Return the offsets a blade's test is cut with, mm; none where no allowance is made for the blade.

    Example:
        >>> from strapwright.machine.profile.machine import read_machine
        >>> offsets_tried(read_machine("drag-knife"))
        (0.5, 0.55, 0.6, 0.65, 0.7)
    """
    if not is_compensated(machine) or machine.blade is None:
        return ()
    steps = range(-_EACH_WAY, _EACH_WAY + 1)
    tried = [round(machine.blade.offset + OFFSETS_APART * step, 3) for step in steps]
    return tuple(offset for offset in tried if offset >= _LEAST)


def blade_coupons(machine: Machine, leather: str, thickness: float | None = None) -> tuple[CutPlan, ...]:
    """Return the plans of a blade's test, one for each offset tried, side by side on one piece of scrap.

    Args:
        machine: the knife.
        leather: what the scrap is, in words.
        thickness: of it, mm; None where it is not said.

    Returns:
        Plans of one sheet, each for a machine whose blade trails by its offset; none where no allowance
        is made for the blade, or the bed is too narrow for them.
    """
    tried = offsets_tried(machine)
    if machine.blade is None or machine.bed[0] < _EDGE + _STEP * len(tried):
        return ()
    cuts = [_cuts(_EDGE + _STEP * k) for k in range(len(tried))]
    plans: list[CutPlan] = []
    for k, offset in enumerate(tried):
        label = lettering(f"{offset:.3g}", _LETTERS, _EDGE + _STEP * k, _EDGE)
        sheet = CutSheet(
            f"blade test {k + 1} of {len(tried)}, offset {offset:.3g} mm",
            f"scrap of {leather}",
            *machine.bed,
            (
                *(CutPath(_ID, "label", Operation.SCORE, stroke) for stroke in label),
                *(CutPath(_ID, OUTLINE, Operation.CUT, contour) for contour in cuts[k]),
            ),
            # It knows what the other files cut from the same scrap, so that no lead-in runs through it.
            other_outlines=tuple(contour for both in cuts[:k] + cuts[k + 1 :] for contour in both),
            thickness=thickness or 0.0,
        )
        blade = machine.blade.model_copy(update={"offset": offset})
        trailing = machine.model_copy(update={"blade": blade})
        plans.append(CutPlan(trailing, (sheet,), (), (), sheet.name))
    return tuple(plans)


def _cuts(x: float) -> tuple[Contour, Contour]:
    """Return a square, and above it a dart that points up, from a place along x, mm."""
    low = _EDGE + _LETTERS + 7.0
    foot = low + _SIDE + 9.0
    dart = Contour.from_points([(x, foot), (x + _DART, foot), (x + _DART / 2, foot + _SIDE)])
    return rectangle(x, low, x + _SIDE, low + _SIDE), dart
