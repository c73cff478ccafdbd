"""The shop's jobs: listed with how far each is, begun, copied, put away and put back. Nothing is deleted."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import tomlkit

from strapwright.core.errors import FileProblems, OutputError, PartError, os_reason
from strapwright.core.text import first_few, numbered, quoted
from strapwright.files.atomic_write import file_safe, write_whole
from strapwright.files.journal import settle
from strapwright.files.read import toml_tables
from strapwright.job.catalogue.file import HOUSE_NAME
from strapwright.job.draft import draft_sound, draft_strap
from strapwright.job.spec.job import check_job, surroundings_of
from strapwright.page.forms.form import about_form, belt_form
from strapwright.page.forms.page_words import WAYS
from strapwright.page.forms.toml_text import text_with_edits, text_with_entries
from strapwright.page.sheet.history import STEPS_FILE
from strapwright.page.sheet.job_view import count_of, first_to_mend
from strapwright.page.sheet.made_view import records_of
from strapwright.page.sheet.permission import not_allowed
from strapwright.page.sheet.pictures import how_to_measure, pictures
from strapwright.page.sheet.shop import JOB_FILE, LAYOUT, cut_files, digest_laid_out, read_written

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from strapwright.job.spec.job import Job
    from strapwright.page.forms.toml_text import Edits
    from strapwright.page.sheet.shop import Shop

LONGEST_TITLE: Final = 80
"""Longest name of a job begun here, in characters."""

_HOUSE: Final = "# Your shop: this applies to every job below this folder.\n"

_USUAL: Final = {
    "title": "First belt",
    "size.way": "girth",
    "buckle": "single-40",
    "leather.thickness": "",
    "leather.tannage": "vegetable",
}

PLACES: Final = {"archive": "archive", "remove": "removed"}
"""What is done with a job that is put away, and the folder of the shop it then lies in."""

_LONGEST: Final = 70
"""So many characters of a job's name are kept where words are put behind it."""


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
    from strapwright.drawing.belt.strap_pictures import thumbnail
    from strapwright.drawing.svg import element

    first = job.items[0]
    if not_allowed(job):
        return ""
    try:
        item = draft_strap(first, job.leather_of(first), job.house, job.catalogue)
    except PartError:
        return ""
    return element(thumbnail(item), own=f"{name}-")


@dataclass(frozen=True)
class FirstForm:
    """The questions as they are shown.

    Args:
        values: what stands in each, by its key.
        mistakes: what is wrong with them, likewise; what is of none of them under "".
        ways: of sizing: each as the file has it and as it is read, with its picture and how to measure.
        buckles: names of the catalogue, with their pictures.
        tannages: choices of the leather.
        units: of a length without one.
        is_first: whether there is no other job yet.
    """

    values: Mapping[str, str]
    mistakes: Mapping[str, str]
    ways: tuple[tuple[str, str, str, str], ...]
    buckles: tuple[tuple[str, str], ...]
    tannages: tuple[tuple[str, str], ...]
    units: str
    is_first: bool


def first_form(shop: Shop, values: Mapping[str, str], mistakes: Mapping[str, str] | None = None) -> FirstForm:
    """Return the questions, with what was answered and what is wrong with that.

    Raises:
        FileProblems: the shop's house file or catalogue has mistakes.
    """
    within = surroundings_of(shop.folder / "jobs" / "new" / JOB_FILE)
    drawn, how = pictures(within.catalogue.buckles), how_to_measure()
    ways = tuple((way, words, how[way][0], how[way][1]) for way, words in WAYS["size"] if way != "sizes")
    tannage = next(one for one in about_form().fields if one.key == "leather.tannage")
    usual = _USUAL | {"title": "First belt" if not shop.jobs() else ""}
    return FirstForm(
        {**usual, **values},
        mistakes or {},
        ways,
        tuple((name, drawn["buckle", name]) for name in sorted(within.catalogue.buckles)),
        tuple((value, words) for value, words in tannage.choices if value),
        within.units,
        not shop.jobs(),
    )


def begin(shop: Shop, posted: Mapping[str, str]) -> tuple[str, FirstForm]:
    """Write a job with one belt, and return its name; where an answer is wrong, no name and what it is.

    Args:
        shop: the shop.
        posted: the answers by their keys.

    Raises:
        FileProblems: the shop's house file or catalogue has mistakes.
        OutputError: the disk does not allow it.
    """
    values = {**_USUAL, **{key: value.strip() for key, value in posted.items()}}
    title = " ".join(values["title"].split())
    tables, mistakes = _tables(values, surroundings_of(shop.folder / "jobs" / "new" / JOB_FILE).units), {}
    base = file_safe(title, otherwise="job").lower()
    name = next(one for one in numbered(base) if not (shop.folder / "jobs" / one).exists())
    path = shop.folder / "jobs" / name / JOB_FILE
    if not 1 <= len(title) <= LONGEST_TITLE or not title.isprintable():
        found = f"found {quoted(title)}" if title else "missing"
        mistakes["title"] = f"{found}, expected a name of 1 to {LONGEST_TITLE} printable characters"
    if not values.get("size"):
        mistakes["size"] = "missing, expected the size as you measured it"
    job, wrong = check_job(tables | {"job": {"name": title[:LONGEST_TITLE]}}, path)
    for one in wrong:
        key = ".".join(str(part) for part in (one.loc[2:] if one.loc[:1] == ("belt",) else one.loc))
        key = "size" if key.startswith("size") else key if key in _USUAL else ""
        mistakes.setdefault(key, one.text if key else one.line(""))
    if job is not None and not mistakes:
        for _, text in draft_sound(job)[1]:
            mistakes[""] = text
    if mistakes:
        return "", first_form(shop, values, mistakes)
    head = f"[job]\nname = {tomlkit.item(title).as_string()}\n\n[leather]\n"
    head += "".join(
        f"{key} = {tomlkit.item(value).as_string()}\n" for key, value in tables["leather"].items()
    )
    files: dict[Any, str | bytes] = {path: text_with_entries(f"{head}\n", "belt", tables["belt"])}
    if not (shop.folder / HOUSE_NAME).exists():
        files[shop.folder / HOUSE_NAME] = _HOUSE
    write_whole(files)
    return name, first_form(shop, values)


def _tables(values: Mapping[str, str], unit: str) -> dict[str, Any]:
    """Return the job that answers make, as its file will have it."""
    way = values["size.way"]
    about = about_form().edits(
        {}, {key: values[key] for key in _USUAL if key.startswith("leather.")}, (), unit
    )
    posted = {"size.way": way, f"size.{way}": values.get("size", ""), "buckle.way": "name"}
    edits = belt_form(()).edits({}, posted | {"buckle": values["buckle"], "keeper.given": "yes"}, (), unit)
    belt: dict[str, Any] = {"id": "belt-1"}
    size = {str(key[1]): value for key, value in edits.items() if key[0] == "size" and value is not None}
    belt["size"] = size or {}
    belt["buckle"] = edits.get(("buckle",), "")
    leather = {str(key[1]): value for key, value in about.items() if value is not None}
    return {"leather": leather, "belt": [belt]}


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
