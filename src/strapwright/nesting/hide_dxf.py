"""Closed shapes of a DXF drawing, for a hide: lines and arcs exact, curves nearly so."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from strapwright.errors import FileProblems, GeometryError
from strapwright.geometry.contour import Contour
from strapwright.geometry.polygon import to_polygon
from strapwright.geometry.shapes import chain
from strapwright.nesting.hide_drawing import JOIN, LEFT_OUT, NAMES, Drawn, refused
from strapwright.tolerances import NESTING_CHORD
from strapwright.units import beyond

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from strapwright.geometry.polygon import Side

    Floats = NDArray[np.float64]

LIMIT_MB = 20.0
"""Largest drawing read, MB: an outline by hand or camera takes well under one."""

CURVE_CHORD = 1e-3
"""Splines and ellipses become chords that stray by at most this, to either side, mm."""

_MM = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0}
"""Millimetres in a drawing unit by $INSUNITS: inches, feet, millimetres, centimetres, metres.

DXF Reference, group codes of the HEADER section, $INSUNITS (from memory).
"""

_NO_SHAPE = {"TEXT", "MTEXT", "DIMENSION", "POINT", "LEADER", "MULTILEADER", "ATTDEF", "VIEWPORT"}
"""What bounds nothing and may stand on any layer."""

_READ = {"LWPOLYLINE", "POLYLINE", "CIRCLE", "ARC", "LINE", "SPLINE", "ELLIPSE"}


def shapes_in_dxf(path: Path) -> list[Drawn]:
    """Return the closed shapes in a DXF drawing's model space.

    Raises:
        FileProblems: not a whole DXF file, no units, an open shape, or an entity that cannot be read.
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
    problems: list[str] = []
    pieces: dict[str, list[Contour]] = {}
    for entity in document.modelspace():
        kind = entity.dxftype()
        layer = str(entity.dxf.layer) if entity.dxf.is_supported("layer") else "0"
        if kind in _NO_SHAPE or layer.casefold() in (LEFT_OUT, "defpoints"):
            continue
        if kind not in _READ:
            problems.append(
                f'{path}: layer "{layer}": found {kind}, expected polylines, lines, arcs, circles, '
                f'ellipses or splines; redraw or explode it, or move it to layer "{LEFT_OUT}"'
            )
            continue
        try:
            pieces.setdefault(layer, []).append(_contour(entity, _MM[units]))
        except Exception as error:  # noqa: BLE001 -- the reader's errors share no root with ours
            text = str(error) or type(error).__name__
            problems.append(f'{path}: layer "{layer}": a {kind} cannot be read: {text}; redraw it')
    shapes: list[Drawn] = []
    for layer, contours in pieces.items():
        closed, open_ends = joined(contours)
        shapes += [Drawn(layer, _Flattened(contour)) for contour in closed]
        if layer.casefold() in NAMES:
            problems += [f'{path}: layer "{layer}": {text}' for text in open_ends]
    if problems:
        raise FileProblems(tuple(dict.fromkeys(problems)))
    return shapes


class _Flattened:
    """A contour that is turned into corners when it is known which side may be given away."""

    def __init__(self, contour: Contour) -> None:
        self._contour = contour

    def __call__(self, side: Side) -> Floats:
        try:
            return to_polygon(self._contour, NESTING_CHORD, side)
        except GeometryError:
            # Where it crosses itself or ends in a cusp it has no such side; the crossing is told later on.
            return to_polygon(self._contour, CURVE_CHORD, "nearest")


def _document(path: Path) -> Any:
    from strapwright.files.read import digest_of

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


def _contour(entity: Any, scale: float) -> Contour:
    """Return one entity as a contour in mm, closed or open."""
    kind = entity.dxftype()
    if kind in ("SPLINE", "ELLIPSE"):
        points = np.array([(p.x, p.y) for p in entity.flattening(CURVE_CHORD / scale)]) * scale
        closed = bool(np.hypot(*(points[0] - points[-1])) < JOIN)
        return chain([(float(x), float(y), 0.0) for x, y in points], closed=closed)
    mirror = _mirrored(entity)
    if kind == "LINE":
        ends = [entity.dxf.start, entity.dxf.end]
        return Contour.from_points([(p.x * scale, p.y * scale) for p in ends], closed=False)
    if kind in ("LWPOLYLINE", "POLYLINE"):
        return _polyline(entity, scale, mirror)
    centre = entity.dxf.center
    x, y, r = mirror * centre.x * scale, centre.y * scale, entity.dxf.radius * scale
    if kind == "CIRCLE":
        return Contour.circle(x, y, 2 * r)
    first = math.radians(entity.dxf.start_angle)
    sweep = math.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360.0)
    if not r > 0 or not sweep > 0:
        raise GeometryError("its radius or sweep is 0")
    angles = (first, first + sweep / 2, first + sweep)
    bulge = mirror * math.tan(sweep / 8)
    triples = [(x + mirror * r * math.cos(angle), y + r * math.sin(angle), bulge) for angle in angles]
    return Contour(np.array(triples), closed=False)


def _mirrored(entity: Any) -> float:
    """Return −1 for an entity seen from below (its x runs left), 1 for one seen from above."""
    x, y, z = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    if entity.dxftype() == "LINE":
        return 1.0  # a line's points are in the drawing's own frame whatever its extrusion
    if abs(x) > 1e-6 or abs(y) > 1e-6:
        raise GeometryError("it is tilted out of the drawing's plane")
    return math.copysign(1.0, z)


def _polyline(entity: Any, scale: float, mirror: float) -> Contour:
    if entity.dxftype() == "LWPOLYLINE":
        points = [tuple(map(float, p)) for p in entity.get_points("xyb")]
        closed = bool(entity.closed)
    else:
        if not entity.is_2d_polyline and not entity.is_3d_polyline:
            raise GeometryError("it is a mesh")
        points = [
            (float(v.dxf.location.x), float(v.dxf.location.y), float(v.dxf.get("bulge", 0.0)))
            for v in entity.vertices
        ]
        closed = bool(entity.is_closed)
    if len(points) < 2:
        raise GeometryError(f"it has {len(points)} points")
    triples = [(mirror * x * scale, y * scale, mirror * b) for x, y, b in points]
    (x0, y0, _), (x1, y1, _) = triples[0], triples[-1]
    if not closed and len(triples) > 2 and math.hypot(x1 - x0, y1 - y0) < JOIN:
        closed = True
        triples = triples[:-1]
    return chain(triples, closed=closed)


def joined(contours: list[Contour]) -> tuple[list[Contour], list[str]]:
    """Join open runs end to end into closed contours.

    Args:
        contours: closed and open ones.

    Returns:
        The closed contours, and a sentence for each run that stays open.
    """
    closed = [contour for contour in contours if contour.closed]
    left = [contour for contour in contours if not contour.closed]
    faults: list[str] = []
    while left:
        run = [tuple(map(float, v)) for v in left.pop(0).vertices]
        while math.dist(run[0][:2], run[-1][:2]) >= JOIN or len(run) < 3:
            step = _next(run[-1][:2], left)
            if step is None:
                break
            run = run[:-1] + step
        else:
            try:
                closed.append(chain([(x, y, b) for x, y, b in run[:-1]]))
            except GeometryError as error:
                faults.append(f"lines that close to nothing: {error}; is a line drawn twice?")
            continue
        (x0, y0), (x1, y1) = run[0][:2], run[-1][:2]
        faults.append(
            f"an open line from ({x0:.1f}, {y0:.1f}) to ({x1:.1f}, {y1:.1f}) mm, expected closed "
            f"shapes; join its ends (gaps under {JOIN:g} mm are joined for you)"
        )
    return closed, faults


def _next(end: tuple[float, ...], left: list[Contour]) -> list[tuple[float, ...]] | None:
    """Take the open run that goes on from a point, turned so that it does; None where none does."""
    best: tuple[float, int, bool] | None = None
    for number, contour in enumerate(left):
        for backwards, point in ((False, contour.vertices[0]), (True, contour.vertices[-1])):
            apart = math.dist(end, point[:2])
            if apart < JOIN and (best is None or apart < best[0]):
                best = (apart, number, backwards)
    if best is None:
        return None
    contour = left.pop(best[1])
    return [tuple(map(float, v)) for v in (contour.reversed() if best[2] else contour).vertices]
