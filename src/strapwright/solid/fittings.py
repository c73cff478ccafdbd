"""Posts, rivets and snaps in their holes, and a dee ring, with the measures the catalogue gives."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from strapwright.solid.modeller import cadquery, cylinder, fused, one_solid

if TYPE_CHECKING:
    from strapwright.job.folding.fold import Folded

HEAD_HEIGHT: Final = 1.6
"""Height of a head or cap, mm (from memory)."""


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
    bar = cylinder(wire, (x, -half, z), (x, half, z))
    ends = [cq.Solid.makeSphere(wire, cq.Vector(x, y, z), angleDegrees1=-90) for y in (-half, half)]
    return fused([shape, bar, *ends])
