"""An as-made record: a job, what it was drafted with and what was made of it, to start from years later."""

from __future__ import annotations

import hashlib
import platform
from contextlib import contextmanager, suppress
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Final

from strapwright import __version__
from strapwright.core.errors import OutputError, os_reason
from strapwright.core.text import numbered
from strapwright.files.atomic_write import MARK, sealed
from strapwright.files.journal import settle

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date
    from pathlib import Path

INDEX: Final = "record.toml"
"""The file that says what is in a record."""

_LIBRARIES: Final = ("numpy", "pydantic", "reportlab", "shapely")


@contextmanager
def claimed_folder(shelf: Path, stem: str, day: date, digest: str) -> Iterator[tuple[Path, list[str]]]:
    """Make a folder for a new record, which no other run gets; it goes again where nothing comes of it.

    Args:
        shelf: the folder of all records.
        stem: the job's name, fit for a folder.
        day: when it is made.
        digest: of the job.

    Yields:
        The folder, and the names of the records of this job that were there before.

    Raises:
        OutputError: it cannot be made.
    """
    folder = parent = shelf / stem
    for other in parent.glob("*/"):
        settle(other)
    earlier = sorted(path.parent.name for path in parent.glob(f"*/{INDEX}"))
    try:
        parent.mkdir(parents=True, exist_ok=True)
        for name in numbered(f"{day.isoformat()}-{digest[:8]}"):
            folder = parent / name
            with suppress(FileExistsError):
                folder.mkdir()
                break
    except OSError as error:
        raise OutputError(f"{folder}: cannot be made: {os_reason(error)}") from error
    try:
        yield folder, earlier
    except BaseException:
        with suppress(OSError):
            folder.rmdir()
        raise


def record_index(
    job_name: str,
    job_file: str,
    digest: str,
    day: date,
    contents: Mapping[str, bytes],
    earlier: Sequence[str],
    hides: Sequence[str],
) -> str:
    """Return the index of a record: what made it, from which job, and the digest of every file.

    Args:
        job_name: what the job is called.
        job_file: its file's name in the record.
        digest: of the job.
        day: when it is made.
        contents: the files, as they will be written.
        earlier: names of the records of this job that were there before.
        hides: the hides' files among them, in the order the layout was made for.
    """
    import tomlkit

    document = tomlkit.document()
    document.add(tomlkit.comment(f"An as-made record. To start from it again: strapwright draft {job_file}"))
    document.add(tomlkit.comment(MARK))
    document.add("job", job_name)
    document.add("job_file", job_file)
    document.add("made", day.isoformat())
    document.add("strapwright", __version__)
    document.add("job_digest", digest)
    document.add("earlier", list(earlier))
    document.add("hides", list(hides))
    document.add("made_with", {"python": platform.python_version(), **_libraries()})
    digests = {
        name: hashlib.sha256(sealed(content)).hexdigest() for name, content in sorted(contents.items())
    }
    document.add("sha256", digests)
    return tomlkit.dumps(document)


def _libraries() -> dict[str, str]:
    found = {}
    for name in _LIBRARIES:
        with suppress(PackageNotFoundError):
            found[name] = version(name)
    return found
