"""Kerf compensation: the tool's paths of one part, half the kerf outside its outline, half inside its holes.

They are in the part's own frame, centre marks and scores among them; what the machine does not make is left
to the hand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from strapwright.core.errors import GeometryError, PlanError, Problems
from strapwright.core.findings import Finding, Severity
from strapwright.core.tolerances import OFFSET
from strapwright.geometry.offset import offset
from strapwright.geometry.shapes import line
from strapwright.machine.toolpath.lead_in import begun_at_the_rear, has_lead_in
from strapwright.machine.types import OUTLINE, CutPath
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from strapwright.core.arrays import Floats
    from strapwright.geometry.contour import Contour
    from strapwright.machine.kerf import Kerf
    from strapwright.machine.profile.machine import Machine
    from strapwright.parts.part import Part

_MARK: Final = 2.0
"""Length of each line of a centre mark, mm."""

_NAMED = 6
"""So many parts are named in one finding; the cut sheet has them all."""

_MARK_SHARE: Final = 0.8
"""A centre mark takes no more of the hole's diameter than this: the punch removes all of it."""

Side = Literal["outside", "inside"]
"""On which side of the finished line the tool runs: outside an outline, inside a hole."""


Memory = dict[tuple["Contour", float, Side, str], "Contour"]
"""Paths already found, by finished shape: the parts of a batch repeat theirs."""


_SHARPEST: Final = math.radians(150.0)
"""An inner corner that turns further than this closes to a slit the tool cannot enter."""


def compensate(
    finished: Contour,
    kerf: float,
    side: Side,
    *,
    name: str,
    corner: Literal["round", "miter"] = "round",
    memory: Memory | None = None,
) -> Contour:
    """Return the path of the tool's middle that leaves a finished shape.

    Args:
        finished: the line the cut's edge must follow; closed, mm.
        kerf: width of the cut, mm; 0 returns the finished shape itself.
        side: ``"outside"`` for an outline (the path encloses more), ``"inside"`` for a hole (less).
        name: the part and feature, for messages.
        corner: how the path goes round an outer corner.
        memory: paths found before, looked up and added to.

    Returns:
        Closed contour of the same orientation, half a kerf from the finished line, checked.

    Raises:
        PlanError: the kerf is too wide for the shape; the message names it.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> path = compensate(Contour.circle(0, 0, 5), 0.2, "inside", name="hole")
        >>> round(path.as_circle()[2], 9)
        4.8
    """
    if kerf == 0.0:
        return finished
    key = (finished, kerf, side, corner)
    if memory is not None and key in memory:
        return memory[key]
    half = kerf / 2
    try:
        path = offset(finished, half if side == "outside" else -half, name=name, corner=corner)
    except GeometryError as error:
        raise PlanError(
            f"{name}: a kerf of {kerf:g} mm is too wide for this shape ({error}); "
            "widen the shape, or use a machine with a narrower cut"
        ) from error
    _check_finish(finished, path, half, side, name, corner)
    if memory is not None:
        memory[key] = path
    return path


def _check_finish(finished: Contour, path: Contour, half: float, side: Side, name: str, corner: str) -> None:
    """Refuse a path that does not leave the finished shape, measured without the offset's help.

    A tool of radius ``half`` along the path may nowhere cut into the finished shape, and must reach
    all of its line; only inner corners stay round, as far as their angle makes unavoidable.
    """
    into = path.sample(4)
    from_finished = finished.distance_to(into)
    if float(np.min(from_finished)) < half - OFFSET:
        raise PlanError(_strayed(name, into[np.argmin(from_finished)], half, "cuts into the shape"))
    grew = abs(path.area) > abs(finished.area)
    if grew != (side == "outside"):
        raise PlanError(f"{name}: the path is on the wrong side of the shape; report this as a fault")
    wanted = finished.sample(8)
    missed = path.distance_to(wanted) - _reach(finished, wanted, half, side)
    if float(np.max(missed)) > OFFSET:
        x, y = wanted[np.argmax(missed)]
        raise PlanError(
            f"{name}: a cut {2 * half:g} mm wide closes a notch near x {x:.2f}, y {y:.2f} mm "
            f"and would leave {float(np.max(missed)):.2f} mm standing; widen the notch, or use a narrower cut"
        )
    furthest = half * (math.sqrt(2.0) if corner == "miter" else 1.0)
    if float(np.max(from_finished)) > furthest + OFFSET:
        raise PlanError(_strayed(name, into[np.argmax(from_finished)], half, "leaves the shape"))


def _strayed(name: str, point: Floats, half: float, what: str) -> str:
    return (
        f"{name}: the path for a cut {2 * half:g} mm wide {what} near "
        f"x {point[0]:.2f}, y {point[1]:.2f} mm; report this as a fault"
    )


def _reach(finished: Contour, points: Floats, half: float, side: Side) -> Floats:
    """Return how far the path may lie from each point of the finished line, (M,) mm.

    Half a kerf, but more beside a corner the round tool cannot fill: at a corner that turns by t
    towards the tool, half / cos(t / 2), up to half · tan(t / 2) before and after it.
    """
    allowed = np.full(len(points), half)
    chord, half_sweep = finished.ends - finished.starts, finished.sweeps / 2
    heading = np.arctan2(chord[:, 1], chord[:, 0])
    turned = heading - half_sweep - np.roll(heading + half_sweep, 1)
    turn = np.remainder(turned + math.pi, 2 * math.pi) - math.pi
    towards = turn if finished.is_counter_clockwise else -turn
    towards = towards if side == "inside" else -towards
    for index in np.flatnonzero(towards > 1e-9):
        bend = min(float(towards[index]), _SHARPEST)
        near = np.hypot(*(points - finished.starts[index]).T) <= half * math.tan(bend / 2) + OFFSET
        allowed[near] = np.maximum(allowed[near], half / math.cos(bend / 2))
    return allowed


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
