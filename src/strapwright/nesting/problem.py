"""The problem a nest solves, in polygons alone: pieces, grounds, what each piece shuns, and where pieces lie.

A part becomes a `Piece`, a hide a `Ground`, turned until straps lie along x, round ends covered by chords;
every engine takes a `Problem` and answers with `PiecePlacement`s. Whether they solve it
`strapwright.nesting.problem_check` says.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from strapwright.core.errors import NestError
from strapwright.core.tolerances import NESTING_CHORD, SAME_LINE
from strapwright.geometry.polygon import polygons_in, to_polygon, turned
from strapwright.geometry.transform import Placement
from strapwright.nesting.hide.types import FlawKind, agrees, patches, tanned_as

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Points
    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import Clearance
    from strapwright.parts.part import Part, Runs

_FAR = 1e5
"""Further than any part reaches, mm."""


@dataclass(frozen=True, eq=False)
class Zone:
    """A place on a ground that some areas of some pieces may not lie on.

    Args:
        polygon: its outline, (N, 2) mm.
        kind: a word that an area may shun: ``"hole"``, ``"mark"``, ``"loose"``, or any other.
    """

    polygon: Points
    kind: str = "hole"


@dataclass(frozen=True, eq=False)
class Ground:
    """A sheet that pieces may lie on.

    Args:
        boundary: its outline, counter-clockwise, (N, 2) mm.
        zones: the places on it that are not all good.
    """

    boundary: Points
    zones: tuple[Zone, ...] = ()


@dataclass(frozen=True, eq=False)
class Area:
    """A share of a piece, and the kinds of zone it may not lie on.

    Args:
        polygon: its outline in the piece's frame, (N, 2) mm, within the piece's own.
        shuns: kinds of zone.
    """

    polygon: Points
    shuns: frozenset[str]


@dataclass(frozen=True, eq=False)
class Piece:
    """Something to be laid on a ground.

    Args:
        id: its name, unlike any other's.
        outline: counter-clockwise, (N, 2) mm, flattened outward where it was round.
        turns: the turns it may take, radians from the ground's x axis.
        shuns: kinds of zone that no point of it may lie on.
        areas: further kinds shunned by some of its area only.
        value: what placing it is worth; its area unless something else is sought.
        shape: pieces of one number have the same outline, turns and areas.
        strap: whether it is long and runs one way, so that rows of such pieces fill a ground.
        grounds: numbers of the grounds it may lie on; None for all.
        assembly: a name shared by the pieces that are of use only together; empty for one by itself.
    """

    id: str
    outline: Points
    turns: tuple[float, ...]
    shuns: frozenset[str]
    areas: tuple[Area, ...] = ()
    value: float = 0.0
    shape: int = 0
    strap: bool = False
    grounds: tuple[int, ...] | None = None
    assembly: str = ""


@dataclass(frozen=True)
class PiecePlacement:
    """The placement of a piece on a ground: turned about its frame's origin, then moved.

    Args:
        piece: the piece's number.
        ground: the ground's number.
        turn: radians.
        x: of the piece's origin on the ground, mm.
        y: of the piece's origin on the ground, mm.
    """

    piece: int
    ground: int
    turn: float
    x: float
    y: float

    def apply(self, points: Points) -> Points:
        """Return points of the piece's frame where this puts them on the ground, (N, 2) mm."""
        moved: Points = turned(points, self.turn) + np.array([self.x, self.y])
        return moved


@dataclass(frozen=True, eq=False)
class Problem:
    """What is to be laid where.

    Args:
        pieces: in any order.
        grounds: in the order they are to be used up.
        gap: least distance between two pieces, mm.
        margin: least distance of a piece from a ground's edge, and of what shuns a zone from it, mm.
        locked: placements that must stay as they are.
        shared: two straps may lie exactly so far apart instead of the gap, along a straight edge; None: not.
    """

    pieces: tuple[Piece, ...]
    grounds: tuple[Ground, ...]
    gap: float = 0.0
    margin: float = 0.0
    locked: tuple[PiecePlacement, ...] = field(default=())
    shared: float | None = None

    def pieces_for(self, ground: int) -> list[Piece]:
        """Return the pieces that may lie on a ground, by its number."""
        return [piece for piece in self.pieces if piece.grounds is None or ground in piece.grounds]

    @property
    def nearest(self) -> float:
        """The least distance of two pieces in any layout, mm."""
        return self.gap if self.shared is None else min(self.gap, self.shared)


def build_problem(parts: Sequence[Part], hides: Sequence[Hide], clearance: Clearance) -> Problem:
    """Return what is to be nested; each ground is its hide turned so that straps lie along x.

    Args:
        parts: the parts.
        hides: the hides.
        clearance: what is kept free.

    Raises:
        NestError: a part's outline crosses itself.
    """
    kinds = {str(flaw.kind) for hide in hides for flaw in hide.flaws}
    found = {thickness for hide in hides for thickness, _ in _by_thickness(hide)}
    known: dict[object, Piece] = {}
    pieces = []
    for part in parts:
        unfit = frozenset(_of(t) for t in found if not agrees(t, part.thickness))
        key = (part.outline, part.turns, part.hidden, part.loaded, unfit)
        if key not in known:
            known[key] = _piece(part, kinds, len(known), unfit)
        like = known[key]
        allowed = tuple(
            n
            for n, hide in enumerate(hides)
            if tanned_as(hide.tannage, part.tannage)
            and (
                agrees(hide.thickness, part.thickness)
                or any(agrees(zone.thickness, part.thickness) for zone in hide.thickness_zones)
            )
        )
        grounds = None if len(allowed) == len(hides) else allowed
        pieces.append(replace(like, id=part.id, grounds=grounds, assembly=_assembly_of(part)))
    grounds_ = tuple(
        Ground(
            turned(hide.outline, -hide.strap_direction),
            tuple(
                Zone(turned(polygon, -hide.strap_direction), kind)
                for kind, polygon in (
                    *((str(flaw.kind), flaw.polygon) for flaw in hide.flaws),
                    *((_of(thickness), polygon) for thickness, polygon in _by_thickness(hide)),
                )
            ),
        )
        for hide in hides
    )
    shared = clearance.kerf if clearance.shared else None
    return Problem(tuple(pieces), grounds_, clearance.between, clearance.edge, shared=shared)


def with_finer_outlines(problem: Problem, parts: Sequence[Part]) -> Problem:
    """Return a problem whose pieces are nearer to their round parts than two lines that count as one.

    Args:
        problem: as :func:`build_problem` gives it; its grounds may stand in another order.
        parts: the parts it was made of.
    """
    known: dict[object, Points] = {}
    for part in parts:
        if part.outline not in known:
            known[part.outline] = _outline(part, SAME_LINE / 2)
    pieces = (
        replace(piece, outline=known[part.outline]) for piece, part in zip(problem.pieces, parts, strict=True)
    )
    return replace(problem, pieces=tuple(pieces))


def placement_of(placed: PiecePlacement, hide: Hide) -> Placement:
    """Return where a spot puts a part on its hide, in the hide's own frame."""
    x, y = turned(np.array([[placed.x, placed.y]]), hide.strap_direction)[0]
    return Placement(hide.strap_direction + placed.turn, float(x), float(y))


def _by_thickness(hide: Hide) -> list[tuple[float, Points]]:
    """Return the places of a hide whose thickness was measured, where it is not of one thickness."""
    return [(thickness, corners) for thickness, corners in patches(hide) if thickness is not None]


def _of(thickness: float) -> str:
    """Return the kind of zone that parts of another thickness shun."""
    return f"{thickness:g} mm thick"


def _assembly_of(part: Part) -> str:
    """Return a name for the belt a part belongs to, one for each copy where copies are numbered.

    Example:
        >>> from types import SimpleNamespace
        >>> parts = [SimpleNamespace(id=f"i/{k}-2", belt_id="i", kind=k) for k in ("strap", "keeper")]
        >>> [_assembly_of(part) for part in parts]
        ['i-2', 'i-2']
    """
    copy = part.id.removeprefix(f"{part.belt_id}/{part.kind}")
    return part.belt_id if copy == part.id else part.belt_id + copy


def _piece(part: Part, kinds: set[str], shape: int, unfit: frozenset[str]) -> Piece:
    """Return a part as a piece; only the kinds of flaw there are make a difference."""
    outline = _outline(part, NESTING_CHORD)
    x0, _, x1, _ = part.outline.bounding_box
    whole, areas = {str(FlawKind.HOLE), *unfit}, []
    for kind, runs in ((FlawKind.MARK, _between(part.hidden)), (FlawKind.LOOSE, part.loaded)):
        if str(kind) not in kinds:
            continue
        if any(low <= x0 and high >= x1 for low, high in runs):
            whole.add(str(kind))
            continue
        areas += [Area(points, frozenset({str(kind)})) for run in runs for points in _cut(outline, run)]
    area = part.outline.area
    return Piece(part.id, outline, part.turns, frozenset(whole), tuple(areas), area, shape, part.lies_along)


def _outline(part: Part, chord: float) -> Points:
    """Return a part's outline, round ends covered by chords with at most that error, mm."""
    import shapely

    outline = to_polygon(part.outline, chord, "outward")
    if not shapely.Polygon(outline).is_valid:
        raise NestError(f"{part.id}: its outline crosses itself; it cannot be nested")
    # Cut back to the true box: chords round a tip would make the part a hair too long to fit.
    (outline,) = _corners(shapely.Polygon(outline).intersection(shapely.box(*part.outline.bounding_box)))
    return outline


def _between(runs: Runs) -> Runs:
    """Return what lies between runs and beyond them.

    Example:
        >>> _between(((0.0, 2.0), (5.0, 7.0)))
        ((-100000.0, 0.0), (2.0, 5.0), (7.0, 100000.0))
    """
    ends = [-_FAR, *(x for run in sorted(runs) for x in run), _FAR]
    return tuple((low, high) for low, high in zip(ends[::2], ends[1::2], strict=True) if low < high)


def _cut(outline: Points, run: tuple[float, float]) -> list[Points]:
    """Return the pieces of an outline between two x, counter-clockwise."""
    import shapely

    low, high = max(run[0], -_FAR), min(run[1], _FAR)
    return _corners(shapely.Polygon(outline).intersection(shapely.box(low, -_FAR, high, _FAR)))


def _corners(found: Any) -> list[Points]:
    """Return the polygons of a shapely geometry, counter-clockwise, no corner repeated."""
    import shapely

    return [
        shapely.get_coordinates(shapely.get_exterior_ring(shapely.orient_polygons(piece)))[:-1]
        for piece in polygons_in(found)
    ]
