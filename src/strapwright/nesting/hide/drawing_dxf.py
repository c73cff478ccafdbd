"""Closed shapes of a DXF drawing, for a hide: curves flattened to a stated chord, ends joined."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.core.errors import FileProblems
from strapwright.core.units import MM_PER_FOOT, MM_PER_INCH, beyond
from strapwright.files.read import digest_of, refused
from strapwright.geometry.polygon import to_polygon
from strapwright.geometry.shapes import chain
from strapwright.nesting.hide.drawn_shapes import (
    CURVE_CHORD,
    JOIN,
    LEFT_OUT,
    NAMES,
    Drawn,
    Gathered,
    check_size,
    metres_beyond,
    plain_name,
)
from strapwright.nesting.hide.outline_check import LARGEST_EXTENT, SAME, place, without_repeats

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from strapwright.core.arrays import Floats, Ints


LIMIT_MB: Final = 20.0
"""Largest drawing read, MB: an outline by hand or camera takes well under one."""

_MM: Final = {1: MM_PER_INCH, 2: MM_PER_FOOT, 4: 1.0, 5: 10.0, 6: 1000.0}
"""Millimetres in a drawing unit by $INSUNITS: inches, feet, millimetres, centimetres, metres.

DXF Reference, group codes of the HEADER section, $INSUNITS (from memory).
"""

_NO_SHAPE: Final = {
    "TEXT", "MTEXT", "DIMENSION", "POINT", "LEADER", "MULTILEADER", "ATTDEF", "VIEWPORT", "TOLERANCE",
}  # fmt: skip
"""What bounds nothing: named on a layer of another name, refused on one that says what a shape is."""

_READ: Final = {"LWPOLYLINE", "POLYLINE", "CIRCLE", "ARC", "LINE", "SPLINE", "ELLIPSE"}

_FRAME_POINT: Final = 16
"""Flag of a POLYLINE's vertex that only controls its curve (DXF Reference, VERTEX, group 70; from memory)."""


@dataclass(frozen=True, eq=False)
class _Entity:
    """One entity as corners.

    Args:
        points: (N, 2) mm, the first not repeated where it is closed.
        closed: whether the last is joined to the first.
        curved: whether chords stand for curves among them.
    """

    points: Floats
    closed: bool
    curved: bool


def shapes_in_dxf(path: Path) -> Gathered:
    """Return the closed shapes in a DXF drawing's model space.

    Raises:
        FileProblems: not a whole DXF file, or no units.
    """
    document = _document(path)
    units = int(document.header.get("$INSUNITS", 0))
    if units not in _MM:
        found = "no units ($INSUNITS 0)" if units == 0 else f"$INSUNITS {units}"
        raise refused(
            path,
            f"found {found}, expected millimetres, centimetres, metres, inches or feet; "
            "set the drawing's units and save it again, as R2000 or newer (R12 cannot say them)",
        )
    gathered = Gathered(str(path))
    runs: dict[str, list[_Entity]] = {}
    for entity in document.modelspace():
        layer = str(entity.dxf.layer) if entity.dxf.is_supported("layer") else "0"
        if plain_name(layer) not in (LEFT_OUT, "defpoints") and _wanted(entity, layer, document, gathered):
            kind = entity.dxftype()
            try:
                runs.setdefault(layer, []).append(_entity(entity, _MM[units], gathered))
            except FileProblems:
                raise
            except Exception as error:  # noqa: BLE001 -- the reader's errors share no root with ours
                text = str(error) or type(error).__name__
                gathered.problem(f'layer "{layer}"', f"a {kind} cannot be read: {text}; redraw it")
    for layer, drawn in runs.items():
        closed, faults, open_ends = _joined(drawn)
        gathered.shapes += [Drawn(layer, run.points, run.curved) for run in closed]
        if plain_name(layer) in NAMES:
            faults += open_ends
        else:
            gathered.no_shapes += [f'an open line on layer "{layer}"' for _ in open_ends]
        for text in faults:
            gathered.problem(f'layer "{layer}"', text)
    return gathered


def _wanted(entity: Any, layer: str, document: Any, gathered: Gathered) -> bool:
    """Return whether an entity is to be read as a shape; what is not is noted, or is a mistake."""
    kind = entity.dxftype()
    if why := _hidden(entity, layer, document):
        gathered.not_shown.append(f'a {kind} on layer "{layer}" ({why})')
        return False
    if kind in _READ:
        return True
    if kind not in _NO_SHAPE:
        do = f'redraw or explode it, or move it to layer "{LEFT_OUT}"'
        expected = "polylines, lines, arcs, circles, ellipses or splines"
        gathered.problem(f'layer "{layer}"', f"found {kind}, expected {expected}; {do}")
    elif plain_name(layer) in NAMES:
        do = f'draw a line round the flaw, or move it to layer "{LEFT_OUT}"'
        gathered.problem(f'layer "{layer}"', f"found {kind}, expected closed shapes; {do}")
    else:
        gathered.no_shapes.append(f'a {kind} on layer "{layer}"')
    return False


def _hidden(entity: Any, layer: str, document: Any) -> str:
    """Return why a drawing program does not show an entity, in words; empty where it does."""
    if entity.dxf.is_supported("invisible") and entity.dxf.get("invisible", 0):
        return "invisible"
    if layer not in document.layers:
        return ""
    of = document.layers.get(layer)
    return "layer off" if of.is_off() else "layer frozen" if of.is_frozen() else ""


def _document(path: Path) -> Any:
    digest_of(path)  # says in one line what keeps the file from being read at all
    if path.stat().st_size > LIMIT_MB * 1e6:
        size = path.stat().st_size / 1e6
        raise refused(path, f"found {beyond(size, LIMIT_MB, 1)} MB, expected at most {LIMIT_MB:g} MB")
    data = path.read_bytes()
    binary = data.startswith(b"AutoCAD Binary DXF")
    if not binary and b"SECTION" not in data[:20_000]:
        raise refused(path, "not a DXF drawing: it has no sections")
    if not binary and not data.rstrip().endswith(b"EOF"):
        raise refused(path, "the drawing ends in the middle (no EOF at its end); save or copy it again")
    from ezdxf.filemanagement import readfile

    try:
        return readfile(path)
    except Exception as error:  # on a broken file the reader raises whatever it trips over
        text = (str(error).splitlines() or [""])[0].rstrip(".") or type(error).__name__
        raise refused(path, f"not a sound DXF drawing ({text}); save or copy it again") from error


def _entity(entity: Any, scale: float, gathered: Gathered) -> _Entity:
    """Return one entity as corners in mm; what is too large is refused before it is flattened."""
    kind = entity.dxftype()
    if kind in ("SPLINE", "ELLIPSE"):
        return _curve(entity, scale, gathered)
    if kind == "LINE":  # in the drawing's own frame whatever its extrusion
        ends = np.array([(*entity.dxf.start,), (*entity.dxf.end,)]) * scale
        _check_flat(ends)
        return _Entity(ends[:, :2], closed=False, curved=False)
    ex, ey, ez = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    if abs(ex) > 1e-6 or abs(ey) > 1e-6:
        raise ValueError("it is tilted out of the drawing's plane")
    mirror = math.copysign(1.0, ez)  # seen from below its x runs left
    if kind in ("LWPOLYLINE", "POLYLINE"):
        return _polyline(entity, scale, mirror, gathered)
    centre = entity.dxf.center
    x, y, r = mirror * centre.x * scale, centre.y * scale, entity.dxf.radius * scale
    if not r > 0:
        raise ValueError(f"its radius is {r:g} mm")
    check_size(np.array([(x - r, y - r), (x + r, y + r)]))
    first, sweep = 0.0, 2 * math.pi
    if kind == "ARC":
        first = math.radians(entity.dxf.start_angle)
        sweep = math.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360.0)
        if not sweep > 0:
            raise ValueError("its sweep is 0")
    bend = math.acos(max(1 - CURVE_CHORD / r, 0.0))
    count = max(8, math.ceil(sweep / (2 * bend)))
    gathered.room_for(count)
    angles = first + sweep / count * np.arange(count + (kind == "ARC"))
    points = np.column_stack([x + mirror * r * np.cos(angles), y + r * np.sin(angles)])
    return _Entity(points, closed=kind == "CIRCLE", curved=True)


def _curve(entity: Any, scale: float, gathered: Gathered) -> _Entity:
    """Return a spline or an ellipse as corners."""
    if entity.dxftype() == "ELLIPSE":
        centre, axis = entity.dxf.center, entity.dxf.major_axis
        reach = math.hypot(axis.x, axis.y, axis.z) * max(1.0, abs(entity.dxf.ratio))
        bounds = [(centre.x - reach, centre.y - reach), (centre.x + reach, centre.y + reach)]
    else:
        bounds = [(p[0], p[1]) for p in (*entity.control_points, *entity.fit_points)]
        if not all(0 < weight < math.inf for weight in entity.weights):
            raise ValueError("it has a weight that is not more than 0")
    check_size(np.array(bounds) * scale)
    points = np.array([(*p,) for p in entity.flattening(CURVE_CHORD / scale)]) * scale
    _check_flat(points)
    gathered.room_for(len(points))
    closed = bool(math.dist(points[0], points[-1]) < JOIN)
    return _Entity(points[: len(points) - closed, :2], closed, curved=True)


def _check_flat(points: Floats) -> None:
    """Refuse what leaves the drawing's plane: seen from above it would be shorter than it is."""
    check_size(points[:, :2])
    if not np.ptp(points[:, 2]) < JOIN:
        raise ValueError("it is tilted out of the drawing's plane")


def _polyline(entity: Any, scale: float, mirror: float, gathered: Gathered) -> _Entity:
    if entity.dxftype() == "LWPOLYLINE":
        points = np.array(entity.get_points("xyb"), dtype=np.float64).reshape(-1, 3)
        closed = bool(entity.closed)
    else:
        if not entity.is_2d_polyline and not entity.is_3d_polyline:
            raise ValueError("it is a mesh")
        corners = [v.dxf for v in entity.vertices if not v.dxf.get("flags", 0) & _FRAME_POINT]
        points = np.array([(c.location.x, c.location.y, c.get("bulge", 0.0)) for c in corners])
        _check_flat(np.array([(*c.location,) for c in corners]).reshape(-1, 3) * scale)
        closed = bool(entity.is_closed)
    if len(points) < 2:
        raise ValueError(f"it has {len(points)} points")
    points = points * [mirror * scale, scale, mirror]
    check_size(points[:, :2])
    if not closed and len(points) > 2 and math.dist(points[0, :2], points[-1, :2]) < JOIN:
        closed = True
        points = points[:-1]
    contour = chain(((x, y, bulge) for x, y, bulge in points.tolist()), closed=closed)
    curved = contour.is_arc
    with np.errstate(over="ignore"):
        far_round = 2 * float(np.max(contour.radii[np.abs(contour.bulges) > 1], initial=0.0))
    if far_round > LARGEST_EXTENT:
        raise ValueError(
            f"it has an arc {metres_beyond(far_round, LARGEST_EXTENT)} m across, expected at most "
            f"{LARGEST_EXTENT / 1000:g} m; is its bulge right? (are the units right?)"
        )
    arcs = np.abs(contour.sweeps[curved]) * np.sqrt(contour.radii[curved] / (8 * CURVE_CHORD))
    gathered.room_for(len(contour) + int(arcs.sum()))
    return _Entity(to_polygon(contour, CURVE_CHORD), closed, bool(curved.any()))


def _joined(runs: Sequence[_Entity]) -> tuple[list[_Entity], list[str], list[str]]:
    """Join open runs end to end into closed ones.

    Ends at the same point are joined; then each loose end with the loose end nearest to it, nearer than
    `JOIN`. Where more than two ends meet at a point it is not guessed which belong together.

    Args:
        runs: of one layer, closed and open.

    Returns:
        The closed ones; a sentence for every place where they cannot be joined; one for each that stays open.
    """
    closed = [run for run in runs if run.closed]
    left = [run for run in runs if not run.closed]
    if not left:
        return closed, [], []
    ends = np.array([point for run in left for point in (run.points[0], run.points[-1])])
    mate, faults = _mates(ends)
    if faults:
        return closed, faults, []
    open_ends: list[str] = []
    seen = np.zeros(len(left), dtype=bool)
    for first in [*(np.flatnonzero(mate < 0)).tolist(), *range(0, len(ends), 2)]:
        if seen[first // 2]:
            continue
        chain_of, end = [], first  # ends by which runs are entered, from a loose end or anywhere on a ring
        while end >= 0 and not seen[end // 2]:
            seen[end // 2] = True
            chain_of.append(end)
            end = int(mate[end ^ 1])
        pieces = [left[one // 2].points[:: -1 if one % 2 else 1] for one in chain_of]
        curved = any(left[one // 2].curved for one in chain_of)
        points = np.vstack([pieces[0][:1], *(piece[1:] for piece in pieces)])
        if end < 0:
            (x0, y0), (x1, y1) = points[0], points[-1]
            open_ends.append(
                f"an open line from ({x0:.1f}, {y0:.1f}) to ({x1:.1f}, {y1:.1f}) mm, expected closed "
                f"shapes; join its ends (gaps under {JOIN:g} mm are joined for you)"
            )
            continue
        points = without_repeats(points[:-1])
        if len(points) < 3:
            faults.append(f"lines that close to nothing at {place(ends[first])}; is a line drawn twice?")
        else:
            closed.append(_Entity(points, closed=True, curved=curved))
    return closed, faults, open_ends


def _mates(ends: Floats) -> tuple[Ints, list[str]]:
    """Return for each end the one it is joined with, -1 where it is loose; and where too many meet."""
    import shapely

    mate = np.full(len(ends), -1)
    points = shapely.points(ends)
    _, spot, count = np.unique(np.round(ends / SAME), axis=0, return_inverse=True, return_counts=True)
    crowded = np.flatnonzero(count > 2)
    if len(crowded):
        firsts = ", ".join(place(ends[np.flatnonzero(spot == one)[0]]) for one in crowded[:_TOLD])
        more = f" and {len(crowded) - _TOLD} places more" if len(crowded) > _TOLD else ""
        fault = (
            f"more than two ends of lines meet at {firsts}{more}; draw each shape as a closed polyline, or "
            "take out what is drawn twice"
        )
        return mate, [fault]
    order = np.argsort(spot, kind="stable")
    pairs = order[np.flatnonzero(np.diff(spot[order]) == 0)[:, None] + [0, 1]]
    mate[pairs[:, 0]], mate[pairs[:, 1]] = pairs[:, 1], pairs[:, 0]
    while True:
        loose = np.flatnonzero(mate < 0)
        if len(loose) < 2:
            return mate, []
        tree = shapely.STRtree(points[loose])
        one, other = tree.query_nearest(points[loose], max_distance=JOIN, exclusive=True, all_matches=False)
        nearest = np.full(len(loose), -1)
        nearest[one] = other
        mutual = [k for k in one if nearest[nearest[k]] == k]
        if not mutual:
            return mate, []
        mate[loose[mutual]] = loose[nearest[mutual]]


_TOLD: Final = 3
"""So many of the places where too many lines meet are named."""
