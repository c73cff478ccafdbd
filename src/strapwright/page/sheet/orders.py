"""A table of orders whose columns a person says the meaning of, as belts of a job."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems
from strapwright.core.text import numbered
from strapwright.files.atomic_write import file_safe
from strapwright.job.spec.csv_table import MOST_ORDERS, columns_of, read_batch, read_head
from strapwright.job.spec.job import check_job
from strapwright.job.spec.strap import ID_LENGTH, Belt
from strapwright.page.forms.form import belt_form

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from strapwright.core.units import Units
    from strapwright.job.spec.csv_table import CellKind

MOST_SAID: Final = 20
"""So many mistakes are listed at once."""


def columns_found(text: str) -> dict[str, Any]:
    """Return a table's columns, what each may be taken for, and its first lines.

    Raises:
        FileProblems: it has no columns.
    """
    head = read_head(text, _columns())
    if not head.names:
        raise FileProblems(("found an empty table, expected column names on the first line",))
    labels = {field.key: field.label for group in belt_form(()).shown({}) for field in group.fields}
    choices = [[key, _label(key, labels)] for key in _columns()]
    return {"names": head.names, "keys": head.keys, "rows": head.rows, "choices": choices}


def belts_found(
    text: str, keys: Sequence[str], tables: Mapping[str, Any], path: Path, units: Units = "mm"
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return the belts of a table, and what is wrong with its lines; of wrong ones nothing is to be taken.

    Args:
        text: the table, as CSV.
        keys: what each column is; empty for one to leave out.
        tables: of the job they are to be added to.
        path: its file.
        units: the page's: of a length without a unit in a column whose name says none.

    Returns:
        The belts; and for each mistake its line, the line's cells, the place of the column it is in (-1 for
        none) and what is wrong, the first of them.
    """
    batch = read_batch(text, _columns(), keys, "in" if units == "in" else "")
    wrong = [(line, -1, said) for line, said in batch.problems]
    there = list(tables.get("belt", []))
    if "id" not in keys:
        _give_ids(batch.belts, {str(one.get("id")) for one in (*there, *tables.get("strap", []))})
    if len(there) + len(batch.belts) > MOST_ORDERS:
        wrong.append((1, -1, f"found {len(batch.belts):,} belts, expected at most {MOST_ORDERS:,} in a job"))
    elif batch.belts:
        _, mistakes = check_job({**tables, "belt": [*there, *batch.belts]}, path)
        for one in mistakes:
            if one.loc[:1] == ("belt",) and len(one.loc) > 1 and int(one.loc[1]) >= len(there):
                key = ".".join(str(part) for part in one.loc[2:] if isinstance(part, str))
                words = one.text.replace("{other}", "another belt")
                column = _column_of(key, keys)
                said = words if column >= 0 else f"{batch.names.get(key, key)}: {words}"
                wrong.append((batch.lines[int(one.loc[1]) - len(there)], column, said))
    elif not wrong:
        wrong.append((1, -1, "found no belts, expected a line for each below the column names"))
    wrong.sort(key=lambda one: one[:2])
    head = read_head(text, _columns(), MOST_ORDERS) if wrong else None
    rows = dict(zip(head.lines, head.rows, strict=True)) if head else {}
    said_of = [
        {"line": line, "cells": rows.get(line, ()), "column": column, "words": words}
        for line, column, words in wrong[:MOST_SAID]
    ]
    if len(wrong) > MOST_SAID:
        rest = f"and {len(wrong) - MOST_SAID} more mistakes below"
        said_of.append({"line": wrong[MOST_SAID][0], "cells": (), "column": -1, "words": rest})
    return list(batch.belts), said_of


def _give_ids(belts: Sequence[dict[str, Any]], taken: set[str]) -> None:
    """Give belts short names like those they are for, each once.

    Args:
        belts: of a table that has no short names.
        taken: those there are in the job.
    """
    for belt in belts:
        base = (
            file_safe(str(belt.get("name") or "belt"), otherwise="belt").lower()[: ID_LENGTH - 4].rstrip("-")
        )
        belt["id"] = next(one for one in numbered(base) if one not in taken)
        taken.add(belt["id"])


def _column_of(key: str, keys: Sequence[str]) -> int:
    """Return the place of the column a mistake is in; of a table of values, its first; -1 for none.

    Example:
        >>> _column_of("size.girth", ["id", "size.girth"]), _column_of("size", ["id", "size.girth"])
        (1, 1)
        >>> _column_of("buckle", ["id"])
        -1
    """
    own = (place for place, one in enumerate(keys) if one == key)
    below = (place for place, one in enumerate(keys) if one.startswith(f"{key}."))
    return next(own, next(below, -1)) if key else -1


@cache
def _columns() -> dict[str, CellKind]:
    return columns_of(Belt)


def _label(key: str, labels: Mapping[str, str]) -> str:
    group, _, last = key.rpartition(".")
    words = labels.get(key, last.replace("_", " "))
    return f"{words} ({group.replace('_', ' ').replace('.', ', ')})" if group else words
