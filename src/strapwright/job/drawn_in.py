"""Openings and ornaments of the user's own drawing: where they lie on a belt, and what to know of them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from strapwright.core.errors import PartError
from strapwright.core.findings import Finding, Severity
from strapwright.job.spec.strap import drawings_of
from strapwright.parts.drawn import Drawing, check_opening, repeated
from strapwright.parts.part import Operation
from strapwright.rules.sizing import centre_from_belt_size

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.job.catalogue.leather import Leather
    from strapwright.job.dimensions.fit import BeltFigures
    from strapwright.job.spec.drawing import AlongStrap
    from strapwright.job.spec.strap import Belt, StrapTable
    from strapwright.parts.strap import Strap


def with_drawings(
    asked: Belt, strap: Strap, fit: BeltFigures, leather: Leather
) -> tuple[Strap, tuple[Finding, ...]]:
    """Return a belt's strap with the drawn openings and ornaments asked for, and which were left out.

    Args:
        asked: what is asked for.
        strap: without them.
        fit: how it fits.
        leather: its leather.

    Raises:
        PartError: one finds no room: its table, the file, the shape and what to do.
    """
    findings: list[Finding] = []
    for number, hole in enumerate(asked.drawn_holes, 1):
        try:
            drawing = Drawing(hole.drawing.name, hole.drawing.shapes, Operation.CUT)
            features = drawing.at(place_along(hole.at, strap, fit), hole.across, hole.turn)
            check_opening(drawing, features, strap, leather.thickness)
        except PartError as error:
            raise PartError(f"hole[{number}]: {error}") from error
        strap = replace(strap, drawn=strap.drawn + features)
    for number, one in enumerate(asked.ornaments, 1):
        run = (place_along(one.start, strap, fit), place_along(one.end, strap, fit))
        try:
            drawing = Drawing(one.drawing.name, one.drawing.shapes, Operation(one.operation or "score"))
            features, made, left = repeated(
                drawing, strap, (min(run), max(run)), one.repeat, one.across, one.margin, one.clear
            )
        except PartError as error:
            raise PartError(f"ornament[{number}]: {error}") from error
        strap = replace(strap, drawn=strap.drawn + features)
        if left:
            findings.append(
                Finding(
                    "ornament-left-out",
                    Severity.NOTE,
                    f"{one.drawing.name} is made {made} times; {left} more would lie within {one.clear:g} mm "
                    "of holes, lines or the edge and are left out.",
                    "Leave it so, or choose another from, to or repeat.",
                    asked.id,
                    {"made": float(made), "left_out": float(left)},
                )
            )
    return strap, tuple(findings)


def place_along(place: AlongStrap, strap: Strap, fit: BeltFigures) -> float:
    """Return x of a place along a belt, mm from its fold line.

    Args:
        place: as written.
        strap: the belt's.
        fit: how it fits, which says where the outer end of the fold lies.
    """
    if place.origin == "tip":
        return strap.span - place.distance
    return place.distance if place.origin == "fold" else centre_from_belt_size(place.distance, fit.seat)


def not_shown(asked: Belt | StrapTable) -> Iterator[Finding]:
    """Yield what the drawings of a belt or strap hold but do not show."""
    for file in dict.fromkeys(drawings_of(asked)):
        if file.left_out:
            yield Finding(
                "drawing-not-shown",
                Severity.CAUTION,
                f"{file.name}: left out, because the drawing does not show it: {file.left_out}.",
                "If it belongs to the part, show it in the drawing and save again.",
                asked.id,
            )
