"""Shapes of a DXF drawing: curves flattened to a stated chord, or lines and tangent arcs; ends joined."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.core.errors import FileProblems
from strapwright.core.tolerances import DRAWN_CURVE
from strapwright.core.units import MM_PER_FOOT, MM_PER_INCH, beyond
from strapwright.files.read import digest_of, refused
from strapwright.geometry.drawings.gathered import (
    CURVE_CHORD,
    LARGEST_EXTENT,
    LEFT_OUT,
    LIMIT_MB,
    Drawn,
    Gathered,
    Wanted,
    check_size,
    joined,
    metres_beyond,
    plain_name,
)
from strapwright.geometry.drawings.tangent_arcs import arcs_of, circle_of
from strapwright.geometry.polygon import to_polygon
from strapwright.geometry.shapes import chain

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from strapwright.core.arrays import Floats


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

_FLAT: Final = 0.1
"""What rises by less lies flat in the drawing's plane, mm."""

_DEEPEST: Final = 20
"""Blocks are placed within blocks at most so deep."""


def shapes_in_dxf(path: Path, wanted: Wanted, unit_mm: float | None = None) -> Gathered:
    """Return the shapes in a DXF drawing's model space.

    Args:
        path: the drawing.
        wanted: what is looked for.
        unit_mm: size of a drawing unit, mm, where the drawing does not say it.

    Raises:
        FileProblems: not a whole DXF file, or no units.
    """
    document = _document(path)
    units = int(document.header.get("$INSUNITS", 0))
    scale = _MM.get(units) or (unit_mm if units == 0 else None)
    if scale is None:
        found = "no units ($INSUNITS 0)" if units == 0 else f"$INSUNITS {units}"
        cure = "set the drawing's units and save it again, as R2000 or newer (R12 cannot say them)"
        raise refused(
            path,
            f"found {found}, expected millimetres, centimetres, metres, inches or feet; "
            + (f'{cure}, or write unit = "mm" or "in" beside it' if wanted.exact else cure),
        )
    gathered = Gathered(str(path), wanted)
    runs: dict[str, list[Drawn]] = {}
    for entity, layer in _entities(document.modelspace(), document, gathered, "", 0):
        kind = entity.dxftype()
        try:
            runs.setdefault(layer, []).append(_run(entity, layer, scale, gathered))
        except FileProblems:
            raise
        except Exception as error:  # noqa: BLE001 -- the reader's errors share no root with ours
            text = str(error) or type(error).__name__
            gathered.problem(_where(entity, layer, wanted), f"a {kind} cannot be read: {text}; redraw it")
    for layer, drawn in runs.items():
        _gather(layer, drawn, gathered)
    return gathered


def _gather(layer: str, drawn: list[Drawn], gathered: Gathered) -> None:
    """Note the shapes that the runs of one layer make, and what is wrong with them."""
    wanted = gathered.wanted
    closed, faults, open_ends, left = joined(drawn, wanted.join)
    gathered.shapes += closed
    if wanted.exact:
        gathered.shapes += left
        if wanted.known(layer) == "score":
            faults = []  # scored lines may meet as they like
    elif wanted.known(layer):
        faults += open_ends
    else:
        gathered.no_shapes += [f'an open line on layer "{layer}"' for _ in open_ends]
    for text in faults:
        gathered.problem(f'layer "{layer}"', text)


def _entities(
    entities: Any, document: Any, gathered: Gathered, above: str, depth: int
) -> Iterator[tuple[Any, str]]:
    """Yield every entity to be read as a shape, and its layer; blocks are opened in an exact drawing.

    Args:
        entities: of the model space, or of a placed block.
        document: the drawing.
        gathered: takes what is not read.
        above: the layer a block is placed on, which what lies on layer 0 in it takes.
        depth: how many blocks there are around them.
    """
    for entity in entities:
        layer = str(entity.dxf.layer) if entity.dxf.is_supported("layer") else "0"
        layer = above if layer == "0" and above else layer
        if plain_name(layer) in (LEFT_OUT, "defpoints"):
            continue
        if gathered.wanted.exact and entity.dxftype() == "INSERT":
            if why := _hidden(entity, layer, document):
                gathered.not_shown.append(f'an INSERT on layer "{layer}" ({why})')
            elif depth == _DEEPEST or entity.dxf.name not in document.blocks:
                text = "a block that is not in the drawing, or placed in itself; explode it"
                gathered.problem(_where(entity, layer, gathered.wanted), text)
            else:
                inside = [one for placed in entity.multi_insert() for one in placed.virtual_entities()]
                yield from _entities([*inside, *entity.attribs], document, gathered, layer, depth + 1)
        elif _is_shape(entity, layer, document, gathered):
            yield entity, layer


def _where(entity: Any, layer: str, wanted: Wanted) -> str:
    """Return what to call an entity in a message: its layer, in an exact drawing its kind and handle too."""
    handle = entity.dxf.get("handle") or ""
    return f'layer "{layer}"' + (f", {f'{entity.dxftype()} {handle}'.strip()}" if wanted.exact else "")


def _is_shape(entity: Any, layer: str, document: Any, gathered: Gathered) -> bool:
    """Return whether an entity is to be read as a shape; what is not is noted, or is a mistake."""
    kind, wanted = entity.dxftype(), gathered.wanted
    if why := _hidden(entity, layer, document):
        gathered.not_shown.append(f'a {kind} on layer "{layer}" ({why})')
        return False
    if kind in _READ:
        return True
    if kind not in _NO_SHAPE:
        do = f'redraw or explode it, or move it to layer "{LEFT_OUT}"'
        expected = "polylines, lines, arcs, circles, ellipses or splines"
        gathered.problem(_where(entity, layer, wanted), f"found {kind}, expected {expected}; {do}")
    elif wanted.known(layer) or wanted.exact:
        do = f'{wanted.instead}, or move it to layer "{LEFT_OUT}"'
        expected = "lines and shapes" if wanted.exact else "closed shapes"
        gathered.problem(_where(entity, layer, wanted), f"found {kind}, expected {expected}; {do}")
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


def _run(entity: Any, layer: str, scale: float, gathered: Gathered) -> Drawn:
    """Return one entity in mm; what is too large is refused before it is flattened."""
    kind, wanted = entity.dxftype(), gathered.wanted
    where = _where(entity, layer, wanted)
    if kind in ("SPLINE", "ELLIPSE"):
        return _curve(entity, layer, scale, gathered, where)
    if kind == "LINE":  # in the drawing's own frame whatever its extrusion
        ends = np.array([(*entity.dxf.start,), (*entity.dxf.end,)]) * scale
        _check_flat(ends)
        return Drawn(layer, _straight(ends[:, :2]), curved=False, closed=False, where=where)
    ex, ey, ez = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    if abs(ex) > 1e-6 or abs(ey) > 1e-6:
        raise ValueError("it is tilted out of the drawing's plane")
    mirror = math.copysign(1.0, ez)  # seen from below its x runs left
    if kind in ("LWPOLYLINE", "POLYLINE"):
        return _polyline(entity, layer, scale, mirror, gathered, where)
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
    if wanted.exact:
        count = 1 if sweep <= math.pi else 2
    else:
        bend = math.acos(max(1 - CURVE_CHORD / r, 0.0))
        count = max(8, math.ceil(sweep / (2 * bend)))
    gathered.room_for(count)
    angles = first + sweep / count * np.arange(count + (kind == "ARC"))
    points = _straight(np.column_stack([x + mirror * r * np.cos(angles), y + r * np.sin(angles)]))
    if wanted.exact:
        points[: len(points) - (kind == "ARC"), 2] = mirror * math.tan(sweep / count / 4)
    return Drawn(layer, points, curved=not wanted.exact, closed=kind == "CIRCLE", where=where)


def _straight(points: Floats) -> Floats:
    """Return points as vertices of straight lines."""
    found: Floats = np.column_stack([points, np.zeros(len(points))])
    return found


def _curve(entity: Any, layer: str, scale: float, gathered: Gathered, where: str) -> Drawn:
    """Return a spline or an ellipse as corners, or as tangent arcs."""
    if entity.dxftype() == "ELLIPSE":
        centre, axis = entity.dxf.center, entity.dxf.major_axis
        reach = math.hypot(axis.x, axis.y, axis.z) * max(1.0, abs(entity.dxf.ratio))
        bounds = [(centre.x - reach, centre.y - reach), (centre.x + reach, centre.y + reach)]
    else:
        bounds = [(p[0], p[1]) for p in (*entity.control_points, *entity.fit_points)]
        if not all(0 < weight < math.inf for weight in entity.weights):
            raise ValueError("it has a weight that is not more than 0")
    check_size(np.array(bounds) * scale)
    chord = DRAWN_CURVE if gathered.wanted.exact else CURVE_CHORD
    points = np.array([(*p,) for p in entity.flattening(chord / scale)]) * scale
    _check_flat(points)
    gathered.room_for(len(points))
    closed = bool(math.dist(points[0], points[-1]) < gathered.wanted.join)
    if not gathered.wanted.exact:
        return Drawn(layer, _straight(points[: len(points) - closed, :2]), True, closed, where)
    cubics = _cubics(entity, scale)
    if closed and (circle := circle_of(cubics)):
        return Drawn(layer, np.array(circle), curved=False, where=where)
    vertices = np.array(arcs_of(cubics))
    return Drawn(layer, vertices[: len(vertices) - closed], curved=False, closed=closed, where=where)


def _cubics(entity: Any, scale: float) -> Floats:
    """Return a spline or an ellipse as cubics that stray from it by no more than 0.02 µm.

    Between two places a cubic takes on the curve's own points and derivatives; they are set nearer until its
    middle lies on the curve. Places are looked at twice at every knot, where a derivative may jump.
    """
    tool = entity.construction_tool()
    if entity.dxftype() == "ELLIPSE":
        knots = np.array([tool.start_param, tool.start_param + tool.param_span])
    else:
        knots = np.unique(np.array(tool.knots(), dtype=float))
        low, high = float(tool.knots()[tool.degree]), float(tool.max_t)
        if not tool.is_clamped:
            high = float(tool.knots()[-tool.degree - 1])
        knots = np.unique(np.clip(knots, low, high))
    at = _point_and_way(tool, entity.dxftype())
    found: list[Floats] = []
    for t0, t1 in pairwise(knots.tolist()):
        count = 4 if entity.dxftype() == "SPLINE" else 24
        while True:
            step = (t1 - t0) / count
            inside = 1e-9 * (t1 - t0)
            ends = [at(min(max(t0 + k * step, t0 + inside), t1 - inside)) for k in range(count + 1)]
            cubics = np.array(
                [(p, p + step / 3 * v, q - step / 3 * w, q) for (p, v), (q, w) in pairwise(ends)]
            )
            middles = (cubics[:, 0] + 3 * cubics[:, 1] + 3 * cubics[:, 2] + cubics[:, 3]) / 8
            true = np.array([at(t0 + (k + 0.5) * step)[0] for k in range(count)])
            off = float(np.hypot(*(middles - true).T).max()) * scale
            if off < DRAWN_CURVE / 1000 or count > _MOST_CUBICS:
                found.append(cubics * scale)
                break
            count *= 2
    whole = np.concatenate(found)
    whole[1:, 0] = whole[:-1, 3]
    return whole


def _point_and_way(tool: Any, kind: str) -> Callable[[float], tuple[Floats, Floats]]:
    """Return what gives a curve's point and derivative at a parameter, in the drawing's units."""
    if kind == "ELLIPSE":
        centre, major, minor = (
            np.array([one.x, one.y]) for one in (tool.center, tool.major_axis, tool.minor_axis)
        )

        def on_ellipse(t: float) -> tuple[Floats, Floats]:
            c, s = math.cos(t), math.sin(t)
            return centre + c * major + s * minor, c * minor - s * major

        return on_ellipse

    def on_spline(t: float) -> tuple[Floats, Floats]:
        point, way = tool.derivative(t, 1)
        return np.array([point.x, point.y]), np.array([way.x, way.y])

    return on_spline


_MOST_CUBICS: Final = 512
"""Into so many cubics a stretch between two knots is divided at most."""


def _check_flat(points: Floats) -> None:
    """Refuse what leaves the drawing's plane: seen from above it would be shorter than it is."""
    check_size(points[:, :2])
    if not np.ptp(points[:, 2]) < _FLAT:
        raise ValueError("it is tilted out of the drawing's plane")


def _polyline(entity: Any, layer: str, scale: float, mirror: float, gathered: Gathered, where: str) -> Drawn:
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
    if not closed and len(points) > 2 and math.dist(points[0, :2], points[-1, :2]) < gathered.wanted.join:
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
    if gathered.wanted.exact:
        gathered.room_for(len(contour))
        return Drawn(layer, contour.vertices, curved=False, closed=closed, where=where)
    arcs = np.abs(contour.sweeps[curved]) * np.sqrt(contour.radii[curved] / (8 * CURVE_CHORD))
    gathered.room_for(len(contour) + int(arcs.sum()))
    flat = _straight(to_polygon(contour, CURVE_CHORD))
    return Drawn(layer, flat, bool(curved.any()), closed, where)
