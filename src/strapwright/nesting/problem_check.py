"""Check that placements solve a problem; nothing here is shared with the search that found them."""

from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from strapwright.core.tolerances import CLEARANCE
from strapwright.nesting.layout.verify import too_near

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.core.arrays import Points
    from strapwright.nesting.problem import Piece, PiecePlacement, Problem


_TURN = 1e-9
"""A turn may differ from one allowed by this much, radians."""


def _shape(points: Points, placed: PiecePlacement) -> Any:
    """Return an outline in a piece's frame where a placement puts it, as a shapely polygon."""
    import shapely

    at = (points @ (1, 1j)) * cmath.exp(1j * placed.turn) + complex(placed.x, placed.y)
    return shapely.Polygon(np.column_stack([at.real, at.imag]))


def faults_of(problem: Problem, placements: Sequence[PiecePlacement]) -> list[str]:
    """Return everything that is wrong with placements, one line each; nothing where they may be cut.

    Args:
        problem: the pieces and grounds.
        placements: at most one for each piece.

    Example:
        >>> from strapwright.nesting.problem import Ground, Piece, Problem, PiecePlacement
        >>> square = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)])
        >>> one = Piece("one", square, (0.0,), frozenset({"hole"}))
        >>> faults_of(Problem((one,), (Ground(3 * square),)), [PiecePlacement(0, 0, 0.0, 25.0, 0.0)])
        ['one: reaches off ground 1']
    """
    faults = list(_miscounted(problem, placements))
    for number in range(len(problem.grounds)):
        on_it = [placed for placed in placements if placed.ground == number]
        if on_it:
            faults += _misplaced(problem, number, on_it)
    return faults


def _miscounted(problem: Problem, placements: Sequence[PiecePlacement]) -> Iterator[str]:
    seen: set[int] = set()
    for placed in placements:
        piece = problem.pieces[placed.piece]
        if placed.piece in seen:
            yield f"{piece.id}: placed twice"
        seen.add(placed.piece)
        if piece.grounds is not None and placed.ground not in piece.grounds:
            yield f"{piece.id}: may not be on ground {placed.ground + 1}"
        if all(abs(math.remainder(placed.turn - turn, 2 * math.pi)) > _TURN for turn in piece.turns):
            yield f"{piece.id}: is turned by {math.degrees(placed.turn):.6g} deg, which is not allowed"
    held = set(placements)
    for placed in problem.locked:
        if placed not in held:
            yield f"{problem.pieces[placed.piece].id}: is locked, but was moved"


def _misplaced(problem: Problem, number: int, on_it: Sequence[PiecePlacement]) -> Iterator[str]:
    import shapely

    ground, pieces = problem.grounds[number], [problem.pieces[placed.piece] for placed in on_it]
    shapes = [_shape(problem.pieces[one.piece].outline, one) for one in on_it]
    leather = shapely.Polygon(ground.boundary)
    inside = shapely.covers(leather.buffer(CLEARANCE), shapes)
    margin = shapely.distance(leather.exterior, shapes)
    for piece, within, apart in zip(pieces, inside, margin, strict=True):
        if not within:
            yield f"{piece.id}: reaches off ground {number + 1}"
        elif apart < problem.margin - CLEARANCE:
            yield f"{piece.id}: {apart:.4f} mm from the edge, must be {problem.margin:g} mm"
    for count, zone in enumerate(ground.zones, start=1):
        place = shapely.Polygon(zone.polygon)
        if not place.is_valid:
            place = shapely.make_valid(place)
        for piece, placed, shape in zip(pieces, on_it, shapes, strict=True):
            for part in _shunning(piece, zone.kind, placed, shape):
                if too_near(place, part, problem.margin):
                    apart = shapely.distance(place, part)
                    yield (
                        f"{piece.id}: {apart:.4f} mm from zone {count} ({zone.kind}), "
                        f"must be {problem.margin:g} mm"
                    )
    tree = shapely.STRtree(shapes)
    near = tree.query(shapes, predicate="dwithin", distance=max(problem.gap - CLEARANCE, 0.0))
    for i, j in near[:, near[0] < near[1]].T.tolist():
        if too_near(shapes[i], shapes[j], problem.gap):
            apart = shapely.distance(shapes[i], shapes[j])
            yield f"{pieces[i].id} and {pieces[j].id}: {apart:.4f} mm apart, must be {problem.gap:g} mm"


def _shunning(piece: Piece, kind: str, placed: PiecePlacement, whole: Any) -> Iterator[Any]:
    """Yield the shapes of a placed piece that may not lie on a kind of zone."""
    if kind in piece.shuns:
        yield whole
        return
    for area in piece.areas:
        if kind in area.shuns:
            yield _shape(area.polygon, placed)
