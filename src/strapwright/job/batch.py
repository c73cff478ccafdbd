"""A batch as a CSV file: one belt a line, columns named by dotted keys such as ``size.girth``."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, Literal, get_origin

from pydantic import BaseModel, BeforeValidator

from strapwright.files.wording import members, nearest, path_text, unknown_key
from strapwright.units import quoted

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.files.wording import Loc

CellKind = Literal["text", "value", "pair"]
"""How a cell is read: as it stands, as a number where it is one, or as two measures ``6 mm x 2 mm``."""

_WHOLE: Final = re.compile(r"[-+]?[0-9]{1,15}")
_DECIMAL: Final = re.compile(r"[-+]?([0-9]{1,15}\.[0-9]*|\.[0-9]+)")
_NEEDED: Final = ("id", "size", "buckle", "leather.thickness", "leather.tannage")
"""Columns, or groups of them, without which no line can make a belt."""


@dataclass(frozen=True)
class Batch:
    """What a CSV file holds, not yet validated.

    Args:
        belts: a table for each line, as a TOML file would have it.
        lines: the number of each one's line in the file, from 1.
        problems: what is wrong with the file as a table: line number and text.
        absent: needed columns the file does not have; told once, in ``problems``.
        last_line: the number of the file's last line.
    """

    belts: tuple[dict[str, Any], ...] = ()
    lines: tuple[int, ...] = ()
    problems: tuple[tuple[int, str], ...] = ()
    absent: frozenset[str] = field(default_factory=frozenset)
    last_line: int = 1

    def line_of(self, loc: Loc) -> int:
        """Return the line a place in the job comes from; 1 for what stands on no line of its own."""
        return self.lines[loc[1]] if len(loc) > 1 and isinstance(loc[1], int) else 1

    def place(self, loc: Loc) -> str:
        """Return a place in words: ``line 4: size.girth``."""
        rest = path_text(loc[2:])
        return f"line {self.line_of(loc)}" + (f": {rest}" if rest else "")

    def lacks(self, loc: Loc) -> bool:
        """Whether nothing stands there because the whole column is absent."""
        return loc[:1] != ("belt",) or path_text(loc[2:]) in self.absent


def columns_of(model: type[BaseModel], prefix: str = "") -> dict[str, CellKind]:
    """Return the columns a model's tables may have, by dotted key, in the model's order.

    A key whose value may be a name or a table has a column of its own beside those of the table.
    """
    columns: dict[str, CellKind] = {}
    for name, info in model.model_fields.items():
        key = prefix + (info.alias or name)
        kinds = members(info.annotation)
        tables = [kind for kind in kinds if isinstance(kind, type) and issubclass(kind, BaseModel)]
        if not tables:
            pair = any(get_origin(kind) is tuple for kind in kinds)
            columns[key] = "pair" if pair else "text" if str in kinds else "value"
            continue
        if any(isinstance(one, BeforeValidator) for one in info.metadata):
            columns[key] = "text"
        for table in tables:
            columns |= columns_of(table, f"{key}.")
    return columns


def read_batch(text: str, columns: Mapping[str, CellKind]) -> Batch:
    r"""Read the text of a CSV file, its cells divided by commas or semicolons.

    Args:
        text: the whole file; its first line names the columns. Blank lines and cells are skipped.
        columns: those allowed, with how their cells are read.

    Returns:
        The belts, and what is wrong with the file as a table; the values are not yet checked.

    Example:
        >>> columns = {"id": "text", "size.girth": "value", "buckle": "text"}
        >>> read_batch("id;size.girth;buckle\nines;96 cm;single-40\n", columns).belts
        ({'id': 'ines', 'buckle': 'single-40', 'size': {'girth': '96 cm'}},)
    """
    rows, broken = _rows(text)
    if not rows:
        empty = (1, "found an empty file, expected column names on the first line")
        return Batch(problems=broken or (empty,))
    (header_line, header), *rest = rows
    names = [name.strip() for name in header]
    problems = [*broken, *_header_problems(header_line, names, columns)]
    absent = _absent(names)
    problems += [(header_line, f"{name}: missing column, expected one") for name in absent]
    belts, lines = [], []
    for line, cells in rest:
        values = {}
        for place, cell in enumerate(cells):
            name = names[place] if place < len(names) else ""
            if not name and cell.strip():
                problems.append(
                    (line, f"found {quoted(cell.strip())} in column {place + 1}, which has no name")
                )
            elif cell.strip() and name in columns:
                values[name] = _value(cell.strip(), columns[name])
        if not values:
            continue
        table, clashes = _nested(values)
        problems += [(line, clash) for clash in clashes]
        if any(name.startswith("leather.") for name in names):
            table.setdefault("leather", {})  # a gap is then told of this line, not of the whole file
        belts.append(table)
        lines.append(line)
    return Batch(tuple(belts), tuple(lines), tuple(problems), frozenset(absent), rows[-1][0])


def _rows(text: str) -> tuple[list[tuple[int, list[str]]], tuple[tuple[int, str], ...]]:
    """Return the rows that are not blank, each with the number of its first line."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = ";" if first.count(";") > first.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[tuple[int, list[str]]] = []
    line = 1
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                rows.append((line, row))
            line = reader.line_num + 1
    except csv.Error as error:
        return rows, ((line, f"not valid CSV: {error}"),)
    return rows, ()


def _header_problems(
    line: int, names: Sequence[str], columns: Mapping[str, CellKind]
) -> Iterator[tuple[int, str]]:
    seen: set[str] = set()
    for name in names:
        if name in seen and name:
            yield line, f"{_shown(name)}: column found twice, expected once"
        elif name and name not in columns:
            yield line, f"{_shown(name)}: {_unknown(name, columns)}"
        seen.add(name)


def _unknown(name: str, columns: Mapping[str, CellKind]) -> str:
    """Return what to say of a column nobody knows; groups of columns are listed as ``size.*``."""
    if near := nearest(name, list(columns)):
        return unknown_key(name, [near], "column")
    groups = dict.fromkeys(column.split(".")[0] + (".*" if "." in column else "") for column in columns)
    return unknown_key(name, list(groups), "column")


def _absent(names: Sequence[str]) -> list[str]:
    def there(needed: str) -> bool:
        return any(name == needed or name.startswith(f"{needed}.") for name in names)

    return [needed for needed in _NEEDED if not there(needed)]


def _value(cell: str, kind: CellKind) -> object:
    if kind == "text":
        return cell
    if kind == "pair":
        return [part.strip() for part in re.split("[x×]", cell)]
    if _WHOLE.fullmatch(cell):
        return int(cell)
    return float(cell) if _DECIMAL.fullmatch(cell) else cell


def _nested(values: Mapping[str, object]) -> tuple[dict[str, Any], list[str]]:
    """Return dotted columns as tables in tables, and what cannot stand beside each other."""
    table: dict[str, Any] = {}
    clashes = []
    for name, value in sorted(values.items(), key=lambda item: item[0].count(".")):
        *folders, last = name.split(".")
        inner: Any = table
        for folder in folders:
            inner = inner.setdefault(folder, {})
            if not isinstance(inner, dict):
                clashes.append(
                    f"{name}: found {quoted(value)} beside {folder} = {quoted(inner)}, expected just one"
                )
                break
        else:
            inner[last] = value
    return table, clashes


def _shown(name: str) -> str:
    """Return a column's name as it stands, or in quotes where it would not print plainly."""
    return name if len(name) <= 60 and name.isprintable() else quoted(name)
