"""A hide: its outline, its flaws, the direction straps lie along, how thick it is, and which face is up.

**Frames.** Every figure of a hide, and every placement on it, is in the hide's own frame: x to the right
and y up as it lies on the bench or the machine's bed, whichever face is up. Parts are drawn grain side up.
On a hide that lies flesh side up they are therefore mirrored as they are placed (`Placement.mirror`), so
that each still has its grain on the hide's grain; files, pictures, flaws by tape and remnants need no
mirroring of their own. See `strapwright.nesting.layout.flesh_side`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.core.errors import NestError
from strapwright.core.text import counted, printable
from strapwright.core.tolerances import NESTING_CHORD
from strapwright.geometry.polygon import polygons_in, signed_area
from strapwright.nesting.hide.outline_check import (
    COVERED,
    counter_clockwise,
    flaw_problem,
    leather_of,
    outline_problem,
)
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.core.arrays import Floats
    from strapwright.core.findings import Finding

THICKNESS_AGREES: Final = 0.3
"""A hide may be this much thicker or thinner than the job says, mm: what hides of one order vary by."""

OTHER_HOLE: Final = "void"
"""Another word for a hole in hide files and drawings."""


class FlawKind(StrEnum):
    """What is wrong with a place: nothing may lie on it, it is only ugly, or it is stretchy."""

    HOLE = "hole"
    MARK = "mark"
    LOOSE = "loose"

    @classmethod
    def _missing_(cls, value: object) -> FlawKind | None:
        return cls.HOLE if value == OTHER_HOLE else None

    def counted(self, count: int) -> str:
        """Return so many flaws of this kind in words.

        Example:
            >>> FlawKind.HOLE.counted(1), FlawKind.LOOSE.counted(2)
            ('1 hole', '2 loose places')
        """
        return counted(count, "loose place" if self is FlawKind.LOOSE else str(self))


class Face(StrEnum):
    """A side of the leather: the one the hair grew on, or the one towards the flesh."""

    GRAIN = "grain"
    FLESH = "flesh"


@dataclass(frozen=True, eq=False)
class Flaw:
    """A place on a hide that parts keep off.

    Args:
        kind: ``hole`` (or a cut), ``mark`` (scar, brand: sound but ugly) or ``loose`` (belly, stretchy).
        polygon: its outline, (N, 2) mm, not repeated at the end, in either direction.
        round: centre x, centre y and diameter, mm, of a round one; the polygon then covers it.
    """

    kind: FlawKind
    polygon: Floats
    round: tuple[float, float, float] | None = None


@dataclass(frozen=True, eq=False)
class ThicknessZone:
    """A place on a hide that is thicker or thinner than the rest.

    Args:
        thickness: of the leather there, mm.
        polygon: its outline, (N, 2) mm, not repeated at the end, in either direction.
    """

    thickness: float
    polygon: Floats


@dataclass(frozen=True, eq=False)
class FirstCut:
    """The straight cut that squares a raw edge before anything else is cut.

    Args:
        start: one end, (x, y) mm.
        end: the other end, (x, y) mm, in the strap direction from the start.
        area: of the leather it cuts off, mm².
    """

    start: tuple[float, float]
    end: tuple[float, float]
    area: float


@dataclass(frozen=True)
class Back:
    """The line of an animal's back on its hide, along which the leather is firmest.

    Args:
        start: a point of it, (x, y) mm.
        end: another. Where the line runs along an edge, the leather lies to the left of the way there.
        assumed: whether nobody has said so.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    assumed: bool = False

    @property
    def direction(self) -> float:
        """The way from start to end, radians from x."""
        return math.atan2(self.end[1] - self.start[1], self.end[0] - self.start[0])


@dataclass(frozen=True, eq=False)
class Hide:
    """One hide as it lies on the bench; x to the right, y up.

    Args:
        name: what you call it.
        outline: closed, counter-clockwise, simple, (N, 2) mm, the first corner not repeated.
        flaws: places to keep off.
        strap_direction: the direction straps lie along, radians from x, counter-clockwise.
        thickness: mm, or None where it was not measured.
        digest: SHA-256 of everything the hide was read from; empty for one made in memory.
        tolerance: how far a strap may be turned off the strap direction, radians, not negative.
        face_up: the face one sees; see the module's word on frames.
        thickness_zones: places thicker or thinner than the rest; where two overlap the later counts.
        parent: name of the hide this remnant was cut from; empty for a whole hide.
        first_cut: the cut that squared its edge; the outline is what that cut left.
        back: where its back is; None on one made in memory: see `strapwright.nesting.hide.backbone.back_of`.
        findings: what the reader changed or noticed.
        tannage: of the leather; None where nobody has said.

    Raises:
        NestError: the outline, a flaw or a zone is not a sound shape, or lies off the hide.

    Example:
        >>> hide = Hide("bend", np.array([(0, 0), (1200, 0), (1200, 700), (0, 700)]))
        >>> hide.area
        840000.0
    """

    name: str
    outline: Floats
    flaws: tuple[Flaw, ...] = ()
    strap_direction: float = 0.0
    thickness: float | None = None
    digest: str = ""
    tolerance: float = 0.0
    face_up: Face = Face.GRAIN
    thickness_zones: tuple[ThicknessZone, ...] = ()
    parent: str = ""
    first_cut: FirstCut | None = None
    back: Back | None = None
    findings: tuple[Finding, ...] = ()
    tannage: Tannage | None = None

    def __post_init__(self) -> None:
        for key in ("name", "parent"):  # a file's name may hold anything
            object.__setattr__(self, key, printable(getattr(self, key)))
        problems = list(self._problems())
        if problems:
            raise NestError("; ".join(f"hide {self.name}: {text}" for text in problems))
        object.__setattr__(self, "outline", counter_clockwise(self.outline))

    def _problems(self) -> Iterator[str]:
        wrong = outline_problem(self.outline)
        if wrong:
            yield wrong
        leather = None if wrong else leather_of(self.outline)
        named = [(f"flaw {n} ({flaw.kind})", flaw.polygon) for n, flaw in enumerate(self.flaws, start=1)]
        named += [(f"zone {n}", zone.polygon) for n, zone in enumerate(self.thickness_zones, start=1)]
        for name, polygon in named:
            text = flaw_problem(polygon, leather)
            if text:
                yield f"{name}: {text}"
        if not self.tolerance >= 0:
            yield f"tolerance: found {self.tolerance:g} rad, expected 0 or more"

    def cut_to(self, outline: Floats) -> Hide:
        """Return what an outline within it leaves of the hide: flaws and zones that lie off that go."""
        import shapely

        def left(shape: Any) -> bool:
            return bool(shapely.intersects(shapely.Polygon(shape.polygon), leather))

        leather = shapely.Polygon(outline)
        return replace(
            self,
            outline=outline,
            flaws=tuple(filter(left, self.flaws)),
            thickness_zones=tuple(filter(left, self.thickness_zones)),
        )

    @property
    def area(self) -> float:
        """Area inside the outline, flaws included, mm²."""
        return abs(signed_area(self.outline))

    @property
    def whole_area(self) -> float:
        """Area of the hide before its edge was squared: what was paid for, mm²."""
        return self.area + (self.first_cut.area if self.first_cut is not None else 0.0)

    @property
    def flaw_area(self) -> float:
        """Area of the hide that flaws cover, each place counted once, mm²."""
        return self._covered(tuple(FlawKind))

    @property
    def void_area(self) -> float:
        """Area of the hide that holes and cuts take away, each place counted once, mm²."""
        return self._covered((FlawKind.HOLE,))

    @property
    def consumed(self) -> bool:
        """Whether holes and cuts leave nothing of it."""
        # For most hides a sum decides; to join thousands of holes takes seconds.
        holes = sum(abs(signed_area(flaw.polygon)) for flaw in self.flaws if flaw.kind is FlawKind.HOLE)
        return self.area - holes < 2 * COVERED and self.area - self.void_area < COVERED

    def _covered(self, kinds: tuple[FlawKind, ...]) -> float:
        import shapely

        flaws = shapely.union_all(
            [shapely.Polygon(flaw.polygon) for flaw in self.flaws if flaw.kind in kinds]
        )
        return float(shapely.intersection(flaws, shapely.Polygon(self.outline)).area)


def round_flaw(kind: FlawKind, x: float, y: float, diameter: float) -> Flaw:
    """Return a round flaw, its polygon as near the circle as nesting needs it.

    Args:
        kind: what is wrong there.
        x: of its centre, mm.
        y: of its centre, mm.
        diameter: mm, more than 0.
    """
    return Flaw(kind, disc(x, y, diameter, NESTING_CHORD), (x, y, diameter))


def disc(x: float, y: float, diameter: float, chord: float) -> Floats:
    """Return a polygon that covers a round flaw and strays from it by at most ``chord`` mm."""
    radius = diameter / 2
    sides = max(8, math.ceil(math.pi / math.acos(radius / (radius + chord))))
    reach = radius / math.cos(math.pi / sides)
    angles = np.arange(sides) * (2 * math.pi / sides)
    return np.column_stack([x + reach * np.cos(angles), y + reach * np.sin(angles)])


def patches(hide: Hide) -> list[tuple[float | None, Floats]]:
    """Return a hide as patches of one thickness that cover it once; none where it has no thickness zones.

    Where two zones overlap, the later one in the file counts. A patch with a hole in it is cut in two
    through the hole, so that each is one plain outline.

    Example:
        >>> import numpy as np
        >>> from strapwright.nesting.hide.types import Hide, ThicknessZone
        >>> square = np.array([(0, 0), (900, 0), (900, 900), (0, 900)])
        >>> hide = Hide("a", square, thickness=3.6, thickness_zones=(ThicknessZone(3.0, square / 3 + 300),))
        >>> [(thickness, len(corners)) for thickness, corners in patches(hide)]
        [(3.6, 8), (3.6, 8), (3.0, 4)]
    """
    import shapely

    if not hide.thickness_zones:
        return []
    left = shapely.Polygon(hide.outline)
    found: list[tuple[float | None, Floats]] = []
    for zone in reversed(hide.thickness_zones):
        place = shapely.Polygon(zone.polygon)
        found += [(zone.thickness, corners) for corners in _without_holes(left & place)]
        left = left - place
    found += [(hide.thickness, corners) for corners in _without_holes(left)]
    return found[::-1]


def agrees(thickness: float | None, wanted: float) -> bool:
    """Whether leather suits a part that wants a thickness, mm; any does where it was not measured."""
    return thickness is None or abs(thickness - wanted) <= THICKNESS_AGREES + 1e-9


def tanned_as(tannage: Tannage | None, wanted: Tannage) -> bool:
    """Whether leather suits a part that wants a tannage; what nobody has said, or knows, is not compared.

    Example:
        >>> tanned_as(None, Tannage.CHROME), tanned_as(Tannage.VEGETABLE, Tannage.CHROME)
        (True, False)
    """
    return tannage in (None, Tannage.UNKNOWN, wanted) or wanted is Tannage.UNKNOWN


def _without_holes(shape: Any) -> list[Floats]:
    """Return a shape's polygons, cut upright through their holes until none has any."""
    import shapely

    out: list[Floats] = []
    left = polygons_in(shape, 1.0)
    while left:
        piece = left.pop()
        if not piece.interiors:
            corners: Floats = shapely.get_coordinates(piece.exterior)[:-1]
            out.append(corners)
            continue
        x0, y0, x1, y1 = piece.bounds
        x = float(piece.interiors[0].centroid.x)
        for half in (shapely.box(x0 - 1, y0 - 1, x, y1 + 1), shapely.box(x, y0 - 1, x1 + 1, y1 + 1)):
            left += polygons_in(piece & half, 1.0)
    return out
