"""The solid modeller, loaded when it is first wanted, and the few shapes everything here is made of."""

from __future__ import annotations

import math
from contextlib import contextmanager
from functools import cache
from typing import TYPE_CHECKING, Any

from strapwright.core.errors import PartError
from strapwright.geometry.side_profile import NEAR
from strapwright.parts.sketch.modeller import load_modeller

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.geometry.contour import Contour
    from strapwright.geometry.side_profile import Course, Height, Point


@cache
def cadquery() -> Any:
    """Load the modeller; it takes some seconds the first time.

    Raises:
        PartError: it is not installed, or a library of the system is missing.
    """
    return load_modeller("the model in the round")


@contextmanager
def making(what: str) -> Iterator[None]:
    """Name the piece at which the modeller gives up: its own errors name nothing.

    Args:
        what: belt and piece, as in ``'belt "ines": keeper'``.

    Raises:
        PartError: what the modeller said, in one line.
    """
    try:
        yield
    except PartError:
        raise
    except Exception as error:  # the modeller raises kinds of its own, some of them not even named
        said = " ".join(str(error).split()) or type(error).__name__
        raise PartError(f"{what} cannot be modelled with these numbers ({said})") from error


def one_solid(shape: Any, what: str) -> Any:
    """Return the one solid a shape holds.

    Raises:
        PartError: none, several, or one that is not sound; silence would hide a hole wider than its strap.
    """
    solids = shape.Solids()
    if len(solids) != 1:
        raise PartError(f"{what}: its cuts leave {len(solids)} pieces; expected one")
    if not solids[0].isValid() or solids[0].Volume() <= 0:
        raise PartError(f"{what}: these numbers make no sound solid")
    return solids[0]


def band(course: Course, start: float, end: float, low: Height, high: Height, width: float) -> Any:
    """Return the strip between two faces along a course, symmetrical about the centre line.

    Args:
        course: of the middle line.
        start: s where it begins, mm.
        end: s where it ends, mm.
        low: how far left of the course its flesh face lies at s.
        high: the same of its grain face.
        width: mm.
    """
    knots = sorted({*low.knots, *high.knots})
    there = course.face(start, end, high, knots)
    back = [(kind, points[::-1]) for kind, points in reversed(course.face(start, end, low, knots))]
    cq = cadquery()

    def at(point: Point) -> Any:
        return cq.Vector(point[0], -width / 2, point[1])

    edges, here = [], there[0][1][0]
    for kind, points in (*there, ("line", [back[0][1][0]]), *back, ("line", [there[0][1][0]])):
        if math.dist(here, points[-1]) < NEAR:
            continue
        if kind == "arc":
            edges.append(cq.Edge.makeThreePointArc(at(here), at(points[1]), at(points[2])))
        else:
            edges.append(cq.Edge.makeLine(at(here), at(points[-1])))
        here = points[-1]
    face = cq.Face.makeFromWires(cq.Wire.assembleEdges(edges))
    return cq.Solid.extrudeLinear(face, cq.Vector(0, width, 0))


def frame_at(course: Course, s: float, *, upright: bool = False) -> Any:
    """Return the plane that lies in the strap at s: its x along the strap, its z out of the grain.

    Args:
        course: of the middle line.
        s: place along the strap, mm.
        upright: take the layer as lying flat though it slants, as a punch goes through clamped layers.
    """
    cq = cadquery()
    x, z = course.point(s)
    heading = course.heading_at(s)
    if upright:
        heading = 0.0 if math.cos(heading) > 0 else math.pi
    return cq.Plane(
        origin=(x, 0, z),
        xDir=(math.cos(heading), 0, math.sin(heading)),
        normal=(-math.sin(heading), 0, math.cos(heading)),
    )


def face_of(contour: Contour, plane: Any = None) -> Any:
    """Return the face a closed contour bounds, its x and y in a plane's, exact in lines and arcs."""
    cq = cadquery()
    plane = plane or cq.Plane.XY()
    places = [plane.toWorldCoords((x, y)) for x, y in contour.sample(2).tolist()]
    begins, middles = places[::2], places[1::2]  # of every segment
    edges = [
        cq.Edge.makeThreePointArc(begin, middle, end) if is_arc else cq.Edge.makeLine(begin, end)
        for begin, middle, end, is_arc in zip(
            begins, middles, [*begins[1:], begins[0]], contour.is_arc, strict=True
        )
    ]
    return cq.Face.makeFromWires(cq.Wire.assembleEdges(edges))


def prism(contour: Contour, plane: Any, low: float, high: float) -> Any:
    """Return a contour, drawn in a plane, drawn out between two heights over it, mm."""
    cq = cadquery()
    face = face_of(contour, plane)
    return cq.Solid.extrudeLinear(face.moved(cq.Location(plane.zDir * low)), plane.zDir * (high - low))


def cylinder(radius: float, start: tuple[float, float, float], end: tuple[float, float, float]) -> Any:
    """Return a round bar from one point to another, mm."""
    cq = cadquery()
    way = cq.Vector(*end) - cq.Vector(*start)
    return cq.Solid.makeCylinder(radius, way.Length, cq.Vector(*start), way)


def fused(shapes: Sequence[Any]) -> Any:
    """Return several shapes grown into one."""
    first, *rest = shapes
    return first.fuse(*rest).clean() if rest else first


def overlap(one: Any, other: Any) -> float:
    """Return the volume two shapes share, mm³; boxes that do not meet are not asked of the modeller."""
    if _box(one).IsOut(_box(other)):
        return 0.0
    return float(sum(solid.Volume() for solid in one.intersect(other).Solids()))


def _box(shape: Any) -> Any:
    """Return a box that holds a shape, a little too large: the closest one takes as long as an overlap."""
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    box = Bnd_Box()
    BRepBndLib.Add_s(shape.wrapped, box, useTriangulation=False)
    return box
