"""A job's file as it is edited: single values set or taken out, comments and order kept."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, MutableMapping
from copy import deepcopy
from typing import Any

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.items import AoT, InlineTable, Item, Table

from strapwright.core.errors import FileProblems

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
