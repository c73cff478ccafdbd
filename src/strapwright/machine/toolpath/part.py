"""The tool paths of one part: outline, holes, centre marks and scores, in the part's own frame."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import PlanError, Problems
from strapwright.core.findings import Finding, Severity
from strapwright.core.tolerances import OFFSET
from strapwright.geometry.shapes import line
from strapwright.machine.toolpath.compensate import compensate
from strapwright.machine.toolpath.laser_lead_in import begun_at_the_rear, has_lead_in
from strapwright.machine.types import OUTLINE, CutPath
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from strapwright.geometry.contour import Contour
    from strapwright.machine.kerf import Kerf
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.toolpath.compensate import Memory, Side
    from strapwright.parts.part import Part

_MARK: Final = 2.0
"""Length of each line of a centre mark, mm."""

_NAMED = 6
"""So many parts are named in one finding; the cut sheet has them all."""

_MARK_SHARE: Final = 0.8
"""A centre mark takes no more of the hole's diameter than this: the punch removes all of it."""


@dataclass(frozen=True)
class LeftToHand:
    """A feature of a part that the machine does not make, or only marks.

    Args:
        part_id: the part it is in.
        name: of the feature.
        operation: it would be made by; a punch for a hole.
        diameter: of the finished hole, mm; None for what is no round hole.
        least: of the round holes the machine makes in this leather, mm, where the hole is smaller.
    """

    part_id: str
    name: str
    operation: Operation
    diameter: float | None = None
    least: float | None = None


def tool_paths(
    part: Part, machine: Machine, kerf: Kerf, memory: Memory | None = None
) -> tuple[tuple[CutPath, ...], tuple[LeftToHand, ...]]:
    """Return the paths that make a part, its outline last, and what is left to the hand.

    Outlines run half a kerf outside their line and cut holes half a kerf inside, round ones by the kerf
    measured on a hole where it was; punches and scores stay as drawn. A round hole the tool cannot make
    becomes a centre mark to punch. What the profile does not enable has no path.

    Args:
        part: in its own frame.
        machine: says the least hole, the layers and what it does.
        kerf: in this leather.
        memory: paths found before, of parts alike.

    Raises:
        PlanError: shapes the tool cannot cut, one line each.
    """
    paths: list[CutPath] = []
    left: list[LeftToHand] = []
    problems = Problems()
    # Round holes smaller than this are punched.
    least = max(machine.least_hole, kerf.holes + 4 * OFFSET)

    def add(name: str, operation: Operation, contour: Contour, diameter: float | None = None) -> None:
        paths.append(CutPath(part.id, name, operation, contour, diameter))

    def cut(name: str, contour: Contour, width: float, side: Side) -> None:
        where = f"{part.id}: {name}"
        with problems.gathered():
            _check_turns(contour, machine, where)
            tool = compensate(contour, width, side, name=where, corner=machine.corner, memory=memory)
            add(name, Operation.CUT, tool)

    for feature in part.features:
        name, operation = feature.name, feature.operation
        circle = feature.contour.as_circle() if feature.contour.closed else None
        too_small = operation is Operation.CUT and circle is not None and circle[2] < least - OFFSET
        operation = Operation.PUNCH if too_small else operation
        enabled = operation in machine.operations
        if too_small or not enabled:
            diameter = None if circle is None else round(circle[2], 3)
            left.append(LeftToHand(part.id, name, operation, diameter, least if too_small else None))
        if not enabled:
            continue
        if operation is Operation.CUT:
            cut(name, feature.contour, kerf.width if circle is None else kerf.holes, "inside")
        elif operation is Operation.PUNCH and circle is not None:
            x, y, diameter = circle
            arm = min(_MARK, _MARK_SHARE * diameter) / 2
            add(name, operation, line(x - arm, y, x + arm, y), diameter)
            add(name, operation, line(x, y + arm, x, y - arm), diameter)
        else:  # a hole that is not round keeps its outline, to lay the punch on
            add(name, operation, feature.contour)
    cut(OUTLINE, part.outline, kerf.width, "outside")
    problems.refuse()
    if has_lead_in(machine):
        contour = begun_at_the_rear(paths[-1].contour, kerf.width)
        paths[-1] = replace(paths[-1], contour=contour, fixed_start=True)
    return tuple(paths), tuple(left)


def hand_findings(left: Iterable[LeftToHand], machine: Machine) -> Iterator[Finding]:
    """Yield a caution for each kind of thing left to the hand, the parts it is in named and counted."""
    kinds: dict[LeftToHand, dict[str, int]] = {}
    for one in left:
        counts = kinds.setdefault(replace(one, part_id=""), {})
        counts[one.part_id] = counts.get(one.part_id, 0) + 1
    for kind, counts in kinds.items():
        yield _hand_finding(kind, counts, machine)


def _hand_finding(kind: LeftToHand, counts: dict[str, int], machine: Machine) -> Finding:
    operation, diameter = kind.operation, kind.diameter
    marked = operation in machine.operations
    size = "" if diameter is None else f" of {diameter:g} mm"
    tool = "" if diameter is None else f", {diameter:g} mm"
    what = f"{_counted(kind.name, counts)}{size}: "
    numbers = {"count": float(sum(counts.values()))}
    numbers |= {} if diameter is None else {"diameter_mm": diameter}
    if kind.least is not None:
        what += f"{machine.name!r} makes round holes from {round(kind.least, 2):g} mm in this leather"
        what += ", so only the centres are marked." if marked else " and marks none for the punch."
        numbers["least_mm"] = kind.least
    else:
        does = "score" if operation is Operation.SCORE else "mark holes for the punch"
        what += f"{machine.name!r} does not {does}, so nothing of it is in its files."
    if operation is Operation.SCORE:
        do = "Score or draw it by hand, from the paper pattern (`strapwright pattern`) or the card's table."
    elif marked:
        do = f"Punch them by hand{tool}."
    else:
        do = f"Mark them from the paper pattern (`strapwright pattern`) and punch them by hand{tool}."
    code = "hole-to-punch" if operation is Operation.PUNCH else "score-by-hand"
    return Finding(code, Severity.CAUTION, what, do, next(iter(counts)) if len(counts) == 1 else "", numbers)


def _counted(name: str, counts: dict[str, int]) -> str:
    """Return how many holes there are, and in which parts where there are several.

    Example:
        >>> _counted("adjusting hole", {"ines/strap": 7})
        '7 × adjusting hole'
    """
    total = f"{sum(counts.values())} × {name}"
    if len(counts) == 1:
        return total
    if len(counts) > _NAMED:
        return f"{total} in {len(counts)} parts"
    return f"{total} ({', '.join(f'{part} {n}' for part, n in counts.items())})"


def _check_turns(contour: Contour, machine: Machine, where: str) -> None:
    """Refuse a shape whose curves are tighter than the blade can follow at its full depth."""
    if machine.blade is None or not contour.is_arc.any():
        return
    tightest = float(np.min(contour.radii))
    if tightest < machine.blade.least_radius - OFFSET:
        raise PlanError(
            f"{where}: its tightest curve has a radius of {tightest:.2f} mm; the blade of "
            f"{machine.name!r} follows {machine.blade.least_radius:g} mm and more; give it a wider curve, "
            "or cut it by laser or by hand"
        )
