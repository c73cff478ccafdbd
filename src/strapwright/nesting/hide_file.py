"""The hide file a maker writes: an outline by points, by tape measure or from a drawing, and flaws."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping  # noqa: TC003 -- pydantic looks them up at run time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import numpy as np
from pydantic import Field

from strapwright.errors import FileProblems
from strapwright.files.fields import Angle, Length, OneLine, PositiveLength, Thickness, mistake
from strapwright.files.read import digest_of, read_toml
from strapwright.files.validate import Strict, one_of, schema_of, validate
from strapwright.nesting.hide import Flaw, FlawKind, Hide, disc, sound_hide
from strapwright.tolerances import NESTING_CHORD

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from pydantic_core import PydanticCustomError

    Floats = NDArray[np.float64]

Point = tuple[Length, Length]
Station = tuple[Length, Length, Length]


class HideTable(Strict):
    """The hide itself; give exactly one of points, outline and stations."""

    name: Annotated[str, Field(min_length=1, max_length=80, description="What you call the hide."), OneLine]
    thickness: Annotated[Thickness | None, Field(description="Leave it out where it was not measured.")] = (
        None
    )
    strap_direction: Annotated[
        Angle, Field(description="The direction straps lie along, from the x axis; 0 deg along x.")
    ] = 0.0
    points: Annotated[
        list[Point] | None,
        Field(min_length=3, description="Corners [x, y] in one sweep round the edge."),
    ] = None
    outline: Annotated[
        str | None,
        Field(
            min_length=1,
            description=(
                "A drawing (.dxf or .svg) beside this file, with layers or groups named outline, "
                "void, mark and loose."
            ),
        ),
    ] = None
    stations: Annotated[
        list[Station] | None,
        Field(
            min_length=2,
            description=(
                "By tape measure along the trued edge: [x, y_low, y_high] at each station, x growing."
            ),
        ),
    ] = None

    @classmethod
    def cross_checks(
        cls, table: Mapping[str, Any]
    ) -> Iterator[tuple[tuple[str | int, ...], PydanticCustomError]]:
        """Say where not exactly one outline is given."""
        wrong = one_of(table, "points", "outline", "stations")
        if wrong:
            yield (), mistake(wrong)


class FlawTable(Strict):
    """One flaw; give points, or at and size for a round one."""

    kind: Annotated[
        FlawKind,
        Field(
            description=(
                "void: a hole or cut; mark: a scar or brand, sound but ugly; loose: stretchy leather."
            )
        ),
    ]
    points: Annotated[
        list[Point] | None, Field(min_length=3, description="Corners [x, y] round the flaw.")
    ] = None
    at: Annotated[Point | None, Field(description="Centre [x, y] of a round flaw.")] = None
    size: Annotated[PositiveLength | None, Field(description="Diameter of a round flaw.")] = None

    @classmethod
    def cross_checks(
        cls, table: Mapping[str, Any]
    ) -> Iterator[tuple[tuple[str | int, ...], PydanticCustomError]]:
        """Say where a flaw's place is missing or given twice."""
        round_keys = [key for key in ("at", "size") if key in table]
        if "points" in table and round_keys:
            yield (), mistake(f"found points and {round_keys[0]}, expected points, or at and size")
        elif "points" not in table and len(round_keys) < 2:
            found = f"only {round_keys[0]}" if round_keys else "none of them"
            yield (), mistake(f"found {found}, expected points, or at and size")


class HideFile(Strict):
    """A hide file."""

    hide: HideTable
    flaw: Annotated[list[FlawTable], Field(default_factory=list)]


def read_hide_file(path: Path) -> Hide:
    """Read a hide from its TOML file, and the drawing it names where it names one.

    Raises:
        FileProblems: everything that is wrong, one line each.
    """
    file = validate(HideFile, read_toml(path), str(path))
    table, digest = file.hide, digest_of(path)
    drawn: tuple[Flaw, ...] = ()
    if table.points is not None:
        outline, key = np.array(table.points), "hide.points"
    elif table.stations is not None:
        outline, key = _from_stations(path, table.stations), "hide.stations"
    else:
        assert table.outline is not None
        outline, drawn, drawing_digest = _from_drawing(path, table.outline)
        key = "hide.outline"
        digest = hashlib.sha256(f"{digest}\n{drawing_digest}".encode()).hexdigest()
    flaws = tuple(_flaw(flaw) for flaw in file.flaw)
    keys = [key, *(f"flaw[{number}]" for number in range(1, len(flaws) + 1))]
    hide = sound_hide(str(path), table.name, outline, flaws + drawn, keys)
    return replace(
        hide,
        strap_direction=table.strap_direction,
        thickness=table.thickness,
        digest=digest,
    )


def _flaw(table: FlawTable) -> Flaw:
    if table.points is not None:
        return Flaw(table.kind, np.array(table.points))
    assert table.at is not None
    assert table.size is not None
    return Flaw(table.kind, disc(*table.at, table.size, NESTING_CHORD))


def _from_stations(path: Path, stations: list[Station]) -> Floats:
    """Return the outline through both edges of every station; a station may close to a point."""
    array = np.array(stations)
    problems = []
    for number, (x, low, high) in enumerate(array, start=1):
        where = f"{path}: hide.stations[{number}]"
        if number > 1 and not x > array[number - 2, 0]:
            problems.append(
                f"{where}: found x {x:g} mm after {array[number - 2, 0]:g} mm; "
                "give the stations in the order of growing x"
            )
        if high < low:
            problems.append(
                f"{where}: found y_low {low:g} mm above y_high {high:g} mm; write [x, y_low, y_high]"
            )
    if problems:
        raise FileProblems(tuple(problems))
    points = np.vstack([array[:, :2], array[::-1, ::2]])
    following = np.roll(points, -1, axis=0)
    kept: Floats = points[np.hypot(*(following - points).T) > 1e-9]
    return kept


def _from_drawing(path: Path, name: str) -> tuple[Floats, tuple[Flaw, ...], str]:
    from strapwright.nesting.hide_drawing import read_drawing

    drawing = Path(name)
    if drawing.suffix.lower() not in (".dxf", ".svg"):
        raise FileProblems(
            (f'{path}: hide.outline: found "{name}", expected a drawing: a .dxf or .svg file',)
        )
    return read_drawing(path.parent / drawing)


def hide_schema() -> dict[str, Any]:
    """Return the JSON Schema of a hide file, for editors."""
    return schema_of(HideFile, "strapwright hide")
