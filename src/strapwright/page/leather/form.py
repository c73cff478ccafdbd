"""A hide's file as the page edits it: its fields, what was drawn, its figures, and how two of them differ."""

from __future__ import annotations

from enum import Enum
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from strapwright.drawing.layout.hide_thumbnails import area_text, longest_text
from strapwright.files.fields import Measure
from strapwright.files.messages import members
from strapwright.files.validate import key_docstrings, validate
from strapwright.nesting.hide.backbone import EDGES, back_of
from strapwright.nesting.hide.file import HideFile, HideTable
from strapwright.nesting.hide.types import Face
from strapwright.nesting.stock import stocked
from strapwright.page.forms.field import Field, Group, filled, measures_within, with_unit
from strapwright.page.forms.page_words import in_field_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from pydantic.fields import FieldInfo

    from strapwright.core.arrays import Floats
    from strapwright.core.units import Units
    from strapwright.nesting.hide.types import Hide

_DIGITS: Final = 2

SHAPES: Final = ("points", "outline", "stations")
"""Keys that give the outline, of which just one may stand."""

LINE: Final = "line"
"""Chosen where the back is a line through two points."""

ANGLE: Final = "angle"
"""Chosen where the back is given by the angle it runs at."""

_GROUPS: Final = (
    ("The hide", ("name", "thickness", "tannage", "parent")),
    (
        "How it lies",
        (
            "backbone",
            "backbone.angle",
            "strap_direction",
            "tolerance",
            "uncertainty",
            "face_up",
            "true_edge",
            "repair",
        ),
    ),
)

_LABELS: Final = {
    "name": "Called",
    "parent": "Remnant of",
    "backbone": "Where the back is",
    "backbone.angle": "It runs at",
    "strap_direction": "Straps lie",
    "tolerance": "May be off by",
    "uncertainty": "Edge and flaws may be off by",
    "face_up": "You see",
    "true_edge": "Square a raw edge first",
    "repair": "Repair an edge that crosses itself",
}

_IN_WORDS: Final = (
    ("you can remove true_edge from the hide file", "you can untick true_edge"),
    ("leave true_edge out", "untick true_edge"),
    ("write repair = true under [hide]", f"tick “{_LABELS['repair']}”"),
    (" in its file", ""),
    ("take the [[unsure]] table out", "then press “I have looked: it is right”"),
    ("correct its points there, and", "correct its corners there,"),
)
"""What is said of a hide's file, and how it is done on the page."""

_BACKS: Final = (
    ("", "not said: bottom"),
    *((edge, f"the {edge} edge") for edge in EDGES),
    (LINE, "a line through two points"),
    (ANGLE, "at an angle"),
)

_FACES: Final = {Face.GRAIN: "the grain side", Face.FLESH: "the flesh side"}


@cache
def _fields() -> tuple[Field, ...]:
    """Return all fields, in the order of the model."""
    return tuple(_of_model())


def _of_model() -> Iterator[Field]:
    about = dict(key_docstrings(HideTable))
    for key, info in HideTable.model_fields.items():
        if key in SHAPES:
            continue
        label, help_ = _LABELS.get(key, key.replace("_", " ").capitalize()), about[key]
        if key == "backbone":
            yield Field(key, label, help_, "choice", choices=_BACKS)
            yield Field("backbone.angle", _LABELS["backbone.angle"], "", "text", when=((key, ANGLE),))
            continue
        one: Any = next(iter(members(info.annotation)))
        if isinstance(one, type) and issubclass(one, Enum):
            words = tuple((str(each.value), _FACES.get(each.value, str(each.value))) for each in one)
            usual = "" if info.default is None else str(info.default.value)
            rest = dict(words).get(usual, "not said")
            choices = (("", rest), *((value, word) for value, word in words if value != usual))
            yield Field(key, label, help_, "choice", choices=choices)
        elif one is bool:
            yield Field(key, label, help_, "yes")
        else:
            yield Field(key, label, help_, "length" if _is_length(info) else "text", _usual(info))


def _is_length(info: FieldInfo) -> bool:
    return any(one.kind != "angle" for one in measures_within(info))


def _usual(info: FieldInfo) -> str:
    if info.default is None or info.is_required():
        return ""
    unit = "mm" if _is_length(info) else "deg"
    return info.default if isinstance(info.default, str) else f"{info.default:g} {unit}"


def shown(table: Mapping[str, Any], units: Units = "mm") -> tuple[Group, ...]:
    """Return the fields with what stands in a hide's table as it is written.

    Args:
        table: as written.
        units: of a length that is typed without one, of what is usual and of what is said.
    """
    by_key = {field.key: filled(field, value_shown(table, field.key, units), units) for field in _fields()}
    return tuple(Group(title, tuple(by_key[key] for key in keys)) for title, keys in _GROUPS)


def labels() -> dict[str, str]:
    """Return what each field is called, by its key."""
    return {field.key: field.label for field in _fields()}


def in_words(text: str) -> str:
    """Return what is said of a hide's file with the page's fields named where it names keys.

    Example:
        >>> in_words("To take it as it stands, set uncertainty = 0 in its file.")
        'To take it as it stands, set “Edge and flaws may be off by” to 0.'
    """
    for words, on_page in _IN_WORDS:
        text = text.replace(words, on_page)
    return in_field_words(text, labels(), {})


def length_shown(value: object, units: Units) -> str:
    """Return a length as it is written; a bare number of mm with its unit where another one is usual.

    Example:
        >>> length_shown(900, "in"), length_shown("2 3/4 in", "in"), length_shown(900, "mm")
        ('900 mm', '2 3/4 in', '900')
    """
    return str(value) if units == "mm" else with_unit(str(value), "mm")


def value_shown(table: Mapping[str, Any], key: str, units: Units = "mm") -> str:
    """Return what stands in one field."""
    value = table.get(key.partition(".")[0])
    if key.startswith("backbone"):
        way = LINE if isinstance(value, list) else ANGLE if value is not None else ""
        if isinstance(value, str) and value in EDGES:
            way = value
        if key == "backbone":
            return way
        return str(value) if way == ANGLE else ""
    if isinstance(value, bool):
        return "yes" if value else ""
    usual = {"face_up": Face.GRAIN}.get(key)
    if value is None or value == usual:
        return ""
    return length_shown(value, units) if key in _lengths() else str(value)


@cache
def _lengths() -> frozenset[str]:
    return frozenset(field.key for field in _fields() if field.kind == "length")


def with_fields(
    table: Mapping[str, Any],
    posted: Mapping[str, str],
    back: list[list[float | int]] | None,
    units: Units,
) -> dict[str, Any]:
    """Return a hide's table with the values of a posted form; what is as it was stays in its own words.

    Args:
        table: as written.
        posted: values by their fields' keys; a tick that is not set is not posted.
        back: two points along the back, where that is how it is given.
        units: of a length without one.
    """
    new = dict(table)
    for field in _fields():
        if field.key == "backbone.angle":
            continue
        value: object = posted.get(field.key, "").strip()
        if field.key == "backbone":
            value = _back(table, posted, back)
        elif value == value_shown(table, field.key, units):
            continue
        elif field.kind == "yes":
            value = True if value == "yes" else None
        elif field.kind == "length":
            value = with_unit(str(value), units)
        if value is None or value == "":
            new.pop(field.key, None)
        else:
            new[field.key] = value
    return new


def _back(
    table: Mapping[str, Any], posted: Mapping[str, str], back: list[list[float | int]] | None
) -> object:
    way, there = posted.get("backbone", ""), table.get("backbone")
    if way == LINE:
        same = isinstance(there, list) and [in_mm(one) for one in there] == [tuple(one) for one in back or ()]
        return there if same else back or []
    if way == ANGLE:
        angle = posted.get("backbone.angle", "").strip()
        return there if angle and angle == value_shown(table, "backbone.angle") else angle or "?"
    return way or None


def in_mm(written: object) -> tuple[float, ...] | None:
    """Return a corner as it is written, maybe with units, in mm; None for what is none."""
    try:
        return tuple(Measure().read(value) for value in written) if isinstance(written, list) else None
    except ValueError:
        return None


def drawn_state(tables: Mapping[str, Any], path: Path, units: Units) -> dict[str, Any]:
    """Return what a hide's file says, as the page edits it; lengths in mm.

    Args:
        tables: of the file, or those a new one begins with.
        path: of the file.
        units: of a length typed without one.

    Raises:
        FileProblems: a value in it cannot be read.
    """
    table = tables["hide"]
    if not any(key in table for key in SHAPES):  # a new one, not drawn yet
        lists = ("points", "stations", "flaws", "zones", "unsure")
        return {"way": "points", "kept": "", "back": None, **{key: [] for key in lists}}
    file = validate(HideFile, tables, str(path))
    hide = file.hide
    stations = table.get("stations") if isinstance(hide.stations, list) else []
    kept = hide.outline or (hide.stations if isinstance(hide.stations, str) else "")
    return {
        "way": "kept" if kept else "stations" if stations else "points",
        "points": hide.points or [],
        "stations": [[length_shown(cell, units) for cell in row] for row in stations or []],
        "kept": kept,
        "flaws": [
            {
                "origin": number,
                "kind": str(flaw.kind),
                **({"points": flaw.points} if flaw.points else {"at": flaw.at, "size": flaw.size}),
            }
            for number, flaw in enumerate(file.flaw)
        ],
        "zones": [
            {
                "origin": number,
                "thickness": length_shown(tables["zone"][number]["thickness"], units),
                "points": zone.points,
            }
            for number, zone in enumerate(file.zone)
        ],
        "unsure": [{"within": one.within, "points": one.points} for one in file.unsure],
        "back": hide.backbone if isinstance(hide.backbone, tuple) else None,
    }


def figures(hide: Hide, drawn: Hide, path: Path, own_flaws: int, units: Units) -> dict[str, Any]:
    """Return what the page shows of a hide as it is drawn: figures, its outline, its back, its longest strap.

    Args:
        hide: the hide.
        drawn: the same without what its edge may be off by.
        path: its file.
        own_flaws: how many of its flaws its file gives itself; the others are those of its drawing.
        units: of the figures in words.
    """
    found = stocked(path, hide)
    back, longest, cut, inches = back_of(hide), found.longest, hide.first_cut, units == "in"
    return {
        "area": area_text(hide.area, inches),
        "usable": area_text(found.usable, inches),
        "longest": longest_text(longest.length, inches) if longest else "none",
        "outline": _points(drawn.outline),
        "drawn": [{"kind": str(one.kind), "points": _points(one.polygon)} for one in drawn.flaws[own_flaws:]],
        "sure": [] if hide is drawn else _points(hide.outline),
        "back": [list(back.start), list(back.end)],
        "assumed": back.assumed,
        "strap": _points(longest.corners) if longest else [],
        "cut": [list(cut.start), list(cut.end)] if cut else [],
        "findings": [
            [str(one.severity), in_words(one.what), in_words(one.do)]
            for one in (finding.in_units(units) for finding in hide.findings)
        ],
    }


def differences(file: Mapping[str, Any], here: Mapping[str, Any]) -> list[list[str]]:
    """Return each thing that a file and the page say otherwise: its name, and both in words.

    Args:
        file: tables of the file as it is now.
        here: tables as the page has them.
    """
    both = [dict(_in_words(tables)) for tables in (file, here)]
    keys = dict.fromkeys((*both[0], *both[1]))
    return [
        [key, both[0].get(key, ""), both[1].get(key, "")]
        for key in keys
        if both[0].get(key, "") != both[1].get(key, "")
    ]


def _in_words(tables: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    hide = tables.get("hide")
    table: Mapping[str, Any] = hide if isinstance(hide, dict) else {}
    for key, label in labels().items():
        yield label, value_shown(table, key)
    if isinstance(table.get("backbone"), list):
        yield "The line of the back", str(table["backbone"])
    for key, words in (("points", "corners"), ("stations", "stations")):
        if isinstance(table.get(key), list):
            yield f"The edge, {words}", _listed(table[key])
    for key in ("outline", "stations"):
        if isinstance(table.get(key), str):
            yield "The edge, as in", table[key]
    for key, words in (("flaw", "Flaw"), ("zone", "Place"), ("unsure", "Unsure stretch")):
        entries = tables.get(key)
        for number, entry in enumerate(entries if isinstance(entries, list) else [], start=1):
            said = entry.items() if isinstance(entry, dict) else [("", entry)]
            yield f"{words} {number}", ", ".join(f"{name} {_listed(value)}" for name, value in said)


def _listed(value: object) -> str:
    """Return corners in words: all of a few, of many the first and how many there are."""
    if not isinstance(value, list):
        return str(value)
    shown = " ".join(str(one).replace("'", "") for one in value[:12])
    return f"{len(value)}: {shown}{' …' if len(value) > 12 else ''}" if len(value) > 2 else shown


def _points(points: Floats) -> list[list[float]]:
    return [[round(float(x), _DIGITS), round(float(y), _DIGITS)] for x, y in points]
