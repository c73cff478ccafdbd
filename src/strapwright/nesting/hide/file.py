"""The hide file: an outline by points, by tape measure or from a drawing, with its flaws and zones."""

from __future__ import annotations

import csv
import hashlib
from dataclasses import replace
from math import hypot, pi
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import numpy as np
from pydantic import Field, PlainValidator, StrictBool, WithJsonSchema
from pydantic_core import PydanticCustomError

from strapwright.core.errors import FileProblems, UnitError
from strapwright.core.findings import Finding, Severity
from strapwright.core.text import numbered, quoted
from strapwright.core.units import parse_length
from strapwright.files.fields import Length, Measure, OneLine, PositiveLength, Thickness, mistake
from strapwright.files.messages import did_you_mean, unknown_key
from strapwright.files.read import digest_of, read_text, read_toml, refused, toml_tables
from strapwright.files.validate import Strict, one_of, validate
from strapwright.geometry.drawings.gathered import SUFFIXES, without_repeats
from strapwright.nesting.hide.backbone import (
    EDGES,
    back_at,
    back_through,
    from_the_back,
    starts_both_ways,
    upward,
)
from strapwright.nesting.hide.drawing import DrawnHide, drawing_findings, read_drawing
from strapwright.nesting.hide.repair import MOST_UNSURE, sound_hide, taken_smaller, unsure_edge, unsure_flaw
from strapwright.nesting.hide.true_edge import MOST_CUT, trued
from strapwright.nesting.hide.types import (
    OTHER_HOLE,
    Back,
    Face,
    Flaw,
    FlawKind,
    Hide,
    ThicknessZone,
    round_flaw,
)
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from strapwright.core.arrays import Floats
    from strapwright.files.validate import Faults

COLUMNS: Final = ("x", "y_low", "y_high")
"""Columns of a CSV file of stations."""

LIMIT_MB: Final = 1.0
"""Largest file of stations read, MB: a station every 5 mm takes a hundredth of it."""

Point = tuple[Length, Length]


Station = tuple[Length, Length, Length]


_ANY_ANGLE: Final = Measure("angle", least=-2 * pi, most=2 * pi)


_APART: Final = 10.0
"""Two points along the back lie at least so far apart, mm: nearer ones give no direction."""


_BACKBONE: Final = (
    '"bottom", "top", "left" or "right" (the edge that is the back), two points [x, y] along the back, or an '
    'angle such as "30 deg"'
)


def _word_or_angle(value: object, words: Collection[str], expected: str) -> float | str:
    """Read one of some words, or an angle from x in radians."""
    if isinstance(value, str) and value in words:
        return value
    try:
        return _ANY_ANGLE.read(value)
    except PydanticCustomError:
        if not isinstance(value, str) or any(sign.isdigit() for sign in value):
            raise
    raise mistake(f"found {quoted(value)}, expected {expected}")


def _backbone(value: object) -> str | float | tuple[tuple[float, float], tuple[float, float]]:
    """Read where the back is: the word for an edge, two points, or an angle from x in radians."""
    if isinstance(value, list | tuple):
        if len(value) != 2 or not all(isinstance(one, list | tuple) and len(one) == 2 for one in value):
            raise mistake(f"found {quoted(value)}, expected {_BACKBONE}")
        (x0, y0), (x1, y1) = ((Measure().read(x), Measure().read(y)) for x, y in value)
        if (apart := hypot(x1 - x0, y1 - y0)) < _APART:
            raise mistake(f"found two points {apart:g} mm apart, expected {_APART:g} mm or more between them")
        return (x0, y0), (x1, y1)
    hint = did_you_mean(value, tuple(EDGES)) if isinstance(value, str) else ""
    return _word_or_angle(value, EDGES, _BACKBONE + hint)


def _direction(value: object) -> float | str:
    """Read a strap direction: a word that measures from the backbone, or an angle from x in radians."""
    expected = '"along" or "across" (the backbone), or an angle such as "90 deg"'
    return _word_or_angle(value, ("along", "across"), expected)


Direction = Annotated[
    float | str,
    PlainValidator(_direction),
    WithJsonSchema({"anyOf": [{"enum": ["along", "across"]}, {"type": "string"}, {"type": "number"}]}),
]


_TWO: Final = {"minItems": 2, "maxItems": 2}


Backbone = Annotated[
    float | str | tuple[tuple[float, float], tuple[float, float]],
    PlainValidator(_backbone),
    WithJsonSchema(
        {
            "anyOf": [
                {"enum": list(EDGES)},
                {"type": "array", "items": {"type": "array", **_TWO}, **_TWO},
                {"type": "string"},
                {"type": "number"},
            ]
        }
    ),
]


Uncertainty = Annotated[float, Measure(least=0.0, most=MOST_UNSURE)]


Tolerance = Annotated[float, Measure("angle", least=0.0, most=pi / 4)]


class HideTable(Strict):
    """The hide itself; give exactly one of points, outline and stations."""

    name: Annotated[str, Field(min_length=1, max_length=80), OneLine]
    """What you call the hide."""

    thickness: Thickness | None = None
    """Leave it out if it was not measured."""

    tannage: Tannage | None = None
    """How it was tanned, from its data sheet: only parts of the same tannage are laid on it. Leave it out if
    you do not know."""

    strap_direction: Direction = "along"
    """The direction straps lie along: "along" or "across" the backbone, or an angle from the x axis; 0 deg
    along x. Straps start from the back."""

    backbone: Backbone | None = None
    """Where the back is: the edge ("bottom", "top", "left" or "right"), two points [x, y] along it where it
    slants or runs through a double butt, or the angle it runs at, from the x axis: the back is then the lower
    edge. The bottom edge is assumed if left out."""

    tolerance: Tolerance = 0.0
    """How far off the strap direction straps may be, 0 to 45 degrees, default 0: those of a hide are turned
    together where more fits that way."""

    face_up: Face = Face.GRAIN
    """The side you see on the bench. Flesh side up, parts are mirrored so that their grain side is the
    hide's."""

    true_edge: StrictBool = False
    """Square a raw edge first: a straight cut along the straps, its leather counted."""

    uncertainty: Uncertainty = 0.0
    """How far the outline and the flaws may be off, as they were measured: the hide is taken so much smaller
    all round and its flaws so much larger. 0 takes both as they stand."""

    repair: StrictBool = False
    """Repair an outline that crosses itself; a finding says what was changed."""

    parent: Annotated[str, Field(max_length=80), OneLine] = ""
    """Of a remnant: the name of the hide it was cut from."""

    points: Annotated[list[Point] | None, Field(min_length=3)] = None
    """Corners [x, y] in one sweep round the edge."""

    outline: Annotated[str | None, Field(min_length=1)] = None
    """A drawing (.dxf or .svg) beside this file, with layers or groups named outline, hole, mark and
    loose."""

    stations: Annotated[list[Station], Field(min_length=2)] | str | None = None
    """By tape measure along the trued edge: [x, y_low, y_high] at each station, x growing; or a CSV file
    beside this one with those columns."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Say where not exactly one outline is given."""
        if wrong := one_of(table, "points", "outline", "stations"):
            yield (), wrong


class FlawTable(Strict):
    """One flaw; give points, or at and size for a round one."""

    kind: Annotated[
        FlawKind, WithJsonSchema({"type": "string", "enum": ["hole", OTHER_HOLE, "mark", "loose"]})
    ]
    """hole (or void): also a cut; mark: a scar or brand, sound but ugly; loose: stretchy leather."""

    points: Annotated[list[Point] | None, Field(min_length=3)] = None
    """Corners [x, y] round the flaw."""

    at: Point | None = None
    """Centre [x, y] of a round flaw."""

    size: PositiveLength | None = None
    """Diameter of a round flaw."""

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Say where a flaw's place is missing or given twice."""
        round_keys = [key for key in ("at", "size") if key in table]
        if "points" in table and round_keys:
            yield (), f"found points and {round_keys[0]}, expected points, or at and size"
        elif "points" not in table and len(round_keys) < 2:
            found = f"only {round_keys[0]}" if round_keys else "none of them"
            yield (), f"found {found}, expected points, or at and size"


class ZoneTable(Strict):
    """A place thicker or thinner than the rest of the hide."""

    thickness: Thickness
    """As callipered there."""

    points: Annotated[list[Point], Field(min_length=3)]
    """Corners [x, y] round the place."""


class UnsureTable(Strict):
    """A stretch of the edge that was not seen well when the hide was measured: parts keep off it."""

    points: Annotated[list[Point], Field(min_length=2)]
    """Points [x, y] along it."""

    within: Annotated[float, Measure(least=0.0, most=200.0, above=True)]
    """How far from them the true edge may be."""


class HideFile(Strict):
    """A hide file."""

    hide: HideTable
    flaw: Annotated[list[FlawTable], Field(default_factory=list)]
    zone: Annotated[list[ZoneTable], Field(default_factory=list)]
    unsure: Annotated[list[UnsureTable], Field(default_factory=list)]


def read_hide_file(path: Path) -> Hide:
    """Read a hide from its TOML file, and the drawing or CSV file it names where it names one.

    Raises:
        FileProblems: everything that is wrong, one line each.
    """
    return hide_of(read_toml(path), path, digest_of(path))


def hide_of(tables: Mapping[str, Any], path: Path, digest: str = "") -> Hide:
    """Return the hide that a hide file's tables say.

    Args:
        tables: as read, or as they would be.
        path: the file; what it names is looked for beside it.
        digest: SHA-256 of the file.

    Raises:
        FileProblems: everything that is wrong, one line each.
    """
    file = validate(HideFile, tables, str(path))
    table = file.hide
    digests = [digest]
    drawn: DrawnHide | None = None
    if table.outline is not None:
        if Path(table.outline).suffix.lower() not in SUFFIXES:
            found = f'hide.outline: found "{table.outline}"'
            raise refused(path, f"{found}, expected a drawing: a .dxf or .svg file")
        drawn = read_drawing(path.parent / table.outline)
        outline, key = drawn.outline, "hide.outline"
        digests.append(drawn.digest)
    elif table.points is not None:
        outline, key = np.array(table.points), "hide.points"
    elif isinstance(table.stations, str):
        measured, key = path.parent / table.stations, "hide.stations"
        if measured.suffix.lower() != ".csv":
            found = f'hide.stations: found "{table.stations}"'
            expected = "a list of [x, y_low, y_high] or the name of a .csv file with these columns"
            raise refused(path, f"{found}, expected {expected}")
        outline = outline_from_stations(read_stations(measured), str(measured), "station {}")
        digests.append(digest_of(measured))
    else:
        assert table.stations is not None
        outline = outline_from_stations(table.stations, str(path), "hide.stations[{}]")
        key = "hide.stations"
    hide = sound_hide(
        str(path),
        table.name,
        outline,
        (
            *(_flaw(flaw) for flaw in file.flaw),
            *(unsure_flaw(np.array(one.points), one.within) for one in file.unsure),
            *(drawn.flaws if drawn else ()),
        ),
        zones=tuple(ThicknessZone(zone.thickness, np.array(zone.points)) for zone in file.zone),
        key=key,
        flaw_keys=[
            f"{key}[{number}]"
            for key, tables in (("flaw", file.flaw), ("unsure", file.unsure))
            for number in range(1, len(tables) + 1)
        ],
        repair=table.repair,
    )
    if table.uncertainty:
        hide = taken_smaller(hide, table.uncertainty)
    back, direction = _back_and_direction(table, hide.outline)
    hide = replace(
        hide,
        strap_direction=direction,
        back=back,
        thickness=table.thickness,
        tannage=table.tannage,
        tolerance=table.tolerance,
        face_up=table.face_up,
        parent=table.parent,
        digest=digests[0] if len(digests) == 1 else hashlib.sha256("\n".join(digests).encode()).hexdigest(),
        findings=(
            *hide.findings,
            *(drawing_findings(drawn.gathered, table.name) if drawn else ()),
            *((_flesh_up(hide.name),) if table.face_up is Face.FLESH else ()),
            *((unsure_edge(hide.name, len(file.unsure)),) if file.unsure else ()),
        ),
    )
    if not table.true_edge:
        return hide
    if starts_both_ways(hide):
        problem = "straps start from the cut along the back, which is a true edge; leave it out"
        raise refused(path, f"hide.true_edge: {problem}")
    if (cut := trued(hide)) is None:
        raise refused(
            path,
            "hide.true_edge: no straight cut along the straps squares this edge without "
            f"taking over {MOST_CUT:.0%} of the hide; turn strap_direction or leave true_edge out",
        )
    return cut


def _flesh_up(name: str) -> Finding:
    return Finding(
        "hide-flesh-up",
        Severity.CAUTION,
        "The hide is flesh side up, so its parts are mirrored; lines and lettering scored on it come out "
        "on the flesh side, lettering the wrong way round.",
        "Lay it flesh side up on the machine too, and try one part in scrap first.",
        subject=name,
    )


def _back_and_direction(table: HideTable, outline: Floats) -> tuple[Back, float]:
    """Return the line of the back, and the direction straps lie along, the back to its right."""
    given, backbone = table.strap_direction, table.backbone
    if backbone is None:
        back = replace(back_at(outline, 0.0 if isinstance(given, str) else given), assumed=True)
    elif isinstance(backbone, tuple):
        back = back_through(outline, *backbone)
    else:
        back = back_at(outline, EDGES[backbone] if isinstance(backbone, str) else upward(backbone))
    if isinstance(given, float):
        return back, from_the_back(given, back)
    return back, upward(back.direction + pi / 2) if given == "across" else back.direction


def _flaw(table: FlawTable) -> Flaw:
    if table.points is not None:
        return Flaw(table.kind, np.array(table.points))
    assert table.at is not None
    assert table.size is not None
    return round_flaw(table.kind, *table.at, table.size)


def read_hide(path: Path) -> Hide:
    """Read a hide from a hide file (TOML) or straight from a drawing (DXF or SVG).

    A drawing read straight gives the hide the file's name, straps along x, grain up and no thickness; its
    back is assumed at the bottom.

    Args:
        path: a ``.toml``, ``.dxf`` or ``.svg`` file.

    Raises:
        FileProblems: everything that is wrong with the file, one line each.
    """
    suffix = path.suffix.lower()
    if suffix in SUFFIXES:
        drawn = read_drawing(path)
        hide = sound_hide(str(path), path.stem, drawn.outline, drawn.flaws)
        return replace(
            hide,
            digest=drawn.digest,
            back=replace(back_at(hide.outline, EDGES["bottom"]), assumed=True),
            findings=(*hide.findings, *drawing_findings(drawn.gathered, hide.name)),
        )
    if suffix != ".toml":
        expected = "a hide file: .toml, or a drawing: .dxf or .svg"
        raise refused(path, f'found "{path.suffix}", expected {expected}')
    return read_hide_file(path)


def files_named(path: Path, text: str | None = None) -> dict[str, str]:
    """Return the drawing or the table of stations that a hide's TOML file names, by the key that names it.

    Args:
        path: the file.
        text: what is to stand in it; None takes what does.

    Raises:
        FileProblems: it cannot be read.
    """
    table = (read_toml(path) if text is None else toml_tables(text, path)).get("hide")
    given = table if isinstance(table, dict) else {}
    return {key: given[key] for key in ("outline", "stations") if isinstance(given.get(key), str)}


def read_hides(paths: Sequence[Path]) -> tuple[Hide, ...]:
    """Read several hides; of two with one name each gets a number.

    Raises:
        FileProblems: every mistake in the first file that has any.
    """
    hides: list[Hide] = []
    for path in paths:
        hide = read_hide(path)
        taken = {other.name for other in hides}
        free = next(name for name in numbered(hide.name, " ") if name not in taken)
        hides.append(replace(hide, name=free))
    return tuple(hides)


def outline_from_stations(stations: Sequence[tuple[float, float, float]], source: str, where: str) -> Floats:
    """Return the outline through both edges of every station; a station may close to a point.

    Args:
        stations: (x, y_low, y_high) each, mm, x growing.
        source: the file's name as the person gave it.
        where: what a station is called in messages, with ``{}`` for its number from 1.

    Returns:
        Corners, counter-clockwise, (N, 2) mm.

    Raises:
        FileProblems: a station is out of order, or its edges are; one line each.

    Example:
        >>> outline_from_stations([(0, 0, 700), (900, 5, 650)], "a.toml", "station {}").tolist()
        [[0.0, 0.0], [900.0, 5.0], [900.0, 650.0], [0.0, 700.0]]
    """
    array = np.array(stations, dtype=np.float64)
    problems = []
    for number, (x, low, high) in enumerate(array, start=1):
        place = f"{source}: {where.format(number)}"
        if number > 1 and not x > array[number - 2, 0]:
            problems.append(
                f"{place}: found x {x:g} mm after {array[number - 2, 0]:g} mm; "
                "give the stations in the order of growing x"
            )
        if high < low:
            problems.append(
                f"{place}: found y_low {low:g} mm above y_high {high:g} mm; write [x, y_low, y_high]"
            )
    if problems:
        raise FileProblems(tuple(problems))
    return without_repeats(np.vstack([array[:, :2], array[::-1, ::2]]), 1e-9)


def read_stations(path: Path) -> tuple[tuple[float, float, float], ...]:
    """Read stations from a CSV file with the columns x, y_low and y_high, one station a line.

    Commas, semicolons or tabs stand between the cells; a cell is a length with its unit, or a bare number
    in mm. Empty lines and lines that begin with # are passed over.

    Returns:
        (x, y_low, y_high) each, mm; at least two.

    Raises:
        FileProblems: every mistake in the file, by its line.
    """
    text = read_text(path, limit_mb=LIMIT_MB)
    rows = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip(" ,;\t") and not line.lstrip().startswith("#")
    ]
    wanted = f"a line of column names: {', '.join(COLUMNS)}"
    if not rows:
        raise refused(path, f"found nothing, expected {wanted}")
    first, head = rows[0]
    between = next((sign for sign in (";", "\t") if sign in head), ",")
    names = [name.strip().casefold() for name in head.split(between)]
    problems = [
        f"{path}: line {first}: {unknown_key(name, COLUMNS, 'column')}: found {name!r}"
        for name in names
        if name not in COLUMNS
    ]
    missing = [name for name in COLUMNS if names.count(name) != 1]
    if problems or missing:
        if missing:
            problems.append(f"{path}: line {first}: no column {' and no '.join(missing)}, expected {wanted}")
        raise FileProblems(tuple(problems))
    order = [names.index(name) for name in COLUMNS]
    stations = []
    for number, line in rows[1:]:
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=between))]
        if len(cells) != len(names):
            problems.append(f"{path}: line {number}: found {len(cells)} cells, expected {len(names)}")
            continue
        try:
            x, low, high = (parse_length(cells[index]) for index in order)
            stations.append((x, low, high))
        except UnitError as error:
            problems.append(f"{path}: line {number}: {error}")
    if not problems and len(stations) < 2:
        problems.append(f"{path}: found {len(stations)} stations, expected at least 2")
    if problems:
        raise FileProblems(tuple(problems))
    return tuple(stations)
