"""Machine profiles of an older layout, read as if they were written today."""

from __future__ import annotations

from typing import Any, Final

from strapwright.errors import FileProblems
from strapwright.findings import Finding, Severity
from strapwright.machine.profile_tables import LAYOUT
from strapwright.units import quoted

_MOVED: Final = {("machine", "least_hole"): ("limits", "least_hole")}
"""Keys of layout 1 and where they stand in layout 2."""


def upgrade(data: object, source: str) -> tuple[object, tuple[Finding, ...]]:
    """Return a profile's content in today's layout, and a note where it was older.

    A file without ``version`` is of layout 1. There ``least_hole`` stood in ``[machine]``; layout 2
    keeps limits in a table of their own. Keys that only layout 2 knows are taken too: whoever adds
    one to an old file need not move the others. The file itself is not touched.

    Args:
        data: as read from TOML.
        source: the file's name, for messages.

    Returns:
        The content, the tables given being left as they were, and the findings.

    Raises:
        FileProblems: a version there is none of, or a key in its old and its new place at once.

    Example:
        >>> old = {"machine": {"name": "bench", "least_hole": 1}}
        >>> new, notes = upgrade(old, "my.toml")
        >>> new["limits"], notes[0].code
        ({'least_hole': 1}, 'profile-upgraded')
    """
    if not isinstance(data, dict):
        return data, ()
    version = data.get("version", 1)
    if isinstance(version, bool) or version not in range(1, LAYOUT + 1) or not isinstance(version, int):
        later = isinstance(version, int | float) and version > LAYOUT
        hint = "; a later strapwright wrote it, so upgrade strapwright" if later else ""
        raise FileProblems((f"{source}: version: found {quoted(version)}, expected 1 to {LAYOUT}{hint}",))
    if version == LAYOUT:
        return data, ()
    new: dict[str, Any] = {**data, "version": LAYOUT}
    moved: list[str] = []
    for (table, key), (to_table, to_key) in _MOVED.items():
        old_table, new_table = new.get(table), new.get(to_table, {})
        if not isinstance(old_table, dict) or key not in old_table or not isinstance(new_table, dict):
            continue
        if to_key in new_table:
            raise FileProblems(
                (f"{source}: {table}.{key}: {to_table}.{to_key} says the same; keep only that one",)
            )
        new[table] = {name: value for name, value in old_table.items() if name != key}
        new[to_table] = {**new_table, to_key: old_table[key]}
        moved.append(f"{key} now stands in [{to_table}], not in [{table}]")
    return new, (_note(source, moved),)


def as_written(problem: str, source: str) -> str:
    """Return a mistake in an upgraded profile with the key's place in the file it was read from."""
    for (table, key), (to_table, to_key) in _MOVED.items():
        moved = f"{source}: {to_table}.{to_key}: "
        if problem.startswith(moved):
            return f"{source}: {table}.{key}: {problem.removeprefix(moved)}"
    return problem


def _note(source: str, moved: list[str]) -> Finding:
    changes = "; ".join(moved) if moved else "nothing in it had to change"
    moves = f"move {' and '.join(text.split(' now ')[0] for text in moved)} and " if moved else ""
    return Finding(
        "profile-upgraded",
        Severity.NOTE,
        f"The machine profile is of layout 1 and was read as layout {LAYOUT}: {changes}.",
        f"To be rid of this note, {moves}write version = {LAYOUT} on the file's first line.",
        source,
    )
