"""Kerf compensation: the tool's path half the kerf outside outlines, half the kerf inside holes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from strapwright.core.errors import GeometryError, PlanError
from strapwright.core.tolerances import OFFSET
from strapwright.geometry.offset import offset

if TYPE_CHECKING:
    from strapwright.core.arrays import Floats
    from strapwright.geometry.contour import Contour

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
