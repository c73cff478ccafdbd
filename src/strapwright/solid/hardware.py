"""The metal of a belt as solids, by the catalogue's numbers: buckle, posts, rivets and snaps, dee ring."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from strapwright.job.dimensions.fit import prong_end
from strapwright.solid.modeller import cadquery, cylinder, fused, one_solid

if TYPE_CHECKING:
    from strapwright.job.folding import Folded

HEAD_HEIGHT: Final = 1.6
"""Height of a head or cap, mm (from memory)."""

PLATE: Final = 3.0
"""Thickness of a plate buckle's plate, mm (from memory)."""

PLAY: Final = 0.15
"""Of a prong's eye on its bar, mm."""


def opening_of(folded: Folded) -> float:
    """Return the inside width of the frame, mm: as callipered, or the strap's and the usual clearance."""
    buckle = folded.drafted.buckle
    return buckle.opening or folded.drafted.strap.width + folded.drafted.house.strap_clearance


def frame(folded: Folded) -> Any:
    """Return frame and bar in one, its bar's centre at the origin.

    Args:
        folded: the belt in its places, which says how the frame lies.
    """
    buckle, pieces = folded.drafted.buckle, [_bar(folded)]
    if not buckle.prongs:
        pieces += _plate(folded)
    else:
        front = buckle.frame_depth + buckle.section.width / 2
        pieces += _bow(folded, front, _tilt(folded), forwards=True)
        if buckle.bar == "centre":
            back = (buckle.rear_depth or 0.0) + buckle.section.width / 2
            layers = folded.figures.layers
            over = folded.front_face + layers.tip + buckle.section.width / 2 + folded.lift + 0.3
            pieces += _bow(folded, math.hypot(back, over), math.atan2(over, back), forwards=False)
    return one_solid(fused(pieces), f'belt "{folded.drafted.id}": buckle')


def prongs(folded: Folded) -> Any:
    """Return the prongs, resting on the front bar; None for a hook buckle.

    Args:
        folded: the belt in its places.
    """
    buckle, cq = folded.drafted.buckle, cadquery()
    if not buckle.prongs:
        return None
    eye, p, bar = buckle.section.radius, buckle.prong_thickness, buckle.section.width
    rest = buckle.section.height / 2
    far, tip = buckle.frame_depth + bar, buckle.frame_depth + bar + 1.2
    width = buckle.prong_width
    # Seen from the side: a ring about the bar, and a shank from its top to the front bar, its tip bent down.
    side = (
        cq.Workplane("XZ", origin=(0, width / 2, 0))
        .moveTo(0, eye + PLAY)
        .lineTo(0, eye + p)
        .lineTo(-prong_end(buckle), rest + p)
        .threePointArc((-far - 0.4, rest + 0.75 * p), (-tip, rest - 0.1 * p))
        .lineTo(-far, rest - 0.05)
        .lineTo(-far + 1.0, rest + 0.02)
        .close()
        .extrude(width)
    )
    ring = cq.Workplane("XZ", origin=(0, width / 2, 0)).circle(eye + p).circle(eye + PLAY).extrude(width)
    # Seen from above: it tapers towards its tip.
    narrow = 0.72 * width / 2
    plan = (
        cq.Workplane("XY", origin=(0, 0, -50))
        .polyline([(50, -width / 2), (50, width / 2), (-0.5 * far, width / 2)])
        .lineTo(-far, narrow)
        .threePointArc((-tip - 0.1, 0), (-far, -narrow))
        .lineTo(-0.5 * far, -width / 2)
        .close()
        .extrude(100)
    )
    one = side.union(ring).intersect(plan).rotate((0, 0, 0), (0, 1, 0), math.degrees(_tilt(folded))).val()
    ys = folded.figures.end.slot_ys
    one = one_solid(one, f'belt "{folded.drafted.id}": prong')
    return cq.Compound.makeCompound([one.moved(cq.Location(cq.Vector(0, y, 0))) for y in ys])


def _tilt(folded: Folded) -> float:
    return folded.closed.tilt if folded.closed else 0.0


def _bar(folded: Folded) -> Any:
    """Return the bar the strap folds over, rounded off at its ends where the frame meets it."""
    buckle, cq = folded.drafted.buckle, cadquery()
    half = (opening_of(folded) + buckle.section.width) / 2
    if buckle.bar_section:
        w, h = buckle.bar_section
        long = 2 * half + w
        box = cq.Workplane("XY").box(w, long, h).edges("|Y").fillet(0.35 * min(w, h))
        return box.rotate((0, 0, 0), (0, 1, 0), math.degrees(_tilt(folded))).val()
    radius = buckle.section.width / 2
    return fused(_round_bar(radius, half))


def _round_bar(radius: float, half: float, x: float = 0.0, z: float = 0.0) -> list[Any]:
    """Return a bar across the strap, so long to either side of its middle, and the balls at its ends."""
    cq = cadquery()
    ends = [cq.Solid.makeSphere(radius, cq.Vector(x, y, z), angleDegrees1=-90) for y in (-half, half)]
    return [cylinder(radius, (x, -half, z), (x, half, z)), *ends]


def _bow(folded: Folded, depth: float, tilt: float, *, forwards: bool) -> list[Any]:
    """Return a loop of the frame: two sides and a far bar, rounded at the corners.

    Args:
        folded: the belt.
        depth: from the bar's centre to that of the far bar, mm.
        tilt: of the loop out of the strap's plane, rad.
        forwards: away from the strap; else over it.
    """
    buckle, cq = folded.drafted.buckle, cadquery()
    across = buckle.section.width
    half, way = (opening_of(folded) + across) / 2, -1.0 if forwards else 1.0
    corner = min(0.22 * depth, 0.3 * half) + across / 2
    inset = corner * (1 - math.sqrt(0.5))  # of the middle of a corner's arc, along either side
    path = (
        cq.Workplane("XY")
        .moveTo(0, half)
        .lineTo(way * (depth - corner), half)
        .threePointArc((way * (depth - inset), half - inset), (way * depth, half - corner))
        .lineTo(way * depth, corner - half)
        .threePointArc((way * (depth - inset), inset - half), (way * (depth - corner), -half))
        .lineTo(0, -half)
    )
    section = cq.Workplane("YZ", origin=(0, half, 0))
    drawn = section.rect(*buckle.bar_section) if buckle.bar_section else section.circle(across / 2)
    turn = math.degrees(tilt) * (1 if forwards else -1)
    return [drawn.sweep(path).rotate((0, 0, 0), (0, 1, 0), turn).val()]


def _plate(folded: Folded) -> list[Any]:
    """Return a plate before the fold, two lugs that carry the bar, and the hook behind the plate."""
    buckle, cq = folded.drafted.buckle, cadquery()
    across = buckle.section.width
    half = opening_of(folded) / 2 + across
    near = folded.radius + folded.figures.layers.fold + 0.5
    low = across / 2
    long = buckle.frame_depth + across - near
    plate = (
        cq.Workplane("XY", origin=(-near - long / 2, 0, low))
        .rect(long, 2 * half)
        .extrude(PLATE)
        .edges("|Z")
        .fillet(min(8.0, long / 4))
    )
    pieces = [plate.val()]
    for side in (-1, 1):
        y = side * (half - across / 2)
        lug = cq.Workplane("XY", origin=(-near / 2 - 4.0, y, -across / 2)).rect(near + 8.0, across)
        pieces.append(lug.extrude(across + 0.5 * PLATE).val())
    hook = buckle.hook_depth or 0.0
    deep = folded.figures.layers.strap + 3.0
    pin = cylinder(buckle.prong_width / 2, (-hook, 0, low + 0.5), (-hook, 0, low - deep))
    toe = (-hook, 0, low - deep)
    pieces += [pin, cylinder(buckle.prong_width / 2, toe, (-hook - 3.0, 0, low - deep + 0.6))]
    pieces.append(cq.Solid.makeSphere(buckle.prong_width / 2, cq.Vector(*toe), angleDegrees1=-90))
    return pieces


@dataclass(frozen=True)
class Fastener:
    """One fastener where it sits.

    Args:
        row: its row's name.
        x: along the strap, mm.
        y: across, mm.
        stack: leather between the two faces in the model, mm.
        length: between the heads; the stack where the catalogue gives no length, mm.
        barrel: diameter, mm.
        shape: the solid.
    """

    row: str
    x: float
    y: float
    stack: float
    length: float
    barrel: float
    shape: Any


def fasteners(folded: Folded) -> tuple[Fastener, ...]:
    """Return every fastener; a head is drawn sunk where its post draws the leather together.

    Args:
        folded: the belt in its places.
    """
    end, found = folded.drafted.strap.buckle_end, []
    rows = zip(folded.drafted.posts, end.rows, end.mates, strict=True)
    for post, row, mate in rows:
        barrel, head = post.passes[0], post.head or 2 * post.passes[0]
        x, z = folded.course.point(row)
        top = z + folded.high(row)
        bottom = folded.course.point(mate)[1] - folded.high(mate)
        stack = top - bottom
        length = post.length or stack
        # Drawn together the heads sink in alike; too long, the lower one stands off.
        sunk = max(stack - length, 0.0) / 2
        for y in end.fastener_ys:
            shape = _post(x, y, top - sunk, length, barrel, head)
            found.append(Fastener(post.row, x, y, stack, length, barrel, shape))
    return tuple(found)


def _post(x: float, y: float, top: float, length: float, barrel: float, head: float) -> Any:
    """Return a barrel with a low domed head at either end, its upper head's underside at a height."""
    cq = cadquery()
    half, end = head / 2, length / 2
    rim, crown = end + 0.4 * HEAD_HEIGHT, end + HEAD_HEIGHT
    # A cap of a sphere: another arc would leave a point at its middle that STEP does not carry over.
    radius = (half**2 + (crown - rim) ** 2) / (2 * (crown - rim))
    between = 0.5 * math.asin(half / radius)
    bow = radius * math.sin(between), crown - radius * (1 - math.cos(between))
    profile = (
        cq.Workplane("XZ", origin=(x, y, top - end))
        .moveTo(0, -crown)
        .threePointArc((bow[0], -bow[1]), (half, -rim))
        .lineTo(half, -end)
        .lineTo(barrel / 2, -end)
        .lineTo(barrel / 2, end)
        .lineTo(half, end)
        .lineTo(half, rim)
        .threePointArc(bow, (0, crown))
        .close()
    )
    return one_solid(profile.revolve(360, (0, 0), (0, 1)).val(), "a fastener")


def dee_ring(folded: Folded) -> Any:
    """Return the dee ring on its bar between the layers, its bow laid back along the strap; None without one.

    Args:
        folded: the belt in its places.
    """
    dee, got, cq = folded.drafted.spec.dee, folded.figures, cadquery()
    if dee is None or not got.end.dee:
        return None
    x, z = folded.course.point(got.end.dee, folded.high(got.end.dee))
    wire, half = dee.bar_diameter / 2, dee.width / 2 + dee.bar_diameter / 2
    z -= got.layers.strap + wire
    lean = math.radians(80.0 if folded.closed else 35.0)  # worn it stands up, over the free end
    plane = cq.Plane(origin=(x, 0, z), xDir=(0, 1, 0), normal=(math.sin(lean), 0, -math.cos(lean)))
    straight = 0.35 * half
    bow = (
        cq.Workplane(plane)
        .moveTo(-half, 0)
        .lineTo(-half, straight)
        .threePointArc((0, straight + half), (half, straight))
        .lineTo(half, 0)
    )
    section = cq.Workplane(cq.Plane(plane.toWorldCoords((-half, 0)), xDir=plane.xDir, normal=plane.yDir))
    shape = section.circle(wire).sweep(bow).val()
    return fused([shape, *_round_bar(wire, half, x, z)])
