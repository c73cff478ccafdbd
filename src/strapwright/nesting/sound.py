"""Whether spots are sound: looked at afresh by shapely, from the problem alone."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING, Any

from strapwright.nesting.nofit import turned
from strapwright.tolerances import CLEARANCE

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.nesting.problem import Piece, Problem, Spot

_TURN = 1e-9
"""A turn may differ from one allowed by this much, radians."""


def faults(problem: Problem, spots: Sequence[Spot]) -> list[str]:
    """Return every fault of a layout, one line each; none when it is sound.

    Looked at are: each piece once at most, on a ground and in a turn it may take, within the ground and its
    margin, clear of the zones it shuns, apart from every other piece, and locked spots unmoved.

    Args:
        problem: what was to be laid.
        spots: where it lies.

    Example:
        >>> import numpy as np
        >>> from strapwright.nesting.problem import Ground, Piece, Problem, Spot
        >>> square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], dtype=float)
        >>> piece = Piece("tab", square, (0.0,), frozenset())
        >>> problem = Problem((piece,), (Ground(square * 3),))
        >>> faults(problem, [Spot(0, 0, 0.0, 25.0, 0.0)])
        ['tab: reaches off ground 0']
    """
    found = [*_miscounted(problem, spots)]
    for number in range(len(problem.grounds)):
        found += _misplaced(problem, number, [spot for spot in spots if spot.ground == number])
    return found


def _miscounted(problem: Problem, spots: Sequence[Spot]) -> Iterator[str]:
    for number, times in Counter(spot.piece for spot in spots).items():
        if not 0 <= number < len(problem.pieces):
            yield f"piece {number}: there is no such piece"
        elif times > 1:
            yield f"{problem.pieces[number].id}: lies in {times} places"
    there = set(spots)
    for lock in problem.locked:
        if lock not in there:
            yield f"{problem.pieces[lock.piece].id}: was locked and does not lie where it was"
    for spot in spots:
        if not 0 <= spot.piece < len(problem.pieces):
            continue
        piece = problem.pieces[spot.piece]
        if not 0 <= spot.ground < len(problem.grounds) or (
            piece.grounds is not None and spot.ground not in piece.grounds
        ):
            yield f"{piece.id}: may not lie on ground {spot.ground}"
        if not any(abs(math.remainder(spot.turn - turn, 2 * math.pi)) <= _TURN for turn in piece.turns):
            yield f"{piece.id}: lies at {math.degrees(spot.turn):.4g} deg, which it may not"


def placed(piece: Piece, spot: Spot, *, area: int | None = None) -> Any:
    """Return a piece, or one of its areas, as a shapely polygon where it lies."""
    import shapely

    outline = piece.outline if area is None else piece.areas[area].polygon
    return shapely.Polygon(turned(outline, spot.turn) + (spot.x, spot.y))


def _misplaced(problem: Problem, number: int, spots: Sequence[Spot]) -> Iterator[str]:
    import shapely

    spots = [spot for spot in spots if 0 <= spot.piece < len(problem.pieces)]
    ground, margin, gap = problem.grounds[number], problem.margin, problem.gap
    pieces = [problem.pieces[spot.piece] for spot in spots]
    shapes = [placed(piece, spot) for piece, spot in zip(pieces, spots, strict=True)]
    leather = shapely.make_valid(shapely.Polygon(ground.boundary))
    roomy = leather.buffer(CLEARANCE)
    shapely.prepare(roomy)
    zones = [shapely.make_valid(shapely.Polygon(zone.polygon)) for zone in ground.zones]
    for piece, spot, shape in zip(pieces, spots, shapes, strict=True):
        if not roomy.covers(shape):
            yield f"{piece.id}: reaches off ground {number}"
        elif margin and (apart := shapely.distance(leather.boundary, shape)) < margin - CLEARANCE:
            yield f"{piece.id}: {apart:.4f} mm from the edge of ground {number}, must be {margin:g} mm"
        for zone, spoilt in zip(ground.zones, zones, strict=True):
            covers = [shape] if zone.kind in piece.shuns else []
            covers += [
                placed(piece, spot, area=k) for k, area in enumerate(piece.areas) if zone.kind in area.shuns
            ]
            if any(_too_near(cover, spoilt, margin) for cover in covers):
                yield f"{piece.id}: lies on or too near a {zone.kind} zone of ground {number}"
    tree = shapely.STRtree(shapes)
    near = tree.query(shapes, predicate="dwithin", distance=max(gap - CLEARANCE, 0.0))
    for i, j in near[:, near[0] < near[1]].T.tolist():
        if _too_near(shapes[i], shapes[j], gap):
            apart = shapely.distance(shapes[i], shapes[j])
            yield f"{pieces[i].id} and {pieces[j].id}: {apart:.4f} mm apart, must be {gap:g} mm"


def _too_near(first: Any, second: Any, least: float) -> bool:
    import shapely

    apart = float(shapely.distance(first, second))
    if apart > 0 or least > CLEARANCE:
        return apart < least - CLEARANCE
    # Edges may touch, and cross by rounding only.
    return not shapely.intersection(first, second).buffer(-CLEARANCE).is_empty
