"""A CSV file of orders: the good lines drafted, the bad ones kept apart and listed by line number."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from strapwright.files.read import read_text
from strapwright.job.catalogue.file import catalogue_for
from strapwright.job.draft import Draft, draft_sound
from strapwright.job.spec.csv_table import columns_of, read_batch, sorted_text
from strapwright.job.spec.job import CSV_LIMIT_MB, Job, sort_batch
from strapwright.job.spec.strap import Belt

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@dataclass(frozen=True)
class Orders:
    """A CSV file of orders, its good and bad lines kept apart.

    Args:
        source: the file's name as given.
        job: the job the good lines make; None where there is none.
        draft: its draft; None likewise.
        problems: every mistake: the number of its line, and one line of text.
        count: how many lines the file has below its column names, blank ones left out.
        bad: the numbers of the bad ones among them.
        good_text: column names and good lines, byte for byte as they stand in the file.
        bad_text: column names and bad lines, likewise.
    """

    source: str
    job: Job | None
    draft: Draft | None
    problems: tuple[tuple[int, str], ...]
    count: int
    bad: frozenset[int]
    good_text: bytes
    bad_text: bytes

    @property
    def report(self) -> tuple[str, ...]:
        """Every mistake, one line each, and at the end how many lines are good; nothing if all are."""
        if not self.problems:
            return ()
        lines = tuple(text for _, text in self.problems)
        if not self.count:
            return lines
        good = self.count - len(self.bad)
        bad = f"{len(self.bad)} of {self.count} lines {'is' if len(self.bad) == 1 else 'are'} bad"
        return (*lines, f"{self.source}: {bad}, {good or 'none'} {'is' if good <= 1 else 'are'} good")


def read_orders(
    path: Path, catalogue: Path | None = None, *, progress: Callable[[int, int], None] | None = None
) -> Orders:
    """Read a CSV file and draft every line of it that can be drafted.

    A line is bad where anything in it is not as expected, or where its numbers make no sound part; a
    graded belt of which one size cannot be made is bad as a whole. Wrong column names make every line bad.

    Args:
        path: the CSV file; named in messages as given here.
        catalogue: a file of the user's own entries; default `catalogue.toml` beside it and in its shop.
        progress: called with how many belts are drafted, and how many there are.

    Raises:
        FileProblems: the file, or the catalogue, cannot be read at all.
    """
    text = read_text(path, limit_mb=CSV_LIMIT_MB)
    batch = read_batch(text, columns_of(Belt))
    job, problems = sort_batch(batch, path, catalogue_for(path, catalogue))
    rows = [first for first, _ in batch.spans]
    bad = {line for line, _ in problems} if job is not None else set(rows)
    drafted = None
    if job is not None:
        drafted, wrong = draft_sound(job, progress=progress)
        if wrong:
            unsound = [(job.lines[index], f"{job.place(index)}{text}") for index, text in wrong]
            problems = tuple(sorted((*problems, *unsound), key=lambda problem: problem[0]))
            bad |= {line for line, _ in unsound}
            job = job.without(bad)
            drafted = None if job is None else _of_job(drafted, job)
    good_text, bad_text = sorted_text(text, batch, bad)
    with path.open("rb") as stream:
        mark = _BYTE_ORDER_MARK if stream.read(len(_BYTE_ORDER_MARK)) == _BYTE_ORDER_MARK else b""
    return Orders(
        source=str(path),
        job=job,
        draft=drafted,
        problems=problems,
        count=len(rows),
        bad=frozenset(bad),
        good_text=mark + good_text.encode(),
        bad_text=mark + bad_text.encode(),
    )


def _of_job(drafted: Draft, job: Job) -> Draft:
    """Return what a draft holds of the belts of a job that is a part of its own."""
    ids = {belt.id for belt in job.belts}
    return replace(
        drafted,
        digest=job.digest,
        belts=tuple(belt for belt in drafted.belts if belt.id in ids),
        parts=tuple(part for part in drafted.parts if part.belt_id in ids),
    )
