"""The test piece a machine's kerf and scale are measured on, cut on its lines with no compensation.

To measure with a calliper it has a comb of strips that are pushed together, a ladder of
slots one of the strips is tried in, and a scored cross for the scale of both axes; for a laser whose bed
has the room also a comb across y, for a beam may be oval, and small holes. What is measured is worked out in
`strapwright.machine.test_pieces.kerf_record`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PlanError
from strapwright.core.findings import Finding, Severity
from strapwright.geometry.characters import unwritable
from strapwright.geometry.contour import Contour
from strapwright.geometry.lettering import lettering, lettering_width
from strapwright.geometry.shapes import line, rectangle
from strapwright.machine.cut_plan import CutPlan
from strapwright.machine.planning import fume_findings, too_thick
from strapwright.machine.toolpath.runs import check_depths
from strapwright.machine.types import CutPath, CutSheet
from strapwright.parts.part import Operation
from strapwright.rules.safety import check_fumes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.machine.profile.machine import Machine
    from strapwright.rules.leather import Tannage

STRIPS: Final = 10
"""Strips of the comb, n."""

PITCH: Final = 10.0
"""From line to line of the comb, w, mm."""

CROSS: Final = 200.0
"""Length of each arm of the cross where the bed takes it, mm."""

LADDER: Final = tuple(round(PITCH - 0.1 * step, 1) for step in range(1, 13))
"""Drawn widths of the ladder's slots, mm: a step of 0.1 mm is 0.05 mm of kerf."""

_EDGE: Final = 10.0
"""Free leather kept between the test piece and the bed's edge, mm."""

_ARM: Final = 4.0
"""Where each arm of the cross runs, from the test piece's lower left corner, mm."""

_TICK: Final = 3.0
"""Half the length of the ticks at the ends of the cross's arms, mm."""

_LEFT: Final = 14.0
"""Where everything but the cross begins, from the test piece's left side, mm."""

_TALL: Final = 40.0
"""Length of the strips, mm: enough for a calliper's jaws."""

_SLOT: Final = 14.0
"""Length of the slots, mm: a strip goes in end first, thickness along it."""

_STEP: Final = 15.0
"""From slot to slot, mm."""

HOLES: Final = 3
"""Small holes beside each other."""

_HOLE: Final = 5.0
"""Diameter a small hole is drawn, mm; or the least the machine makes, where that is more."""

_LETTERS: Final = 3.5
"""Height of the lettering, mm."""

_ROW: Final = 26.0
"""From one row of slots to the next, labels included, mm."""

_ID: Final = "test piece"


@dataclass(frozen=True)
class Cross:
    """The cross as it is drawn.

    Args:
        x: length of the arm along x, mm.
        y: length of the arm along y, mm.
    """

    x: float
    y: float


def cross_of(machine: Machine) -> Cross:
    """Return the cross a machine's test piece has: 200 mm each way, or what the bed takes.

    Example:
        >>> from strapwright.machine.profile.machine import read_machine
        >>> cross_of(read_machine("wide-laser"))
        Cross(x=200.0, y=200.0)
    """
    x, y = (min(CROSS, float(int(reach - 2 * _EDGE))) for reach in machine.bed)
    return Cross(x, y)


def hole_drawn(machine: Machine) -> float | None:
    """Return the diameter the small holes are drawn, mm; None where there are none.

    Example:
        >>> from strapwright.machine.profile.machine import read_machine
        >>> hole_drawn(read_machine("wide-laser")), hole_drawn(read_machine("drag-knife"))
        (5.0, None)
    """
    diameter = max(_HOLE, machine.least_hole)
    end = _EDGE + _LEFT + HOLES * 2 * diameter + _EDGE
    high = _top(cross_of(machine)) + diameter + 8.0 + _EDGE
    return diameter if machine.kind == "laser" and end <= machine.bed[0] and high <= machine.bed[1] else None


def comb_across_y(machine: Machine) -> tuple[float, float] | None:
    """Return the lower left corner of the comb measured across y, mm; None where there is none."""
    cross = cross_of(machine)
    whole, beside = STRIPS * PITCH, _EDGE + cross.x + 8.0
    if machine.kind != "laser":
        return None
    if beside + _TALL + _EDGE <= machine.bed[0] and _EDGE + 16.0 + whole + 8.0 + _EDGE <= machine.bed[1]:
        return beside, _EDGE + 16.0
    hole = hole_drawn(machine)
    above = _top(cross) + (0.0 if hole is None else hole + 8.0)
    return (_EDGE + _LEFT, above) if above + whole + 8.0 + _EDGE <= machine.bed[1] else None


def coupon(
    machine: Machine, tannage: Tannage, thickness: float | None = None, *, accept_fume_risk: bool = False
) -> CutPlan:
    """Return the plan of a test piece, cut on its lines: half the kerf is given away on either side.

    Args:
        machine: the machine to be measured.
        tannage: of the leather it is cut from.
        thickness: of that leather, mm; None leaves it off the label.
        accept_fume_risk: True where leather of doubtful tannage may be burnt here: your decision.

    Returns:
        A plan of one sheet that holds no kerfs: nothing is allowed for.

    Raises:
        SafetyError: the fumes could hurt someone.
        PlanError: the leather is too thick, or the bed too small for the comb.
    """
    check_fumes([tannage], machine.kind, accept_fume_risk)
    if thickness is not None:
        if said := too_thick(thickness, machine):
            raise PlanError(f"the test piece is {said}")
        check_depths("the test piece", thickness, thickness, machine)
    cross = cross_of(machine)
    _check_bed(machine, cross)
    what = f"{tannage} {thickness:.4g} mm" if thickness is not None else str(tannage)
    scored = Operation.SCORE in machine.operations
    cuts = _cuts(machine, cross)
    scores = [*_cross(cross), *_labels(machine, cross, what)] if scored else []
    paths = tuple(
        CutPath(_ID, name, operation, contour)
        for operation, some in ((Operation.SCORE, scores), (Operation.CUT, cuts))
        for name, contour in some
    )
    sheet = CutSheet(_ID, f"scrap of {what}", *machine.bed, paths, thickness=thickness or 0.0)
    findings = (*fume_findings([tannage], machine), *_findings(machine, cross))
    return CutPlan(machine, (sheet,), (), findings, f"kerf test piece, {what}")


def _cuts(machine: Machine, cross: Cross) -> list[tuple[str, Contour]]:
    """Return what is cut through: the small holes, the ladder's slots and the combs."""
    cuts: list[tuple[str, Contour]] = []
    if (hole := hole_drawn(machine)) is not None:
        x, y = _EDGE + _LEFT + hole / 2, _top(cross) + hole / 2
        cuts += [(f"hole {k + 1}", Contour.circle(x + 2 * hole * k, y, hole)) for k in range(HOLES)]
    cuts += [
        (f"ladder slot {width:g} mm", rectangle(x, y, x + width, y + _SLOT)) for width, x, y in _slots(cross)
    ]
    cuts += [(f"comb {name}", line(*ends)) for name, ends in _comb(_EDGE + _LEFT, _EDGE + 16.0)]
    if (corner := comb_across_y(machine)) is not None:
        cuts += [
            (f"comb across y, {name}", line(y0, x0, y1, x1))
            for name, (x0, y0, x1, y1) in _comb(*reversed(corner))
        ]
    return cuts


def _comb(left: float, low: float) -> Iterator[tuple[str, tuple[float, float, float, float]]]:
    """Yield a comb's cuts from point to point: one more than strips, then the two that free the ends."""
    right, high = left + STRIPS * PITCH, low + _TALL
    for k in range(STRIPS + 1):
        x = left + PITCH * k
        yield f"line {k}", (x, low, x, high)
    yield "end", (left, low, right, low)
    yield "end", (right, high, left, high)


def _slots(cross: Cross) -> list[tuple[float, float, float]]:
    """Return each slot's drawn width and its lower left corner, mm: as many to a row as there is room for."""
    room = max(1, int((cross.x - _LEFT + _STEP - PITCH) // _STEP))
    return [
        (width, _EDGE + _LEFT + _STEP * (k % room), _EDGE + 74.0 + _ROW * (k // room))
        for k, width in enumerate(LADDER)
    ]


def _ladder_top(cross: Cross) -> float:
    """Return the upper end of the ladder's last row of slots, mm."""
    return _slots(cross)[-1][2] + _SLOT


def _top(cross: Cross) -> float:
    """Return where the room above ladder and names begins, mm."""
    return _ladder_top(cross) + 10.0 + 6.0 + 2 * _LETTERS + 3.0


def _cross(cross: Cross) -> list[tuple[str, Contour]]:
    """Return the scored cross: two arms with a tick at each end, measured from tick to tick."""
    low, arm = _EDGE, _EDGE + _ARM
    right, top = low + cross.x, low + cross.y
    return [
        ("cross arm x", line(low, arm, right, arm)),
        ("cross arm y", line(arm, low, arm, top)),
        *(("cross tick x", line(x, arm - _TICK, x, arm + _TICK)) for x in (low, right)),
        *(("cross tick y", line(arm - _TICK, y, arm + _TICK, y)) for y in (low, top)),
    ]


def _labels(machine: Machine, cross: Cross, what: str) -> list[tuple[str, Contour]]:
    """Return the lettering: what each thing is, how long it is drawn, whose and of what the piece is."""
    left, top = _EDGE + _LEFT, _ladder_top(cross)
    texts = [
        (f"x {cross.x:g} mm", left, _EDGE + 6.5, 0.0),
        (f"comb {STRIPS} x {PITCH:g} mm", left, _EDGE + 59.0, 0.0),
        *((f"{width:.1f}", x, y - 5.5, 0.0) for width, x, y in _slots(cross)),
        ("a strip just fits", left, top + 3.0, 0.0),
        (what, left, top + 10.0, 0.0),
        (machine.name, left, top + 16.0, 0.0),
        # The upright arm's label is turned and stands left to right of it, to be read from the right.
        (f"y {cross.y:g} mm", _EDGE + 11.0, _EDGE + 20.0, math.pi / 2),
    ]
    if (hole := hole_drawn(machine)) is not None:
        texts.append((f"holes {hole:g} mm", left, _top(cross) + hole + 2.0, 0.0))
    if (corner := comb_across_y(machine)) is not None:
        texts.append(("comb across y", corner[0], corner[1] + STRIPS * PITCH + 2.0, 0.0))
    return [
        ("label", stroke)
        for text, x, y, turn in texts
        if not unwritable(text) and lettering_width(text, _LETTERS) <= cross.x - _LEFT
        for stroke in lettering(text, _LETTERS, x, y, turn)
    ]


def _check_bed(machine: Machine, cross: Cross) -> None:
    """Refuse a bed the comb and the ladder do not fit on."""
    width = 2 * _EDGE + _LEFT + STRIPS * PITCH
    height = _ladder_top(cross) + 10.0 + 6.0 + 2 * _LETTERS + _EDGE
    if machine.bed[0] < width or machine.bed[1] < height:
        raise PlanError(
            f"the test piece needs {width:g} × {height:g} mm of bed; {machine.name!r} has "
            f"{machine.bed[0]:g} × {machine.bed[1]:g} mm; measure the gap of a single cut by hand "
            "and give it with --kerf"
        )


def _findings(machine: Machine, cross: Cross) -> Iterator[Finding]:
    """Yield what the piece lacks on this machine, and what there is no room for on its bed."""
    if Operation.SCORE not in machine.operations:
        yield Finding(
            "test-piece-unscored",
            Severity.CAUTION,
            f"{machine.name!r} does not score: the test piece has no lettering and no cross, so the scale of "
            "the axes is not measured.",
            "Write the widths beside the slots yourself: the sheet says which is which.",
        )
    elif cross != Cross(CROSS, CROSS):
        yield Finding(
            "cross-shortened",
            Severity.NOTE,
            f"The bed of {machine.name!r} is too small for a cross of {CROSS:g} mm: it is drawn "
            f"{cross.x:g} mm along x and {cross.y:g} mm along y, which `kerf record` allows for.",
            "Nothing to do; a shorter cross shows the scale a little less exactly.",
            numbers={"cross_x_mm": cross.x, "cross_y_mm": cross.y},
        )
    if machine.kind == "laser":
        out = ["the comb across y"] if comb_across_y(machine) is None else []
        out += ["the small holes"] if hole_drawn(machine) is None else []
        if out:
            yield Finding(
                "piece-left-out",
                Severity.NOTE,
                f"The bed of {machine.name!r} has no room for {' and '.join(out)}.",
                "Nothing to do; one kerf is then taken for both directions and for round holes.",
            )
