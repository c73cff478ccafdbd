"""Adds measured rows to your own machine file: comments, order and older rows stay."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from strapwright.core.errors import FileProblems
from strapwright.files.atomic_write import write_whole
from strapwright.files.read import read_bytes
from strapwright.machine.profile.machine import is_shipped, machine_from

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


def append_rows(source: str, rows: Sequence[tuple[str, Mapping[str, object]]]) -> None:
    """Append rows to tables of a machine file, whole or not at all.

    The file is changed only by the rows that are added; each follows the last one of its kind, or
    stands at the end where it is the first.

    Args:
        source: the file's path as it was given; never a shipped profile.
        rows: the table's name, ``"kerf"`` or ``"scale"``, and its keys in the order they are written.

    Raises:
        FileProblems: a shipped profile, a file with mistakes, or one that would have some with the
            rows in it.
        OutputError: it cannot be written.
    """
    # The file and its rows were asked for by name, and nothing else that stands in it is touched.
    write_whole({Path(source): with_rows(source, rows)[1]}, force=True)


def with_rows(source: str, rows: Sequence[tuple[str, Mapping[str, object]]]) -> tuple[bytes, bytes]:
    """Return a machine file as it stands and as it is with rows added; nothing is written.

    Args:
        source: the file's path as it was given; never a shipped profile.
        rows: as for `append_rows`.

    Raises:
        FileProblems: as for `append_rows`.
    """
    check_own(source)
    old = read_bytes(Path(source))
    text = old.decode("utf-8-sig")
    new_text = appended(text, rows)
    before, after = tomllib.loads(text), tomllib.loads(new_text)
    for name, row in rows:
        before.setdefault(name, []).append(dict(row))
    # Blanks within a line aside: tomlkit loses one behind a date in an inline table.
    if after != before or "".join(appended(text, []).split()) != "".join(text.split()):
        what = (
            "its [[kerf]] or [[scale]] rows are scattered among other tables; put those of one kind together"
        )
        raise FileProblems((f"{source}: {what}",))
    machine_from(after, source)
    mark = b"\xef\xbb\xbf" if old.startswith(b"\xef\xbb\xbf") else b""
    return old, mark + new_text.encode()


def check_own(source: str) -> None:
    """Refuse to write to a shipped profile: it is copied first.

    Raises:
        FileProblems: it is one, by its name or by its path.
    """
    if is_shipped(source):
        name = Path(source).stem
        what = (
            f"{source}: a shipped profile is never written to; copy it first: "
            f"strapwright machines copy {name} my-{name}.toml (then record to --machine my-{name}.toml)"
        )
        raise FileProblems((what,))


def appended(text: str, rows: Sequence[tuple[str, Mapping[str, object]]]) -> str:
    r"""Return a machine file's text with rows added.

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
