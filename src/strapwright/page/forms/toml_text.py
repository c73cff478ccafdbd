"""A TOML file's text as it is edited, comments and order kept; and the line that a mistake stands on."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping, MutableMapping
from copy import deepcopy
from typing import TYPE_CHECKING, Any, Final

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.items import AoT, InlineTable, Item, Table

from strapwright.core.errors import FileProblems

_NAME: Final = r"""(?:"[^"\n]*"|'[^'\n]*'|[\w-]+)"""

_HEADER: Final = re.compile(rf"\s*(\[\[?)\s*({_NAME}(?:\s*\.\s*{_NAME})*)\s*\]\]?\s*(?:#.*)?")

_ENTRY: Final = re.compile(rf"\s*({_NAME}(?:\s*\.\s*{_NAME})*)\s*=")

_PLACE: Final = re.compile(rf"{_NAME}(?:\[\d+\])?(?:\.{_NAME}(?:\[\d+\])?)*(?=: )")

_STEP: Final = re.compile(rf"({_NAME})(?:\[(\d+)\])?")

Key = tuple[str | int, ...]
"""Where a value stands: keys and indices from the file's root."""

Edits = dict[Key, Any]
"""New values by their places; None takes the value out."""


def value_at(tables: Mapping[str, Any], key: Key) -> Any:
    """Return what stands at a place; None where nothing does."""
    found: Any = tables
    for part in key:
        try:
            found = found[part]
        except (KeyError, IndexError, TypeError):
            return None
    return found


def with_edits(tables: Mapping[str, Any], edits: Edits) -> dict[str, Any]:
    """Return tables with values set or taken out; those given stay as they are.

    Example:
        >>> with_edits({"belt": [{"id": "a", "size": {"girth": 1}}]}, {("belt", 0, "size", "girth"): None})
        {'belt': [{'id': 'a'}]}
    """
    new = deepcopy(dict(tables))
    for key, value in edits.items():
        _set(new, key, value)
    return new


def text_with_edits(text: str, edits: Edits) -> str:
    """Return a file's text with values set or taken out; whatever else stands in it stays.

    Raises:
        FileProblems: the file is written in a way that the change cannot be made in.
    """
    wanted = with_edits(tomllib.loads(text), edits)
    document = tomlkit.parse(text)
    for key, value in edits.items():
        _set(document, key, value)
    new = tomlkit.dumps(document)
    if tomllib.loads(new) != wanted:
        places = ", ".join(str(key[-1]) for key in edits)
        raise FileProblems(
            (f"{places}: the file is laid out so that this cannot be changed in it by itself",)
        )
    return new


def text_with_entries(text: str, kind: str, entries: Iterable[Mapping[str, Any]]) -> str:
    """Return a file's text with more tables of a list at its end, such as ``[[belt]]``."""
    document = tomlkit.parse(text)
    added = document.get(kind)
    if added is None:
        added = tomlkit.aot()
        document.append(kind, added)
    for entry in entries:
        added.append(_as_table(entry))
    return tomlkit.dumps(document)


def text_without_entry(text: str, kind: str, index: int) -> str:
    """Return a file's text without one table of a list."""
    document = tomlkit.parse(text)
    entries: Any = document[kind]
    below = _below(entries[index])
    if index:
        before: Any = entries[index - 1]
    else:
        items = [item for _, item in document.body]
        before = items[items.index(entries) - 1] if entries in items[1:] else None
    del entries[index]
    if not entries:
        del document[kind]
    if isinstance(before, Table):
        before.value.body.extend(below)
    return tomlkit.dumps(document)


def text_without(text: str, kind: str, index: int) -> str:
    """Return a file's text without one entry of a list, of tables or in line.

    Raises:
        FileProblems: the file is written in a way that the change cannot be made in.
    """
    if isinstance(tomlkit.parse(text)[kind], AoT):
        wanted = tomllib.loads(text)
        del wanted[kind][index]
        new = text_without_entry(text, kind, index)
        if tomllib.loads(new) == {key: value for key, value in wanted.items() if value != []}:
            return new
    return text_with_edits(text, {(kind, index): None})


def _as_table(entry: Mapping[str, Any]) -> Any:
    table = tomlkit.table()
    for key, value in entry.items():
        table.append(key, _item(value))
    table.add(tomlkit.nl())
    return table


def _item(value: Any) -> Any:
    """Return a value as it is written into a file: small tables in one line, as ``{ girth = "96 cm" }``."""
    if not isinstance(value, Mapping):
        return tomlkit.item(value)
    pairs = ", ".join(
        f"{tomlkit.key(key).as_string()} = {_item(one).as_string()}" for key, one in value.items()
    )
    return tomlkit.parse(f"a = {{ {pairs} }}")["a"] if pairs else tomlkit.inline_table()


def _set(tables: Any, key: Key, value: Any) -> None:
    """Set a value in nested tables or take it out; tables that become empty by that go too."""
    first, *rest = key
    there = tables[first] if isinstance(first, int) or first in tables else None
    if not rest:
        if value is not None:
            if isinstance(there, Table):
                _remove(tables, first)
            tables[first] = _item(value) if isinstance(tables, Item | TOMLDocument) else value
        elif there is not None:
            _remove(tables, first)
    elif isinstance(there, MutableMapping | list) and not isinstance(there, InlineTable):
        _set(there, tuple(rest), value)
        if not there:
            _remove(tables, first)
    elif isinstance(there, InlineTable) or value is not None:
        new = there.unwrap() if isinstance(there, InlineTable) else {}
        _set(new, tuple(rest), value)
        _set(tables, (first,), new or None)


def _remove(tables: Any, key: str | int) -> None:
    """Take an entry out; comments below its last line, which stand before what follows, stay."""
    there = tables[key]
    del tables[key]
    if isinstance(there, Table) and isinstance(tables, Table):
        tables.value.body.extend(_below(there))


def _below(table: Table) -> list[Any]:
    """Return what stands below the last key of a table: blank lines and comments."""
    body = table.value.body
    last = max((place for place, (key, _) in enumerate(body) if key is not None), default=-1)
    inner = body[last][1] if last >= 0 else None
    below = _below(inner) if isinstance(inner, Table) else []
    return [*below, *body[last + 1 :]]


if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    Place = tuple[tuple[str, int], ...]
    """Names from the file's root, each with its number in a list from 1; 0 where none is said."""


def with_lines(problems: Sequence[str], source: str, text: str) -> tuple[str, ...]:
    """Return mistakes in a file without its name, each with the line of its key where one has it.

    Args:
        problems: one line each, as the file's reader has them.
        source: what they call the file.
        text: what is in it.
    """
    found = []
    for problem in problems:
        words = problem.removeprefix(f"{source}: ")
        line = None if re.match(r"line \d", words) else line_of(words, text)
        found.append(f"line {line}: {words}" if line else words)
    return tuple(found)


def line_of(words: str, text: str) -> int | None:
    r"""Return the line of the key that a mistake begins with, or of the table it would stand in, from 1.

    Example:
        >>> line_of("belt[2].buckle: found 3", "[[belt]]\nid = 'a'\n[[belt]]\nbuckle = 3\n")
        4
        >>> line_of("belt[2].size: missing", "[[belt]]\nid = 'a'\n[[belt]]\nbuckle = 3\n")
        3
    """
    place = _PLACE.match(words)
    if place is None:
        return None
    wanted = tuple((_bare(name), int(number or 0)) for name, number in _STEP.findall(place[0]))
    best, line = 0, None
    for number, steps in _places(text):
        if best < len(steps) <= len(wanted) and all(map(_is_same, steps, wanted)):
            best, line = len(steps), number
    return line


def _is_same(one: tuple[str, int], other: tuple[str, int]) -> bool:
    return one[0] == other[0] and (0 in (one[1], other[1]) or one[1] == other[1])


def _places(text: str) -> Iterator[tuple[int, Place]]:
    """Yield what stands on each line that begins a table or says a key."""
    counts = Counter[tuple[str, ...]]()
    table: Place = ()
    for number, line in enumerate(text.splitlines(), start=1):
        if header := _HEADER.fullmatch(line):
            names = _names(header[2])
            if header[1] == "[[":
                counts[names] += 1
            table = tuple((name, counts[names[: at + 1]]) for at, name in enumerate(names))
            yield number, table
        elif entry := _ENTRY.match(line):
            yield number, (*table, *((name, 0) for name in _names(entry[1])))


def _names(dotted: str) -> tuple[str, ...]:
    return tuple(_bare(name) for name in re.findall(_NAME, dotted))


def _bare(name: str) -> str:
    return name[1:-1] if name[:1] in ('"', "'") else name
