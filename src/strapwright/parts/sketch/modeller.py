"""The solid modeller: loading it, and its edges as contours: lines and arcs exactly, all else refused."""

from __future__ import annotations

import importlib
import math
import warnings
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.core.errors import PartError
from strapwright.geometry.contour import Contour

if TYPE_CHECKING:
    from collections.abc import Iterable


def load_modeller(what: str) -> Any:
    """Load CadQuery; it takes some seconds the first time.

    Args:
        what: what needs it, for the message.

    Raises:
        PartError: it is not installed, or a library of the system is missing.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # its own and its libraries' deprecations are not the user's
            return importlib.import_module("cadquery")
    except ModuleNotFoundError as error:
        raise PartError(
            f'{what} needs CadQuery, which is not here ({error.name}): pip install "strapwright[solid]"'
        ) from error
    except ImportError as error:
        reason = " ".join(str(error).split())
        raise PartError(f"CadQuery cannot be loaded: {reason} (on Debian: apt install libgl1)") from error


Point = tuple[float, float]

Run = list[tuple[float, float, float]]

CLOSE: Final = 1e-6
"""Two ends of drawn edges nearer than this meet, mm: ten times the modeller's own tolerance."""

MOST_EDGES: Final = 5000
"""Edges in one drawing: more is not a drawing of lines and arcs but a traced picture."""

_ARC_MOST: Final = 0.9 * math.pi
"""Longer arcs are halved: near a full turn a chord says little."""


def contours_of(cadquery: Any, result: object) -> tuple[list[Contour], int]:
    """Return what a drawing of the modeller's holds.

    Args:
        cadquery: the modeller, loaded.
        result: a Workplane, Sketch, Wire, Face or Edge, or a compound of them.

    Returns:
        Its wires as contours, open ones too, and how many faces it came as (0 for loose wires).

    Raises:
        PartError: something else, another plane, or an edge that is neither line nor circular arc. The
            message goes on after the function's name.
    """
    wires: list[list[Any]] = []
    loose: list[Any] = []
    faces = _gather(cadquery, result, wires, loose)
    if loose:
        wires.append(loose)
    count = sum(len(wire) for wire in wires)
    if not count:
        raise PartError("draws nothing; expected a closed line, or edges")
    if count > MOST_EDGES:
        raise PartError(f"draws {count} edges; allowed are {MOST_EDGES}: draw it with lines and tangent arcs")
    return [contour for wire in wires for contour in _chained([_run(edge) for edge in wire])], faces


def _gather(cadquery: Any, item: Any, wires: list[list[Any]], loose: list[Any]) -> int:
    """Sort what a drawing holds into wires and loose edges; return how many faces there were."""
    if isinstance(item, cadquery.Workplane):
        pending = [*item.ctx.pendingWires, *item.ctx.pendingEdges]
        found = pending or [one for one in item.vals() if not isinstance(one, cadquery.Vector)]
        return sum(_gather(cadquery, one, wires, loose) for one in found)
    if isinstance(item, cadquery.Sketch):
        return sum(_gather(cadquery, one, wires, loose) for one in item)
    if isinstance(item, cadquery.Face):
        wires.extend(list(wire) for wire in (item.outerWire(), *item.innerWires()))
        return 1
    if isinstance(item, cadquery.Wire):
        wires.append(list(item))
        return 0
    if isinstance(item, cadquery.Edge):
        loose.append(item)
        return 0
    if type(item) is cadquery.Compound:
        return sum(_gather(cadquery, one, wires, loose) for one in item)
    what = type(item).__name__
    hint = ": leave out the extrude" if what in ("Solid", "Shell") else ""
    raise PartError(f"returns a {what}; expected a flat cadquery Workplane, Sketch or Wire{hint}")


def _run(edge: Any) -> Run:
    """Return an edge as ``(x, y, bulge)``, the last bulge 0."""
    kind = edge.geomType()
    start, end, middle = edge.startPoint(), edge.endPoint(), edge.positionAt(0.5)
    if kind not in ("LINE", "CIRCLE"):
        raise PartError(
            f"draws a curve ({kind.lower()}) near ({middle.x:.1f}, {middle.y:.1f}) mm; expected lines and "
            "circular arcs: draw it with threePointArc or tangentArcPoint"
        )
    if max(abs(point.z) for point in (start, end, middle)) > CLOSE:
        raise PartError("draws in another plane; expected the XY plane at z = 0")
    if kind == "LINE":
        return [(start.x, start.y, 0.0), (end.x, end.y, 0.0)]
    centre = edge.arcCenter()
    return _arc((start.x, start.y), (middle.x, middle.y), (end.x, end.y), (centre.x, centre.y))


def _arc(start: Point, middle: Point, end: Point, centre: Point) -> Run:
    """Return the arc from start by middle to end round a centre, halved where it is long.

    The modeller finds the middle numerically; it only decides the side, start, end and centre all else.
    """
    x, y = start[0] - centre[0], start[1] - centre[1]
    if math.dist(start, end) < CLOSE:
        sweep = 2 * math.pi
    else:
        first, by, last = (
            math.atan2(point[1] - centre[1], point[0] - centre[0]) for point in (start, middle, end)
        )
        sweep = (last - first) % (2 * math.pi)
        if (by - first) % (2 * math.pi) > sweep:
            sweep -= 2 * math.pi
    pieces = max(1, math.ceil(abs(sweep) / _ARC_MOST))
    if math.isclose(abs(sweep), 2 * math.pi):
        pieces = 2
    bulge = math.tan(sweep / pieces / 4)
    found = []
    for k in range(pieces):
        c, s = math.cos(k * sweep / pieces), math.sin(k * sweep / pieces)
        found.append((centre[0] + c * x - s * y, centre[1] + s * x + c * y, bulge))
    found[0] = (*start, bulge)
    return [*found, (*end, 0.0)]


def _chained(runs: Iterable[Run]) -> list[Contour]:
    """Join runs end to end, whichever way each was drawn, into closed and open contours."""
    left = list(runs)
    found = []
    while left:
        chain = left.pop(0)
        while not _meet(chain[0], chain[-1]):
            for place, run in enumerate(left):
                if _meet(chain[-1], run[0]):
                    chain = _joined(chain, run)
                elif _meet(chain[-1], run[-1]):
                    chain = _joined(chain, _turned(run))
                elif _meet(chain[0], run[-1]):
                    chain = _joined(run, chain)
                elif _meet(chain[0], run[0]):
                    chain = _joined(_turned(run), chain)
                else:
                    continue
                left.pop(place)
                break
            else:
                break
        closed = _meet(chain[0], chain[-1])
        found.append(Contour(np.array(chain[:-1] if closed else chain), closed))
    return found


def _meet(one: tuple[float, float, float], two: tuple[float, float, float]) -> bool:
    return math.dist(one[:2], two[:2]) < CLOSE


def _joined(one: Run, two: Run) -> Run:
    return [*one[:-1], *two]


def _turned(run: Run) -> Run:
    """Return a run drawn the other way."""
    bulges = [-bulge for _, _, bulge in reversed(run[:-1])]
    return [(x, y, bulge) for (x, y, _), bulge in zip(reversed(run), [*bulges, 0.0], strict=True)]
