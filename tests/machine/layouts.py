"""Layouts drawn by hand for the tests of planning and writing."""

from __future__ import annotations

import math
from datetime import date

import numpy as np

from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import filleted, line, rectangle, stadium
from strapwright.geometry.transform import Placement
from strapwright.machine.profile.machine import Machine, machine_from
from strapwright.nesting.hide.types import Hide
from strapwright.nesting.layout.types import Clearance, Layout, PlacedPart
from strapwright.parts.part import Feature, Operation, Part, PartKind
from strapwright.rules.leather import Tannage

DAY = date(2026, 2, 3)


def strap(
    belt: str = "ada",
    *,
    length: float = 320.0,
    width: float = 38.0,
    holes: float = 5.0,
    hole_operation: Operation = Operation.CUT,
    rivets: float = 4.5,
    thickness: float = 3.6,
    tannage: Tannage = Tannage.VEGETABLE,
) -> Part:
    """A strap with a round tip, a slot, cut holes, punched rivet holes, a fold line and a crease line."""
    half, back, r = width / 2, 70.0, 4.0
    quarter = math.tan(math.pi / 8)
    tip = length - back - half
    outline = Contour(
        np.array(
            [
                (-back + r, -half, 0.0),
                (tip, -half, 1.0),
                (tip, half, 0.0),
                (-back + r, half, quarter),
                (-back, half - r, 0.0),
                (-back, -half + r, quarter),
            ]
        )
    )
    features = [
        Feature("prong slot", Operation.CUT, stadium(0, 0, 24, 5)),
        Feature("fold line", Operation.SCORE, line(0, -half + 2, 0, half - 2)),
        *(
            Feature("adjusting hole", hole_operation, Contour.circle(tip - 80 + 25 * n, 0, holes))
            for n in range(3)
        ),
        *(
            Feature("fastener hole", Operation.PUNCH, Contour.circle(x, y, rivets))
            for x in (-45.0, 45.0)
            for y in (-8.0, 8.0)
        ),
        Feature("crease line", Operation.SCORE, line(20, half - 4, tip, half - 4)),
    ]
    return Part(f"{belt}/strap", belt, PartKind.STRAP, outline, tuple(features), thickness, tannage)


def keeper(belt: str = "ada", *, thickness: float = 3.6, tannage: Tannage = Tannage.VEGETABLE) -> Part:
    """A keeper strip with two join marks."""
    marks = tuple(Feature("join mark", Operation.SCORE, line(x, -8, x, 8)) for x in (4.0, 100.0))
    outline = rectangle(0, -10, 104, 10)
    return Part(f"{belt}/keeper", belt, PartKind.KEEPER, outline, marks, thickness, tannage)


def plate(
    *features: Feature, outline: Contour | None = None, belt: str = "odd", thickness: float = 3.6
) -> Part:
    """A plain piece of 100 × 60 mm with the features given."""
    shape = outline or filleted([(0, 0), (100, 0), (100, 60), (0, 60)], [3] * 4)
    return Part(f"{belt}/strap", belt, PartKind.STRAP, shape, features, thickness, Tannage.VEGETABLE)


def hide(name: str = "Marrow side", length: float = 1500.0, height: float = 800.0) -> Hide:
    corners = np.array([(0.0, 0.0), (length, 0.0), (length, height), (0.0, height)])
    return Hide(name, corners, (), 0.0, 3.6)


def layout(
    *placed: tuple[Part, float, float, float],
    hides: tuple[Hide, ...] = (),
    clearance: Clearance | None = None,
    on: str = "",
) -> Layout:
    """Parts at (x, y) in mm, turned by degrees, on the first hide or the one named."""
    sides = hides or (hide(),)
    return Layout(
        sides,
        tuple(
            PlacedPart(part, on or sides[0].name, Placement(math.radians(turn), x, y))
            for part, x, y, turn in placed
        ),
        (),
        clearance or Clearance(),
        (),
        0,
        0,
    )


def small_layout() -> Layout:
    """A strap and its keeper, the keeper a quarter turned, and a strap at an odd angle."""
    return layout(
        (strap("ada"), 120.0, 60.0, 0.0),
        (keeper("ada"), 420.0, 40.0, 90.0),
        (strap("bo", width=30.0, length=280.0), 140.0, 240.0, 17.3),
    )


def laser(**changes: object) -> Machine:
    """A laser of 1000 × 600 mm with kerf measured in vegetable leather."""
    limits = {"least_hole": changes.pop("least_hole")} if "least_hole" in changes else {}
    table: dict[str, object] = {"name": "test laser", "kind": "laser", "bed": [1000, 600]}
    rows = [
        {"material": "vegetable", "thickness": t, "width": w, "measured": DAY}
        for t, w in ((2.0, 0.16), (4.0, 0.24))
    ]
    return machine_from({"machine": table | changes, "limits": limits, "kerf": rows}, "laser.toml")


def knife(**changes: object) -> Machine:
    """A drag knife of 1000 × 600 mm."""
    table = {"name": "test knife", "kind": "drag_knife", "bed": [1000, 600]} | changes
    blade = {"offset": 0.6, "max_thickness": 4.0}
    return machine_from({"machine": table, "blade": blade}, "knife.toml")


def tour_length(order, entries, exits, start):
    """How far it is from stop to stop, mm."""
    ends = [start, *(exits[stop] for stop in order)]
    return sum(math.dist(end, entries[stop]) for end, stop in zip(ends, order, strict=False))


def travel_of(paths):
    """How far the tool travels without cutting, from the bed's corner on, mm."""
    into = [path.contour.starts[0] for path in paths]
    return tour_length(range(len(paths)), into, [path.contour.ends[-1] for path in paths], (0.0, 0.0))
