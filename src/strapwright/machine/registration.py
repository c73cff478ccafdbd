"""Registration holes: two small holes in scrap by which a hide is put back where the last window left it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.findings import Finding, Severity
from strapwright.geometry.contour import Contour
from strapwright.geometry.polygon import to_polygon
from strapwright.machine.cut_plan import REGISTRATION, CutPath
from strapwright.parts.part import Operation
from strapwright.tolerances import NESTING_CHORD

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.geometry.transform import Placement
    from strapwright.machine.profile import Machine
    from strapwright.nesting.hide import Hide

DIAMETER: Final = 4.0
"""Of a registration hole, mm: a punch's shank or a pin goes through it."""

WALL: Final = 3.0
"""Leather left between a registration hole and parts, flaws and the hide's edge, mm."""

_APART: Final = 40.0
"""Two holes nearer than this hold no turn, mm."""

_ROUNDING: Final = 0.005
"""Places are told to a hundredth of a millimetre, so that they can be found with a rule's numbers."""

Point = tuple[float, float]


def scrap_places(
    hide: Hide, put: Placement, outlines: Sequence[Contour], zones: Sequence[Point], machine: Machine
) -> list[tuple[Point, ...]]:
    """Return where registration holes can be cut, for each zone two window's share.

    As far from each other as the scrap allows; fewer than two where there is no scrap for them.

    Args:
        hide: the hide.
        put: from its coordinates to the bed's.
        outlines: of the parts on it, on the bed.
        zones: from where to where along x both windows reach, mm.
        machine: bed, margin and least hole.
    """
    import shapely

    radius = hole_diameter(machine) / 2 + _ROUNDING
    low, high = machine.window_margin + radius, machine.bed[1] - machine.window_margin - radius
    points = [put.apply_to_point(*point) for point in hide.outline.tolist()]
    free = shapely.Polygon(points).buffer(-WALL - radius)
    parts = [shapely.Polygon(to_polygon(outline, NESTING_CHORD, "outward")) for outline in outlines]
    flaws = [
        shapely.Polygon([put.apply_to_point(*point) for point in flaw.polygon.tolist()])
        for flaw in hide.flaws
    ]
    free = free.difference(shapely.union_all([*parts, *flaws]).buffer(WALL + radius))
    found: list[tuple[Point, ...]] = []
    for begin, end in zones:
        zone = free.intersection(shapely.box(begin + radius, low, end - radius, high))
        corners = shapely.get_coordinates(zone)
        if not len(corners):
            found.append(())
            continue
        order = sorted((tuple(corner) for corner in corners.round(2).tolist()), key=lambda p: (p[1], p[0]))
        first, last = order[0], order[-1]
        far = (last[0] - first[0]) ** 2 + (last[1] - first[1]) ** 2 >= _APART**2
        found.append((first, last) if far else (first,))
    return found


def hole_diameter(machine: Machine) -> float:
    """Return the diameter of this machine's registration holes, mm: 4, or the least it makes if more."""
    least = 2 * machine.blade.least_radius if machine.blade is not None else 0.0
    return max(DIAMETER, machine.least_hole or 0.0, least)


def registration_holes(places: Sequence[Point], machine: Machine) -> tuple[CutPath, ...]:
    """Return the holes' paths; nobody measures them, so no kerf is allowed for."""
    layer = machine.settings(Operation.CUT).layer
    return tuple(
        CutPath(
            REGISTRATION,
            "registration hole",
            Operation.CUT,
            Contour.circle(*place, hole_diameter(machine)),
            layer,
        )
        for place in places
    )


def scrap_findings(hide: str, places: Sequence[Sequence[Point]]) -> list[Finding]:
    """Return a caution where a window has too few holes to put the hide back by."""
    short = [str(number) for number, holes in enumerate(places, 1) if len(holes) < 2]
    if not short:
        return []
    after = f"window {short[0]}" if len(short) == 1 else f"windows {', '.join(short)}"
    return [
        Finding(
            "registration-short-of-scrap",
            Severity.CAUTION,
            f"There is no scrap for two registration holes after {after}: between parts, flaws and edge "
            f"they need {WALL:g} mm of leather all round, {_APART:g} mm apart, where both windows reach.",
            "Guide the hide along a straight edge there and measure the advance, raise window_overlap in the "
            'profile, or use registration = "bed_pins".',
            hide,
            {"windows": float(len(short))},
        )
    ]
