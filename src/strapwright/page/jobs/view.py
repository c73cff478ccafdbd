"""What the list of work shows of each job: what, whom for, due, how far."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from strapwright.core.errors import FileProblems, PartError
from strapwright.core.text import first_few
from strapwright.files.read import toml_tables
from strapwright.job.draft import draft_strap
from strapwright.job.spec.job import check_job, surroundings_of
from strapwright.page.sheet.job_view import count_of
from strapwright.page.sheet.made_view import records_of
from strapwright.page.sheet.permission import not_allowed
from strapwright.page.sheet.piece_view import first_to_mend
from strapwright.page.sheet.shop import cut_files, digest_laid_out, read_written

if TYPE_CHECKING:
    from strapwright.job.spec.job import Job
    from strapwright.page.sheet.shop import Shop


@dataclass(frozen=True)
class Progress:
    """How far a job is.

    Args:
        name: of its folder.
        title: what it is called.
        belts: how many it makes, in words.
        people: whom for; empty where nobody is named.
        due: the day the first is promised for; empty for none.
        stage: "drafted", "laid out", "cut", "made", that it was changed since, or what is wrong.
        drawing: of its first belt, small; empty for none.
        is_wrong: whether something in its file is to be mended first.
    """

    name: str
    title: str
    belts: str = ""
    people: str = ""
    due: str = ""
    stage: str = ""
    drawing: str = ""
    is_wrong: bool = False


def work_list(shop: Shop, *, by_name: bool = False) -> list[Progress]:
    """Return how far all jobs are: those due soonest first, made ones last; or in the order of their names.

    Args:
        shop: the shop.
        by_name: sort by name instead.
    """
    found = [progress_of(shop, name) for name in shop.jobs()]
    if by_name:
        return sorted(found, key=lambda job: (job.title.casefold(), job.name))
    return sorted(found, key=lambda job: (job.stage == "made", job.due or "9999", job.title.casefold()))


def progress_of(shop: Shop, name: str) -> Progress:
    """Return how far a job is, by the files in its folder and its records."""
    try:
        path = shop.job(name)
        tables, within = toml_tables(read_written(path).text, path), surroundings_of(path)
        job, mistakes = check_job(tables, path, within)
    except FileProblems as error:
        return Progress(name, name, stage=shop.told(error.problems)[0], is_wrong=True)
    if job is None:
        words = f"{len(mistakes)} to mend: {first_to_mend(tables, path, mistakes, within)}"
        return Progress(name, name, stage=words, is_wrong=True)
    orders: list[Any] = [*job.belts, *job.straps]
    due = min((str(one.due) for one in orders if one.due), default="")
    stage = "drafted"
    laid = digest_laid_out(path)
    if done := "cut" if cut_files(path) else "laid out" if laid else "":
        stage = done if not laid or laid == job.digest else f"changed since it was {done}"
    if records_of(shop.folder, job.name):
        stage = "made"
    people = first_few(list(dict.fromkeys(one.name for one in orders if one.name)), 2)
    return Progress(name, job.name, count_of(job), people, due, stage, _thumbnail(job, name))


def _thumbnail(job: Job, name: str) -> str:
    """Return a small drawing of a job's first belt; none of one that cannot be drawn."""
    from strapwright.drawing.belt.thumbnail import thumbnail
    from strapwright.drawing.svg import element

    first = job.items[0]
    if not_allowed(job):
        return ""
    try:
        item = draft_strap(first, job.leather_of(first), job.house, job.catalogue)
    except PartError:
        return ""
    return element(thumbnail(item), own=f"{name}-")
