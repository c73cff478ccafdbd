"""Checks of what lies on a bed and what does not, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from strapwright.core.findings import Finding, Severity
from strapwright.core.tolerances import CLEARANCE
from strapwright.core.units import beyond
from strapwright.geometry.batch import Many

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.types import CutPath
    from strapwright.parts.part import Part


_SIDES: Final = (("left", "right"), ("front", "back"))
"""The bed's sides along x and along y, whatever its origin: numbers would be another machine's."""


def longer_than_bed(part: Part, machine: Machine) -> Iterator[str]:
    """Yield what to say of a part that fits the bed at no angle: it is longer than the diagonal.

    Where a hide can be drawn through, only the part's width counts: its length is cut in windows.
    """
    x0, y0, x1, y1 = part.outline.bounding_box
    across, longest = sorted((x1 - x0, y1 - y0))
    width, height = machine.bed
    window = height - 2 * machine.window_margin
    if machine.pass_through and across > window:
        yield (
            f"{part.id} is {across:.1f} mm wide; windows of {machine.name!r} are {window:g} mm wide; use a "
            "machine with a larger bed"
        )
    if not machine.pass_through and longest > math.hypot(width, height):
        yield (
            f"{part.id} is {longest:.1f} mm long; the bed of {machine.name!r} is {width:g} × {height:g} mm; "
            "use a machine with a larger bed"
        )


def off_bed(paths: Sequence[CutPath], machine: Machine) -> Iterator[str]:
    """Yield what to say of a part whose paths leave the bed."""
    boxes = Many.of([path.contour for path in paths]).boxes
    low, high = boxes[:, :2].min(axis=0).tolist(), boxes[:, 2:].max(axis=0).tolist()
    for name, first, last, bed, (near, far) in zip("xy", low, high, machine.bed, _SIDES, strict=True):
        if last - first > bed + CLEARANCE:
            yield (
                f"{paths[0].part_id} needs {last - first:.1f} mm along {name}; the bed of "
                f"{machine.name!r} is {bed:g} mm along {name}; use a machine with a larger bed"
            )
        elif first < -CLEARANCE or last > bed + CLEARANCE:
            past, side = (-first, near) if first < -CLEARANCE else (last - bed, far)
            yield (
                f"{paths[0].part_id} would leave the bed of {machine.name!r} by {beyond(past, 0.0, 1)} mm at "
                f"the {side}; the bed is {bed:g} mm along {name}; move the hide or use a larger bed"
            )


def hide_past_bed(name: str, corner: Sequence[float], machine: Machine) -> Iterator[Finding]:
    """Yield a note where a hide sticks out past a bed its parts fit on."""
    past = [
        f"{reach - bed:.0f} mm at the {side[1]}"
        for reach, bed, side in zip(corner, machine.bed, _SIDES, strict=True)
        if reach > bed + CLEARANCE
    ]
    if past:
        yield Finding(
            "hide-past-bed",
            Severity.NOTE,
            f"Hide {name} sticks out past the bed of {machine.name!r}, {machine.bed[0]:g} × "
            f"{machine.bed[1]:g} mm, by {' and '.join(past)}; its parts do not.",
            "Make sure the hide can hang over there without lifting.",
            name,
        )


def hide_beside_bed(name: str, low: float, high: float, machine: Machine) -> Iterator[Finding]:
    """Yield a caution where a hide to be drawn through is wider than the bed.

    Args:
        name: the hide's.
        low: where it begins along y on the bed, mm.
        high: where it ends, mm.
        machine: the machine.
    """
    sides = ((-low, "front"), (high - machine.bed[1], "back"))
    past = [f"{far:.0f} mm at the {side}" for far, side in sides if far > CLEARANCE]
    if past:
        yield Finding(
            "hide-past-bed",
            Severity.CAUTION,
            f"It is to be moved through {machine.name!r} and sticks out past its bed, {machine.bed[1]:g} mm "
            f"deep, by {' and '.join(past)}.",
            "Trim it to a strip first, unless the machine is open at that side too.",
            name,
        )
