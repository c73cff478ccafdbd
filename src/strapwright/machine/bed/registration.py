"""Registration holes: two small holes in scrap by which a hide is placed again for the next window.

A hide is never put back exactly. So both holes can be touched where they really lie, and the window is then
written from there.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PlanError
from strapwright.core.findings import Finding, Severity
from strapwright.core.tolerances import NESTING_CHORD
from strapwright.geometry.contour import Contour
from strapwright.geometry.polygon import to_polygon
from strapwright.geometry.transform import Placement
from strapwright.machine.bed.bed_limits import off_bed
from strapwright.machine.bed.windows import by_part
from strapwright.machine.hide_pose import Touch, hide_pose, touch_findings
from strapwright.machine.types import HOLE_NAMES, REGISTRATION, CutPath
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.hide_pose import Point
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.types import BedWindow, CutSheet
    from strapwright.nesting.hide.types import Hide

DIAMETER: Final = 4.0
"""Of a registration hole, mm: a punch's shank or a pin goes through it."""

WALL: Final = 3.0
"""Leather left between a registration hole and parts, flaws and the hide's edge, mm."""

_APART: Final = 40.0
"""Two holes nearer than this hold no turn, mm."""

FOUND_WITHIN: Final = 0.25
"""How nearly the middle of a hole is found with a pointer, mm: from memory, no source."""

_MOST_DIFFERENCE: Final = 2.0
"""Two holes that are further apart, or nearer, than they were cut by more than this are not these, mm."""

_ROUNDING: Final = 0.005
"""Places are given to a hundredth of a millimetre, so that they can be found with a rule's numbers."""


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
        corners = [(x, y) for x, y in shapely.get_coordinates(zone).round(2).tolist()]
        order = sorted(corners, key=lambda corner: corner[::-1])
        far = len(order) > 1 and math.dist(order[0], order[-1]) >= _APART
        found.append((order[0], order[-1]) if far else tuple(order[:1]))
    return found


def hole_diameter(machine: Machine) -> float:
    """Return the diameter of this machine's registration holes, mm: 4, or the least it makes if more."""
    return max(DIAMETER, machine.least_hole)


def registration_holes(places: Sequence[Point], machine: Machine) -> tuple[CutPath, ...]:
    """Return the holes' paths; nobody measures them, so no kerf is allowed for."""
    circles = [Contour.circle(*place, hole_diameter(machine)) for place in places]
    return tuple(CutPath(REGISTRATION, "registration hole", Operation.CUT, one) for one in circles)


def scrap_findings(hide: str, places: Sequence[Sequence[Point]]) -> Iterator[Finding]:
    """Yield a caution where a window has too few holes to put the hide back by."""
    short = [str(number) for number, holes in enumerate(places, 1) if len(holes) < 2]
    if short:
        after = f"window {short[0]}" if len(short) == 1 else f"windows {', '.join(short)}"
        yield Finding(
            "registration-short-of-scrap",
            Severity.CAUTION,
            f"There is no scrap for two registration holes after {after}: between parts, flaws and edge "
            f"they need {WALL:g} mm of leather all round, {_APART:g} mm apart, where both windows reach.",
            "Guide the hide along a straight edge there and measure the advance, raise window_overlap in the "
            'profile, or use registration = "bed_pins".',
            hide,
            {"windows": float(len(short))},
        )


def window_from_holes(plan: CutPlan, number: int, found: Mapping[str, Point]) -> CutPlan:
    """Return the plan of one window, written from where its registration holes really lie.

    Everything of the window is turned and moved as the two holes are; nothing is stretched.

    Args:
        plan: of one hide, cut in windows.
        number: of the window.
        found: where each hole of `HOLE_NAMES` was touched, bed mm.

    Raises:
        PlanError: no such window, one without two holes before it, holes that are others, or a part that
            leaves the bed so.
    """
    sheet, window = _window_numbered(plan, number)
    before = sheet.pose.placement.then(Placement(0.0, -window.shift, 0.0))
    touches = [
        Touch(before.inverse.apply_to_point(*hole), found[name], f"registration hole {name}")
        for name, hole in zip(HOLE_NAMES, window.holes, strict=True)
    ]
    pose = hide_pose(touches, 0.9 * _APART, _MOST_DIFFERENCE)
    lying = sheet.moved(before.inverse.then(pose.placement))
    off = [line for part in by_part([lying.paths]) for line in off_bed(part, plan.machine)]
    if off:
        nearer = f"{sheet.name}: lay the hide nearer to where its sheet has the holes; touch both again"
        raise PlanError("\n".join([*off, nearer]))
    holes = tuple(found[name] for name in HOLE_NAMES)
    window = replace(window, touched=True, holes=holes)
    touched = replace(lying, name=f"{sheet.name}, touched", pose=pose, window=window)
    findings = tuple(one for one in plan.findings if one.code not in _OF_ALL_WINDOWS)
    return replace(plan, sheets=(touched,), whole=(), findings=(*findings, *touch_findings(sheet.hide, pose)))


_OF_ALL_WINDOWS: Final = (
    "cut-in-windows",
    "hide-not-touched",
    "registration-short-of-scrap",
    "touches-differ",
)
"""Findings that say nothing of one window that was touched."""


def _window_numbered(plan: CutPlan, number: int) -> tuple[CutSheet, BedWindow]:
    """Return a window that has two registration holes before it, or refuse."""
    windows = [(one, one.window) for one in plan.sheets if one.window is not None and not one.lay_by]
    if not windows:
        raise PlanError(f"--window {number}: nothing is cut in windows here; leave it out")
    hides = list(dict.fromkeys(sheet.hide for sheet, _ in windows))
    if len(hides) > 1:
        raise PlanError(
            f"--window is of one hide, and {', '.join(hides)} are cut in windows; cut each by itself"
        )
    able = {window.number: (sheet, window) for sheet, window in windows if len(window.holes) == 2}
    if number in able:
        return able[number]
    expected = f"expected one of {', '.join(map(str, able))}" if able else "no window here has; leave it out"
    raise PlanError(
        f"--window {number} has no two registration holes before it; {expected}; window 1 is written from "
        'two points of the hide, with --touch "X,Y=X,Y"'
    )


def holds_within(sheet: CutSheet, machine: Machine) -> tuple[float, float] | None:
    """Return how far cuts may be off in a window whose holes were touched.

    Each hole is found within `FOUND_WITHIN`, δ. Two such misses shift what is cut by their mean a and turn it
    by twice their half difference b over the holes' distance d; |a|² + |b|² ≤ δ², so that a point R from the
    middle of both is off by at most δ √(1 + (2R/d)²).

    Args:
        sheet: of a window.
        machine: says how far windows overlap.

    Returns:
        Where they meet those of the window before, and anywhere, mm; None without two holes, or where nothing
        goes on from the window before.
    """
    window = sheet.window
    if window is None or len(window.holes) != len(HOLE_NAMES):
        return None
    one, two = window.holes
    middle = (one[0] + two[0]) / 2, (one[1] + two[1]) / 2
    ends = [
        point
        for path in sheet.paths
        if path.is_outline and not path.contour.closed
        for point in (path.contour.starts[0].tolist(), path.contour.ends[-1].tolist())
        if point[0] < machine.window_margin + machine.window_overlap
    ]
    if not ends:
        return None
    boxes = [path.contour.bounding_box for path in sheet.paths if path.part_id != REGISTRATION]
    corners = [(x, y) for box in boxes for x in box[::2] for y in box[1::2]]

    def off(points: Sequence[Point]) -> float:
        far = max(math.dist(middle, point) for point in points)
        return FOUND_WITHIN * math.hypot(1.0, 2 * far / math.dist(one, two))

    return off(ends), off(corners)
