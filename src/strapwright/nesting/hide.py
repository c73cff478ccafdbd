"""A hide: its outline, its flaws, the direction straps lie along, and how thick it is."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.errors import FileProblems, NestError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

SMALLEST_AREA: Final = 100.0
"""A hide under 1 cm² is a slip of units, mm²."""

LARGEST_EXTENT: Final = 10_000.0
"""A hide longer than 10 m is a slip of units, mm: the greatest whole hides reach 4 m."""


class FlawKind(StrEnum):
    """What is wrong with a place: nothing may lie on it, it is only ugly, or it is stretchy."""

    VOID = "void"
    MARK = "mark"
    LOOSE = "loose"


@dataclass(frozen=True, eq=False)
class Flaw:
    """A place on a hide that parts keep off.

    Args:
        kind: ``void`` (hole, cut), ``mark`` (scar, brand: sound but ugly) or ``loose`` (belly, stretchy).
        polygon: its outline, (N, 2) mm, not repeated at the end, in either direction.
    """

    kind: FlawKind
    polygon: Floats


@dataclass(frozen=True, eq=False)
class Hide:
    """One hide, grain side up, as it lies on the bench; x to the right, y up.

    Args:
        name: what the maker calls it.
        outline: closed, counter-clockwise, simple, (N, 2) mm, the first corner not repeated.
        flaws: places to keep off.
        strap_direction: the direction straps lie along, radians from x, counter-clockwise.
        thickness: mm, or None where it was not measured.
        digest: SHA-256 of everything the hide was read from; empty for one made in memory.

    Raises:
        NestError: the outline or a flaw is not a sound shape, or a flaw lies off the hide.

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

    def __post_init__(self) -> None:
        problems = list(self._problems())
        if problems:
            raise NestError("; ".join(f"hide {self.name}: {text}" for _, text in problems))
        object.__setattr__(self, "outline", _counter_clockwise(self.outline))

    def _problems(self) -> Iterator[tuple[int | None, str]]:
        wrong = outline_problem(self.outline)
        if wrong:
            yield None, wrong
        for number, flaw in enumerate(self.flaws):
            text = flaw_problem(flaw.polygon, None if wrong else self.outline)
            if text:
                yield number, f"flaw {number + 1} ({flaw.kind}): {text}"

    @property
    def area(self) -> float:
        """Area inside the outline, flaws included, mm²."""
        return abs(_signed_area(self.outline))

    @property
    def flaw_area(self) -> float:
        """Area of the hide that flaws cover, each place counted once, mm²."""
        import shapely

        if not self.flaws:
            return 0.0
        covered = shapely.union_all([shapely.Polygon(flaw.polygon) for flaw in self.flaws])
        return float(shapely.intersection(covered, shapely.Polygon(self.outline)).area)


def read_hide(path: Path) -> Hide:
    """Read a hide from a hide file (TOML) or straight from a drawing (DXF or SVG).

    A drawing read straight gives the hide the file's name, straps along x and no thickness.

    Args:
        path: a ``.toml``, ``.dxf`` or ``.svg`` file.

    Raises:
        FileProblems: everything that is wrong with the file, one line each.
    """
    suffix = path.suffix.lower()
    if suffix in (".dxf", ".svg"):
        from strapwright.nesting.hide_drawing import read_drawing

        outline, flaws, digest = read_drawing(path)
        return replace(sound_hide(str(path), path.stem, outline, flaws), digest=digest)
    if suffix != ".toml":
        raise FileProblems(
            (f'{path}: found "{path.suffix}", expected a hide file: .toml, or a drawing: .dxf or .svg',)
        )
    from strapwright.nesting.hide_file import read_hide_file

    return read_hide_file(path)


def sound_hide(
    source: str,
    name: str,
    outline: Floats,
    flaws: tuple[Flaw, ...],
    keys: Sequence[str] = ("outline",),
) -> Hide:
    """Build a hide from what a file gives, or tell all that is wrong with its shapes.

    Args:
        source: the file's name as the person gave it.
        name: the hide's name.
        outline: its outline, (N, 2) mm.
        flaws: its flaws; those with a key first.
        keys: where the outline stands in the file, then where flaws do; drawn flaws have no key.

    Raises:
        FileProblems: every unsound shape, one line each.
    """
    problems: list[str] = []
    wrong = outline_problem(outline)
    if wrong:
        problems.append(f"{source}: {keys[0]}: {wrong}")
    for number, flaw in enumerate(flaws, start=1):
        text = flaw_problem(flaw.polygon, None if wrong else outline)
        if text:
            where = keys[number] if number < len(keys) else str(flaw.kind)
            problems.append(f"{source}: {where}: {text}")
    if problems:
        raise FileProblems(tuple(problems))
    return Hide(name, outline, flaws)


def outline_problem(points: ArrayLike) -> str | None:
    """Return what keeps points from being a hide's outline, or None where nothing does."""
    array = np.asarray(points, dtype=np.float64)
    wrong = shape_problem(array)
    if wrong:
        return wrong
    area, extent = abs(_signed_area(array)), float(np.ptp(array, axis=0).max())
    if area < SMALLEST_AREA:
        return (
            f"found {area / 100:.3g} cm², expected at least {SMALLEST_AREA / 100:g} cm²; "
            "bare numbers are millimetres"
        )
    if extent > LARGEST_EXTENT:
        return (
            f"found {extent / 1000:.4g} m from side to side, expected at most "
            f"{LARGEST_EXTENT / 1000:g} m; are the units right? (bare numbers are millimetres)"
        )
    return None


def flaw_problem(points: ArrayLike, outline: ArrayLike | None) -> str | None:
    """Return what keeps points from being a flaw on a hide, or None where nothing does.

    Args:
        points: the flaw's corners, mm.
        outline: the hide's, mm; None where that is itself unsound, and only the flaw is looked at.
    """
    import shapely

    array = np.asarray(points, dtype=np.float64)
    wrong = shape_problem(array)
    if wrong or outline is None:
        return wrong
    if not shapely.intersects(shapely.Polygon(array), shapely.Polygon(np.asarray(outline))):
        return (
            f"lies off the hide, near {_place(array[0])}; put it on the hide or take it out "
            "(a flaw may reach over the edge)"
        )
    return None


def shape_problem(array: Floats) -> str | None:
    """Return what keeps corners from bounding one piece of leather, or None where nothing does."""
    import shapely

    if array.ndim != 2 or array.shape[1] != 2 or len(array) < 3:
        return f"found {len(array)} points, expected at least 3"
    if not np.isfinite(array).all():
        return "found a coordinate that is not a number"
    following = np.roll(array, -1, axis=0)
    same = np.flatnonzero(np.hypot(*(following - array).T) < 1e-6)
    if len(same):
        number = int(same[0])
        after = (number + 1) % len(array)
        return (
            f"points {number + 1} and {after + 1} are both {_place(array[number])}; "
            "give each corner once (the outline closes itself)"
        )
    if shapely.MultiPoint(array).convex_hull.area < 1e-9:
        return "encloses nothing: all its points lie in one line"
    if not shapely.is_valid(shapely.Polygon(array)):
        return f"crosses or touches itself near {_crossing(array)}; go round the edge in one sweep"
    return None


def _crossing(array: Floats) -> str:
    """Return where a polygon meets itself, and between which of its points."""
    import shapely

    reason = str(shapely.is_valid_reason(shapely.Polygon(array)))
    words = reason.partition("[")[2].rstrip("]").split()
    if len(words) < 2:
        return "an unknown point"
    at = np.array([float(words[0]), float(words[1])])
    following = np.roll(array, -1, axis=0)
    edge = following - array
    share = np.clip(((at - array) * edge).sum(axis=1) / (edge * edge).sum(axis=1), 0.0, 1.0)
    apart = np.hypot(*(array + share[:, None] * edge - at).T)
    number = int(np.argmin(apart))
    return f"{_place(at)}, between points {number + 1} and {(number + 1) % len(array) + 1}"


def _place(point: Floats) -> str:
    x, y = (0.0 + round(float(value), 1) for value in point)
    return f"({x:g}, {y:g}) mm"


def _signed_area(points: Floats) -> float:
    p = points - points[0]
    q = np.roll(p, -1, axis=0)
    return float((p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]).sum()) / 2


def _counter_clockwise(points: ArrayLike) -> Floats:
    array = np.array(points, dtype=np.float64)
    if _signed_area(array) < 0:
        array = array[::-1].copy()
    array.flags.writeable = False
    return array


def disc(x: float, y: float, diameter: float, chord: float) -> Floats:
    """Return a polygon that covers a round flaw and strays from it by at most ``chord`` mm."""
    radius = diameter / 2
    sides = max(8, math.ceil(math.pi / math.acos(radius / (radius + chord))))
    reach = radius / math.cos(math.pi / sides)
    angles = np.arange(sides) * (2 * math.pi / sides)
    return np.column_stack([x + reach * np.cos(angles), y + reach * np.sin(angles)])
