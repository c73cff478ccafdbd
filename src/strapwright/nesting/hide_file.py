"""The hide file a maker writes: an outline by points, by tape measure or from a drawing, flaws and zones."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping  # noqa: TC003 -- pydantic looks them up at run time
from dataclasses import replace
from math import pi
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import numpy as np
from pydantic import Field, PlainValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from strapwright.errors import FileProblems
from strapwright.files.fields import Angle, Length, Measure, OneLine, PositiveLength, Thickness, mistake
from strapwright.files.read import digest_of, read_toml
from strapwright.files.validate import Strict, one_of, schema_of, validate
from strapwright.findings import Finding, Severity
from strapwright.nesting.hide import Face, Flaw, FlawKind, Hide, ThicknessZone, round_flaw
from strapwright.nesting.hide_sound import sound_hide
from strapwright.nesting.stations import outline_from_stations, read_stations
from strapwright.units import quoted

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from strapwright.nesting.hide_drawing import DrawnHide

    Floats = NDArray[np.float64]

Point = tuple[Length, Length]
Station = tuple[Length, Length, Length]

_ANY_ANGLE: Final = Measure("angle", least=-2 * pi, most=2 * pi)


def _direction(value: object) -> float | str:
    """Read a strap direction: a word that measures from the backbone, or an angle from x in radians."""
    if value in ("along", "across"):
        return str(value)
    try:
        return _ANY_ANGLE.read(value)
    except PydanticCustomError:
        if not isinstance(value, str) or any(sign.isdigit() for sign in value):
            raise
    raise mistake(
        f'found {quoted(value)}, expected "along" or "across" (the backbone), or an angle such as "90 deg"'
    )


Direction = Annotated[
    float | str,
    PlainValidator(_direction),
    WithJsonSchema({"anyOf": [{"enum": ["along", "across"]}, {"type": "string"}, {"type": "number"}]}),
]
Tolerance = Annotated[float, Measure("angle", least=0.0, most=pi / 4)]


class HideTable(Strict):
    """The hide itself; give exactly one of points, outline and stations."""

    name: Annotated[str, Field(min_length=1, max_length=80, description="What you call the hide."), OneLine]
    thickness: Annotated[Thickness | None, Field(description="Leave it out where it was not measured.")] = (
        None
    )
    strap_direction: Annotated[
        Direction,
        Field(
            description=(
                'The direction straps lie along: "along" or "across" the backbone, or an angle from the '
                "x axis; 0 deg along x. Straps are laid from the edge to the right of it."
            )
        ),
    ] = "along"
    backbone: Annotated[
        Angle, Field(description="The direction the backbone runs, from the x axis; along x if left out.")
    ] = 0.0
    tolerance: Annotated[
        Tolerance,
        Field(
            description="How far off the strap direction straps may lie, 0 to 45 degrees, default 0: those "
            "of a hide are turned together where more finds room so."
        ),
    ] = 0.0
    face_up: Annotated[
        Face,
        Field(
            description=(
                "The face one sees on the bench. On flesh, parts are mirrored so that their grain side "
                "lies on the hide's."
            )
        ),
    ] = Face.GRAIN
    true_edge: Annotated[
        bool,
        Field(
            strict=True,
            description="Square a raw edge first: a straight cut along the straps, its leather counted.",
        ),
    ] = False
    repair: Annotated[
        bool,
        Field(
            strict=True,
            description="Mend an outline that crosses itself; what was changed is told.",
        ),
    ] = False
    parent: Annotated[
        str,
        Field(max_length=80, description="Of a remnant: the name of the hide it was cut from."),
        OneLine,
    ] = ""
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
        Annotated[list[Station], Field(min_length=2)] | str | None,
        Field(
            description=(
                "By tape measure along the trued edge: [x, y_low, y_high] at each station, x growing; or a "
                "CSV file beside this one with those columns."
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


class ZoneTable(Strict):
    """A place thicker or thinner than the rest of the hide."""

    thickness: Annotated[Thickness, Field(description="As callipered there.")]
    points: Annotated[list[Point], Field(min_length=3, description="Corners [x, y] round the place.")]


class HideFile(Strict):
    """A hide file."""

    hide: HideTable
    flaw: Annotated[list[FlawTable], Field(default_factory=list)]
    zone: Annotated[list[ZoneTable], Field(default_factory=list)]


def read_hide_file(path: Path) -> Hide:
    """Read a hide from its TOML file, and the drawing or CSV file it names where it names one.

    Raises:
        FileProblems: everything that is wrong, one line each.
    """
    file = validate(HideFile, read_toml(path), str(path))
    table = file.hide
    digests = [digest_of(path)]
    drawn_flaws: tuple[Flaw, ...] = ()
    drawn_findings: tuple[Finding, ...] = ()
    if table.outline is not None:
        drawn = _from_drawing(path, table.outline)
        outline, drawn_flaws, key = drawn.outline, drawn.flaws, "hide.outline"
        drawn_findings = drawn.gathered.findings(table.name)
        digests.append(drawn.digest)
    else:
        outline, measured, key = _outline(path, table)
        digests += measured
    flaws = tuple(_flaw(flaw) for flaw in file.flaw)
    hide = sound_hide(
        str(path),
        table.name,
        outline,
        flaws + drawn_flaws,
        zones=tuple(ThicknessZone(zone.thickness, np.array(zone.points)) for zone in file.zone),
        key=key,
        flaw_keys=[f"flaw[{number}]" for number in range(1, len(flaws) + 1)],
        repair=table.repair,
    )
    hide = replace(
        hide,
        strap_direction=_strap_direction(table),
        thickness=table.thickness,
        tolerance=table.tolerance,
        face_up=table.face_up,
        parent=table.parent,
        digest=digests[0] if len(digests) == 1 else hashlib.sha256("\n".join(digests).encode()).hexdigest(),
        findings=(*hide.findings, *drawn_findings),
    )
    if hide.face_up is Face.FLESH:
        hide = replace(hide, findings=(*hide.findings, _flesh_up(hide.name)))
    return _first_cut_made(hide, path) if table.true_edge else hide


def _flesh_up(name: str) -> Finding:
    return Finding(
        "hide-flesh-up",
        Severity.CAUTION,
        "It lies flesh side up, so its parts are mirrored; lines and lettering scored on it come out on the "
        "flesh side, lettering the wrong way round.",
        "Lay it flesh side up under the machine as well, and try one part in scrap first.",
        subject=name,
    )


def _outline(path: Path, table: HideTable) -> tuple[Floats, list[str], str]:
    """Return an outline given by figures, the digest of a file it was read from, and where it stands."""
    if table.points is not None:
        return np.array(table.points), [], "hide.points"
    assert table.stations is not None
    if not isinstance(table.stations, str):
        outline = outline_from_stations(table.stations, str(path), "hide.stations[{}]")
        return outline, [], "hide.stations"
    measured = path.parent / table.stations
    if measured.suffix.lower() != ".csv":
        raise FileProblems(
            (
                (
                    f'{path}: hide.stations: found "{table.stations}", expected a list of [x, y_low, y_high] '
                    "or the name of a .csv file with these columns"
                ),
            )
        )
    outline = outline_from_stations(read_stations(measured), str(measured), "station {}")
    return outline, [digest_of(measured)], "hide.stations"


def _strap_direction(table: HideTable) -> float:
    """Return the strap direction; one told by a word so that straps start from below or from the left."""
    if not isinstance(table.strap_direction, str):
        return table.strap_direction
    turned = table.backbone + (pi / 2 if table.strap_direction == "across" else 0.0)
    turned -= pi * round(turned / pi)  # half a turn is the same direction
    return -pi / 2 if abs(abs(turned) - pi / 2) < 1e-12 else turned


def _first_cut_made(hide: Hide, path: Path) -> Hide:
    from strapwright.nesting.true_edge import MOST_CUT, trued

    cut = trued(hide)
    if cut is None:
        raise FileProblems(
            (
                (
                    f"{path}: hide.true_edge: no straight cut along the straps squares this edge without "
                    f"taking over {MOST_CUT:.0%} of the hide; turn strap_direction or leave true_edge out"
                ),
            )
        )
    return cut


def _flaw(table: FlawTable) -> Flaw:
    if table.points is not None:
        return Flaw(table.kind, np.array(table.points))
    assert table.at is not None
    assert table.size is not None
    return round_flaw(table.kind, *table.at, table.size)


def _from_drawing(path: Path, name: str) -> DrawnHide:
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
