"""Adds measured rows to your own machine file: comments, order and older rows stay."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from strapwright.core.errors import FileProblems
from strapwright.files.atomic_write import write_whole
from strapwright.files.read import read_bytes
from strapwright.files.toml_rows import with_rows_added
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
    after, new_text = with_rows_added(text, rows, source, ("kerf", "scale"))
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
