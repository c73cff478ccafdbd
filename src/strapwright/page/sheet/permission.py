"""Programs that draw a user's own parts run only where this user has allowed just that text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from strapwright.core.errors import FileProblems
from strapwright.files.atomic_write import write_whole
from strapwright.files.user_folders import config_folder
from strapwright.page.sheet.shop import digest_of

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.job.spec.job import Job


def digest_of_program(source: str) -> str:
    """Return the SHA-256 of a program's text, as hex digits."""
    return digest_of(source.encode())


def not_allowed(job: Job) -> dict[str, str]:
    """Return the programs of a job that may not run yet: their texts, by file name."""
    allowed = _allowed()
    return {name: text for name, text in job.sketches.items() if digest_of_program(text) not in allowed}


def check_programs(job: Job) -> Job:
    """Return a job whose programs may all run.

    Raises:
        FileProblems: one of them may not.
    """
    if waiting := not_allowed(job):
        names = ", ".join(waiting)
        raise FileProblems((f"{names}: a program that you have not allowed yet draws this job; read it",))
    return job


def allow(source: str) -> None:
    """Allow a program of just this text to run; that is kept with the user's own settings, in no shop."""
    digests = sorted({*_allowed(), digest_of_program(source)})
    write_whole({_file(): "".join(f"{one}\n" for one in digests)}, force=True)


def _allowed() -> frozenset[str]:
    try:
        return frozenset(_file().read_text("ascii").split())
    except (OSError, UnicodeDecodeError):
        return frozenset()


def _file() -> Path:
    """Return where this user's permissions are kept."""
    return config_folder() / "allowed-programs"
