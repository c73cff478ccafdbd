"""A hide's file as it is drawn and edited: what was drawn as tables and as text, comments and order kept."""

from __future__ import annotations

import difflib
import re
import tomllib
from copy import deepcopy
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

import numpy as np
import tomlkit
from pydantic import BaseModel, ConfigDict, Field

from strapwright.core.errors import FileProblems, OutputError, StrapwrightError
from strapwright.files.read import toml_tables
from strapwright.nesting.hide.file import hide_of
from strapwright.nesting.hide.file_text import points_lines
from strapwright.nesting.hide.types import FlawKind
from strapwright.page.forms.field import with_unit
from strapwright.page.forms.toml_text import (
    text_with_edits,
    text_with_entries,
    text_without_entry,
    with_lines,
)
from strapwright.page.leather.form import SHAPES, in_mm, in_words, length_shown, with_fields
from strapwright.page.sheet.shop import content_with, digest_of, read_written

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from strapwright.core.units import Units
    from strapwright.nesting.hide.types import Hide
    from strapwright.page.forms.toml_text import Edits

Coordinate = Annotated[float, Field(ge=-1e9, le=1e9, allow_inf_nan=False)]
Corner = tuple[Coordinate, Coordinate]
Words = Annotated[str, Field(max_length=2000)]

UNSURE: Final = "unsure"
"""Tables of the stretches of the edge that were not seen well."""

MOST_CORNERS: Final = 20_000
"""Most corners of one shape taken from the page: a drawing of a hide has some thousands at the most."""

_A_LINE: Final = 6
_DIGITS: Final = 6
"""Of a coordinate in mm: a sixty-fourth of an inch has so many."""

_HEADER: Final = re.compile(r"\s*(\[\[?)\s*(\w+)\s*\]\]?\s*(#.*)?")
_PLACE: Final = re.compile(r"(?P<table>hide|flaw|zone)(\[(?P<number>\d+)\])?(\.(?P<key>\w+))?")


class _Sent(BaseModel):
    model_config = ConfigDict(extra="forbid")


class Shape(_Sent):
    """A flaw, or a place of another thickness, as it is drawn.

    Args:
        origin: its number in the file, from 0; None for a new one.
        kind: of a flaw.
        thickness: of a place of another thickness.
        points: its corners, mm; none of a round one.
        at: centre of a round one, mm.
        size: its diameter, mm.
    """

    origin: int | None = None
    kind: Literal["hole", "mark", "loose"] = "hole"
    thickness: Words = ""
    points: Annotated[list[Corner] | None, Field(max_length=MOST_CORNERS)] = None
    at: Corner | None = None
    size: Coordinate | None = None


class Stretch(_Sent):
    """A stretch of the edge that was not seen well, as it stands in the file.

    Args:
        within: how far from it the true edge may be, mm.
        points: along it, mm.
    """

    within: Coordinate
    points: Annotated[list[Corner], Field(max_length=MOST_CORNERS)]


class Picture(_Sent):
    """A picture that is drawn over, as it lies below the hide.

    Args:
        digest: of its file.
        mm_per_pixel: its scale.
        x: of its lower left corner, mm.
        y: likewise.
    """

    digest: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    mm_per_pixel: Annotated[float, Field(gt=0, le=1000)]
    x: Coordinate
    y: Coordinate


class Sent(_Sent):
    """A hide as the page has drawn it.

    Args:
        file: its file; empty for a new one.
        drawing: the drawing that a new one is to name for its outline.
        measured: the measured photograph that a new one is made of.
        digest: of the file it was drawn from.
        over: whether it is to replace what is in the file by now, which the page has shown.
        fields: of the hide's own table, as text.
        way: how the outline is given; kept: by another file, as it is.
        points: its corners, mm.
        stations: by tape, as text.
        back: two points along the back, mm.
        flaws: in order.
        zones: in order.
        unsure: the stretches of the edge that stay unsure.
        picture: what it was drawn over.
    """

    file: Words = ""
    drawing: Words = ""
    measured: Words = ""
    digest: Words = ""
    over: bool = False
    fields: dict[Words, Words]
    way: Literal["points", "stations", "kept"]
    points: Annotated[list[Corner], Field(max_length=MOST_CORNERS)] = []
    stations: Annotated[list[tuple[Words, Words, Words]], Field(max_length=5000)] = []
    back: Annotated[list[Corner], Field(min_length=2, max_length=2)] | None = None
    flaws: Annotated[list[Shape], Field(max_length=5000)] = []
    zones: Annotated[list[Shape], Field(max_length=1000)] = []
    unsure: Annotated[list[Stretch], Field(max_length=5000)] = []
    picture: Picture | None = None


def read_sent_text(text: str, path: Path) -> tuple[dict[str, Any], Hide]:
    """Return the tables and the hide of a text that is to become a hide's file.

    Raises:
        FileProblems: every mistake in it.
    """
    tables = toml_tables(text, path)
    return tables, checked(tables, path)


def checked(tables: Mapping[str, Any], path: Path) -> Hide:
    """Return the hide that tables say.

    Raises:
        FileProblems: everything that is wrong, one line each.
    """
    try:
        return hide_of(tables, path)
    except FileProblems:
        raise
    except StrapwrightError as error:
        raise FileProblems(tuple(f"{path}: {line}" for line in str(error).splitlines())) from error


def tables_as_sent(before: Mapping[str, Any], sent: Sent, units: Units) -> dict[str, Any]:
    """Return a hide file's tables as the page has them; what was not changed stays in its own words.

    Args:
        before: as written.
        sent: the page's.
        units: of a length without one, in a field; what is drawn is in mm.
    """
    new = deepcopy(dict(before))
    table = new.get("hide")
    hide = with_fields(table if isinstance(table, dict) else {}, sent.fields, _rounded(sent.back), units)
    if sent.way != "kept":
        kept = {
            "points": _corners(hide.get("points"), sent.points),
            "stations": _stations(hide.get("stations"), sent.stations, units),
        }[sent.way]
        for key in SHAPES:
            hide.pop(key, None)
        hide[sent.way] = kept
    new["hide"] = hide
    for key, shapes in (("flaw", sent.flaws), ("zone", sent.zones)):
        entries = [_entry(key, shape, old, units) for shape, old in _with_origins(before, key, shapes)]
        new.pop(key, None)
        if entries:
            new[key] = entries
    if stretches := _tables(before, UNSURE):
        new[UNSURE] = [one for one in stretches if _stays(one, sent)]
        if not new[UNSURE]:
            del new[UNSURE]
    return new


def matched(before: Mapping[str, Any], sent: Sent, units: Units) -> Sent:
    """Return what the page sent with each shape's place in a file that was changed since.

    Args:
        before: the file as it is now.
        sent: the page's, drawn from the file as it was.
        units: of a length without one, in a field.
    """
    found = {}
    for key, shapes in (("flaw", sent.flaws), ("zone", sent.zones)):
        free = dict(enumerate(_tables(before, key)))
        placed = []
        for shape in shapes:
            number = next((n for n, old in free.items() if _entry(key, shape, old, units) == old), None)
            free.pop(-1 if number is None else number, None)
            placed.append(shape.model_copy(update={"origin": number}))
        found[f"{key}s"] = placed
    return sent.model_copy(update=found)


def text_as_sent(text: str, new: Mapping[str, Any], sent: Sent) -> str:
    """Return a hide file's text with other tables, comments and order kept.

    Args:
        text: as it is written; empty for a new file.
        new: its tables then, by `tables_as_sent`.
        sent: what they are made of.

    Raises:
        FileProblems: the file is written in a way that the change cannot be made in.
    """
    if not text:
        return _new_text(new)
    old = tomllib.loads(text)
    edits: Edits = {}
    lists: dict[tuple[str | int, ...], Any] = {}
    for place, before, after in _kept_tables(old, new, sent):
        for key in (*before, *(key for key in after if key not in before)):
            if before.get(key) == after.get(key):
                continue
            if isinstance(after.get(key), list) and len(after[key]) > 2:
                lists[*place, key] = after[key]
            else:
                edits[*place, key] = after.get(key)
    for place, corners in lists.items():
        text = _with_corners(text, place, corners)
    if edits:
        text = text_with_edits(text, edits)
    for key, shapes in (("flaw", sent.flaws), ("zone", sent.zones)):
        stay = {shape.origin for shape in shapes}
        for number in reversed(range(len(_tables(old, key)))):
            if number not in stay:
                text = text_without_entry(text, key, number)
        added = _tables(new, key)[len(stay - {None}) :]
        for entry in added:
            text = _with_entry(text, key, entry)
    for number, one in reversed([*enumerate(_tables(old, UNSURE))]):
        if not _stays(one, sent):
            text = text_without_entry(text, UNSURE, number)
    if tomllib.loads(text) != new:
        raise FileProblems(("the file is laid out so that this cannot be changed in it; change it as text",))
    return text


def changed_content(path: Path, digest: str, text: str) -> tuple[bytes, bytes]:
    """Return a file's content before and after, a byte order mark kept.

    Raises:
        OutputError: it is not the one of that digest any more.
    """
    before = path.read_bytes()
    if digest_of(before) != digest:
        raise OutputError(
            f"{path.name}: was changed by another program; nothing is written. Load this page again"
        )
    return before, content_with(text, before)


def base_of(path: Path | None, drawing: str) -> tuple[str, dict[str, Any], str]:
    """Return the text, the tables and the digest that a drawn hide goes out from.

    Args:
        path: its file; None for a new one.
        drawing: the drawing that a new one names.
    """
    if path is None:
        return "", {"hide": {"outline": drawing} if drawing else {}}, ""
    written = read_written(path)
    tables = toml_tables(written.text, path)
    if not isinstance(tables.get("hide"), dict):
        raise FileProblems((f"{path}: found no [hide] table",))
    return written.text, tables, written.digest


def problems_with_lines(problems: Sequence[str], path: Path, text: str | None = None) -> tuple[str, ...]:
    """Return mistakes in a hide's file without its name, each with the line of its key where one has it.

    Args:
        problems: one line each, as its reader has them.
        path: the file.
        text: what is to be written into it; None for what is in it.
    """
    if text is None:
        try:
            text = read_written(path).text if path.suffix.lower() == ".toml" else ""
        except FileProblems:  # said among them
            text = ""
    return with_lines(problems, str(path), text)


def mistakes_by_place(problems: Sequence[str], path: Path) -> dict[str, str]:
    """Return mistakes by what they stand beside: a field's key, ``points``, ``flaw.0``; else nothing."""
    found: dict[str, str] = {}
    for problem in problems:
        words = problem.removeprefix(f"{path}: ")
        match = _PLACE.match(words)
        place = ""
        if match is not None:
            words = words[match.end() :].lstrip(": ")
            if match["table"] == "hide":
                place = match["key"] or ""
            elif match["number"]:
                place = f"{match['table']}.{int(match['number']) - 1}"
        words = in_words(words)
        found[place] = f"{found[place]}; {words}" if place in found else words
    return found


def _tables(tables: Mapping[str, Any], key: str) -> list[dict[str, Any]]:
    found = tables.get(key)
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []


def _with_origins(
    before: Mapping[str, Any], key: str, shapes: Sequence[Shape]
) -> list[tuple[Shape, dict[str, Any]]]:
    """Return shapes with their tables as written: those of the file first, in its order, then new ones."""
    tables = _tables(before, key)
    origins = [shape.origin for shape in shapes if shape.origin is not None]
    if len(set(origins)) < len(origins) or not all(0 <= one < len(tables) for one in origins):
        raise FileProblems((f"found a {key} that is not in the file",))
    ordered = sorted(shapes, key=lambda shape: len(tables) if shape.origin is None else shape.origin)
    return [(shape, {} if shape.origin is None else tables[shape.origin]) for shape in ordered]


def _entry(key: str, shape: Shape, old: Mapping[str, Any], units: Units) -> dict[str, Any]:
    """Return the table of a flaw or a place, what is as it was in its own words."""
    new = dict(old)
    if key == "zone":
        if length_shown(old.get("thickness", ""), units) != shape.thickness:
            new["thickness"] = with_unit(shape.thickness.strip(), units)
    elif old.get("kind") is None or not _same_kind(old["kind"], shape.kind):
        new["kind"] = shape.kind
    if shape.points is not None:
        new.pop("at", None)
        new.pop("size", None)
        new["points"] = _corners(old.get("points"), shape.points)
    elif shape.at is not None and shape.size is not None:
        new.pop("points", None)
        new["at"] = _corners([old.get("at")], [shape.at])[0]
        size = round(shape.size, _DIGITS)
        if in_mm([old.get("size")]) != (shape.size,):
            new["size"] = f"{_number(size)} mm"
    return new


def _stays(stretch: Mapping[str, Any], sent: Sent) -> bool:
    """Whether a stretch of the edge stays unsure."""
    written = stretch.get("points")
    points = [in_mm(one) for one in written] if isinstance(written, list) else []
    return any(points == one.points for one in sent.unsure)


def _same_kind(written: Any, kind: str) -> bool:
    try:
        return FlawKind(written) == kind
    except ValueError:
        return False


def _corners(written: object, points: Sequence[Sequence[float]]) -> list[Any]:
    """Return corners as they are written, those that were there before in their own words."""
    given = written if isinstance(written, list) else []
    known = {in_mm(one): one for one in given}
    return [
        known.get(tuple(corner), [_number(round(value, _DIGITS)) for value in corner]) for corner in points
    ]


def _stations(written: object, rows: Sequence[Sequence[str]], units: Units) -> list[Any]:
    """Return stations as they are written; bare numbers stay numbers."""
    given = written if isinstance(written, list) else []
    shown = {tuple(length_shown(cell, units) for cell in row): row for row in given if isinstance(row, list)}
    return [
        shown.get(tuple(row), [_plain(cell.strip()) for cell in row])
        for row in rows
        if any(cell.strip() for cell in row)
    ]


def _plain(cell: str) -> Any:
    try:
        return _number(float(cell.replace(",", ".")))
    except ValueError:
        return cell


def _rounded(points: Sequence[Sequence[float]] | None) -> list[list[float | int]] | None:
    return points and [[_number(round(value, _DIGITS)) for value in one] for one in points]  # type: ignore[return-value]


def _number(value: float) -> float | int:
    """Return a whole number as one.

    Example:
        >>> _number(900.0), _number(0.5)
        (900, 0.5)
    """
    return int(value) if np.isfinite(value) and value == int(value) else value


def _kept_tables(
    old: Mapping[str, Any], new: Mapping[str, Any], sent: Sent
) -> Iterator[tuple[tuple[str | int, ...], dict[str, Any], dict[str, Any]]]:
    """Yield each table that stays: its place in the file as it is, and what stands in it before and then."""
    yield ("hide",), old["hide"], new["hide"]
    for key, shapes in (("flaw", sent.flaws), ("zone", sent.zones)):
        origins = sorted(shape.origin for shape in shapes if shape.origin is not None)
        for origin, after in zip(origins, _tables(new, key), strict=False):
            yield (key, origin), _tables(old, key)[origin], after


def _with_corners(text: str, place: tuple[str | int, ...], corners: list[Any]) -> str:
    """Return a text with a list of corners changed, those that stay left as they are written."""
    document = tomlkit.parse(text)
    table: Any = document
    for part in place[:-1]:
        table = table[part]
    there = table.get(place[-1])
    if isinstance(there, tomlkit.items.Array):
        before = [str(one) for one in there.unwrap()]
        moves = difflib.SequenceMatcher(None, before, [str(one) for one in corners], autojunk=False)
        for kind, i1, i2, j1, j2 in reversed(moves.get_opcodes()):
            if kind == "equal":
                continue
            both = min(i2 - i1, j2 - j1)
            for at in range(both):
                there[i1 + at] = corners[j1 + at]
            for at in reversed(range(i1 + both, i2)):
                del there[at]
            for at in range(j1 + both, j2):
                there.insert(i1 + at - j1, corners[at])
        if there.unwrap() == corners and tomllib.loads(tomlkit.dumps(document)):
            return tomlkit.dumps(document)
        del table[place[-1]]
    table[place[-1]] = _list_item(corners)
    return tomlkit.dumps(document)


def _list_item(corners: Sequence[Any]) -> Any:
    """Return corners as a file has them: a few on one line, else six to a line."""
    if len(corners) <= _A_LINE:
        return tomlkit.item(corners)
    if all(len(one) == 2 and all(isinstance(v, int | float) for v in one) for one in corners):
        return tomlkit.parse("\n".join(points_lines(np.array(corners, float))))["points"]
    rows = ",\n".join(f"  {tomlkit.item(one).as_string()}" for one in corners)
    return tomlkit.parse(f"a = [\n{rows},\n]\n")["a"]


def _line(key: str, value: Any) -> str:
    """Return a key with its value as a line, or a list of corners or stations as several."""
    many = isinstance(value, list) and key in SHAPES
    return f"{key} = {(_list_item(value) if many else tomlkit.item(value)).as_string()}"


def _entry_text(key: str, entry: Mapping[str, Any]) -> str:
    """Return a table of a flaw or a place as text."""
    return "\n".join([f"[[{key}]]", *(_line(*one) for one in entry.items())]) + "\n"


def _with_entry(text: str, key: str, entry: Mapping[str, Any]) -> str:
    """Return a text with one more flaw or place, after those that are there."""
    lines = text.splitlines(keepends=True)
    headers = [
        (number, match[2])
        for number, line in enumerate(lines)
        if (match := _HEADER.fullmatch(line.rstrip("\n")))
    ]
    own = [number for number, name in headers if name == key]
    after = [number for number, _ in headers if own and number > own[-1]]
    at = after[0] if after else len(lines)
    while after and at and lines[at - 1].lstrip().startswith("#"):
        at -= 1
    above = "".join(lines[:at]).rstrip("\n")
    new = f"{above}\n\n{_entry_text(key, entry)}" + ("\n" if after else "") + "".join(lines[at:])
    try:
        wanted = tomllib.loads(text)
        wanted.setdefault(key, []).append(dict(entry))
        if tomllib.loads(new) == wanted:
            return new
    except (ValueError, AttributeError):
        pass
    return text_with_entries(text, key, [entry])


def _new_text(tables: Mapping[str, Any]) -> str:
    """Return a new hide's file, its outline last of its own table."""
    hide = tables["hide"]
    lines = [_line(key, hide[key]) for key in sorted(hide, key=lambda key: key in SHAPES)]
    entries = (_entry_text(key, one) for key in ("flaw", "zone") for one in _tables(tables, key))
    return "\n".join(["[hide]", *lines]) + "\n" + "".join(f"\n{text}" for text in entries)
