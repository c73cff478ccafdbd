"""Job folders as a whole: copied, put away into a folder of the shop, and put back. Nothing is deleted."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import FileProblems, OutputError, os_reason
from strapwright.core.text import numbered
from strapwright.files.atomic_write import file_safe, write_whole
from strapwright.files.journal import settle
from strapwright.files.read import toml_tables
from strapwright.page.forms.job_file import text_with_edits
from strapwright.page.sheet.history import STEPS_FILE
from strapwright.page.sheet.shop import JOB_FILE, LAYOUT, read_written

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from strapwright.page.forms.job_file import Edits
    from strapwright.page.sheet.shop import Shop

PLACES: Final = {"archive": "archive", "remove": "removed"}
"""What is done with a job that is put away, and the folder of the shop it then lies in."""

_LONGEST: Final = 70
"""So many characters of a job's name are kept where words are put behind it."""


def stored(shop: Shop) -> dict[str, list[str]]:
    """Return the names of the jobs that are put away, by the folder they lie in."""
    found = {}
    for place in PLACES.values():
        folders = (path.parent for path in (shop.folder / place).glob(f"*/{JOB_FILE}"))
        found[place] = sorted(one.name for one in folders if not one.is_symlink())
    return found


def copied(shop: Shop, name: str) -> str:
    """Copy a job, its layouts and cut files left behind, and return the new one's name.

    Raises:
        FileProblems: there is no such job, or its file cannot be read.
        OutputError: the disk does not allow it.
    """
    path = shop.job(name)
    written = read_written(path)
    tables = toml_tables(written.text, path)
    new = next(one for one in numbered(name) if one not in _taken(shop))
    about = tables.get("job")
    title = about.get("name") if isinstance(about, dict) else None
    text = written.text
    if isinstance(title, str) and title:
        text = text_with_edits(text, {("job", "name"): f"{title[:_LONGEST]} (copy)"})
    files: dict[Path, str | bytes] = {}
    for file in sorted(path.parent.iterdir()):
        is_own = file.is_file() and not file.is_symlink() and not file.name.startswith(".")
        if is_own and file.name not in (JOB_FILE, LAYOUT):
            files[path.parent.parent / new / file.name] = file.read_bytes()
    write_whole({path.parent.parent / new / JOB_FILE: text, **files})
    return new


def begun_again(shop: Shop, title: str, files: Mapping[str, bytes]) -> str:
    """Begin a job from the files of one that was made, and return its name.

    Args:
        shop: the shop.
        title: what that was called.
        files: content by name: the job's, and what it was drafted with.

    Raises:
        OutputError: the disk does not allow it.
    """
    base = file_safe(title, otherwise="job").lower()
    new = next(one for one in numbered(base) if one not in _taken(shop))
    again: Edits = {("job", "name"): f"{title[:_LONGEST]} (again)"}
    text = text_with_edits(files[JOB_FILE].decode("utf-8-sig"), again)
    folder = shop.folder / "jobs" / new
    write_whole({**{folder / name: content for name, content in files.items()}, folder / JOB_FILE: text})
    return new


def put_away(shop: Shop, name: str, what: str) -> None:
    """Move a job's folder, with all that is in it, out of the list of work.

    Args:
        shop: the shop.
        name: of the job.
        what: one of `PLACES`.

    Raises:
        FileProblems: there is no such job.
        OutputError: the disk does not allow it.
    """
    folder = shop.job(name).parent
    place = shop.folder / PLACES[what]
    _move(folder, place / next(one for one in numbered(name) if not (place / one).exists()))


def put_back(shop: Shop, place: str, name: str) -> None:
    """Move a job's folder back into the list of work.

    Args:
        shop: the shop.
        place: the folder it lies in.
        name: of it there.

    Raises:
        FileProblems: there is no such job.
        OutputError: the disk does not allow it.
    """
    if name not in stored(shop).get(place, ()):
        raise FileProblems((f"{place}: found no job {name!r}",))
    new = next(one for one in numbered(name) if one not in _taken(shop))
    _move(shop.folder / place / name, shop.folder / "jobs" / new)


def _taken(shop: Shop) -> set[str]:
    folder = shop.folder / "jobs"
    return {path.name for path in folder.iterdir()} if folder.is_dir() else set()


def _move(folder: Path, target: Path) -> None:
    """Move a folder whole; its steps, which name its files, stay with it only under its own name."""
    settle(folder)
    try:
        target.parent.mkdir(exist_ok=True)
        if target.name != folder.name:
            (folder / STEPS_FILE).unlink(missing_ok=True)
        os.rename(folder, target)
    except OSError as error:
        raise OutputError(f"{folder}: cannot be moved to {target}: {os_reason(error)}") from error
