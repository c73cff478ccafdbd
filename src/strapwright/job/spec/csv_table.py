"""A batch as a CSV file: one belt a line, columns named as people name them or by keys (``size.girth``).

A first line ``# job: FILE.toml`` names a job file without belts, for the leather, house and prices of all.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal, get_args, get_origin

from pydantic import BaseModel, BeforeValidator

from strapwright.core.text import quoted
from strapwright.core.units import parse_number
from strapwright.files.fields import Measure
from strapwright.files.messages import members, nearest, path_text, unknown_key

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from pydantic.fields import FieldInfo

    from strapwright.files.messages import Loc

CellKind = Literal["text", "value", "length", "pair"]
"""How a cell is read: as it stands, as a number where it is one, as a length, which takes the unit that its
column's name ends in, or as two measures ``6 mm x 2 mm``."""

MOST_ORDERS: Final = 10_000
"""A file of more lines is refused: each is drafted, at about a millisecond a belt."""

_MOST_BROKEN: Final = 100
"""After so many rows that are no CSV the rest of the file is not read."""

_DIVIDERS: Final = (",", ";", "\t")
"""What may stand between two cells: the one most used on the first line is taken."""

_WHOLE: Final = re.compile(r"[-+]?[0-9]{1,15}")
_BARE: Final = re.compile(r"\d+([.,]\d+)?|(\d+ +)?\d+ ?/ ?\d+")
"""A length without a unit."""

_UNIT_NAMED: Final = re.compile(
    r"(?P<rest>.*\w)[ _,]+[(\[]?(?P<unit>mm|cm|in|inch|inches|oz)[)\]]?", re.IGNORECASE
)
"""A column's name that ends in the unit of what stands below it: "Waist in", "Waist (cm)"."""

_JOB_LINE: Final = re.compile(r"#\s*job\b\s*[:=]?\s*(?P<file>.*)", re.IGNORECASE)

COMMON_NAMES: Final = {
    "belt": "id",
    "order": "id",
    "customer": "name",
    "qty": "quantity",
    "waist": "size.girth",
    "girth": "size.girth",
    "belt_size": "size.belt_size",
    "worn_to_hole": "size.worn_to_hole",
    "trousers": "size.trousers",
    "trouser_size": "size.trousers",
    "thickness": "leather.thickness",
    "tannage": "leather.tannage",
    "holes": "holes.count",
}
"""Columns by the names people give them, and the key of each; `name` is the `id` where there is none."""

NEEDED: Final = {
    "id": "a column id or name",
    "size": "a column waist, trousers, size.worn_to_hole or sizes",
    "buckle": "a column buckle",
    "leather.thickness": "a column thickness",
    "leather.tannage": "a column tannage",
}
"""Keys, or groups of them, without which no line can make a belt, and what to add where there is none."""


@dataclass(frozen=True)
class Batch:
    """What a CSV file holds, not yet validated.

    Args:
        belts: a table for each line, as a TOML file would have it.
        lines: the number of each one's line in the file, from 1.
        problems: what is wrong with the file as a table: line number and text.
        absent: needed keys the file has no column for.
        last_line: the number of the file's last line.
        head: the number of the last line of the column names; what is wrong up to there is wrong of every
            belt.
        spans: first and last line of every row below the column names, blank ones left out.
        names: the file's own name of every key it has a column for.
        job_file: the file its first line names for leather, house and prices; empty for none.
    """

    belts: tuple[dict[str, Any], ...] = ()
    lines: tuple[int, ...] = ()
    problems: tuple[tuple[int, str], ...] = ()
    absent: frozenset[str] = field(default_factory=frozenset)
    last_line: int = 1
    head: int = 1
    spans: tuple[tuple[int, int], ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)
    job_file: str = ""

    def line_of(self, loc: Loc) -> int:
        """Return the line a place in the job comes from; 1 for what stands on no line of its own."""
        return self.lines[loc[1]] if len(loc) > 1 and isinstance(loc[1], int) else 1

    def place(self, loc: Loc) -> str:
        """Return a place in words: ``line 4: size.girth``."""
        key = path_text(loc[2:])
        rest = self.names.get(key, key)
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
        tables = [kind for kind in kinds if _is_table(kind)]
        if any(get_origin(kind) is tuple and _is_table(get_args(kind)[0]) for kind in kinds):
            continue  # tables of its own, which a line has no room for
        by_text = any(isinstance(one, BeforeValidator) for one in info.metadata)
        if not tables:
            several = any(get_origin(kind) is tuple for kind in kinds)
            text = str in kinds or (several and by_text)
            length = not several and _is_length(info)
            columns[key] = "text" if text else "pair" if several else "length" if length else "value"
            continue
        if by_text:
            columns[key] = "text"
        for table in tables:
            columns |= columns_of(table, f"{key}.")
    return columns


def _is_table(kind: object) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _is_length(info: FieldInfo) -> bool:
    """Whether a key takes one length or thickness."""
    said = (*info.metadata, *_annotations(info.annotation))
    return any(isinstance(one, Measure) and one.kind != "angle" for one in said)


def _annotations(annotation: Any) -> Iterator[Any]:
    if get_origin(annotation) is Annotated:
        yield from annotation.__metadata__
    for branch in get_args(annotation):
        yield from _annotations(branch)


@dataclass(frozen=True)
class Head:
    """The column names of a CSV file.

    Args:
        names: as they stand.
        keys: what each is taken for; empty for one that nobody knows.
        rows: the first few lines below them.
        lines: the number of each one's line in the file, from 1.
    """

    names: tuple[str, ...]
    keys: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...] = ()


def read_head(text: str, columns: Mapping[str, CellKind], shown: int = 3) -> Head:
    """Return a CSV file's column names and its first lines; none of an empty file.

    Args:
        text: the whole file.
        columns: the keys there are.
        shown: how many lines.

    Example:
        >>> read_head("Waist;hat", {"size.girth": "value"}).keys
        ('size.girth', '')
    """
    rows = [(line, row) for line, _, row in _rows(text)[0]]
    if rows and _JOB_LINE.fullmatch(rows[0][1][0].strip()):
        rows = rows[1:]
    if not rows:
        return Head((), (), ())
    names = tuple(name.strip() for name in rows[0][1])
    keys = tuple(key if key in columns else "" for key in _keys_of(names, columns))
    below = rows[1 : shown + 1]
    return Head(names, keys, tuple(tuple(row) for _, row in below), tuple(line for line, _ in below))


def read_batch(
    text: str, columns: Mapping[str, CellKind], keys: Sequence[str] | None = None, unit: str = ""
) -> Batch:
    r"""Read the text of a CSV file, its cells divided by commas, semicolons or tabs.

    Args:
        text: the whole file; its first line names the columns, or a job file, and the next one the columns.
            Blank lines and cells are skipped.
        columns: the keys allowed, with how their cells are read.
        keys: the key of each column, empty for one to leave out; None takes the file's own names.
        unit: of a length without one, in a column whose name says none; empty leaves such a number as it is.

    Returns:
        The belts, and what is wrong with the file as a table; the values are not yet checked.

    Example:
        >>> columns = {"id": "text", "size.girth": "value", "buckle": "text"}
        >>> read_batch("Name;Waist;buckle\nines;96 cm;single-40\n", columns).belts
        ({'id': 'ines', 'buckle': 'single-40', 'size': {'girth': '96 cm'}},)
        >>> read_batch("id,Waist (in)\nines,38 1/2\n", {"id": "text", "size.girth": "length"}).belts
        ({'id': 'ines', 'size': {'girth': '38 1/2 in'}},)
    """
    rows, broken = _rows(text)
    job_file = ""
    if rows and (named := _JOB_LINE.fullmatch(rows[0][2][0].strip())):
        job_file = named["file"].strip()
        if not job_file:
            said = 'found no file after "# job:", expected its name, such as # job: shop.toml'
            broken.append((rows[0][0], rows[0][1], said))
        rows = rows[1:]
    if not rows:
        empty = (1, "found an empty file, expected column names on the first line")
        return Batch(problems=tuple((first, said) for first, _, said in broken) or (empty,))
    (header_line, head, header), *rest = rows
    if (count := len(rest) + len(broken)) > MOST_ORDERS:
        many = f"found {count:,} orders, expected at most {MOST_ORDERS:,}; split the file"
        return Batch(problems=((header_line, many),), last_line=rows[-1][0], head=head)
    own = [name.strip() for name in header]
    units = [_unit_of(name) or unit for name in own]
    names = _keys_of(own, columns) if keys is None else [*keys, *[""] * len(own)][: len(own)]
    if undivided := _undivided(own, columns):
        return Batch(
            problems=((header_line, undivided),),
            last_line=rows[-1][0],
            head=head,
            spans=tuple((first, last) for first, last, _ in rest),
        )
    problems = [(first, said) for first, _, said in broken]
    problems += _header_problems(header_line, own, names, columns)
    belts, lines = [], []
    for line, _, cells in rest:
        if len(cells) > len(names) and (parted := _decimal_comma(cells)):
            problems.append((line, parted))  # all cells behind it stand in the wrong columns
            continue
        values = {}
        for place, cell in enumerate(cells):
            name = names[place] if place < len(names) else ""
            if not name and cell.strip() and keys is None:
                problems.append(
                    (line, f"found {quoted(cell.strip())} in column {place + 1}, which has no name")
                )
            elif cell.strip() and name in columns:
                values[name] = _value(cell.strip(), columns[name], units[place])
        if not values:
            continue
        table, clashes = _nested(values)
        problems += [(line, clash) for clash in clashes]
        if any(name.startswith("leather.") for name in names):
            table.setdefault("leather", {})  # a gap is then reported for this line, not for the whole file
        belts.append(table)
        lines.append(line)
    return Batch(
        tuple(belts),
        tuple(lines),
        tuple(problems),
        frozenset(_absent(names)),
        last_line=rows[-1][0],
        head=head,
        spans=tuple(sorted((first, last) for first, last, _ in (*rest, *broken) if first > head)),
        names=dict(zip(names, own, strict=True)),
        job_file=job_file,
    )


def sorted_text(text: str, batch: Batch, bad: Collection[int]) -> tuple[str, str]:
    r"""Return the good rows and the bad ones of a CSV file, each below the column names, as they stand.

    Args:
        text: the whole file.
        batch: as read from it.
        bad: the first lines of the bad rows.

    Example:
        >>> text = "id,price\r\na,80\r\n\r\nb,x\r\n"
        >>> sorted_text(text, read_batch(text, {"id": "text", "price": "value"}), {4})
        ('id,price\r\na,80\r\n', 'id,price\r\nb,x\r\n')
    """
    lines = _lines_of(text)
    kept: tuple[list[str], list[str]] = (lines[: batch.head], lines[: batch.head])
    for first, last in batch.spans:
        kept[first in bad].extend(lines[first - 1 : last])
    return "".join(kept[0]), "".join(kept[1])


def _lines_of(text: str) -> list[str]:
    """Return the lines as a CSV reader counts them, with their ends."""
    return list(io.StringIO(text, newline=""))


def _rows(text: str) -> tuple[list[tuple[int, int, list[str]]], list[tuple[int, int, str]]]:
    """Return the rows that are not blank, and those that are no CSV, each with its first and last line.

    After a broken row reading goes on with the next line, so that a quotation mark left open on one line
    does not take the others with it.
    """
    lines = _lines_of(text)
    named = (line for line in lines if line.strip() and not _JOB_LINE.match(line.strip().lstrip('"')))
    first_line = next(named, "")
    delimiter = max(_DIVIDERS, key=first_line.count)  # of equals the first, the comma
    rows: list[tuple[int, int, list[str]]] = []
    broken: list[tuple[int, int, str]] = []
    start = done = 0
    while start < len(lines):
        reader = csv.reader((lines[at] for at in range(start, len(lines))), delimiter=delimiter, strict=True)
        try:
            for row in reader:
                first, done = done + 1, start + reader.line_num
                if any(cell.strip() for cell in row):
                    rows.append((first, done, row))
            break
        except csv.Error as error:
            first = done + 1
            if not rows:  # without its column names nothing of the file can be read
                return [], [(first, first, f"not valid CSV: {error}")]
            last = len(lines) if len(broken) == _MOST_BROKEN - 1 else first
            unread = "; the lines below are not read" if last > first else ""
            broken.append((first, last, f"not valid CSV: {error}{unread}"))
            start = done = last
    return rows, broken


def _undivided(names: Sequence[str], columns: Mapping[str, CellKind]) -> str:
    """Return what to say of column names that stand in one cell, divided by a mark that is not read."""
    if len(names) != 1:
        return ""
    words = re.split(r"[^\w.]+", names[0])
    known = [key for key in _keys_of(words, columns) if key in columns]
    between = re.search(r"[^\w.]+", names[0])
    if len(known) < 2 or between is None:
        return ""
    return (
        f"found columns divided by {quoted(between.group())}, expected commas, semicolons or tabs; save the "
        "sheet again as CSV, divided by commas"
    )


def _decimal_comma(cells: Sequence[str]) -> str:
    """Return what to say of a length whose decimal comma has made two cells of it; empty for none.

    Example:
        >>> _decimal_comma(["ann", "3", "6 mm", "vegetable"])
        'found "3,6 mm" in two cells, as commas divide this file; write 3.6 mm, or put it in quotation marks'
        >>> _decimal_comma(["ann", "36", "vegetable"])
        ''
    """
    for whole, rest in pairwise(cells):
        if _WHOLE.fullmatch(whole.strip()) and re.fullmatch(r"[0-9]+ ?(mm|cm|in|oz)", rest.strip()):
            found = f"{whole.strip()},{rest.strip()}"
            return (
                f"found {quoted(found)} in two cells, as commas divide this file; write "
                f"{found.replace(',', '.')}, or put it in quotation marks"
            )
    return ""


def _keys_of(own: Sequence[str], columns: Mapping[str, CellKind]) -> list[str]:
    """Return the key each column stands for; a name nobody knows stays as it is."""
    plain = ["_".join(name.casefold().split()) for name in own]
    keys = []
    for name, word in zip(own, plain, strict=True):
        key = word if word in columns else COMMON_NAMES.get(word, "")
        if key not in columns and (named := _UNIT_NAMED.fullmatch(word)):
            plainer = named["rest"]
            key = plainer if plainer in columns else COMMON_NAMES.get(plainer, "")
            key = key if columns.get(key) == "length" else ""
        keys.append(key if key in columns else name)
    if "id" not in keys and plain.count("name") == 1:
        keys[plain.index("name")] = "id"
    return keys


def _header_problems(
    line: int, own: Sequence[str], names: Sequence[str], columns: Mapping[str, CellKind]
) -> Iterator[tuple[int, str]]:
    seen: dict[str, str] = {}
    for shown, name in zip(own, names, strict=True):
        if name and seen.get(name) == shown:
            yield line, f"{_shown(shown)}: column found twice, expected once"
        elif name in seen and name:
            yield (
                line,
                f"{_shown(shown)}: means the same as the column {_shown(seen[name])}, expected just one",
            )
        elif name and name not in columns:
            yield line, f"{_shown(shown)}: {_unknown(shown, columns)}"
        seen[name] = shown


def _unknown(name: str, columns: Mapping[str, CellKind]) -> str:
    """Return what to say of a column nobody knows; groups of columns are listed as ``size.*``."""
    common = [word for word, key in COMMON_NAMES.items() if key in columns]
    if near := nearest(name, [*columns, *common]):
        return unknown_key(name, [near], "column")
    groups = [column.split(".")[0] + (".*" if "." in column else "") for column in columns]
    return unknown_key(name, list(dict.fromkeys([*groups, *common])), "column")


def _absent(names: Sequence[str]) -> list[str]:
    def there(needed: str) -> bool:
        also = {"size": "sizes"}.get(needed, needed)
        return any(name in (needed, also) or name.startswith(f"{needed}.") for name in names)

    return [needed for needed in NEEDED if not there(needed)]


def _unit_of(name: str) -> str:
    """Return the unit that a column's name ends in; empty for none.

    Example:
        >>> _unit_of("Waist, inches"), _unit_of("waist_cm"), _unit_of("Tin")
        ('in', 'cm', '')
    """
    named = _UNIT_NAMED.fullmatch(name)
    return named["unit"].lower().replace("inches", "in").replace("inch", "in") if named else ""


def _value(cell: str, kind: CellKind, unit: str = "") -> object:
    if kind == "text":
        return cell
    if kind == "length" and unit and _BARE.fullmatch(cell):
        return f"{cell} {unit}"
    if kind == "pair":
        return [part.strip() for part in re.split("[x×]", cell)]
    if _WHOLE.fullmatch(cell):
        return int(cell)
    number = parse_number(cell)
    return cell if number is None else number


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
