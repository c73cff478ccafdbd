"""A hide as the page draws and edits it, and how two of them differ."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from strapwright.drawing.layout.hide_thumbnails import area_text, longest_text
from strapwright.files.validate import validate
from strapwright.nesting.hide.backbone import back_of
from strapwright.nesting.hide.file import HideFile
from strapwright.nesting.stock.folder import stocked
from strapwright.page.leather.form import in_words, labels, length_shown, value_shown

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from strapwright.core.arrays import Floats
    from strapwright.core.units import Units
    from strapwright.nesting.hide.types import Hide

_DIGITS: Final = 2


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
    if not any(key in table for key in ("points", "outline", "stations")):  # a new one, not drawn yet
        return {
            "way": "points",
            "points": [],
            "stations": [],
            "kept": "",
            "flaws": [],
            "zones": [],
            "unsure": [],
            "back": None,
        }
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
