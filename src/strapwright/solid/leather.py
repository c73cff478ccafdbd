"""The leather of a belt as solids: strap, lining, keeper, and the thread of a stitched end."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import rectangle, stadium
from strapwright.geometry.side_profile import Height
from strapwright.job.folding import AIR
from strapwright.parts.strap import strip_outline
from strapwright.parts.tips.square import Square
from strapwright.solid.modeller import band, cadquery, cylinder, face_of, frame_at, fused, one_solid, prism

if TYPE_CHECKING:
    from strapwright.job.folding import Folded

BEYOND: Final = 1.0
"""Cutting tools reach this far past the leather, mm."""

INSIDE: Final = 0.2
"""The slot's tool reaches this far past the flesh within the fold, mm."""

THREAD: Final = 0.9
"""Diameter of the thread as drawn, mm (from memory)."""


def strap(folded: Folded) -> Any:
    """Return the folded strap: its outline, slots and holes cut through the layers they belong to.

    Args:
        folded: the belt in its places.

    Raises:
        PartError: the cuts leave more than one piece.
    """
    drafted, course = folded.drafted, folded.course
    start = -drafted.figures.end.turn_back
    body = band(course, start, drafted.strap.span, folded.low, folded.high, drafted.strap.width)
    tools = [_tip_waste(folded), *_corner_waste(folded), *_slots(folded), *_holes(folded, start)]
    return one_solid(body.cut(*tools), f'belt "{drafted.id}": strap')


def lining(folded: Folded) -> Any:
    """Return the lining under the front layer, with the strap's holes through it; None without one.

    Args:
        folded: the belt in its places.
    """
    drafted = folded.drafted
    if drafted.lining is None:
        return None
    begin = drafted.lining.start
    low = Height(folded.low.knots, tuple(value - AIR / 4 for value in folded.low.values))
    body = band(folded.course, begin, drafted.strap.span, folded.lining_low, low, drafted.strap.width)
    tools = [_tip_waste(folded), *_holes(folded, begin)]
    return one_solid(body.cut(*tools), f'belt "{drafted.id}": lining')


def _thickest(folded: Folded) -> float:
    values = (*folded.low.values, *folded.high.values, *folded.lining_low.values)
    return max(abs(value) for value in values)


def _tip_waste(folded: Folded) -> Any:
    """Return what is cut off at the tip."""
    strap, cq = folded.drafted.strap, cadquery()
    reach, half, deep = strap.tip.reach, strap.width / 2 + BEYOND, _thickest(folded) + BEYOND
    plane = frame_at(folded.course, strap.span - reach)
    shape = strip_outline(-2 * BEYOND - 1.0, Square(strap.width, 0.5), reach, strap.tip)
    blank = face_of(rectangle(0.0, -half, reach + BEYOND, half), plane)
    waste = blank.cut(face_of(shape, plane)).moved(cq.Location(plane.zDir * -deep))
    return cq.Compound.makeCompound(
        [cq.Solid.extrudeLinear(face, plane.zDir * (2 * deep)) for face in waste.Faces()]
    )


def _corner_waste(folded: Folded) -> list[Any]:
    """Return what is cut off at the two corners of the turn-back; the front over it is left alone."""
    strap = folded.drafted.strap
    r, half, end = strap.buckle_end.corner_radius, strap.width / 2, -strap.buckle_end.turn_back
    plane = frame_at(folded.course, end)
    low, high = folded.low(end) - AIR / 2, folded.high(end) + BEYOND
    found = []
    for side in (-1.0, 1.0):
        # The square corner with its quarter round taken out of it, seen along the strap.
        bulge = side * (math.sqrt(2) - 1)
        y, inner, outer = side * (half + BEYOND), side * (half - r), side * half
        corner = Contour(
            np.array([(-BEYOND, y, 0), (-BEYOND, inner, 0), (0, inner, -bulge), (r, outer, 0), (r, y, 0)])
        )
        found.append(prism(corner, plane, low, high))
    return found


def _slots(folded: Folded) -> list[Any]:
    """Return the prong slots' tools: a bent band about the fold and a round end on either leg."""
    end = folded.drafted.strap.buckle_end
    if not end.slot_ys:
        return []
    cq, deep = cadquery(), _thickest(folded) + BEYOND
    reach = (end.slot_length - end.slot_width) / 2
    # Inside the fold a tool has no room: its own two legs would meet behind the bar.
    inside = Height(folded.low.knots, tuple(value - INSIDE for value in folded.low.values))
    middle = band(folded.course, -reach, reach, inside, Height((0.0,), (deep,)), end.slot_width)
    rounds = [
        prism(Contour.circle(0.0, 0.0, end.slot_width), frame_at(folded.course, s), inside(s) - INSIDE, deep)
        for s in (-reach, reach)
    ]
    return [tool.moved(cq.Location(cq.Vector(0, y, 0))) for tool in (middle, *rounds) for y in end.slot_ys]


def _holes(folded: Folded, begin: float) -> list[Any]:
    """Return the tools of all round and oval holes from a place on, each for its own layer alone."""
    strap, course = folded.drafted.strap, folded.course
    end, row, deep = strap.buckle_end, strap.holes, _thickest(folded) + BEYOND
    cq = cadquery()
    found: list[Any] = []

    def drill(
        shape: Contour, s: float, ys: tuple[float, ...], *, doubled: bool, upright: bool = False
    ) -> None:
        if s < begin:
            return
        flesh = min(folded.low(s), folded.lining_low(s) if s > folded.figures.lining_start else 0.0)
        inner = flesh - AIR / 2 if doubled else -deep
        tool = prism(shape, frame_at(course, s, upright=upright), inner, deep)
        found.extend(tool.moved(cq.Location(cq.Vector(0, y, 0))) for y in ys)

    for _, s, d in end.fastener_rows:
        drill(Contour.circle(0.0, 0.0, d), s, end.fastener_ys, doubled=True, upright=True)
    for s in row.xs:
        drill(stadium(0.0, 0.0, row.reach, row.diameter), s, row.ys, doubled=False)
    if (sewn := end.stitching) is not None:
        inset = strap.width / 2 - sewn.inset
        for s in sewn.centres_x:
            drill(Contour.circle(0.0, 0.0, sewn.hole), s, (-inset, inset), doubled=True)
    return found


def keeper(folded: Folded) -> Any:
    """Return the keeper, a band rolled about square corners, in its place; None without one.

    Args:
        folded: the belt in its places.
    """
    got, house, cq = folded.figures, folded.drafted.house, cadquery()
    if got.keeper is None:
        return None
    t, lap = got.layers.keeper, got.keeper.lap if got.layers.lapped else 0.0
    wide = got.width + house.keeper_ease_width
    held = got.end.keeper_held
    around = got.layers.strap + got.layers.tip + (got.layers.fold if held == "slides" else 0.0)
    high = around + house.keeper_ease_height
    # It rests on the face it lies against: the front's flesh side, or the turn-back's grain where it slides.
    bottom = folded.flesh_face + folded.lift - AIR / 2
    if held == "slides":
        bottom -= got.layers.fold + 2 * AIR
    long = got.keeper.width
    start = (folded.keeper_x, 0.0, bottom + high / 2)
    outer = cq.Workplane("YZ", origin=start).rect(wide + 2 * t, high + 2 * t).extrude(long).edges("|X")
    ring = outer.fillet(t).cut(cq.Workplane("YZ", origin=start).rect(wide, high).extrude(long)).val()
    if lap:
        under = rectangle(folded.keeper_x, -lap / 2, folded.keeper_x + long, lap / 2)
        ring = fused([ring, prism(under, cq.Plane.XY(), bottom - 2 * t, bottom - t + AIR)])
    return one_solid(ring, f'belt "{folded.drafted.id}": keeper')


def thread(folded: Folded) -> Any:
    """Return the stitches of a sewn end, one bar from hole to hole on either face; None without them.

    Args:
        folded: the belt in its places.
    """
    sewn = folded.drafted.strap.buckle_end.stitching
    if sewn is None:
        return None
    inset, found = folded.drafted.strap.width / 2 - sewn.inset, []
    for run in sewn.runs:
        for a, b in pairwise(run):
            for s, t in ((a, b), (sewn.shift - a, sewn.shift - b)):
                x0, z0 = folded.course.point(s, folded.high(s))
                x1, z1 = folded.course.point(t, folded.high(t))
                short = 0.12 * (x1 - x0)
                found += [
                    cylinder(THREAD / 2, (x0 + short, y, z0), (x1 - short, y, z1)) for y in (-inset, inset)
                ]
    return cadquery().Compound.makeCompound(found)
