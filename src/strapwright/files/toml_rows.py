"""Adds rows to the tables of a TOML file: comments, order and older rows stay."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any

from strapwright.core.errors import FileProblems

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


def with_rows_added(
    text: str, rows: Sequence[tuple[str, Mapping[str, object]]], where: str, kinds: Sequence[str]
) -> tuple[dict[str, Any], str]:
    """Return a TOML file's tables and text with rows added, and nothing else changed.

    Args:
        text: of the file as it stands.
        rows: each table's name, and its keys in the order they are written.
        where: the file, in words to begin a message.
        kinds: names of all tables that rows are added to.

    Raises:
        FileProblems: rows of one kind are scattered among other tables.
    """
    new_text = appended(text, rows)
    before, after = tomllib.loads(text), tomllib.loads(new_text)
    for name, row in rows:
        before.setdefault(name, []).append(dict(row))
    # Blanks within a line aside: tomlkit loses one behind a date in an inline table.
    if after != before or "".join(appended(text, []).split()) != "".join(text.split()):
        named = " or ".join(f"[[{kind}]]" for kind in kinds)
        what = f"its {named} rows are scattered among other tables; put those of one kind together"
        raise FileProblems((f"{where}: {what}",))
    return after, new_text


def appended(text: str, rows: Sequence[tuple[str, Mapping[str, object]]]) -> str:
    r"""Return a TOML file's text with rows added, each behind the last one of its kind, else at the end.

    Example:
        >>> print(appended("[[kerf]]\nwidth = 1  # wide\n\n# the rest\n[blade]\n", [("kerf", {"width": 2})]))
        [[kerf]]
        width = 1  # wide
        <BLANKLINE>
        [[kerf]]
        width = 2
        <BLANKLINE>
        # the rest
        [blade]
        <BLANKLINE>
    """
    import tomlkit
    from tomlkit.items import AoT, Array

    document = tomlkit.parse(text)
    for name, row in rows:
        document = tomlkit.parse(document.as_string())  # a table just made would be set off by a line more
        table = tomlkit.table()
        table.update(row)
        there = document.get(name)
        if isinstance(there, AoT):
            _take_over_end(there[-1], table)
            there.append(table)
        elif isinstance(there, Array):
            inline = tomlkit.inline_table()
            inline.update(row)
            there.append(inline)
        else:
            if not document.as_string().endswith("\n\n"):
                document.add(tomlkit.nl())
            rows_of = tomlkit.aot()
            rows_of.append(table)
            document.append(name, rows_of)
    new = document.as_string()
    return new.replace("\r\n", "\n").replace("\n", "\r\n") if "\r\n" in text else new


def _take_over_end(last: Any, table: Any) -> None:
    """Move what follows the last row's keys after a blank line, such as the next table's comment.

    It was written for what comes next, so it must stay behind the row that is put in between.
    """
    import tomlkit

    body = last.value.body
    end = max(k for k, (key, _) in enumerate(body) if key is not None) + 1
    blank = next((k for k in range(end, len(body)) if not body[k][1].as_string().strip()), len(body))
    moved = [item for _, item in body[blank:]]
    del body[blank:]
    last.add(tomlkit.nl())
    for item in moved:
        table.add(item)
