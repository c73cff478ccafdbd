"""The few questions a job begins with: the size, the buckle, the leather."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import tomlkit

from strapwright.core.text import numbered, quoted
from strapwright.files.atomic_write import file_safe, write_whole
from strapwright.job.catalogue.file import HOUSE_NAME
from strapwright.job.draft import draft_sound
from strapwright.job.spec.job import check_job, surroundings_of
from strapwright.page.forms.form import about_form, belt_form
from strapwright.page.forms.form_words import WAYS
from strapwright.page.forms.job_file import text_with_entries
from strapwright.page.sheet.pictures import how_to_measure, pictures
from strapwright.page.sheet.shop import JOB_FILE

if TYPE_CHECKING:
    from collections.abc import Mapping

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
    tannage = next(
        one for group in about_form().shown({}) for one in group.fields if one.key == "leather.tannage"
    )
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
